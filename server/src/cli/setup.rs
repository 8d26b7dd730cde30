//! How a device becomes a station: founding a salon, joining by a link, coming back by the recovery words.

use std::fs;
use std::io::{self, BufReader, IsTerminal, Read};
use std::path::Path;
use std::time::Duration;

use serde_json::json;
use tailcomb_core::net::{self, SharedStation};
use tailcomb_core::station::{NewSalon, Station, StationError};
use tailcomb_core::store::DirectoryLock;
use tailcomb_core::sync::{Joining, SyncError};
use tailcomb_core::time::clock::SystemClock;
use tailcomb_core::wire::keys::StationSecret;
use tailcomb_core::wire::link::{InvitationLink, MAX_RELAY_BYTES, relay_address};
use tailcomb_core::wire::random::OsRandomness;
use tailcomb_core::wire::recovery::RecoverySecret;

use super::args::{FoundArgs, Global, JoinArgs, RecoverArgs};
use super::context::Context;
use super::error::CliError;
use super::home::Home;
use super::output::Output;
use super::words::{self, WordsFile};

/// How long a newcomer reads the salon's record before it says that the rest comes later.
const FIRST_READ: Duration = Duration::from_secs(30);
/// How long founding waits for the relay to hear of it.
const FOUNDING: Duration = Duration::from_secs(10);
/// How long a directory's other user is given to let go.
const TURN: Duration = Duration::from_secs(10);

/// `tailcomb salon found`
pub(super) async fn found(args: FoundArgs, global: &Global) -> Result<Output, CliError> {
    let home = Home::at(global.home.as_deref())?;
    let talk = args.words_to.is_none();
    if talk && (global.json || !io::stdin().is_terminal() || !io::stdout().is_terminal()) {
        return Err(CliError::usage("the recovery words can only be shown and checked in a terminal")
            .hint("run this in a terminal, or say --words-to FILE and print that file"));
    }
    let relay_url = check_url(&args.relay)?;
    let lock = vacant(&home).await?;
    home.trust_authority(&lock, args.authority.as_deref())?;
    let file = args.words_to.as_deref().map(WordsFile::make).transpose()?;
    let new = NewSalon {
        name: args.name,
        zone: args.zone.unwrap_or_else(own_zone),
        relay_url,
        station: args.station,
        person: args.person,
        role: args.role,
    };
    let store = home.open_store(&lock)?;
    let founded = Station::found(store, &new, Box::new(SystemClock), Box::new(OsRandomness));
    let founded = match founded {
        Ok(founded) => founded,
        Err(error) => {
            if let Some(file) = file {
                file.discard();
            }
            remove_store(&home);
            return Err(error.into());
        }
    };
    let words = founded.recovery.words();
    let kept = match file {
        Some(file) => file.write(&words),
        None => talk_words_over(&words),
    };
    if let Err(error) = kept {
        // Nobody has heard of this salon yet: better none than one without its words.
        drop(founded.station);
        remove_store(&home);
        return Err(error);
    }
    home.remember(founded.station.person())?;
    let shared = SharedStation::new(founded.station, &home.trust()?)?;
    let ctx = Context::new(shared, home, None, String::new(), false);
    let status = if global.offline { None } else { Some(ctx.sync(FOUNDING).await?) };
    let known = status.as_ref().is_some_and(|_| ctx.is_settled());
    let refused = status.and_then(|s| s.refused);
    let relay = match (&refused, known) {
        (_, true) => format!("the relay at {} keeps its sealed log", new.relay_url),
        (Some(refused), _) => format!("the relay at {} refuses it: {refused}", new.relay_url),
        (None, false) => {
            format!("the relay at {} has not heard of it yet; the next command tries again", new.relay_url)
        }
    };
    let human = format!(
        "{} is founded; {} is signed in at {}\n{relay}\nnext: tailcomb people add NAME --role ROLE, tailcomb invite, tailcomb station run",
        new.name, new.person, new.station
    );
    Ok(Output::new(
        human,
        json!({
            "salon": new.name,
            "zone": new.zone,
            "station": new.station,
            "device": ctx.shared().with(|s| s.device().to_string()),
            "person": new.person,
            "relay": new.relay_url,
            "relay_knows": known,
            "relay_refuses": refused,
            "words_to": args.words_to,
        }),
    ))
}

fn talk_words_over(words: &str) -> Result<(), CliError> {
    let ask = words::two_places()?;
    let checked = words::show_and_check(words, ask, &mut io::stdin().lock(), &mut io::stdout().lock());
    if checked.unwrap_or(false) {
        return Ok(());
    }
    Err(CliError::new(
        "words-unchecked",
        "the recovery words were not read back, so the salon was not founded",
    )
    .hint("found it again, with paper at hand; it gets new words"))
}

/// `tailcomb join`
pub(super) async fn join(args: JoinArgs, global: &Global) -> Result<Output, CliError> {
    let home = Home::at(global.home.as_deref())?;
    let link = if args.link == "-" { read_link()? } else { args.link };
    let link = InvitationLink::parse(&link).map_err(|e| {
        CliError::new("link", e.to_string()).hint("tailcomb invite, at a station that belongs, shows one")
    })?;
    let secret = StationSecret::generate(&mut OsRandomness);
    admit(Joining::by_invitation(link, secret), &args.station, args.authority.as_deref(), home, global).await
}

/// `tailcomb recover`
pub(super) async fn recover(args: RecoverArgs, global: &Global) -> Result<Output, CliError> {
    let home = Home::at(global.home.as_deref())?;
    let url = check_url(&args.relay)?;
    if io::stdin().is_terminal() {
        super::output::print_error("Type the 24 recovery words, in order, then Enter:\n");
    }
    let words = words::read(BufReader::new(io::stdin().lock()))?;
    let recovery = RecoverySecret::from_words(&words).map_err(|e| CliError::new("words", e.to_string()))?;
    let secret = StationSecret::generate(&mut OsRandomness);
    admit(Joining::by_words(recovery, url, secret), &args.station, args.authority.as_deref(), home, global)
        .await
}

/// `tailcomb station trust`
pub(super) async fn trust(authority: &Path, global: &Global) -> Result<Output, CliError> {
    let home = Home::at(global.home.as_deref())?;
    if !home.has_store() {
        return Err(home.empty());
    }
    let lock = home.lock_within(TURN).await?;
    home.trust_authority(&lock, Some(authority))?;
    Ok(Output::new(
        "this station trusts that authority now, and no other",
        json!({ "authority": authority.display().to_string() }),
    ))
}

async fn admit(
    joining: Joining,
    name: &str,
    authority: Option<&Path>,
    home: Home,
    global: &Global,
) -> Result<Output, CliError> {
    if global.offline {
        return Err(CliError::usage("a device becomes a station through the relay: leave --offline away"));
    }
    let lock = vacant(&home).await?;
    home.trust_authority(&lock, authority)?;
    let trust = home.trust()?;
    // Opened before the relay is asked: a disk that fails must not use up the invitation.
    let store = home.open_store(&lock)?;
    let admission = match net::join(joining, &trust).await {
        Ok(admission) => admission,
        Err(error) => {
            drop(store);
            remove_store(&home);
            return Err(error.into());
        }
    };
    let station = Station::admitted(store, admission, name, Box::new(SystemClock), Box::new(OsRandomness))?;
    let ctx = Context::new(SharedStation::new(station, &trust)?, home, None, String::new(), false);
    ctx.sync(FIRST_READ).await?;
    let settled = ctx.is_settled();
    let mut signed_in = None;
    let mut sign_in_failed = None;
    if let Some(person) = &global.acting {
        // The station is a station already; somebody unknown must not look as if joining had failed.
        match ctx.with(|station| station.sign_in_as(person)) {
            Ok(id) => {
                ctx.home().remember(Some(&id))?;
                signed_in = Some(ctx.salon()?.called(&id).to_owned());
            }
            Err(error) => sign_in_failed = Some(error.say),
        }
    }
    let salon = ctx.salon()?;
    let called = salon.name.latest().map_or("the salon", |v| v.value.as_str()).to_owned();
    let mut human = format!("{name} is a station of {called} now");
    if !settled {
        human.push_str("\nnot everything has arrived yet; the rest comes with the next command");
    }
    match (&signed_in, &sign_in_failed) {
        (Some(person), _) => human.push_str(&format!("\n{person} is signed in")),
        (None, Some(why)) => human.push_str(&format!("\nnobody is signed in: {why}")),
        (None, None) => human.push_str("\nnext: tailcomb sign-in NAME, then tailcomb station run"),
    }
    Ok(Output::new(
        human,
        json!({
            "salon": called,
            "station": name,
            "device": ctx.shared().with(|s| s.device().to_string()),
            "relay": ctx.shared().with(|s| s.relay_url().to_owned()),
            "settled": settled,
            "person": signed_in,
            "sign_in": sign_in_failed,
        }),
    ))
}

/// Takes a directory that holds no station.
async fn vacant(home: &Home) -> Result<DirectoryLock, CliError> {
    home.make()?;
    let lock = home.lock_within(TURN).await?;
    if !home.has_store() {
        return Ok(lock);
    }
    let opened = Station::open(home.open_store(&lock)?, Box::new(SystemClock), Box::new(OsRandomness));
    match opened {
        Err(StationError::Copy(SyncError::NoSalon)) => Ok(lock),
        Err(error) => Err(error.into()),
        Ok(mut station) => {
            let salon = station.salon()?;
            let called = salon.name.latest().map_or("a salon", |v| v.value.as_str());
            Err(CliError::new(
                "station-exists",
                format!("{} is a station of {called} already", home.dir().display()),
            )
            .hint("choose another directory with --home"))
        }
    }
}

/// Takes away a store that holds nothing yet; the caller has the lock.
fn remove_store(home: &Home) {
    let store = home.store();
    for end in ["", "-wal", "-shm"] {
        let mut path = store.clone().into_os_string();
        path.push(end);
        drop(fs::remove_file(path));
    }
}

pub(super) fn check_url(url: &str) -> Result<String, CliError> {
    relay_address(url).map_err(|_| {
        CliError::usage(format!("{url} is not the address of a relay"))
            .hint("it looks like http://192.168.1.5:7420 or https://relay.example")
    })
}

fn own_zone() -> String {
    jiff::tz::TimeZone::system().iana_name().unwrap_or("UTC").to_owned()
}

fn read_link() -> Result<String, CliError> {
    let most = u64::try_from(MAX_RELAY_BYTES + 64).unwrap_or(u64::MAX);
    let mut text = String::new();
    io::stdin()
        .lock()
        .take(most + 1)
        .read_to_string(&mut text)
        .map_err(|e| CliError::input(format!("the link cannot be read from standard input: {e}")))?;
    Ok(text)
}
