//! Word of what changes: the floor, the alarms, the status line. Told when it is other than it was told last, whatever
//! brought that about: a command, another station, time.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::{Arc, Mutex, PoisonError, Weak};
use std::time::Duration;

use tailcomb_core::net::SharedStation;
use tailcomb_core::record::floor::FloorView;
use tailcomb_core::record::timer::Alarm;
use tailcomb_core::station::hosted::HostError;
use tailcomb_core::station::{Station, StationError};
use tailcomb_core::sync::Status;
use tokio::sync::Notify;
use tokio::sync::broadcast::error::RecvError;

use crate::host::AlarmScheduler;
use crate::running::{Running, runtime};

/// iOS keeps no more notifications than these.
const MOST_ALARMS: usize = 64;
/// How long to rest after a look: what comes in a burst is told together.
const REST: Duration = Duration::from_millis(20);
/// How long to wait at most; the status line and the floor also change by time.
const LONGEST: Duration = Duration::from_secs(60);
/// How long who ends a station waits for one that is being told.
const MOST_RESTED: Duration = Duration::from_millis(500);

/// Is told what stands, and whenever it changes. Called from a thread of Tailcomb's, one call at a time; a call that
/// waits for long keeps news from everybody.
#[uniffi::export(foreign)]
pub trait Observer: Send + Sync {
    /// The floor: running timers by due time, clients, tests that wait.
    fn floor(&self, floor: FloorView);
    /// The instants at which this station must make itself noticed, soonest first, at most 64.
    fn alarms(&self, alarms: Vec<Alarm>);
    /// How the station stands with the others.
    fn status(&self, status: Status);
}

/// Goes on until it is ended or dropped.
#[derive(uniffi::Object)]
pub struct Observation {
    observer: Arc<dyn Observer>,
    told: Mutex<Told>,
    ended: std::sync::atomic::AtomicBool,
}

impl std::fmt::Debug for Observation {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Observation").field("ended", &self.ended).finish_non_exhaustive()
    }
}

#[uniffi::export]
impl Observation {
    /// Nothing more is told, but for a call that is under way.
    pub fn end(&self) {
        self.ended.store(true, std::sync::atomic::Ordering::Release);
    }
}

/// What was told last.
#[derive(Default)]
struct Told {
    floor: Option<FloorView>,
    alarms: Option<Vec<Alarm>>,
    status: Option<Status>,
}

/// What stands.
struct Seen {
    floor: FloorView,
    alarms: Vec<Alarm>,
    status: Status,
}

impl Seen {
    fn of(station: &mut Station) -> Result<Self, StationError> {
        Ok(Self {
            floor: station.floor()?,
            alarms: station.next_alarms(MOST_ALARMS)?,
            status: station.status()?,
        })
    }
}

/// All who watch one station.
pub(crate) struct Watch(Arc<Watchers>);

struct Watchers {
    observations: Mutex<Vec<Weak<Observation>>>,
    scheduler: Option<Arc<dyn AlarmScheduler>>,
    scheduled: Mutex<Option<Vec<Alarm>>>,
    /// Held while somebody is told.
    telling: tokio::sync::Mutex<()>,
    look: Notify,
}

impl Watch {
    pub(crate) fn new(scheduler: Option<Arc<dyn AlarmScheduler>>) -> Self {
        let (observations, scheduled) = (Mutex::default(), Mutex::default());
        let (telling, look) = (tokio::sync::Mutex::default(), Notify::new());
        Self(Arc::new(Watchers { observations, scheduler, scheduled, telling, look }))
    }

    /// Something may have changed.
    pub(crate) fn look(&self) {
        self.0.look.notify_one();
    }

    /// For who ends a station: a host that is told nothing more may end its own threads next. Not waited for long, since
    /// a host may itself wait for the end while it is told.
    pub(crate) fn rest(&self) -> Result<(), HostError> {
        runtime()?.block_on(async { drop(tokio::time::timeout(MOST_RESTED, self.0.telling.lock()).await) });
        Ok(())
    }

    pub(crate) fn add(&self, observer: Arc<dyn Observer>) -> Arc<Observation> {
        let observation = Arc::new(Observation {
            observer,
            told: Mutex::default(),
            ended: std::sync::atomic::AtomicBool::new(false),
        });
        lock(&self.0.observations).push(Arc::downgrade(&observation));
        self.look();
        observation
    }

    /// Watches a station for as long as it is open.
    pub(crate) fn begin(&self, running: &Running) -> Result<(), HostError> {
        let (watchers, shared) = (self.0.clone(), running.shared.clone());
        running.spawn(async move { watchers.watch(shared).await })
    }
}

impl Watchers {
    async fn watch(self: Arc<Self>, shared: SharedStation) {
        let mut happenings = shared.happenings();
        loop {
            let mut wait = LONGEST;
            if self.is_wanted() {
                let (watchers, station) = (self.clone(), shared.clone());
                // Beside the exchanges: the host may take its time.
                let next = tokio::task::spawn_blocking(move || watchers.tell(station)).await;
                wait = next.unwrap_or(LONGEST);
                tokio::time::sleep(REST).await;
            }
            tokio::select! {
                () = self.look.notified() => {}
                () = tokio::time::sleep(wait) => {}
                happened = happenings.recv() => match happened {
                    Ok(_) | Err(RecvError::Lagged(_)) => {}
                    Err(RecvError::Closed) => return,
                },
            }
        }
    }

    fn is_wanted(&self) -> bool {
        let mut observations = lock(&self.observations);
        observations.retain(|one| one.upgrade().is_some_and(|one| one.goes_on()));
        self.scheduler.is_some() || !observations.is_empty()
    }

    /// Tells everybody what is new to them; gives how long it is until time alone changes something.
    fn tell(&self, station: SharedStation) -> Duration {
        let _telling = self.telling.blocking_lock();
        let seen = station.with(|station| Seen::of(station).map(|seen| (station.now().ms, seen)));
        // The host's calls must not keep the station's files open.
        drop(station);
        let (now, seen) = match seen {
            Ok(seen) => seen,
            Err(error) => {
                tracing::warn!(code = error.code(), "the floor could not be read");
                return LONGEST;
            }
        };
        if let Some(scheduler) = &self.scheduler {
            let mut scheduled = lock(&self.scheduled);
            if scheduled.as_ref() != Some(&seen.alarms) {
                *scheduled = Some(seen.alarms.clone());
                tell(|| scheduler.schedule(seen.alarms.clone()));
            }
        }
        let observations: Vec<Arc<Observation>> =
            lock(&self.observations).iter().filter_map(Weak::upgrade).collect();
        for observation in observations {
            observation.tell(&seen);
        }
        let next = seen.alarms.iter().map(|alarm| alarm.due_ms - now).find(|ms| *ms > 0);
        let next = next.and_then(|ms| u64::try_from(ms).ok()).map(Duration::from_millis);
        next.unwrap_or(LONGEST).min(LONGEST)
    }
}

impl Observation {
    fn goes_on(&self) -> bool {
        !self.ended.load(std::sync::atomic::Ordering::Acquire)
    }

    fn tell(&self, seen: &Seen) {
        let mut told = lock(&self.told);
        if self.goes_on() && told.floor.as_ref() != Some(&seen.floor) {
            told.floor = Some(seen.floor.clone());
            tell(|| self.observer.floor(seen.floor.clone()));
        }
        if self.goes_on() && told.alarms.as_ref() != Some(&seen.alarms) {
            told.alarms = Some(seen.alarms.clone());
            tell(|| self.observer.alarms(seen.alarms.clone()));
        }
        if self.goes_on() && told.status.as_ref() != Some(&seen.status) {
            told.status = Some(seen.status.clone());
            tell(|| self.observer.status(seen.status.clone()));
        }
    }
}

/// What the host raises when it is told keeps nobody else from being told.
pub(crate) fn tell(call: impl FnOnce()) {
    if catch_unwind(AssertUnwindSafe(call)).is_err() {
        tracing::warn!("the host failed at what it was told");
    }
}

fn lock<T>(of: &Mutex<T>) -> std::sync::MutexGuard<'_, T> {
    of.lock().unwrap_or_else(PoisonError::into_inner)
}
