//! The command line, as clap reads it.

use std::path::PathBuf;
use std::time::Duration;

use clap::{Args, Parser, Subcommand, ValueEnum};
use tailcomb_core::record::salon::Role;
use tailcomb_core::trade::limits::Place;
use tailcomb_core::trade::{Grams, LengthUnit, Millis, Percent, WeightUnit};

use super::job::Job;
use super::relay::RelayArgs;
use crate::demo::DemoArgs;

/// The floor companion of a hair-colour salon: cards, formulas and timers on every station, with or without network.
///
/// Tailcomb records and reminds; a licensed stylist decides. Follow the maker's label and the rules of the place.
#[derive(Debug, Clone, Parser)]
#[command(name = "tailcomb", version, propagate_version = true, max_term_width = 100)]
pub struct Cli {
    /// What every command understands.
    #[command(flatten)]
    pub global: Global,
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// Options of every command.
#[derive(Debug, Clone, Args)]
pub struct Global {
    /// The directory that is the station [default: .tailcomb in your home directory].
    #[arg(long, global = true, env = "TAILCOMB_HOME", value_name = "DIR", help_heading = "Everywhere")]
    pub home: Option<PathBuf>,
    /// Answer with one JSON document on standard output, errors too.
    #[arg(long, global = true, help_heading = "Everywhere")]
    pub json: bool,
    /// Who acts: a name or its beginning. Without it, who signed in at this station.
    #[arg(long = "as", global = true, value_name = "PERSON", help_heading = "Everywhere")]
    pub acting: Option<String>,
    /// Leave the network alone; what is made goes out with a later command.
    #[arg(long, global = true, help_heading = "Everywhere")]
    pub offline: bool,
}

/// Every command.
#[derive(Debug, Clone, Subcommand)]
pub enum Command {
    /// Run a relay: it keeps the salon's sealed log and hands it out. It cannot read a card.
    Relay(RelayArgs),
    /// Found a salon; look at it and its house rules.
    #[command(subcommand)]
    Salon(SalonCommand),
    /// Make this device a station of a salon, by the link that `tailcomb invite` shows at another station.
    Join(JoinArgs),
    /// Make this device a station by the printed recovery words, read from standard input.
    Recover(RecoverArgs),
    /// Keep a station running: in touch with the relay, ringing alarms, taking commands.
    #[command(subcommand)]
    Station(StationCommand),
    /// Watch an invented salon's day: a relay and three stations on this machine.
    Demo(DemoArgs),
    /// Commands on a station.
    #[command(flatten)]
    AtStation(AtStation),
}

/// `tailcomb salon …`
#[derive(Debug, Clone, Subcommand)]
pub enum SalonCommand {
    /// Found a salon; this device becomes its first station.
    Found(FoundArgs),
    /// What the salon says of itself.
    #[command(flatten)]
    House(House),
}

/// What it takes to found a salon.
#[derive(Debug, Clone, Args)]
pub struct FoundArgs {
    /// The salon's name.
    pub name: String,
    /// Where its relay is, e.g. http://127.0.0.1:7420.
    #[arg(long, value_name = "URL")]
    pub relay: String,
    /// The name of the person who founds it.
    #[arg(long)]
    pub person: String,
    /// That person's role.
    #[arg(long, value_parser = role, default_value = "trainer", value_name = "associate|stylist|trainer")]
    pub role: Role,
    /// The salon's time zone, e.g. Europe/Lisbon [default: this machine's].
    #[arg(long)]
    pub zone: Option<String>,
    /// The name of this station.
    #[arg(long, default_value = "first station", value_name = "NAME")]
    pub station: String,
    /// The certificate of the relay's own authority, from its page …/trust: this station then trusts that one and no other.
    #[arg(long, value_name = "FILE")]
    pub authority: Option<PathBuf>,
    /// Write the recovery words to this new file instead of showing and checking them; for scripts.
    #[arg(long, value_name = "FILE")]
    pub words_to: Option<PathBuf>,
}

/// What the salon says of itself.
#[derive(Debug, Clone, Subcommand)]
pub enum House {
    /// Show the salon and its house rules.
    Show,
    /// Give it another name.
    Name {
        /// The name.
        name: String,
    },
    /// Set its time zone.
    Zone {
        /// IANA name, e.g. Europe/Lisbon.
        zone: String,
    },
    /// The limits and cautions that mixes are held against, each with where it stands, its date and how it was learnt.
    Limits,
    /// Set a rule of the house.
    #[command(subcommand)]
    Rule(Rule),
}

/// A rule of the house.
#[derive(Debug, Clone, Subcommand)]
pub enum Rule {
    /// How long a reading of an alert test counts: "every-time", or a number of days.
    AlertTest {
        /// "every-time" or days.
        period: String,
    },
    /// Whether an associate's plan needs a trainer's countersign before anything touches the client.
    Countersign {
        /// Yes or no.
        wanted: YesNo,
    },
    /// How long a mixed bowl is used when neither the maker nor the plan says less.
    BowlLife {
        /// E.g. "20 min".
        time: Millis,
    },
    /// What weights are shown in: g or oz. They are kept in grams, and rounding changes nothing of what is kept.
    Weights {
        /// g or oz.
        unit: WeightUnit,
    },
    /// What lengths are shown in: cm or in.
    Lengths {
        /// cm or in.
        unit: LengthUnit,
    },
    /// Whether an alert test is asked for before lightener too, which colours nothing.
    LightenerTest {
        /// Yes or no.
        wanted: YesNo,
    },
    /// From which age on hair is coloured here; the rule of the place stands where it asks for more.
    LeastAge {
        /// Whole years, e.g. 16.
        years: u8,
    },
    /// How often a strand is checked when the plan does not say.
    CheckEvery {
        /// E.g. "5 min".
        time: Millis,
    },
    /// Whose law this salon works under; without it, guessed by the time zone.
    Place {
        /// eu, uk, us, or elsewhere: a place whose rules are not known here.
        place: Place,
    },
    /// The most peroxide ready for use that this house puts on hair, beside the limits of the place.
    MostPeroxide {
        /// As it meets the hair, e.g. "6 %".
        percent: Percent,
    },
    /// How long one section takes to paint, until a visit shows it.
    SectionTime {
        /// E.g. "4 min".
        time: Millis,
    },
    /// How much mix one section takes.
    SectionWeight {
        /// E.g. "7 g".
        weight: Grams,
    },
    /// The most that is mixed in one bowl.
    BiggestBowl {
        /// E.g. "90 g".
        weight: Grams,
    },
    /// What stays on bowl and brush.
    Clinging {
        /// E.g. "2 g".
        weight: Grams,
    },
    /// How long is allowed for a rinse.
    Rinse {
        /// E.g. "10 min".
        time: Millis,
    },
    /// How long is allowed for everything after the rinse: gloss, cut, drying, styling.
    Finishing {
        /// E.g. "45 min".
        time: Millis,
    },
}

/// Yes or no.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum YesNo {
    /// It is so.
    Yes,
    /// It is not so.
    No,
}

/// How a device joins by a link.
#[derive(Debug, Clone, Args)]
pub struct JoinArgs {
    /// The link, or "-" to read it from standard input, where no list of processes shows it.
    pub link: String,
    /// The name of this station, e.g. "chair 2".
    #[arg(long, value_name = "NAME")]
    pub station: String,
    /// The certificate of the relay's own authority, from its page …/trust: this station then trusts that one and no other.
    #[arg(long, value_name = "FILE")]
    pub authority: Option<PathBuf>,
}

/// How a device joins by the recovery words.
#[derive(Debug, Clone, Args)]
pub struct RecoverArgs {
    /// Where the salon's relay is.
    #[arg(long, value_name = "URL")]
    pub relay: String,
    /// The name of this station.
    #[arg(long, value_name = "NAME")]
    pub station: String,
    /// The certificate of the relay's own authority, from its page …/trust: this station then trusts that one and no other.
    #[arg(long, value_name = "FILE")]
    pub authority: Option<PathBuf>,
}

/// `tailcomb station …`
#[derive(Debug, Clone, Subcommand)]
pub enum StationCommand {
    /// Run until told to stop (Ctrl-C or SIGTERM). Alarms ring in this terminal.
    Run(RunArgs),
    /// Trust the relay's own authority from now on, when the relay speaks TLS since this station joined, or has got
    /// another authority. Compare its fingerprint with what the relay shows.
    Trust {
        /// The certificate, from the relay's page …/trust.
        authority: PathBuf,
    },
}

/// How a station is kept running.
#[derive(Debug, Clone, Copy, Args)]
pub struct RunArgs {
    /// Stop when standard input ends, too; for a program that starts this one and must not outlive it.
    #[arg(long)]
    pub until_input_ends: bool,
}

/// Commands on a station that is there already.
#[derive(Debug, Clone, Subcommand)]
pub enum AtStation {
    /// `tailcomb salon show|name|zone|rule`, which the parser reads as a salon command.
    #[command(skip)]
    House(House),
    /// Invite another device: shows a link that works once and for ten minutes.
    Invite,
    /// List the stations of the salon, rename one, or shut one out.
    Stations {
        /// What to do; nothing lists them.
        #[command(subcommand)]
        what: Option<StationsCommand>,
    },
    /// List the people of the salon, add one, or change one.
    People {
        /// What to do; nothing lists them.
        #[command(subcommand)]
        what: Option<PeopleCommand>,
    },
    /// Take this station up: what is done here from now on is yours.
    SignIn {
        /// A name or its beginning.
        person: String,
    },
    /// Put this station down: nobody acts here until somebody signs in.
    SignOut,
    /// Send and read everything now, and say how it went.
    Sync {
        /// Give up after so long.
        #[arg(long, default_value = "20 s", value_name = "TIME")]
        within: Millis,
    },
    /// How this station stands with the others, in words.
    Status,
    /// The floor board: timers by due time, who holds whom, what is to be settled.
    Floor(FloorArgs),
    /// Cut a running station off the network, or let it back on. Work goes on either way.
    Network {
        /// On or off.
        state: OnOff,
    },
    /// The job itself.
    #[command(flatten)]
    Job(Job),
}

/// How the floor board is shown.
#[derive(Debug, Clone, Copy, Args)]
pub struct FloorArgs {
    /// Print it once and end.
    #[arg(long)]
    pub once: bool,
    /// So many characters wide when printed once [default: as wide as the terminal, else 80].
    #[arg(long, value_parser = clap::value_parser!(u16).range(40..=400))]
    pub width: Option<u16>,
}

/// On or off.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum OnOff {
    /// On.
    On,
    /// Off.
    Off,
}

/// `tailcomb stations …`
#[derive(Debug, Clone, Subcommand)]
pub enum StationsCommand {
    /// Shut a station out for good, e.g. a lost phone. The others get a new key.
    Revoke {
        /// Its name, or the beginning of its device id.
        station: String,
        /// Why.
        #[arg(long)]
        why: String,
    },
    /// The relay has lost everything, and the station that founded the salon is gone: found it there anew by the printed
    /// recovery words, read from standard input. What the stations hold goes there again.
    FoundAnew,
    /// The relay has another address: go on with it there, once it has answered that it has this salon. Each station keeps
    /// its own address of the relay. A phone asks wherever its page came from: open the app there and join again.
    Relay {
        /// Its address now, e.g. http://192.168.1.5:7420.
        url: String,
        /// It is a new relay, which has never heard of this salon.
        #[arg(long = "new")]
        anew: bool,
    },
    /// Give a station another name.
    Rename {
        /// Its name, or the beginning of its device id.
        station: String,
        /// The new name.
        to: String,
    },
}

/// `tailcomb people …`
#[derive(Debug, Clone, Subcommand)]
pub enum PeopleCommand {
    /// Put somebody on the staff.
    Add {
        /// Their name.
        name: String,
        /// Their role.
        #[arg(long, value_parser = role, value_name = "associate|stylist|trainer")]
        role: Role,
    },
    /// Give somebody another name.
    Rename {
        /// A name or its beginning.
        person: String,
        /// The new name.
        to: String,
    },
    /// Give somebody another role.
    Role {
        /// A name or its beginning.
        person: String,
        /// The role.
        #[arg(value_parser = role, value_name = "associate|stylist|trainer")]
        role: Role,
    },
    /// Somebody no longer works here.
    Left {
        /// A name or its beginning.
        person: String,
    },
    /// Somebody works here again.
    Back {
        /// A name or its beginning.
        person: String,
    },
}

fn role(text: &str) -> Result<Role, String> {
    match text.to_lowercase().as_str() {
        "associate" => Ok(Role::Associate),
        "stylist" => Ok(Role::Stylist),
        "trainer" => Ok(Role::Trainer),
        _ => Err("a role is associate, stylist or trainer".to_owned()),
    }
}

/// When a command that is not run by a station process exchanges with the relay.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Exchange {
    /// Before it runs, so that it shows news.
    Before,
    /// After it ran, so that others see what it did.
    After,
    /// It sees to that itself, or there is nothing to exchange.
    Own,
}

impl AtStation {
    pub(super) fn exchange(&self) -> Exchange {
        match self {
            Self::House(House::Show | House::Limits)
            | Self::Stations { what: None }
            | Self::People { what: None }
            | Self::SignIn { .. }
            | Self::Status
            | Self::Floor(_) => Exchange::Before,
            Self::Job(job) if job.reads_only() => Exchange::Before,
            Self::House(_)
            | Self::Stations { what: Some(StationsCommand::Rename { .. }) }
            | Self::People { .. } => Exchange::After,
            Self::Job(_) => Exchange::After,
            Self::Invite
            | Self::Stations { .. }
            | Self::SignOut
            | Self::Sync { .. }
            | Self::Network { .. } => Exchange::Own,
        }
    }

    /// Whether it puts something on the record, so that somebody must answer for it.
    pub(super) fn acts(&self) -> bool {
        match self {
            Self::House(house) => !matches!(house, House::Show | House::Limits),
            Self::Stations { what } => what.is_some(),
            Self::People { what } => what.is_some(),
            Self::Job(job) => !job.reads_only(),
            Self::Invite
            | Self::SignIn { .. }
            | Self::SignOut
            | Self::Sync { .. }
            | Self::Status
            | Self::Floor(_)
            | Self::Network { .. } => false,
        }
    }

    pub(super) fn wants_input(&self) -> bool {
        match self {
            Self::Job(job) => job.wants_input(),
            Self::Stations { what } => matches!(what, Some(StationsCommand::FoundAnew)),
            _ => false,
        }
    }

    /// See [`Job::asks`].
    pub(super) fn asks(&self) -> Option<&'static str> {
        match self {
            Self::Job(job) => job.asks(),
            _ => None,
        }
    }
}

impl AtStation {
    /// The file whose contents it takes as input, read by the process that was called.
    pub(super) fn wants_file(&self) -> Option<&std::path::Path> {
        match self {
            Self::Job(job) => job.wants_file(),
            _ => None,
        }
    }
}

impl Command {
    /// The command on a station that it is, if it is one.
    pub(super) fn at_station(self) -> Result<AtStation, Box<Self>> {
        match self {
            Self::AtStation(command) => Ok(command),
            Self::Salon(SalonCommand::House(house)) => Ok(AtStation::House(house)),
            other => Err(Box::new(other)),
        }
    }
}

/// A length of time for waiting; never negative.
pub(super) fn duration(time: Millis) -> Duration {
    Duration::from_millis(u64::try_from(time.get()).unwrap_or(0))
}

#[cfg(test)]
mod tests {
    use clap::CommandFactory as _;

    use super::*;

    #[test]
    fn the_command_line_is_well_formed() {
        Cli::command().debug_assert();
    }

    #[test]
    fn house_commands_run_on_a_station_and_founding_does_not() {
        let parse = |argv: &[&str]| Cli::try_parse_from(argv).unwrap().command;
        let house = parse(&["tailcomb", "salon", "show"]).at_station();
        assert!(matches!(house, Ok(AtStation::House(House::Show))));
        let found = parse(&["tailcomb", "salon", "found", "A", "--relay", "http://r", "--person", "P"]);
        assert!(found.at_station().is_err());
    }
}
