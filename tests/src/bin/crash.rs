//! `crash --points 200`: kills relay and stations at random moments of a day and looks whether anything that was
//! acknowledged is lost. Prints one JSON line; fails on a loss, on digests that differ, and when the kills were not
//! what they should be.

#![expect(clippy::print_stdout, reason = "printing is what it is for")]

use std::process::ExitCode;

use clap::Parser;
use tailcomb_tests::crash;
use tailcomb_tests::floor::Trouble;

#[derive(Parser)]
struct Args {
    /// How many processes to kill.
    #[arg(long, default_value_t = 200)]
    points: usize,
    /// Seed of what is said where, and when the cuts come.
    #[arg(long, default_value_t = 1)]
    seed: u64,
}

fn main() -> Result<ExitCode, Trouble> {
    let args = Args::parse();
    let place = tempfile::tempdir_in(".")?;
    let report = crash::play(place.path(), args.points, args.seed)?;
    println!("{}", serde_json::to_string(&report)?);
    let kinds = report.relay_kills > args.points / 10 && report.station_kills > args.points / 10;
    let cut = report.mid_command > args.points / 4;
    if !kinds || !cut {
        println!("the kills did not fall where they should: this run proves little");
    }
    let good = report.lost.is_empty() && report.agree && kinds && cut;
    println!("seed {}: {} lost", args.seed, report.lost.len());
    Ok(if good { ExitCode::SUCCESS } else { ExitCode::FAILURE })
}
