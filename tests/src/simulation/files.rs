//! SQLite files as a crash or a copy finds them: with a write-ahead log that nobody has moved into the file.

use std::fs;
use std::path::{Path, PathBuf};

use super::Failure;

fn beside(file: &Path, ending: &str) -> PathBuf {
    let mut name = file.as_os_str().to_owned();
    name.push(ending);
    name.into()
}

/// Copies a database that may be open, between its transactions.
pub(super) fn copy(from: &Path, to: &Path) -> Result<(), Failure> {
    fs::copy(from, to)?;
    let (wal, wal_copy) = (beside(from, "-wal"), beside(to, "-wal"));
    if wal.exists() {
        fs::copy(wal, wal_copy)?;
    }
    Ok(())
}

/// Removes a database that nobody has open.
pub(super) fn remove(file: &Path) {
    for ending in ["", "-wal", "-shm"] {
        // What is not there need not be removed; the rest goes with the day's folder.
        let _ = fs::remove_file(beside(file, ending));
    }
}

/// Memory where the system offers it as a folder: a day is thousands of small transactions.
pub(super) fn day_folder() -> Result<tempfile::TempDir, Failure> {
    let shm = Path::new("/dev/shm");
    let made = if shm.is_dir() { tempfile::tempdir_in(shm) } else { tempfile::tempdir() };
    Ok(made.or_else(|_| tempfile::tempdir())?)
}
