//! Arithmetic at the bowl.

use crate::kit::At;

#[test]
fn a_mix_says_what_to_weigh_what_meets_the_hair_and_what_belongs_beside_it() {
    let at = At::nowhere();
    let said = at.ok(&["mix", "100g", "--ratio", "1:2", "--developer", "12%"]);
    // 33.3 + 66.7 by largest remainder, the sum still the total; 12 % at 1:2 is 8 % ready for use.
    assert!(said.contains("33.3 g") && said.contains("66.7 g") && said.contains("100.0 g"), "{said}");
    assert!(said.contains("peroxide ready for use: 8.004 %"), "of what is weighed: {said}");
    assert!(said.contains("within the limit of 12 %") && said.contains("1223/2009"), "{said}");
    assert!(said.contains("maker's label") && said.contains("Gloves"), "{said}");
    let clay = at.ok(&["mix", "60g", "--ratio", "1:1.5", "--developer", "20vol", "--lightener"]);
    assert!(clay.contains("ventilate"), "{clay}");
    let json =
        at.json(&["mix", "60g", "copper=2 parts", "clear=1 part", "--ratio", "1:1", "--developer", "20vol"]);
    let weights: Vec<u64> = json["weighing"]["lines"]
        .as_array()
        .unwrap()
        .iter()
        .map(|l| l["amount_mg"].as_u64().unwrap())
        .collect();
    assert_eq!(weights, [20_000, 10_000, 30_000]);
}

#[test]
fn a_mix_that_cannot_be_is_refused_with_what_would_do() {
    let at = At::nowhere();
    let misread = |args: &[&str]| at.run(args).misread().to_owned();
    assert!(
        misread(&["mix", "60ml", "--ratio", "1:1", "--developer", "20vol"]).contains("bowls are weighed")
    );
    assert!(misread(&["mix", "60g", "--ratio", "1:0", "--developer", "20vol"]).contains("1:0.1 to 1:20"));
    assert!(
        misread(&["mix", "60g", "copper=2", "--ratio", "1:1", "--developer", "20vol"]).contains("no unit")
    );
    let refused = |args: &[&str]| at.run(args).refused().to_owned();
    assert!(refused(&["mix", "0g", "--ratio", "1:1", "--developer", "20vol"]).contains("at least 0.1 g"));
    assert!(refused(&["mix", "60g", "--developer", "20vol"]).contains("--ratio 1:1.5"));
    assert!(refused(&["mix", "60g", "--ratio", "1:1"]).contains("--developer 20vol"));
    assert!(refused(&["mix", "60g", "--ratio", "1:1", "--developer", "20"]).contains("no unit"));
    assert!(refused(&["mix", "60g", "--ratio", "1:1", "--developer", "90vol"]).contains("label table"));
}

#[test]
fn developers_are_blended_within_their_ends_and_no_further() {
    let at = At::nowhere();
    // 12 % and 3 % to 6 %, 90 g in all: 30 + 60.
    let said = at.ok(&["blend", "90g", "6%", "--from", "12%", "3%"]);
    assert!(said.contains("30.0 g  12 % (40 vol)") && said.contains("60.0 g  3 % (10 vol)"), "{said}");
    let water = at.ok(&["blend", "60g", "20vol", "--from", "40vol", "water"]);
    assert!(water.contains("30.0 g  water"), "{water}");
    let refused = at.run(&["blend", "90g", "40vol", "--from", "20vol", "30vol"]);
    assert!(refused.refused().contains("they reach from 6 % to 9 %"), "{}", refused.err);
}

#[test]
fn a_long_application_is_cut_into_bowls_and_stepped_up() {
    let at = At::nowhere();
    let cut = ["bowls", "--sections", "9", "--each", "7g", "--pace", "5m", "--life", "15m"];
    assert!(at.ok(&cut).contains("bowl 3  23.0 g  sections 7 to 9"), "{}", at.ok(&cut));
    let shelf =
        ["--ratio", "1:1.5", "--first", "10vol", "--last", "30vol", "--shelf", "10vol", "20vol", "30vol"];
    let said = at.ok(&[&cut[..], &shelf[..]].concat());
    assert!(said.contains("1.8 %") && said.contains("3.6 %") && said.contains("5.4 %"), "{said}");
    assert!(said.contains("catch up"), "why: {said}");
    let slow = at.run(&["bowls", "--sections", "9", "--each", "7g", "--pace", "40m", "--life", "15m"]);
    assert!(slow.refused().contains("split each section"), "{}", slow.err);
    let steps = at.ok(&["step-up", "10vol", "30vol", "--bowls", "3", "--shelf", "10vol", "20vol", "30vol"]);
    assert!(steps.contains("bowl 2  6 % (20 vol)"), "{steps}");
    let down =
        at.run(&["step-up", "30vol", "10vol", "--bowls", "3", "--shelf", "10vol", "30vol", "--cap", "30vol"]);
    assert!(down.refused().contains("cannot go down"), "{}", down.err);
}

#[test]
fn a_strength_is_told_by_the_label_and_exactly_apart() {
    let at = At::nowhere();
    let said = at.ok(&["strength", "40vol"]);
    assert!(said.contains("by the label: 40 vol = 12 %") && said.contains("12.1405 %"), "{said}");
    assert!(at.run(&["strength", "40"]).misread().contains("no unit"));
}
