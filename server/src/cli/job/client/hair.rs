//! The hair: what was done to it, where lines were found with the tape, and all of it by zone.

use clap::ValueEnum;
use serde_json::json;
use tailcomb_core::ids::{DocId, EntryId};
use tailcomb_core::record::client::{Chemical, ChemicalKind, LineMeasured, Standing};
use tailcomb_core::record::hair::history::{HairHistory, ZoneHistory};
use tailcomb_core::record::zone::Zone;
use tailcomb_core::station::{Station, cautions, short};

use super::super::pick::among;
use super::super::say::{self, Names};
use crate::cli::error::CliError;
use crate::cli::output::Output;

/// What was done to hair.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Done {
    /// Permanent or demi-permanent colour.
    Tint,
    /// Gloss or toner.
    Gloss,
    /// Lightener.
    Lightener,
    /// Colour remover.
    ColourRemover,
    /// Plant colour.
    Henna,
    /// Colour with metal salts.
    MetallicSalts,
    /// Permanent wave.
    Perm,
    /// Relaxer.
    Relaxer,
    /// Smoothing treatment.
    Smoothing,
    /// Colour out of a box, done at home.
    BoxColour,
    /// What swimming-pools and hard or well water leave.
    BuildUp,
}

impl Done {
    pub(super) const fn kind(self) -> ChemicalKind {
        match self {
            Self::Tint => ChemicalKind::Tint,
            Self::Gloss => ChemicalKind::Gloss,
            Self::Lightener => ChemicalKind::Lightener,
            Self::ColourRemover => ChemicalKind::ColourRemover,
            Self::Henna => ChemicalKind::Henna,
            Self::MetallicSalts => ChemicalKind::MetallicSalts,
            Self::Perm => ChemicalKind::Perm,
            Self::Relaxer => ChemicalKind::Relaxer,
            Self::Smoothing => ChemicalKind::Smoothing,
            Self::BoxColour => ChemicalKind::BoxColour,
            Self::BuildUp => ChemicalKind::BuildUp,
        }
    }
}

/// Records what was done, or says it anew in place of what `instead` means.
pub(super) fn did(
    station: &mut Station,
    client: &DocId,
    said: &Chemical,
    instead: Option<&str>,
) -> Result<Output, CliError> {
    let id = match instead {
        Some(words) => {
            let id = which_chemical(station, client, words)?;
            station.change_chemical(client, &id, said).map(|()| id)?
        }
        None => station.record_chemical(client, said)?,
    };
    let names = Names::of(station)?;
    let human = format!("on the card: {}", chemical(said, &names));
    Ok(Output::new(human, say::with_doc(client, "chemical", id)))
}

/// Takes it off the card.
pub(super) fn did_off(
    station: &mut Station,
    client: &DocId,
    which: &str,
    why: &str,
) -> Result<Output, CliError> {
    let id = which_chemical(station, client, which)?;
    station.remove_chemical(client, &id, why)?;
    Ok(Output::new(format!("off the card: {}", which.trim()), say::with_doc(client, "removed", id)))
}

fn which_chemical(station: &mut Station, client: &DocId, words: &str) -> Result<EntryId, CliError> {
    let called = |c: &Chemical| format!("{} {}", c.zone, c.kind.name());
    standing("thing done to the hair", words, &station.client(client)?.chemical, called)
}

/// Records where a line was found, or says it anew in place of what `instead` means.
pub(super) fn line(
    station: &mut Station,
    client: &DocId,
    said: &LineMeasured,
    instead: Option<&str>,
) -> Result<Output, CliError> {
    let id = match instead {
        Some(words) => {
            let id = which_line(station, client, words)?;
            station.change_measured_line(client, &id, said).map(|()| id)?
        }
        None => station.record_measured_line(client, said)?,
    };
    let names = Names::of(station)?;
    let human = format!("on the card: {}, the line at {}", called(&said.zone), names.length(said.line_um));
    Ok(Output::new(human, say::with_doc(client, "line", id)))
}

/// Takes it off the card.
pub(super) fn line_off(
    station: &mut Station,
    client: &DocId,
    which: &str,
    why: &str,
) -> Result<Output, CliError> {
    let id = which_line(station, client, which)?;
    station.remove_measured_line(client, &id, why)?;
    Ok(Output::new(format!("off the card: {}", which.trim()), say::with_doc(client, "removed", id)))
}

fn which_line(station: &mut Station, client: &DocId, words: &str) -> Result<EntryId, CliError> {
    standing("measured line", words, &station.client(client)?.lines_measured, |l| l.zone.clone())
}

/// The one that the words mean among those that stand.
pub(super) fn standing<T>(
    what: &'static str,
    words: &str,
    all: &[Standing<T>],
    called: impl Fn(&T) -> String,
) -> Result<EntryId, CliError> {
    let standing: Vec<&Standing<T>> = all.iter().filter(|s| s.stands).collect();
    let names = |s: &&Standing<T>| s.versions.iter().map(|v| called(&v.value)).collect();
    among(what, words, &standing, |s| s.id.as_str(), names).map(|s| s.id.clone())
}

/// The hair by zone, with its JSON.
pub(super) fn by_zone(station: &mut Station, client: &DocId) -> Result<Output, CliError> {
    let hair = station.hair_history(client)?;
    let names = Names::of(station)?;
    let title = station.title(client)?.unwrap_or_default();
    let told = told(&hair, &names);
    let told = if told.is_empty() { "nothing is known of this hair yet".to_owned() } else { told };
    let human = say::lines([
        format!("{title} ({})", short(client.as_str())),
        told,
        say::cautions(&cautions::for_time()),
    ]);
    let mut value = say::with_doc(client, "hair", hair);
    if let Some(fields) = value.as_object_mut() {
        fields.insert("cautions".to_owned(), json!(cautions::for_time()));
    }
    Ok(Output::new(human, value))
}

/// Zone by zone: what to know first, then what was done, newest first.
pub(super) fn told(hair: &HairHistory, names: &Names) -> String {
    let estimate = |zone: &ZoneHistory| zone.line.as_ref().is_some_and(|l| l.today.is_estimate());
    let sources = if hair.zones.iter().any(estimate) {
        format!("  Growth by {}.", hair.sources)
    } else {
        String::new()
    };
    let newer = match hair.unreadable {
        0 => String::new(),
        n => format!("  ! {n} entries were written by a newer version: look at that station too"),
    };
    if hair.zones.is_empty() {
        return newer;
    }
    let zones = hair.zones.iter().map(|zone| one_zone(zone, names));
    let note = format!("  {}", hair.note);
    say::lines(zones.chain([newer, note, sources]))
}

fn one_zone(zone: &ZoneHistory, names: &Names) -> String {
    let number = zone.of_three.map(|z| format!(" ({})", z.number())).unwrap_or_default();
    let porosity = if zone.porosity.is_empty() {
        String::new()
    } else {
        format!(", porosity {}", zone.porosity.join(" | "))
    };
    let mut lines = vec![format!("  {}{number}{porosity}", zone.zone)];
    lines.extend(zone.bonds.iter().map(|b| format!("    ! {}", b.sentence)));
    lines.extend(zone.line.iter().map(|l| format!("    ! {}", l.short)));
    lines.extend(zone.care.iter().map(|care| format!("    ! {care}")));
    lines.extend(zone.done.iter().map(|done| {
        let asks = if done.asks { "  (said in more than one way: settle it)" } else { "" };
        let id = short(done.entry.as_str());
        format!("    {}  {id}  {}{asks}", names.date(done.said.done_at_ms), what_of(&done.said, names))
    }));
    lines.join("\n")
}

/// One thing that was done, with its zone.
pub(in crate::cli::job) fn chemical(said: &Chemical, names: &Names) -> String {
    format!("{}: {}", called(&said.zone), what_of(said, names))
}

/// A zone by its number has a name.
fn called(zone: &str) -> &str {
    match Zone::of(zone) {
        Some(known) => known.name().as_str(),
        None => zone.trim(),
    }
}

fn what_of(said: &Chemical, names: &Names) -> String {
    let level = said.level_tenths.map(|level| format!(", level {}", say::level(level))).unwrap_or_default();
    let line = said.line_um.map(|um| format!(", line at {} from the scalp then", names.length(um)));
    let note = if said.note.is_empty() { String::new() } else { format!(" ({})", said.note) };
    format!("{}{level}{}{note}", said.kind.name(), line.unwrap_or_default())
}
