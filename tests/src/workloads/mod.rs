//! The work that is measured, the same for this relay and for any other that one may want to set beside it. Synthetic
//! data from a seed. One JSON line a run; times are medians where several were taken.

mod cards;
mod day_end;
mod live;
mod machine;
mod upload;
mod writers;

use serde::Serialize;
use serde_json::{Map, Value};

pub use machine::Machine;

use crate::floor::Trouble;

/// What a run is asked for.
#[derive(Debug, Clone, Copy)]
pub struct Ask {
    /// How many cards.
    pub cards: usize,
    /// How many rounds, where a workload has rounds.
    pub rounds: usize,
    /// Seed of the synthetic data.
    pub seed: u64,
}

/// The workloads, by id.
pub const ALL: [&str; 6] = ["W1", "W2", "W3", "W4", "W5", "W7"];

/// Runs one and returns its line.
///
/// # Errors
/// Any.
pub async fn run(id: &str, ask: Ask) -> Result<Value, Trouble> {
    let place = tempfile::tempdir_in(".")?;
    let figures = match id {
        "W1" => to_map(upload::cold_sync(place.path(), ask).await?)?,
        "W2" => to_map(live::two_stations(place.path(), ask).await?)?,
        "W3" => to_map(writers::twenty(place.path(), ask).await?)?,
        "W4" => to_map(day_end::ten_stations(place.path(), ask).await?)?,
        "W5" => to_map(upload::nothing_new(place.path(), ask).await?)?,
        "W7" => to_map(upload::start(place.path(), ask).await?)?,
        other => return Err(format!("no workload {other}: one of {}", ALL.join(", ")).into()),
    };
    let machine = Machine::measure(place.path()).await?;
    let mut line = Map::new();
    line.insert("workload".into(), id.into());
    line.insert("cards".into(), ask.cards.into());
    line.insert("seed".into(), ask.seed.into());
    line.extend(figures);
    line.extend(to_map(machine)?);
    Ok(Value::Object(line))
}

fn to_map(figures: impl Serialize) -> Result<Map<String, Value>, Trouble> {
    match serde_json::to_value(figures)? {
        Value::Object(map) => Ok(map),
        _ => Err("figures are no map".into()),
    }
}

/// Three places after the point.
fn rounded(x: f64) -> f64 {
    (x * 1000.0).round() / 1000.0
}

/// The value below which `share` of the sorted values lie.
fn quantile(sorted: &[f64], share: f64) -> f64 {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        clippy::cast_precision_loss,
        reason = "an index within the slice"
    )]
    let at = ((sorted.len().saturating_sub(1)) as f64 * share).round() as usize;
    sorted.get(at).copied().unwrap_or(f64::NAN)
}

fn ms(from: std::time::Instant) -> f64 {
    from.elapsed().as_secs_f64() * 1000.0
}
