//! What a request may be, and what is said to one that may not be answered.

use tailcomb_wire::frame::{Frame, verify_run};

use super::*;
use crate::relay::config::Founding;
use crate::relay::desk::Rules;
use crate::relay::testkit::{OTHER_SALON, SALON};

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
