//! The watch list of a card: what somebody who takes the client over must know first.

use super::client::{
    Chemical, ChemicalKind, ClientField, ClientView, Sensitivity, Severity, Standing, Watch, WatchKind,
};
use super::screening::{Answer, QUESTIONS};
use super::{Said, Version};
use crate::time::Moment;

pub(super) fn list(client: &ClientView) -> Vec<Watch> {
    let mut list = Vec::new();
    sensitivities(client, &mut list);
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
    let standing = client.sensitivities.iter().filter(|s| s.stands);
    let mut said: Vec<(&Standing<Sensitivity>, &Version<Sensitivity>)> =
        standing.clone().flat_map(|s| s.versions.iter().map(move |v| (s, v))).collect();
    said.sort_by(|a, b| {
        let key = |v: &Version<Sensitivity>| (std::cmp::Reverse(v.value.severity), v.at.ms, v.rev.clone());
        key(a.1).cmp(&key(b.1))
    });
    for (entry, version) in said {
        let said = &version.value;
        let severity = match said.severity {
            Severity::Mild => "mild",
            Severity::Strong => "strong",
            Severity::Severe => "severe",
        };
        let mut text = format!("{}: {severity} reaction", said.substance);
        if !said.reaction.trim().is_empty() {
            text = format!("{text}, {}", said.reaction.trim());
        }
        if entry.brought_back {
            text.push_str(" (somebody removed it without knowing of this: settle it)");
        } else if entry.asks {
            text.push_str(" (said in more than one way: settle it)");
        }
        list.push(watch(WatchKind::Sensitivity, text, version));
    }
    for _ in standing.filter(|s| s.versions.is_empty()) {
        list.push(bare(
            WatchKind::Sensitivity,
            "A sensitivity written by a newer version: look on the station that wrote it",
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
    for scalp in client.field(ClientField::Scalp) {
        if let Some(text) = scalp.value.as_str().filter(|t| !t.trim().is_empty()) {
            list.push(said(scalp, WatchKind::Scalp, format!("Scalp: {}", text.trim())));
        }
    }
    for porosity in client.field(ClientField::Porosity) {
        if porosity.value.as_str() == Some("high") {
            list.push(said(porosity, WatchKind::Hair, "Porous hair: takes colour fast".to_owned()));
        }
    }
}

fn chemical(client: &ClientView, list: &mut Vec<Watch>) {
    let care = |said: &Chemical| match said.kind {
        ChemicalKind::Lightener => Some("lightened before: do not overlap"),
        ChemicalKind::Henna => Some("plant colour: may hold metal salts, test a strand first"),
        ChemicalKind::MetallicSalts => Some("metal salts: react with peroxide, test a strand first"),
        ChemicalKind::Relaxer => Some("relaxed: test a strand first"),
        ChemicalKind::Perm => Some("permed: test a strand first"),
        ChemicalKind::ColourRemover => Some("colour removed before: test a strand first"),
        ChemicalKind::Smoothing => Some("smoothed: test a strand first"),
        ChemicalKind::Tint | ChemicalKind::Gloss => None,
    };
    for entry in client.chemical.iter().filter(|c| c.stands) {
        for version in &entry.versions {
            if let Some(care) = care(&version.value) {
                list.push(watch(WatchKind::Chemical, format!("{}: {care}", version.value.zone), version));
            }
        }
        if entry.versions.is_empty() {
            list.push(bare(WatchKind::Newer, "Chemical history written by a newer version"));
        }
    }
}
