//! What people said apart, how the record came to be, and taking back the last thing one did.

use clap::Subcommand;
use serde_json::{Value, json};
use tailcomb_core::ids::{DocId, DocKind, RevId};
use tailcomb_core::station::{Asked, Station, short};

use super::super::error::CliError;
use super::super::output::{Output, aligned};
use super::pick::among;
use super::say::{self, Names};

/// A document, as people name it.
#[derive(Debug, Clone, Subcommand)]
pub enum Place {
    /// A visit.
    Visit {
        /// The client's name, or the visit's short name.
        visit: String,
    },
    /// A client's card.
    Client {
        /// The client.
        client: String,
    },
    /// A day.
    Day {
        /// As yyyy-mm-dd [default: today].
        date: Option<jiff::civil::Date>,
    },
    /// The catalogue of products.
    Shelf,
    /// The salon: people, stations, rules.
    Salon,
}

impl Place {
    fn find(&self, station: &mut Station) -> Result<DocId, CliError> {
        Ok(match self {
            Self::Visit { visit } => station.find_visit(visit)?,
            Self::Client { client } => station.find_client(client)?,
            Self::Day { date: Some(date) } => DocId::day(*date),
            Self::Day { date: None } => DocId::day(station.today()?),
            Self::Shelf => DocId::shelf(),
            Self::Salon => DocId::salon(),
        })
    }
}

/// A question with the short name that is typed to settle it.
struct Open {
    mark: String,
    whose: String,
    asked: Asked,
}

/// Everything that waits for a person's word.
fn open(station: &mut Station, place: Option<&Place>) -> Result<Vec<Open>, CliError> {
    let asked = match place {
        Some(place) => {
            let doc = place.find(station)?;
            station.questions_in(&doc)?
        }
        None => station.questions()?,
    };
    let mut open = Vec::new();
    for asked in asked {
        let client = match asked.doc.kind() {
            DocKind::Visit => station.client_of(&asked.doc)?,
            DocKind::Client => Some(asked.doc.clone()),
            _ => None,
        };
        let whose = match client {
            Some(client) => station.title(&client)?.unwrap_or_default(),
            None => String::new(),
        };
        open.push(Open { mark: asked.mark(), whose, asked });
    }
    Ok(open)
}

/// `tailcomb questions`
pub(super) fn questions(place: Option<&Place>, station: &mut Station) -> Result<Output, CliError> {
    let open = open(station, place)?;
    let names = Names::of(station)?;
    let text: Vec<String> = open.iter().map(|o| told(o, &names)).collect();
    let human = if text.is_empty() { "nothing is to be settled".to_owned() } else { text.join("\n") };
    let value: Vec<Value> = open.iter().map(value_of).collect();
    Ok(Output::new(human, json!({ "questions": value })))
}

fn value_of(open: &Open) -> Value {
    let mut value = say::to_value(&open.asked);
    if let Some(fields) = value.as_object_mut() {
        fields.insert("mark".to_owned(), json!(open.mark));
        fields.insert("whose".to_owned(), json!(open.whose));
    }
    value
}

fn told(open: &Open, names: &Names) -> String {
    let rows: Vec<Vec<String>> = open
        .asked
        .choices
        .iter()
        .enumerate()
        .map(|(place, c)| {
            let who = c.by.as_ref().map(|by| names.person(by)).unwrap_or_default();
            let when = c.at.map(|at| names.clock(at.ms)).unwrap_or_default();
            vec![format!("{}", place + 1), c.text.to_string(), who, when]
        })
        .collect();
    let whose = if open.whose.is_empty() { String::new() } else { format!(", {}", open.whose) };
    format!("{}  {}{whose}\n{}", open.mark, open.asked.place, aligned(4, &rows))
}

/// `tailcomb settle QUESTION CHOICE`
pub(super) fn settle(
    question: Option<&str>,
    choice: Option<&str>,
    station: &mut Station,
) -> Result<Output, CliError> {
    let mut all = open(station, None)?;
    if all.is_empty() {
        return Err(CliError::new("not-found", "nothing is to be settled on the floor"));
    }
    let Some(words) = question else { return questions(None, station) };
    let called = |o: &Open| vec![o.asked.place.to_string(), o.whose.clone(), o.asked.id.clone()];
    let found = among("open question", words, &all, |o| o.mark.as_str(), called)?.mark.clone();
    all.retain(|o| o.mark == found);
    let Some(open) = all.pop() else {
        return Err(CliError::new("not-found", "that is settled already"));
    };
    let names = Names::of(station)?;
    let Some(choice) = choice else {
        return Err(CliError::input(format!("say which of these holds:\n{}", told(&open, &names)))
            .hint(format!("tailcomb settle {} NUMBER", open.mark)));
    };
    let choices = &open.asked.choices;
    let by_number = choice.trim().parse::<usize>().ok().and_then(|n| choices.get(n.checked_sub(1)?));
    let picked = by_number.or_else(|| choices.iter().find(|c| c.id == choice.trim())).ok_or_else(|| {
        CliError::input(format!("“{}” is none of the answers:\n{}", choice.trim(), told(&open, &names)))
            .hint(format!("say its number, 1 to {}", choices.len()))
    })?;
    station.settle(&open.asked.doc, &open.asked.id, &picked.id)?;
    let left = station.questions()?.len();
    let left_told = match left {
        0 => "nothing is left to be settled".to_owned(),
        1 => "1 question is left".to_owned(),
        n => format!("{n} questions are left"),
    };
    let human = format!("settled: {}, {}\n{left_told}", open.asked.place, picked.text);
    Ok(Output::new(
        human,
        json!({
            "doc": open.asked.doc,
            "question": open.asked.id,
            "choice": picked.id,
            "left": left,
        }),
    ))
}

/// `tailcomb history`
pub(super) fn history(place: &Place, most: usize, station: &mut Station) -> Result<Output, CliError> {
    let doc = place.find(station)?;
    let lines = station.history(&doc)?;
    let names = Names::of(station)?;
    let newest = lines.len().saturating_sub(most);
    let rows: Vec<Vec<String>> = lines
        .iter()
        .skip(newest)
        .map(|l| {
            vec![
                names.clock(l.at.ms),
                names.person(&l.by),
                l.place.to_string(),
                l.text.to_string(),
                l.rev.as_ref().map(|r| r.to_string()).unwrap_or_default(),
            ]
        })
        .collect();
    let human = if rows.is_empty() { "nothing was said here yet".to_owned() } else { aligned(0, &rows) };
    let value = json!({ "doc": doc, "short": short(doc.as_str()), "history": lines });
    Ok(Output::new(human, value))
}

/// `tailcomb undo`
pub(super) fn undo(place: &Place, step: Option<&str>, station: &mut Station) -> Result<Output, CliError> {
    let doc = place.find(station)?;
    let step = step.map(|s| RevId::new(s.trim()));
    let count = station.undo(&doc, step.as_ref())?;
    let human = match count {
        1 => "taken back: one step".to_owned(),
        n => format!("taken back: {n} steps of one action"),
    };
    Ok(Output::new(human, say::with_doc(&doc, "steps", count)))
}
