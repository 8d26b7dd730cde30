//! What a station knows of a document without opening it: whether the floor needs it, what a search finds it by, how it
//! is listed. Made anew after each change, so it reads only what it needs, and it takes any document, whoever wrote it.

use serde::Serialize;
use serde_json::Value;

use super::Document;
use super::alert::AlertTest;
use super::client::{ALERT_TEST, ClientField};
use super::timer::TimerView;
use super::visit::VisitState;
use crate::ids::DocKind;

/// Fields that a client is searched by.
const SEARCHED: [ClientField; 4] =
    [ClientField::Name, ClientField::Phone, ClientField::Email, ClientField::Address];

/// How a document is listed and found.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
pub struct Indexed {
    /// Whether the floor screen needs it: the salon, the shelf, days that are not closed, visits that are open, and
    /// whatever has a live timer or an alert test that waits to be read.
    pub on_floor: bool,
    /// What a search finds it by, in lower case; empty for what nobody searches. Written for a tokenizer that splits
    /// at anything but letters and digits and folds diacritics.
    pub search_text: String,
    /// For lists.
    pub title: String,
    /// Sorts lists: a client's name in lower case, a visit's beginning, a day's date.
    pub sort_key: String,
}

impl Indexed {
    /// Reads a document.
    #[must_use]
    pub fn of(document: &Document) -> Self {
        let name = document.id().as_str();
        let unsearched = |on_floor: bool, title: &str, sort_key: String| Self {
            on_floor: on_floor || has_live_timer(document),
            search_text: String::new(),
            title: title.to_owned(),
            sort_key,
        };
        match document.id().kind() {
            DocKind::Salon => unsearched(true, "Salon", String::new()),
            DocKind::Shelf => unsearched(true, "Shelf", String::new()),
            DocKind::Day => {
                let date = name.split_once('/').map_or(name, |(_, date)| date);
                unsearched(!super::day::is_closed(document.entries()), date, date.to_owned())
            }
            DocKind::Visit => {
                let (opening, state) = super::visit::glance(document.entries());
                let began_ms = opening.as_ref().map_or(0, |o| o.at.ms.max(0));
                let service = opening.map(|o| o.service).filter(|s| !s.is_empty());
                let title = service.unwrap_or_else(|| "Visit".to_owned());
                unsearched(state != VisitState::Closed, &title, format!("{began_ms:015}"))
            }
            DocKind::Client => client(document),
            DocKind::Other => unsearched(false, name, name.to_owned()),
        }
    }
}

fn has_live_timer(document: &Document) -> bool {
    let entries = document.entries();
    entries.of(super::timer::TIMERS).any(|(id, entry)| TimerView::read(document.id(), id, entry).is_live())
}

fn client(document: &Document) -> Indexed {
    let mut words = String::new();
    let mut names = Vec::new();
    for field in SEARCHED {
        for value in document.values(field.key()) {
            let Some(text) = text(value) else { continue };
            if field == ClientField::Phone {
                push(&mut words, &text.chars().filter(char::is_ascii_digit).collect::<String>());
            }
            push(&mut words, &text);
            if field == ClientField::Name {
                names.push(text);
            }
        }
    }
    // Who said it when is asked only where it decides: of several names the one said last is listed.
    let name = match names.as_slice() {
        [_, _, ..] => {
            document.field(ClientField::Name.key()).into_iter().rev().find_map(|said| text(said.value))
        }
        _ => names.pop(),
    };
    let title = name.map(|n| n.trim().to_owned()).filter(|n| !n.is_empty());
    let title = title.unwrap_or_else(|| "Client without a name".to_owned());
    let entries = document.entries();
    let unread = entries.of(ALERT_TEST).any(|(id, entry)| AlertTest::read(id, entry).is_unread());
    Indexed {
        on_floor: unread || has_live_timer(document),
        search_text: words.to_lowercase(),
        sort_key: title.to_lowercase(),
        title,
    }
}

fn text(value: Value) -> Option<String> {
    match value {
        Value::String(text) => Some(text),
        Value::Number(number) => Some(number.to_string()),
        _ => None,
    }
}

fn push(words: &mut String, text: &str) {
    for word in text.split_whitespace() {
        if !words.is_empty() {
            words.push(' ');
        }
        words.push_str(word);
    }
}
