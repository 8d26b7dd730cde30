//! The relay over real sockets on this machine.

use std::future::pending;
use std::net::SocketAddr;
use std::time::Duration;

use tailcomb_wire::api::{Cursor, MAX_REQUEST_BYTES, Pulled, Refusal, Request};
use tailcomb_wire::envelope::decode_answer;
use tailcomb_wire::frame::{Frame, verify_run};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::oneshot;
use tokio::task::JoinHandle;

use super::*;
use crate::relay::config::{Founding, Rate, RelayConfig};
use crate::relay::desk::Rules;
use crate::relay::serve::{ServeError, serve, serve_store};
use crate::relay::sqlite::{Durability, SqliteStore};
use crate::relay::testkit::{Moody, OTHER_SALON, Pen, SALON, invitation};

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

#[tokio::test]
async fn a_salon_comes_together_over_http() {
    let (house, mut founder, second) = salon(Limits::default()).await;
    let push = founder.push(3);
    let reply = house.exchange(&founder, push).await;
    assert_eq!(reply.status, 200);
    assert!(reply.head.contains("content-type: application/cbor"), "{}", reply.head);
    let Answer::Pushed(pushed) = reply.answer() else { panic!() };
    let got = page(house.ask(&second, second.pull(None, 0)).await);
    let frames: Vec<_> = got.entries.iter().map(|e| Frame::parse(&e.frame).unwrap()).collect();
    let signature = got.entries[2].run_signature.unwrap();
    verify_run(&SALON, &founder.id(), &frames, &signature).unwrap();
    assert_eq!((got.cursor.seq, got.cursor.epoch), (3, pushed.epoch));
    house.close().await;
}

#[tokio::test]
async fn a_request_of_two_gib_is_refused_before_any_of_it_is_sent() {
    let (house, ..) = salon(Limits::default()).await;
    let head = b"POST /v1/push HTTP/1.1\r\nHost: relay\r\nContent-Length: 2147483648\r\n\r\n";
    let reply = house.raw(head).await;
    assert_eq!(reply.status, 413);
    assert_eq!(reply.refusal().code, RefusalCode::TooLarge);
    house.close().await;
}

#[tokio::test]
async fn a_body_of_unannounced_length_stops_at_the_limit() {
    let (house, ..) = salon(Limits::default()).await;
    let mut request = b"POST /v1/push HTTP/1.1\r\nHost: relay\r\nTransfer-Encoding: chunked\r\n\r\n".to_vec();
    request.extend(format!("{:x}\r\n", MAX_REQUEST_BYTES + 1).as_bytes());
    request.resize(request.len() + MAX_REQUEST_BYTES + 1, b'x');
    let reply = house.raw(&request).await;
    assert_eq!(reply.status, 413);
    assert_eq!(reply.refusal().code, RefusalCode::TooLarge);
    house.close().await;
}

#[tokio::test]
async fn a_body_that_does_not_come_is_given_up() {
    let limits = Limits { body_time: Duration::from_millis(50), ..Limits::default() };
    let house = House::over(Arc::new(SqliteStore::in_memory().unwrap()), limits).await;
    let reply =
        house.raw(b"POST /v1/push HTTP/1.1\r\nHost: relay\r\nContent-Length: 500\r\n\r\nonly this").await;
    assert_eq!(reply.status, 503);
    assert_eq!(reply.refusal().code, RefusalCode::Unavailable);
    house.close().await;
}

#[tokio::test]
async fn headers_that_never_end_are_given_up() {
    let limits = Limits { header_time: Duration::from_millis(50), ..Limits::default() };
    let house = House::over(Arc::new(SqliteStore::in_memory().unwrap()), limits).await;
    let mut stream = TcpStream::connect(house.address).await.unwrap();
    stream.write_all(b"POST /v1/push HTTP/1.1\r\nHost: re").await.unwrap();
    let mut rest = Vec::new();
    let closed = tokio::time::timeout(NEVER, stream.read_to_end(&mut rest)).await;
    assert!(closed.is_ok(), "the relay closes the connection");
    house.close().await;
}

#[tokio::test]
async fn bodies_that_together_are_too_much_are_sent_away_with_a_time_to_come_back() {
    let limits = Limits { upload_bytes: 100, ..Limits::default() };
    let house = House::over(Arc::new(SqliteStore::in_memory().unwrap()), limits).await;
    let reply = house.post("/v1/push", &[0; 101]).await;
    assert_eq!(reply.status, 503);
    assert!(reply.refusal().retry_ms.is_some());
    house.close().await;
}

#[tokio::test]
async fn garbage_is_refused_with_a_sentence_and_nothing_happens() {
    let (house, mut founder, second) = salon(Limits::default()).await;
    let push = founder.push(1);
    let good = founder.seal(&push);
    let mut flipped = good.clone();
    *flipped.last_mut().unwrap() ^= 1;
    let cases: [(&str, &[u8], RefusalCode); 5] = [
        ("/v1/push", b"", RefusalCode::BadRequest),
        ("/v1/push", b"\xff\xff\xff\xff garbage", RefusalCode::BadRequest),
        ("/v1/push", &good[..good.len() - 1], RefusalCode::BadRequest),
        ("/v1/push", &flipped, RefusalCode::BadSignature),
        ("/v1/pull", &good, RefusalCode::BadSignature),
    ];
    for (path, body, code) in cases {
        let reply = house.post(path, body).await;
        assert!((400..500).contains(&reply.status), "{path}: {}", reply.status);
        assert_eq!(reply.refusal().code, code, "{path} with {} bytes", body.len());
        assert!(!reply.refusal().say.is_empty());
    }
    assert_eq!(cursor(&house, &second).await.seq, 0);
    assert!(matches!(decode_answer(&house.post("/v1/push", &good).await.body), Ok(Answer::Pushed(_))));
    house.close().await;
}

#[tokio::test]
async fn paths_that_are_no_requests_say_so() {
    let (house, founder, _) = salon(Limits::default()).await;
    assert_eq!(house.post("/v1/erase", &founder.seal(&founder.found())).await.status, 404);
    assert_eq!(house.get("/v1/push").await.status, 405);
    assert_eq!(house.get("/elsewhere").await.status, 404);
    house.close().await;
}

#[tokio::test]
async fn a_cursor_from_another_salon_is_refused_clearly() {
    let (house, mut founder, _) = salon(Limits::default()).await;
    let push = founder.push(2);
    house.ask(&founder, push).await;
    let store = Arc::new(SqliteStore::in_memory().unwrap());
    let other_house = House::over(store, Limits::default()).await;
    let mut elsewhere = Pen::in_salon(OTHER_SALON, 1);
    other_house.ask(&elsewhere, elsewhere.found()).await;
    let push = elsewhere.push(2);
    other_house.ask(&elsewhere, push).await;
    let foreign = cursor(&other_house, &elsewhere).await;
    let reply = house.exchange(&founder, founder.pull(Some(foreign), 0)).await;
    assert_eq!(reply.status, 409);
    let refusal = reply.refusal();
    assert_eq!(refusal.code, RefusalCode::Rewind);
    assert_eq!(refusal.epoch, Some(cursor(&house, &founder).await.epoch));
    house.close().await;
    other_house.close().await;
}

#[tokio::test]
async fn an_expired_invitation_is_refused_clearly() {
    let store = Arc::new(SqliteStore::in_memory().unwrap());
    let founder = Pen::new(1);
    let eleven_minutes_ago = now_ms() - 11 * 60_000;
    let before = Relay::new(Arc::clone(&store), Rules::default());
    let _ = before.handle(founder.id(), founder.found(), eleven_minutes_ago);
    let invited = before.handle(founder.id(), founder.invite(&invitation()), eleven_minutes_ago);
    assert!(matches!(invited, Answer::Invited { .. }));
    let house = House::over(store, Limits::default()).await;
    let newcomer = Pen::new(2);
    let reply = house.exchange(&newcomer, newcomer.join(&invitation())).await;
    assert_eq!(reply.status, 410);
    assert_eq!(reply.refusal().code, RefusalCode::NoInvitation);
    house.close().await;
}

#[tokio::test]
async fn a_waiting_pull_wakes_with_the_frames_in_its_answer() {
    let (house, mut founder, second) = salon(Limits::default()).await;
    let mut wait = waiting(&house, &second, cursor(&house, &second).await).await;
    let push = founder.push(2);
    house.ask(&founder, push).await;
    let got = page(read_reply(&mut wait).await.answer());
    assert_eq!(got.entries.iter().map(|e| e.seq).collect::<Vec<_>>(), [1, 2]);
    assert!(got.stamps.sent_ms >= got.stamps.received_ms);
    house.close().await;
}

#[tokio::test]
async fn own_pushes_do_not_end_the_wait() {
    let (house, mut founder, mut second) = salon(Limits::default()).await;
    let mut wait = waiting(&house, &second, cursor(&house, &second).await).await;
    let own = second.push(3);
    house.ask(&second, own).await;
    let push = founder.push(1);
    house.ask(&founder, push).await;
    let got = page(read_reply(&mut wait).await.answer());
    assert_eq!(got.entries.iter().map(|e| e.seq).collect::<Vec<_>>(), [4]);
    assert_eq!(got.cursor.seq, 4);
    house.close().await;
}

#[tokio::test]
async fn a_wait_without_news_ends_with_its_time_and_an_empty_page() {
    let (house, _, mut second) = salon(Limits::default()).await;
    let from = cursor(&house, &second).await;
    let own = second.push(2);
    house.ask(&second, own).await;
    let got = page(house.ask(&second, second.pull(Some(from), 20)).await);
    assert!(got.entries.is_empty());
    assert_eq!((got.cursor.seq, got.head), (2, 2), "past the station's own frames");
    house.close().await;
}

#[tokio::test]
async fn a_revoked_device_with_a_waiting_pull_is_told_at_once() {
    let (house, founder, second) = salon(Limits::default()).await;
    let mut wait = waiting(&house, &second, cursor(&house, &second).await).await;
    assert!(matches!(house.ask(&founder, founder.revoke(second.id())).await, Answer::Revoked { .. }));
    let reply = read_reply(&mut wait).await;
    assert_eq!(reply.status, 403);
    assert_eq!(reply.refusal().code, RefusalCode::Revoked);
    house.close().await;
}

#[tokio::test]
async fn a_device_waits_only_so_often_at_once_and_hung_up_waits_do_not_count() {
    let limits = Limits { waiting_per_device: 1, ..Limits::default() };
    let (house, founder, second) = salon(limits).await;
    let from = cursor(&house, &second).await;
    let mut waits = Vec::new();
    // Of two that come at once either may be first, so this asks until the short one is second.
    let second_of_two = async {
        loop {
            waits.push(waiting(&house, &second, from).await);
            if let Answer::Refused(refused) = house.ask(&second, second.pull(Some(from), 1)).await {
                return refused.code;
            }
        }
    };
    let code = tokio::time::timeout(NEVER, second_of_two).await.expect("a second wait is refused");
    assert_eq!(code, RefusalCode::TooMany);
    page(house.ask(&founder, founder.pull(Some(from), 1)).await);
    drop(waits);
    let freed =
        async { while matches!(house.ask(&second, second.pull(Some(from), 1)).await, Answer::Refused(_)) {} };
    tokio::time::timeout(NEVER, freed).await.expect("a wait whose connection is gone frees its place");
    house.close().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_stopping_relay_answers_waiting_pulls_and_keeps_what_it_acknowledged() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("relay.db");
    let house = House::in_file(RelayConfig::new(&path)).await;
    let mut founder = Pen::new(1);
    house.ask(&founder, founder.found()).await;
    let from = cursor(&house, &founder).await;
    let mut wait = waiting(&house, &founder, from).await;
    let push = founder.push(5);
    let Answer::Pushed(pushed) = house.ask(&founder, push).await else { panic!() };
    house.close().await;
    let got = page(read_reply(&mut wait).await.answer());
    assert!(got.entries.is_empty(), "only its own frames");
    assert!(!folder.path().join("relay.db-wal").exists(), "the log is at rest");

    let house = House::in_file(RelayConfig::new(&path)).await;
    let everything = Request::Pull(tailcomb_wire::api::Pull {
        space: SALON,
        cursor: None,
        skip_incarnation: 0,
        wait_ms: 0,
        max_bytes: 1 << 20,
    });
    let again = page(house.ask(&founder, everything).await);
    assert_eq!(again.entries.len(), 5);
    assert_eq!(again.standing, pushed.standing);
    assert_eq!(again.cursor.epoch, pushed.epoch);
    house.close().await;
}

#[tokio::test]
async fn a_push_under_way_when_the_relay_stops_is_written_and_acknowledged() {
    let store = Moody::new();
    let (house, mut founder, _) = salon_over(Arc::clone(&store), Limits::default()).await;
    store.close_gate();
    let push = founder.push(1);
    let body = founder.seal(&push);
    let address = house.address;
    let pushing = tokio::spawn(async move {
        let head = format!("POST /v1/push HTTP/1.1\r\nHost: relay\r\nContent-Length: {}\r\n\r\n", body.len());
        let mut stream = TcpStream::connect(address).await.unwrap();
        stream.write_all(&[head.as_bytes(), &body].concat()).await.unwrap();
        read_reply(&mut stream).await.answer()
    });
    let gate = Arc::clone(&store);
    tokio::task::spawn_blocking(move || gate.someone_at_gate()).await.unwrap();
    let closing = tokio::spawn(house.close());
    while TcpStream::connect(address).await.is_ok() {
        tokio::task::yield_now().await;
    }
    store.open_gate();
    assert!(matches!(pushing.await.unwrap(), Answer::Pushed(_)));
    closing.await.unwrap();
}

#[tokio::test]
async fn log_lines_tell_what_happened_and_nothing_of_what_was_in_it() {
    let lines = Lines::default();
    let writer = lines.clone();
    let subscriber = tracing_subscriber::fmt()
        .json()
        .with_max_level(tracing::Level::TRACE)
        .with_writer(move || writer.clone())
        .finish();
    // The test's runtime has this one thread, so everything the relay does is told to this subscriber.
    let _listening = tracing::subscriber::set_default(subscriber);
    let (house, mut founder, _) = salon(Limits::default()).await;
    let push = founder.push(1);
    let frame = match &push {
        Request::Push(push) => push.frames[0].to_vec(),
        other => panic!("{other:?}"),
    };
    house.ask(&founder, push).await;
    house.post("/v1/push", b"an allergy, say").await;
    house.close().await;

    let text = lines.text();
    let of = |outcome: &str| -> serde_json::Value {
        let line = text.lines().find(|l| l.contains("\"request\":\"push\"") && l.contains(outcome)).unwrap();
        serde_json::from_str(line).unwrap()
    };
    let done = of("\"outcome\":\"done\"");
    let id = founder.id().to_string();
    assert_eq!(done["fields"]["device"], id[..8]);
    for field in ["bytes_in", "bytes_out", "ms"] {
        assert!(done["fields"][field].as_f64().is_some_and(|n| n > 0.0), "{field}: {done}");
    }
    assert_eq!(of("BadRequest")["fields"]["device"], "-");
    assert!(!text.contains("allergy"));
    assert!(!text.contains(&id), "eight letters of a device are enough");
    let sealed = data_encoding::HEXLOWER.encode(&frame[frame.len() - 20..]);
    assert!(!text.to_lowercase().contains(&sealed) && !text.contains("[165, 165"));
}

/// Where log lines go in a test.
#[derive(Clone, Default)]
struct Lines(Arc<std::sync::Mutex<Vec<u8>>>);

impl Lines {
    fn text(&self) -> String {
        String::from_utf8(self.0.lock().unwrap().clone()).unwrap()
    }
}

impl std::io::Write for Lines {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.0.lock().unwrap().extend_from_slice(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

#[tokio::test]
async fn a_device_over_its_rate_is_told_when_to_come_back_and_hinders_nobody() {
    let limits = Limits { device_rate: Rate { per_second: 1, burst: 8 }, ..Limits::default() };
    let (house, founder, second) = salon(limits).await;
    let mut refused = None;
    for _ in 0..100 {
        let reply = house.exchange(&founder, founder.pull(None, 0)).await;
        if reply.status != 200 {
            refused = Some(reply);
            break;
        }
    }
    let refused = refused.expect("a hundred at once are over a burst of eight");
    assert_eq!(refused.status, 429);
    assert!(refused.head.contains("retry-after: 1"), "{}", refused.head);
    assert_eq!(refused.refusal().code, RefusalCode::TooMany);
    assert!(refused.refusal().retry_ms.is_some_and(|ms| ms > 0));
    page(house.ask(&second, second.pull(None, 0)).await);
    house.close().await;
}

#[tokio::test]
async fn an_address_over_its_rate_is_refused_before_its_request_is_read() {
    let limits = Limits { address_rate: Rate { per_second: 1, burst: 2 }, ..Limits::default() };
    let house = House::over(Arc::new(SqliteStore::in_memory().unwrap()), limits).await;
    let mut replies = Vec::new();
    for _ in 0..3 {
        replies.push(house.post("/v1/push", b"garbage").await.status);
    }
    assert_eq!(replies, [400, 400, 429]);
    house.close().await;
}

#[tokio::test]
async fn connections_beyond_the_limit_wait_their_turn() {
    let limits = Limits { connections: 1, ..Limits::default() };
    let house = House::over(Arc::new(SqliteStore::in_memory().unwrap()), limits).await;
    let first = TcpStream::connect(house.address).await.unwrap();
    let address = house.address;
    let second = tokio::spawn(async move {
        let mut stream = TcpStream::connect(address).await.unwrap();
        stream.write_all(b"GET / HTTP/1.1\r\nHost: relay\r\nConnection: close\r\n\r\n").await.unwrap();
        read_reply(&mut stream).await.status
    });
    for _ in 0..1_000 {
        tokio::task::yield_now().await;
    }
    assert!(!second.is_finished());
    drop(first);
    assert_eq!(second.await.unwrap(), 200);
    house.close().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_client_that_asks_and_never_reads_is_given_up() {
    let limits = Limits { connections: 1, stall_time: Duration::from_millis(200), ..Limits::default() };
    let (house, mut founder, second) = salon(limits).await;
    for _ in 0..3 {
        let frames = (0..20).map(|_| founder.frame(50_000)).collect();
        let push = Request::Push(founder.sign(frames));
        assert!(matches!(house.ask(&founder, push).await, Answer::Pushed(_)));
    }
    let body = second.seal(&second.pull(None, 0));
    let head = format!("POST /v1/pull HTTP/1.1\r\nHost: relay\r\nContent-Length: {}\r\n\r\n", body.len());
    let mut greedy = TcpStream::connect(house.address).await.unwrap();
    // Together more than the kernel's buffers hold.
    for _ in 0..60 {
        greedy.write_all(&[head.as_bytes(), &body].concat()).await.unwrap();
    }
    // There is one connection only, so this is answered when the greedy one is gone.
    assert_eq!(house.get("/").await.status, 200);
    house.close().await;
}

#[tokio::test]
async fn a_closed_relay_takes_no_new_salons_and_serves_those_it_has() {
    let store = Arc::new(SqliteStore::in_memory().unwrap());
    let (founder, other) = (Pen::new(1), Pen::in_salon(OTHER_SALON, 3));
    let _ = Relay::new(Arc::clone(&store), Rules::default()).handle(founder.id(), founder.found(), 0);
    let config = RelayConfig { founding: Founding::Closed, ..RelayConfig::new("not looked at") };
    let house =
        House::start(
            |listener, shutdown| async move { serve_store(store, &config, listener, shutdown).await },
        )
        .await;
    let reply = house.exchange(&other, other.found()).await;
    assert_eq!(reply.status, 507);
    assert_eq!(reply.refusal().code, RefusalCode::Quota);
    assert!(matches!(house.ask(&founder, founder.found()).await, Answer::Founded { .. }));
    page(house.ask(&founder, founder.pull(None, 0)).await);
    house.close().await;
}

#[tokio::test]
async fn health_is_good_only_while_rows_reach_the_disk() {
    let store = Moody::new();
    store.fail(true);
    let house = House::over(Arc::clone(&store), Limits::default()).await;
    let sick = house.get("/v1/health").await;
    assert_eq!(sick.status, 503);
    assert!(sick.text().contains("cannot write"), "{}", sick.text());
    house.close().await;
    store.fail(false);
    let house = House::over(store, Limits::default()).await;
    let well = house.get("/v1/health").await;
    assert_eq!(well.status, 200);
    let json: serde_json::Value = serde_json::from_slice(&well.body).unwrap();
    assert_eq!(json["status"], "ok");
    assert_eq!(json["protocol"], 1);
    assert_eq!(json["version"], env!("CARGO_PKG_VERSION"));
    house.close().await;
}

#[tokio::test]
async fn people_with_a_browser_are_told_what_this_is_where_no_app_is_built_in() {
    let (house, ..) = salon(Limits::default()).await;
    let root = house.get("/").await;
    let root = root.text();
    assert!(root.contains("Tailcomb relay") && root.contains("make phone"), "{root}");
    assert_eq!(house.get("/assets/any.js").await.status, 404);
    let join = house.get("/join").await;
    assert_eq!(join.status, 200);
    assert!(join.head.contains("content-type: text/html"), "{}", join.head);
    assert!(join.head.contains("referrer-policy: no-referrer"), "{}", join.head);
    assert!(join.text().contains("everything after the # sign"));
    let version: serde_json::Value = serde_json::from_slice(&house.get("/v1/version").await.body).unwrap();
    assert_eq!(version["protocol"], 1);
    house.close().await;
}

#[tokio::test]
async fn a_browser_is_handed_the_app_and_an_invitation_opens_it() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::create_dir(folder.path().join("assets")).unwrap();
    std::fs::write(folder.path().join("index.html"), "<!doctype html>the app").unwrap();
    std::fs::write(folder.path().join("assets/core-1.wasm"), "core").unwrap();
    let phone = Arc::new(PhoneApp::in_folder(folder.path()).unwrap());
    let config = RelayConfig { phone, ..RelayConfig::new(folder.path().join("relay.db")) };
    let house = House::in_file(config).await;
    for path in ["/", "/join", "/index.html"] {
        let page = house.get(path).await;
        assert_eq!((page.status, page.text()), (200, "<!doctype html>the app"), "{path}");
    }
    let core = house.get("/assets/core-1.wasm").await;
    assert!(core.head.contains("application/wasm") && core.head.contains("immutable"), "{}", core.head);
    assert_eq!(house.get("/relay.db").await.status, 404, "what came into the folder later is not handed out");
    house.close().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn many_stations_that_push_at_once_lose_nothing() {
    const STATIONS: u8 = 12;
    const PUSHES: usize = 15;
    let (house, founder, second) = salon(Limits::default()).await;
    let house = Arc::new(house);
    let mut pens = Vec::new();
    for seed in 0..STATIONS {
        let pen = Pen::new(100 + seed);
        let mut secret = [3; tailcomb_wire::invitation::SECRET_BYTES];
        secret[0] = seed;
        let invitation = tailcomb_wire::invitation::Invitation::from_secret(&secret);
        house.ask(&founder, founder.invite(&invitation)).await;
        house.ask(&pen, pen.join(&invitation)).await;
        pens.push(pen);
    }
    let reader = {
        let house = Arc::clone(&house);
        tokio::spawn(async move {
            let mut seen = Vec::new();
            let mut from = None;
            while seen.len() < usize::from(STATIONS) * PUSHES {
                let got = page(house.ask(&second, second.pull(from, 5_000)).await);
                seen.extend(got.entries.iter().map(|e| e.seq));
                from = Some(got.cursor);
            }
            seen
        })
    };
    let writers: Vec<_> = pens
        .into_iter()
        .map(|mut pen| {
            let house = Arc::clone(&house);
            tokio::spawn(async move {
                for _ in 0..PUSHES {
                    let push = pen.push(1);
                    let answer = house.ask(&pen, push).await;
                    assert!(matches!(answer, Answer::Pushed(_)), "{answer:?}");
                }
            })
        })
        .collect();
    for writer in writers {
        writer.await.unwrap();
    }
    let seen = tokio::time::timeout(NEVER, reader).await.expect("everything arrives").unwrap();
    assert_eq!(seen, (1..=u64::from(STATIONS) * PUSHES as u64).collect::<Vec<_>>());
    Arc::into_inner(house).unwrap().close().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_long_log_is_read_to_its_end_in_pages() {
    let (house, mut founder, second) = salon(Limits::default()).await;
    for _ in 0..6 {
        let frames = (0..40).map(|_| founder.frame(20_000)).collect();
        let push = Request::Push(founder.sign(frames));
        assert!(matches!(house.ask(&founder, push).await, Answer::Pushed(_)));
    }
    let (mut from, mut seen, mut pages) = (None, Vec::new(), 0);
    loop {
        let got = page(house.ask(&second, second.pull(from, 60_000)).await);
        assert!(got.entries.last().unwrap().run_signature.is_some());
        seen.extend(got.entries.iter().map(|e| e.seq));
        pages += 1;
        from = Some(got.cursor);
        if got.cursor.seq == got.head {
            break;
        }
    }
    assert_eq!(seen, (1..=240).collect::<Vec<_>>());
    assert_eq!(pages, 3, "two runs of 800 kB reach the megabyte asked for");
    house.close().await;
}

#[tokio::test]
async fn a_file_that_is_no_relays_stops_the_start_with_a_reason() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("notes.txt");
    std::fs::write(&path, "not a database, but long enough to look at, as notes go. ".repeat(40)).unwrap();
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let config = RelayConfig { durability: Durability::Full, ..RelayConfig::new(&path) };
    let failed = serve(config, listener, pending()).await.unwrap_err();
    assert_eq!(failed.to_string(), "the relay's records: the file is not a relay's database");
}
