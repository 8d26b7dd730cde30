//! Visits on real documents: what each command writes, refuses, and what merging makes of it, in both orders.

use super::super::client::{Answer, Answered};
use super::super::timer::{self, NewTimer, TimerState};
use super::super::visit::*;
use super::super::{Document, Edit, RecordError, View};
use super::trial::{MINUTE_MS, MORNING_MS, Replica, at, merged};
use crate::ids::{DocId, EntryId, PersonId};
use crate::time::TimerKind;
use crate::time::timer::Outcome;
use crate::trade::mix::{Amount, Mix, Share};
use crate::trade::{Grams, Millis, Percent, Volumes, WeightUnit};

mod bowls;
mod hands;
mod head;
mod notes;
mod remarks;
mod whole;

const INES: &str = "ines";
const TOMAS: &str = "tomas";
const WEN: &str = "wen";

fn ms(minute: i64) -> i64 {
    MORNING_MS + minute * MINUTE_MS
}

fn card() -> DocId {
    DocId::parse("client/c1").unwrap()
}

/// A visit that Ines opened and holds.
fn opened() -> Replica {
    let mut replica = Replica::new(&DocId::parse("visit/v1").unwrap(), 1);
    replica.does(INES, 0, |e| open(e, &card(), "partial foils, copper gloss"));
    replica.does(INES, 0, take);
    replica
}

fn view(doc: &Document) -> VisitView {
    VisitView::read(doc)
}

fn section(name: &str) -> Section {
    Section {
        name: name.to_owned(),
        area: "crown".to_owned(),
        symbol: "C1".to_owned(),
        shape: String::new(),
        direction: String::new(),
        order: 0,
        left_out: false,
        ..Section::default()
    }
}

fn formula(title: &str) -> Formula {
    Formula {
        title: title.to_owned(),
        ratio: Some("1:1.5".parse().unwrap()),
        developer: Some("20 vol".parse().unwrap()),
        longest: Some(Millis::minutes(45)),
        working_life: Some(Millis::minutes(20)),
        note: String::new(),
    }
}

fn line(formula: &EntryId, name: &str, grams: u16) -> Line {
    Line {
        formula: formula.clone(),
        order: 0,
        role: LineRole::Shade,
        product: None,
        name: name.to_owned(),
        share: Share::Grams(Grams::whole(grams)),
        strength: None,
    }
}

fn part(name: &str, role: LineRole, grams: u16) -> Part {
    Part {
        line: None,
        product: None,
        name: name.to_owned(),
        role,
        amount: Grams::whole(grams),
        strength: None,
    }
}

fn contents(formula: &EntryId) -> Contents {
    Contents {
        formula: formula.clone(),
        label: String::new(),
        parts: vec![
            part("white powder", LineRole::Lightener, 24),
            part("developer", LineRole::Developer, 36),
        ],
        strength: Some("20 vol".parse().unwrap()),
        working_life: None,
        weighed: None,
    }
}

/// Two sections and a bowl of a formula.
fn under_way() -> (Replica, [EntryId; 2], EntryId, MixedBowl) {
    let mut replica = opened();
    let a = replica.does(INES, 1, |e| add_section(e, &section("left")));
    let b = replica.does(INES, 1, |e| add_section(e, &section("right")));
    let formula = replica.does(INES, 2, |e| add_formula(e, &formula("foils")));
    let bowl = replica.does(INES, 3, |e| mix_bowl(e, None, &contents(&formula)));
    (replica, [a, b], formula, bowl)
}

fn refusal<R: std::fmt::Debug>(
    replica: &mut Replica,
    by: &str,
    minute: i64,
    edit: impl FnOnce(&mut Edit<'_, '_>) -> Result<R, RecordError>,
) -> String {
    let before = replica.doc.heads();
    let refused = replica.edit(by, minute, edit).unwrap_err().to_string();
    assert_eq!(replica.doc.heads(), before, "a refusal wrote something");
    refused
}

fn one(section: &EntryId) -> &[EntryId] {
    std::slice::from_ref(section)
}

fn titles(view: &VisitView) -> Vec<(About, String)> {
    view.questions().into_iter().map(|q| (q.about, q.title.text)).collect()
}
