//! One station on this device: empty, open, paused or closed, and the thread that does what is asked of it, in order.
//! While it is paused or closed no file of it is open and no lock is held.

use std::fs::{self, File};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::PathBuf;
use std::sync::mpsc::{self, Receiver, Sender};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError, Weak};
use std::time::{Duration, Instant};

use tailcomb_core::ids::{DocId, EntryId, PersonId};
use tailcomb_core::net::{self, SharedStation, Trust};
use tailcomb_core::record::visit::PhotoOf;
use tailcomb_core::station::hosted::{HostError, HostedStation, Job, Owner};
use tailcomb_core::station::{NewSalon, RelayFound, Station};
use tailcomb_core::store::{Durability, Store};
use tailcomb_core::sync::{Joining, Status};
use tailcomb_core::time::Clock;
use tailcomb_core::time::clock::SystemClock;
use tailcomb_core::wire::ids::DeviceId;
use tailcomb_core::wire::keys::StationSecret;
use tailcomb_core::wire::link::InvitationLink;
use tailcomb_core::wire::lock::LockKey;
use tailcomb_core::wire::random::OsRandomness;
use tailcomb_core::wire::recovery::RecoverySecret;
use tokio::sync::oneshot;

use crate::failing;
use crate::host::{FileVault, HostClock, HostServices, KeyVault, Lent, NetworkTold};
use crate::running::{Running, runtime};
use crate::watch::{Observation, Observer, Watch};

/// How long whoever is about to let go of a station is waited for.
const LETTING_GO: Duration = Duration::from_secs(1);
/// How often a taken lock is tried again. The system has no signal for it.
const TRY_AGAIN: Duration = Duration::from_millis(20);

/// What was asked of the thread.
enum Asked {
    /// Work on the station.
    Work(Job),
    /// Anything else that must wait its turn.
    Turn(Box<dyn FnOnce(&Desk) + Send>),
}

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
    directory: PathBuf,
    vault: Arc<dyn KeyVault>,
    clock: Option<Arc<dyn HostClock>>,
    trust: Trust,
    standing: Mutex<Standing>,
    asked: Mutex<Option<Sender<Asked>>>,
    /// Heard of when the thread has ended.
    ended: Mutex<Option<oneshot::Receiver<()>>>,
    watch: Watch,
}

impl Desk {
    fn standing(&self) -> MutexGuard<'_, Standing> {
        self.standing.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// What is open, or why nothing is.
    pub(crate) fn running(&self) -> Result<Arc<Running>, HostError> {
        match &*self.standing() {
            Standing::Open(running) => Ok(running.clone()),
            Standing::Empty => Err(failing::refused(
                "no-salon",
                "no salon is here yet: found one, or join one by its invitation",
            )),
            Standing::Paused(_) => Err(HostError::paused()),
            Standing::Closed => Err(HostError::closed()),
        }
    }

    fn ask(&self, asked: Asked) -> Result<(), HostError> {
        let sender = self.asked.lock().unwrap_or_else(PoisonError::into_inner);
        let sender = sender.as_ref().ok_or_else(HostError::closed)?;
        sender.send(asked).map_err(|_| HostError::closed())
    }

    /// Does something in its turn and gives what came of it.
    async fn turn<R: Send + 'static>(
        &self,
        work: impl FnOnce(&Self) -> Result<R, HostError> + Send + 'static,
    ) -> Result<R, HostError> {
        let (done, answer) = oneshot::channel();
        self.ask(Asked::Turn(Box::new(move |desk| drop(done.send(work(desk))))))?;
        answer.await.map_err(|_| HostError::internal())?
    }

    /// What needs the network: begun at once, ended with the station.
    async fn errand<R: Send + 'static, F>(
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

    /// Until nobody is left who could ask.
    fn serve(this: &Weak<Self>, asked: &Receiver<Asked>) {
        while let (Ok(next), Some(desk)) = (asked.recv(), this.upgrade()) {
            // A mistake in one piece of work ends that piece: whoever waits for it is told so, and the store rolled back.
            drop(catch_unwind(AssertUnwindSafe(|| match next {
                Asked::Work(job) => {
                    // Refused in the meantime: whoever waits is told that it was not begun.
                    if let Ok(running) = desk.running() {
                        running.shared.with(job);
                    }
                }
                Asked::Turn(work) => work(&desk),
            })));
            desk.watch.look();
        }
    }

    fn store_file(&self) -> PathBuf {
        self.directory.join("station.db")
    }

    fn clock(&self) -> Box<dyn Clock> {
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
    fn lock(&self) -> Result<File, HostError> {
        self.make_directory()?;
        let lock = File::options()
            .create(true)
            .truncate(false)
            .read(true)
            .write(true)
            .open(self.directory.join("lock"))
            .map_err(unusable)?;
        let until = Instant::now() + LETTING_GO;
        loop {
            match lock.try_lock() {
                Ok(()) => return Ok(lock),
                Err(fs::TryLockError::WouldBlock) if Instant::now() < until => std::thread::sleep(TRY_AGAIN),
                Err(fs::TryLockError::WouldBlock) => {
                    return Err(failing::device(
                        "in-use",
                        "another process has this station open: end it, or choose another directory",
                    ));
                }
                Err(fs::TryLockError::Error(error)) => return Err(unusable(error)),
            }
        }
    }

    /// The store, its secrets locked under the vault's key.
    fn store(&self) -> Result<Store, HostError> {
        let key = self.key()?;
        let mut store = Store::open(&self.store_file(), Durability::Full).map_err(failing::of_store)?;
        store.lock_secrets(key);
        Ok(store)
    }

    fn key(&self) -> Result<LockKey, HostError> {
        let failed =
            |error| failing::device("locked", format!("the device gives no key for the station: {error}"));
        let kept = self.vault.key().map_err(|error| failed(error.to_string()))?;
        if let Some(kept) = kept {
            let key = <[u8; 32]>::try_from(kept).map_err(|_| failed("a key has 32 bytes".to_owned()))?;
            return Ok(LockKey::from_bytes(key));
        }
        let key = LockKey::generate(&mut OsRandomness);
        self.vault.keep(key.bytes().to_vec()).map_err(|error| failed(error.to_string()))?;
        Ok(key)
    }

    fn begin_is_possible(&self) -> Result<(), HostError> {
        match &*self.standing() {
            Standing::Empty => Ok(()),
            Standing::Closed => Err(HostError::closed()),
            _ => Err(failing::refused("station-exists", "this device is a station already")),
        }
    }

    /// A station where none was.
    fn begin(&self, make: impl FnOnce(&Self) -> Result<Station, HostError>) -> Result<(), HostError> {
        self.begin_is_possible()?;
        let lock = self.lock()?;
        let station = make(self)?;
        self.opened(station, lock)
    }

    fn opened(&self, station: Station, lock: File) -> Result<(), HostError> {
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

    fn end(&self, next: impl Fn(Option<PersonId>) -> Standing) -> Result<(), HostError> {
        let mut standing = self.standing();
        match std::mem::replace(&mut *standing, next(None)) {
            Standing::Open(running) => {
                // From here on whoever asks is refused, and need not wait for the end.
                drop(standing);
                let person = Running::end(running)?;
                self.watch.rest();
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
    failing::device("directory", format!("the station's directory cannot be used: {error}"))
}

impl Owner for Desk {
    fn queue(&self, job: Job) -> Result<(), HostError> {
        self.running()?;
        self.ask(Asked::Work(job))
    }

    fn at_once(&self, job: Job) -> Result<Option<Job>, HostError> {
        let running = self.running()?;
        // As in `serve`: who waits for the answer of work that went wrong is told so.
        Ok(catch_unwind(AssertUnwindSafe(|| running.shared.ask_at_once(job))).unwrap_or(None))
    }
}

/// A salon just founded.
#[derive(uniffi::Record)]
pub struct Founded {
    /// Its first station, with the founder signed in.
    pub station: Arc<HostedStation>,
    /// The recovery words. To be printed, checked once and locked away; kept nowhere.
    pub recovery_words: String,
}

/// The station of this device.
#[derive(uniffi::Object)]
pub struct Tailcomb {
    desk: Arc<Desk>,
}

impl std::fmt::Debug for Tailcomb {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Tailcomb").field("directory", &self.desk.directory).finish_non_exhaustive()
    }
}

/// Opens the station that is kept in this directory, or an empty place for one. The directory is made if it is missing.
///
/// # Errors
/// [`HostError::Device`]: the directory cannot be used, another process has it, the vault gives no key.
#[uniffi::export]
pub async fn open(directory: String, host: HostServices) -> Result<Arc<Tailcomb>, HostError> {
    let opening = runtime()?.spawn_blocking(move || Tailcomb::open_now(PathBuf::from(directory), host));
    opening.await.map_err(|_| HostError::internal())?
}

impl Tailcomb {
    fn open_now(directory: PathBuf, host: HostServices) -> Result<Arc<Self>, HostError> {
        let trust = match &host.authority {
            Some(authority) => Trust::only(authority).map_err(failing::of_net)?,
            None => Trust::system(),
        };
        let vault = host.key_vault.unwrap_or_else(|| Arc::new(FileVault(directory.join("key"))));
        let (sender, receiver) = mpsc::channel();
        let (ending, ended) = oneshot::channel::<()>();
        let desk = Arc::new(Desk {
            directory,
            vault,
            clock: host.clock,
            trust,
            standing: Mutex::new(Standing::Empty),
            asked: Mutex::new(Some(sender)),
            ended: Mutex::new(Some(ended)),
            watch: Watch::new(host.alarms),
        });
        desk.make_directory()?;
        if desk.store_file().is_file() {
            match desk.reopen(None) {
                // A store without a salon in it: founding was broken off.
                Err(HostError::Device { code, .. }) if code == "no-salon" => {}
                other => other?,
            }
        }
        // The thread does not keep the station: when nobody else does any more, it ends.
        let served = Arc::downgrade(&desk);
        std::thread::Builder::new()
            .name("tailcomb-station".to_owned())
            .spawn(move || {
                Desk::serve(&served, &receiver);
                drop(ending);
            })
            .map_err(|error| failing::device("threads", format!("this device gives no thread: {error}")))?;
        if let Some(connectivity) = host.connectivity {
            let there = Arc::downgrade(&desk);
            connectivity.tell(Arc::new(NetworkTold(Box::new(move || try_at_once(&there)))));
        }
        Ok(Arc::new(Self { desk }))
    }
}

fn try_at_once(desk: &Weak<Desk>) {
    if let Some(Ok(running)) = desk.upgrade().map(|desk| desk.running()) {
        running.shared.try_at_once();
    }
}

#[uniffi::export]
impl Tailcomb {
    /// The station, with everything that can be done at it; none where no salon is yet. The same object may be kept over
    /// pauses.
    #[must_use]
    pub fn station(&self) -> Option<Arc<HostedStation>> {
        match &*self.desk.standing() {
            Standing::Empty => None,
            _ => Some(HostedStation::of(self.desk.clone())),
        }
    }

    /// Founds a salon here. Its recovery words are kept nowhere.
    ///
    /// # Errors
    /// [`HostError::Refused`] where a salon is already.
    pub async fn found(&self, new: NewSalon) -> Result<Founded, HostError> {
        let work = move |desk: &Desk| {
            let mut recovery_words = String::new();
            desk.begin(|desk| {
                let founded = Station::found(desk.store()?, &new, desk.clock(), Box::new(OsRandomness))?;
                founded.recovery.words().as_str().clone_into(&mut recovery_words);
                Ok(founded.station)
            })?;
            Ok(recovery_words)
        };
        let recovery_words = self.desk.turn(work).await?;
        Ok(Founded { station: HostedStation::of(self.desk.clone()), recovery_words })
    }

    /// Joins a salon by the link that one of its stations shows; `station` is what this one is called.
    ///
    /// # Errors
    /// [`HostError::Refused`] for a link that is none, [`HostError::Network`] where the relay cannot be reached or refuses.
    pub async fn join(&self, link: String, station: String) -> Result<Arc<HostedStation>, HostError> {
        let link = InvitationLink::parse(link.trim()).map_err(|error| failing::refused("link", error))?;
        self.admit(Joining::by_invitation(link, StationSecret::generate(&mut OsRandomness)), station).await
    }

    /// Joins a salon by its printed recovery words; `relay_url` is where its relay is.
    ///
    /// # Errors
    /// As [`Tailcomb::join`].
    pub async fn recover(
        &self,
        words: String,
        relay_url: String,
        station: String,
    ) -> Result<Arc<HostedStation>, HostError> {
        let words = RecoverySecret::from_words(&words).map_err(|error| failing::refused("words", error))?;
        let secret = StationSecret::generate(&mut OsRandomness);
        let joining = Joining::by_words(words, relay_url.trim_end_matches('/').to_owned(), secret);
        self.admit(joining, station).await
    }

    /// Makes an invitation for one newcomer: a link, good once, for ten minutes. Needs the relay.
    ///
    /// # Errors
    /// [`HostError::Network`].
    pub async fn invite(&self) -> Result<String, HostError> {
        self.desk.errand(|shared| async move { shared.invite().await.map_err(failing::of_net) }).await
    }

    /// Has the relay refuse a station from now on, and gives the others a new key. Needs the relay.
    ///
    /// # Errors
    /// [`HostError::Network`].
    pub async fn revoke(&self, device: String, why: String) -> Result<(), HostError> {
        let device = DeviceId::parse(&device).ok_or_else(|| {
            failing::refused("not-found", "this is no station's name: list the stations and pick one")
        })?;
        self.desk
            .errand(move |shared| async move { shared.revoke(device, &why).await.map_err(failing::of_net) })
            .await
    }

    /// Goes on with a relay that has another address now, if it has this salon; `anew`: even if it has never heard of it,
    /// and is to be given what this station holds.
    ///
    /// # Errors
    /// [`HostError::Network`]; the address stays as it was.
    pub async fn find_relay(&self, url: String, anew: bool) -> Result<RelayFound, HostError> {
        self.desk
            .errand(move |shared| async move { shared.move_relay(&url, anew).await.map_err(failing::of_net) })
            .await
    }

    /// Founds the salon anew, by its recovery words, at a relay that has lost everything.
    ///
    /// # Errors
    /// [`HostError::Refused`] for words that are none, [`HostError::Network`] for another salon's.
    pub async fn found_anew(&self, words: String) -> Result<(), HostError> {
        let words = RecoverySecret::from_words(&words).map_err(|error| failing::refused("words", error))?;
        self.desk
            .turn(move |desk| Ok(desk.running()?.shared.with(|station| station.found_anew(&words))?))
            .await
    }

    /// Sends and reads everything once, within so many milliseconds: for background time that the system grants. What is
    /// not done by then stays for the next time. An unreachable relay is no error: see the status.
    ///
    /// # Errors
    /// [`HostError::Device`] of this device's own storage.
    pub async fn exchange(&self, within_ms: u32) -> Result<Status, HostError> {
        let within = Duration::from_millis(u64::from(within_ms));
        self.desk.errand(move |shared| async move { Ok(shared.sync_once(within).await?) }).await
    }

    /// Asks the relay now instead of after the wait.
    pub fn try_at_once(&self) {
        try_at_once(&Arc::downgrade(&self.desk));
    }

    /// This device's name on the roster.
    ///
    /// # Errors
    /// [`HostError::Refused`] where no salon is yet.
    pub async fn device(&self) -> Result<String, HostError> {
        self.desk.turn(|desk| Ok(desk.running()?.shared.with(|station| station.device().to_string()))).await
    }

    /// Keeps a photograph, a JPEG, PNG or WebP file of less than 1 MiB, as it is: what a camera wrote into it must be out
    /// of it already. Gives its name on the visit. It goes to the relay when that can be reached.
    ///
    /// # Errors
    /// [`HostError::Refused`].
    pub async fn keep_photo(
        &self,
        visit: DocId,
        of: PhotoOf,
        note: String,
        picture: Vec<u8>,
    ) -> Result<EntryId, HostError> {
        let keep = move |station: &mut Station| station.keep_photo(&visit, of, &note, &picture);
        self.desk.turn(move |desk| Ok(desk.running()?.shared.with(keep)?)).await
    }

    /// The picture of a photograph, asked of the relay where it is not here.
    ///
    /// # Errors
    /// [`HostError::Network`], [`HostError::Refused`].
    pub async fn photo(&self, visit: DocId, photo: EntryId) -> Result<Vec<u8>, HostError> {
        let ask = move |shared: SharedStation| async move {
            shared.photo(&visit, &photo).await.map_err(failing::of_net)
        };
        self.desk.errand(ask).await
    }

    /// Calls back with what stands now and whenever it changes, until the observation is ended or dropped.
    pub fn observe(&self, observer: Arc<dyn Observer>) -> Arc<Observation> {
        self.desk.watch.add(observer)
    }

    /// For an app that is about to be suspended: what is under way is finished or left for later, and within a second no
    /// file is open and no lock is held. What is asked from now on is refused with the code `paused`.
    ///
    /// # Errors
    /// [`HostError::Device`]; it is paused all the same.
    pub async fn pause(&self) -> Result<(), HostError> {
        self.desk.turn(|desk| desk.end(Standing::Paused)).await
    }

    /// Goes on after a pause, with whoever was signed in.
    ///
    /// # Errors
    /// [`HostError::Device`]; it stays paused.
    pub async fn resume(&self) -> Result<(), HostError> {
        self.desk
            .turn(|desk| {
                let person = match &*desk.standing() {
                    Standing::Paused(person) => person.clone(),
                    Standing::Closed => return Err(HostError::closed()),
                    Standing::Open(_) | Standing::Empty => return Ok(()),
                };
                desk.reopen(person)
            })
            .await
    }

    /// Ends it: what was asked before is done, every file is closed, and the thread ends. Dropping the last object does
    /// the same.
    ///
    /// # Errors
    /// [`HostError::Device`]; it is closed all the same.
    pub async fn shut(&self) -> Result<(), HostError> {
        let result = self.desk.turn(|desk| desk.end(|_| Standing::Closed)).await;
        self.desk.asked.lock().unwrap_or_else(PoisonError::into_inner).take();
        // A host that ends next must not be called any more, be it to let go of what it lent.
        let ended = self.desk.ended.lock().unwrap_or_else(PoisonError::into_inner).take();
        if let Some(ended) = ended {
            drop(ended.await);
        }
        match result {
            Err(HostError::Closed { .. }) => Ok(()),
            other => other,
        }
    }
}

impl Tailcomb {
    async fn admit(&self, joining: Joining, name: String) -> Result<Arc<HostedStation>, HostError> {
        self.desk.turn(|desk| desk.begin_is_possible()).await?;
        let trust = self.desk.trust.clone();
        let joined = runtime()?.spawn(async move { net::join(joining, &trust).await });
        let admission = joined.await.map_err(|_| HostError::internal())?.map_err(failing::of_net)?;
        let work = move |desk: &Desk| {
            desk.begin(|desk| {
                Ok(Station::admitted(desk.store()?, admission, &name, desk.clock(), Box::new(OsRandomness))?)
            })
        };
        self.desk.turn(work).await?;
        Ok(HostedStation::of(self.desk.clone()))
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
