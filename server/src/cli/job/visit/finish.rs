//! Glosses and treatments that go on now.

use serde_json::json;
use tailcomb_core::record::visit::{Finish, FinishKind};
use tailcomb_core::station::{Station, cautions};
use tailcomb_core::trade::Millis;

use super::super::{pick, say, stops};
use crate::cli::error::CliError;
use crate::cli::output::Output;

/// A gloss or treatment that goes on now.
#[derive(Debug, Clone, clap::Args)]
pub struct FinishArgs {
    /// The visit.
    pub visit: String,
    /// What is used.
    pub product: String,
    /// How long it stays on, e.g. 20m: starts its timer.
    #[arg(long, value_name = "TIME")]
    pub time: Option<Millis>,
    /// The bowl it was mixed in.
    #[arg(long)]
    pub bowl: Option<String>,
    /// If something stands against colour, answer for it by name with this reason, and go on.
    #[arg(long, value_name = "WHY")]
    pub despite: Option<String>,
    /// Anything else.
    #[arg(long, default_value = "")]
    pub note: String,
}

/// Records a gloss or treatment.
pub(in crate::cli::job) fn finish(
    kind: FinishKind,
    args: FinishArgs,
    station: &mut Station,
) -> Result<Output, CliError> {
    let visit = station.find_visit(&args.visit)?;
    let bowl = match &args.bowl {
        Some(words) => Some(pick::bowl(&station.visit(&visit)?, words)?.id.clone()),
        None => None,
    };
    let finish = Finish { kind, product: args.product, bowl, length: args.time, note: args.note };
    stops::despite(station, &visit, args.despite.as_deref())?;
    let made = station.finish(&visit, &finish)?;
    let what = match kind {
        FinishKind::Gloss => "gloss",
        FinishKind::Treatment => "treatment",
    };
    let timer = match finish.length {
        Some(length) => format!("its timer rings in {length}"),
        None => "no timer: say how long it stays on with --time".to_owned(),
    };
    let human = say::lines([
        format!("{what}: {}", finish.product.trim()),
        timer,
        say::cautions(&cautions::for_time()),
    ]);
    Ok(Output::new(
        human,
        json!({
            "doc": visit,
            "finish": made.finish,
            "timer": made.timer,
            "length_ms": finish.length,
            "cautions": cautions::for_time(),
        }),
    ))
}
