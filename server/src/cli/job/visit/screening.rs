//! The standing questions, asked anew at each visit.

use serde_json::json;
use tailcomb_core::ids::DocId;
use tailcomb_core::record::client::{Answer, Answered, QUESTIONS};
use tailcomb_core::station::{Station, cautions};

use super::super::say;
use crate::cli::error::CliError;
use crate::cli::output::{Output, aligned};

pub(super) fn screen(
    station: &mut Station,
    visit: &DocId,
    answers: &[String],
    others_no: bool,
) -> Result<Output, CliError> {
    let mut said: Vec<(String, Answered)> = Vec::new();
    for text in answers {
        let refused = || {
            let keys: Vec<&str> = QUESTIONS.iter().map(|q| q.key).collect();
            CliError::input(format!("cannot read “{text}” as an answer"))
                .hint(format!("write KEY=yes, KEY=no or KEY=unsure; the keys are {}", keys.join(", ")))
        };
        let (key, rest) = text.split_once('=').ok_or_else(refused)?;
        let (word, note) = rest.split_once(':').unwrap_or((rest, ""));
        let answer = match word.trim().to_lowercase().as_str() {
            "no" => Answer::No,
            "unsure" => Answer::Unsure,
            "yes" => Answer::Yes,
            _ => return Err(refused()),
        };
        if QUESTIONS.iter().all(|q| q.key != key.trim()) {
            return Err(refused());
        }
        said.push((key.trim().to_owned(), Answered { answer, note: note.trim().to_owned() }));
    }
    if others_no {
        for question in
            QUESTIONS.iter().filter(|q| said.iter().all(|(key, _)| key != q.key)).collect::<Vec<_>>()
        {
            said.push((question.key.to_owned(), Answered { answer: Answer::No, note: String::new() }));
        }
    }
    if !said.is_empty() {
        station.screen(visit, &said)?;
    }
    let view = station.visit(visit)?;
    let rows: Vec<Vec<String>> = view
        .screening
        .iter()
        .map(|q| {
            let answer = match q.gravest() {
                None => "not asked",
                Some(Answer::No) => "no",
                Some(Answer::Unsure) => "NOT SURE",
                Some(Answer::Yes) => "YES",
            };
            vec![q.key.clone(), answer.to_owned(), q.text.to_string()]
        })
        .collect();
    let care: Vec<String> = QUESTIONS
        .iter()
        .filter(|q| {
            let said = view.screening.iter().find(|s| s.key == q.key);
            said.and_then(|s| s.gravest()).is_some_and(|a| a != Answer::No)
        })
        .map(|q| q.care.to_string())
        .collect();
    let human = say::lines([aligned(0, &rows), say::cautions(&care), say::cautions(&cautions::for_test())]);
    Ok(Output::new(
        human,
        json!({
            "doc": visit,
            "screening": view.screening,
            "care": care,
            "cautions": cautions::for_test(),
        }),
    ))
}
