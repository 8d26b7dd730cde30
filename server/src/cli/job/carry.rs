//! One client as files, and a file as a new client.

use std::fs::{File, OpenOptions};
use std::io::{Read, Write};
use std::os::unix::fs::OpenOptionsExt;
use std::path::Path;

use serde_json::json;
use tailcomb_core::record::unpack::MOST_BYTES;
use tailcomb_core::station::{ENGLISH, short};

use super::super::context::Context;
use super::super::error::CliError;
use super::super::output::{Output, aligned};
use super::say;

/// A new file that is its owner's alone: what is in it is about somebody's health.
fn write(path: &Path, text: &str) -> Result<(), CliError> {
    let failed = |e: std::io::Error| {
        CliError::new("file", format!("{} cannot be written: {e}", path.display()))
            .hint("name a new file in a directory that is yours; a file that exists is not overwritten")
    };
    let mut file = OpenOptions::new().write(true).create_new(true).mode(0o600).open(path).map_err(failed)?;
    file.write_all(text.as_bytes()).and_then(|()| file.sync_all()).map_err(failed)
}

/// `tailcomb client export`
pub(super) fn export(
    client: &str,
    data: Option<&Path>,
    html: Option<&Path>,
    ctx: &Context,
) -> Result<Output, CliError> {
    let (file, page, id) = ctx.with(|station| {
        let id = station.find_client(client)?;
        let file = station.export_client(&id)?;
        let page = station.page_of(&id, &file)?.html(ENGLISH);
        Ok::<_, CliError>((file, page, id))
    })?;
    let text = serde_json::to_string_pretty(&file)
        .map_err(|e| CliError::new("internal", format!("the file cannot be written: {e}")))?
        + "\n";
    if data.is_none() && html.is_none() {
        return Ok(Output::new(text, json!({ "doc": id, "export": file })));
    }
    let mut rows = Vec::new();
    for (what, path, text) in [("as data", data, &text), ("to be read", html, &page)] {
        let Some(path) = path.map(|p| ctx.path(p)) else { continue };
        write(&path, text)?;
        rows.push(vec![what.to_owned(), path.display().to_string(), format!("{} bytes", text.len())]);
    }
    let missing = match file.not_here.len() {
        0 => String::new(),
        n => format!("{n} visits that the card lists have not arrived here: exchange, then export again"),
    };
    let human = say::lines([
        format!("exported: the card ({}) and {} visits", short(id.as_str()), file.visits.len()),
        aligned(2, &rows),
        missing,
        "The files are readable by whoever holds them: hand them to the client and to nobody else."
            .to_owned(),
    ]);
    Ok(Output::new(
        human,
        json!({
            "doc": id,
            "visits": file.visits.len(),
            "not_here": file.not_here,
            "files": rows.iter().filter_map(|r| r.get(1)).collect::<Vec<_>>(),
        }),
    ))
}

/// `tailcomb client import`
pub(super) fn import(path: &Path, ctx: &Context) -> Result<Output, CliError> {
    let path = ctx.path(path);
    let failed = |e: std::io::Error| CliError::new("file", format!("{} cannot be read: {e}", path.display()));
    let mut text = Vec::new();
    // One byte more than is taken, so that a larger file is noticed.
    let most = u64::try_from(MOST_BYTES).unwrap_or(u64::MAX).saturating_add(1);
    File::open(&path).map_err(failed)?.take(most).read_to_end(&mut text).map_err(failed)?;
    let brought = ctx.with(|station| station.import_client(&text))?;
    let others = match brought.others.as_slice() {
        [] => String::new(),
        names => format!("named in it and not known here: {}", names.join(", ")),
    };
    let human = say::lines([
        format!(
            "{} has a new card here ({}) with {} visits; who said what in it is as the file says",
            brought.name,
            short(brought.client.as_str()),
            brought.visits.len()
        ),
        others,
    ]);
    Ok(Output::new(
        human,
        json!({ "doc": brought.client, "short": short(brought.client.as_str()), "brought_in": brought }),
    ))
}
