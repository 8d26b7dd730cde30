//! What one sender can take of the relay: bytes, time, connections, requests by the second.

use tailcomb_wire::api::MAX_REQUEST_BYTES;

use super::*;
use crate::relay::config::Rate;

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
