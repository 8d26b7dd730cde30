//! A station that is open: its files, and the exchanges that run for it. Dropping it is not enough to end it, since
//! exchanges hold it too; [`Running::end`] lets go of every file.

use std::future::{Future, poll_fn};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::{Arc, LazyLock, Mutex, PoisonError};
use std::task::{Context, Poll};
use std::time::Duration;

use tailcomb_core::net::{SharedStation, Trust};
use tailcomb_core::station::Station;
use tailcomb_core::station::hosted::HostError;
use tailcomb_core::store::DirectoryLock;
use tokio::runtime::Runtime;
use tokio::task::JoinSet;

use crate::failing;

/// How long exchanges rest that broke off.
const AGAIN: Duration = Duration::from_secs(1);

/// Where exchanges run, for all stations of the process: they wait far more than they work.
static RUNTIME: LazyLock<std::io::Result<Runtime>> = LazyLock::new(|| {
    tokio::runtime::Builder::new_multi_thread()
        .worker_threads(1)
        .thread_name("tailcomb-net")
        .enable_all()
        .build()
});

pub(crate) fn runtime() -> Result<&'static Runtime, HostError> {
    RUNTIME.as_ref().map_err(failing::no_thread)
}

/// See the module.
#[derive(Debug)]
pub(crate) struct Running {
    pub(crate) shared: SharedStation,
    /// Exchanges and errands: whatever holds the station besides commands.
    tasks: Mutex<JoinSet<()>>,
    /// Keeps other processes out of the station's directory.
    _lock: DirectoryLock,
}

impl Running {
    /// Begins exchanges.
    pub(crate) fn begin(
        station: Station,
        trust: &Trust,
        lock: DirectoryLock,
    ) -> Result<Arc<Self>, HostError> {
        let shared = SharedStation::new(station, trust).map_err(failing::of_net)?;
        let running = Arc::new(Self { shared, tasks: Mutex::default(), _lock: lock });
        let exchanges = running.shared.clone();
        running.spawn(go_on(exchanges))?;
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

/// Exchanges, begun again where something broke in the middle of one: a mistake, or what the host lent.
async fn go_on(shared: SharedStation) {
    loop {
        let mut exchanges = Box::pin(shared.run());
        let poll = |context: &mut Context<'_>| {
            let polled = catch_unwind(AssertUnwindSafe(|| exchanges.as_mut().poll(context)));
            polled.unwrap_or(Poll::Ready(()))
        };
        poll_fn(poll).await;
        tracing::warn!("exchanges broke off, and begin again in a moment");
        tokio::time::sleep(AGAIN).await;
    }
}
