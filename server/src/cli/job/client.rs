//! Clients' cards: contact and hair, sensitivities, alert tests, consents, history.

mod fields;
mod hair;
mod show;

use clap::{Subcommand, ValueEnum};
use serde_json::json;
use tailcomb_core::ids::{DocId, EntryId};
use tailcomb_core::record::client::{
    Chemical, ClientField, ConsentKind, LineMeasured, PastReaction, ReactedTo, Sensitivity, Severity,
    Standing,
};
use tailcomb_core::station::{Station, short};

use super::super::error::CliError;
use super::super::output::{Output, aligned};
use super::read;
use super::say;
use fields::Fields;
use hair::Done;

pub(super) use hair::chemical;

/// `tailcomb client …`
#[derive(Debug, Clone, Subcommand)]
pub enum ClientCommand {
    /// Begin a card.
    New {
        /// The client's name.
        name: String,
        /// What else is known.
        #[command(flatten)]
        fields: Box<Fields>,
    },
    /// Show a card, what to watch first.
    Show {
        /// The client: name, phone, short name, or the beginning of one.
        client: String,
    },
    /// List all cards.
    List,
    /// Set fields of a card; an empty text clears one.
    Set {
        /// The client.
        client: String,
        /// What to set.
        #[command(flatten)]
        fields: Box<Fields>,
        /// Another name.
        #[arg(long)]
        name: Option<String>,
    },
    /// Record something that a client does not tolerate, or say anew what is known of it.
    Sensitivity {
        /// The client.
        client: String,
        /// The substance, e.g. PPD.
        substance: String,
        /// How bad it was.
        #[arg(long, value_enum)]
        severity: Bad,
        /// What happened.
        #[arg(long, default_value = "")]
        reaction: String,
    },
    /// Take a sensitivity off the card, saying why. It comes back if somebody said more of it meanwhile.
    SensitivityOff {
        /// The client.
        client: String,
        /// The substance.
        substance: String,
        /// Why.
        #[arg(long)]
        why: String,
    },
    /// Record a reaction that the client had before, here or elsewhere.
    Reaction {
        /// The client.
        client: String,
        /// To what.
        #[arg(value_enum)]
        to: To,
        /// How bad it was.
        #[arg(long, value_enum)]
        severity: Bad,
        /// To which product, as far as it is known.
        #[arg(long, default_value = "")]
        product: String,
        /// When, in the client's words: 2019, "as a child".
        #[arg(long, default_value = "")]
        when: String,
        /// What happened, and whether a doctor was asked.
        #[arg(long, default_value = "")]
        happened: String,
        /// Say one anew in place of this one: its words or its short name.
        #[arg(long, value_name = "WHICH")]
        instead: Option<String>,
    },
    /// Take a reaction off the card, saying why. It comes back if somebody said more of it meanwhile.
    ReactionOff {
        /// The client.
        client: String,
        /// Which: its words or its short name.
        which: String,
        /// Why. It stays on the record, with your name.
        #[arg(long)]
        why: String,
    },
    /// Record something that was done to the hair before, here or elsewhere.
    Did {
        /// The client.
        client: String,
        /// Which part of the hair, e.g. ends.
        zone: String,
        /// What was done.
        #[arg(value_enum)]
        kind: Done,
        /// When, as yyyy-mm-dd [default: now].
        #[arg(long, value_name = "DATE")]
        on: Option<jiff::civil::Date>,
        /// How far from the scalp its line sat then, e.g. "3.5 cm".
        #[arg(long, value_parser = read::micrometres, value_name = "LENGTH")]
        line: Option<i64>,
        /// Level that was reached, e.g. 8.5.
        #[arg(long, value_parser = read::level)]
        level: Option<u16>,
        /// Where, with what.
        #[arg(long, default_value = "")]
        note: String,
        /// Say one anew in place of this one: its words or its short name.
        #[arg(long, value_name = "WHICH")]
        instead: Option<String>,
    },
    /// Take something that was done off the card, saying why. It comes back if somebody said more of it meanwhile.
    DidOff {
        /// The client.
        client: String,
        /// Which: its zone and kind, or its short name.
        which: String,
        /// Why. It stays on the record, with your name.
        #[arg(long)]
        why: String,
    },
    /// Record where an old lightener line was found with the tape.
    Line {
        /// The client.
        client: String,
        /// Which part of the hair, e.g. ends.
        zone: String,
        /// How far from the scalp, e.g. "9 cm".
        #[arg(value_parser = read::micrometres)]
        at: i64,
        /// When, as yyyy-mm-dd [default: now].
        #[arg(long, value_name = "DATE")]
        on: Option<jiff::civil::Date>,
        /// Anything else.
        #[arg(long, default_value = "")]
        note: String,
        /// Say one anew in place of this one: its words or its short name.
        #[arg(long, value_name = "WHICH")]
        instead: Option<String>,
    },
    /// Take a measured line off the card, saying why.
    LineOff {
        /// The client.
        client: String,
        /// Which: its zone or its short name.
        which: String,
        /// Why. It stays on the record, with your name.
        #[arg(long)]
        why: String,
    },
    /// The hair by zone: what was done, how often it was lightened, where the old lines sit today.
    Hair {
        /// The client.
        client: String,
    },
    /// Record a consent that was given, withdrawn or refused.
    Consent {
        /// The client.
        client: String,
        /// To what.
        #[arg(value_enum)]
        to: Consented,
        /// Yes or no.
        #[arg(value_enum)]
        given: YesNo,
    },
    /// Everything of earlier visits: exact formulas, times, results, where the lines sit.
    History {
        /// The client.
        client: String,
        /// At most so many visits.
        #[arg(long, default_value_t = 5)]
        most: usize,
    },
    /// Erase a client for good, at every station: the card, the visits, their history. Asks for the whole name.
    Erase {
        /// The client.
        client: String,
        /// Why, without anything of the client's: it stays on the record.
        #[arg(long)]
        why: String,
        /// Do not ask for the name.
        #[arg(long)]
        yes: bool,
    },
    /// List what was erased: who, when, why.
    Erasures,
    /// Everything of a client as files; without any, as data on standard output.
    Export {
        /// The client.
        client: String,
        /// A new file for it as data (JSON), which another salon can take in.
        #[arg(long, value_name = "FILE")]
        data: Option<std::path::PathBuf>,
        /// A new file for it as a page to be read and printed.
        #[arg(long, value_name = "FILE")]
        html: Option<std::path::PathBuf>,
    },
    /// Take in a client's file, made by an export, as a new card.
    Import {
        /// The file.
        file: std::path::PathBuf,
    },
}

/// How bad a reaction was.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Bad {
    /// Itching, redness.
    Mild,
    /// Blisters, swelling where it touched.
    Strong,
    /// Breathing trouble, swelling of the face, medical help.
    Severe,
}

impl Bad {
    const fn grade(self) -> Severity {
        match self {
            Self::Mild => Severity::Mild,
            Self::Strong => Severity::Strong,
            Self::Severe => Severity::Severe,
        }
    }
}

/// What a client reacted to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum To {
    /// Hair colour, gloss, colour out of a box.
    HairColour,
    /// Lightener, or a developer by itself.
    Lightener,
    /// A temporary black tattoo ("black henna").
    BlackTattoo,
    /// Another cosmetic, or what came on the skin with the work: gloves, perfume, a plaster.
    Cosmetic,
    /// Anything else.
    Other,
}

impl To {
    const fn kind(self) -> ReactedTo {
        match self {
            Self::HairColour => ReactedTo::HairColour,
            Self::Lightener => ReactedTo::Lightener,
            Self::BlackTattoo => ReactedTo::BlackTattoo,
            Self::Cosmetic => ReactedTo::Cosmetic,
            Self::Other => ReactedTo::Other,
        }
    }
}

/// What a client can agree to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Consented {
    /// Keeping what was said about health.
    HealthNotes,
    /// Keeping photographs.
    Photos,
    /// Being written to.
    Messages,
}

/// Yes or no.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum YesNo {
    /// It is so.
    Yes,
    /// It is not so.
    No,
}

impl ClientCommand {
    pub(super) fn reads_only(&self) -> bool {
        matches!(
            self,
            Self::Show { .. }
                | Self::Hair { .. }
                | Self::List
                | Self::History { .. }
                | Self::Erasures
                | Self::Export { .. }
        )
    }

    pub(super) fn run(self, station: &mut Station) -> Result<Output, CliError> {
        match self {
            Self::New { name, fields } => {
                let client = station.new_client(&name, &fields.given()?)?;
                Ok(say::done(format!("{} has a card ({})", name.trim(), short(client.as_str())), &client))
            }
            Self::Show { client } => {
                let client = station.find_client(&client)?;
                show::show(station, &client)
            }
            Self::List => {
                let clients = station.clients()?;
                let rows: Vec<Vec<String>> =
                    clients.iter().map(|c| vec![short(c.id.as_str()).to_owned(), c.title.clone()]).collect();
                let human = if rows.is_empty() { "no cards yet".to_owned() } else { aligned(0, &rows) };
                Ok(Output::new(human, json!({ "clients": clients })))
            }
            Self::Set { client, fields, name } => {
                let client = station.find_client(&client)?;
                let mut fields = fields.given()?;
                fields.extend(name.map(|name| (ClientField::Name, name)));
                station.set_client(&client, &fields)?;
                show::show(station, &client)
            }
            Self::Sensitivity { client, substance, severity, reaction } => {
                let client = station.find_client(&client)?;
                let said = Sensitivity { substance, severity: severity.grade(), reaction };
                let known = standing(&station.client(&client)?.sensitivities, &said.substance);
                let id = match known {
                    Some(id) => station.change_sensitivity(&client, &id, &said).map(|()| id)?,
                    None => station.record_sensitivity(&client, &said)?,
                };
                let human = format!("on the card: {} is not tolerated", said.substance.trim());
                Ok(Output::new(human, say::with_doc(&client, "sensitivity", id)))
            }
            Self::SensitivityOff { client, substance, why } => {
                let client = station.find_client(&client)?;
                let all = station.client(&client)?.sensitivities;
                let id = hair::standing("sensitivity", &substance, &all, |s| s.substance.clone())?;
                station.remove_sensitivity(&client, &id, &why)?;
                Ok(say::done(format!("off the card: {}", substance.trim()), &client))
            }
            Self::Reaction { client, to, severity, product, when, happened, instead } => {
                let client = station.find_client(&client)?;
                let said =
                    PastReaction { to: to.kind(), severity: severity.grade(), product, when, happened };
                let id = match instead {
                    Some(words) => {
                        let id = which_reaction(station, &client, &words)?;
                        station.change_reaction(&client, &id, &said).map(|()| id)?
                    }
                    None => station.record_reaction(&client, &said)?,
                };
                let human = format!("on the card: {}", said.told());
                Ok(Output::new(human, say::with_doc(&client, "reaction", id)))
            }
            Self::ReactionOff { client, which, why } => {
                let client = station.find_client(&client)?;
                let id = which_reaction(station, &client, &which)?;
                station.remove_reaction(&client, &id, &why)?;
                Ok(say::done(format!("off the card: {}", which.trim()), &client))
            }
            Self::Did { client, zone, kind, on, line, level, note, instead } => {
                let client = station.find_client(&client)?;
                let said = Chemical {
                    zone,
                    kind: kind.kind(),
                    done_at_ms: noon(station, on)?,
                    line_um: line,
                    level_tenths: level,
                    visit: None,
                    note,
                };
                hair::did(station, &client, &said, instead.as_deref())
            }
            Self::DidOff { client, which, why } => {
                let client = station.find_client(&client)?;
                hair::did_off(station, &client, &which, &why)
            }
            Self::Line { client, zone, at, on, note, instead } => {
                let client = station.find_client(&client)?;
                let said = LineMeasured { zone, line_um: at, measured_at_ms: noon(station, on)?, note };
                hair::line(station, &client, &said, instead.as_deref())
            }
            Self::LineOff { client, which, why } => {
                let client = station.find_client(&client)?;
                hair::line_off(station, &client, &which, &why)
            }
            Self::Hair { client } => {
                let client = station.find_client(&client)?;
                hair::by_zone(station, &client)
            }
            Self::Consent { client, to, given } => {
                let client = station.find_client(&client)?;
                let (kind, what) = match to {
                    Consented::HealthNotes => (ConsentKind::HealthNotes, "health notes"),
                    Consented::Photos => (ConsentKind::Photos, "photographs"),
                    Consented::Messages => (ConsentKind::Messages, "messages"),
                };
                station.set_consent(&client, kind, given == YesNo::Yes)?;
                let said = if given == YesNo::Yes { "given" } else { "not given" };
                Ok(say::done(format!("consent to {what}: {said}"), &client))
            }
            Self::History { client, most } => {
                let client = station.find_client(&client)?;
                show::history(station, &client, most)
            }
            Self::Erase { client, why, yes } => super::erase::erase(&client, &why, yes, "", station),
            Self::Erasures => super::erase::list(station),
            // These touch files and are run with what knows where they are.
            Self::Export { .. } | Self::Import { .. } => {
                Err(CliError::new("internal", "this command cannot be run here"))
            }
        }
    }
}

/// The sensitivity that stands for a substance.
fn standing(list: &[Standing<Sensitivity>], substance: &str) -> Option<EntryId> {
    let asked = substance.trim().to_lowercase();
    let same = |s: &&Standing<Sensitivity>| {
        s.stands && s.versions.iter().any(|v| v.value.substance.trim().to_lowercase() == asked)
    };
    list.iter().find(same).map(|s| s.id.clone())
}

fn which_reaction(station: &mut Station, client: &DocId, words: &str) -> Result<EntryId, CliError> {
    hair::standing("reaction", words, &station.client(client)?.reactions, |r| r.told().into())
}

/// Now; or noon of a day, where the hour is not known. Of today, no later than now.
fn noon(station: &mut Station, on: Option<jiff::civil::Date>) -> Result<i64, CliError> {
    let now_ms = station.now().ms;
    let Some(date) = on else { return Ok(now_ms) };
    let noon_ms = station.instant(&format!("{date} 12:00"))?.ms;
    let today = station.salon()?.date(now_ms) == date;
    Ok(if today { noon_ms.min(now_ms) } else { noon_ms })
}
