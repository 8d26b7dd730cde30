//! The commands of the job itself: clients, visits, bowls, timers, the close of the day.
//!
//! How they fit into the binary:
//! - [`Job`] is flattened into the station commands: its variants are top-level commands (`tailcomb search …`).
//! - [`run`] executes one on a station that is open already. It never knows whether it runs in the process that holds
//!   the station (the command came over its socket) or in the process that was called: [`Context`] is the same.
//! - Everything that touches the record goes through [`Context::with`], which holds the station for as long as the
//!   closure runs and has signed in whoever acts (`--as`, else who signed in at this station). One action of a person
//!   is one `Station::act` inside it. Nothing is awaited in there.
//! - Commands print nothing and read no standard input: they answer an [`Output`] with words for a person *and* a JSON
//!   value, or a [`CliError`]. A command for which [`Job::wants_input`] is true finds standard input in
//!   [`Context::input`].
//! - What is made goes out by itself: a running station process sends it at once, a single command exchanges once
//!   with the relay after it ran, or before when [`Job::reads_only`].
//! - People, stations and house rules, sign-in, sync, status and the floor board are next door in `cli`.

mod after;
mod alert_test;
mod bowl;
mod brief;
mod calc;
mod carry;
mod client;
mod day;
mod erase;
mod figures;
mod formula;
mod hands;
mod head;
mod photo;
mod pick;
mod read;
mod remark;
mod say;
mod settle;
mod shelf;
mod stops;
mod timer;
mod visit;

use std::path::Path;

use clap::Subcommand;
use serde_json::json;
use tailcomb_core::record::visit::FinishKind;
use tailcomb_core::station::{Station, short};

use super::context::Context;
use super::error::CliError;
use super::output::{Output, aligned};

pub use alert_test::AlertTestCommand;
pub use bowl::BowlCommand;
pub use brief::Size;
pub use calc::Calc;
pub use client::ClientCommand;
pub use day::DayCommand;
pub use formula::FormulaCommand;
pub use hands::CountersignCommand;
pub use head::{CheckArgs, PaintArgs, RinseArgs, SectionCommand};
pub use remark::RemarkCommand;
pub use settle::Place;
pub use shelf::ShelfCommand;
pub use stops::OverrideArgs;
pub use timer::TimerCommand;
pub use visit::{FinishArgs, VisitCommand};

/// One command of the job.
#[derive(Debug, Clone, Subcommand)]
pub enum Job {
    /// Find a client's card by the beginnings of name, phone, e-mail or address.
    Search {
        /// What to look for.
        #[arg(required = true)]
        words: Vec<String>,
        /// At most so many.
        #[arg(long, default_value_t = 20)]
        most: u32,
    },
    /// Clients' cards: contact, hair, sensitivities, consents, history.
    #[command(subcommand)]
    Client(ClientCommand),
    /// Alert tests on the skin.
    #[command(subcommand)]
    AlertTest(AlertTestCommand),
    /// Visits: open, plan, answers, results, close.
    #[command(subcommand)]
    Visit(VisitCommand),
    /// What a second stylist must see before taking over, on one screen.
    Brief {
        /// The visit.
        visit: String,
        /// How large the screen is.
        #[command(flatten)]
        size: Size,
    },
    /// Take a client, and every timer with it; shows what must be read first.
    Take {
        /// The visit.
        visit: String,
    },
    /// Offer a client to somebody, who holds it from when they take it.
    HandOver {
        /// The visit.
        visit: String,
        /// To whom.
        to: String,
    },
    /// A trainer's word on an associate's plan.
    #[command(subcommand)]
    Countersign(CountersignCommand),
    /// Remarks that stay beside what they are about, and the reasons why, for teaching.
    #[command(subcommand)]
    Remark(RemarkCommand),
    /// Formula notes.
    #[command(subcommand)]
    Formula(FormulaCommand),
    /// Bowls: planned, mixed, used up, thrown away.
    #[command(subcommand)]
    Bowl(BowlCommand),
    /// The section map.
    #[command(subcommand)]
    Section(SectionCommand),
    /// Record that product went on sections; starts a timer.
    Paint(PaintArgs),
    /// Answer by name for colour although something stands against it, e.g. no alert test; stays on the record.
    Override(OverrideArgs),
    /// Record that product came off; ends the timers that ran for it.
    Rinse(RinseArgs),
    /// Record a look at a strand.
    Check(CheckArgs),
    /// Record a gloss that goes on now.
    Gloss(FinishArgs),
    /// Record a treatment that goes on now.
    Treatment(FinishArgs),
    /// Timers: start, add time, pause, stop, silence.
    #[command(subcommand)]
    Timer(TimerCommand),
    /// What people said apart and one of them must settle.
    Questions {
        /// Where [default: everywhere on the floor].
        #[command(subcommand)]
        place: Option<Place>,
    },
    /// Settle a question with one of its answers.
    Settle {
        /// The question's mark, as tailcomb questions shows it, or words of it.
        question: Option<String>,
        /// The number of the answer.
        choice: Option<String>,
    },
    /// Everything that was said somewhere, oldest first.
    History {
        /// Where.
        #[command(subcommand)]
        place: Place,
        /// At most the newest so many.
        #[arg(long, default_value_t = 200, global = true)]
        most: usize,
    },
    /// Take back the last thing you did somewhere, or one step of its history.
    Undo {
        /// Where.
        #[command(subcommand)]
        place: Place,
        /// The step, as tailcomb history shows it.
        #[arg(long, global = true, value_name = "STEP")]
        step: Option<String>,
    },
    /// The day: who comes when, stock counts, its close with the proof.
    #[command(subcommand)]
    Day(DayCommand),
    /// The salon's own catalogue of products.
    #[command(subcommand)]
    Shelf(ShelfCommand),
    /// Arithmetic at the bowl, without a client.
    #[command(flatten)]
    Calc(Calc),
}

impl Job {
    /// Whether it only looks: then news is fetched before it runs, where no station process is running.
    #[must_use]
    pub fn reads_only(&self) -> bool {
        match self {
            Self::Search { .. }
            | Self::Brief { .. }
            | Self::Questions { .. }
            | Self::History { .. }
            | Self::Calc(_) => true,
            Self::Settle { question, .. } => question.is_none(),
            Self::Client(command) => command.reads_only(),
            Self::Visit(command) => command.reads_only(),
            Self::Countersign(command) => command.reads_only(),
            Self::Remark(command) => command.reads_only(),
            Self::Formula(command) => command.reads_only(),
            Self::Bowl(command) => command.reads_only(),
            Self::Section(command) => command.reads_only(),
            Self::Timer(command) => command.reads_only(),
            Self::Day(command) => command.reads_only(),
            Self::Shelf(command) => command.reads_only(),
            Self::AlertTest(_)
            | Self::Take { .. }
            | Self::HandOver { .. }
            | Self::Paint(_)
            | Self::Override(_)
            | Self::Rinse(_)
            | Self::Check(_)
            | Self::Gloss(_)
            | Self::Treatment(_)
            | Self::Undo { .. } => false,
        }
    }

    /// Whether it reads standard input.
    #[must_use]
    pub fn wants_input(&self) -> bool {
        match self {
            Self::Client(ClientCommand::Erase { yes: false, .. }) => true,
            Self::Shelf(command) => command.wants_input(),
            _ => false,
        }
    }

    /// What a person at a terminal is asked to type on one line; `None`: standard input is read to its end.
    #[must_use]
    pub fn asks(&self) -> Option<&'static str> {
        match self {
            Self::Client(ClientCommand::Erase { yes: false, .. }) => {
                Some("This cannot be taken back. To erase, type the client's whole name: ")
            }
            _ => None,
        }
    }

    /// The file whose contents it takes as input.
    #[must_use]
    pub fn wants_file(&self) -> Option<&Path> {
        match self {
            Self::Shelf(command) => command.wants_file(),
            _ => None,
        }
    }

    /// The arithmetic that it is, if it needs no station.
    #[must_use]
    pub fn calculation(&self) -> Option<&Calc> {
        match self {
            Self::Calc(calc) => Some(calc),
            _ => None,
        }
    }
}

/// Works out what needs no station.
///
/// # Errors
/// [`CliError`], saying what would be possible.
pub fn calculate(calc: Calc) -> Result<Output, CliError> {
    calc::run(calc)
}

/// Executes a command.
///
/// # Errors
/// [`CliError`].
pub async fn run(job: Job, ctx: &Context) -> Result<Output, CliError> {
    match job {
        Job::Calc(calc) => calc::run(calc),
        Job::Client(ClientCommand::Erase { client, why, yes }) => {
            ctx.with(|station| erase::erase(&client, &why, yes, ctx.input(), station))
        }
        Job::Client(ClientCommand::Export { client, data, html }) => {
            carry::export(&client, data.as_deref(), html.as_deref(), ctx)
        }
        Job::Client(ClientCommand::Import { file }) => carry::import(&file, ctx),
        Job::Visit(VisitCommand::Photo { visit, file: Some(file), of, note, .. }) => {
            photo::keep(&visit, &file, of.into(), &note, ctx)
        }
        Job::Visit(VisitCommand::Picture { visit, photo, to }) => {
            photo::write(&visit, &photo, &to, ctx).await
        }
        job => ctx.with(|station| at(job, ctx.input(), station)),
    }
}

fn at(job: Job, input: &str, station: &mut Station) -> Result<Output, CliError> {
    match job {
        Job::Search { words, most } => {
            let found = station.search(&words.join(" "), most)?;
            let rows: Vec<Vec<String>> =
                found.iter().map(|f| vec![short(f.id.as_str()).to_owned(), f.title.clone()]).collect();
            let human = if rows.is_empty() { "nobody found".to_owned() } else { aligned(0, &rows) };
            Ok(Output::new(human, json!({ "found": found })))
        }
        Job::Client(command) => command.run(station),
        Job::AlertTest(command) => command.run(station),
        Job::Visit(command) => command.run(station),
        Job::Brief { visit, size } => {
            let visit = station.find_visit(&visit)?;
            brief::brief(station, &visit, size)
        }
        Job::Take { visit } => hands::take(&visit, station),
        Job::HandOver { visit, to } => hands::hand_over(&visit, &to, station),
        Job::Countersign(command) => command.run(station),
        Job::Remark(command) => command.run(station),
        Job::Formula(command) => command.run(station),
        Job::Bowl(command) => command.run(station),
        Job::Section(command) => command.run(station),
        Job::Paint(args) => head::paint(args, station),
        Job::Override(args) => stops::run(args, station),
        Job::Rinse(args) => head::rinse(args, station),
        Job::Check(args) => head::check(args, station),
        Job::Gloss(args) => visit::finish(FinishKind::Gloss, args, station),
        Job::Treatment(args) => visit::finish(FinishKind::Treatment, args, station),
        Job::Timer(command) => command.run(station),
        Job::Questions { place } => settle::questions(place.as_ref(), station),
        Job::Settle { question, choice } => settle::settle(question.as_deref(), choice.as_deref(), station),
        Job::History { place, most } => settle::history(&place, most, station),
        Job::Undo { place, step } => settle::undo(&place, step.as_deref(), station),
        Job::Day(command) => command.run(station),
        Job::Shelf(command) => command.run(input, station),
        Job::Calc(calc) => calc::run(calc),
    }
}
