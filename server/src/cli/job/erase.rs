//! Erasing one client, and what was erased before.

use serde_json::{Value, json};
use tailcomb_core::station::{Station, short};

use super::super::error::CliError;
use super::super::output::{Output, aligned};
use super::say::{self, Names};

/// What no erasing reaches, said each time.
const LEFT: &str = "Gone from this station now; from every other one when it next meets the relay.\n\
    What was sent before still lies in the relay's log, sealed under the salon's keys: this version cannot take it out \
    of there. Files that were exported, papers and copies of a station's directory are yours to find and destroy; a \
    copy that is opened again erases when it meets the relay.";

/// `tailcomb client erase`. `typed`: what came on standard input.
pub(super) fn erase(
    client: &str,
    why: &str,
    yes: bool,
    typed: &str,
    station: &mut Station,
) -> Result<Output, CliError> {
    let client = station.find_client(client)?;
    let name = station.client(&client)?.called();
    if !yes && typed.trim() != name.trim() {
        let visits = station.visits_of(&client)?.len();
        let say = format!(
            "nothing was erased: this takes the card ({}) and {visits} visits away for good, at every station, and \
             wants the client's whole name typed as it stands on the card",
            short(client.as_str())
        );
        return Err(CliError::new("not-confirmed", say)
            .hint("look with tailcomb client show, export first if the client wants a copy, then type the name; scripts say --yes"));
    }
    let erased = station.erase_client(&client, why)?;
    let names = Names::of(station)?;
    let wiped = if erased.swept.wiped {
        String::new()
    } else {
        "This disk had no room to overwrite the old traces: make room; it is tried again at every exchange."
            .to_owned()
    };
    let unsent = match erased.swept.unsent {
        0 => String::new(),
        n => format!("{n} changes that were not sent yet are gone with it."),
    };
    let mentions: Vec<Vec<String>> = erased
        .mentions
        .iter()
        .map(|m| vec![m.doc.to_string(), m.place.clone(), names.person(&m.by), names.clock(m.at_ms)])
        .collect();
    let mentions = match mentions.as_slice() {
        [] => String::new(),
        rows => format!(
            "Still named in what is not this client's alone, where it stays in the history:\n{}",
            aligned(2, rows)
        ),
    };
    let human = say::lines([
        format!(
            "erased: the card ({}) and {} visits",
            short(client.as_str()),
            erased.docs.len().saturating_sub(1)
        ),
        LEFT.to_owned(),
        unsent,
        wiped,
        mentions,
    ]);
    Ok(Output::new(human, json!({ "erased": erased, "left": LEFT })))
}

/// `tailcomb client erasures`
pub(super) fn list(station: &mut Station) -> Result<Output, CliError> {
    let here = station.erased_here()?;
    let names = Names::of(station)?;
    let rows: Vec<Vec<String>> = names
        .salon
        .erasures
        .iter()
        .map(|e| {
            let of_it = || here.iter().filter(|h| e.docs.contains(&h.doc));
            let (unsent, dropped) = of_it()
                .fold((0_u64, 0_u64), |(u, d), h| (u.saturating_add(h.unsent), d.saturating_add(h.dropped)));
            vec![
                names.clock(e.at.ms),
                names.person(&e.by),
                format!("{} documents", e.docs.len()),
                e.why.clone(),
                if unsent > 0 { format!("{unsent} unsent changes went with it here") } else { String::new() },
                if dropped > 0 { format!("{dropped} later changes dropped here") } else { String::new() },
            ]
        })
        .collect();
    let human = if rows.is_empty() { "nobody was erased".to_owned() } else { aligned(0, &rows) };
    let value: Value = json!({ "erasures": names.salon.erasures, "here": here });
    Ok(Output::new(human, value))
}
