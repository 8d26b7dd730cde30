//! Clients' cards: contact and hair, sensitivities, alert tests, consents, history.

use clap::{Args, Subcommand, ValueEnum};
use serde_json::{Value, json};
use tailcomb_core::ids::{DocId, EntryId};
use tailcomb_core::record::Said;
use tailcomb_core::record::client::{
    AlertResult, AlertState, AlertTest, Chemical, ChemicalKind, ClientField, ClientView, ConsentKind,
    Sensitivity, Severity, Standing, watch_list,
};
use tailcomb_core::record::visit::{FormulaView, VisitView};
use tailcomb_core::station::{Station, cautions, short};
use tailcomb_core::trade::Millis;

use super::super::error::CliError;
use super::super::output::{Output, aligned};
use super::pick::among;
use super::say::{self, Names};
use super::{read, visit};

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

/// What a card can hold.
#[derive(Debug, Clone, Default, Args)]
pub struct Fields {
    /// Telephone.
    #[arg(long)]
    pub phone: Option<String>,
    /// Mail address.
    #[arg(long)]
    pub email: Option<String>,
    /// Postal address.
    #[arg(long)]
    pub address: Option<String>,
    /// Date of birth, yyyy-mm-dd.
    #[arg(long, value_name = "DATE")]
    pub born: Option<String>,
    /// Natural level, e.g. 5.5.
    #[arg(long, value_name = "LEVEL")]
    pub natural_level: Option<String>,
    /// White hair in percent.
    #[arg(long, value_name = "PERCENT")]
    pub white: Option<String>,
    /// fine, medium or coarse.
    #[arg(long)]
    pub texture: Option<String>,
    /// thin, medium or thick.
    #[arg(long)]
    pub density: Option<String>,
    /// low, medium or high.
    #[arg(long)]
    pub porosity: Option<String>,
    /// Length of the hair, e.g. "32 cm".
    #[arg(long)]
    pub length: Option<String>,
    /// The scalp, in words.
    #[arg(long)]
    pub scalp: Option<String>,
    /// Anything else.
    #[arg(long)]
    pub notes: Option<String>,
}

impl Fields {
    fn given(self) -> Result<Vec<(ClientField, String)>, CliError> {
        let tenths = |text: String| match text.trim() {
            "" => Ok(text),
            text => read::level(text).map(|t| t.to_string()).map_err(CliError::input),
        };
        let millimetres = |text: String| match text.trim() {
            "" => Ok(text),
            text => read::millimetres(text).map(|mm| mm.to_string()).map_err(CliError::input),
        };
        let percent = |text: String| text.trim().trim_end_matches('%').trim().to_owned();
        let fields = [
            (ClientField::Phone, self.phone),
            (ClientField::Email, self.email),
            (ClientField::Address, self.address),
            (ClientField::Born, self.born),
            (ClientField::NaturalLevelTenths, self.natural_level.map(tenths).transpose()?),
            (ClientField::WhitePct, self.white.map(percent)),
            (ClientField::Texture, self.texture),
            (ClientField::Density, self.density),
            (ClientField::Porosity, self.porosity),
            (ClientField::LengthMm, self.length.map(millimetres).transpose()?),
            (ClientField::Scalp, self.scalp),
            (ClientField::Notes, self.notes),
        ];
        Ok(fields.into_iter().filter_map(|(field, text)| Some((field, text?))).collect())
    }
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
}

impl Done {
    const fn kind(self) -> ChemicalKind {
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

/// `tailcomb alert-test …`
#[derive(Debug, Clone, Subcommand)]
pub enum AlertTestCommand {
    /// Record a test on the skin; its timer says when it may be read.
    Apply {
        /// The client.
        client: String,
        /// Which product.
        product: String,
        /// Where on the skin.
        #[arg(long)]
        site: String,
        /// When, if not now: 14:05, 2026-03-03 14:05, "10 min ago".
        #[arg(long, value_name = "TIME")]
        at: Option<String>,
    },
    /// Record what was seen.
    Read {
        /// The client.
        client: String,
        /// What was seen.
        #[arg(value_enum)]
        seen: Seen,
        /// Which test, by product or short name, where there are several to be read.
        #[arg(long, value_name = "TEST")]
        test: Option<String>,
        /// In words.
        #[arg(long, default_value = "")]
        note: String,
    },
    /// Say that a test does not count: washed off, plaster lost.
    Void {
        /// The client.
        client: String,
        /// Why.
        #[arg(long)]
        why: String,
        /// Which test, where there are several.
        #[arg(long, value_name = "TEST")]
        test: Option<String>,
    },
}

/// What was seen of a test.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Seen {
    /// No reaction seen.
    Nothing,
    /// One cannot tell; counts as a reaction.
    Doubtful,
    /// A reaction.
    Reaction,
}

impl ClientCommand {
    pub(super) fn reads_only(&self) -> bool {
        matches!(
            self,
            Self::Show { .. } | Self::List | Self::History { .. } | Self::Erasures | Self::Export { .. }
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
                show(station, &client)
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
                show(station, &client)
            }
            Self::Sensitivity { client, substance, severity, reaction } => {
                let client = station.find_client(&client)?;
                let severity = match severity {
                    Bad::Mild => Severity::Mild,
                    Bad::Strong => Severity::Strong,
                    Bad::Severe => Severity::Severe,
                };
                let said = Sensitivity { substance, severity, reaction };
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
                let card = station.client(&client)?;
                let standing: Vec<&Standing<Sensitivity>> =
                    card.sensitivities.iter().filter(|s| s.stands).collect();
                let names = |s: &&Standing<Sensitivity>| {
                    s.versions.iter().map(|v| v.value.substance.clone()).collect::<Vec<_>>()
                };
                let which = among("sensitivity", &substance, &standing, |s| s.id.as_str(), names)?;
                station.remove_sensitivity(&client, &which.id, &why)?;
                Ok(say::done(format!("off the card: {}", substance.trim()), &client))
            }
            Self::Did { client, zone, kind, on, line, level, note } => {
                let client = station.find_client(&client)?;
                let done_at_ms = match on {
                    Some(date) => station.instant(&format!("{date} 12:00"))?.ms,
                    None => station.now().ms,
                };
                let said = Chemical {
                    zone,
                    kind: kind.kind(),
                    done_at_ms,
                    line_um: line,
                    level_tenths: level,
                    visit: None,
                    note,
                };
                let id = station.record_chemical(&client, &said)?;
                let names = Names::of(station)?;
                let human = format!("on the card: {}", chemical(&said, &names));
                Ok(Output::new(human, say::with_doc(&client, "chemical", id)))
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
                history(station, &client, most)
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

impl AlertTestCommand {
    pub(super) fn run(self, station: &mut Station) -> Result<Output, CliError> {
        match self {
            Self::Apply { client, product, site, at } => {
                let client = station.find_client(&client)?;
                let at = at.map(|at| station.instant(&at)).transpose()?;
                let applied = station.apply_alert_test(&client, &product, &site, at)?;
                let names = Names::of(station)?;
                let human = say::lines([
                    format!(
                        "alert test with {} on the {}: not to be read before {}",
                        product.trim(),
                        site.trim(),
                        names.clock(applied.readable_at_ms)
                    ),
                    say::cautions(&cautions::for_test()),
                ]);
                let mut value = say::with_doc(&client, "applied", applied);
                put(&mut value, "cautions", json!(cautions::for_test()));
                Ok(Output::new(human, value))
            }
            Self::Read { client, seen, test, note } => {
                let client = station.find_client(&client)?;
                let id = which_test(station, &client, test.as_deref())?;
                let result = match seen {
                    Seen::Nothing => AlertResult::NothingSeen,
                    Seen::Doubtful => AlertResult::Doubtful,
                    Seen::Reaction => AlertResult::Reaction,
                };
                let read = station.read_alert_test(&client, &id, result, &note)?;
                let verdict = station.alert_verdict(&client)?;
                let early = read.readings.iter().any(|r| r.value.early) && read.is_unread();
                let early = if early {
                    "read too early: it is kept, but it does not count as “nothing seen”".to_owned()
                } else {
                    String::new()
                };
                let human = say::lines([early, verdict.text.clone(), say::cautions(&cautions::for_test())]);
                let mut value = say::with_doc(&client, "verdict", verdict);
                put(&mut value, "test", say::to_value(read));
                put(&mut value, "cautions", json!(cautions::for_test()));
                Ok(Output::new(human, value))
            }
            Self::Void { client, why, test } => {
                let client = station.find_client(&client)?;
                let id = which_test(station, &client, test.as_deref())?;
                station.void_alert_test(&client, &id, &why)?;
                let verdict = station.alert_verdict(&client)?;
                let human = format!("the test does not count\n{}", verdict.text);
                Ok(Output::new(human, say::with_doc(&client, "verdict", verdict)))
            }
        }
    }
}

fn put(value: &mut Value, name: &str, with: Value) {
    if let Some(fields) = value.as_object_mut() {
        fields.insert(name.to_owned(), with);
    }
}

/// The test that is meant: the one that is named, else the only one that waits to be read.
fn which_test(station: &mut Station, client: &DocId, named: Option<&str>) -> Result<EntryId, CliError> {
    let card = station.client(client)?;
    let products = |t: &AlertTest| t.applied.iter().map(|a| a.value.product.clone()).collect::<Vec<_>>();
    if let Some(named) = named {
        let all: Vec<&AlertTest> = card.alert_tests.iter().collect();
        let test = among("alert test", named, &all, |t| t.id.as_str(), |t| products(t))?;
        return Ok(test.id.clone());
    }
    let unread: Vec<&AlertTest> = card.alert_tests.iter().filter(|t| t.is_unread()).collect();
    match unread.as_slice() {
        [one] => Ok(one.id.clone()),
        [] => Err(CliError::input("no alert test of this client waits to be read")
            .hint("record one with tailcomb alert-test apply, or name an older one with --test")),
        several => {
            let list: Vec<String> = several
                .iter()
                .map(|t| format!("{} ({})", short(t.id.as_str()), products(t).join(", ")))
                .collect();
            Err(CliError::new(
                "ambiguous",
                format!("{} tests wait to be read: {}", several.len(), list.join(", ")),
            )
            .hint("say which with --test"))
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

fn show(station: &mut Station, client: &DocId) -> Result<Output, CliError> {
    let card = station.client(client)?;
    let verdict = station.alert_verdict(client)?;
    let visits = station.visits_of(client)?;
    let imports = station.import_notes(client)?;
    let names = Names::of(station)?;
    let now = station.now();
    let watch = watch_list(&card);
    let watched: Vec<Vec<String>> = watch
        .iter()
        .map(|w| {
            let who = w.by.as_ref().map(|by| names.person(by)).unwrap_or_default();
            let when = w.at.map(|at| names.date(at.ms)).unwrap_or_default();
            vec!["!".to_owned(), w.text.clone(), format!("{who} {when}").trim().to_owned()]
        })
        .collect();
    let fields: Vec<Vec<String>> = ClientField::ALL
        .into_iter()
        .filter(|f| *f != ClientField::Name)
        .filter_map(|f| Some(vec![f.key().replace('_', " "), told_field(f, card.field(f))?]))
        .map(|row| match row.as_slice() {
            [name, value] => {
                vec![name.replace(" tenths", "").replace(" pct", "").replace(" mm", ""), value.clone()]
            }
            _ => row,
        })
        .collect();
    let tests: Vec<Vec<String>> = card
        .alert_tests
        .iter()
        .map(|t| {
            let product = t.applied.last().map_or("a product", |a| a.value.product.as_str());
            let state = match t.state(now) {
                AlertState::Reaction => "REACTION".to_owned(),
                AlertState::Voided => "does not count".to_owned(),
                AlertState::Waiting { readable_at_ms } if readable_at_ms == i64::MAX => {
                    "cannot be read here".to_owned()
                }
                AlertState::Waiting { readable_at_ms } => {
                    format!("not to be read before {}", names.clock(readable_at_ms))
                }
                AlertState::Due { .. } => "to be read now".to_owned(),
                AlertState::NothingSeen { read_at_ms } => {
                    format!("nothing seen, read {}", names.clock(read_at_ms))
                }
            };
            vec![short(t.id.as_str()).to_owned(), product.to_owned(), state]
        })
        .collect();
    let history: Vec<Vec<String>> = card
        .chemical
        .iter()
        .filter(|c| c.stands)
        .flat_map(|c| {
            c.versions.iter().map(|v| vec![names.date(v.value.done_at_ms), chemical(&v.value, &names)])
        })
        .collect();
    let seen: Vec<Vec<String>> = visits
        .iter()
        .map(|v| vec![short(v.visit.as_str()).to_owned(), names.clock(v.at_ms), v.service.clone()])
        .collect();
    let human = say::lines([
        format!("{} ({})", card.called(), short(client.as_str())),
        say::block("watch", &aligned(2, &watched)),
        aligned(2, &fields),
        say::block("alert tests", &say::lines([aligned(2, &tests), format!("  {}", verdict.text)])),
        say::block("done to the hair", &aligned(2, &history)),
        say::block("visits", &aligned(2, &seen)),
        say::lines(imports.iter().map(|i| {
            let (who, when) = (names.person(&i.by), names.date(i.at.ms));
            format!(
                "taken in by {who} on {when} from a file of {}, made {}",
                i.salon,
                names.date(i.made_at_ms)
            )
        })),
        say::cautions(&cautions::for_test()),
    ]);
    Ok(Output::new(
        human,
        json!({
            "doc": client,
            "short": short(client.as_str()),
            "name": card.called(),
            "watch": watch,
            "alert_test": verdict,
            "visits": visits,
            "imports": imports,
            "card": card,
            "cautions": cautions::for_test(),
        }),
    ))
}

/// What is said in a field; all of it when people wrote it apart.
fn told_field(field: ClientField, said: &[Said]) -> Option<String> {
    let told = |said: &Said| {
        let number = said.value.as_i64();
        Some(match (field, number) {
            (ClientField::NaturalLevelTenths, Some(n)) => say::level(u16::try_from(n).unwrap_or(0)),
            (ClientField::WhitePct, Some(n)) => format!("{n} %"),
            (ClientField::LengthMm, Some(n)) => say::length(n.saturating_mul(1000)),
            _ => said.value.as_str().map_or_else(|| said.value.to_string(), str::to_owned),
        })
    };
    let all: Vec<String> = said.iter().filter(|s| !s.value.is_null()).filter_map(told).collect();
    if all.is_empty() { None } else { Some(all.join(" | ")) }
}

pub(super) fn chemical(said: &Chemical, names: &Names) -> String {
    let kind = say::to_value(said.kind).as_str().unwrap_or("something").replace('_', " ");
    let mut text = format!("{}: {kind}", said.zone);
    if let Some(level) = said.level_tenths {
        text.push_str(&format!(", level {}", say::level(level)));
    }
    if let Some(line) = said.line_um {
        text.push_str(&format!(", line at {} from the scalp then", say::length(line)));
        if let Some(now) = regrown(line, said.done_at_ms, names.now_ms) {
            text.push_str(&now);
        }
    }
    if !said.note.is_empty() {
        text.push_str(&format!(" ({})", said.note));
    }
    text
}

/// Where an old line sits by now: a range, for growth differs too much for one figure.
fn regrown(line_um: i64, done_at_ms: i64, now_ms: i64) -> Option<String> {
    let days = Millis::new(now_ms.saturating_sub(done_at_ms)).get() / 86_400_000;
    if days < 14 {
        return None;
    }
    let (slow, fast) = (line_um + days * SLOWEST_UM, line_um + days * FASTEST_UM);
    Some(format!(
        ", by now about {} to {} (by usual growth; measure it)",
        say::length(slow),
        say::length(fast)
    ))
}

/// Group means of hair growth a day in micrometres, the slowest and the fastest of three: Loussouarn 2005, Int. J.
/// Dermatol. 44 Suppl 1:6-9. One head can lie outside.
const SLOWEST_UM: i64 = 280;
const FASTEST_UM: i64 = 411;

fn history(station: &mut Station, client: &DocId, most: usize) -> Result<Output, CliError> {
    let card: ClientView = station.client(client)?;
    let visits = station.visits_of(client)?;
    let names = Names::of(station)?;
    let mut text = vec![format!("{} ({})", card.called(), short(client.as_str()))];
    let mut value = Vec::new();
    for past in visits.iter().take(most) {
        let Ok(view) = station.visit(&past.visit) else {
            text.push(format!("{}: this visit has not arrived here yet", names.date(past.at_ms)));
            continue;
        };
        text.push(past_visit(&view, &names));
        value.push(json!({ "visit": past, "view": view }));
    }
    if visits.is_empty() {
        text.push("no visits yet".to_owned());
    }
    let done: Vec<Vec<String>> = card
        .chemical
        .iter()
        .filter(|c| c.stands)
        .flat_map(|c| {
            c.versions.iter().map(|v| vec![names.date(v.value.done_at_ms), chemical(&v.value, &names)])
        })
        .collect();
    text.push(say::block("done to the hair", &aligned(2, &done)));
    Ok(Output::new(
        say::lines(text),
        json!({ "doc": client, "name": card.called(), "visits": value, "chemical": card.chemical }),
    ))
}

fn past_visit(view: &VisitView, names: &Names) -> String {
    let opening = view.opening.as_ref();
    let at = opening.map_or_else(String::new, |o| names.date(o.at.ms));
    let service = opening.map(|o| o.service.as_str()).unwrap_or_default();
    let by = opening.map_or_else(String::new, |o| names.person(&o.by));
    let formulas = view.formulas.iter().map(|f: &FormulaView| visit::formula_lines(f, view, names));
    let bowls = view.bowls.iter().filter_map(|b| {
        let contents = b.contents()?;
        let on_head = b.on_head.map(|p| format!(", {p} ready for use")).unwrap_or_default();
        Some(format!("  {}: {}{on_head}", b.label, say::contents(contents)))
    });
    say::lines(
        [format!("{at} {service}, {by} ({})", short(view.doc.as_str()))]
            .into_iter()
            .chain(formulas)
            .chain(bowls)
            .chain(on_hair_then(view))
            .chain(visit::results(view)),
    )
}

/// How long product stayed on each section.
fn on_hair_then(view: &VisitView) -> Vec<String> {
    let stayed = view.exposure.sections.iter().filter_map(|s| {
        let from = s.rinsed_off.first()?.at.ms;
        let until = s.rinses.last()?.at.ms;
        let name = view.section(&s.section).map_or("a section", |v| v.name());
        Some(format!("  {name}: on for {}", Millis::new(until.saturating_sub(from))))
    });
    stayed.collect()
}
