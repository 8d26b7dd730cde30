//! The standing questions before a colour service, and the answers on a card. Common practice, worded here; the house
//! and local codes may ask more.

use serde::{Deserialize, Serialize};

use super::client::SCREENING;
use super::{Edit, Entries, RecordError, Register, held};
use crate::ids::{EntryId, RevId};
use crate::trade::{Term, Told, term, told};

/// One standing question.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
pub struct Question {
    /// Its name in the record.
    pub key: &'static str,
    /// As it is asked. "Yes" always calls for care.
    #[cfg_attr(feature = "web", ts(as = "Told"))]
    pub text: Term,
    /// What a "yes" or "not sure" asks of the stylist.
    #[cfg_attr(feature = "web", ts(as = "Told"))]
    pub care: Term,
}

/// The question whose answer stands against colour by itself, see [`super::stop`].
pub const REACTED_BEFORE: &str = "reacted-before";

/// The standing questions, in the order in which they are asked.
pub const QUESTIONS: [Question; 12] = [
    Question {
        key: REACTED_BEFORE,
        text: term!("Have you ever reacted to a hair colour, a lightener or a black henna tattoo?"),
        care: term!(
            "reacted to colour, lightener or black henna before: do not colour before a doctor has been asked"
        ),
    },
    Question {
        key: "black-tattoo",
        text: term!("Have you ever had a temporary black tattoo (“black henna”)?"),
        care: term!(
            "temporary black tattoo: it can leave an allergy to hair colour behind; ask how the skin bore it, note a \
               reaction, and hold to the alert test"
        ),
    },
    Question {
        key: "allergies",
        text: term!("Are you allergic to anything: latex, rubber, perfume, plasters, nickel, anything else?"),
        care: term!(
            "allergic to something: note it as a sensitivity, and look for it on the labels and in the gloves"
        ),
    },
    Question {
        key: "scalp-sore",
        text: term!("Is your scalp sore, broken, itching or treated at the moment?"),
        care: term!("scalp sore, broken or treated: do not put colour or lightener on it"),
    },
    Question {
        key: "skin",
        text: term!(
            "Do you have a skin condition, on the scalp or elsewhere: eczema, psoriasis, anything that flares up?"
        ),
        care: term!("skin condition: note it, look at the scalp and at the site of the alert test first"),
    },
    Question {
        key: "breathing",
        text: term!("Do you have asthma, or trouble breathing near lightener or colour?"),
        care: term!(
            "asthma or breathing trouble: persulfate lighteners can set it off (ANSES 2019); ventilate, or leave it"
        ),
    },
    Question {
        key: "health-change",
        text: term!("Has your health or your medication changed since the last visit?"),
        care: term!(
            "health or medication changed since the last visit: ask, and note what the client wants noted"
        ),
    },
    Question {
        key: "advice-first",
        text: term!(
            "Is there a reason, such as a pregnancy, to ask your doctor or midwife before we go on? You need not say \
               which."
        ),
        care: term!(
            "wants advice first: the client and whoever advises them decide, not the salon; wait for their word"
        ),
    },
    Question {
        key: "done-elsewhere",
        text: term!(
            "Was anything done to your hair elsewhere or at home: colour from a box, henna, lightener, perm, relaxer?"
        ),
        care: term!("something was done elsewhere or at home: note it by zone and test a strand first"),
    },
    Question {
        key: "water",
        text: term!("Do you swim in pools often, or wash in hard or well water?"),
        care: term!(
            "pools, hard or well water: note the build-up by zone, take it off first, and test a strand"
        ),
    },
    Question {
        key: "breaking",
        text: term!("Does your hair break, stretch or come out more than usual?"),
        care: term!("hair breaks or stretches: test a strand first"),
    },
    Question {
        key: "lenses-piercings",
        text: term!("Do you wear contact lenses or metal near the hairline today?"),
        care: term!("contact lenses or metal near the hairline: have them out first"),
    },
];

/// An answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
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
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Answered {
    /// The answer.
    pub answer: Answer,
    /// In the client's words.
    #[serde(default)]
    pub note: String,
}

impl Answered {
    /// In a few words.
    pub(super) fn told(&self) -> Told {
        let answer = match self.answer {
            Answer::No => term!("no"),
            Answer::Unsure => term!("not sure"),
            Answer::Yes => term!("yes"),
        };
        match self.note.trim() {
            "" => answer.told(),
            note => told!("{answer}: {note}", answer, note),
        }
    }
}

/// A standing question and what the card says to it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct StandingQuestion {
    /// Its name in the record; a newer version may ask more.
    pub key: String,
    /// As it is asked.
    pub text: Told,
    /// What was answered.
    pub answered: Register<Answered>,
}

impl StandingQuestion {
    /// What a "yes" or "not sure" asks of the stylist; of a newer version's question all that is known is how it is asked.
    #[must_use]
    pub fn care(&self) -> Told {
        QUESTIONS.iter().find(|q| q.key == self.key).map_or_else(|| self.text.clone(), |q| q.care.told())
    }

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
        text: q.text.told(),
        answered: held::read_at(entries, SCREENING, &EntryId::new(q.key)),
    });
    let newer = entries.of(SCREENING).filter(|(id, _)| QUESTIONS.iter().all(|q| q.key != id.as_str()));
    let newer = newer.map(|(id, entry)| StandingQuestion {
        key: id.as_str().to_owned(),
        text: told!("A question of a newer version: {id}", id = id.as_str()),
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
        return Err(RecordError::not_found(term!("question"), key));
    }
    held::set(edit, SCREENING, &EntryId::new(key), answered)
}
