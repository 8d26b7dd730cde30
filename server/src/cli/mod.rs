//! The `tailcomb` command line.
//!
//! A station's store has one owner at a time. `tailcomb station run` is a long-lived owner that stays in touch with
//! the relay and takes commands over a socket in the station's directory; without it each command opens the store
//! itself, exchanges once with the relay and ends. Either way the same code executes the command.

mod alarms;
pub mod args;
pub mod board;
pub(crate) mod clock;
pub mod context;
mod door;
pub mod error;
mod exchange;
mod execute;
pub mod home;
mod house;
pub mod job;
mod log;
pub mod output;
mod owner;
mod relay;
mod setup;
pub(crate) mod signals;
mod words;

use std::ffi::OsString;
use std::fs::File;
use std::io::{self, BufRead, IsTerminal, Read};
use std::process::ExitCode;
use std::time::{Duration, Instant};

use clap::Parser as _;
use serde_json::json;
use tailcomb_core::net::SharedStation;
use tailcomb_core::store::DirectoryLock;
use tokio::sync::mpsc;

use args::{AtStation, Cli, Command, Exchange, Global, SalonCommand, StationCommand};
use context::Context;
use door::{Call, Request, Said};
use error::CliError;
use execute::execute;
use home::Home;
use output::{Output, Printer, Saved, print, print_error};
use owner::Owner;
use signals::Stop;

/// How long a command that is not run by a station process tries to reach the relay.
const EXCHANGE: Duration = Duration::from_secs(3);
/// How long a command waits for the one before it to let go of the store.
const TURN: Duration = Duration::from_secs(10);
/// How often a station that is starting or ending is looked for again.
const LOOK_AGAIN: Duration = Duration::from_millis(20);
/// Most standard input of a command.
const MAX_INPUT: u64 = 512 << 10;

/// Runs the program on the process's own command line.
#[must_use]
pub fn main() -> ExitCode {
    let argv: Vec<OsString> = std::env::args_os().collect();
    let json = argv.iter().any(|a| a == "--json");
    let cli = match Cli::try_parse_from(&argv) {
        Ok(cli) => cli,
        Err(said) if json && said.use_stderr() => {
            let error = CliError::usage(said.to_string().trim_end());
            error.print(true);
            return ExitCode::from(error.exit);
        }
        Err(said) => said.exit(),
    };
    let done = tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build()
        .map_err(|e| CliError::new("system", format!("the system gives this program no threads: {e}")))
        .and_then(|runtime| {
            let done = runtime.block_on(dispatch(cli, argv));
            // A thread that still reads keys has nothing to finish.
            runtime.shutdown_background();
            done
        });
    match done {
        Ok(code) => ExitCode::from(code),
        Err(error) => {
            error.print(json);
            ExitCode::from(error.exit)
        }
    }
}

async fn dispatch(cli: Cli, argv: Vec<OsString>) -> Result<u8, CliError> {
    let Cli { global, command } = cli;
    let command = match command.at_station() {
        Ok(command) => return at_station(command, global, argv).await,
        Err(other) => *other,
    };
    let out = match command {
        Command::Relay(args) => {
            log::start("info", global.json);
            relay::run(args, global.json).await?;
            return Ok(0);
        }
        Command::Station(StationCommand::Run(args)) => {
            log::start("warn", global.json);
            run_station(&global, args.until_input_ends).await?;
            return Ok(0);
        }
        Command::Station(StationCommand::Trust { authority }) => setup::trust(&authority, &global).await?,
        Command::Salon(SalonCommand::Found(args)) => setup::found(args, &global).await?,
        Command::Join(args) => setup::join(args, &global).await?,
        Command::Recover(args) => setup::recover(args, &global).await?,
        Command::Demo(args) => return crate::demo::run(args, global.json).await,
        // `at_station` took these.
        Command::Salon(SalonCommand::House(_)) | Command::AtStation(_) => Output::new("", json!({})),
    };
    print(&out.text(global.json));
    Ok(0)
}

/// Either the station process does it, or this one opens the store.
enum Place {
    There(Call),
    Here(DirectoryLock),
}

async fn at_station(command: AtStation, global: Global, argv: Vec<OsString>) -> Result<u8, CliError> {
    if let AtStation::Job(job) = &command
        && let Some(calculation) = job.calculation()
    {
        print(&job::calculate(calculation.clone())?.text(global.json));
        return Ok(0);
    }
    let home = Home::at(global.home.as_deref())?;
    if !home.has_store() {
        return Err(home.empty());
    }
    let request = request(&command, argv)?;
    match place(&home, &request).await? {
        Place::There(call) => there(call, &command, &global).await,
        Place::Here(lock) => match command {
            AtStation::Floor(args) if !args.once => {
                drop(lock);
                watch_floor(home, global).await?;
                Ok(0)
            }
            command => here(command, home, lock, global, request.input).await,
        },
    }
}

fn request(command: &AtStation, argv: Vec<OsString>) -> Result<Request, CliError> {
    let mut args = Vec::with_capacity(argv.len());
    for arg in argv.into_iter().skip(1) {
        let arg = arg.into_string();
        args.push(arg.map_err(|_| CliError::usage("the command line is not readable text (UTF-8)"))?);
    }
    let mut input = String::new();
    let named = command.wants_file();
    if command.wants_input() || named.is_some() {
        let (from, read) = match (named, command.asks().filter(|_| io::stdin().is_terminal())) {
            // Read here, where its name means what the caller means.
            (Some(path), _) => {
                let read = File::open(path).and_then(|f| f.take(MAX_INPUT + 1).read_to_string(&mut input));
                (path.display().to_string(), read)
            }
            (None, Some(question)) => {
                print_error(question);
                let read = io::stdin().lock().take(MAX_INPUT + 1).read_line(&mut input);
                ("standard input".to_owned(), read)
            }
            (None, None) => {
                let read = io::stdin().lock().take(MAX_INPUT + 1).read_to_string(&mut input);
                ("standard input".to_owned(), read)
            }
        };
        read.map_err(|e| CliError::input(format!("{from} cannot be read: {e}")))?;
        if u64::try_from(input.len()).unwrap_or(u64::MAX) > MAX_INPUT {
            return Err(CliError::input(format!("{from} is longer than {} KiB", MAX_INPUT >> 10)));
        }
    }
    let typed_in = std::env::current_dir().ok().and_then(|dir| dir.into_os_string().into_string().ok());
    Ok(Request { argv: args, input, typed_in: typed_in.unwrap_or_default() })
}

/// Finds who executes a command. A station process that is just starting or ending is waited for.
async fn place(home: &Home, request: &Request) -> Result<Place, CliError> {
    let until = Instant::now() + TURN;
    loop {
        if let Some(call) = Call::make(home, request).await? {
            return Ok(Place::There(call));
        }
        if let Some(lock) = home.try_lock()? {
            return Ok(Place::Here(lock));
        }
        if Instant::now() >= until {
            return Err(home.in_use());
        }
        tokio::time::sleep(LOOK_AGAIN).await;
    }
}

async fn there(mut call: Call, command: &AtStation, global: &Global) -> Result<u8, CliError> {
    if !matches!(command, AtStation::Floor(args) if !args.once) {
        return match call.next().await? {
            Said::Done { out, err, code, file } => {
                file.iter().try_for_each(Saved::write)?;
                print(&out);
                print_error(&err);
                Ok(code)
            }
            Said::Frame(_) => {
                Err(CliError::new("station-process", "the station process answers something else"))
            }
        };
    }
    let (send, boards) = mpsc::channel(1);
    let reading = async move {
        loop {
            match call.next().await? {
                Said::Frame(board) => {
                    if send.send(*board).await.is_err() {
                        return Ok(0);
                    }
                }
                Said::Done { out, err, code, .. } => {
                    print(&out);
                    print_error(&err);
                    return Ok(code);
                }
            }
        }
    };
    tokio::select! {
        code = reading => code,
        shown = board::show(boards, global.json) => shown.map(|()| 0),
    }
}

/// Sends a command to the station process of `home`: standard output, standard error and exit code.
pub(crate) async fn ask_station(
    home: &Home,
    argv: Vec<String>,
    input: String,
) -> Result<(String, String, u8), CliError> {
    let request = Request { argv, input, typed_in: String::new() };
    let Some(mut call) = Call::make(home, &request).await? else {
        return Err(CliError::new(
            "not-running",
            format!("no station process runs in {}", home.dir().display()),
        ));
    };
    match call.next().await? {
        Said::Done { out, err, code, .. } => Ok((out, err, code)),
        Said::Frame(_) => Err(CliError::new("station-process", "the station process answers something else")),
    }
}

async fn here(
    command: AtStation,
    home: Home,
    lock: DirectoryLock,
    global: Global,
    input: String,
) -> Result<u8, CliError> {
    log::start("warn", global.json);
    let exchange = if global.offline { Exchange::Own } else { command.exchange() };
    let shared = SharedStation::new(home.open_station(&lock)?, &home.trust()?)?;
    let ctx = Context::new(shared, home, global.acting, input, false);
    if exchange == Exchange::Before {
        ctx.sync(EXCHANGE).await?;
    }
    let out = execute(command, &ctx).await?;
    out.file.iter().try_for_each(Saved::write)?;
    print(&out.text(global.json));
    if exchange == Exchange::After
        && let Err(error) = ctx.sync(EXCHANGE).await
    {
        // The command itself is done and saved.
        tracing::warn!(%error, "nothing was exchanged with the relay");
    }
    if let Err(error) = ctx.shared().pause() {
        tracing::warn!(%error, "the store was not put to rest");
    }
    drop(lock);
    Ok(0)
}

/// `tailcomb station run`
async fn run_station(global: &Global, until_input_ends: bool) -> Result<(), CliError> {
    let home = Home::at(global.home.as_deref())?;
    let json_wanted = global.json;
    let mut stop = Stop::listen(until_input_ends)?;
    let (owner, held) = Owner::open(home).await?;
    if let Some(person) = &global.acting {
        let ctx = owner.context(None, String::new());
        exchange::sign_in(person, &ctx)?;
    }
    let status = exchange::status(&owner.context(None, String::new()))?;
    let ready = json!({
        "event": "open",
        "home": owner.home().dir().display().to_string(),
        "process": std::process::id(),
        "station": status.value.get("station"),
        "salon": status.value.get("salon"),
    });
    let human = format!(
        "{}\nthis station runs until Ctrl-C; other terminals reach it with the same --home",
        status.human
    );
    print(&Output::new(human, ready).text(json_wanted));
    let bell = io::stdout().is_terminal();
    let printer = Printer::start();
    let tell = |told: alarms::Told| {
        let line = if json_wanted { told.json().to_string() } else { told.human(bell) };
        printer.print(format!("{line}\n"));
    };
    let ringing = alarms::watch(&owner, tell);
    let erased = alarms::watch_erasures(&owner, tell);
    let stopped = async {
        tokio::select! {
            () = ringing => {}
            () = erased => {}
            () = stop.wanted() => {}
        }
    };
    owner.run(held, stopped).await
}

/// `tailcomb floor` where no station process runs: this one becomes it for as long as the board is shown.
async fn watch_floor(home: Home, global: Global) -> Result<(), CliError> {
    let (owner, held) = Owner::open(home).await?;
    let mut stop = Stop::listen(false)?;
    let (send, boards) = mpsc::channel(1);
    let shown = async {
        tokio::select! {
            shown = board::show(boards, global.json) => shown,
            () = owner.frames(send) => Ok(()),
            () = stop.wanted() => Ok(()),
        }
    };
    let mut result = Ok(());
    owner.run(held, async { result = shown.await }).await?;
    result
}
