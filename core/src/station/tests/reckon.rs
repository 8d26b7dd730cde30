//! The calculator without a client: it says what a bowl would, and notes nothing.

use super::*;
use crate::station::MixWish;
use crate::trade::mix::{Amount, ProductKind, ProductPart};
use crate::trade::strength::Strength;

fn wish(kind: ProductKind, ratio: &str, volumes: &str) -> MixWish {
    let product =
        ProductPart { name: "powder".to_owned(), kind, share: Share::parts(1), takes_developer: true };
    MixWish {
        products: vec![product],
        ratio: ratio.parse().unwrap(),
        developer: volumes.parse().unwrap(),
        amount: Amount::Total(grams(90)),
    }
}

#[test]
fn a_mix_is_reckoned_to_the_scale_held_against_the_rules_and_noted_nowhere() {
    let (mut station, _) = station();
    let before = station.digest().unwrap();
    let made = station.reckon_mix(&wish(ProductKind::Lightener, "1:2", "20 vol")).unwrap();
    assert_eq!((made.weighing.product, made.weighing.developer), (grams(30), grams(60)));
    // 6 % by the label, two parts of three.
    assert_eq!(made.on_head.e4(), 40_000);
    assert!(!made.said.is_empty() && made.findings.iter().all(|f| f.over().next().is_none()));
    assert!(made.cautions.iter().any(|c| c.contains("ventilate")));
    assert_eq!(station.digest().unwrap(), before);
}

#[test]
fn a_mix_over_the_limit_of_the_place_says_so() {
    let (mut station, _) = station();
    let made = station.reckon_mix(&wish(ProductKind::Shade, "1:20", "15 %")).unwrap();
    assert!(made.findings.iter().any(|f| f.over().next().is_some()));
    assert!(made.said.iter().any(|s| s.contains("OVER")), "{:?}", made.said);
}

#[test]
fn a_blend_adds_up_and_an_impossible_one_is_refused_with_a_reason() {
    let (station, _) = station();
    let volumes = |text: &str| text.parse::<Strength>().unwrap();
    let made =
        station.reckon_blend(grams(90), volumes("20 vol"), &[volumes("40 vol"), volumes("10 vol")]).unwrap();
    assert_eq!(made.blend.parts.iter().map(|p| p.amount).collect::<Vec<_>>(), [grams(30), grams(60)]);
    let refused = station.reckon_blend(grams(90), volumes("5 vol"), &[volumes("40 vol"), volumes("10 vol")]);
    assert!(!refused.unwrap_err().to_string().is_empty());
}
