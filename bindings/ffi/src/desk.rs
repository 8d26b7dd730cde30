//! The place of a station on this device: empty, open, paused or closed. While it is paused or closed no file of it is open
//! and no lock is held.

use std::fs;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::PathBuf;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use tailcomb_core::ids::PersonId;
use tailcomb_core::net::{SharedStation, Trust};
use tailcomb_core::station::Station;
use tailcomb_core::station::hosted::{HostError, Job, Owner, Tell};
use tailcomb_core::store::{DirectoryLock, Durability, Store};
use tailcomb_core::time::Clock;
use tailcomb_core::time::clock::SystemClock;
use tailcomb_core::trade::{Told, term, told};
use tailcomb_core::wire::lock::LockKey;
use tailcomb_core::wire::random::OsRandomness;
use tokio::sync::oneshot;

use crate::failing;
use crate::host::{FileVault, HostClock, HostServices, KeyVault, KeyVaultError, Lent};
use crate::line::{Asked, Line};
use crate::running::Running;
use crate::watch::Watch;

/// How long whoever is about to let go of a station is waited for.
const LETTING_GO: Duration = Duration::from_secs(1);
/// How often a taken lock is tried again. The system has no signal for it.
const TRY_AGAIN: Duration = Duration::from_millis(20);

/// How the device's station stands.
enum Standing {
    /// There is none yet.
    Empty,
    /// It is open.
    Open(Arc<Running>),
    /// It is there and not open.
    Paused(Option<PersonId>),
    /// Nothing will be asked of it any more.
    Closed,
}

/// See the module.
pub(crate) struct Desk {
    pub(crate) directory: PathBuf,
    vault: Arc<dyn KeyVault>,
    clock: Option<Arc<dyn HostClock>>,
    pub(crate) trust: Trust,
    standing: Mutex<Standing>,
    pub(crate) line: Line,
    pub(crate) watch: Watch,
}

impl Desk {
    /// The place in this directory, and what is kept there, opened.
    pub(crate) fn open(directory: PathBuf, host: &mut HostServices) -> Result<Arc<Self>, HostError> {
        let trust = match &host.authority {
            Some(authority) => Trust::only(authority).map_err(failing::of_net)?,
            None => Trust::system(),
        };
        let vault = host.key_vault.take().unwrap_or_else(|| Arc::new(FileVault(directory.join("key"))));
        let (line, served) = Line::new();
        let desk = Arc::new(Self {
            directory,
            vault,
            clock: host.clock.take(),
            trust,
            standing: Mutex::new(Standing::Empty),
            line,
            watch: Watch::new(host.alarms.take()),
        });
        desk.make_directory()?;
        if desk.store_file().is_file() {
            match desk.reopen(None) {
                // A store without a salon in it: founding was broken off.
                Err(HostError::Device { code, .. }) if code == "no-salon" => {}
                other => other?,
            }
        }
        served.begin(&desk)?;
        Ok(desk)
    }

    fn standing(&self) -> MutexGuard<'_, Standing> {
        self.standing.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// What is open, or why nothing is.
    pub(crate) fn running(&self) -> Result<Arc<Running>, HostError> {
        match &*self.standing() {
            Standing::Open(running) => Ok(running.clone()),
            Standing::Empty => Err(HostError::refused(
                "no-salon",
                term!("no salon is here yet: found one, or join one by its invitation"),
            )),
            Standing::Paused(_) => Err(HostError::paused()),
            Standing::Closed => Err(HostError::closed()),
        }
    }

    pub(crate) fn is_empty(&self) -> bool {
        matches!(*self.standing(), Standing::Empty)
    }

    /// Does something in its turn and gives what came of it.
    pub(crate) async fn turn<R: Send + 'static>(
        &self,
        work: impl FnOnce(&Self) -> Result<R, HostError> + Send + 'static,
    ) -> Result<R, HostError> {
        let (done, answer) = oneshot::channel();
        self.line.ask(Asked::Turn(Box::new(move |desk| drop(done.send(work(desk))))))?;
        answer.await.map_err(|_| HostError::internal())?
    }

    /// What needs the network: begun at once, ended with the station.
    pub(crate) async fn errand<R: Send + 'static, F>(
        &self,
        work: impl FnOnce(SharedStation) -> F + Send + 'static,
    ) -> Result<R, HostError>
    where
        F: Future<Output = Result<R, HostError>> + Send + 'static,
    {
        let running = self.running()?;
        let (done, answer) = oneshot::channel();
        let work = work(running.shared.clone());
        running.spawn(async move { drop(done.send(work.await)) })?;
        drop(running);
        let answer = answer.await.map_err(|_| HostError::paused())?;
        self.watch.look();
        answer
    }

    fn store_file(&self) -> PathBuf {
        self.directory.join("station.db")
    }

    pub(crate) fn clock(&self) -> Box<dyn Clock> {
        match &self.clock {
            Some(clock) => Box::new(Lent(clock.clone())),
            None => Box::new(SystemClock),
        }
    }

    fn make_directory(&self) -> Result<(), HostError> {
        fs::create_dir_all(&self.directory).map_err(unusable)
    }

    /// Keeps other processes out; the terminal station keeps to the same file. Waits a moment for one that is just letting
    /// go of it: a command that ends, an object that was dropped.
    fn lock(&self) -> Result<DirectoryLock, HostError> {
        self.make_directory()?;
        let until = Instant::now() + LETTING_GO;
        loop {
            match DirectoryLock::try_take(&self.directory).map_err(unusable)? {
                Some(lock) => return Ok(lock),
                None if Instant::now() < until => std::thread::sleep(TRY_AGAIN),
                None => {
                    return Err(HostError::device(
                        "in-use",
                        term!("another process has this station open: end it, or choose another directory"),
                    ));
                }
            }
        }
    }

    /// The store, its secrets locked under the vault's key.
    pub(crate) fn store(&self) -> Result<Store, HostError> {
        let key = self.key()?;
        let mut store = Store::open(&self.store_file(), Durability::Full).map_err(failing::of_store)?;
        store.lock_secrets(key);
        Ok(store)
    }

    fn key(&self) -> Result<LockKey, HostError> {
        let failed = |error: Told| {
            HostError::device("locked", told!("the device gives no key for the station: {error}", error))
        };
        let vaults = |error: KeyVaultError| failed(Told::written(error.to_string()));
        if let Some(kept) = self.vault.key().map_err(vaults)? {
            let key = <[u8; 32]>::try_from(kept).map_err(|_| failed(term!("a key has 32 bytes").told()))?;
            return Ok(LockKey::from_bytes(key));
        }
        let key = LockKey::generate(&mut OsRandomness);
        self.vault.keep(key.bytes().to_vec()).map_err(vaults)?;
        Ok(key)
    }

    pub(crate) fn begin_is_possible(&self) -> Result<(), HostError> {
        match &*self.standing() {
            Standing::Empty => Ok(()),
            Standing::Closed => Err(HostError::closed()),
            _ => Err(HostError::refused("station-exists", term!("this device is a station already"))),
        }
    }

    /// A station where none was.
    pub(crate) fn begin(
        &self,
        make: impl FnOnce(&Self) -> Result<Station, HostError>,
    ) -> Result<(), HostError> {
        self.begin_is_possible()?;
        let lock = self.lock()?;
        let station = make(self)?;
        self.opened(station, lock)
    }

    fn opened(&self, station: Station, lock: DirectoryLock) -> Result<(), HostError> {
        let running = Running::begin(station, &self.trust, lock)?;
        self.watch.begin(&running)?;
        *self.standing() = Standing::Open(running);
        Ok(())
    }

    /// Opens what is there.
    fn reopen(&self, person: Option<PersonId>) -> Result<(), HostError> {
        let lock = self.lock()?;
        let mut station = Station::open(self.store()?, self.clock(), Box::new(OsRandomness))?;
        if let Some(person) = person {
            station.sign_in(person);
        }
        self.opened(station, lock)
    }

    /// Lets go of everything, to be opened again.
    pub(crate) fn pause(&self) -> Result<(), HostError> {
        self.end(Standing::Paused)
    }

    /// Goes on after a pause, with whoever was signed in.
    pub(crate) fn resume(&self) -> Result<(), HostError> {
        let person = match &*self.standing() {
            Standing::Paused(person) => person.clone(),
            Standing::Closed => return Err(HostError::closed()),
            Standing::Open(_) | Standing::Empty => return Ok(()),
        };
        self.reopen(person)
    }

    /// Lets go of everything, for good.
    pub(crate) fn close(&self) -> Result<(), HostError> {
        self.end(|_| Standing::Closed)
    }

    fn end(&self, next: impl Fn(Option<PersonId>) -> Standing) -> Result<(), HostError> {
        let mut standing = self.standing();
        match std::mem::replace(&mut *standing, next(None)) {
            Standing::Open(running) => {
                // From here on whoever asks is refused, and need not wait for the end.
                drop(standing);
                let person = Running::end(running)?;
                self.watch.rest()?;
                *self.standing() = next(person);
            }
            Standing::Paused(person) => *standing = next(person),
            Standing::Closed => *standing = Standing::Closed,
            Standing::Empty => {
                if matches!(*standing, Standing::Paused(_)) {
                    *standing = Standing::Empty;
                }
            }
        }
        Ok(())
    }
}

fn unusable(error: std::io::Error) -> HostError {
    let error = error.to_string();
    HostError::device("directory", told!("the station's directory cannot be used: {error}", error))
}

impl Owner for Desk {
    fn queue(&self, job: Job) -> Result<(), HostError> {
        self.running()?;
        self.line.ask(Asked::Work(job))
    }

    fn at_once(&self, ask: &mut dyn FnMut(&mut Station)) -> Result<bool, HostError> {
        let running = self.running()?;
        // As in `serve`: who waits for the answer of work that went wrong is told so.
        let asked = catch_unwind(AssertUnwindSafe(|| running.shared.ask_at_once(ask).is_some()));
        Ok(asked.unwrap_or(true))
    }

    fn when_free(&self, tell: Tell) -> Result<(), HostError> {
        self.running()?;
        self.line.ask(Asked::WhenFree(tell))
    }
}

impl Drop for Desk {
    fn drop(&mut self) {
        // Exchanges hold the station, too, and whoever lets go of it here may be in no position to wait for them.
        if let Standing::Open(running) = std::mem::replace(&mut *self.standing(), Standing::Closed) {
            std::thread::spawn(move || drop(Running::end(running)));
        }
    }
}
