//! The watch list of a card: what somebody who takes the client over must know first.

use super::alert::Applied;
use super::client::{
    ClientField, ClientView, PastReaction, Sensitivity, Severity, Standing, Watch, WatchKind,
};
use super::screening::Answer;
use super::zone::{self, Zone};
use super::{Said, Version};
use crate::order::InOrder as _;
use crate::time::Moment;
use crate::trade::{Term, Told, term, told};

pub(super) fn list(client: &ClientView) -> Vec<Watch> {
    let mut list = Vec::new();
    sensitivities(client, &mut list);
    reactions(client, &mut list);
    tests(client, &mut list);
    screening(client, &mut list);
    hair(client, &mut list);
    chemical(client, &mut list);
    list.order_by_key(|w| w.kind);
    list
}

fn watch<T>(kind: WatchKind, text: Told, version: &Version<T>) -> Watch {
    Watch { kind, text, by: Some(version.by.clone()), at: Some(version.at) }
}

fn bare(kind: WatchKind, text: Told) -> Watch {
    Watch { kind, text, by: None, at: None }
}

fn sensitivities(client: &ClientView, list: &mut Vec<Watch>) {
    let told = |said: &Sensitivity| {
        let (substance, severity) = (&said.substance, said.severity.name());
        match said.reaction.trim() {
            "" => told!("{substance}: {severity} reaction", substance, severity),
            reaction => told!("{substance}: {severity} reaction, {reaction}", substance, severity, reaction),
        }
    };
    let newer = term!("A sensitivity written by a newer version: look on the station that wrote it");
    standing(WatchKind::Sensitivity, newer, &client.sensitivities, |s| s.severity, told, list);
}

fn reactions(client: &ClientView, list: &mut Vec<Watch>) {
    let newer = term!("A reaction written by a newer version: look on the station that wrote it");
    standing(WatchKind::PastReaction, newer, &client.reactions, |r| r.severity, PastReaction::told, list);
}

/// What stands, by whatever anybody said of it, the worst first.
fn standing<T>(
    kind: WatchKind,
    newer: Term,
    all: &[Standing<T>],
    severity: impl Fn(&T) -> Severity,
    told: impl Fn(&T) -> Told,
    list: &mut Vec<Watch>,
) {
    let standing = all.iter().filter(|s| s.stands);
    let mut said: Vec<(&Standing<T>, &Version<T>)> =
        standing.clone().flat_map(|s| s.versions.iter().map(move |v| (s, v))).collect();
    said.order_by(|a, b| {
        let key = |v: &Version<T>| (std::cmp::Reverse(severity(&v.value)), v.at.ms, v.rev.clone());
        key(a.1).cmp(&key(b.1))
    });
    for (entry, version) in said {
        let mut text = told(&version.value);
        if entry.brought_back {
            text = told!("{text} (somebody removed it without knowing of this: settle it)", text);
        } else if entry.asks {
            text = told!("{text} (said in more than one way: settle it)", text);
        }
        list.push(watch(kind, text, version));
    }
    for _ in standing.filter(|s| s.versions.is_empty()) {
        list.push(bare(kind, newer.told()));
    }
}

fn tests(client: &ClientView, list: &mut Vec<Watch>) {
    for test in &client.alert_tests {
        for reading in
            test.readings.iter().filter(|r| r.value.result != super::alert::AlertResult::NothingSeen)
        {
            let product = product(test.applied.last());
            let text = match reading.value.note.as_str() {
                "" => told!("Alert test with {product}: reaction", product),
                note => told!("Alert test with {product}: reaction, {note}", product, note),
            };
            list.push(watch(WatchKind::TestReaction, text, reading));
        }
        if test.is_unread() {
            let applied = test.applied.last();
            let text = told!("Alert test with {product} is not read yet", product = product(applied));
            list.push(match applied {
                Some(version) => watch(WatchKind::TestUnread, text, version),
                None => bare(WatchKind::TestUnread, text),
            });
        }
    }
}

fn product(applied: Option<&Version<Applied>>) -> Told {
    applied.map_or(term!("a product").told(), |a| Told::written(&a.value.product))
}

fn screening(client: &ClientView, list: &mut Vec<Watch>) {
    for question in &client.screening {
        let grave = question.answered.versions.iter().filter(|v| v.value.answer != Answer::No);
        for version in grave {
            let mut text = question.care();
            if version.value.answer == Answer::Unsure {
                text = told!("Not sure: {care}", care = text);
            }
            let note = version.value.note.trim();
            if !note.is_empty() {
                text = told!("{text} (\"{note}\")", text, note);
            }
            list.push(watch(WatchKind::Screening, text, version));
        }
        if question.answered.unreadable > 0 {
            list.push(bare(
                WatchKind::Newer,
                told!("An answer written by a newer version: {question}", question = &question.text),
            ));
        }
    }
}

fn hair(client: &ClientView, list: &mut Vec<Watch>) {
    let said = |said: &Said, kind, text| Watch {
        kind,
        text,
        by: Some(said.by.clone()),
        at: Some(Moment { ms: said.at_ms, within_ms: None }),
    };
    let words = [
        (ClientField::Scalp, WatchKind::Scalp, term!("Scalp")),
        (ClientField::Skin, WatchKind::Health, term!("Skin")),
        (ClientField::Medication, WatchKind::Health, term!("Medication")),
    ];
    for (field, kind, label) in words {
        for one in client.field(field) {
            if let Some(text) = one.value.as_str().filter(|t| !t.trim().is_empty()) {
                list.push(said(one, kind, told!("{label}: {text}", label, text = text.trim())));
            }
        }
    }
    let all = term!("Porous hair: takes colour fast").told();
    let zones = Zone::ALL.map(|zone| {
        let text = told!("{zone}: porous hair: takes colour fast", zone = zone.name());
        (ClientField::porosity_of(zone), text)
    });
    for (field, text) in [(ClientField::Porosity, all)].into_iter().chain(zones) {
        for porosity in client.field(field) {
            if porosity.value.as_str() == Some("high") {
                list.push(said(porosity, WatchKind::Hair, text.clone()));
            }
        }
    }
}

/// One line for each zone and what was done to it, however often: the newest.
fn chemical(client: &ClientView, list: &mut Vec<Watch>) {
    let mut said: Vec<Told> = Vec::new();
    for entry in client.chemical.iter().filter(|c| c.stands) {
        for version in entry.versions.iter().rev() {
            let Some(care) = version.value.kind.care() else { continue };
            let text = told!("{zone}: {care}", zone = zone::told(&version.value.zone), care);
            if !said.contains(&text) {
                said.push(text.clone());
                list.push(watch(WatchKind::Chemical, text, version));
            }
        }
        if entry.versions.is_empty() {
            list.push(bare(WatchKind::Newer, term!("Chemical history written by a newer version").told()));
        }
    }
}
