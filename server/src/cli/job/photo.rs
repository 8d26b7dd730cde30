//! Photographs: files go in and come out here, since a picture is neither words nor JSON.

use std::fs::{File, OpenOptions};
use std::io::{Read as _, Write as _};
use std::os::unix::fs::OpenOptionsExt as _;
use std::path::Path;

use serde_json::json;
use tailcomb_core::record::visit::{Item, Photo, PhotoOf};
use tailcomb_core::station::MAX_PHOTO_BYTES;

use super::super::context::Context;
use super::super::error::CliError;
use super::super::output::Output;
use super::say;

/// `tailcomb visit photo VISIT FILE`
pub(super) fn keep(
    visit: &str,
    file: &Path,
    of: PhotoOf,
    note: &str,
    ctx: &Context,
) -> Result<Output, CliError> {
    let path = ctx.path(file);
    let failed = |e: std::io::Error| CliError::new("file", format!("{} cannot be read: {e}", path.display()));
    let mut picture = Vec::new();
    // One byte more than is taken, so that a larger file is noticed.
    let most = u64::try_from(MAX_PHOTO_BYTES).unwrap_or(u64::MAX).saturating_add(1);
    File::open(&path).map_err(failed)?.take(most).read_to_end(&mut picture).map_err(failed)?;
    let (visit, id) = ctx.with(|station| {
        let visit = station.find_visit(visit)?;
        let id = station.keep_photo(&visit, of, note, &picture)?;
        Ok::<_, CliError>((visit, id))
    })?;
    Ok(Output::new("the photograph is kept", say::with_doc(&visit, "photo", id)))
}

/// `tailcomb visit picture`
pub(super) async fn write(visit: &str, photo: &str, to: &Path, ctx: &Context) -> Result<Output, CliError> {
    let (visit, id) = ctx.with(|station| {
        let visit = station.find_visit(visit)?;
        let photos = station.visit(&visit)?.photos;
        // A visit shows them by what their hash begins with.
        let fits = |one: &&Item<Photo>| {
            one.id.as_str() == photo || one.values().any(|value| value.sha256.starts_with(photo))
        };
        // The same picture kept twice is one.
        let hash = |one: &Item<Photo>| one.values().map(|value| value.sha256.clone()).next();
        let mut fitting: Vec<&Item<Photo>> = photos.iter().filter(fits).collect();
        fitting.sort_by_key(|one| hash(one));
        fitting.dedup_by_key(|one| hash(one));
        match fitting.as_slice() {
            [one] => Ok((visit, one.id.clone())),
            [] => Err(CliError::new("not-found", format!("there is no photograph {photo} on this visit"))
                .hint("tailcomb visit show lists them")),
            _ => Err(CliError::new("ambiguous", format!("several photographs begin with {photo}"))),
        }
    })?;
    let picture = ctx.shared().photo(&visit, &id).await?;
    let path = ctx.path(to);
    // A client's picture is its owner's alone, and a file that is there is left alone.
    let written = OpenOptions::new().write(true).create_new(true).mode(0o600).open(&path);
    written
        .and_then(|mut file| file.write_all(&picture))
        .map_err(|e| CliError::new("file", format!("{} cannot be written: {e}", path.display())))?;
    Ok(Output::new(
        format!("the picture is in {}", path.display()),
        json!({ "file": path.display().to_string(), "bytes": picture.len() }),
    ))
}
