//! A visit whole, and the list of those that are open.

use serde_json::json;
use tailcomb_core::ids::{DocId, DocKind};
use tailcomb_core::record::visit::{BowlState, SignState, VisitState, VisitView};
use tailcomb_core::station::{Briefing, Station, short};
use tailcomb_core::trade::Millis;

use super::super::say::{self, Names};
use super::super::{remark, stops};
use super::told::{formula_lines, results, told_target};
use crate::cli::error::CliError;
use crate::cli::output::{Output, aligned};

/// The open ones.
pub(super) fn list(station: &mut Station) -> Result<Output, CliError> {
    let visits: Vec<DocId> =
        station.on_floor()?.into_iter().filter(|id| id.kind() == DocKind::Visit).collect();
    let names = Names::of(station)?;
    let mut rows = Vec::new();
    let mut value = Vec::new();
    for visit in visits {
        let Ok(view) = station.visit(&visit) else { continue };
        if !view.state.is_open() {
            continue;
        }
        let client = say::client_name(station, &visit)?;
        let holders = names.people(view.holders.now.iter().map(|h| &h.person));
        let service = view.opening.as_ref().map(|o| o.service.clone()).unwrap_or_default();
        rows.push(vec![
            short(visit.as_str()).to_owned(),
            client.clone(),
            service.clone(),
            format!("with {holders}"),
        ]);
        value.push(json!({
            "doc": visit,
            "short": short(visit.as_str()),
            "client_name": client,
            "service": service,
            "holders": view.holders,
        }));
    }
    let human = if rows.is_empty() { "no open visits".to_owned() } else { aligned(0, &rows) };
    Ok(Output::new(human, json!({ "visits": value })))
}

/// The visit.
pub(super) fn show(station: &mut Station, visit: &DocId) -> Result<Output, CliError> {
    let view = station.visit(visit)?;
    let briefing = station.brief(visit)?;
    let names = Names::of(station)?;
    let goal: Vec<String> =
        view.goal.iter().flat_map(|g| g.values()).map(|g| format!("“{}”", g.words)).collect();
    let targets: Vec<String> =
        view.targets.iter().flat_map(|t| t.values().map(|v| format!("  {}", told_target(v)))).collect();
    let formulas: Vec<String> = view.formulas.iter().map(|f| formula_lines(f, &view, &names)).collect();
    let checks: Vec<Vec<String>> = view
        .checks
        .iter()
        .flat_map(|c| {
            c.said.versions.iter().map(|v| {
                let check = &v.value;
                let name = view.section(&check.section).map_or("a section", |s| s.name());
                let level =
                    check.level_tenths.map(|l| format!("level {}", say::level(l))).unwrap_or_default();
                let feel = check.feel.map_or("", |f| f.name().as_str());
                let parts = [level.as_str(), &check.warmth, feel, &check.note];
                let text: Vec<&str> = parts.into_iter().filter(|p| !p.is_empty()).collect();
                let id = short(c.id.as_str()).to_owned();
                vec![id, names.clock(v.at.ms), name.to_owned(), text.join(", "), names.person(&v.by)]
            })
        })
        .collect();
    let asked =
        view.countersign().map(|c| format!("countersign: {}", sign_state(c.state))).unwrap_or_default();
    let remarks = remark::elsewhere(&view, &names);
    let human = say::lines([
        screen_of(&briefing, &view, &names),
        say::block("goal", &goal.iter().map(|g| format!("  {g}")).collect::<Vec<_>>().join("\n")),
        say::block("targets", &targets.join("\n")),
        say::block("formulas", &formulas.join("\n")),
        say::block("checks", &aligned(2, &checks)),
        say::block("so far", &results(&view, &names).join("\n")),
        say::block("remarks", &remarks),
        asked,
        say::cautions(&briefing.brief.cautions),
    ]);
    Ok(Output::new(
        human,
        json!({
            "doc": visit,
            "short": short(visit.as_str()),
            "client_name": briefing.client_name,
            "visit": view,
            "stop": briefing.stop,
            "hair": briefing.hair,
            "cautions": briefing.brief.cautions,
        }),
    ))
}

pub(in crate::cli::job) fn sign_state(state: SignState) -> &'static str {
    match state {
        SignState::Waiting => "asked for, nobody has answered yet",
        SignState::Agreed => "agreed, to the plan as it stands",
        SignState::ChangesWanted => "changes are wanted",
        SignState::Stale => "the plan changed since: ask again",
        SignState::Withdrawn => "withdrawn",
    }
}

/// What to watch first, then the head, the bowls, the timers, what comes next, what is to be settled.
fn screen_of(briefing: &Briefing, view: &VisitView, names: &Names) -> String {
    let brief = &briefing.brief;
    let name =
        briefing.client_name.clone().unwrap_or_else(|| "a client whose card has not arrived".to_owned());
    let state = match &view.state {
        VisitState::Open => String::new(),
        VisitState::Closed => ", closed".to_owned(),
        VisitState::NotOpened => ", not opened".to_owned(),
        VisitState::Asks { .. } => ", asks whether it is closed".to_owned(),
    };
    let holders = names.people(brief.holders.now.iter().map(|h| &h.person));
    let offered: Vec<String> = brief.holders.offered_to().map(|p| names.person(p)).collect();
    let offered =
        if offered.is_empty() { String::new() } else { format!(", offered to {}", offered.join(" and ")) };
    let mut watch: Vec<String> = briefing.card_to_watch().map(|w| format!("  ! {}", w.text)).collect();
    watch.extend(briefing.hair.iter().map(|w| format!("  ! {}", w.text)));
    watch.extend(briefing.alert_test.iter().map(|v| format!("  ! {}", v.text)));
    watch.extend(briefing.lacks.iter().map(|lack| {
        format!("  ! an associate's work waits for a trainer's countersign: {}", lack.what_to_do())
    }));
    watch.extend(brief.watch.iter().map(|w| format!("  ! {}", w.text)));
    let on_hair: Vec<Vec<String>> = brief
        .on_hair
        .iter()
        .map(|s| {
            let left = match s.longest_left_ms {
                Some(ms) if ms < 0 => format!("OVER the maker's longest time by {}", Millis::new(-ms)),
                Some(ms) => format!("{} to the maker's longest time", Millis::new(ms)),
                None => String::new(),
            };
            let asks = if s.asks { "asks to be settled" } else { "" };
            vec![
                s.name.clone(),
                format!("on for {}", Millis::new(s.elapsed_ms)),
                format!("since {}", names.clock(s.since.ms)),
                say::several(&s.bowls),
                left,
                asks.to_owned(),
            ]
        })
        .collect();
    let spread = if brief.on_hair.len() > 1 {
        format!("  oldest and newest are {} apart", Millis::new(brief.spread_ms))
    } else {
        String::new()
    };
    let bowls: Vec<Vec<String>> = brief
        .bowls
        .iter()
        .map(|b| {
            let life = match (b.state, b.life_left_ms) {
                (BowlState::InUse, Some(ms)) if ms < 0 => {
                    format!("working life OVER by {}", Millis::new(-ms))
                }
                (BowlState::InUse, Some(ms)) => format!("works {} more", Millis::new(ms)),
                _ => String::new(),
            };
            let on_head = b.on_head.map(|p| format!("{p} ready for use")).unwrap_or_default();
            let made =
                view.bowl(&b.bowl).and_then(|v| v.contents()).map(|c| names.contents(c)).unwrap_or_default();
            let left = b.leftover.map(|g| format!("{} thrown away", names.weight(g))).unwrap_or_default();
            vec![b.label.to_string(), say::bowl_state(b.state).to_owned(), made, on_head, life, left]
        })
        .collect();
    let timers: Vec<Vec<String>> =
        brief.timers.iter().filter_map(|t| view.timer(&t.timer)).map(|t| names.timer(t)).collect();
    let next: Vec<String> = brief.next.iter().map(|r| format!("  {}", names.reminder(r, view))).collect();
    let list = |what: &str, names: &[String]| {
        if names.is_empty() { String::new() } else { format!("{what}: {}", names.join(", ")) }
    };
    let questions: Vec<String> = brief
        .questions
        .iter()
        .map(|q| {
            let sides: Vec<String> =
                q.sides.iter().map(|s| format!("{}: {}", names.person(&s.by), s.text)).collect();
            format!("  {}: {}", q.title, sides.join("  |  "))
        })
        .collect();
    let newer = if brief.newer > 0 {
        format!("{} steps were written by a newer version: look at that station too", brief.newer)
    } else {
        String::new()
    };
    say::lines([
        format!("{name}: {}{state} ({})", brief.service, short(view.doc.as_str())),
        format!("with {holders}{offered}"),
        say::block("watch", &watch.join("\n")),
        stops::told(&briefing.stop, &brief.overrides, names).join("\n"),
        say::block("on the hair", &say::lines([aligned(2, &on_hair), spread])),
        list("rinsed", &brief.rinsed),
        list("to do", &brief.to_do),
        list("left out", &brief.left_out),
        say::block("bowls", &aligned(2, &bowls)),
        say::block("timers", &aligned(2, &timers)),
        say::block("next", &next.join("\n")),
        say::block("to be settled", &questions.join("\n")),
        newer,
    ])
}
