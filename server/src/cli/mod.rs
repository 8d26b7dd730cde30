//! The `tailcomb` command line.
//!
//! A station's store has one owner at a time. `tailcomb station run` is a long-lived owner that stays in touch with
//! the relay and takes commands over a socket in the station's directory; without it each command opens the store
//! itself, exchanges once with the relay and ends. Either way the same code executes the command.

pub mod args;
pub mod context;
pub mod error;
pub mod home;
pub mod job;
mod log;
pub mod output;
mod relay;
mod signals;

use std::ffi::OsString;
use std::process::ExitCode;
use std::time::Duration;

use clap::Parser as _;
use tailcomb_core::net::SharedStation;

use args::{AtStation, Cli, Command};
use context::Context;
use error::CliError;
use home::Home;
use output::{Output, print};

/// How long a command that is not run by a station process tries to reach the relay.
const EXCHANGE: Duration = Duration::from_secs(3);
/// How long a command waits for the one before it to let go of the store.
const TURN: Duration = Duration::from_secs(10);

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
        .and_then(|runtime| runtime.block_on(dispatch(cli)));
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            error.print(json);
            ExitCode::from(error.exit)
        }
    }
}

async fn dispatch(cli: Cli) -> Result<(), CliError> {
    let Cli { global, command } = cli;
    match command {
        Command::Relay(args) => {
            log::start("info", global.json);
            relay::run(args, global.json).await
        }
        Command::AtStation(command) => {
            let home = Home::at(global.home.as_deref())?;
            if !home.has_store() {
                return Err(home.empty());
            }
            let lock = home.lock_within(TURN).await?;
            let shared = SharedStation::new(home.open_station(&lock)?)?;
            let ctx = Context::new(shared, home, global.acting, String::new(), false);
            let AtStation::Job(job) = command;
            let out: Output = job::run(job, &ctx).await?;
            ctx.sync(EXCHANGE).await?;
            print(&out.text(global.json));
            Ok(())
        }
    }
}
