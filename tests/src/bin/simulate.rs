//! `simulate --seeds 2000`: lives so many salon days, each from its own seed, and says what went wrong in them, how
//! often, and whether anything was lost. `simulate --seed 7 --trace` lives one again and tells it.

#![expect(clippy::print_stdout, reason = "printing is what it is for")]

use std::process::ExitCode;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Mutex, PoisonError};

use clap::Parser;
use tailcomb_tests::simulation::{self, Day, Tally};

/// From so many days on, every fault must have happened this often.
const LEAST: u64 = 100;
const LEAST_FROM: u64 = 2_000;

#[derive(Parser)]
struct Args {
    /// How many days.
    #[arg(long, default_value_t = 2_000)]
    seeds: u64,
    /// Seed of the first.
    #[arg(long, default_value_t = 1)]
    from: u64,
    /// Only the day of this seed.
    #[arg(long)]
    seed: Option<u64>,
    /// Tell everything that happens in it.
    #[arg(long, requires = "seed")]
    trace: bool,
    /// Days lived at the same time.
    #[arg(long, default_value_t = 1)]
    jobs: usize,
}

#[derive(Default)]
struct Sum {
    days: u64,
    tally: Tally,
    acknowledged: usize,
    gone: usize,
    lost: usize,
    exchanges: u64,
    to_agree: u64,
    failed: Vec<Day>,
}

impl Sum {
    fn add(&mut self, day: Day) {
        self.days += 1;
        self.tally.add(&day.tally);
        self.acknowledged += day.acknowledged;
        self.gone += day.gone;
        self.lost += day.lost;
        self.exchanges += day.exchanges;
        self.to_agree = self.to_agree.max(day.to_agree);
        if day.failure.is_some() {
            self.failed.push(day);
        }
    }
}

fn main() -> ExitCode {
    let args = Args::parse();
    if let Some(seed) = args.seed {
        return one(seed, args.trace);
    }
    let (next, end) = (AtomicU64::new(args.from), args.from + args.seeds);
    let sum = Mutex::new(Sum::default());
    std::thread::scope(|scope| {
        for _ in 0..args.jobs.max(1) {
            scope.spawn(|| {
                loop {
                    let seed = next.fetch_add(1, Ordering::Relaxed);
                    if seed >= end {
                        return;
                    }
                    let day = simulation::live(seed, false);
                    let mut sum = sum.lock().unwrap_or_else(PoisonError::into_inner);
                    if let Some(failure) = &day.failure {
                        println!("seed {seed}: {failure}");
                    }
                    sum.add(day);
                }
            });
        }
    });
    report(&sum.into_inner().unwrap_or_else(PoisonError::into_inner), args.seeds)
}

fn one(seed: u64, trace: bool) -> ExitCode {
    let day = simulation::live(seed, trace);
    if trace || day.failure.is_some() {
        println!("{}", day.trace.join("\n"));
    }
    println!("seed {seed}: hash {:016x}, {} acknowledged, {} lost", day.hash, day.acknowledged, day.lost);
    match day.failure {
        None => ExitCode::SUCCESS,
        Some(failure) => {
            println!("FAILED: {failure}");
            ExitCode::FAILURE
        }
    }
}

fn report(sum: &Sum, asked: u64) -> ExitCode {
    println!("histories run               {:>10}", sum.days);
    println!("actions acknowledged        {:>10}  (by document)", sum.acknowledged);
    println!("gone with their only device {:>10}", sum.gone);
    println!("requests                    {:>10}", sum.exchanges);
    println!("most requests to agree      {:>10}", sum.to_agree);
    println!("faults that really happened:\n{}", sum.tally);
    println!("lost                        {:>10}", sum.lost);
    println!("failed                      {:>10}", sum.failed.len());
    if let Some(first) = sum.failed.iter().min_by_key(|day| day.seed) {
        println!("\nthe last of seed {}:\n{}", first.seed, first.trace.join("\n"));
        println!("FAILED: seed {}: {}", first.seed, first.failure.as_deref().unwrap_or_default());
        return ExitCode::FAILURE;
    }
    let rare = sum.tally.rarer_than(LEAST);
    if asked >= LEAST_FROM && !rare.is_empty() {
        let names: Vec<&str> = rare.iter().map(|f| f.name()).collect();
        println!("FAILED: happened less than {LEAST} times: {}", names.join(", "));
        return ExitCode::FAILURE;
    }
    ExitCode::SUCCESS
}
