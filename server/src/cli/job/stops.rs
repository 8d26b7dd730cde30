//! What stands against colour, and who answers for it by name.

use clap::Args;
use serde_json::json;
use tailcomb_core::ids::{DocId, EntryId};
use tailcomb_core::record::stop::Stop;
use tailcomb_core::record::visit::Override;
use tailcomb_core::station::{Station, cautions, short};

use super::super::error::CliError;
use super::super::output::Output;
use super::say::{self, Names};

/// Answering for colour despite a stop.
#[derive(Debug, Clone, Args)]
pub struct OverrideArgs {
    /// The visit.
    pub visit: String,
    /// Why. It stays on the record, with your name.
    #[arg(long)]
    pub why: String,
    /// Withdraw the overrides of this visit instead: what stood against colour stands again.
    #[arg(long)]
    pub withdraw: bool,
}

pub(super) fn run(args: OverrideArgs, station: &mut Station) -> Result<Output, CliError> {
    let visit = station.find_visit(&args.visit)?;
    let done: Vec<EntryId> = if args.withdraw {
        let standing = station.visit(&visit)?.overrides;
        let standing: Vec<EntryId> =
            standing.into_iter().filter(|o| o.withdrawn.is_empty()).map(|o| o.id).collect();
        if standing.is_empty() {
            return Err(CliError::input("nothing is overridden at this visit"));
        }
        standing.iter().try_for_each(|id| station.withdraw_override(&visit, id, &args.why))?;
        standing
    } else {
        vec![station.override_stop(&visit, &args.why)?]
    };
    let briefing = station.brief(&visit)?;
    let names = Names::of(station)?;
    let human = say::lines([
        told(&briefing.stop, &briefing.brief.overrides, &names).join("\n"),
        say::cautions(&cautions::for_test()),
    ]);
    Ok(Output::new(
        human,
        json!({
            "doc": visit,
            "short": short(visit.as_str()),
            "overrides": done,
            "stop": briefing.stop,
            "cautions": cautions::for_test(),
        }),
    ))
}

/// Overrides first, where that is asked for along with the work itself.
pub(super) fn despite(station: &mut Station, visit: &DocId, why: Option<&str>) -> Result<(), CliError> {
    if let Some(why) = why
        && station.stop(visit)?.stands
    {
        station.override_stop(visit, why)?;
    }
    Ok(())
}

/// What stands, what is overridden by whom and why, and what is to be asked.
pub(super) fn told(stop: &Stop, overrides: &[Override], names: &Names) -> Vec<String> {
    let asks = stop.asks.iter().map(|a| format!("  ? {a}"));
    against(stop, overrides, names).into_iter().chain(asks).collect()
}

/// What stands, and what is overridden by whom and why.
pub(super) fn against(stop: &Stop, overrides: &[Override], names: &Names) -> Vec<String> {
    let standing = stop.standing().map(|a| format!("  STOP before colour: {}", a.text));
    let overridden = overrides.iter().map(|o| {
        let against: Vec<&str> = o.against.iter().map(|a| a.text.as_str()).collect();
        let withdrawn: Vec<String> = o
            .withdrawn
            .iter()
            .map(|w| format!(" Withdrawn by {}: “{}”.", names.person(&w.by), w.why))
            .collect();
        format!(
            "  ! overridden by {} at {}: “{}”. Against it stood: {}{}",
            names.person(&o.by),
            names.clock(o.at.ms),
            o.why,
            against.join(" "),
            withdrawn.concat()
        )
    });
    standing.chain(overridden).collect()
}
