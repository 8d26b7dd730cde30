//! What came of it: the result by zone, what finished it (gloss, treatment), and photographs.

use serde::{Deserialize, Serialize};

use super::super::{Edit, RecordError, held, zone};
use super::item::{self, Tells};
use super::{bowl, open_for_work};
use crate::ids::{EntryId, RevId};
use crate::trade::{Millis, Told, term, told};

/// Results by zone.
pub const RESULT: &str = "result";
/// Glosses and treatments.
pub const FINISH: &str = "finish";
/// Photographs.
pub const PHOTO: &str = "photo";

/// How one zone came out.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct ZoneResult {
    /// Which part of the hair.
    pub zone: String,
    /// Level that was reached, in tenths.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub level_tenths: Option<u16>,
    /// Tone, in the salon's own words.
    #[serde(default)]
    pub tone: String,
    /// Condition of the hair, in words.
    #[serde(default)]
    pub condition: String,
    /// Where a lightener line sits now: micrometres from the scalp. So that months later nobody overlaps it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub line_um: Option<i64>,
    /// Anything else.
    #[serde(default)]
    pub note: String,
}

impl Tells for ZoneResult {
    fn told(&self) -> Told {
        item::parts([zone::told(&self.zone), self.without_zone()])
    }
}

impl ZoneResult {
    /// The same, where the zone stands before it already.
    pub(crate) fn without_zone(&self) -> Told {
        let written = [&self.tone, &self.condition, &self.note].map(Told::written);
        item::parts([item::at_level(self.level_tenths)].into_iter().chain(written))
    }
}

/// What finished the hair.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(rename_all = "snake_case")]
pub enum FinishKind {
    /// A gloss.
    Gloss,
    /// A treatment.
    Treatment,
}

/// A gloss or a treatment.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Finish {
    /// Which.
    pub kind: FinishKind,
    /// What was used.
    pub product: String,
    /// The bowl it was mixed in.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bowl: Option<EntryId>,
    /// How long it stayed on.
    #[serde(rename = "length_ms", default, skip_serializing_if = "Option::is_none")]
    pub length: Option<Millis>,
    /// Anything else.
    #[serde(default)]
    pub note: String,
}

impl Tells for Finish {
    fn told(&self) -> Told {
        let kind = match self.kind {
            FinishKind::Gloss => told!("gloss"),
            FinishKind::Treatment => told!("treatment"),
        };
        let length = self.length.map(|time| told!("{time}", time)).unwrap_or_default();
        item::parts([kind, Told::written(&self.product), length, Told::written(&self.note)])
    }
}

/// When a photograph was taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(rename_all = "snake_case")]
pub enum PhotoOf {
    /// Before.
    Before,
    /// While it was at work.
    During,
    /// After.
    After,
}

/// A photograph; the picture lies beside the record, locked, or elsewhere. No level is ever read off one.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Photo {
    /// SHA-256 of the picture, 64 hexadecimal digits.
    pub sha256: String,
    /// When.
    pub of: PhotoOf,
    /// What it shows.
    #[serde(default)]
    pub note: String,
    /// The picture itself; nothing of one that is kept elsewhere.
    #[serde(default)]
    pub kept: Option<Kept>,
}

/// A picture that the salon keeps.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Kept {
    /// SHA-256 of the locked picture, by which stations ask for it.
    pub hash: String,
    /// What it opens with. It stands in this record alone: erased with it, the picture can be opened by nobody.
    pub key: String,
    /// What kind of picture, e.g. `image/jpeg`.
    pub kind: String,
    /// How large, in bytes.
    pub bytes: u32,
}

impl Tells for Photo {
    fn told(&self) -> Told {
        match self.note.as_str() {
            "" => told!("a photograph"),
            note => told!("a photograph: {note}", note),
        }
    }
}

/// Records how a zone came out.
///
/// # Errors
/// [`RecordError`] for no zone, an impossible level or line, or a visit that is closed.
pub fn add_result(edit: &mut Edit<'_, '_>, result: &ZoneResult) -> Result<EntryId, RecordError> {
    open_for_work(edit)?;
    item::add(edit, RESULT, &checked_result(result)?)
}

/// Says a result anew.
///
/// # Errors
/// As [`add_result`], and [`RecordError::NotFound`].
pub fn set_result(edit: &mut Edit<'_, '_>, id: &EntryId, result: &ZoneResult) -> Result<RevId, RecordError> {
    open_for_work(edit)?;
    item::set(edit, RESULT, term!("result"), id, &checked_result(result)?)
}

/// Takes a result off.
///
/// # Errors
/// [`RecordError`] for no such result, or a visit that is closed.
pub fn remove_result(edit: &mut Edit<'_, '_>, id: &EntryId, why: &str) -> Result<RevId, RecordError> {
    open_for_work(edit)?;
    item::remove(edit, RESULT, term!("result"), id, why)
}

fn checked_result(result: &ZoneResult) -> Result<ZoneResult, RecordError> {
    if result.line_um.is_some_and(|um| !(0..=2_500_000).contains(&um)) {
        return Err(RecordError::refused(term!("the line"), told!("from 0 to 2.5 m from the scalp")));
    }
    Ok(ZoneResult {
        zone: zone::checked(&result.zone)?,
        level_tenths: item::level(result.level_tenths)?,
        tone: item::optional_text(term!("tone"), &result.tone)?,
        condition: item::optional_text(term!("condition"), &result.condition)?,
        line_um: result.line_um,
        note: item::optional_text(term!("note"), &result.note)?,
    })
}

/// Records a gloss or a treatment.
///
/// # Errors
/// [`RecordError`] for no product, no such bowl, an impossible time, or a visit that is closed.
pub fn add_finish(edit: &mut Edit<'_, '_>, finish: &Finish) -> Result<EntryId, RecordError> {
    open_for_work(edit)?;
    let finish = checked_finish(edit, finish)?;
    item::add(edit, FINISH, &finish)
}

/// Says a gloss or a treatment anew.
///
/// # Errors
/// As [`add_finish`], and [`RecordError::NotFound`].
pub fn set_finish(edit: &mut Edit<'_, '_>, id: &EntryId, finish: &Finish) -> Result<RevId, RecordError> {
    open_for_work(edit)?;
    let finish = checked_finish(edit, finish)?;
    item::set(edit, FINISH, term!("gloss or treatment"), id, &finish)
}

/// Takes a gloss or a treatment off.
///
/// # Errors
/// [`RecordError`] for none such, or a visit that is closed.
pub fn remove_finish(edit: &mut Edit<'_, '_>, id: &EntryId, why: &str) -> Result<RevId, RecordError> {
    open_for_work(edit)?;
    item::remove(edit, FINISH, term!("gloss or treatment"), id, why)
}

fn checked_finish(edit: &Edit<'_, '_>, finish: &Finish) -> Result<Finish, RecordError> {
    if let Some(bowl) = &finish.bowl {
        bowl::exists(edit.entries(), bowl)?;
    }
    if finish.length.is_some_and(|l| l <= Millis::ZERO || l > Millis::hours(24)) {
        return Err(RecordError::refused(
            term!("time"),
            told!("it must be more than 0 and at most a day, like 20 min"),
        ));
    }
    Ok(Finish {
        product: held::text(term!("product"), &finish.product)?,
        note: item::optional_text(term!("note"), &finish.note)?,
        ..finish.clone()
    })
}

/// Notes a photograph that lies under its hash.
///
/// # Errors
/// [`RecordError`] for what is no SHA-256, or a visit that is closed.
pub fn add_photo(edit: &mut Edit<'_, '_>, photo: &Photo) -> Result<EntryId, RecordError> {
    open_for_work(edit)?;
    let digits = |text: &str| text.len() == 64 && text.bytes().all(|b| b.is_ascii_hexdigit());
    let sha256 = photo.sha256.trim().to_ascii_lowercase();
    if !digits(&sha256) || photo.kept.as_ref().is_some_and(|kept| !digits(&kept.hash) || !digits(&kept.key)) {
        return Err(RecordError::refused(term!("photograph"), told!("its SHA-256 is 64 hexadecimal digits")));
    }
    let note = item::optional_text(term!("note"), &photo.note)?;
    item::add(edit, PHOTO, &Photo { sha256, note, ..photo.clone() })
}

/// Takes a photograph off.
///
/// # Errors
/// [`RecordError`] for none such, or a visit that is closed.
pub fn remove_photo(edit: &mut Edit<'_, '_>, id: &EntryId, why: &str) -> Result<RevId, RecordError> {
    open_for_work(edit)?;
    item::remove(edit, PHOTO, term!("photograph"), id, why)
}
