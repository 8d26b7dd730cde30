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
use hyper_util::server::graceful::{GracefulShutdown, Watcher};
use hyper_util::service::TowerToHyperService;
use tokio::io::{AsyncRead, AsyncWrite};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::{Semaphore, watch};
use tokio::task::JoinSet;
use tokio_rustls::TlsAcceptor;

use super::bells::Bells;
use super::config::{Founding, Limits, RelayConfig};
use super::desk::{Relay, Rules};
use super::http::{App, Peer, insecure, router, trust};
use super::limits::Doors;
use super::queue::WriteQueue;
use super::sqlite::SqliteStore;
use super::stall::Stalling;
use super::store::{Quotas, RelayStore, StoreError};
use super::tls::{Tls, TlsError};

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
    /// TLS cannot be set up.
    #[error(transparent)]
    Tls(#[from] TlsError),
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
    let faces = Faces::new(router(Arc::clone(&app)), config.tls.as_ref())?;
    let renewing = async {
        match &config.tls {
            Some(tls) => tls.keep_current().await,
            None => std::future::pending().await,
        }
    };
    let taking = take_connections(listener, &faces, limits, shutdown, || {
        stop.send_replace(true);
    });
    tokio::select! {
        () = taking => {}
        () = renewing => {}
    }

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
    faces: &Faces,
    limits: Limits,
    shutdown: impl Future<Output = ()> + Send,
    stopping: impl FnOnce(),
) {
    let mut shutdown = pin!(shutdown);
    let places = Arc::new(Semaphore::new(limits.connections.min(Semaphore::MAX_PERMITS)));
    let doors = Doors::new(limits.connections_per_address);
    let graceful = GracefulShutdown::new();
    let (closing, closed) = watch::channel(false);
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
                let connection = Connection { from, limits, watcher: graceful.watcher() };
                let serving = connection.serve(stream, faces.clone(), closed.clone());
                connections.spawn(async move {
                    serving.await;
                    drop((pass, place));
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
    closing.send_replace(true);
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

/// What is answered with TLS and without.
#[derive(Clone)]
struct Faces {
    /// Everything; where there is no TLS, to everybody.
    whole: Router,
    tls: Option<(TlsAcceptor, Router)>,
}

impl Faces {
    fn new(whole: Router, tls: Option<&Arc<Tls>>) -> Result<Self, TlsError> {
        Ok(match tls {
            None => Self { whole, tls: None },
            Some(tls) => Self { whole: whole.merge(trust(tls)), tls: Some((tls.acceptor()?, insecure(tls))) },
        })
    }
}

/// The first byte of a TLS connection: a record of the handshake (RFC 8446 §5.1). No request begins with it.
const HANDSHAKE: u8 = 0x16;

struct Connection {
    from: SocketAddr,
    limits: Limits,
    watcher: Watcher,
}

impl Connection {
    /// Both kinds come to one port, so that there is one address to tell people.
    async fn serve(self, stream: TcpStream, faces: Faces, mut closing: watch::Receiver<bool>) {
        // An answer is one write; waiting to fill a packet would only delay it.
        if let Err(failed) = stream.set_nodelay(true) {
            tracing::debug!(%failed, "a connection without TCP_NODELAY");
        }
        let Some((acceptor, insecure)) = faces.tls else {
            return self.talk(stream, faces.whole).await;
        };
        let opening = async {
            let mut first = [0];
            if stream.peek(&mut first).await? == 1 && first == [HANDSHAKE] {
                acceptor.accept(stream).await.map(|stream| Ok(Box::new(stream)))
            } else {
                Ok(Err(stream))
            }
        };
        let opened = tokio::select! {
            opened = tokio::time::timeout(self.limits.header_time, opening) => opened,
            // Browsers open connections that they may never use.
            _ = closing.wait_for(|closing| *closing) => return,
        };
        match opened {
            Ok(Ok(Ok(secure))) => self.talk(secure, faces.whole).await,
            Ok(Ok(Err(plain))) => self.talk(plain, insecure).await,
            // A device that does not trust the certificate ends here, and so does a port scan.
            Ok(Err(failed)) => tracing::debug!(%failed, "a connection could not be made secure"),
            Err(_) => {}
        }
    }

    async fn talk<T>(self, stream: T, router: Router)
    where
        T: AsyncRead + AsyncWrite + Unpin + Send + 'static,
    {
        let Self { from, limits, watcher } = self;
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
        if let Err(failed) = watcher.watch(connection).await {
            // Broken-off connections are everyday life on salon Wi-Fi.
            tracing::debug!(%failed, "a connection ended early");
        }
    }
}
