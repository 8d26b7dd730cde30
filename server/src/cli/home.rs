//! The directory that is one station: its store, who signed in here, the lock of whoever has the store open, and the
//! socket of a running station process.

use std::fs::{self, DirBuilder, OpenOptions};
use std::io::{self, Write};
use std::os::unix::fs::{DirBuilderExt, OpenOptionsExt};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use data_encoding::BASE64_MIME;
use serde::{Deserialize, Serialize};
use tailcomb_core::ids::PersonId;
use tailcomb_core::net::Trust;
use tailcomb_core::station::{Station, StationError};
use tailcomb_core::store::{DirectoryLock, Durability, Store};
use tailcomb_core::sync::SyncError;
use tailcomb_core::time::clock::SystemClock;
use tailcomb_core::wire::random::OsRandomness;

use super::error::CliError;

/// How often a taken lock is tried again. The system has no way to wait for a lock *or* a socket.
const TRY_AGAIN: Duration = Duration::from_millis(20);

/// A station's directory.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Home {
    dir: PathBuf,
}

#[derive(Debug, Serialize, Deserialize)]
struct SignedIn {
    person: String,
}

impl Home {
    /// The directory given, or `.tailcomb` in the user's own.
    ///
    /// # Errors
    /// When none is given and the user has none.
    pub fn at(dir: Option<&Path>) -> Result<Self, CliError> {
        let dir = match dir {
            Some(dir) => dir.to_owned(),
            None => std::env::home_dir()
                .filter(|dir| dir.is_absolute())
                .ok_or_else(|| {
                    CliError::usage("this user has no home directory")
                        .hint("say where the station is kept with --home DIR")
                })?
                .join(".tailcomb"),
        };
        Ok(Self { dir })
    }

    /// Where it is.
    #[must_use]
    pub fn dir(&self) -> &Path {
        &self.dir
    }

    /// The socket of a running station process.
    #[must_use]
    pub fn socket(&self) -> PathBuf {
        self.dir.join("socket")
    }

    /// The store.
    #[must_use]
    pub fn store(&self) -> PathBuf {
        self.dir.join("station.db")
    }

    /// Makes the directory, for its owner only.
    ///
    /// # Errors
    /// [`CliError`].
    pub fn make(&self) -> Result<(), CliError> {
        DirBuilder::new()
            .recursive(true)
            .mode(0o700)
            .create(&self.dir)
            .map_err(|e| self.failed("cannot make the station's directory", &e))
    }

    fn failed(&self, what: &str, error: &io::Error) -> CliError {
        CliError::new("home", format!("{what} {}: {error}", self.dir.display())).hint(
            "check that the disk has room and that the directory is yours, or choose another with --home",
        )
    }

    /// The error of a directory that holds no station.
    #[must_use]
    pub fn empty(&self) -> CliError {
        let error = CliError::from(StationError::from(SyncError::NoSalon));
        CliError { say: format!("there is no station in {}", self.dir.display()), ..error }
    }

    /// Takes the lock if nobody has it.
    ///
    /// # Errors
    /// [`CliError`] of the file system.
    pub fn try_lock(&self) -> Result<Option<DirectoryLock>, CliError> {
        DirectoryLock::try_take(&self.dir).map_err(|e| self.failed("cannot lock", &e))
    }

    /// Takes the lock, waiting a while for a command that is about to end.
    ///
    /// # Errors
    /// [`CliError`] with the code `in-use` when somebody else keeps it.
    pub async fn lock_within(&self, deadline: Duration) -> Result<DirectoryLock, CliError> {
        let until = Instant::now() + deadline;
        loop {
            if let Some(lock) = self.try_lock()? {
                return Ok(lock);
            }
            if Instant::now() >= until {
                return Err(self.in_use());
            }
            tokio::time::sleep(TRY_AGAIN).await;
        }
    }

    /// The error of a station that another process has open.
    #[must_use]
    pub fn in_use(&self) -> CliError {
        let by = match DirectoryLock::holder(&self.dir) {
            Some(pid) => format!("process {pid}"),
            None => "another process".to_owned(),
        };
        CliError::new("in-use", format!("the station in {} is open in {by}", self.dir.display())).hint(
            "wait until that one ends or stop it; a running station takes commands with the same --home",
        )
    }

    /// Whether there is a store.
    #[must_use]
    pub fn has_store(&self) -> bool {
        self.store().is_file()
    }

    /// Opens the store; the caller has the lock.
    ///
    /// # Errors
    /// [`CliError`].
    pub fn open_store(&self, _: &DirectoryLock) -> Result<Store, CliError> {
        Ok(Store::open(&self.store(), Durability::Full)?)
    }

    /// Opens the station; the caller has the lock.
    ///
    /// # Errors
    /// [`CliError`], of the code `no-salon` when there is none.
    pub fn open_station(&self, lock: &DirectoryLock) -> Result<Station, CliError> {
        if !self.has_store() {
            return Err(self.empty());
        }
        let opened = Station::open(self.open_store(lock)?, Box::new(SystemClock), Box::new(OsRandomness));
        opened.map_err(|error| match error {
            StationError::Copy(SyncError::NoSalon) => self.empty(),
            other => other.into(),
        })
    }

    /// Who signed in at this station last.
    ///
    /// # Errors
    /// [`CliError`] when that cannot be read.
    pub fn signed_in(&self) -> Result<Option<PersonId>, CliError> {
        match fs::read(self.signed_in_file()) {
            Ok(bytes) => {
                let read: SignedIn = serde_json::from_slice(&bytes).map_err(|_| {
                    CliError::new("home", format!("{} cannot be read", self.signed_in_file().display()))
                        .hint("sign in again: tailcomb sign-in NAME")
                })?;
                Ok(Some(PersonId::new(read.person)))
            }
            Err(e) if e.kind() == io::ErrorKind::NotFound => Ok(None),
            Err(e) => Err(self.failed("cannot read who signed in at", &e)),
        }
    }

    /// Keeps who signed in.
    ///
    /// # Errors
    /// [`CliError`].
    pub fn remember(&self, person: Option<&PersonId>) -> Result<(), CliError> {
        let file = self.signed_in_file();
        let done = match person {
            None => match fs::remove_file(&file) {
                Err(e) if e.kind() == io::ErrorKind::NotFound => Ok(()),
                done => done,
            },
            Some(person) => {
                let signed_in = SignedIn { person: person.as_str().to_owned() };
                let text = serde_json::to_vec(&signed_in).map_err(io::Error::from);
                // Whole or not at all, whenever the power goes.
                let fresh = file.with_extension("new");
                text.and_then(|text| write_private(&fresh, &text)).and_then(|()| fs::rename(&fresh, &file))
            }
        };
        done.map_err(|e| self.failed("cannot keep who signed in at", &e))
    }

    /// Keeps the relay's own authority, from now on the only one that this station trusts; `None` forgets an earlier one.
    ///
    /// # Errors
    /// [`CliError`] for a file that cannot be read, or is no certificate.
    pub fn trust_authority(&self, _: &DirectoryLock, file: Option<&Path>) -> Result<(), CliError> {
        let done = match file {
            None => match fs::remove_file(self.authority_file()) {
                Err(e) if e.kind() == io::ErrorKind::NotFound => Ok(()),
                done => done,
            },
            Some(file) => {
                let pem = fs::read(file)
                    .map_err(|e| CliError::input(format!("{} cannot be read: {e}", file.display())))?;
                let pem = as_pem(pem);
                Trust::only(&pem)?;
                write_private(&self.authority_file(), &pem)
            }
        };
        done.map_err(|e| self.failed("cannot keep the relay's authority in", &e))
    }

    /// Whom this station believes that a relay is the salon's.
    ///
    /// # Errors
    /// [`CliError`] when that cannot be read.
    pub fn trust(&self) -> Result<Trust, CliError> {
        match fs::read(self.authority_file()) {
            Ok(pem) => Ok(Trust::only(&pem)?),
            Err(e) if e.kind() == io::ErrorKind::NotFound => Ok(Trust::system()),
            Err(e) => Err(self.failed("cannot read whom to trust at", &e)),
        }
    }

    fn authority_file(&self) -> PathBuf {
        self.dir.join("authority.pem")
    }

    fn signed_in_file(&self) -> PathBuf {
        self.dir.join("signed-in.json")
    }
}

/// As PEM, whichever of the two forms the relay hands out this is.
fn as_pem(bytes: Vec<u8>) -> Vec<u8> {
    if bytes.trim_ascii_start().starts_with(b"-----") {
        return bytes;
    }
    let text = BASE64_MIME.encode(&bytes);
    format!("-----BEGIN CERTIFICATE-----\n{}\n-----END CERTIFICATE-----\n", text.trim()).into_bytes()
}

fn write_private(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let mut file = OpenOptions::new().create(true).truncate(true).write(true).mode(0o600).open(path)?;
    file.write_all(bytes)?;
    file.sync_all()
}

#[cfg(test)]
mod tests {
    use std::os::unix::fs::PermissionsExt;

    use super::*;

    fn home() -> (tempfile::TempDir, Home) {
        let dir = tempfile::tempdir().unwrap();
        let home = Home::at(Some(&dir.path().join("chair"))).unwrap();
        home.make().unwrap();
        (dir, home)
    }

    #[test]
    fn only_one_has_the_store_open_at_a_time() {
        let (_dir, home) = home();
        let lock = home.try_lock().unwrap().unwrap();
        assert!(home.try_lock().unwrap().is_none());
        let error = home.in_use();
        assert_eq!(error.code, "in-use");
        assert!(error.say.contains(&std::process::id().to_string()), "{error}");
        drop(lock);
        assert!(home.try_lock().unwrap().is_some());
    }

    #[test]
    fn the_directory_is_its_owners_alone() {
        let (_dir, home) = home();
        assert_eq!(fs::metadata(home.dir()).unwrap().permissions().mode() & 0o777, 0o700);
    }

    #[test]
    fn who_signed_in_is_remembered_until_they_sign_out() {
        let (_dir, home) = home();
        assert_eq!(home.signed_in().unwrap(), None);
        home.remember(Some(&PersonId::new("mara"))).unwrap();
        assert_eq!(home.signed_in().unwrap(), Some(PersonId::new("mara")));
        home.remember(None).unwrap();
        home.remember(None).unwrap();
        assert_eq!(home.signed_in().unwrap(), None);
    }

    #[test]
    fn a_directory_without_a_station_says_how_to_get_one() {
        let (_dir, home) = home();
        let lock = home.try_lock().unwrap().unwrap();
        let error = home.open_station(&lock).unwrap_err();
        assert_eq!(error.code, "no-salon");
        assert!(error.hint.unwrap().contains("tailcomb join"));
        assert!(!home.has_store());
    }
}
