//! The object that apps hold: the station of this device, empty, open, paused or closed.

use std::path::PathBuf;
use std::sync::{Arc, Weak};
use std::time::Duration;

use tailcomb_core::ids::{DocId, EntryId};
use tailcomb_core::net::{self, SharedStation};
use tailcomb_core::record::visit::PhotoOf;
use tailcomb_core::station::hosted::{HostError, HostedStation};
use tailcomb_core::station::{NewSalon, RelayFound, Station};
use tailcomb_core::sync::{Joining, Status, Tell as _};
use tailcomb_core::trade::term;
use tailcomb_core::wire::ids::DeviceId;
use tailcomb_core::wire::keys::StationSecret;
use tailcomb_core::wire::link::InvitationLink;
use tailcomb_core::wire::random::OsRandomness;
use tailcomb_core::wire::recovery::RecoverySecret;

use crate::desk::Desk;
use crate::failing;
use crate::host::{HostServices, NetworkTold};
use crate::running::runtime;
use crate::watch::{Observation, Observer, tell};

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
    fn open_now(directory: PathBuf, mut host: HostServices) -> Result<Arc<Self>, HostError> {
        let desk = Desk::open(directory, &mut host)?;
        if let Some(connectivity) = host.connectivity {
            let there = Arc::downgrade(&desk);
            let told = Arc::new(NetworkTold(Box::new(move || try_at_once(&there))));
            // Without word of the network there are still exchanges, a little later.
            tell(|| connectivity.tell(told));
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
        (!self.desk.is_empty()).then(|| HostedStation::of(self.desk.clone()))
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
        let link =
            InvitationLink::parse(link.trim()).map_err(|error| HostError::refused("link", error.told()))?;
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
        let words =
            RecoverySecret::from_words(&words).map_err(|error| HostError::refused("words", error.told()))?;
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
            let said = term!("this is no station's name: list the stations and pick one");
            HostError::refused("not-found", said)
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
        let words =
            RecoverySecret::from_words(&words).map_err(|error| HostError::refused("words", error.told()))?;
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
        self.desk.turn(Desk::pause).await
    }

    /// Goes on after a pause, with whoever was signed in.
    ///
    /// # Errors
    /// [`HostError::Device`]; it stays paused.
    pub async fn resume(&self) -> Result<(), HostError> {
        self.desk.turn(Desk::resume).await
    }

    /// Ends it: what was asked before is done, every file is closed, and the thread ends. Dropping the last object does
    /// the same.
    ///
    /// # Errors
    /// [`HostError::Device`]; it is closed all the same.
    pub async fn shut(&self) -> Result<(), HostError> {
        let result = self.desk.turn(Desk::close).await;
        // A host that ends next must not be called any more, be it to let go of what it lent.
        self.desk.line.end().await;
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
