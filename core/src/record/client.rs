//! A client's card: contact and hair as plain fields, and what must not be lost as entries: sensitivities, reactions,
//! alert tests, consents, screening answers, and what was done to the hair ([`super::hair`]).

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use serde_json::Value;

pub use super::alert::{
    AlertResult, AlertStanding, AlertState, AlertTest, AlertVerdict, Applied, alert_applied, alert_corrected,
    alert_read, alert_verdict, alert_voided,
};
pub use super::hair::{
    CHEMICAL, Chemical, ChemicalKind, LINE_MEASURED, LineMeasured, chemical_changed, chemical_recorded,
    chemical_removed, line_changed, line_measured, line_removed,
};
pub use super::reaction::{
    PastReaction, REACTION, ReactedTo, reaction_changed, reaction_recorded, reaction_removed,
};
pub use super::screening::{Answer, Answered, QUESTIONS, Question, StandingQuestion, answer};
pub use super::standing::Standing;
use super::timer::TimerView;
use super::zone::Zone;
use super::{Document, Edit, RecordError, Said, Version, View, held, schema, screening, standing, tell};
use crate::ids::{DocId, EntryId, PersonId, RevId};
use crate::order::{Gather as _, InOrder as _};
use crate::time::Moment;
use crate::trade::{Term, Told, term, told};

/// Substances that a client does not tolerate.
pub const SENSITIVITY: &str = "sensitivity";
/// Alert tests on the skin.
pub const ALERT_TEST: &str = "alert_test";
/// Consents.
pub const CONSENT: &str = "consent";
/// Answers to the standing questions.
pub const SCREENING: &str = "screening";

/// The plain fields of a card that this version writes. A card may hold others; they are kept and shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(rename_all = "snake_case")]
pub enum ClientField {
    /// Name.
    Name,
    /// Telephone.
    Phone,
    /// Mail address.
    Email,
    /// Postal address.
    Address,
    /// Date of birth, `yyyy-mm-dd`.
    Born,
    /// Anything else.
    Notes,
    /// Natural level in tenths, 10 to 100.
    NaturalLevelTenths,
    /// White hair in percent.
    WhitePct,
    /// Fine, medium or coarse.
    Texture,
    /// Thin, medium or thick.
    Density,
    /// Low, medium or high, of the hair as a whole.
    Porosity,
    /// The same near the scalp.
    PorosityNearScalp,
    /// The same of the mid-lengths.
    PorosityMidLengths,
    /// The same of the ends.
    PorosityEnds,
    /// Straight, wavy, curly or coily.
    Curl,
    /// Length in millimetres.
    LengthMm,
    /// The scalp, in words.
    Scalp,
    /// The skin elsewhere, in words: what it is treated for, what it does not bear.
    Skin,
    /// Medication that bears on hair, scalp or skin, as far as the client wants it noted.
    Medication,
}

impl ClientField {
    /// All of them, in the order of the card.
    pub const ALL: [Self; 19] = [
        Self::Name,
        Self::Phone,
        Self::Email,
        Self::Address,
        Self::Born,
        Self::NaturalLevelTenths,
        Self::WhitePct,
        Self::Texture,
        Self::Density,
        Self::Porosity,
        Self::PorosityNearScalp,
        Self::PorosityMidLengths,
        Self::PorosityEnds,
        Self::Curl,
        Self::LengthMm,
        Self::Scalp,
        Self::Skin,
        Self::Medication,
        Self::Notes,
    ];

    /// The field's name in the document.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Name => "name",
            Self::Phone => "phone",
            Self::Email => "email",
            Self::Address => "address",
            Self::Born => "born",
            Self::Notes => "notes",
            Self::NaturalLevelTenths => "natural_level_tenths",
            Self::WhitePct => "white_pct",
            Self::Texture => "texture",
            Self::Density => "density",
            Self::Porosity => "porosity",
            Self::PorosityNearScalp => "porosity_near_scalp",
            Self::PorosityMidLengths => "porosity_mid_lengths",
            Self::PorosityEnds => "porosity_ends",
            Self::Curl => "curl",
            Self::LengthMm => "length_mm",
            Self::Scalp => "scalp",
            Self::Skin => "skin",
            Self::Medication => "medication",
        }
    }

    /// The porosity of one zone.
    #[must_use]
    pub const fn porosity_of(zone: Zone) -> Self {
        match zone {
            Zone::NearScalp => Self::PorosityNearScalp,
            Zone::MidLengths => Self::PorosityMidLengths,
            Zone::Ends => Self::PorosityEnds,
        }
    }

    /// The field under that name.
    #[must_use]
    pub fn from_key(key: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|f| f.key() == key)
    }

    /// Reads what a person typed; empty text clears the field.
    ///
    /// # Errors
    /// [`RecordError::Refused`], saying what would be taken.
    pub fn parse(self, text: &str) -> Result<Value, RecordError> {
        let text = text.trim();
        if text.is_empty() {
            return if self == Self::Name {
                Err(RecordError::refused(term!("name"), told!("it cannot be empty")))
            } else {
                Ok(Value::Null)
            };
        }
        let whole = |from: i64, to: i64, what: Term| {
            let number = text.parse::<i64>().ok().filter(|n| (from..=to).contains(n));
            number.map(Value::from).ok_or_else(|| {
                RecordError::refused(tell::label(self.key()), told!("{what}, {from} to {to}", what, from, to))
            })
        };
        let one_of = |words: &[&str]| {
            let word = text.to_lowercase();
            let known = words.contains(&word.as_str());
            if known {
                Ok(Value::from(word))
            } else {
                Err(RecordError::refused(
                    tell::label(self.key()),
                    told!("one of {words}", words = words.join(", ")),
                ))
            }
        };
        match self {
            Self::Name
            | Self::Phone
            | Self::Email
            | Self::Address
            | Self::Notes
            | Self::Scalp
            | Self::Skin
            | Self::Medication => Ok(Value::from(held::text(tell::label(self.key()), text)?)),
            Self::Born => match text.parse::<jiff::civil::Date>() {
                Ok(date) => Ok(Value::from(date.to_string())),
                Err(_) => Err(RecordError::refused(term!("born"), told!("a date as yyyy-mm-dd"))),
            },
            Self::NaturalLevelTenths => whole(10, 100, term!("the level in tenths")),
            Self::WhitePct => whole(0, 100, term!("percent")),
            Self::LengthMm => whole(0, 2_500, term!("millimetres")),
            Self::Texture => one_of(&["fine", "medium", "coarse"]),
            Self::Density => one_of(&["thin", "medium", "thick"]),
            Self::Porosity | Self::PorosityNearScalp | Self::PorosityMidLengths | Self::PorosityEnds => {
                one_of(&["low", "medium", "high"])
            }
            Self::Curl => one_of(&["straight", "wavy", "curly", "coily"]),
        }
    }
}

/// How bad a reaction was.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(rename_all = "snake_case")]
pub enum Severity {
    /// Itching, redness.
    Mild,
    /// Blisters, swelling where it touched.
    Strong,
    /// Breathing trouble, swelling of the face, medical help.
    Severe,
}

impl Severity {
    /// In words.
    #[must_use]
    pub const fn name(self) -> Term {
        match self {
            Self::Mild => term!("mild"),
            Self::Strong => term!("strong"),
            Self::Severe => term!("severe"),
        }
    }
}

/// Something a client does not tolerate.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Sensitivity {
    /// To what.
    pub substance: String,
    /// How bad.
    pub severity: Severity,
    /// What happened.
    #[serde(default)]
    pub reaction: String,
}

/// What a client can agree to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(rename_all = "snake_case")]
pub enum ConsentKind {
    /// Keeping what was said about health.
    HealthNotes,
    /// Keeping photographs.
    Photos,
    /// Being written to.
    Messages,
}

impl ConsentKind {
    const fn key(self) -> &'static str {
        match self {
            Self::HealthNotes => "health_notes",
            Self::Photos => "photos",
            Self::Messages => "messages",
        }
    }
}

/// A consent as it stands.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Consent {
    /// To what; a newer version may know more kinds.
    pub kind: String,
    /// Whether it stands: everyone who spoke last says yes. A withdrawal made by somebody who did not know of a
    /// consent, or the other way round, leaves it not standing.
    pub stands: bool,
    /// Who said what last.
    pub said: Vec<Version<bool>>,
}

/// What a second stylist must know before touching the client.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Watch {
    /// Why it is on the list, the gravest first.
    pub kind: WatchKind,
    /// In words.
    pub text: Told,
    /// Who said it, when a person did.
    pub by: Option<PersonId>,
    /// When.
    pub at: Option<Moment>,
}

/// Why something is on the watch list, the gravest first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(rename_all = "snake_case")]
pub enum WatchKind {
    /// A sensitivity.
    Sensitivity,
    /// A reaction that the client had before.
    PastReaction,
    /// An alert test that showed a reaction.
    TestReaction,
    /// An answer that calls for care.
    Screening,
    /// The scalp.
    Scalp,
    /// The skin elsewhere, and medication.
    Health,
    /// What was done to the hair before.
    Chemical,
    /// Porous or fragile hair.
    Hair,
    /// An alert test that waits to be read.
    TestUnread,
    /// Written by a newer version: look on that station.
    Newer,
}

/// A card, read.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct ClientView {
    /// Which card.
    pub doc: DocId,
    /// Plain fields by name: the value, or all that were said without knowing of each other. Cleared ones are gone.
    pub fields: BTreeMap<String, Vec<Said>>,
    /// Sensitivities, standing and removed.
    pub sensitivities: Vec<Standing<Sensitivity>>,
    /// Reactions that the client had before, standing and removed.
    pub reactions: Vec<Standing<PastReaction>>,
    /// Alert tests.
    pub alert_tests: Vec<AlertTest>,
    /// Chemical history, newest first.
    pub chemical: Vec<Standing<Chemical>>,
    /// Lines that were measured.
    pub lines_measured: Vec<Standing<LineMeasured>>,
    /// Consents.
    pub consents: Vec<Consent>,
    /// The standing questions and their answers.
    pub screening: Vec<StandingQuestion>,
    /// Timers, e.g. of alert tests.
    pub timers: Vec<TimerView>,
    /// How much waits for a person's word, see [`super::settle::open_questions`].
    pub questions: usize,
    /// The schema that the newest writer used.
    pub schema: i64,
}

impl View for ClientView {
    /// Reads a card, whoever wrote it.
    fn read(document: &Document) -> Self {
        let entries = document.entries();
        let fields = document.field_names().into_iter().map(|name| {
            let said = document.field(&name);
            (name, said)
        });
        let mut chemical: Vec<Standing<Chemical>> =
            entries.of(CHEMICAL).map(|(id, e)| Standing::read(id, e)).collect();
        chemical.order_by_key(|c| std::cmp::Reverse(latest_done(c)));
        Self {
            doc: document.id().clone(),
            fields: fields.filter(|(_, said)| said.iter().any(|s| !s.value.is_null())).gather(),
            sensitivities: entries.of(SENSITIVITY).map(|(id, e)| Standing::read(id, e)).collect(),
            reactions: entries.of(REACTION).map(|(id, e)| Standing::read(id, e)).collect(),
            alert_tests: entries.of(ALERT_TEST).map(|(id, e)| AlertTest::read(id, e)).collect(),
            chemical,
            lines_measured: entries.of(LINE_MEASURED).map(|(id, e)| Standing::read(id, e)).collect(),
            consents: entries.of(CONSENT).map(|(id, e)| read_consent(id, e)).collect(),
            screening: screening::read(entries),
            timers: TimerView::all(document),
            questions: super::settle::count_open(document),
            schema: schema::read(document),
        }
    }
}

impl ClientView {
    /// What is said in a field; several when people wrote it without knowing of each other.
    #[must_use]
    pub fn field(&self, field: ClientField) -> &[Said] {
        self.fields.get(field.key()).map_or(&[], Vec::as_slice)
    }

    /// The text last said in a field, for showing.
    #[must_use]
    pub fn shown(&self, field: ClientField) -> Option<String> {
        self.field(field).iter().rev().find(|s| !s.value.is_null()).map(|s| match &s.value {
            Value::String(text) => text.clone(),
            other => other.to_string(),
        })
    }

    /// The name to show.
    #[must_use]
    pub fn called(&self) -> String {
        self.shown(ClientField::Name).unwrap_or_else(|| "Client without a name".to_owned())
    }

    /// When this hair was last coloured, as far as the card knows, milliseconds UTC.
    #[must_use]
    pub fn last_colour_ms(&self) -> Option<i64> {
        let standing = self.chemical.iter().filter(|c| c.stands).flat_map(|c| &c.versions);
        standing.filter(|v| v.value.kind.is_colour()).map(|v| v.value.done_at_ms).max()
    }

    /// When this hair was last coloured before a visit that was opened at `opened_ms`, milliseconds UTC: what that
    /// visit itself did, and what later visits did, is left out.
    #[must_use]
    pub fn last_colour_before(&self, visit: &DocId, opened_ms: i64) -> Option<i64> {
        let standing = self.chemical.iter().filter(|c| c.stands).flat_map(|c| &c.versions).map(|v| &v.value);
        let before = standing.filter(|c| match &c.visit {
            Some(of) => of != visit && c.done_at_ms <= opened_ms,
            None => true,
        });
        before.filter(|c| c.kind.is_colour()).map(|c| c.done_at_ms).max()
    }

    /// Whether consent was given and stands.
    #[must_use]
    pub fn consents_to(&self, kind: ConsentKind) -> bool {
        self.consents.iter().any(|c| c.kind == kind.key() && c.stands)
    }
}

fn latest_done(chemical: &Standing<Chemical>) -> i64 {
    chemical.versions.iter().map(|v| v.value.done_at_ms).max().unwrap_or(i64::MIN)
}

fn read_consent(id: &EntryId, entry: &super::Entry) -> Consent {
    let newest = entry.newest();
    let said: Vec<Version<bool>> = newest
        .iter()
        .filter_map(|r| match r.what.as_str() {
            "given" => Some(held::version(r, true)),
            "withdrawn" => Some(held::version(r, false)),
            _ => None,
        })
        .collect();
    // Something that only a newer version can read may be a withdrawal.
    let stands = said.len() == newest.len() && !said.is_empty() && said.iter().all(|v| v.value);
    Consent { kind: id.as_str().to_owned(), stands, said }
}

/// What to watch with this client, the gravest first. For the hand-over brief.
#[must_use]
pub fn watch_list(client: &ClientView) -> Vec<Watch> {
    super::watch::list(client)
}

/// Begins a card.
///
/// # Errors
/// [`RecordError::Refused`] for an empty name.
pub fn create(edit: &mut Edit<'_, '_>, name: &str) -> Result<(), RecordError> {
    schema::ensure(edit)?;
    set_field(edit, ClientField::Name, name)
}

/// Sets a field to what a person typed; empty text clears it.
///
/// # Errors
/// [`RecordError::Refused`], saying what would be taken.
pub fn set_field(edit: &mut Edit<'_, '_>, field: ClientField, text: &str) -> Result<(), RecordError> {
    Ok(edit.put(field.key(), &field.parse(text)?)?)
}

/// Records a sensitivity.
///
/// # Errors
/// [`RecordError::Refused`] for no substance.
pub fn sensitivity_recorded(edit: &mut Edit<'_, '_>, said: &Sensitivity) -> Result<EntryId, RecordError> {
    standing::record(edit, SENSITIVITY, &checked_sensitivity(said)?)
}

/// Says anew what is known of a sensitivity.
///
/// # Errors
/// [`RecordError`] for no such sensitivity or no substance.
pub fn sensitivity_changed(
    edit: &mut Edit<'_, '_>,
    id: &EntryId,
    said: &Sensitivity,
) -> Result<RevId, RecordError> {
    standing::change(edit, SENSITIVITY, id, &checked_sensitivity(said)?)
}

/// Takes a sensitivity off the card. It counts only if nothing was said that the remover does not know of.
///
/// # Errors
/// [`RecordError`] for no such sensitivity or no reason.
pub fn sensitivity_removed(edit: &mut Edit<'_, '_>, id: &EntryId, why: &str) -> Result<RevId, RecordError> {
    standing::remove(edit, SENSITIVITY, id, why)
}

fn checked_sensitivity(said: &Sensitivity) -> Result<Sensitivity, RecordError> {
    Ok(Sensitivity { substance: held::text(term!("the substance"), &said.substance)?, ..said.clone() })
}

/// Records that a consent was given.
///
/// # Errors
/// [`RecordError::Document`].
pub fn consent_given(edit: &mut Edit<'_, '_>, kind: ConsentKind) -> Result<RevId, RecordError> {
    Ok(edit.add(CONSENT, &EntryId::new(kind.key()), &serde_json::json!({ "what": "given" }))?)
}

/// Records that a consent was withdrawn, or refused.
///
/// # Errors
/// [`RecordError::Document`].
pub fn consent_withdrawn(edit: &mut Edit<'_, '_>, kind: ConsentKind) -> Result<RevId, RecordError> {
    Ok(edit.add(CONSENT, &EntryId::new(kind.key()), &serde_json::json!({ "what": "withdrawn" }))?)
}
