//! A station that is open: its files, and the exchanges that run for it. Dropping it is not enough to end it, since
//! exchanges hold it too; [`Running::end`] lets go of every file.

use std::fs::File;
use std::future::Future;
use std::sync::{Arc, LazyLock, Mutex, PoisonError};

use tailcomb_core::net::{SharedStation, Trust};
use tailcomb_core::station::Station;
use tailcomb_core::station::hosted::HostError;
use tokio::runtime::Runtime;
use tokio::task::JoinSet;

use crate::failing;

/// Where exchanges run, for all stations of the process: they wait far more than they work.
static RUNTIME: LazyLock<std::io::Result<Runtime>> = LazyLock::new(|| {
    tokio::runtime::Builder::new_multi_thread()
        .worker_threads(1)
        .thread_name("tailcomb-net")
        .enable_all()
        .build()
});

pub(crate) fn runtime() -> Result<&'static Runtime, HostError> {
    RUNTIME
        .as_ref()
        .map_err(|error| failing::device("threads", format!("this device gives no thread: {error}")))
}

/// See the module.
#[derive(Debug)]
pub(crate) struct Running {
    pub(crate) shared: SharedStation,
    /// Exchanges and errands: whatever holds the station besides commands.
    tasks: Mutex<JoinSet<()>>,
    /// Keeps other processes out of the station's directory.
    _lock: File,
}

impl Running {
    /// Begins exchanges.
    pub(crate) fn begin(station: Station, trust: &Trust, lock: File) -> Result<Arc<Self>, HostError> {
        let shared = SharedStation::new(station, trust).map_err(failing::of_net)?;
        let running = Arc::new(Self { shared, tasks: Mutex::default(), _lock: lock });
        let exchanges = running.shared.clone();
        running.spawn(async move { exchanges.run().await })?;
        Ok(running)
    }

    /// Runs something that ends with the station.
    pub(crate) fn spawn(&self, work: impl Future<Output = ()> + Send + 'static) -> Result<(), HostError> {
        let mut tasks = self.tasks.lock().unwrap_or_else(PoisonError::into_inner);
        // Those that have ended need not be kept.
        while tasks.try_join_next().is_some() {}
        tasks.spawn_on(work, runtime()?.handle());
        Ok(())
    }

    /// Ends exchanges, puts everything into the store's file and closes it, with all its locks. Gives who was signed in.
    pub(crate) fn end(this: Arc<Self>) -> Result<Option<tailcomb_core::ids::PersonId>, HostError> {
        let mut tasks = std::mem::take(&mut *this.tasks.lock().unwrap_or_else(PoisonError::into_inner));
        runtime()?.block_on(tasks.shutdown());
        let person = this.shared.with(|station| station.person().cloned());
        this.shared.pause()?;
        Ok(person)
    }
}
