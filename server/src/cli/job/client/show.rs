//! A card whole, what to watch first, and its visits one by one.

use serde_json::json;
use tailcomb_core::ids::DocId;
use tailcomb_core::record::client::{
    AlertResult, AlertState, AlertTest, Applied, ClientField, ClientView, watch_list,
};
use tailcomb_core::record::visit::{FormulaView, VisitView};
use tailcomb_core::station::{Station, cautions, short};
use tailcomb_core::time::Moment;
use tailcomb_core::trade::Millis;

use super::super::say::{self, Names};
use super::super::visit;
use super::{fields, hair};
use crate::cli::error::CliError;
use crate::cli::output::{Output, aligned};

/// The card.
pub(super) fn show(station: &mut Station, client: &DocId) -> Result<Output, CliError> {
    let card = station.client(client)?;
    let verdict = station.alert_verdict(client)?;
    let visits = station.visits_of(client)?;
    let imports = station.import_notes(client)?;
    let hair = station.hair_history(client)?;
    let names = Names::of(station)?;
    let now = station.now();
    let watch = watch_list(&card);
    let watched: Vec<Vec<String>> = watch
        .iter()
        .map(|w| {
            let who = w.by.as_ref().map(|by| names.person(by)).unwrap_or_default();
            let when = w.at.map(|at| names.date(at.ms)).unwrap_or_default();
            vec!["!".to_owned(), w.text.to_string(), format!("{who} {when}").trim().to_owned()]
        })
        .collect();
    let fields: Vec<Vec<String>> = ClientField::ALL
        .into_iter()
        .filter(|f| *f != ClientField::Name)
        .filter_map(|f| fields::told(f, card.field(f), &names))
        .collect();
    let tests: Vec<Vec<String>> = card.alert_tests.iter().map(|t| alert_test(t, now, &names)).collect();
    let by_zone = hair::told(&hair, &names);
    let seen: Vec<Vec<String>> = visits
        .iter()
        .map(|v| vec![short(v.visit.as_str()).to_owned(), names.clock(v.at_ms), v.service.clone()])
        .collect();
    let human = say::lines([
        format!("{} ({})", card.called(), short(client.as_str())),
        say::block("watch", &aligned(2, &watched)),
        aligned(2, &fields),
        say::block("alert tests", &say::lines([aligned(2, &tests), format!("  {}", verdict.text)])),
        say::block("hair by zone", &by_zone),
        say::block("visits", &aligned(2, &seen)),
        say::lines(imports.iter().map(|i| {
            let (who, when) = (names.person(&i.by), names.date(i.at.ms));
            format!(
                "taken in by {who} on {when} from a file of {}, made {}",
                i.salon,
                names.date(i.made_at_ms)
            )
        })),
        say::cautions(&cautions::for_test()),
    ]);
    Ok(Output::new(
        human,
        json!({
            "doc": client,
            "short": short(client.as_str()),
            "name": card.called(),
            "watch": watch,
            "alert_test": verdict,
            "visits": visits,
            "imports": imports,
            "hair": hair,
            "card": card,
            "cautions": cautions::for_test(),
        }),
    ))
}

/// Who put what where and when, and who read it; all of it where people said it apart.
fn alert_test(test: &AlertTest, now: Moment, names: &Names) -> Vec<String> {
    let state = match test.state(now) {
        AlertState::Reaction => "REACTION".to_owned(),
        AlertState::Voided => "does not count".to_owned(),
        AlertState::Waiting { readable_at_ms } if readable_at_ms == i64::MAX => {
            "cannot be read here".to_owned()
        }
        AlertState::Waiting { readable_at_ms } => {
            format!("not to be read before {}", names.clock(readable_at_ms))
        }
        AlertState::Due { .. } => "to be read now".to_owned(),
        AlertState::NothingSeen { .. } => "nothing seen".to_owned(),
    };
    let applied = test.applied.iter().map(|a| {
        let Applied { product, site, applied_at_ms } = &a.value;
        format!("{product}, {site}, put on {} by {}", names.clock(*applied_at_ms), names.person(&a.by))
    });
    let read = test.readings.iter().map(|r| {
        let seen = match r.value.result {
            AlertResult::NothingSeen => "nothing seen",
            AlertResult::Doubtful => "doubtful",
            AlertResult::Reaction => "a reaction",
        };
        let early = if r.value.early { ", too early" } else { "" };
        let note = if r.value.note.is_empty() { String::new() } else { format!(" (“{}”)", r.value.note) };
        format!("read {} by {}: {seen}{early}{note}", names.clock(r.at.ms), names.person(&r.by))
    });
    let voided = test.voided.iter().map(|v| format!("void by {}: “{}”", names.person(&v.by), v.why));
    let said: Vec<String> = read.chain(voided).collect();
    vec![short(test.id.as_str()).to_owned(), state, applied.collect::<Vec<_>>().join(" | "), said.join(" | ")]
}

/// Visits one by one, then the hair by zone.
pub(super) fn history(station: &mut Station, client: &DocId, most: usize) -> Result<Output, CliError> {
    let card: ClientView = station.client(client)?;
    let visits = station.visits_of(client)?;
    let names = Names::of(station)?;
    let mut text = vec![format!("{} ({})", card.called(), short(client.as_str()))];
    let mut value = Vec::new();
    for past in visits.iter().take(most) {
        let Ok(view) = station.visit(&past.visit) else {
            text.push(format!("{}: this visit has not arrived here yet", names.date(past.at_ms)));
            continue;
        };
        text.push(past_visit(&view, &names));
        value.push(json!({ "visit": past, "view": view }));
    }
    if visits.is_empty() {
        text.push("no visits yet".to_owned());
    }
    let hair = station.hair_history(client)?;
    text.push(say::block("hair by zone", &hair::told(&hair, &names)));
    Ok(Output::new(
        say::lines(text),
        json!({
            "doc": client,
            "name": card.called(),
            "visits": value,
            "hair": hair,
            "chemical": card.chemical,
        }),
    ))
}

fn past_visit(view: &VisitView, names: &Names) -> String {
    let opening = view.opening.as_ref();
    let at = opening.map_or_else(String::new, |o| names.date(o.at.ms));
    let service = opening.map(|o| o.service.as_str()).unwrap_or_default();
    let by = opening.map_or_else(String::new, |o| names.person(&o.by));
    let formulas = view.formulas.iter().map(|f: &FormulaView| visit::formula_lines(f, view, names));
    let bowls = view.bowls.iter().filter_map(|b| {
        let contents = b.contents()?;
        let on_head = b.on_head.map(|p| format!(", {p} ready for use")).unwrap_or_default();
        Some(format!("  {}: {}{on_head}", b.label, names.contents(contents)))
    });
    say::lines(
        [format!("{at} {service}, {by} ({})", short(view.doc.as_str()))]
            .into_iter()
            .chain(formulas)
            .chain(bowls)
            .chain(on_hair_then(view))
            .chain(visit::results(view, names)),
    )
}

/// How long product stayed on each section.
fn on_hair_then(view: &VisitView) -> Vec<String> {
    let stayed = view.exposure.sections.iter().filter_map(|s| {
        let from = s.rinsed_off.first()?.at.ms;
        let until = s.rinses.last()?.at.ms;
        let name = view.section(&s.section).map_or("a section", |v| v.name());
        Some(format!("  {name}: on for {}", Millis::new(until.saturating_sub(from))))
    });
    stayed.collect()
}
