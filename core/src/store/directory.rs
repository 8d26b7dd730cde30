//! A station's directory is open in one process at a time: two that wrote would each believe in a chain of their own.

use std::fs::{File, OpenOptions, TryLockError};
use std::io::{self, Read as _, Seek as _, Write as _};
use std::path::{Path, PathBuf};

/// The right to open what is in a station's directory; given back when dropped, also by a process that is killed.
#[derive(Debug)]
pub struct DirectoryLock {
    _file: File,
}

impl DirectoryLock {
    /// Takes it, or nothing while another process has it.
    ///
    /// # Errors
    /// [`io::Error`] of a directory that is not there or not this user's.
    pub fn try_take(directory: &Path) -> io::Result<Option<Self>> {
        let mut options = OpenOptions::new();
        options.create(true).truncate(false).read(true).write(true);
        #[cfg(unix)]
        std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
        let mut file = options.open(lock_file(directory))?;
        match file.try_lock() {
            Ok(()) => {}
            Err(TryLockError::WouldBlock) => return Ok(None),
            Err(TryLockError::Error(error)) => return Err(error),
        }
        // For the message of whoever comes next; the lock itself does not depend on it.
        file.set_len(0)?;
        file.rewind()?;
        write!(file, "{}", std::process::id())?;
        Ok(Some(Self { _file: file }))
    }

    /// The number of the process that took it last.
    #[must_use]
    pub fn holder(directory: &Path) -> Option<u32> {
        let mut number = String::new();
        File::open(lock_file(directory)).ok()?.take(20).read_to_string(&mut number).ok()?;
        number.trim().parse().ok()
    }
}

fn lock_file(directory: &Path) -> PathBuf {
    directory.join("lock")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_directory_is_held_once_says_by_whom_and_is_free_again() {
        let directory = tempfile::tempdir().unwrap();
        assert_eq!(DirectoryLock::holder(directory.path()), None);
        let held = DirectoryLock::try_take(directory.path()).unwrap();
        assert!(held.is_some());
        assert!(DirectoryLock::try_take(directory.path()).unwrap().is_none());
        assert_eq!(DirectoryLock::holder(directory.path()), Some(std::process::id()));
        drop(held);
        assert!(DirectoryLock::try_take(directory.path()).unwrap().is_some());
        assert!(DirectoryLock::try_take(&directory.path().join("missing")).is_err());
    }
}
