//! Running a relay: open the store, take connections, and stop without losing what is under way.

use std::future::Future;
use std::io;
use std::net::SocketAddr;
use std::pin::pin;
use std::sync::Arc;
use std::time::Duration;

use axum::Router;
use hyper::body::Incoming;
use hyper::server::conn::http1;
use hyper::service::{Service as _, service_fn};
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::server::graceful::GracefulShutdown;
use hyper_util::service::TowerToHyperService;
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::{OwnedSemaphorePermit, Semaphore, watch};
use tokio::task::JoinSet;

use super::bells::Bells;
use super::config::{Founding, Limits, RelayConfig};
use super::desk::{Relay, Rules};
use super::http::{App, Peer, router};
use super::limits::Doors;
use super::queue::WriteQueue;
use super::sqlite::SqliteStore;
use super::stall::Stalling;
use super::store::{Quotas, RelayStore, StoreError};

/// Most bytes of a request's headers, and of what is read ahead of a body.
const READ_BUFFER: usize = 64 << 10;
/// Most headers of a request.
const HEADERS: usize = 64;
/// How long to leave a system alone that has no connection to give.
const NO_CONNECTION: Duration = Duration::from_millis(100);

/// Why a relay could not start or did not end well. What was acknowledged is on disk in any case.
#[derive(Debug, thiserror::Error)]
pub enum ServeError {
    /// The database cannot be opened, or could not be put to rest.
    #[error("the relay's records: {0}")]
    Store(#[from] StoreError),
    /// The system has no thread for the relay, or ended one.
    #[error("the relay's writing thread: {0}")]
    Thread(io::Error),
}

/// Runs a relay on an embedded store until `shutdown` is ready.
///
/// It then takes no more connections, answers waiting pulls with what they have, finishes the pushes that have
/// arrived, and puts the database to rest.
///
/// # Errors
/// See [`ServeError`].
pub async fn serve(
    config: RelayConfig,
    listener: TcpListener,
    shutdown: impl Future<Output = ()> + Send,
) -> Result<(), ServeError> {
    let store = Arc::new(SqliteStore::open(&config.database, config.durability)?);
    serve_store(store, &config, listener, shutdown).await
}

/// As [`serve`], over any store. `config.database` and `config.durability` are not looked at.
///
/// # Errors
/// See [`ServeError`].
pub async fn serve_store<S: RelayStore>(
    store: Arc<S>,
    config: &RelayConfig,
    listener: TcpListener,
    shutdown: impl Future<Output = ()> + Send,
) -> Result<(), ServeError> {
    let limits = config.limits;
    // Salons that are here already are founded again without counting.
    let spaces = if config.founding == Founding::Closed { 0 } else { config.quotas.spaces };
    let quotas = Quotas { spaces, ..config.quotas };
    let bells = Bells::default();
    let (queue, writer) =
        WriteQueue::start(Arc::clone(&store), quotas, bells.clone()).map_err(ServeError::Thread)?;
    let relay = Relay::new(Arc::clone(&store), Rules { quotas, page_bytes: limits.page_bytes });
    let (stop, stopping) = watch::channel(false);
    let app = Arc::new(App::new(relay, queue, bells, limits, Arc::clone(&config.phone), stopping));

    tracing::info!(address = ?listener.local_addr().ok(), "the relay is open");
    take_connections(listener, &router(Arc::clone(&app)), limits, shutdown, || {
        stop.send_replace(true);
    })
    .await;

    let ended = tokio::task::spawn_blocking(move || {
        app.queue.stop();
        writer.join().map_err(|_| io::Error::other("it ended in a panic"))
    })
    .await;
    ended.map_err(io::Error::other).and_then(|joined| joined).map_err(ServeError::Thread)?;
    tokio::task::spawn_blocking(move || store.settle())
        .await
        .map_err(|e| ServeError::Thread(io::Error::other(e)))??;
    tracing::info!("the relay is closed");
    Ok(())
}

/// Takes connections until `shutdown`, then calls `stopping` and lets those that are busy finish.
async fn take_connections(
    listener: TcpListener,
    router: &Router,
    limits: Limits,
    shutdown: impl Future<Output = ()> + Send,
    stopping: impl FnOnce(),
) {
    let mut shutdown = pin!(shutdown);
    let places = Arc::new(Semaphore::new(limits.connections.min(Semaphore::MAX_PERMITS)));
    let doors = Doors::new(limits.connections_per_address);
    let graceful = GracefulShutdown::new();
    let mut connections = JoinSet::new();
    loop {
        let next = async {
            let place = Arc::clone(&places).acquire_owned().await;
            (place, listener.accept().await)
        };
        let (place, accepted) = tokio::select! {
            () = &mut shutdown => break,
            next = next => next,
            // Done connections are taken out as they end, so that the set stays as small as what is open.
            Some(_) = connections.join_next() => continue,
        };
        match (place, accepted) {
            (Ok(place), Ok((stream, from))) => {
                let Some(pass) = doors.enter(from.ip()) else { continue };
                let connection = Connection { stream, from, place };
                let serving = connection.serve(router.clone(), limits, &graceful);
                connections.spawn(async move {
                    serving.await;
                    drop(pass);
                });
            }
            (_, Err(failed)) if is_of_one_connection(&failed) => {}
            (_, Err(failed)) => {
                tracing::warn!(%failed, "the system gives no connection");
                tokio::time::sleep(NO_CONNECTION).await;
            }
            (Err(_), _) => break,
        }
    }
    drop(listener);
    tracing::info!(connections = connections.len(), "the relay is closing");
    stopping();
    if tokio::time::timeout(limits.shutdown_time, graceful.shutdown()).await.is_err() {
        tracing::warn!(connections = connections.len(), "connections were still busy and are broken off");
    }
    connections.shutdown().await;
}

/// The client was gone before it was taken: nothing to do with the next one.
fn is_of_one_connection(failed: &io::Error) -> bool {
    matches!(
        failed.kind(),
        io::ErrorKind::ConnectionAborted | io::ErrorKind::ConnectionReset | io::ErrorKind::ConnectionRefused
    )
}

struct Connection {
    stream: TcpStream,
    from: SocketAddr,
    /// One of the relay's connections; given back when this one ends.
    place: OwnedSemaphorePermit,
}

impl Connection {
    fn serve(
        self,
        router: Router,
        limits: Limits,
        graceful: &GracefulShutdown,
    ) -> impl Future<Output = ()> + Send + use<> {
        let Self { stream, from, place } = self;
        // An answer is one write; waiting to fill a packet would only delay it.
        if let Err(failed) = stream.set_nodelay(true) {
            tracing::debug!(%failed, "a connection without TCP_NODELAY");
        }
        let service = TowerToHyperService::new(router);
        let with_peer = service_fn(move |mut request: hyper::Request<Incoming>| {
            request.extensions_mut().insert(Peer(from.ip()));
            service.call(request)
        });
        let connection = http1::Builder::new()
            .timer(TokioTimer::new())
            .header_read_timeout(limits.header_time)
            .max_buf_size(READ_BUFFER)
            .max_headers(HEADERS)
            .serve_connection(TokioIo::new(Stalling::new(stream, limits.stall_time)), with_peer);
        let connection = graceful.watch(connection);
        async move {
            if let Err(failed) = connection.await {
                // Broken-off connections are everyday life on salon Wi-Fi.
                tracing::debug!(%failed, "a connection ended early");
            }
            drop(place);
        }
    }
}
