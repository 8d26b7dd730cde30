use std::pin::Pin;
use std::task::{Context, Poll, Waker};

use super::*;
use crate::relay::limits::Room;
use crate::relay::testkit::Moody;

fn probe() -> Write {
    Write::Probe { at_ms: 0 }
}

fn start(store: &Arc<Moody>) -> (WriteQueue, JoinHandle<()>) {
    WriteQueue::start(Arc::clone(store), Quotas::default(), Bells::default()).unwrap()
}

type Pending<'a> = Pin<Box<dyn Future<Output = Result<Outcome, Turned>> + Send + 'a>>;

/// Enqueues a write without waiting for it.
fn enqueue<'a>(queue: &'a WriteQueue, room: &Room) -> Pending<'a> {
    let mut pending: Pending<'a> = Box::pin(queue.write(probe(), room.enter()));
    assert!(pending.as_mut().poll(&mut Context::from_waker(Waker::noop())).is_pending());
    pending
}

#[tokio::test]
async fn writes_that_pile_up_behind_a_busy_disk_share_one_commit() {
    let (store, room) = (Moody::new(), Room::new(0));
    let (queue, thread) = start(&store);
    store.close_gate();
    let first = enqueue(&queue, &room);
    store.someone_at_gate();
    let piled_up: Vec<_> = (0..20).map(|_| enqueue(&queue, &room)).collect();
    store.open_gate();
    for pending in std::iter::once(first).chain(piled_up) {
        assert!(matches!(pending.await, Ok(Ok(Written::Probed))));
    }
    assert_eq!(store.batches(), [1, 20]);
    queue.stop();
    thread.join().unwrap();
}

#[tokio::test]
async fn whatever_was_enqueued_before_the_stop_is_written() {
    let (store, room) = (Moody::new(), Room::new(0));
    let (queue, thread) = start(&store);
    store.close_gate();
    let first = enqueue(&queue, &room);
    store.someone_at_gate();
    let second = enqueue(&queue, &room);
    queue.stop();
    store.open_gate();
    thread.join().unwrap();
    assert!(matches!(first.await, Ok(Ok(Written::Probed))));
    assert!(matches!(second.await, Ok(Ok(Written::Probed))));
    assert_eq!(queue.write(probe(), room.enter()).await.unwrap_err(), Turned, "after the stop nothing is");
}

#[tokio::test]
async fn a_write_whose_caller_went_away_is_written_all_the_same() {
    let (store, room) = (Moody::new(), Room::new(0));
    let (queue, thread) = start(&store);
    store.close_gate();
    let first = enqueue(&queue, &room);
    store.someone_at_gate();
    drop((first, enqueue(&queue, &room)));
    store.open_gate();
    queue.stop();
    thread.join().unwrap();
    assert_eq!(store.batches(), [1, 1]);
}

#[tokio::test]
async fn a_full_queue_turns_writes_away_instead_of_growing() {
    let (store, room) = (Moody::new(), Room::new(0));
    let (queue, thread) = start(&store);
    store.close_gate();
    let first = enqueue(&queue, &room);
    store.someone_at_gate();
    let waiting: Vec<_> = (0..WAITING_WRITES).map(|_| enqueue(&queue, &room)).collect();
    assert_eq!(queue.write(probe(), room.enter()).await.unwrap_err(), Turned);
    store.open_gate();
    for pending in std::iter::once(first).chain(waiting) {
        assert!(matches!(pending.await, Ok(Ok(Written::Probed))));
    }
    assert!(store.batches().iter().all(|batch| *batch <= BATCH_WRITES));
    queue.stop();
    thread.join().unwrap();
}

#[tokio::test]
async fn a_failing_disk_is_told_to_everybody_in_the_batch() {
    let (store, room) = (Moody::new(), Room::new(0));
    let (queue, thread) = start(&store);
    store.fail(true);
    let failed = queue.write(probe(), room.enter()).await;
    assert!(matches!(failed, Ok(Err(NotWritten::Failed(_)))), "{failed:?}");
    store.fail(false);
    assert!(matches!(queue.write(probe(), room.enter()).await, Ok(Ok(_))), "and it goes on afterwards");
    queue.stop();
    thread.join().unwrap();
}

#[tokio::test]
async fn a_body_gives_its_room_back_once_it_is_written() {
    let (store, room) = (Moody::new(), Room::new(100));
    let (queue, thread) = start(&store);
    let mut held = room.enter();
    assert!(held.take(100));
    store.close_gate();
    let mut pending: Pending<'_> = Box::pin(queue.write(probe(), held));
    assert_eq!(pending.as_mut().poll(&mut Context::from_waker(Waker::noop())).map(|_| ()), Poll::Pending);
    store.someone_at_gate();
    assert!(!room.enter().take(1), "still held while it waits for the disk");
    store.open_gate();
    pending.await.unwrap().unwrap();
    assert!(room.enter().take(100));
    queue.stop();
    thread.join().unwrap();
}
