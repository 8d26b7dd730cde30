//! Reading and showing figures: tolerant of how people write, strict about what they mean, never a panic.
#![allow(missing_docs, clippy::unwrap_used)]

use proptest::prelude::*;
use tailcomb_trade::mix::{Mix, Recipe, Share};
use tailcomb_trade::plan::{ServiceRequest, plan_service};
use tailcomb_trade::strength::Strength;
use tailcomb_trade::{Grams, Millis, Percent, Ratio, TradeError, Volumes};

fn grams(text: &str) -> Result<Grams, TradeError> {
    text.parse()
}

fn refusal<T: std::str::FromStr<Err = TradeError> + std::fmt::Debug>(text: &str) -> String {
    text.parse::<T>().unwrap_err().to_string()
}

#[test]
fn grams_are_read_as_people_write_them() {
    for text in ["33.3", "33,3 g", "33.3g", " 33.30 G ", "033.3 grams", "33,3\u{a0}g"] {
        assert_eq!(grams(text).unwrap().milligrams(), 33_300, "{text}");
    }
    assert_eq!(grams("1.5 kg").unwrap(), Grams::whole(1500));
    assert_eq!(grams("0,125").unwrap().milligrams(), 125);
}

#[test]
fn grams_are_shown_to_a_tenth_and_kept_to_a_thousandth() {
    let kept = grams("33.349 g").unwrap();
    assert_eq!((kept.to_string(), kept.exact()), ("33.3 g".to_owned(), "33.349 g".to_owned()));
    assert_eq!(grams("33.35").unwrap().to_string(), "33.4 g");
    assert_eq!(Grams::ZERO.to_string(), "0.0 g");
    assert_eq!(format!("{:>9}|", Grams::whole(5)), "    5.0 g|", "a table can align it");
}

#[test]
fn a_volume_is_not_a_weight_and_the_text_says_what_to_do() {
    let text = refusal::<Grams>("33 ml");
    assert_eq!(
        text,
        "\"ml\" is not a unit for a weight; write it like 33.3 g; that is a volume, and bowls are weighed: put it on \
         the scale"
    );
    assert!(refusal::<Percent>("20 vol").contains("20 vol is 6 %"));
    assert!(refusal::<Volumes>("6 %").contains("6 % is 20 vol"));
}

#[test]
fn a_comma_that_may_part_thousands_is_asked_about() {
    assert_eq!(
        refusal::<Grams>("1,000 g"),
        "\"1,000 g\" may mean thousands or decimals; write 1000 or 1.000"
    );
    assert_eq!(grams("1,00 g").unwrap(), Grams::whole(1));
}

#[test]
fn nonsense_is_refused_with_an_example() {
    for text in
        ["", " ", "g", "abc", ".", ",5", "5.", "1.2.3", "1,2,3", "٣٣", "½", "NaN", "inf", "--3", "- 3 x"]
    {
        let message = refusal::<Grams>(text);
        assert!(message.contains("33.3 g") || message.contains("outside the range"), "{text:?}: {message}");
    }
    assert!(refusal::<Grams>("1e5").contains("not a unit"));
    assert!(refusal::<Grams>("-5 g").contains("0 to 1,000,000 g"));
    assert!(refusal::<Grams>("\u{2212}5").contains("0 to 1,000,000 g"));
    assert!(refusal::<Grams>("1000000.001").contains("0 to 1,000,000 g"));
    assert!(refusal::<Grams>("99999999999999999999999999").contains("0 to 1,000,000 g"));
    assert!(refusal::<Grams>("3.33333").contains("to 0.001 g"));
}

#[test]
fn a_megabyte_or_a_control_character_is_not_quoted_back() {
    let message = refusal::<Grams>(&"x".repeat(1 << 20));
    assert!(message.len() < 200, "{} bytes", message.len());
    assert!(!refusal::<Grams>("\u{1b}[31m5").contains('\u{1b}'));
    assert!(!refusal::<Grams>("5 \u{1b}[31m").contains('\u{1b}'));
}

#[test]
fn strengths_are_read_in_half_steps_and_finer() {
    assert_eq!("12,5vol".parse::<Volumes>().unwrap(), Volumes::from_halves(25).unwrap());
    assert_eq!("20 volumes".parse::<Volumes>().unwrap().to_string(), "20 vol");
    assert_eq!("12.01 %".parse::<Percent>().unwrap(), Percent::from_hundredths(1201).unwrap());
    assert_eq!("6%".parse::<Percent>().unwrap().to_string(), "6 %");
    assert!(refusal::<Percent>("100.0001").contains("0 to 100 %"));
    assert!(refusal::<Volumes>("400 vol").contains("0 to 329 vol"));
    assert!(Percent::from_hundredths(u32::MAX).is_err());
    assert!(Volumes::from_halves(u32::MAX).is_err());
}

#[test]
fn times_are_read_with_a_unit_or_as_a_clock() {
    for (text, shown) in [
        ("35 min", "35:00"),
        ("12:05", "12:05"),
        ("1:02:05", "1:02:05"),
        ("90 s", "01:30"),
        ("1.5 h", "1:30:00"),
        ("48 h", "48:00:00"),
        ("2 days", "48:00:00"),
        ("5m", "05:00"),
        ("90:00", "1:30:00"),
    ] {
        assert_eq!(text.parse::<Millis>().unwrap().to_string(), shown, "{text}");
    }
    assert!(refusal::<Millis>("20").contains("has no unit"));
    for text in ["1:60", "1:60:00", ":05", "5:", "1:2:3:4", "99999:00", "+1:00", "-1:00", "20 g"] {
        assert!(text.parse::<Millis>().is_err(), "{text}");
    }
    assert!(refusal::<Millis>("9601 h").contains("0 to 9,600 hours"));
}

#[test]
fn overdue_times_carry_a_minus_and_the_longest_do_not_panic() {
    assert_eq!(Millis::new(-125_000).to_string(), "-02:05");
    assert_eq!(Millis::new(-999).to_string(), "00:00");
    assert_eq!(Millis::minutes(35).whole_minutes(), 35);
    assert!(Millis::new(i64::MIN).to_string().starts_with('-'));
    assert!(Millis::new(i64::MAX).plus(Millis::new(1)).is_err());
    assert!(Millis::new(i64::MIN).minus(Millis::new(1)).is_err());
    assert!(Millis::new(i64::MAX).times(2).is_err());
}

#[test]
fn ratios_are_exact_and_nonsense_is_refused() {
    for (text, shown) in [
        ("1:1.5", "1:1.5"),
        ("2:3", "1:1.5"),
        ("1 : 2", "1:2"),
        ("1:1,5", "1:1.5"),
        ("3:7", "3:7"),
        ("2:1", "1:0.5"),
    ] {
        assert_eq!(text.parse::<Ratio>().unwrap().to_string(), shown, "{text}");
    }
    assert_eq!("1:1".parse::<Ratio>().unwrap(), Ratio::EQUAL);
    for text in ["1:0", "0:1", "0:0", "1:21", "11:1", "1:99999999999999999999"] {
        assert!(refusal::<Ratio>(text).contains("1:0.1 to 1:20, neither side 0"), "{text}");
    }
    for text in ["", ":", "1", "1:", ":2", "1:2:3", "a:b", "1:x"] {
        assert!(refusal::<Ratio>(text).contains("1:1.5"), "{text}");
    }
    assert!(refusal::<Ratio>("1:2 g").contains("not a unit"));
    assert!(Ratio::new(0, 1).is_err() && Ratio::new(1, 0).is_err() && Ratio::new(u32::MAX, u32::MAX).is_ok());
}

#[test]
fn what_is_taken_cannot_be_more_than_is_there() {
    let text = Grams::whole(5).minus(Grams::whole(6)).unwrap_err().to_string();
    assert_eq!(text, "6.0 g cannot be taken from 5.0 g; at most 5.0 g is there");
    assert!(Grams::MAX.plus(Grams::STEP).is_err());
    assert!(Grams::MAX.times(u32::MAX).is_err());
    assert!(Grams::from_decigrams(u64::MAX).is_err());
}

#[test]
fn written_down_each_is_an_integer_and_checked_when_read_back() {
    assert_eq!(serde_json::to_string(&Grams::whole(5)).unwrap(), "5000");
    assert_eq!(serde_json::to_string(&Millis::minutes(1)).unwrap(), "60000");
    assert_eq!(serde_json::to_string(&Ratio::new(2, 3).unwrap()).unwrap(), "\"1:1.5\"");
    assert!(serde_json::from_str::<Grams>("-1").is_err());
    assert!(serde_json::from_str::<Grams>("1000000001").is_err());
    assert!(serde_json::from_str::<Percent>("1000001").is_err());
    assert!(serde_json::from_str::<Volumes>("329001").is_err());
    assert!(serde_json::from_str::<Ratio>("\"1:0\"").is_err());
    assert_eq!(serde_json::from_str::<Strength>("{\"mvol\":20000}").unwrap().to_string(), "20 vol");
}

fn any_typed() -> impl Strategy<Value = String> {
    prop_oneof![
        any::<String>(),
        "[-0-9.,: ]{0,24}( ?(g|kg|ml|vol|%|min|h|parts|s))?",
        "[0-9]{1,30}[.,:][0-9]{0,30}",
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(20_000))]

    #[test]
    fn nothing_typed_panics_and_every_refusal_is_short(text in any_typed()) {
        let refusals = [
            text.parse::<Grams>().err(),
            text.parse::<Percent>().err(),
            text.parse::<Volumes>().err(),
            text.parse::<Millis>().err(),
            text.parse::<Ratio>().err(),
            text.parse::<Strength>().err(),
            text.parse::<Share>().err(),
        ];
        for refusal in refusals.into_iter().flatten() {
            let message = refusal.to_string();
            prop_assert!(!message.is_empty() && message.len() < 400, "{message}");
        }
    }

    #[test]
    fn what_is_shown_exactly_reads_back_the_same(
        mg in 0_u64..=1_000_000_000, e4 in 0_u32..=1_000_000, mvol in 0_u32..=329_000,
        s in 0_i32..1_000_000, p in 1_u32..5000, d in 1_u32..5000,
    ) {
        let weight = Grams::from_milligrams(mg).unwrap();
        prop_assert_eq!(weight.exact().parse::<Grams>().unwrap(), weight);
        let percent = Percent::from_e4(e4).unwrap();
        prop_assert_eq!(percent.to_string().parse::<Percent>().unwrap(), percent);
        let volumes = Volumes::from_thousandths(mvol).unwrap();
        prop_assert_eq!(volumes.to_string().parse::<Volumes>().unwrap(), volumes);
        let time = Millis::seconds(s);
        prop_assert_eq!(time.to_string().parse::<Millis>().unwrap(), time);
        if let Ok(ratio) = Ratio::new(p, d) {
            prop_assert_eq!(ratio.to_string().parse::<Ratio>().unwrap(), ratio);
        }
    }
}

/// JSON as another program might send it: the right shape, any numbers.
fn hostile_mix() -> impl Strategy<Value = String> {
    let number = || prop_oneof![Just(0_u64), 1_u64..1000, Just(1_000_000_000), Just(u64::MAX), any::<u64>()];
    (number(), number(), number(), number(), any::<bool>(), any::<bool>()).prop_map(|(a, b, c, d, takes, in_grams)| {
        let key = if in_grams { "mg" } else { "milliparts" };
        format!(
            r#"{{"recipe":{{"products":[{{"name":"a","kind":"shade","share":{{"{key}":{a}}},"takes_developer":{takes}}},
            {{"name":"b","kind":"clear","share":{{"milliparts":{b}}},"takes_developer":true}}],
            "developer":{{"ratio":"1:1.5","parts":[{{"name":"d","strength_pct_e4":60000,"share":{{"milliparts":{c}}}}}]}}}},
            "amount":{{"total_mg":{d}}}}}"#
        )
    })
}

proptest! {
    #[test]
    fn a_mix_from_anywhere_is_weighed_or_refused_never_a_panic(text in hostile_mix()) {
        if let Ok(mix) = serde_json::from_str::<Mix>(&text) {
            if let Ok(weighing) = mix.weigh() {
                prop_assert_eq!(Grams::sum(weighing.lines.iter().map(|l| l.amount)).unwrap(), weighing.total);
            }
            let _ = tailcomb_trade::onhead::on_head_of_recipe(&mix.recipe);
            let _ = Mix::as_noted(mix.recipe);
        }
    }

    #[test]
    fn a_service_from_anywhere_is_planned_or_refused_never_a_panic(
        sections in any::<u32>(), mg in 0_u64..=1_000_000_000, ms in any::<i64>(), life in any::<i64>(),
        bowl in 0_u64..=1_000_000_000, first in 0_u32..=1_000_000, last in 0_u32..=1_000_000,
    ) {
        let request = serde_json::json!({
            "products": [{"name": "a", "kind": "lightener", "share": {"milliparts": 1000}, "takes_developer": true}],
            "ratio": "1:2", "developers": [{"name": "x", "strength_pct_e4": first}, {"name": "y", "strength_pct_e4": last}],
            "step_up": {"first_pct_e4": first, "last_pct_e4": last, "cap_pct_e4": 1_000_000},
            "sections": sections % 1100, "pace": {"grams_per_section_mg": mg, "time_per_section_ms": ms},
            "bowl_rules": {"working_life_ms": life, "biggest_bowl_mg": bowl, "clinging_mg": 0}, "rules": [],
        });
        let request: ServiceRequest = serde_json::from_value(request).unwrap();
        if let Err(refusal) = plan_service(&request) {
            prop_assert!(!refusal.to_string().is_empty());
        }
    }
}

#[test]
fn a_recipe_with_too_many_lines_is_refused_not_weighed() {
    let line = serde_json::json!({"name": "a", "kind": "shade", "share": {"milliparts": 1}, "takes_developer": true});
    let recipe = serde_json::json!({"products": vec![line; 65], "developer": null});
    let recipe: Recipe = serde_json::from_value(recipe).unwrap();
    assert!(matches!(recipe.check(), Err(TradeError::Count { count: 65, most: 64, .. })));
}

#[test]
fn a_share_too_small_for_any_amount_is_refused_as_such() {
    let line = |name: &str, milliparts: u64| serde_json::json!({"name": name, "kind": "shade", "share": {"milliparts": milliparts}, "takes_developer": true});
    let mix = serde_json::json!({"recipe": {"products": [line("a", 1_000_000_000), line("speck", 1)], "developer": null},
        "amount": {"total_mg": 60_000}});
    let mix: Mix = serde_json::from_value(mix).unwrap();
    assert_eq!(mix.weigh(), Err(TradeError::TooSmallAShare { name: "speck".to_owned() }));
}
