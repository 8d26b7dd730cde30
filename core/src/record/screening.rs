//! The standing questions before a colour service, and the answers on a card. Common practice, worded here; the house
//! and local codes may ask more.

use serde::{Deserialize, Serialize};

use super::client::SCREENING;
use super::{Edit, Entries, RecordError, Register, held};
use crate::ids::{EntryId, RevId};

/// One standing question.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
pub struct Question {
    /// Its name in the record.
    pub key: &'static str,
    /// As it is asked. "Yes" always calls for care.
    pub text: &'static str,
    /// What a "yes" or "not sure" asks of the stylist.
    pub care: &'static str,
}

/// The standing questions, in the order in which they are asked.
pub const QUESTIONS: [Question; 7] = [
    Question {
        key: "reacted-before",
        text: "Have you ever reacted to a hair colour, a lightener or a black henna tattoo?",
        care: "reacted to colour, lightener or black henna before: do not colour before a doctor has been asked",
    },
    Question {
        key: "scalp-sore",
        text: "Is your scalp sore, broken, itching or treated at the moment?",
        care: "scalp sore, broken or treated: do not put colour or lightener on it",
    },
    Question {
        key: "breathing",
        text: "Do you have asthma, or trouble breathing near lightener or colour?",
        care: "asthma or breathing trouble: persulfate lighteners can set it off (ANSES 2019); ventilate, or leave it",
    },
    Question {
        key: "health-change",
        text: "Has your health, your medication or a pregnancy changed anything since the last visit?",
        care: "health, medication or pregnancy changed since the last visit: ask, and note what was said",
    },
    Question {
        key: "done-elsewhere",
        text: "Was anything done to your hair elsewhere or at home: colour, henna, lightener, perm, relaxer?",
        care: "something was done elsewhere or at home: note it by zone and test a strand first",
    },
    Question {
        key: "breaking",
        text: "Does your hair break, stretch or come out more than usual?",
        care: "hair breaks or stretches: test a strand first",
    },
    Question {
        key: "lenses-piercings",
        text: "Do you wear contact lenses or metal near the hairline today?",
        care: "contact lenses or metal near the hairline: have them out first",
    },
];

/// An answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum Answer {
    /// No.
    No,
    /// Not sure: calls for the same care as yes.
    Unsure,
    /// Yes.
    Yes,
}

/// What was answered.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
pub struct Answered {
    /// The answer.
    pub answer: Answer,
    /// In the client's words.
    #[serde(default)]
    pub note: String,
}

/// A standing question and what the card says to it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
pub struct StandingQuestion {
    /// Its name in the record; a newer version may ask more.
    pub key: String,
    /// As it is asked.
    pub text: String,
    /// What was answered.
    pub answered: Register<Answered>,
}

impl StandingQuestion {
    /// The answer that calls for the most care; `None` when nobody answered.
    #[must_use]
    pub fn gravest(&self) -> Option<Answer> {
        let gravest = self.answered.versions.iter().map(|v| v.value.answer).max();
        if self.answered.unreadable > 0 { gravest.max(Some(Answer::Unsure)) } else { gravest }
    }

    /// Whether it was answered at or after that time.
    #[must_use]
    pub fn answered_since(&self, since_ms: i64) -> bool {
        self.answered.versions.iter().any(|v| v.at.ms >= since_ms)
    }
}

/// All standing questions, asked or not, then those of a newer version.
pub(super) fn read(entries: &Entries) -> Vec<StandingQuestion> {
    let known = QUESTIONS.iter().map(|q| StandingQuestion {
        key: q.key.to_owned(),
        text: q.text.to_owned(),
        answered: held::read_at(entries, SCREENING, &EntryId::new(q.key)),
    });
    let newer = entries.of(SCREENING).filter(|(id, _)| QUESTIONS.iter().all(|q| q.key != id.as_str()));
    let newer = newer.map(|(id, entry)| StandingQuestion {
        key: id.as_str().to_owned(),
        text: format!("A question of a newer version: {id}"),
        answered: held::read(Some(entry)),
    });
    known.chain(newer).collect()
}

/// Records an answer.
///
/// # Errors
/// [`RecordError::NotFound`] for a question that this version does not ask.
pub fn answer(edit: &mut Edit<'_, '_>, key: &str, answered: &Answered) -> Result<RevId, RecordError> {
    if QUESTIONS.iter().all(|q| q.key != key) {
        return Err(RecordError::not_found("question", key));
    }
    held::set(edit, SCREENING, &EntryId::new(key), answered)
}
