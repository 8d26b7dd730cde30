//! What must hold on the wheel for every mix of shades, and for every gloss that is proposed.
#![allow(missing_docs, clippy::unwrap_used)]

use proptest::collection::vec;
use proptest::prelude::*;
use tailcomb_trade::gloss::{GlossGoal, MOST, Shade, propose};
use tailcomb_trade::tone::{Hue, Tone, balance, mean_level, pigment_left};
use tailcomb_trade::{Grams, Level, Percent};

fn hue() -> impl Strategy<Value = Hue> {
    prop::sample::select(Hue::WHEEL.to_vec())
}

fn tone() -> impl Strategy<Value = Tone> {
    prop_oneof![1 => Just(Tone::Neutral), 4 => hue().prop_map(Tone::Hue)]
}

fn level() -> impl Strategy<Value = Level> {
    (10_u16..=130).prop_map(|tenths| Level::from_tenths(tenths).unwrap())
}

fn weight() -> impl Strategy<Value = Grams> {
    (1_u64..200_000).prop_map(|mg| Grams::from_milligrams(mg).unwrap())
}

fn shades() -> impl Strategy<Value = Vec<(Tone, Grams)>> {
    vec((tone(), weight()), 1..6)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(10_000))]

    #[test]
    fn the_mean_level_lies_between_the_shades_and_parts_of_the_same_size_do_not_move_it(
        mix in vec((level(), weight()), 1..6), times in 1_u64..9,
    ) {
        let mean = mean_level(&mix).unwrap();
        let levels: Vec<Level> = mix.iter().map(|(l, _)| *l).collect();
        prop_assert!(*levels.iter().min().unwrap() <= mean && mean <= *levels.iter().max().unwrap());
        let scaled: Vec<_> =
            mix.iter().map(|(l, g)| (*l, Grams::from_milligrams(g.milligrams() * times).unwrap())).collect();
        prop_assert_eq!(mean_level(&scaled).unwrap(), mean);
        let turned: Vec<_> = mix.iter().rev().copied().collect();
        prop_assert_eq!(mean_level(&turned).unwrap(), mean);
    }

    #[test]
    fn clear_only_thins_and_more_of_it_thins_more(shades in weight(), clear in weight(), more in weight()) {
        let some = pigment_left(shades, clear).unwrap();
        let less = pigment_left(shades, clear.plus(more).unwrap()).unwrap();
        prop_assert!(Percent::ZERO < some && less <= some && some < Percent::MAX);
        prop_assert_eq!(pigment_left(shades, Grams::ZERO).unwrap(), Percent::MAX);
    }

    #[test]
    fn the_balance_does_not_depend_on_the_order_or_the_size_of_the_mix(
        mix in shades(), clear in weight(), seen in hue(), times in 2_u64..9,
    ) {
        let balanced = balance(&mix, clear, seen).unwrap();
        let larger = |g: Grams| Grams::from_milligrams(g.milligrams() * times).unwrap();
        let scaled: Vec<_> = mix.iter().rev().map(|(t, g)| (*t, larger(*g))).collect();
        prop_assert_eq!(balance(&scaled, larger(clear), seen).unwrap(), balanced);
    }

    #[test]
    fn turning_the_whole_wheel_turns_what_is_left_with_it(mix in shades(), clear in weight(), seen in hue()) {
        // Half a turn: the one turn under which the whole numbers of the wheel's places stay exact.
        let turned = |tone: Tone| match tone {
            Tone::Hue(hue) => Tone::Hue(hue.opposite()),
            Tone::Neutral => Tone::Neutral,
        };
        let other: Vec<_> = mix.iter().map(|(t, g)| (turned(*t), *g)).collect();
        let here = balance(&mix, clear, seen).unwrap().left;
        let there = balance(&other, clear, seen.opposite()).unwrap().left;
        // Where two hues are as near, either may be named.
        let apart = match (here, there) {
            (Some(here), Some(there)) => here.opposite().steps_to(there),
            (None, None) => 0,
            _ => 12,
        };
        prop_assert!(apart <= 1, "{here:?} {there:?}");
    }

    #[test]
    fn the_opposite_answers_what_is_seen_and_the_same_hue_keeps_it(seen in hue(), weight in weight()) {
        let of = |tone| balance(&[(Tone::Hue(tone), weight)], Grams::ZERO, seen).unwrap().left;
        prop_assert_eq!(of(seen.opposite()), None);
        prop_assert_eq!(of(seen), Some(seen));
        prop_assert_eq!(balance(&[], weight, seen).unwrap().left, Some(seen), "clear alone");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1_000))]

    #[test]
    fn every_proposal_is_made_of_the_shelf_keeps_to_the_level_and_comes_to_the_goal(
        shelf in vec((level(), tone()), 0..9), seen in hue(), at in level(), level in level(), tone in tone(),
        clear in any::<bool>(),
    ) {
        let shelf: Vec<Shade> = shelf.into_iter().map(|(level, tone)| Shade { level, tone }).collect();
        let goal = GlossGoal { seen, at, level, tone };
        let Ok(found) = propose(goal, &shelf, clear) else {
            prop_assert!(level > at, "only lifting is refused");
            return Ok(());
        };
        prop_assert!(level <= at && found.len() <= MOST);
        prop_assert!(found.is_sorted_by_key(|mix| mix.off));
        for mix in &found {
            let shades: Vec<&Shade> = mix.shades.iter().map(|(place, _)| shelf.get(*place).unwrap()).collect();
            prop_assert!(mix.shades.iter().all(|(_, parts)| *parts > 0) && (clear || mix.clear == 0));
            prop_assert!(mix.level.apart(level) <= 10, "a level off at most");
            // What is left is what the balance of the same parts says.
            let parts: Vec<(Tone, Grams)> =
                shades.iter().zip(&mix.shades).map(|(s, (_, parts))| (s.tone, Grams::whole(*parts))).collect();
            prop_assert_eq!(balance(&parts, Grams::whole(mix.clear), seen).unwrap(), mix.balance);
            match (mix.balance.left, tone) {
                (Some(left), Tone::Hue(wanted)) => prop_assert!(left.steps_to(wanted) <= 1),
                (Some(left), Tone::Neutral) => prop_assert!(left.steps_to(seen) <= 1),
                (None, Tone::Hue(wanted)) => prop_assert!(wanted.steps_to(seen) >= 3),
                (None, Tone::Neutral) => {}
            }
            let tones: Vec<Tone> = shades.iter().map(|s| s.tone).collect();
            let reason = mix.reason(goal, &tones);
            prop_assert!(reason.contains("wanted") && !reason.to_lowercase().contains("safe"), "{reason}");
        }
    }
}
