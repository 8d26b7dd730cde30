//! Remarks: they stay with what they are about, whatever becomes of it.

use super::*;
use serde_json::json;

fn remark(on: &str, entry: &EntryId, text: &str) -> Remark {
    Remark { on: on.to_owned(), entry: entry.clone(), kind: RemarkKind::Remark, text: text.to_owned() }
}

/// A formula with one line.
fn noted() -> (Replica, EntryId, EntryId) {
    let mut replica = opened();
    let formula = replica.does(INES, 1, |e| add_formula(e, &formula("foils")));
    let line = replica.does(INES, 2, |e| add_line(e, &line(&formula, "7.4 copper", 20)));
    (replica, formula, line)
}

fn said(view: &VisitView, on: &str, entry: &EntryId) -> Vec<String> {
    view.remarks_on(on, entry).flat_map(|r| r.values().map(|v| v.text.clone())).collect()
}

#[test]
fn a_remark_stays_beside_its_line_when_the_line_is_changed_apart_from_it() {
    let (mut here, formula_id, line_id) = noted();
    let mut there = here.twin(2);
    here.does(WEN, 3, |e| add_remark(e, &remark(LINE, &line_id, "half of that, her ends are porous")));
    there.does(INES, 4, |e| set_line(e, &line_id, &line(&formula_id, "7.4 copper", 35)));
    let (read, _) = merged(&here, &there, view);
    assert_eq!(said(&read, LINE, &line_id), ["half of that, her ends are porous"]);
    let grams = read.formulas[0].lines[0].settled().unwrap().share;
    assert_eq!(grams, Share::Grams(Grams::whole(35)), "the remark changes nothing of the line");
    assert_eq!(read.questions(), [], "and nobody is asked to pick");
}

#[test]
fn a_remark_stays_beside_a_line_that_two_people_changed_apart() {
    let (mut here, formula_id, line_id) = noted();
    here.does(WEN, 3, |e| add_remark(e, &remark(LINE, &line_id, "weigh it twice")));
    let mut there = here.twin(2);
    here.does(TOMAS, 4, |e| set_line(e, &line_id, &line(&formula_id, "7.4 copper", 25)));
    there.does(INES, 5, |e| set_line(e, &line_id, &line(&formula_id, "7.4 copper", 30)));
    let (read, mut all) = merged(&here, &there, view);
    assert!(read.formulas[0].lines[0].is_contested());
    assert_eq!(said(&read, LINE, &line_id), ["weigh it twice"]);
    let pick = read.formulas[0].lines[0].said.versions[0].rev.clone();
    all.does(INES, 6, |e| settle(e, LINE, &line_id, &pick));
    assert_eq!(said(&view(&all.doc), LINE, &line_id), ["weigh it twice"], "nor does settling lose it");
}

#[test]
fn a_remark_outlives_the_line_that_was_taken_off_apart_from_it() {
    let (mut here, _, line_id) = noted();
    let mut there = here.twin(2);
    here.does(WEN, 3, |e| add_remark(e, &remark(LINE, &line_id, "keep it, for the tone")));
    there.does(INES, 4, |e| remove_line(e, &line_id, "none left"));
    let (read, mut all) = merged(&here, &there, view);
    assert!(read.formulas[0].lines.is_empty());
    assert_eq!(said(&read, LINE, &line_id), ["keep it, for the tone"]);
    all.does(INES, 6, |e| set_line(e, &line_id, &line(&read.formulas[0].formula.id, "7.4 copper", 10)));
    assert_eq!(said(&view(&all.doc), LINE, &line_id), ["keep it, for the tone"], "it is there again with it");
}

#[test]
fn a_remark_changed_by_one_and_taken_off_by_another_is_asked_about() {
    let (mut here, _, line_id) = noted();
    let id = here.does(WEN, 3, |e| add_remark(e, &remark(LINE, &line_id, "less")));
    let mut there = here.twin(2);
    here.does(WEN, 4, |e| set_remark(e, &id, RemarkKind::Why, "less, because her ends are porous"));
    there.does(INES, 5, |e| remove_remark(e, &id, "done"));
    let (read, mut all) = merged(&here, &there, view);
    assert_eq!(said(&read, LINE, &line_id), ["less, because her ends are porous"]);
    assert_eq!(titles(&read), [(About::Value, "a remark".to_owned())]);
    let keep = read.remarks[0].said.versions[0].rev.clone();
    all.does(INES, 6, |e| settle(e, REMARK, &id, &keep));
    let read = view(&all.doc);
    assert_eq!((read.questions(), read.remarks[0].settled().unwrap().kind), (vec![], RemarkKind::Why));
}

#[test]
fn a_remark_changes_no_plan_so_a_countersign_stands() {
    let (mut replica, _, line_id) = noted();
    let request = replica.does(INES, 3, |e| request_countersign(e, None, ""));
    let seen = view(&replica.doc).plan_seen;
    replica.does(WEN, 4, |e| answer_countersign(e, &request, &seen, true, ""));
    replica.does(WEN, 5, |e| add_remark(e, &remark(LINE, &line_id, "well done")));
    assert_eq!(view(&replica.doc).countersign().unwrap().state, SignState::Agreed);
}

#[test]
fn a_remark_needs_words_and_something_to_stand_beside() {
    let (mut replica, _, line_id) = noted();
    let id = replica.does(WEN, 3, |e| add_remark(e, &remark(LINE, &line_id, " less ")));
    assert_eq!(said(&view(&replica.doc), LINE, &line_id), ["less"]);
    assert!(refusal(&mut replica, WEN, 4, |e| add_remark(e, &remark(LINE, &line_id, " "))).contains("empty"));
    let nothing = EntryId::new("nothing");
    assert!(
        refusal(&mut replica, WEN, 4, |e| add_remark(e, &remark(LINE, &nothing, "x"))).contains("no entry")
    );
    assert!(
        refusal(&mut replica, WEN, 4, |e| add_remark(e, &remark(REMARK, &id, "x"))).contains("a section")
    );
    assert!(refusal(&mut replica, WEN, 4, |e| remove_remark(e, &nothing, "")).contains("no remark"));
}

#[test]
fn a_remark_of_a_kind_that_only_a_newer_version_knows_is_kept_and_counted() {
    let (mut replica, _, line_id) = noted();
    let newer = json!({ "what": "set", "value":
        { "on": LINE, "entry": line_id, "kind": "sketch", "text": "see", "stroke_um": 5 } });
    replica.does(WEN, 3, |e| Ok(e.add(REMARK, &EntryId::new("rnew"), &newer)?));
    let (read, _) = merged(&replica, &replica.twin(2), view);
    assert_eq!((read.remarks.len(), read.remarks[0].said.unreadable, read.newer), (1, 1, 1));
}
