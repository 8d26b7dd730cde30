//! `workloads --only W1 --cards 2000`: runs the work that is measured and prints one JSON line a run.

#![expect(clippy::print_stdout, reason = "printing is what it is for")]

use clap::Parser;
use tailcomb_tests::floor::Trouble;
use tailcomb_tests::workloads::{self, Ask};

#[derive(Parser)]
struct Args {
    /// Which workloads; all when none is named.
    #[arg(long, value_delimiter = ',')]
    only: Vec<String>,
    /// How many cards.
    #[arg(long, default_value_t = 2_000)]
    cards: usize,
    /// How many rounds, where a workload has rounds.
    #[arg(long, default_value_t = 500)]
    rounds: usize,
    /// How often to run each.
    #[arg(long, default_value_t = 1)]
    repeat: usize,
    /// Seed of the synthetic data.
    #[arg(long, default_value_t = 1)]
    seed: u64,
}

#[tokio::main(flavor = "multi_thread", worker_threads = 2)]
async fn main() -> Result<(), Trouble> {
    let args = Args::parse();
    let all = workloads::ALL.map(str::to_owned).to_vec();
    let asked: Vec<String> = args.only.into_iter().filter(|id| !id.is_empty()).collect();
    let ids = if asked.is_empty() { all } else { asked };
    for id in &ids {
        for run in 0..args.repeat {
            let seed = args.seed + u64::try_from(run)?;
            let line = workloads::run(id, Ask { cards: args.cards, rounds: args.rounds, seed }).await?;
            println!("{line}");
        }
    }
    Ok(())
}
