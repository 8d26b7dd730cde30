//! Two visits beside each other, and two weighings of a bowl.

use super::*;
use crate::record::salon::Policy;
use crate::trade::WeightUnit;

#[test]
fn two_visits_are_compared_line_by_line() {
    let (mut station, _) = station();
    let first = visit(&mut station);
    let copper = [line(&mut station, "copper 7", Share::Grams(grams(30)))];
    let id = station.note_formula(&first, &formula("regrowth", "1:1.5", "20 vol"), &copper).unwrap().formula;
    let mixed = station.mix_now(&first, &wish(&id, 60)).unwrap();
    station.use_up_bowl(&first, &mixed.bowl).unwrap();
    let card = station.client_of(&first).unwrap().unwrap();
    station.close_visit(&first).unwrap();
    let second = open(&mut station, &card);
    station.repeat_formula(&second, &first, &id).unwrap();
    let same = station.compare_visits(&first, &second).unwrap();
    let differing = |c: &VisitsCompared| -> Vec<(String, Option<String>, Option<String>)> {
        let lines = c.lines.iter().filter(|l| l.differs && l.part.starts_with("formula"));
        lines
            .map(|l| {
                (l.about.text.clone(), l.first.clone().map(|t| t.text), l.second.clone().map(|t| t.text))
            })
            .collect()
    };
    assert_eq!(differing(&same), [], "{same:?}");
    assert!(same.lines.iter().any(|l| l.about == "Fernglow copper 7" && !l.differs));
    assert!(
        same.lines.iter().any(|l| l.part == "used" && l.first.is_some() && l.second.is_none()),
        "mixed once"
    );
    let noted = station.visit(&second).unwrap().formulas[0].clone();
    let line_id = noted.lines[0].id.clone();
    let changed = crate::record::visit::Line {
        share: Share::Grams(grams(35)),
        ..noted.lines[0].value().unwrap().clone()
    };
    station.change_line(&second, &line_id, &changed).unwrap();
    station.change_formula(&second, &noted.formula.id, &formula("regrowth", "1:2", "20 vol")).unwrap();
    station.set_policy(Policy::Weights(WeightUnit::Ounces)).unwrap();
    let said = |text: &str| Some(text.to_owned());
    assert_eq!(
        differing(&station.compare_visits(&first, &second).unwrap()),
        [
            ("ratio".to_owned(), said("1:1.5"), said("1:2")),
            ("longest time".to_owned(), said("35:00"), None),
            ("working life".to_owned(), said("30:00"), None),
            ("Fernglow copper 7".to_owned(), said("1.06 oz"), said("1.23 oz")),
        ]
    );
}

#[test]
fn two_weighings_of_a_bowl_are_compared_part_by_part() {
    let (mut station, clock) = station();
    let visit = visit(&mut station);
    let id = noted(&mut station, &visit, "copper 7");
    let planned = station.plan_bowl(&visit, &wish(&id, 60)).unwrap().bowl;
    assert!(refusal(station.compare_weighings(&visit, &planned, None, None)).contains("not weighed yet"));
    station.mixed(&visit, &planned, &[]).unwrap();
    assert!(refusal(station.compare_weighings(&visit, &planned, None, None)).contains("weighed once"));
    clock.forward(minutes(1));
    station.mixed(&visit, &planned, &[(0, "24.6 g".parse().unwrap())]).unwrap();
    let compared = station.compare_weighings(&visit, &planned, None, None).unwrap();
    let differences: Vec<(&str, i64)> =
        compared.parts.iter().map(|p| (p.name.as_str(), p.difference_mg)).collect();
    assert_eq!(differences, [("Fernglow copper 7", 600), ("Fernglow cream 20 vol", 0)]);
    assert!(compared.first.at.ms < compared.second.at.ms);
    let back = station.compare_weighings(&visit, &planned, Some(2), Some(1)).unwrap();
    assert_eq!(back.parts[0].difference_mg, -600);
    assert!(refusal(station.compare_weighings(&visit, &planned, Some(3), None)).contains("from 1 to 2"));
}
