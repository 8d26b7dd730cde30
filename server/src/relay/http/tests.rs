//! The relay over real sockets on this machine: how one is run and asked. What is tried lies in the files beside.

mod bounds;
mod lifetime;
mod pages;
mod requests;
mod waiting;

use std::net::SocketAddr;
use std::time::Duration;

use tailcomb_wire::api::{Cursor, Pulled, Refusal, Request};
use tailcomb_wire::envelope::decode_answer;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::oneshot;
use tokio::task::JoinHandle;

use super::*;
use crate::relay::config::RelayConfig;
use crate::relay::serve::{ServeError, serve, serve_store};
use crate::relay::sqlite::SqliteStore;
use crate::relay::testkit::{Pen, invitation};

/// Long enough that a test which waits for it has failed, and shorter than any of the relay's own defaults.
const NEVER: Duration = Duration::from_secs(20);

/// A running relay.
struct House {
    address: SocketAddr,
    stop: oneshot::Sender<()>,
    running: JoinHandle<Result<(), ServeError>>,
}

impl House {
    /// Over a file of its own.
    async fn in_file(config: RelayConfig) -> Self {
        Self::start(|listener, shutdown| serve(config, listener, shutdown)).await
    }

    async fn over<S: RelayStore>(store: Arc<S>, limits: Limits) -> Self {
        let config = RelayConfig { limits, phone: Arc::default(), ..RelayConfig::new("not looked at") };
        Self::start(|listener, shutdown| async move { serve_store(store, &config, listener, shutdown).await })
            .await
    }

    async fn start<F>(run: impl FnOnce(TcpListener, Shutdown) -> F) -> Self
    where
        F: Future<Output = Result<(), ServeError>> + Send + 'static,
    {
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let address = listener.local_addr().unwrap();
        let (stop, stopped) = oneshot::channel();
        let shutdown: Shutdown = Box::pin(async move {
            let _ = stopped.await;
        });
        Self { address, stop, running: tokio::spawn(run(listener, shutdown)) }
    }

    async fn close(self) {
        let _ = self.stop.send(());
        self.running.await.unwrap().unwrap();
    }

    async fn ask(&self, pen: &Pen, request: Request) -> Answer {
        self.exchange(pen, request).await.answer()
    }

    async fn exchange(&self, pen: &Pen, request: Request) -> Reply {
        self.post(&format!("/v1/{}", request.name()), &pen.seal(&request)).await
    }

    async fn post(&self, path: &str, body: &[u8]) -> Reply {
        let head = format!(
            "POST {path} HTTP/1.1\r\nHost: relay\r\nConnection: close\r\nContent-Length: {}\r\n\r\n",
            body.len()
        );
        self.raw(&[head.as_bytes(), body].concat()).await
    }

    async fn get(&self, path: &str) -> Reply {
        self.raw(format!("GET {path} HTTP/1.1\r\nHost: relay\r\nConnection: close\r\n\r\n").as_bytes()).await
    }

    /// Sends these bytes and reads until the relay closes the connection.
    async fn raw(&self, bytes: &[u8]) -> Reply {
        let mut stream = TcpStream::connect(self.address).await.unwrap();
        stream.write_all(bytes).await.unwrap();
        read_reply(&mut stream).await
    }
}

type Shutdown = std::pin::Pin<Box<dyn Future<Output = ()> + Send>>;

async fn read_reply(stream: &mut TcpStream) -> Reply {
    let mut bytes = Vec::new();
    tokio::time::timeout(NEVER, stream.read_to_end(&mut bytes)).await.expect("an answer").unwrap();
    Reply::parse(&bytes)
}

#[derive(Debug)]
struct Reply {
    status: u16,
    head: String,
    body: Vec<u8>,
}

impl Reply {
    fn parse(bytes: &[u8]) -> Self {
        let end = bytes.windows(4).position(|w| w == b"\r\n\r\n").expect("a whole head");
        let head = String::from_utf8(bytes[..end].to_vec()).unwrap().to_ascii_lowercase();
        let status = head.split(' ').nth(1).unwrap().parse().unwrap();
        Self { status, head, body: bytes[end + 4..].to_vec() }
    }

    fn answer(&self) -> Answer {
        decode_answer(&self.body).unwrap()
    }

    fn refusal(&self) -> Refusal {
        refusal(self.answer())
    }

    fn text(&self) -> &str {
        std::str::from_utf8(&self.body).unwrap()
    }
}

fn refusal(answer: Answer) -> Refusal {
    match answer {
        Answer::Refused(refusal) => refusal,
        other => panic!("expected a refusal, not {other:?}"),
    }
}

fn page(answer: Answer) -> Pulled {
    match answer {
        Answer::Pulled(page) => page,
        other => panic!("expected a page, not {other:?}"),
    }
}

/// A salon with two stations on a relay in memory.
async fn salon(limits: Limits) -> (House, Pen, Pen) {
    salon_over(Arc::new(SqliteStore::in_memory().unwrap()), limits).await
}

async fn salon_over<S: RelayStore>(store: Arc<S>, limits: Limits) -> (House, Pen, Pen) {
    let house = House::over(store, limits).await;
    let (founder, second) = (Pen::new(1), Pen::new(2));
    let invitation = invitation();
    assert!(matches!(house.ask(&founder, founder.found()).await, Answer::Founded { .. }));
    assert!(matches!(house.ask(&founder, founder.invite(&invitation)).await, Answer::Invited { .. }));
    assert!(matches!(house.ask(&second, second.join(&invitation)).await, Answer::Admitted { .. }));
    (house, founder, second)
}

async fn cursor(house: &House, pen: &Pen) -> Cursor {
    page(house.ask(pen, pen.pull(None, 0)).await).cursor
}

/// A pull that waits, on its way.
async fn waiting(house: &House, pen: &Pen, cursor: Cursor) -> TcpStream {
    let request = pen.pull(Some(cursor), 60_000);
    let body = pen.seal(&request);
    let head = format!(
        "POST /v1/pull HTTP/1.1\r\nHost: relay\r\nConnection: close\r\nContent-Length: {}\r\n\r\n",
        body.len()
    );
    let mut stream = TcpStream::connect(house.address).await.unwrap();
    stream.write_all(&[head.as_bytes(), &body].concat()).await.unwrap();
    stream
}
