//! Visits on real documents: what each command writes, refuses, and what merging makes of it, in both orders.

use super::super::client::{Answer, Answered};
use super::super::timer::{self, NewTimer, TimerState};
use super::super::visit::*;
use super::super::{Document, Edit, RecordError};
use super::trial::{MINUTE_MS, MORNING_MS, Replica, merged};
use crate::ids::{DocId, EntryId, PersonId};
use crate::time::TimerKind;
use crate::time::timer::Outcome;
use crate::trade::mix::{Amount, Mix, Share};
use crate::trade::{Grams, Millis, Percent, Volumes};

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
    view.questions().into_iter().map(|q| (q.about, q.title)).collect()
}

#[test]
fn a_visit_is_opened_once_for_a_card() {
    let mut replica = Replica::new(&DocId::parse("visit/v1").unwrap(), 1);
    assert!(refusal(&mut replica, INES, 0, |e| set_goal(e, "warmer")).contains("not open yet"));
    assert!(refusal(&mut replica, INES, 0, |e| open(e, &DocId::salon(), "")).contains("no client's card"));
    replica.does(INES, 0, |e| open(e, &card(), " gloss "));
    assert!(refusal(&mut replica, INES, 1, |e| open(e, &card(), "")).contains("open already"));
    let opening = view(&replica.doc).opening.unwrap();
    assert_eq!((opening.client, opening.service.as_str()), (card(), "gloss"));
    let mut day = Replica::new(&DocId::parse("day/2026-07-01").unwrap(), 1);
    assert!(refusal(&mut day, INES, 0, |e| open(e, &card(), "")).contains("another kind"));
}

#[test]
fn one_line_edited_apart_shows_both_with_who_and_when_until_one_is_picked() {
    let (mut here, _, formula, _) = under_way();
    let id = here.does(INES, 4, |e| add_line(e, &line(&formula, "7.4 copper", 20)));
    let mut there = here.twin(2);
    here.does(INES, 10, |e| set_line(e, &id, &line(&formula, "7.4 copper", 30)));
    there.does(TOMAS, 11, |e| set_line(e, &id, &line(&formula, "7.43 copper gold", 20)));
    let (read, mut all) = merged(&here, &there, view);
    let said = &read.formula(&formula).unwrap().lines[0].said.versions;
    let told: Vec<(&str, i64, &str)> =
        said.iter().map(|v| (v.by.as_str(), v.at.ms, v.value.name.as_str())).collect();
    assert_eq!(told, [(INES, ms(10), "7.4 copper"), (TOMAS, ms(11), "7.43 copper gold")]);
    let questions = read.questions();
    let texts: Vec<&str> = questions[0].sides.iter().map(|s| s.text.as_str()).collect();
    assert_eq!(texts, ["7.4 copper, 30.0 g", "7.43 copper gold, 20.0 g"]);
    assert!(read.formula(&formula).unwrap().recipe().unwrap_err().to_string().contains("settle it"));
    // One tap picks a side; nothing is averaged.
    let pick = questions[0].sides[0].rev.clone();
    all.does(WEN, 12, |e| settle(e, LINE, &id, &pick));
    let read = view(&all.doc);
    let settled = read.formula(&formula).unwrap().lines[0].settled().unwrap();
    assert_eq!((settled.name.as_str(), settled.share), ("7.4 copper", Share::Grams(Grams::whole(30))));
    assert_eq!(read.questions(), []);
    assert!(refusal(&mut all, WEN, 13, |e| settle(e, LINE, &id, &pick)).contains("settled already"));
}

#[test]
fn people_who_said_the_same_apart_agree() {
    let (mut here, _, formula, _) = under_way();
    let id = here.does(INES, 4, |e| add_line(e, &line(&formula, "7.4 copper", 20)));
    let mut there = here.twin(2);
    let same = Line { order: 1, ..line(&formula, "7.4 copper", 25) };
    here.does(INES, 10, |e| set_line(e, &id, &same));
    there.does(TOMAS, 11, |e| set_line(e, &id, &same));
    let (read, _) = merged(&here, &there, view);
    assert_eq!(read.questions(), []);
    assert_eq!(read.formula(&formula).unwrap().lines[0].settled(), Some(&same));
}

#[test]
fn a_line_taken_off_apart_from_an_edit_stays_and_asks() {
    let (mut here, _, formula, _) = under_way();
    let id = here.does(INES, 4, |e| add_line(e, &line(&formula, "7.4 copper", 20)));
    let mut there = here.twin(2);
    here.does(INES, 10, |e| remove_line(e, &id, "not needed"));
    there.does(TOMAS, 11, |e| set_line(e, &id, &line(&formula, "7.4 copper", 40)));
    let (read, mut all) = merged(&here, &there, view);
    assert_eq!(read.formula(&formula).unwrap().lines[0].removed.len(), 1);
    let questions = read.questions();
    assert_eq!(questions[0].sides[0].text, "taken off: not needed");
    let pick = questions[0].sides[0].rev.clone();
    all.does(INES, 12, |e| settle(e, LINE, &id, &pick));
    assert_eq!(view(&all.doc).formula(&formula).unwrap().lines, []);
}

#[test]
fn a_formula_taken_off_apart_from_an_edit_of_its_line_keeps_both_in_sight() {
    let (mut here, _, formula, _) = under_way();
    let id = here.does(INES, 4, |e| add_line(e, &line(&formula, "7.4 copper", 20)));
    let mut there = here.twin(2);
    here.does(INES, 10, |e| remove_formula(e, &formula, "other plan"));
    assert_eq!(view(&here.doc).formulas, []);
    there.does(TOMAS, 11, |e| set_line(e, &id, &line(&formula, "7.4 copper", 40)));
    let (read, _) = merged(&here, &there, view);
    let shown = read.formula(&formula).unwrap();
    assert_eq!((shown.title(), shown.formula.removed[0].why.as_str()), ("a formula taken off", "other plan"));
    assert!(shown.recipe().is_err());
    let texts: Vec<String> = read.questions()[0].sides.iter().map(|s| s.text.clone()).collect();
    assert_eq!(texts, ["taken off: other plan", "7.4 copper, 40.0 g"]);
}

#[test]
fn a_formula_becomes_a_mix_for_the_scale() {
    let (mut replica, _, formula_id, _) = under_way();
    replica.does(INES, 4, |e| add_line(e, &line(&formula_id, "7.4 copper", 20)));
    replica.does(INES, 4, |e| add_line(e, &line(&formula_id, "7 natural", 10)));
    let bond = Line { role: LineRole::Additive, ..line(&formula_id, "bond builder", 3) };
    replica.does(INES, 4, |e| add_line(e, &bond));
    let recipe = view(&replica.doc).formula(&formula_id).unwrap().recipe().unwrap();
    let weighing = Mix { recipe, amount: Amount::Product(Grams::whole(30)) }.weigh().unwrap();
    // 30 g at 1:1.5 takes 45 g of developer; the additive goes on top.
    let total = |g: Grams| g.milligrams();
    assert_eq!((total(weighing.product), total(weighing.developer)), (30_000, 45_000));
    assert_eq!(total(weighing.on_top), 3_000);
}

#[test]
fn figures_that_make_no_formula_are_refused() {
    let (mut replica, [a, _], formula_id, _) = under_way();
    let none = EntryId::new("none");
    assert!(refusal(&mut replica, INES, 5, |e| add_line(e, &line(&none, "7.4", 20))).contains("no formula"));
    assert!(
        refusal(&mut replica, INES, 5, |e| add_line(e, &line(&formula_id, "7.4", 0))).contains("it is 0")
    );
    assert!(refusal(&mut replica, INES, 5, |e| add_line(e, &line(&formula_id, " ", 3))).contains("empty"));
    let strong = Line { strength: Some("20 vol".parse().unwrap()), ..line(&formula_id, "7.4", 20) };
    assert!(refusal(&mut replica, INES, 5, |e| add_line(e, &strong)).contains("only a developer"));
    let endless = Formula { longest: Some(Millis::ZERO), ..formula("x") };
    assert!(refusal(&mut replica, INES, 5, |e| add_formula(e, &endless)).contains("more than 0"));
    let beyond = Formula { developer: Some(Volumes::MAX), ..formula("x") };
    assert!(refusal(&mut replica, INES, 5, |e| add_formula(e, &beyond)).contains("label table"));
    let check =
        Check { section: a, level_tenths: Some(300), warmth: String::new(), feel: None, note: String::new() };
    assert!(refusal(&mut replica, INES, 5, |e| record_check(e, &check)).contains("levels run from 1"));
    let nothing = Check { level_tenths: None, ..check };
    assert!(refusal(&mut replica, INES, 5, |e| record_check(e, &nothing)).contains("say what was seen"));
}

#[test]
fn a_bowl_gets_a_timer_of_its_own_which_ends_with_it() {
    let (mut replica, _, formula, bowl) = under_way();
    let read = view(&replica.doc);
    let timer = read.timer(bowl.timer.as_ref().unwrap()).unwrap();
    assert_eq!((timer.kind, timer.due.unwrap().ms), (TimerKind::BowlLife, ms(23)));
    let shown = read.bowl(&bowl.bowl).unwrap();
    assert_eq!((shown.label.as_str(), shown.state), ("bowl 1", BowlState::InUse));
    assert_eq!(shown.works_until_ms(), Some(ms(23)));
    // 36 g of 6 % in 60 g: 3.6 %.
    assert_eq!(shown.on_head, Some("3.6 %".parse::<Percent>().unwrap()));
    // Correcting the amounts neither starts another timer nor makes the bowl younger.
    let more = Contents { parts: vec![part("white powder", LineRole::Lightener, 25)], ..contents(&formula) };
    let again = replica.does(INES, 9, |e| mix_bowl(e, Some(&bowl.bowl), &more));
    assert_eq!(again, MixedBowl { bowl: bowl.bowl.clone(), timer: None });
    let read = view(&replica.doc);
    assert_eq!(read.bowl(&bowl.bowl).unwrap().mixed_at.unwrap().ms, ms(3));
    assert_eq!(read.timers.len(), 1);
    let too_much = refusal(&mut replica, INES, 10, |e| discard_bowl(e, &bowl.bowl, Grams::whole(26)));
    assert!(too_much.contains("cannot be left of 25.0 g"), "{too_much}");
    replica.does(INES, 10, |e| discard_bowl(e, &bowl.bowl, Grams::whole(5)));
    let read = view(&replica.doc);
    assert_eq!(read.bowl(&bowl.bowl).unwrap().state, BowlState::Discarded);
    assert_eq!(read.bowl(&bowl.bowl).unwrap().leftover(), Some(Grams::whole(5)));
    assert_eq!(read.timers[0].state(ms(60)), TimerState::Stopped);
    assert!(refusal(&mut replica, INES, 11, |e| use_up_bowl(e, &bowl.bowl)).contains("nothing is left"));
    replica.does(INES, 11, |e| keep_bowl(e, &bowl.bowl));
    assert_eq!(view(&replica.doc).bowl(&bowl.bowl).unwrap().state, BowlState::InUse);
}

#[test]
fn a_bowl_that_ended_two_ways_apart_shows_both() {
    let (mut here, _, _, bowl) = under_way();
    let mut there = here.twin(2);
    here.does(INES, 15, |e| use_up_bowl(e, &bowl.bowl));
    there.does(TOMAS, 16, |e| discard_bowl(e, &bowl.bowl, Grams::whole(12)));
    let (read, mut all) = merged(&here, &there, view);
    let questions = read.questions();
    let texts: Vec<&str> = questions[0].sides.iter().map(|s| s.text.as_str()).collect();
    assert_eq!(texts, ["used up", "discarded with 12.0 g left"]);
    assert_eq!(read.bowl(&bowl.bowl).unwrap().leftover(), Some(Grams::whole(12)));
    // Both stopped its timer: that is no question.
    assert_eq!(titles(&read), [(About::Value, "bowl 1".to_owned())]);
    let pick = questions[0].sides[1].rev.clone();
    all.does(INES, 17, |e| settle(e, BOWL, &bowl.bowl, &pick));
    let read = view(&all.doc);
    assert_eq!((read.questions(), read.bowl(&bowl.bowl).unwrap().state), (vec![], BowlState::Discarded));
}

#[test]
fn a_planned_bowl_that_two_mix_apart_is_shown_as_two_mixes() {
    let (mut here, _, formula, _) = under_way();
    let planned = here.does(INES, 4, |e| plan_bowl(e, &contents(&formula)));
    assert!(refusal(&mut here, INES, 5, |e| use_up_bowl(e, &planned)).contains("not mixed yet"));
    let mut there = here.twin(2);
    here.does(INES, 6, |e| mix_bowl(e, Some(&planned), &contents(&formula)));
    let other = Contents { parts: vec![part("blue powder", LineRole::Lightener, 30)], ..contents(&formula) };
    there.does(TOMAS, 7, |e| mix_bowl(e, Some(&planned), &other));
    let (read, _) = merged(&here, &there, view);
    let bowl = read.bowl(&planned).unwrap();
    assert_eq!((bowl.mixed.versions.len(), bowl.mixed_at.unwrap().ms), (2, ms(6)));
    assert_eq!(bowl.timers.len(), 2);
    assert_eq!(titles(&read), [(About::Value, "bowl 2".to_owned())]);
}

#[test]
fn exposure_tells_the_oldest_the_newest_and_the_spread_by_bowl() {
    let (mut replica, [a, b], formula, first) = under_way();
    let second = replica.does(INES, 20, |e| mix_bowl(e, None, &contents(&formula)));
    replica.does(INES, 5, |e| paint(e, one(&a), Some(&first.bowl), None));
    replica.does(INES, 25, |e| paint(e, one(&b), Some(&second.bowl), None));
    let exposure = view(&replica.doc).exposure;
    assert_eq!((exposure.oldest.unwrap().ms, exposure.newest.unwrap().ms), (ms(5), ms(25)));
    assert_eq!(exposure.spread_ms, 20 * MINUTE_MS);
    let bowls: Vec<_> =
        exposure.by_bowl.iter().map(|x| (x.bowl.clone().unwrap(), x.sections.clone())).collect();
    assert_eq!(bowls, [(first.bowl.clone(), vec![a.clone()]), (second.bowl, vec![b.clone()])]);
    // The maker's longest time, 45 min, is reached on the older section first.
    let limits: Vec<(EntryId, i64)> = exposure.limits().into_iter().map(|l| (l.section, l.due_ms)).collect();
    assert_eq!(limits, [(a.clone(), ms(50)), (b.clone(), ms(70))]);
    replica.does(INES, 40, |e| rinse(e, one(&a)));
    let read = view(&replica.doc);
    assert_eq!((read.exposure.oldest.unwrap().ms, read.exposure.spread_ms), (ms(25), 0));
    assert_eq!(read.exposure.section(&a).unwrap().rinsed_off.len(), 1);
    assert!(refusal(&mut replica, INES, 41, |e| rinse(e, one(&a))).contains("nothing on it"));
    // A second application after the rinse counts from itself.
    replica.does(INES, 45, |e| paint(e, one(&a), None, None));
    assert_eq!(view(&replica.doc).exposure.section(&a).unwrap().since().unwrap().ms, ms(45));
}

#[test]
fn a_section_painted_twice_apart_counts_from_the_earliest_and_shows_both() {
    let (mut here, [a, _], _, bowl) = under_way();
    let mut there = here.twin(2);
    here.does(INES, 12, |e| paint(e, one(&a), Some(&bowl.bowl), None));
    there.does(TOMAS, 9, |e| paint(e, one(&a), None, None));
    let (read, mut all) = merged(&here, &there, view);
    let exposure = read.exposure.section(&a).unwrap();
    assert_eq!((exposure.since().unwrap().ms, exposure.on_hair.len(), exposure.asks), (ms(9), 2, true));
    let question = read.questions().remove(0);
    assert_eq!((question.about, question.sides.len()), (About::OnHair, 2));
    // Confirmed: both stay, the earliest counts, nothing asks.
    let mut confirmed = all.twin(5);
    confirmed.does(WEN, 20, |e| confirm(e, &a));
    let read = view(&confirmed.doc);
    assert_eq!((read.questions(), read.exposure.section(&a).unwrap().since().unwrap().ms), (vec![], ms(9)));
    assert!(refusal(&mut confirmed, WEN, 21, |e| confirm(e, &a)).contains("nothing about it"));
    // Or one of them was never done.
    all.does(WEN, 20, |e| take_back(e, &a, &question.sides[0].rev));
    let read = view(&all.doc);
    assert_eq!((read.questions(), read.exposure.section(&a).unwrap().since().unwrap().ms), (vec![], ms(12)));
}

#[test]
fn a_rinse_takes_off_only_what_it_knew_of() {
    let (mut here, [a, _], _, _) = under_way();
    here.does(INES, 5, |e| paint(e, one(&a), None, None));
    let mut there = here.twin(2);
    here.does(INES, 30, |e| rinse(e, one(&a)));
    there.does(TOMAS, 25, |e| paint(e, one(&a), None, None));
    let (read, mut all) = merged(&here, &there, view);
    let exposure = read.exposure.section(&a).unwrap();
    assert_eq!((exposure.since().unwrap().ms, exposure.rinsed_off.len(), exposure.asks), (ms(25), 1, true));
    all.does(INES, 31, |e| rinse(e, one(&a)));
    let read = view(&all.doc);
    assert_eq!((read.exposure.oldest, read.questions()), (None, vec![]));
}

#[test]
fn the_shortest_of_the_makers_times_that_people_noted_counts() {
    let (mut here, [a, _], formula_id, bowl) = under_way();
    here.does(INES, 5, |e| paint(e, one(&a), Some(&bowl.bowl), None));
    let mut there = here.twin(2);
    let with = |minutes| Formula { longest: Some(Millis::minutes(minutes)), ..formula("foils") };
    here.does(INES, 6, |e| set_formula(e, &formula_id, &with(50)));
    there.does(TOMAS, 7, |e| set_formula(e, &formula_id, &with(35)));
    let (read, _) = merged(&here, &there, view);
    assert_eq!(read.exposure.limits()[0].due_ms, ms(40));
}

#[test]
fn what_cannot_be_painted_is_refused() {
    let (mut replica, [a, _], _, bowl) = under_way();
    let none = EntryId::new("none");
    let out = replica.does(INES, 4, |e| add_section(e, &Section { left_out: true, ..section("fringe") }));
    assert!(refusal(&mut replica, INES, 5, |e| paint(e, &[], None, None)).contains("at least one"));
    assert!(refusal(&mut replica, INES, 5, |e| paint(e, one(&none), None, None)).contains("no section"));
    assert!(refusal(&mut replica, INES, 5, |e| paint(e, one(&a), Some(&none), None)).contains("no bowl"));
    assert!(refusal(&mut replica, INES, 5, |e| paint(e, one(&out), None, None)).contains("left out"));
    let later = Some(super::trial::at(9));
    assert!(refusal(&mut replica, INES, 5, |e| paint(e, one(&a), None, later)).contains("not come yet"));
    // Nothing is painted when one of several sections cannot be.
    let some = [a.clone(), out];
    assert!(refusal(&mut replica, INES, 5, |e| paint(e, &some, None, None)).contains("left out"));
    assert_eq!(view(&replica.doc).exposure.sections, []);
    replica.does(INES, 6, |e| use_up_bowl(e, &bowl.bowl));
    assert!(
        refusal(&mut replica, INES, 7, |e| paint(e, one(&a), Some(&bowl.bowl), None)).contains("mix another")
    );
    let earlier = Some(super::trial::at(3));
    replica.does(INES, 8, |e| paint(e, one(&a), None, earlier));
    assert_eq!(view(&replica.doc).exposure.oldest.unwrap().ms, ms(3));
    assert!(refusal(&mut replica, INES, 9, |e| remove_section(e, &a, "")).contains("product is on it"));
}

#[test]
fn a_section_taken_off_the_map_apart_from_its_painting_is_still_on_the_head() {
    let (mut here, [a, _], _, _) = under_way();
    let mut there = here.twin(2);
    here.does(INES, 5, |e| remove_section(e, &a, "not today"));
    there.does(TOMAS, 6, |e| paint(e, one(&a), None, None));
    let (read, _) = merged(&here, &there, view);
    assert!(read.section(&a).unwrap().is_on_hair());
    let brief = brief(&read, Vec::new(), ms(16));
    assert_eq!((brief.on_hair.len(), brief.on_hair[0].elapsed_ms), (1, 10 * MINUTE_MS));
}

#[test]
fn a_strand_check_silences_the_reminder_on_its_section_only() {
    let (mut replica, [a, b], _, _) = under_way();
    let timer = |section: &EntryId| NewTimer {
        sections: vec![section.clone()],
        check_every: Some(Millis::minutes(10)),
        ..NewTimer::new(TimerKind::Processing, "", Millis::minutes(40))
    };
    let on_a = replica.does(INES, 5, |e| timer::start(e, &timer(&a)));
    let on_b = replica.does(INES, 5, |e| timer::start(e, &timer(&b)));
    let check = Check {
        section: a,
        level_tenths: Some(85),
        warmth: "yellow".to_owned(),
        feel: Some(Feel::Stretchy),
        note: String::new(),
    };
    let id = replica.does(INES, 16, |e| record_check(e, &check));
    let read = view(&replica.doc);
    assert_eq!(read.timer(&on_a).unwrap().state(ms(17)), TimerState::Running);
    assert_eq!(read.timer(&on_b).unwrap().state(ms(17)), TimerState::CheckDue);
    assert_eq!(read.checks[0].value(), Some(&check));
    let watch = brief(&read, Vec::new(), ms(17)).watch;
    assert!(watch.iter().any(|w| w.text == "left: level 8.5, yellow, stretchy"), "{watch:?}");
    let firm = Check { feel: Some(Feel::Firm), ..check };
    replica.does(INES, 18, |e| set_check(e, &id, &firm));
    assert_eq!(view(&replica.doc).checks[0].settled(), Some(&firm));
}

#[test]
fn two_who_take_a_client_apart_both_hold_it_and_one_tap_settles() {
    let (mut here, ..) = under_way();
    let mut there = here.twin(2);
    here.does(WEN, 10, take);
    there.does(TOMAS, 11, take);
    let (read, mut all) = merged(&here, &there, view);
    let people: Vec<&str> = read.holders.now.iter().map(|h| h.person.as_str()).collect();
    assert_eq!(people, [WEN, TOMAS]);
    assert!(titles(&read).contains(&(About::Holder, "who holds the client".to_owned())));
    assert_eq!(read.timers[0].holders, [PersonId::new(TOMAS), PersonId::new(WEN)]);
    all.does(TOMAS, 12, take);
    let read = view(&all.doc);
    assert!(read.holders.holds(&PersonId::new(TOMAS)) && !read.holders.is_contested());
    assert_eq!(read.timers[0].holders, [PersonId::new(TOMAS)]);
    assert_eq!(read.questions(), []);
}

#[test]
fn a_hand_over_changes_hands_when_it_is_taken_and_the_timers_go_with_it() {
    let (mut replica, ..) = under_way();
    let tomas = PersonId::new(TOMAS);
    assert!(refusal(&mut replica, TOMAS, 5, |e| hand_over(e, &PersonId::new(WEN))).contains("take it first"));
    assert!(refusal(&mut replica, INES, 5, |e| hand_over(e, &PersonId::new(INES))).contains("somebody else"));
    assert!(refusal(&mut replica, INES, 5, take).contains("already"));
    replica.does(INES, 5, |e| hand_over(e, &tomas));
    let holders = view(&replica.doc).holders;
    assert!(holders.holds(&PersonId::new(INES)) && !holders.holds(&tomas));
    assert_eq!(holders.offered_to().collect::<Vec<_>>(), [&tomas]);
    replica.does(TOMAS, 6, take);
    let read = view(&replica.doc);
    assert_eq!((read.holders.now.len(), &read.holders.now[0].person), (1, &tomas));
    assert_eq!(read.timers[0].holders, [tomas]);
}

#[test]
fn an_offer_and_a_taking_by_the_one_it_was_meant_for_agree() {
    let mut here = opened();
    let mut there = here.twin(2);
    here.does(INES, 5, |e| hand_over(e, &PersonId::new(TOMAS)));
    there.does(TOMAS, 6, take);
    let (read, _) = merged(&here, &there, view);
    let people: Vec<&str> = read.holders.now.iter().map(|h| h.person.as_str()).collect();
    assert_eq!(people, [TOMAS]);
    // Taken by somebody else, it asks.
    let mut other = opened();
    let mut there = other.twin(2);
    other.does(INES, 5, |e| hand_over(e, &PersonId::new(TOMAS)));
    there.does(WEN, 6, take);
    let (read, _) = merged(&other, &there, view);
    assert!(read.holders.is_contested());
}

#[test]
fn a_countersign_holds_for_what_was_seen_and_not_for_a_later_edit() {
    let (mut replica, _, formula, _) = under_way();
    let line_id = replica.does(INES, 4, |e| add_line(e, &line(&formula, "7.4 copper", 20)));
    let trainer = PersonId::new(WEN);
    let request = replica.does(INES, 5, |e| request_countersign(e, Some(&trainer), "first foils"));
    let seen = view(&replica.doc).plan_seen;
    assert_eq!(view(&replica.doc).countersign().unwrap().state, SignState::Waiting);
    assert!(
        refusal(&mut replica, INES, 6, |e| answer_countersign(e, &request, &seen, true, ""))
            .contains("their own")
    );
    let other = |e: &mut Edit<'_, '_>| answer_countersign(e, &request, &seen, true, "");
    assert!(refusal(&mut replica, TOMAS, 6, other).contains("somebody else"));
    let mute = |e: &mut Edit<'_, '_>| answer_countersign(e, &request, &seen, false, " ");
    assert!(refusal(&mut replica, WEN, 6, mute).contains("what to change"));
    // The plan moves while the trainer reads it.
    let mut moved = replica.twin(3);
    moved.does(INES, 6, |e| set_line(e, &line_id, &line(&formula, "7.4 copper", 40)));
    assert!(
        refusal(&mut moved, WEN, 7, |e| answer_countersign(e, &request, &seen, true, ""))
            .contains("read it again")
    );
    replica.does(WEN, 7, |e| answer_countersign(e, &request, &seen, true, ""));
    assert_eq!(view(&replica.doc).countersign().unwrap().state, SignState::Agreed);
    // Painting is no change of plan; another amount is.
    let section = view(&replica.doc).sections[0].section.id.clone();
    replica.does(INES, 8, |e| paint(e, &[section], None, None));
    assert_eq!(view(&replica.doc).countersign().unwrap().state, SignState::Agreed);
    replica.does(INES, 9, |e| set_line(e, &line_id, &line(&formula, "7.4 copper", 25)));
    let sign = view(&replica.doc).countersign().unwrap().clone();
    assert_eq!(sign.state, SignState::Stale);
    assert_eq!(sign.answers[0].changed_since, [(LINE.to_owned(), line_id)]);
}

#[test]
fn an_edit_made_apart_from_the_countersign_makes_it_stale() {
    let (mut here, _, formula_id, _) = under_way();
    let request = here.does(INES, 5, |e| request_countersign(e, None, ""));
    let mut there = here.twin(2);
    let seen = view(&here.doc).plan_seen;
    here.does(WEN, 6, |e| answer_countersign(e, &request, &seen, true, ""));
    there.does(INES, 7, |e| set_formula(e, &formula_id, &formula("stronger foils")));
    let (read, _) = merged(&here, &there, view);
    assert_eq!(read.countersign().unwrap().state, SignState::Stale);
}

#[test]
fn one_trainer_who_wants_changes_outweighs_one_who_agrees() {
    let (mut here, ..) = under_way();
    let request = here.does(INES, 5, |e| request_countersign(e, None, ""));
    let mut there = here.twin(2);
    let seen = view(&here.doc).plan_seen;
    here.does(WEN, 6, |e| answer_countersign(e, &request, &seen, true, ""));
    there.does(TOMAS, 6, |e| answer_countersign(e, &request, &seen, false, "weaker developer"));
    let (read, mut all) = merged(&here, &there, view);
    let sign = read.countersign().unwrap();
    assert_eq!((sign.state, sign.answers.len()), (SignState::ChangesWanted, 2));
    assert!(refusal(&mut all, WEN, 8, |e| withdraw_countersign(e, &request)).contains("only who asked"));
    all.does(INES, 8, |e| withdraw_countersign(e, &request));
    assert_eq!(view(&all.doc).countersign(), None);
}

#[test]
fn a_closing_that_did_not_know_of_work_keeps_the_visit_open_and_asks() {
    let (mut here, [a, _], _, bowl) = under_way();
    here.does(INES, 20, |e| use_up_bowl(e, &bowl.bowl));
    let mut there = here.twin(2);
    here.does(INES, 30, close);
    assert_eq!(view(&here.doc).state, VisitState::Closed);
    assert!(refusal(&mut here, INES, 31, |e| set_goal(e, "x")).contains("open it again"));
    there.does(TOMAS, 25, |e| paint(e, one(&a), None, None));
    let (read, mut all) = merged(&here, &there, view);
    let VisitState::Asks { edits, unknown } = &read.state else { panic!("{:?}", read.state) };
    assert_eq!((edits.len(), edits[0].by.as_str()), (1, INES));
    assert_eq!(unknown.iter().collect::<Vec<_>>(), [(&"on_hair".to_owned(), &1)]);
    assert!(titles(&read).contains(&(About::Visit, "the visit".to_owned())));
    // Work goes on, and who closes it again settles it.
    assert!(refusal(&mut all, INES, 32, close).contains("product is on 1 sections"));
    all.does(TOMAS, 33, |e| rinse(e, one(&a)));
    all.does(INES, 34, close);
    assert_eq!(view(&all.doc).state, VisitState::Closed);
    all.does(INES, 40, |e| reopen(e, "forgot the home care"));
    assert_eq!(view(&all.doc).state, VisitState::Open);
    assert!(refusal(&mut all, INES, 41, |e| reopen(e, "")).contains("not closed"));
}

#[test]
fn two_closings_that_knew_of_everything_between_them_close_only_if_one_knew_all() {
    let mut base = opened();
    base.does(INES, 1, |e| set_goal(e, "brighter"));
    let (mut here, mut there) = (base.twin(2), base.twin(3));
    here.does(INES, 30, close);
    there.does(TOMAS, 31, close);
    let (read, _) = merged(&here, &there, view);
    assert_eq!(read.state, VisitState::Closed);
    // Each noted something the other did not know of.
    let (mut here, mut there) = (base.twin(4), base.twin(5));
    here.does(INES, 29, |e| add_note(e, Topic::Work, "a"));
    here.does(INES, 30, close);
    there.does(TOMAS, 29, |e| add_note(e, Topic::Work, "b"));
    there.does(TOMAS, 31, close);
    let (read, _) = merged(&here, &there, view);
    assert!(matches!(read.state, VisitState::Asks { .. }));
}

#[test]
fn opened_again_apart_from_a_closing_it_stays_open_and_asks() {
    let mut base = opened();
    base.does(INES, 30, close);
    let mut there = base.twin(2);
    base.does(INES, 31, |e| reopen(e, "photo"));
    base.does(INES, 32, close);
    there.does(TOMAS, 33, |e| reopen(e, "note"));
    let (read, _) = merged(&base, &there, view);
    assert!(matches!(&read.state, VisitState::Asks { edits, .. } if edits.len() == 2));
}

#[test]
fn a_visit_with_a_running_timer_is_not_closed() {
    let (mut replica, _, _, bowl) = under_way();
    assert!(refusal(&mut replica, INES, 30, close).contains("1 of its timers are not stopped"));
    replica.does(INES, 31, |e| timer::stop(e, bowl.timer.as_ref().unwrap()));
    replica.does(INES, 32, close);
    assert_eq!(view(&replica.doc).state, VisitState::Closed);
}

#[test]
fn the_brief_is_one_screen_of_what_the_next_stylist_needs() {
    let (mut replica, [a, b], _, bowl) = under_way();
    replica.does(INES, 1, |e| set_goal(e, "copper like autumn leaves"));
    let yes = Answered { answer: Answer::Yes, note: "eczema behind the ears".to_owned() };
    replica.does(INES, 1, |e| answer_screening(e, "scalp-sore", &yes));
    replica.does(INES, 4, |e| add_section(e, &Section { left_out: true, ..section("nape") }));
    replica.does(INES, 5, |e| paint(e, one(&a), Some(&bowl.bowl), None));
    let timer = NewTimer {
        sections: vec![a.clone()],
        ..NewTimer::new(TimerKind::Processing, "left side", Millis::minutes(30))
    };
    let timer_id = replica.does(INES, 6, |e| timer::start(e, &timer));
    let mut there = replica.twin(2);
    replica.does(INES, 7, |e| timer::extend(e, &timer_id, Millis::minutes(5)));
    there.does(TOMAS, 8, |e| timer::extend(e, &timer_id, Millis::minutes(2)));
    let (read, _) = merged(&replica, &there, view);
    let brief = brief(&read, Vec::new(), ms(15));
    assert_eq!(brief.goal, ["copper like autumn leaves"]);
    assert_eq!(brief.holders.now[0].person.as_str(), INES);
    let mixed = &brief.bowls[0];
    assert_eq!(
        (mixed.formula.as_str(), mixed.contents.as_str()),
        ("foils", "white powder 24.0 g + developer 36.0 g")
    );
    assert_eq!((mixed.mixed_ago_ms, mixed.life_left_ms), (Some(12 * MINUTE_MS), Some(8 * MINUTE_MS)));
    let on = &brief.on_hair[0];
    assert_eq!((on.name.as_str(), on.bowls.as_slice()), ("left", &["bowl 1".to_owned()][..]));
    assert_eq!((on.elapsed_ms, on.longest_left_ms), (10 * MINUTE_MS, Some(35 * MINUTE_MS)));
    assert_eq!(
        (brief.to_do.as_slice(), brief.left_out.as_slice()),
        (&["right".to_owned()][..], &["nape".to_owned()][..])
    );
    assert_eq!(brief.timers.len(), 2);
    assert_eq!(
        (brief.timers[0].kind, brief.timers[0].now.remaining_ms),
        (TimerKind::BowlLife, Some(8 * MINUTE_MS))
    );
    assert_eq!((brief.timers[1].label.as_str(), brief.timers[1].now.asks), ("left side", true));
    // What comes next: the bowl (23), the timer at the earliest (6 + 30 + 2), the maker's longest time (5 + 45).
    let next: Vec<i64> = brief.next.iter().map(|n| (n.due_ms() - MORNING_MS) / MINUTE_MS).collect();
    assert_eq!(next, [23, 38, 50]);
    assert!(brief.watch[0].text.contains("eczema behind the ears"), "{:?}", brief.watch);
    assert!(brief.watch[1].text.starts_with("6 of the standing questions"), "{:?}", brief.watch);
    assert_eq!(brief.questions.len(), 1);
    let shown = serde_json::to_string(&brief).unwrap().to_lowercase();
    assert!(!shown.contains("\"safe") && !shown.contains(" safe"), "a brief vouches for nothing");
    assert!(read.section(&b).is_some());
}

#[test]
fn result_finish_photo_and_home_care_are_kept() {
    let mut replica = opened();
    let result = ZoneResult {
        zone: "lengths".to_owned(),
        level_tenths: Some(80),
        tone: "copper".to_owned(),
        condition: "firm".to_owned(),
        line_um: Some(11_000),
        note: String::new(),
    };
    replica.does(INES, 60, |e| add_result(e, &result));
    let gloss = Finish {
        kind: FinishKind::Gloss,
        product: "8.4 acid gloss".to_owned(),
        bowl: None,
        length: Some(Millis::minutes(20)),
        note: String::new(),
    };
    replica.does(INES, 61, |e| add_finish(e, &gloss));
    replica.does(INES, 62, |e| add_note(e, Topic::HomeCare, "cool water, no oil for two days"));
    let photo = Photo { sha256: "AB".repeat(32), of: PhotoOf::After, note: String::new() };
    replica.does(INES, 63, |e| add_photo(e, &photo));
    let bad = Photo { sha256: "AB".to_owned(), ..photo };
    assert!(refusal(&mut replica, INES, 63, |e| add_photo(e, &bad)).contains("64 hexadecimal"));
    let far = ZoneResult { line_um: Some(-1), ..result.clone() };
    assert!(refusal(&mut replica, INES, 63, |e| add_result(e, &far)).contains("from the scalp"));
    let read = view(&replica.twin(2).doc);
    assert_eq!(read.results[0].settled(), Some(&result));
    assert_eq!(read.finishes[0].settled(), Some(&gloss));
    assert_eq!(read.notes[0].value().unwrap().topic, Topic::HomeCare);
    assert_eq!(read.photos[0].value().unwrap().sha256, "ab".repeat(32));
}

#[test]
fn what_a_newer_version_wrote_is_counted_kept_and_survives_settling() {
    let (mut here, _, formula, _) = under_way();
    let id = here.does(INES, 4, |e| add_line(e, &line(&formula, "7.4 copper", 20)));
    let mut there = here.twin(2);
    here.does(INES, 5, |e| set_line(e, &id, &line(&formula, "7.4 copper", 30)));
    there.does(TOMAS, 6, |e| {
        let mut value = serde_json::to_value(line(&formula, "7.4 copper", 40)).unwrap();
        value["batch"] = "B-77".into();
        Ok(e.add(LINE, &id, &serde_json::json!({ "what": "set", "value": value, "signed": true }))?)
    });
    there.does(TOMAS, 7, |e| {
        let entry = e.new_entry();
        Ok(e.add("scalp_map", &entry, &serde_json::json!({ "what": "drawn" }))?)
    });
    let (read, mut all) = merged(&here, &there, view);
    assert_eq!(read.newer, 1);
    let pick = read.questions()[0].sides[1].rev.clone();
    let settled = all.does(INES, 8, |e| settle(e, LINE, &id, &pick));
    let kept = all.doc.entries().get(LINE, &id).unwrap().get(&settled).unwrap().clone();
    assert_eq!(
        (kept.fields["signed"].as_bool(), kept.fields["value"]["batch"].as_str()),
        (Some(true), Some("B-77"))
    );
    assert_eq!(
        view(&all.doc).formula(&formula).unwrap().lines[0].settled().unwrap().share,
        Share::Grams(Grams::whole(40))
    );
    // A line of a kind this version does not know stands, unread, and is not mixed from.
    all.does(INES, 9, |e| Ok(e.add(LINE, &id, &serde_json::json!({ "what": "poured", "value": 1 }))?));
    let read = view(&all.doc);
    assert_eq!(read.newer, 2);
    let refused = read.formula(&formula).unwrap().recipe().unwrap_err().to_string();
    assert!(refused.contains("newer version"), "{refused}");
}

#[test]
fn a_settled_timer_and_a_question_of_another_kind_go_their_own_ways() {
    let (mut here, _, _, bowl) = under_way();
    let timer_id = bowl.timer.unwrap();
    let mut there = here.twin(2);
    here.does(INES, 5, |e| timer::extend(e, &timer_id, Millis::minutes(5)));
    there.does(TOMAS, 6, |e| timer::extend(e, &timer_id, Millis::minutes(5)));
    let (read, mut all) = merged(&here, &there, view);
    let question = read.questions().remove(0);
    assert_eq!(question.about, About::Timer);
    let way = refusal(&mut all, INES, 7, |e| {
        settle(e, &question.collection, &question.entry, &question.sides[0].rev)
    });
    assert!(way.contains("in its own way"), "{way}");
    all.does(INES, 7, |e| timer::settle(e, &timer_id, Outcome::Ring { due_ms: ms(28) }));
    assert_eq!(view(&all.doc).questions(), []);
}

#[test]
fn sections_come_in_the_order_of_work() {
    let (mut replica, [a, b], ..) = under_way();
    let c = replica.does(INES, 4, |e| add_section(e, &section("front")));
    let first = Section { order: -1, ..section("right") };
    replica.does(INES, 5, |e| set_section(e, &b, &first));
    let order: Vec<EntryId> = view(&replica.doc).sections.iter().map(|s| s.section.id.clone()).collect();
    assert_eq!(order, [b.clone(), a.clone(), c]);
    replica.does(INES, 6, |e| remove_section(e, &b, "done elsewhere"));
    assert!(view(&replica.doc).section(&b).is_none());
    assert!(refusal(&mut replica, INES, 7, |e| paint(e, one(&b), None, None)).contains("no section"));
    replica.does(INES, 8, |e| set_section(e, &b, &first));
    assert_eq!(view(&replica.doc).section(&b).unwrap().name(), "right");
    let long = Section { symbol: "ABCDE".to_owned(), ..section("x") };
    assert!(refusal(&mut replica, INES, 9, |e| add_section(e, &long)).contains("at most 4"));
    let out = Section { left_out: true, ..section("left") };
    replica.does(INES, 10, |e| set_section(e, &a, &out));
    assert!(view(&replica.doc).section(&a).unwrap().is_left_out());
}

#[test]
fn a_section_that_only_one_of_two_leaves_out_is_not_left_out() {
    let (mut here, [a, _], ..) = under_way();
    let mut there = here.twin(2);
    here.does(INES, 5, |e| set_section(e, &a, &Section { left_out: true, ..section("left") }));
    there
        .does(TOMAS, 6, |e| set_section(e, &a, &Section { shape: "diagonal".to_owned(), ..section("left") }));
    let (read, mut all) = merged(&here, &there, view);
    assert!(!read.section(&a).unwrap().is_left_out());
    assert_eq!(titles(&read), [(About::Value, "left".to_owned())]);
    all.does(TOMAS, 7, |e| paint(e, one(&a), None, None));
}

#[test]
fn a_rinse_recorded_by_mistake_is_taken_back_and_the_product_is_on_again() {
    let (mut replica, [a, _], ..) = under_way();
    replica.does(INES, 5, |e| paint(e, one(&a), None, None));
    let rinse = replica.does(INES, 20, |e| rinse(e, one(&a))).remove(0);
    assert!(!view(&replica.doc).section(&a).unwrap().is_on_hair());
    replica.does(INES, 21, |e| take_back(e, &a, &rinse));
    assert_eq!(view(&replica.doc).exposure.section(&a).unwrap().since().unwrap().ms, ms(5));
    let none = crate::ids::RevId::new("none");
    assert!(refusal(&mut replica, INES, 22, |e| take_back(e, &a, &none)).contains("no painting or rinse"));
}

#[test]
fn a_ringing_strand_check_timer_is_silenced_by_the_check() {
    let (mut replica, [a, _], ..) = under_way();
    let timer = NewTimer {
        sections: vec![a.clone()],
        ..NewTimer::new(TimerKind::StrandCheck, "look", Millis::minutes(10))
    };
    let look = replica.does(INES, 5, |e| timer::start(e, &timer));
    let processing = NewTimer { kind: TimerKind::Processing, ..timer };
    let processing = replica.does(INES, 5, |e| timer::start(e, &processing));
    let check = Check {
        section: a,
        level_tenths: None,
        warmth: String::new(),
        feel: Some(Feel::Firm),
        note: String::new(),
    };
    replica.does(INES, 16, |e| record_check(e, &check));
    let read = view(&replica.doc);
    assert_eq!(read.timer(&look).unwrap().state(ms(17)), TimerState::Silenced);
    // The end of a processing time is no look at a strand: it rings on.
    assert_eq!(read.timer(&processing).unwrap().state(ms(17)), TimerState::Ringing);
}

#[test]
fn goal_targets_and_notes_are_said_anew_and_taken_off() {
    let mut replica = opened();
    let target = Target {
        zone: "ends".to_owned(),
        level_tenths: Some(75),
        tone: "copper".to_owned(),
        note: String::new(),
    };
    let id = replica.does(INES, 1, |e| add_target(e, &target));
    replica.does(INES, 2, |e| set_target(e, &id, &Target { level_tenths: Some(80), ..target.clone() }));
    assert_eq!(view(&replica.doc).targets[0].settled().unwrap().level_tenths, Some(80));
    let note = replica.does(INES, 3, |e| add_note(e, Topic::Plan, "foils first"));
    replica.does(INES, 4, |e| set_note(e, &note, Topic::Cut, "dusting"));
    assert_eq!(view(&replica.doc).notes[0].settled().unwrap().text, "dusting");
    replica.does(INES, 5, |e| remove_note(e, &note, ""));
    replica.does(INES, 5, |e| remove_target(e, &id, ""));
    let read = view(&replica.doc);
    assert_eq!((read.notes, read.targets), (vec![], vec![]));
    let mut there = replica.twin(2);
    replica.does(INES, 6, |e| set_goal(e, "warmer"));
    there.does(TOMAS, 7, |e| set_goal(e, "brighter"));
    let (read, _) = merged(&replica, &there, view);
    let told: Vec<String> = read.questions()[0].sides.iter().map(|s| s.text.clone()).collect();
    assert_eq!(told, ["warmer", "brighter"]);
}

#[test]
fn of_two_answers_given_apart_the_one_that_calls_for_care_counts() {
    let mut here = opened();
    let mut there = here.twin(2);
    let answer = |answer| Answered { answer, note: String::new() };
    here.does(INES, 1, |e| answer_screening(e, "breathing", &answer(Answer::No)));
    there.does(TOMAS, 2, |e| answer_screening(e, "breathing", &answer(Answer::Yes)));
    let (read, mut all) = merged(&here, &there, view);
    let question = read.screening.iter().find(|q| q.key == "breathing").unwrap();
    assert_eq!(question.gravest(), Some(Answer::Yes));
    let watch = brief(&read, Vec::new(), ms(3)).watch;
    assert!(watch.iter().any(|w| w.text.contains("persulfate")), "{watch:?}");
    let open = read.questions().remove(0);
    all.does(INES, 3, |e| settle(e, &open.collection, &open.entry, &open.sides[0].rev));
    assert_eq!(view(&all.doc).questions(), []);
}
