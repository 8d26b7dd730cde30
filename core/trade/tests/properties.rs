//! What must hold for every formula, blend, bowl and step-up, tried on thousands of random ones.
#![allow(missing_docs, clippy::unwrap_used)]

use proptest::collection::vec;
use proptest::prelude::*;
use tailcomb_trade::blend::{alligation, blend_two, blended_strength};
use tailcomb_trade::bowls::{BowlRules, Pace, plan_bowls};
use tailcomb_trade::growth::{From, Measured, line_today, regrowth};
use tailcomb_trade::mix::{
    Amount, DeveloperPart, DeveloperSide, LineKind, Mix, ProductKind, ProductPart, Recipe, Share,
};
use tailcomb_trade::onhead::{on_head, on_head_of_recipe, on_head_of_weighing, strongest_developer};
use tailcomb_trade::stepup::{StepUp, step_up};
use tailcomb_trade::{Grams, LengthUnit, Micrometres, Millis, Percent, Ratio, TradeError};

fn percent(range: std::ops::RangeInclusive<u32>) -> impl Strategy<Value = Percent> {
    range.prop_map(|e4| Percent::from_e4(e4).unwrap())
}

fn grams(decigrams: std::ops::Range<u64>) -> impl Strategy<Value = Grams> {
    decigrams.prop_map(|d| Grams::from_decigrams(d).unwrap())
}

fn ratio() -> impl Strategy<Value = Ratio> {
    (1_u32..=200, 1_u32..=200).prop_filter_map("within 1:0.1 to 1:20", |(p, d)| Ratio::new(p, d).ok())
}

fn kind() -> impl Strategy<Value = ProductKind> {
    prop_oneof![Just(ProductKind::Shade), Just(ProductKind::Clear), Just(ProductKind::Additive)]
}

/// Up to six products in parts or grams, the first always takes developer, with one to three developers.
fn recipe() -> impl Strategy<Value = Recipe> {
    let products = vec((1_u64..60_000, kind(), any::<bool>()), 1..6);
    let developers = vec((1_u64..5_000, percent(10_000..=180_000)), 1..4);
    (products, developers, ratio(), any::<bool>()).prop_map(|(products, developers, ratio, in_grams)| {
        let share = |weight| {
            if in_grams {
                Share::Grams(Grams::from_milligrams(weight).unwrap())
            } else {
                Share::Milliparts(weight)
            }
        };
        let product = |(number, (weight, kind, takes)): (usize, (u64, ProductKind, bool))| ProductPart {
            name: format!("product {number}"),
            kind,
            share: share(weight),
            takes_developer: takes || number == 0,
        };
        let developer = |(number, (weight, strength))| DeveloperPart {
            name: format!("developer {number}"),
            strength,
            share: Share::Milliparts(weight),
        };
        let parts = developers.into_iter().enumerate().map(developer).collect();
        Recipe {
            products: products.into_iter().enumerate().map(product).collect(),
            developer: Some(DeveloperSide { ratio, parts }),
        }
    })
}

fn amount() -> impl Strategy<Value = Amount> {
    (1_u64..5_000_000, any::<bool>()).prop_map(|(mg, total)| {
        let grams = Grams::from_milligrams(mg).unwrap();
        if total { Amount::Total(grams) } else { Amount::Product(grams) }
    })
}

/// Any recipe and an amount. Where a line would be too little to weigh, the amount that the refusal itself proposes;
/// where what goes on top of the product passes a tonne, the same amount in all.
fn weighable() -> impl Strategy<Value = Mix> {
    (recipe(), amount()).prop_filter_map("no line too small for any amount", |(recipe, amount)| {
        let mut mix = Mix { recipe, amount };
        if let (Err(TradeError::OutOfRange { .. }), Amount::Product(grams)) = (mix.weigh(), amount) {
            mix = mix.scaled_to(Amount::Total(grams));
        }
        match mix.weigh() {
            Err(TradeError::TooLittleToWeigh { enough, .. }) => Some(mix.scaled_to(Amount::Total(enough))),
            Err(TradeError::TooSmallAShare { .. }) => None,
            _ => Some(mix),
        }
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(10_000))]

    #[test]
    fn parts_add_to_the_total_to_a_tenth_of_a_gram(mix in weighable()) {
        // Also proves that the total proposed by "too little to weigh" works; amounts below 0.1 g are refused.
        let (Amount::Total(given) | Amount::Product(given)) = mix.amount;
        match mix.weigh() {
            Ok(weighing) => {
                let sum = Grams::sum(weighing.lines.iter().map(|l| l.amount)).unwrap();
                prop_assert_eq!(sum, weighing.total);
                prop_assert!(weighing.lines.iter().all(|l| !l.amount.is_zero() && l.amount == l.amount.shown()));
                match mix.amount {
                    Amount::Total(total) => prop_assert_eq!(weighing.total, total.shown()),
                    Amount::Product(product) => prop_assert_eq!(weighing.product, product.shown()),
                }
                let side = |developer: bool| {
                    let on_side = weighing.lines.iter().filter(|l| matches!(l.kind, LineKind::Developer(_)) == developer);
                    Grams::sum(on_side.map(|l| l.amount)).unwrap()
                };
                prop_assert_eq!(side(true), weighing.developer);
                prop_assert_eq!(side(false), weighing.product.plus(weighing.on_top).unwrap());
            }
            Err(TradeError::NothingToMix { .. }) => prop_assert!(given.decigrams() == 0),
            Err(other) => prop_assert!(false, "{other}"),
        }
    }

    #[test]
    fn the_ratio_on_the_scale_is_the_makers_to_a_tenth_of_a_gram(mix in weighable()) {
        if let Ok(weighing) = mix.weigh() {
            let ratio = mix.recipe.developer.as_ref().unwrap().ratio;
            let (p, d) = (u64::from(ratio.product()), u64::from(ratio.developer()));
            // |developer × p − product × d| is at most one step of each side.
            let off = (weighing.developer.milligrams() * p).abs_diff(weighing.product.milligrams() * d);
            prop_assert!(off <= Grams::STEP.milligrams() * (p + d), "{} : {} at {ratio}", weighing.product, weighing.developer);
        }
    }

    #[test]
    fn scaling_there_and_back_changes_nothing(mix in weighable(), other in amount()) {
        let back = mix.scaled_to(other).scaled_to(mix.amount);
        prop_assert_eq!(&back, &mix);
        prop_assert_eq!(back.weigh(), mix.weigh());
        // Not even through paper: what is written down is the recipe, not the rounding.
        let paper = serde_json::to_string(&mix.scaled_to(other)).unwrap();
        let read: Mix = serde_json::from_str(&paper).unwrap();
        prop_assert_eq!(read.scaled_to(mix.amount), mix);
    }

    #[test]
    fn on_head_strength_lies_between_the_ends(mix in weighable()) {
        let strengths: Vec<_> =
            mix.recipe.developer.as_ref().unwrap().parts.iter().map(|d| d.strength).collect();
        let strongest = strengths.iter().copied().max().unwrap();
        let planned = on_head_of_recipe(&mix.recipe).unwrap();
        prop_assert!(planned > Percent::ZERO && planned < strongest, "{planned} of {strongest}");
        if let Ok(weighing) = mix.weigh() {
            let weighed = on_head_of_weighing(&weighing).unwrap();
            prop_assert!(weighed > Percent::ZERO && weighed < strongest, "{weighed} of {strongest}");
        }
    }

    #[test]
    fn one_developer_without_additives_agrees_with_the_plain_rule(strength in percent(0..=1_000_000), ratio in ratio()) {
        let share = Share::parts(1);
        let product = ProductPart { name: "a".to_owned(), kind: ProductKind::Shade, share, takes_developer: true };
        let recipe = Recipe::with_developer(vec![product], ratio, "d", strength);
        prop_assert_eq!(on_head_of_recipe(&recipe).unwrap(), on_head(strength, ratio));
    }

    #[test]
    fn the_strongest_developer_keeps_the_limit_and_a_hair_more_does_not(most in percent(1..=120_000), ratio in ratio()) {
        let strongest = strongest_developer(most, ratio);
        prop_assert!(on_head(strongest, ratio) <= most);
        if let Ok(more) = Percent::from_e4(strongest.e4() + 1) {
            prop_assert!(on_head(more, ratio) > most);
        }
    }

    #[test]
    fn alligation_gives_exactly_the_target(strengths in vec(percent(0..=400_000), 1..6), target in percent(0..=400_000)) {
        let reachable = strengths.iter().min() <= Some(&target) && strengths.iter().max() >= Some(&target);
        match alligation(&strengths, target) {
            Ok(parts) => {
                prop_assert!(reachable);
                let whole: u128 = parts.iter().map(|p| u128::from(*p)).sum();
                let peroxide: u128 =
                    parts.iter().zip(&strengths).map(|(p, s)| u128::from(*p) * u128::from(s.e4())).sum();
                prop_assert_eq!(peroxide, whole * u128::from(target.e4()));
                prop_assert!(whole > 0);
            }
            Err(TradeError::ImpossibleBlend { .. }) => prop_assert!(!reachable),
            Err(other) => prop_assert!(false, "{other}"),
        }
    }

    #[test]
    fn a_blend_adds_up_and_meets_its_target_within_one_step_of_the_scale(
        a in percent(0..=180_000), b in percent(0..=180_000), at in 0_u32..=1000, total in grams(1..20_000),
    ) {
        let (low, high) = (a.min(b), a.max(b));
        let target = Percent::from_e4(low.e4() + (high.e4() - low.e4()) / 1000 * at).unwrap();
        let total = match blend_two(a, b, target, total) {
            Err(TradeError::TooLittleToWeigh { enough, .. }) => enough,
            _ => total,
        };
        let blend = blend_two(a, b, target, total).unwrap();
        prop_assert_eq!(Grams::sum(blend.parts.iter().map(|p| p.amount)).unwrap(), total);
        prop_assert_eq!(blended_strength(&blend.parts).unwrap(), blend.reached);
        // One part is at most half a step of 0.1 g off, which moves the blend by that much of the two ends' distance.
        let step = u64::from(high.e4() - low.e4()) * Grams::STEP.milligrams() / (2 * total.milligrams()) + 1;
        prop_assert!(u64::from(blend.reached.e4().abs_diff(target.e4())) <= step, "{blend:?}");
    }

    #[test]
    fn a_blend_outside_the_ends_is_always_refused_with_the_span(
        a in percent(10_000..=180_000), b in percent(10_000..=180_000), off in 1_u32..9_999, above in any::<bool>(),
    ) {
        let (low, high) = (a.min(b), a.max(b));
        let target = if above { high.e4() + off } else { low.e4() - off };
        let refusal = blend_two(a, b, Percent::from_e4(target).unwrap(), Grams::whole(60)).unwrap_err();
        prop_assert_eq!(
            refusal,
            TradeError::ImpossibleBlend { target: Percent::from_e4(target).unwrap(), weakest: low, strongest: high }
        );
    }

    #[test]
    fn bowls_are_used_up_while_they_work_and_add_up(
        sections in 1_u32..=300, per_section in 1_u64..40_000, minutes in 1_i32..12, life in 1_i32..60,
        biggest in 1_u64..300_000, clinging in 0_u64..5_000,
    ) {
        let pace = Pace {
            grams_per_section: Grams::from_milligrams(per_section).unwrap(),
            time_per_section: Millis::minutes(minutes),
        };
        let rules = BowlRules {
            working_life: Millis::minutes(life),
            biggest_bowl: Grams::from_milligrams(biggest).unwrap(),
            clinging: Grams::from_milligrams(clinging).unwrap(),
        };
        match plan_bowls(sections, pace, rules) {
            Ok(plan) => {
                let mut next = 1;
                for bowl in &plan.bowls {
                    prop_assert_eq!(bowl.first_section, next);
                    next = bowl.last_section + 1;
                    prop_assert!(bowl.painting <= rules.working_life);
                    prop_assert!(bowl.amount <= rules.biggest_bowl);
                    prop_assert!(bowl.amount.milligrams() >= per_section * u64::from(bowl.sections()) + clinging);
                    prop_assert_eq!(bowl.mix_at, pace.time_per_section.times(bowl.first_section - 1).unwrap());
                }
                prop_assert_eq!(next, sections + 1);
                let sum = Grams::sum(plan.bowls.iter().map(|b| b.amount)).unwrap();
                prop_assert_eq!(sum, plan.mixed);
                prop_assert_eq!(plan.needed.plus(plan.left_over).unwrap(), plan.mixed);
                // As few bowls as possible: one fewer would have to break a rule.
                let fewer = u32::try_from(plan.bowls.len()).unwrap() - 1;
                if fewer > 0 {
                    let fullest = sections.div_ceil(fewer);
                    let too_long = pace.time_per_section.times(fullest).unwrap() > rules.working_life;
                    let too_big = pace.grams_per_section.times(fullest).unwrap().plus(rules.clinging).unwrap().shown_up()
                        > rules.biggest_bowl;
                    prop_assert!(too_long || too_big);
                }
            }
            Err(TradeError::SectionOutlastsMix { pieces, .. }) => {
                prop_assert!(minutes > life);
                prop_assert!(u64::try_from(minutes).unwrap().div_ceil(pieces) <= u64::try_from(life).unwrap());
            }
            Err(TradeError::SectionOverfillsBowl { possible, .. }) => prop_assert!(pace.grams_per_section > possible),
            Err(other) => prop_assert!(false, "{other}"),
        }
    }

    #[test]
    fn a_step_up_climbs_from_first_to_last_and_never_past_the_cap(
        shelf in vec(percent(10_000..=180_000), 1..8), first in any::<prop::sample::Index>(),
        last in any::<prop::sample::Index>(), cap in percent(10_000..=180_000), bowls in 1_u32..20,
    ) {
        let (first, last) = (*first.get(&shelf), *last.get(&shelf));
        match step_up(StepUp { first, last, cap }, &shelf, bowls) {
            Ok(steps) => {
                prop_assert_eq!(steps.len(), usize::try_from(bowls).unwrap());
                prop_assert_eq!((steps.first(), steps.last()), (Some(&first), Some(&last)));
                prop_assert!(steps.is_sorted());
                prop_assert!(steps.iter().all(|s| *s <= cap && shelf.contains(s)));
                for (bowl, step) in steps.iter().enumerate() {
                    let even = f64::from(first.e4())
                        + f64::from(last.e4() - first.e4()) * bowl as f64 / f64::from((bowls - 1).max(1));
                    prop_assert!(f64::from(step.e4()) <= even + 1e-6, "bowl {bowl} is ahead of an even climb");
                }
            }
            Err(TradeError::AboveCeiling { .. }) => prop_assert!(first.max(last) > cap),
            Err(TradeError::StepsDown { .. }) => prop_assert!(first > last),
            Err(TradeError::OneBowlCannotStep { .. }) => prop_assert!(bowls == 1 && first < last),
            Err(other) => prop_assert!(false, "{other}"),
        }
    }
}

fn length(um: std::ops::RangeInclusive<u32>) -> impl Strategy<Value = Micrometres> {
    um.prop_map(|um| Micrometres::new(um).unwrap())
}

/// A hundred years.
const DAYS: u32 = 36_525;

proptest! {
    /// Hair only grows: more days never bring a line nearer, and the range holds every rate that was published.
    #[test]
    fn regrowth_is_a_range_that_only_widens(days in 0..DAYS, more in 0..DAYS, rate in 230_u64..=464) {
        let (grown, later) = (regrowth(days), regrowth(days + more));
        prop_assert!(grown.least <= grown.most);
        prop_assert!(grown.least <= later.least && grown.most <= later.most);
        let by_rate = Micrometres::new(u32::try_from(rate * u64::from(days)).unwrap().min(Micrometres::MAX.get())).unwrap();
        prop_assert!(grown.least <= by_rate && by_rate <= grown.most);
    }

    /// Two waits one after the other carry a line as far as both together, to the micrometre that is rounded.
    #[test]
    fn a_line_grows_the_same_in_two_steps_as_in_one(a in 0_u32..2_000, b in 0_u32..2_000) {
        let apart = |x: Micrometres, y: Micrometres, z: Micrometres| {
            i64::from(x.get()) + i64::from(y.get()) - i64::from(z.get())
        };
        let (first, then, both) = (regrowth(a), regrowth(b), regrowth(a + b));
        prop_assert!(apart(first.least, then.least, both.least).abs() <= 1);
        prop_assert!(apart(first.most, then.most, both.most).abs() <= 1);
    }

    /// The tape wins over any growth; without it the line never lies nearer than it was, and one whose place nobody
    /// noted has no far end and lies no nearer than its growth.
    #[test]
    fn a_line_is_never_nearer_than_growth_allows(
        then in proptest::option::of(length(0..=2_500_000)),
        days in 0..DAYS,
        tape in proptest::option::of((length(0..=2_500_000), 0..DAYS)),
    ) {
        let measured = tape.map(|(line, days_ago)| Measured { line, days_ago });
        let today = line_today(then, days, measured);
        match (measured, then) {
            (Some(tape), _) => {
                prop_assert_eq!(today, line_today(None, 0, measured), "what the tape says needs no other word");
                prop_assert!(today.least >= tape.line);
                prop_assert_eq!(today.is_estimate(), tape.days_ago > 0);
            }
            (None, Some(then)) => {
                prop_assert_eq!(today.from, From::Growth);
                prop_assert_eq!(today.least, then.grown_by(regrowth(days).least));
                prop_assert_eq!(today.most, Some(then.grown_by(regrowth(days).most)));
            }
            (None, None) => {
                prop_assert_eq!((today.from, today.most), (From::GrowthAlone, None));
                prop_assert_eq!(today.least, regrowth(days).least);
            }
        }
        prop_assert!(today.most.is_none_or(|most| today.least <= most));
        for unit in [LengthUnit::Centimetres, LengthUnit::Inches] {
            let (said, short) = (today.sentence(unit), today.short(unit));
            prop_assert!(said.contains(&today.least.shown(unit)) && short.contains(&today.least.shown(unit)));
            prop_assert_eq!(said.contains("measure it"), today.is_estimate());
            prop_assert_eq!(said.contains("Loussouarn"), today.is_estimate());
            prop_assert!(!said.to_lowercase().contains("safe"));
        }
    }
}
