//! What people do at a station, through the same commands that a person's fingers reach.

use tailcomb_core::ids::{DocId, EntryId};
use tailcomb_core::record::client::{
    AlertResult, Answer, Answered, Chemical, ChemicalKind, ClientField, ConsentKind, QUESTIONS, Sensitivity,
    Severity,
};
use tailcomb_core::record::day::{Slot, StockCount};
use tailcomb_core::record::salon::{Policy, Role};
use tailcomb_core::record::shelf::{Goods, Product, StockLevel};
use tailcomb_core::record::timer::NewTimer;
use tailcomb_core::record::visit::{
    Check, Feel, Finish, FinishKind, Formula, Line, LineRole, Section, Target, Topic, VisitView, ZoneResult,
};
use tailcomb_core::station::{BowlWish, NewLine, NewVisit, PaintTimer, Station, StationError, TimerRef};
use tailcomb_core::time::TimerKind;
use tailcomb_core::trade::mix::{Amount, Share};
use tailcomb_core::trade::{Grams, Millis, Ratio, Volumes};

use super::chance::Chance;

type Done = Result<&'static str, StationError>;

const FIRST: [&str; 8] = ["Marta", "Odile", "Benno", "Saskia", "Tiago", "Yara", "Ilse", "Noor"];
const LAST: [&str; 8] =
    ["Vasconcelos", "Brandt", "Okafor", "Lindqvist", "Moreau", "Teles", "Haddad", "Quill"];
const WORDS: [&str; 8] = ["regrowth", "copper", "ends", "nape", "soft", "cool", "later", "careful"];

fn text(chance: &mut Chance, words: u64) -> String {
    let picked = (0..words.max(1)).filter_map(|_| chance.pick(&WORDS).copied());
    picked.collect::<Vec<_>>().join(" ")
}

/// One thing that somebody does; what it was.
pub(super) fn something(station: &mut Station, chance: &mut Chance) -> Done {
    match chance.below(100) {
        0..=9 => new_card(station, chance),
        10..=24 => on_a_card(station, chance),
        25..=34 => open_visit(station, chance),
        35..=64 => in_a_visit(station, chance),
        65..=86 => with_a_timer(station, chance),
        87..=91 => settle(station, chance),
        92..=93 => undo(station, chance),
        _ => around_the_house(station, chance),
    }
}

fn new_card(station: &mut Station, chance: &mut Chance) -> Done {
    let first = chance.pick(&FIRST).copied().unwrap_or_default();
    let last = chance.pick(&LAST).copied().unwrap_or_default();
    let phone = format!("0{}", chance.between(100_000_000, 999_999_999));
    let fields = [(ClientField::Phone, phone), (ClientField::WhitePct, chance.below(100).to_string())];
    station.new_client(&format!("{first} {last}"), &fields)?;
    Ok("new card")
}

fn a_card(station: &mut Station, chance: &mut Chance) -> Result<Option<DocId>, StationError> {
    let cards = station.clients()?;
    Ok(chance.pick(&cards).map(|found| found.id.clone()))
}

/// A note long enough that a store must grow for it.
pub(super) fn long_note(station: &mut Station, chance: &mut Chance) -> Done {
    let Some(card) = a_card(station, chance)? else { return new_card(station, chance) };
    let mut note = String::new();
    while note.len() < 3_900 {
        note.push_str(&format!("{:016x} ", chance.below(u64::MAX)));
    }
    note.truncate(3_900);
    station.set_client(&card, &[(ClientField::Notes, note)])?;
    Ok("long note on a card")
}

fn on_a_card(station: &mut Station, chance: &mut Chance) -> Done {
    let Some(card) = a_card(station, chance)? else { return new_card(station, chance) };
    match chance.below(10) {
        0 => {
            let said = sensitivity(chance);
            station.record_sensitivity(&card, &said)?;
            Ok("sensitivity recorded")
        }
        1 | 2 => {
            let view = station.client(&card)?;
            let Some(standing) = chance.pick(&view.sensitivities) else {
                let said = sensitivity(chance);
                station.record_sensitivity(&card, &said)?;
                return Ok("sensitivity recorded");
            };
            if chance.per_mille(500) {
                station.remove_sensitivity(&card, &standing.id, "tested again, nothing seen")?;
                Ok("sensitivity removed")
            } else {
                let said = sensitivity(chance);
                station.change_sensitivity(&card, &standing.id, &said)?;
                Ok("sensitivity changed")
            }
        }
        3 => {
            let question = chance.pick(&QUESTIONS).map(|q| q.key).unwrap_or_default();
            let answer = *chance.pick(&[Answer::No, Answer::Unsure, Answer::Yes]).unwrap_or(&Answer::Unsure);
            let answered = Answered { answer, note: text(chance, 2) };
            station.answer_questions(&card, &[(question.to_owned(), answered)])?;
            Ok("question answered")
        }
        4 => {
            let view = station.client(&card)?;
            match chance.pick(&view.alert_tests) {
                Some(test) if chance.per_mille(500) => {
                    station.read_alert_test(&card, &test.id, AlertResult::NothingSeen, "")?;
                    Ok("alert test read")
                }
                _ => {
                    station.apply_alert_test(&card, "Ember 7.4", "behind the left ear", None)?;
                    Ok("alert test applied")
                }
            }
        }
        5 => {
            let kinds = [ConsentKind::HealthNotes, ConsentKind::Photos, ConsentKind::Messages];
            let kind = *chance.pick(&kinds).unwrap_or(&ConsentKind::Photos);
            station.set_consent(&card, kind, chance.per_mille(600))?;
            Ok("consent")
        }
        6 => {
            let said = Chemical {
                zone: text(chance, 1),
                kind: ChemicalKind::Lightener,
                done_at_ms: station.now().ms - 86_400_000 * chance.between(1, 400),
                line_um: Some(chance.between(0, 300_000)),
                level_tenths: Some(80),
                visit: None,
                note: text(chance, 2),
            };
            station.record_chemical(&card, &said)?;
            Ok("chemical history")
        }
        7 => long_note(station, chance),
        _ => {
            let field = *chance
                .pick(&[ClientField::Notes, ClientField::Scalp, ClientField::Email])
                .unwrap_or(&ClientField::Notes);
            let words = text(chance, 4);
            station.set_client(&card, &[(field, words)])?;
            Ok("field of a card")
        }
    }
}

fn sensitivity(chance: &mut Chance) -> Sensitivity {
    let severity =
        *chance.pick(&[Severity::Mild, Severity::Strong, Severity::Severe]).unwrap_or(&Severity::Severe);
    Sensitivity { substance: text(chance, 1), severity, reaction: text(chance, 2) }
}

fn open_visit(station: &mut Station, chance: &mut Chance) -> Done {
    let Some(client) = a_card(station, chance)? else { return new_card(station, chance) };
    let service = text(chance, 2);
    let new = NewVisit { client, service, planned_at: None, stylist: None, take: chance.per_mille(700) };
    station.open_visit(&new)?;
    Ok("visit opened")
}

fn a_visit(station: &mut Station, chance: &mut Chance) -> Result<Option<VisitView>, StationError> {
    let visits = station.documents_named("visit/")?;
    match chance.pick(&visits) {
        Some(found) => Ok(station.visit(&found.id).ok()),
        None => Ok(None),
    }
}

fn section(chance: &mut Chance) -> Section {
    Section {
        name: text(chance, 1),
        area: text(chance, 1),
        symbol: String::new(),
        shape: String::new(),
        direction: String::new(),
        order: 0,
        left_out: chance.per_mille(80),
        ..Section::default()
    }
}

fn lines(chance: &mut Chance) -> [NewLine; 1] {
    [NewLine {
        product: None,
        role: Some(LineRole::Shade),
        name: format!("{}.{}", chance.between(4, 9), chance.between(0, 6)),
        share: Share::parts(1),
        strength: None,
    }]
}

fn formula(chance: &mut Chance) -> Result<Formula, StationError> {
    let developer = Volumes::from_halves(u32::try_from(chance.between(20, 60)).unwrap_or(40)).ok();
    Ok(Formula {
        title: text(chance, 1),
        ratio: Ratio::new(1, 2).ok(),
        developer,
        longest: Some(Millis::minutes(45)),
        working_life: Some(Millis::minutes(20)),
        note: String::new(),
    })
}

fn in_a_visit(station: &mut Station, chance: &mut Chance) -> Done {
    let Some(view) = a_visit(station, chance)? else { return open_visit(station, chance) };
    let visit = view.doc.clone();
    match chance.below(20) {
        0 | 1 => {
            station.map_sections(&visit, &[section(chance), section(chance)])?;
            Ok("sections mapped")
        }
        2 => {
            station.note_formula(&visit, &formula(chance)?, &lines(chance))?;
            Ok("formula noted")
        }
        3..=5 => change_a_formula(station, &view, chance),
        6 | 7 => mix(station, &view, chance),
        8 | 9 => paint(station, &view, chance),
        10 => {
            station.rinse(&visit, None)?;
            Ok("rinsed")
        }
        11 => {
            station.take(&visit)?;
            Ok("visit taken")
        }
        12 => {
            let people = station.salon()?.people;
            let Some(to) = chance.pick(&people).map(|p| p.id.clone()) else {
                return open_visit(station, chance);
            };
            station.hand_over(&visit, &to)?;
            Ok("visit handed over")
        }
        13 => {
            let topic = *chance.pick(&[Topic::Plan, Topic::Work, Topic::HomeCare]).unwrap_or(&Topic::Work);
            let words = text(chance, 5);
            match chance.pick(&view.notes) {
                Some(note) if chance.per_mille(600) => {
                    station.change_note(&visit, &note.id, topic, &words)?;
                }
                _ => drop(station.add_note(&visit, topic, &words)?),
            }
            Ok("note in a visit")
        }
        14 => {
            let target = Target {
                zone: text(chance, 1),
                level_tenths: Some(75),
                tone: text(chance, 1),
                note: String::new(),
            };
            station.add_targets(&visit, &[target])?;
            Ok("target")
        }
        15 => {
            let Some(section) = chance.pick(&view.sections) else { return open_visit(station, chance) };
            let check = Check {
                section: section.section.id.clone(),
                level_tenths: Some(u16::try_from(chance.between(40, 95)).unwrap_or(60)),
                warmth: text(chance, 1),
                feel: Some(Feel::Firm),
                note: String::new(),
            };
            station.check_strand(&visit, &check)?;
            Ok("strand checked")
        }
        16 => countersign(station, &view, chance),
        17 => {
            let finish = Finish {
                kind: FinishKind::Gloss,
                product: text(chance, 2),
                length: Some(Millis::minutes(15)),
                bowl: None,
                note: String::new(),
            };
            if station.stop(&visit)?.stands && chance.per_mille(800) {
                station.override_stop(&visit, "the client signed for it")?;
                return Ok("stop overridden");
            }
            station.finish(&visit, &finish)?;
            Ok("finish")
        }
        18 => {
            let result = ZoneResult {
                zone: text(chance, 1),
                level_tenths: Some(80),
                tone: text(chance, 1),
                condition: text(chance, 1),
                line_um: None,
                note: String::new(),
            };
            station.add_results(&visit, &[result])?;
            Ok("result")
        }
        _ if view.state.is_open() => {
            station.close_visit(&visit)?;
            Ok("visit closed")
        }
        _ => {
            station.reopen_visit(&visit, "something was forgotten")?;
            Ok("visit opened again")
        }
    }
}

fn change_a_formula(station: &mut Station, view: &VisitView, chance: &mut Chance) -> Done {
    let visit = &view.doc;
    let Some(noted) = chance.pick(&view.formulas) else {
        station.note_formula(visit, &formula(chance)?, &lines(chance))?;
        return Ok("formula noted");
    };
    let line = chance.pick(&noted.lines).and_then(|line| Some((line.id.clone(), line.value()?.clone())));
    match (line, chance.below(4)) {
        (Some((id, line)), 0 | 1) => {
            let share = Share::Milliparts(250 * (1 + chance.below(8)));
            station.change_line(visit, &id, &Line { share, ..line })?;
            Ok("formula line changed")
        }
        (Some((id, _)), 2) => {
            station.remove_line(visit, &id, "not needed")?;
            Ok("formula line removed")
        }
        _ => {
            station.add_lines(visit, &noted.formula.id, &lines(chance))?;
            Ok("formula line added")
        }
    }
}

fn mix(station: &mut Station, view: &VisitView, chance: &mut Chance) -> Done {
    let visit = &view.doc;
    match chance.pick(&view.bowls) {
        Some(bowl) if chance.per_mille(400) => {
            match chance.below(3) {
                0 => station.use_up_bowl(visit, &bowl.id)?,
                1 => station.discard_bowl(visit, &bowl.id, Grams::whole(3))?,
                _ => station.keep_bowl(visit, &bowl.id)?,
            }
            return Ok("bowl's end");
        }
        _ => {}
    }
    let Some(noted) = chance.pick(&view.formulas) else { return change_a_formula(station, view, chance) };
    let wish = BowlWish {
        formula: noted.formula.id.clone(),
        amount: Some(Amount::Total(Grams::whole(u16::try_from(chance.between(20, 90)).unwrap_or(60)))),
        strength: None,
        label: String::new(),
    };
    station.mix_now(visit, &wish)?;
    Ok("bowl mixed")
}

fn paint(station: &mut Station, view: &VisitView, chance: &mut Chance) -> Done {
    let sections: Vec<EntryId> =
        view.sections.iter().filter(|s| !s.is_left_out()).map(|s| s.section.id.clone()).collect();
    let Some(section) = chance.pick(&sections) else {
        station.map_sections(&view.doc, &[section(chance)])?;
        return Ok("sections mapped");
    };
    let bowl = chance.pick(&view.bowls).map(|b| b.id.clone()).filter(|_| chance.per_mille(700));
    let wish = match chance.below(3) {
        0 => PaintTimer::Without,
        1 => PaintTimer::ForLongest,
        _ => PaintTimer::Of { length: Millis::minutes(30), check_every: Some(Millis::minutes(5)) },
    };
    // As a salon would: mostly somebody answers for it, now and then the brush comes too early and is stopped.
    if station.stop(&view.doc)?.stands && chance.per_mille(800) {
        station.override_stop(&view.doc, "the client signed for it")?;
        return Ok("stop overridden");
    }
    station.paint(&view.doc, std::slice::from_ref(section), bowl.as_ref(), None, wish)?;
    Ok("section painted")
}

fn countersign(station: &mut Station, view: &VisitView, chance: &mut Chance) -> Done {
    if view.countersign().is_some() && chance.per_mille(700) {
        station.countersign(&view.doc, &view.plan_seen, chance.per_mille(800), "")?;
        Ok("countersigned")
    } else {
        station.ask_countersign(&view.doc, None, "")?;
        Ok("countersign asked for")
    }
}

fn with_a_timer(station: &mut Station, chance: &mut Chance) -> Done {
    let timers = station.timers()?;
    if timers.len() < 2 || chance.per_mille(200) {
        let kinds = [TimerKind::Processing, TimerKind::Gloss, TimerKind::AlertTest, TimerKind::Plain];
        let kind = *chance.pick(&kinds).unwrap_or(&TimerKind::Plain);
        let length = Millis::minutes(i32::try_from(chance.between(5, 90)).unwrap_or(30));
        let new = NewTimer {
            check_every: chance.per_mille(300).then_some(Millis::minutes(4)),
            ..NewTimer::new(kind, text(chance, 1), length)
        };
        let visit = a_visit(station, chance)?.map(|view| view.doc).filter(|_| chance.per_mille(700));
        station.start_timer(visit.as_ref(), &new)?;
        return Ok("timer started");
    }
    let Some(timer) = chance.pick(&timers) else { return Ok("nothing") };
    let at = TimerRef { doc: timer.doc.clone(), timer: timer.id.clone() };
    match chance.below(20) {
        0..=5 => station.extend_timer(&at, Millis::minutes(5)).map(|_| "timer extended"),
        6 | 7 => {
            let length = Millis::minutes(i32::try_from(chance.between(3, 100)).unwrap_or(30));
            station.set_timer(&at, length).map(|_| "timer's length set")
        }
        8 | 9 => station.pause_timer(&at).map(|_| "timer paused"),
        10 | 11 => station.resume_timer(&at).map(|_| "timer resumed"),
        12..=14 => station.stop_timer(&at).map(|_| "timer stopped"),
        15 => station.take_timer(&at).map(|_| "timer taken"),
        16..=18 => station.silence_timer(&at).map(|_| "timer silenced"),
        _ => station.silence_all().map(|_| "all silenced"),
    }
}

fn settle(station: &mut Station, chance: &mut Chance) -> Done {
    let asked = station.questions()?;
    let Some(question) = chance.pick(&asked) else { return with_a_timer(station, chance) };
    let Some(choice) = chance.pick(&question.choices) else { return with_a_timer(station, chance) };
    station.settle(&question.doc, &question.id, &choice.id)?;
    Ok("question settled")
}

fn undo(station: &mut Station, chance: &mut Chance) -> Done {
    let docs =
        station.documents_named(chance.pick(&["visit/", "client/", "day/"]).copied().unwrap_or("visit/"))?;
    let Some(found) = chance.pick(&docs) else { return new_card(station, chance) };
    station.undo(&found.id, None)?;
    Ok("undone")
}

fn around_the_house(station: &mut Station, chance: &mut Chance) -> Done {
    match chance.below(6) {
        0 => {
            let volumes = Volumes::from_halves(40).map(|volumes_mvol| Goods::Developer { volumes_mvol });
            let goods =
                if chance.per_mille(500) { volumes.unwrap_or(Goods::Clear) } else { Goods::Lightener };
            let product = Product {
                line: "Larkmoor".to_owned(),
                name: text(chance, 2),
                goods,
                ratios: Vec::new(),
                working_life_ms: Some(Millis::minutes(30)),
                longest_processing_ms: Some(Millis::minutes(50)),
            };
            station.add_product(&product, None)?;
            Ok("product")
        }
        1 => {
            let shelf = station.shelf()?;
            let Some(item) = chance.pick(&shelf.items) else { return new_card(station, chance) };
            if chance.per_mille(500) {
                station.set_stock(&item.id, StockLevel::Low)?;
            } else {
                let full_packs = u32::try_from(chance.below(20)).unwrap_or(0);
                station.count_stock(&item.id, &StockCount { full_packs, open_milli: 500 })?;
            }
            Ok("stock")
        }
        2 => {
            let minutes = Millis::minutes(i32::try_from(chance.between(2, 9)).unwrap_or(5));
            station.set_policy(Policy::CheckEveryMs(minutes))?;
            Ok("policy")
        }
        3 => {
            let people = station.salon()?.people;
            let Some(person) = chance.pick(&people) else { return new_card(station, chance) };
            let role =
                *chance.pick(&[Role::Associate, Role::Stylist, Role::Trainer]).unwrap_or(&Role::Stylist);
            station.set_role(&person.id, role)?;
            Ok("role")
        }
        _ => {
            let Some(view) = a_visit(station, chance)? else { return open_visit(station, chance) };
            let planned_at_ms = station.now().ms + chance.between(0, 10_800_000);
            let today = station.today()?;
            station.plan_visit(today, &Slot { visit: view.doc, planned_at_ms, stylist: None })?;
            Ok("visit planned")
        }
    }
}
