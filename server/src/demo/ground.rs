//! The directory of the demo: made anew, but never at the cost of anything that the demo did not make.

use std::fs::{self, DirBuilder, File, OpenOptions, TryLockError};
use std::io;
use std::os::unix::fs::DirBuilderExt;
use std::path::{Path, PathBuf};

use crate::cli::error::CliError;

/// Tells a directory of the demo from anything else.
const MARKER: &str = "made-by-tailcomb-demo";

/// The demo's own directory, with nothing in it.
#[derive(Debug)]
pub(super) struct Ground {
    dir: PathBuf,
    /// Locked for as long as the demo runs here.
    _marker: File,
}

impl Ground {
    /// Makes the directory, or clears one that an earlier demo made.
    pub(super) fn clear(dir: &Path) -> Result<Self, CliError> {
        let failed = |e: io::Error| {
            CliError::new("demo", format!("the demo cannot use {}: {e}", dir.display()))
                .hint("name another directory: tailcomb demo DIR")
        };
        let marker = dir.join(MARKER);
        match fs::symlink_metadata(dir) {
            Ok(found) if found.is_dir() && marker.is_file() => {}
            Ok(_) => {
                let why = format!("{} is there already and no demo made it: it is left alone", dir.display());
                return Err(CliError::new("demo", why).hint("name another directory: tailcomb demo DIR"));
            }
            Err(e) if e.kind() == io::ErrorKind::NotFound => {
                DirBuilder::new().recursive(true).mode(0o700).create(dir).map_err(failed)?;
            }
            Err(e) => return Err(failed(e)),
        }
        let file =
            OpenOptions::new().create(true).truncate(false).write(true).open(&marker).map_err(failed)?;
        match file.try_lock() {
            Ok(()) => {}
            Err(TryLockError::WouldBlock) => {
                return Err(CliError::new("demo", format!("a demo runs in {} already", dir.display()))
                    .hint("stop it with Ctrl-C there, or name another directory: tailcomb demo DIR"));
            }
            Err(TryLockError::Error(e)) => return Err(failed(e)),
        }
        for entry in fs::read_dir(dir).map_err(failed)? {
            let entry = entry.map_err(failed)?;
            let removed = match entry.file_type().map_err(failed)? {
                _ if entry.file_name() == MARKER => Ok(()),
                kind if kind.is_dir() => fs::remove_dir_all(entry.path()),
                _ => fs::remove_file(entry.path()),
            };
            removed.map_err(failed)?;
        }
        // Absolute, so that what is printed at the end works from anywhere.
        let dir = fs::canonicalize(dir).map_err(failed)?;
        Ok(Self { dir, _marker: file })
    }

    pub(super) fn path(&self, name: &str) -> PathBuf {
        self.dir.join(name)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_directory_that_no_demo_made_is_left_alone() {
        let dir = tempfile::tempdir().unwrap();
        fs::write(dir.path().join("letters.txt"), "dear").unwrap();
        let error = Ground::clear(dir.path()).unwrap_err();
        assert!(error.say.contains("left alone"), "{error}");
        assert_eq!(fs::read_to_string(dir.path().join("letters.txt")).unwrap(), "dear");
        assert!(!dir.path().join(MARKER).exists());
        let file = dir.path().join("letters.txt");
        assert!(Ground::clear(&file).is_err());
    }

    #[test]
    fn an_earlier_demo_is_cleared_away_unless_it_runs() {
        let dir = tempfile::tempdir().unwrap();
        let place = dir.path().join("salon");
        let first = Ground::clear(&place).unwrap();
        fs::create_dir(first.path("desk")).unwrap();
        fs::write(first.path("desk/station.db"), "x").unwrap();
        assert!(Ground::clear(&place).unwrap_err().say.contains("runs in"));
        assert!(place.join("desk/station.db").exists());
        drop(first);
        let second = Ground::clear(&place).unwrap();
        assert!(!second.path("desk").exists());
    }
}
