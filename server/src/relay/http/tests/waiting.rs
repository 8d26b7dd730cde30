//! Pulls that wait at the relay for news.

use super::*;

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
