//! The watch list of a card: what somebody who takes the client over must know first.

use super::client::{
    ClientField, ClientView, PastReaction, Sensitivity, Severity, Standing, Watch, WatchKind,
};
use super::screening::{Answer, QUESTIONS};
use super::zone::Zone;
use super::{Said, Version};
use crate::time::Moment;

pub(super) fn list(client: &ClientView) -> Vec<Watch> {
    let mut list = Vec::new();
    sensitivities(client, &mut list);
    reactions(client, &mut list);
    tests(client, &mut list);
    screening(client, &mut list);
    hair(client, &mut list);
    chemical(client, &mut list);
    list.sort_by_key(|w| w.kind);
    list
}

fn watch<T>(kind: WatchKind, text: String, version: &Version<T>) -> Watch {
    Watch { kind, text, by: Some(version.by.clone()), at: Some(version.at) }
}

fn bare(kind: WatchKind, text: impl Into<String>) -> Watch {
    Watch { kind, text: text.into(), by: None, at: None }
}

fn sensitivities(client: &ClientView, list: &mut Vec<Watch>) {
    let told = |said: &Sensitivity| {
        let text = format!("{}: {} reaction", said.substance, said.severity.name());
        match said.reaction.trim() {
            "" => text,
            reaction => format!("{text}, {reaction}"),
        }
    };
    standing(WatchKind::Sensitivity, "A sensitivity", &client.sensitivities, |s| s.severity, told, list);
}

fn reactions(client: &ClientView, list: &mut Vec<Watch>) {
    standing(
        WatchKind::PastReaction,
        "A reaction",
        &client.reactions,
        |r| r.severity,
        PastReaction::told,
        list,
    );
}

/// What stands, by whatever anybody said of it, the worst first.
fn standing<T>(
    kind: WatchKind,
    what: &str,
    all: &[Standing<T>],
    severity: impl Fn(&T) -> Severity,
    told: impl Fn(&T) -> String,
    list: &mut Vec<Watch>,
) {
    let standing = all.iter().filter(|s| s.stands);
    let mut said: Vec<(&Standing<T>, &Version<T>)> =
        standing.clone().flat_map(|s| s.versions.iter().map(move |v| (s, v))).collect();
    said.sort_by(|a, b| {
        let key = |v: &Version<T>| (std::cmp::Reverse(severity(&v.value)), v.at.ms, v.rev.clone());
        key(a.1).cmp(&key(b.1))
    });
    for (entry, version) in said {
        let mut text = told(&version.value);
        if entry.brought_back {
            text.push_str(" (somebody removed it without knowing of this: settle it)");
        } else if entry.asks {
            text.push_str(" (said in more than one way: settle it)");
        }
        list.push(watch(kind, text, version));
    }
    for _ in standing.filter(|s| s.versions.is_empty()) {
        list.push(bare(
            kind,
            format!("{what} written by a newer version: look on the station that wrote it"),
        ));
    }
}

fn tests(client: &ClientView, list: &mut Vec<Watch>) {
    for test in &client.alert_tests {
        for reading in
            test.readings.iter().filter(|r| r.value.result != super::alert::AlertResult::NothingSeen)
        {
            let product = test.applied.last().map_or("a product", |a| a.value.product.as_str());
            let mut text = format!("Alert test with {product}: reaction");
            if !reading.value.note.is_empty() {
                text = format!("{text}, {}", reading.value.note);
            }
            list.push(watch(WatchKind::TestReaction, text, reading));
        }
        if test.is_unread() {
            let applied = test.applied.last();
            let product = applied.map_or("a product", |a| a.value.product.as_str());
            let text = format!("Alert test with {product} is not read yet");
            list.push(match applied {
                Some(version) => watch(WatchKind::TestUnread, text, version),
                None => bare(WatchKind::TestUnread, text),
            });
        }
    }
}

fn screening(client: &ClientView, list: &mut Vec<Watch>) {
    for question in &client.screening {
        let care =
            QUESTIONS.iter().find(|q| q.key == question.key).map_or(question.text.as_str(), |q| q.care);
        let grave = question.answered.versions.iter().filter(|v| v.value.answer != Answer::No);
        for version in grave {
            let unsure = if version.value.answer == Answer::Unsure { "Not sure: " } else { "" };
            let note = version.value.note.trim();
            let said = if note.is_empty() { String::new() } else { format!(" (\"{note}\")") };
            list.push(watch(WatchKind::Screening, format!("{unsure}{care}{said}"), version));
        }
        if question.answered.unreadable > 0 {
            list.push(bare(
                WatchKind::Newer,
                format!("An answer written by a newer version: {}", question.text),
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
        (ClientField::Scalp, WatchKind::Scalp, "Scalp"),
        (ClientField::Skin, WatchKind::Health, "Skin"),
        (ClientField::Medication, WatchKind::Health, "Medication"),
    ];
    for (field, kind, label) in words {
        for one in client.field(field) {
            if let Some(text) = one.value.as_str().filter(|t| !t.trim().is_empty()) {
                list.push(said(one, kind, format!("{label}: {}", text.trim())));
            }
        }
    }
    let zones =
        Zone::ALL.map(|zone| (ClientField::porosity_of(zone), format!("{}: porous hair", zone.name())));
    for (field, text) in [(ClientField::Porosity, "Porous hair".to_owned())].into_iter().chain(zones) {
        for porosity in client.field(field) {
            if porosity.value.as_str() == Some("high") {
                list.push(said(porosity, WatchKind::Hair, format!("{text}: takes colour fast")));
            }
        }
    }
}

/// One line for each zone and what was done to it, however often: the newest.
fn chemical(client: &ClientView, list: &mut Vec<Watch>) {
    let mut told: Vec<String> = Vec::new();
    for entry in client.chemical.iter().filter(|c| c.stands) {
        for version in entry.versions.iter().rev() {
            let Some(care) = version.value.kind.care() else { continue };
            let text = format!("{}: {care}", version.value.zone);
            if !told.contains(&text) {
                told.push(text.clone());
                list.push(watch(WatchKind::Chemical, text, version));
            }
        }
        if entry.versions.is_empty() {
            list.push(bare(WatchKind::Newer, "Chemical history written by a newer version"));
        }
    }
}
