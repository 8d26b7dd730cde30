//! `tailcomb demo`: an invented salon's day to watch. A relay and three stations run as processes of their own, and
//! everything that happens is a command that people use, sent to a station's socket as from any other terminal.
//!
//! People, clients and products are invented. Times on the hair are shortened where an alarm has to ring while somebody
//! watches; bowls and everything else keep the times of an ordinary label.

mod closing;
mod ground;
mod ivo;
mod lena;
mod opening;
mod process;
mod rosa;
mod stage;

use std::path::PathBuf;

use clap::Args;
use serde_json::json;

use crate::cli::error::CliError;
use crate::cli::output::{Output, print};
use crate::cli::signals::Stop;
use ground::Ground;
use stage::{Proof, Stage};

/// How the demo is played.
#[derive(Debug, Clone, Args)]
pub struct DemoArgs {
    /// Where the invented salon lives; made anew each time.
    #[arg(default_value = "demo-salon", value_name = "DIR")]
    pub dir: PathBuf,
    /// Stop everything at the end of the day instead of staying up; succeeds only if all stations hold the same record
    /// and nothing is left unsent.
    #[arg(long)]
    pub exit: bool,
    /// Let phones of this network in: the relay speaks TLS at this machine's own address, and says how to trust it.
    #[arg(long)]
    pub phones: bool,
    /// How slowly: 0 as fast as it goes, 1 to watch, 2 and more to read along.
    #[arg(long, default_value_t = 1, value_parser = clap::value_parser!(u8).range(0..=20))]
    pub pace: u8,
}

/// Plays it. With `json_wanted` the play goes to standard error and the outcome to standard output.
///
/// # Errors
/// [`CliError`] when a step did not do what it is there to show, or the stations do not agree at the end.
pub async fn run(args: DemoArgs, json_wanted: bool) -> Result<u8, CliError> {
    let mut stop = Stop::listen(false)?;
    let ground = Ground::clear(&args.dir)?;
    let mut stage = Stage::new(&ground, args.pace, json_wanted);
    stage.phones = args.phones;
    let played = tokio::select! {
        played = play(&mut stage) => played,
        () = stop.wanted() => Err(CliError::new("interrupted", "the demo was interrupted; everything it started is stopped")),
    };
    let outcome = match played {
        Ok(proof) if args.exit => Ok(proof),
        Ok(proof) => {
            let up = tokio::select! {
                up = closing::stay(&mut stage) => up,
                () = stop.wanted() => Ok(()),
            };
            match up {
                Ok(()) => {
                    stop.wanted().await;
                    Ok(proof)
                }
                Err(error) => Err(error),
            }
        }
        Err(error) => Err(error),
    };
    let ended = stage.end().await;
    let proof = outcome?;
    ended?;
    if json_wanted {
        print(&Output::new("", json!(proof)).text(true));
    }
    Ok(0)
}

async fn play(stage: &mut Stage) -> Result<Proof, CliError> {
    opening::open(stage).await?;
    rosa::plan(stage).await?;
    ivo::begin(stage).await?;
    rosa::finish(stage).await?;
    ivo::apart(stage).await?;
    ivo::finish(stage).await?;
    lena::correction(stage).await?;
    closing::close(stage).await
}
