//! What a host may do to a station: pause it, drop it, ask and not wait, lend it things that fail.

#![allow(clippy::unwrap_used, clippy::panic, clippy::expect_used, reason = "tests may stop where they stand")]

use std::fs;
use std::future::Future;
use std::net::TcpListener;
use std::path::Path;
use std::pin::pin;
use std::sync::atomic::{AtomicBool, AtomicI64, Ordering};
use std::sync::{Arc, Condvar, Mutex, mpsc};
use std::task::{Context, Waker};
use std::time::Duration;

use tailcomb_core::record::floor::FloorView;
use tailcomb_core::record::salon::Role;
use tailcomb_core::record::timer::{Alarm, NewTimer};
use tailcomb_core::station::NewSalon;
use tailcomb_core::station::hosted::{HostError, HostedStation};
use tailcomb_core::sync::Status;
use tailcomb_core::time::timer::TimerKind;
use tailcomb_core::trade::Millis;
use tailcomb_ffi::{
    AlarmScheduler, Connectivity, HostClock, HostServices, KeyVault, KeyVaultError, NetworkTold, Observer,
    Tailcomb, open,
};

/// Nobody listens there.
const NOWHERE: &str = "http://127.0.0.1:9";

fn host() -> HostServices {
    HostServices { key_vault: None, alarms: None, connectivity: None, clock: None, authority: None }
}

fn run<F: Future>(work: F) -> F::Output {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
    runtime.block_on(async { tokio::time::timeout(Duration::from_secs(60), work).await.expect("it hangs") })
}

async fn opened(directory: &Path, host: HostServices) -> Result<Arc<Tailcomb>, HostError> {
    open(directory.to_str().unwrap().to_owned(), host).await
}

fn salon(relay: &str) -> NewSalon {
    NewSalon {
        name: "Salon Orla".to_owned(),
        zone: "Europe/Lisbon".to_owned(),
        relay_url: relay.to_owned(),
        station: "front".to_owned(),
        person: "Ines".to_owned(),
        role: Role::Stylist,
    }
}

async fn founded(directory: &Path, host: HostServices) -> (Arc<Tailcomb>, Arc<HostedStation>) {
    let tailcomb = opened(directory, host).await.unwrap();
    let founded = tailcomb.found(salon(NOWHERE)).await.unwrap();
    assert_eq!(founded.recovery_words.split_whitespace().count(), 24);
    (tailcomb, founded.station)
}

fn timer(label: &str) -> NewTimer {
    NewTimer {
        kind: TimerKind::Plain,
        label: label.to_owned(),
        length: Millis::minutes(10),
        check_every: None,
        sections: Vec::new(),
        bowl: None,
        from: None,
    }
}

/// Files of this process that lie in a directory.
fn open_files(directory: &Path) -> Vec<std::path::PathBuf> {
    let entries = fs::read_dir("/proc/self/fd").unwrap();
    let links = entries.filter_map(|entry| fs::read_link(entry.unwrap().path()).ok());
    links.filter(|link| link.starts_with(directory)).collect()
}

fn code(error: &HostError) -> &str {
    match error {
        HostError::Refused { code, .. }
        | HostError::Network { code, .. }
        | HostError::Device { code, .. }
        | HostError::Closed { code, .. }
        | HostError::AtWork { code, .. }
        | HostError::Internal { code, .. } => code,
    }
}

#[test]
fn a_pause_closes_every_file_although_a_request_is_under_way_and_resuming_brings_back_who_was_there() {
    // A relay that takes requests and never answers.
    let silent = TcpListener::bind("127.0.0.1:0").unwrap();
    let url = format!("http://{}", silent.local_addr().unwrap());
    let (asked, was_asked) = mpsc::channel();
    std::thread::spawn(move || {
        let mut kept = Vec::new();
        while let Ok((stream, _)) = silent.accept() {
            kept.push(stream);
            if asked.send(()).is_err() {
                return;
            }
        }
    });
    run(async {
        let directory = tempfile::tempdir().unwrap();
        let tailcomb = opened(directory.path(), host()).await.unwrap();
        let station = tailcomb.found(salon(&url)).await.unwrap().station;
        let me = station.answered(HostedStation::signed_in_if_free).await.unwrap();
        was_asked.recv_timeout(Duration::from_secs(20)).expect("no request went out");
        assert!(!open_files(directory.path()).is_empty(), "the test looks in the wrong place");

        tailcomb.pause().await.unwrap();
        assert_eq!(open_files(directory.path()), Vec::<std::path::PathBuf>::new());
        assert_eq!(code(&station.answered(HostedStation::floor_if_free).await.unwrap_err()), "paused");
        assert_eq!(code(&station.start_timer(None, timer("late")).await.unwrap_err()), "paused");
        // Whoever comes meanwhile finds it free.
        let other = opened(directory.path(), host()).await.unwrap();
        assert_eq!(code(&tailcomb.resume().await.unwrap_err()), "in-use");
        other.shut().await.unwrap();

        tailcomb.resume().await.unwrap();
        assert_eq!(station.answered(HostedStation::signed_in_if_free).await.unwrap(), me);
        station.start_timer(None, timer("after")).await.unwrap();
        assert_eq!(station.answered(HostedStation::floor_if_free).await.unwrap().timers.len(), 1);
        tailcomb.shut().await.unwrap();
        assert_eq!(code(&station.answered(HostedStation::floor_if_free).await.unwrap_err()), "closed");
        assert_eq!(open_files(directory.path()), Vec::<std::path::PathBuf>::new());
    });
}

#[test]
fn a_command_that_nobody_waits_for_is_done_whole_or_not_at_all() {
    run(async {
        let directory = tempfile::tempdir().unwrap();
        let (tailcomb, station) = founded(directory.path(), host()).await;
        let mut given_up = 0_usize;
        for round in 0..200 {
            let mut context = Context::from_waker(Waker::noop());
            let mut command = pin!(station.start_timer(None, timer("given up")));
            // Begun, and dropped while it may be waiting, under way or done.
            if command.as_mut().poll(&mut context).is_pending() {
                given_up += 1;
            }
            if round % 2 == 0 {
                std::thread::sleep(Duration::from_micros(300));
            }
        }
        // In its turn after all of those.
        station.start_timer(None, timer("last")).await.unwrap();
        let timers = station.answered(HostedStation::timers_if_free).await.unwrap();
        let done = timers.iter().filter(|timer| timer.label.text == "given up").count();
        assert!(
            given_up > 0 && done > 0 && done < 200,
            "given up {given_up}, done {done}: one side did not come up"
        );
        assert!(timers.iter().all(|timer| timer.started.is_some()), "one is half there");
        tailcomb.shut().await.unwrap();
    });
}

#[test]
fn dropping_the_last_object_closes_the_station() {
    run(async {
        let directory = tempfile::tempdir().unwrap();
        let (tailcomb, station) = founded(directory.path(), host()).await;
        drop(tailcomb);
        // Whoever has the station still has it whole.
        station.start_timer(None, timer("kept")).await.unwrap();
        drop(station);
        // It is let go of on another thread, and whoever opens it next waits for that.
        let again = opened(directory.path(), host()).await.unwrap();
        let station = again.station().unwrap();
        assert_eq!(
            code(&station.answered(HostedStation::signed_in_if_free).await.unwrap_err()),
            "nobody-signed-in"
        );
        assert_eq!(station.answered(HostedStation::floor_if_free).await.unwrap().timers.len(), 1);
    });
}

/// A vault as a test needs it.
#[derive(Default)]
struct Vault {
    key: Mutex<Option<Vec<u8>>>,
    shut: AtomicBool,
}

impl KeyVault for Vault {
    fn key(&self) -> Result<Option<Vec<u8>>, KeyVaultError> {
        if self.shut.load(Ordering::Relaxed) {
            return Err(KeyVaultError::Unavailable { reason: "the device is locked".to_owned() });
        }
        Ok(self.key.lock().unwrap().clone())
    }

    fn keep(&self, key: Vec<u8>) -> Result<(), KeyVaultError> {
        *self.key.lock().unwrap() = Some(key);
        Ok(())
    }
}

#[test]
fn without_its_key_a_station_stays_shut_and_with_it_everything_is_there() {
    run(async {
        let directory = tempfile::tempdir().unwrap();
        let vault = Arc::new(Vault::default());
        let with = |vault: &Arc<Vault>| HostServices { key_vault: Some(vault.clone()), ..host() };
        let (tailcomb, station) = founded(directory.path(), with(&vault)).await;
        station.start_timer(None, timer("behind the lock")).await.unwrap();
        tailcomb.shut().await.unwrap();
        assert_eq!(vault.key.lock().unwrap().as_ref().map(Vec::len), Some(32));

        vault.shut.store(true, Ordering::Relaxed);
        assert_eq!(code(&opened(directory.path(), with(&vault)).await.unwrap_err()), "locked");
        let others = Arc::new(Vault { key: Mutex::new(Some(vec![7; 32])), ..Vault::default() });
        assert_eq!(code(&opened(directory.path(), with(&others)).await.unwrap_err()), "locked");
        let short = Arc::new(Vault { key: Mutex::new(Some(vec![7; 5])), ..Vault::default() });
        assert_eq!(code(&opened(directory.path(), with(&short)).await.unwrap_err()), "locked");

        vault.shut.store(false, Ordering::Relaxed);
        let again = opened(directory.path(), with(&vault)).await.unwrap();
        assert_eq!(again.station().unwrap().answered(HostedStation::timers_if_free).await.unwrap().len(), 1);
    });
}

/// Clocks that a test sets, and that fail when told to.
struct Clocks {
    at: AtomicI64,
    fails: AtomicBool,
}

impl HostClock for Clocks {
    fn wall_ms(&self) -> i64 {
        assert!(!self.fails.load(Ordering::Relaxed), "the host's clock is broken");
        1_772_000_000_000 + self.at.load(Ordering::Relaxed)
    }

    fn boot_ms(&self) -> i64 {
        self.at.load(Ordering::Relaxed)
    }
}

#[test]
fn work_that_breaks_is_told_so_and_the_station_goes_on() {
    run(async {
        let directory = tempfile::tempdir().unwrap();
        let clock = Arc::new(Clocks { at: AtomicI64::new(0), fails: AtomicBool::new(false) });
        let (tailcomb, station) =
            founded(directory.path(), HostServices { clock: Some(clock.clone()), ..host() }).await;
        station.start_timer(None, timer("before")).await.unwrap();
        clock.fails.store(true, Ordering::Relaxed);
        assert_eq!(code(&station.start_timer(None, timer("broken")).await.unwrap_err()), "internal");
        assert_eq!(code(&station.answered(HostedStation::floor_if_free).await.unwrap_err()), "internal");
        clock.fails.store(false, Ordering::Relaxed);
        station.start_timer(None, timer("after")).await.unwrap();
        let mut labels: Vec<String> = station
            .answered(HostedStation::timers_if_free)
            .await
            .unwrap()
            .into_iter()
            .map(|timer| timer.label.text)
            .collect();
        labels.sort();
        assert_eq!(labels, ["after", "before"]);
        tailcomb.shut().await.unwrap();
    });
}

/// Hands on what it is told.
struct Told<T>(Mutex<mpsc::Sender<T>>);

impl AlarmScheduler for Told<Vec<Alarm>> {
    fn schedule(&self, alarms: Vec<Alarm>) {
        drop(self.0.lock().unwrap().send(alarms));
    }
}

impl Observer for Told<FloorView> {
    fn floor(&self, floor: FloorView) {
        drop(self.0.lock().unwrap().send(floor));
    }
    fn alarms(&self, _: Vec<Alarm>) {}
    fn status(&self, _: Status) {}
}

#[test]
fn the_scheduler_always_has_the_alarms_that_stand_and_no_others() {
    run(async {
        let directory = tempfile::tempdir().unwrap();
        let clock = Arc::new(Clocks { at: AtomicI64::new(0), fails: AtomicBool::new(false) });
        let (send, scheduled) = mpsc::channel();
        let lent =
            HostServices { clock: Some(clock), alarms: Some(Arc::new(Told(Mutex::new(send)))), ..host() };
        let (tailcomb, station) = founded(directory.path(), lent).await;
        let next = || scheduled.recv_timeout(Duration::from_secs(20)).unwrap();
        assert_eq!(next(), Vec::new());
        let set = station.start_timer(None, timer("gloss")).await.unwrap();
        let alarms = next();
        assert_eq!(alarms.iter().map(|alarm| Some(alarm.due_ms)).collect::<Vec<_>>(), [set.due_ms]);
        station.stop_timer(set.at).await.unwrap();
        assert_eq!(next(), Vec::new());
        tailcomb.shut().await.unwrap();
    });
}

#[test]
fn an_observer_is_told_what_stands_and_what_changes_until_it_is_ended() {
    run(async {
        let directory = tempfile::tempdir().unwrap();
        let (tailcomb, station) = founded(directory.path(), host()).await;
        let (send, floors) = mpsc::channel::<FloorView>();
        let observation = tailcomb.observe(Arc::new(Told(Mutex::new(send))));
        let count = |want: usize| {
            while floors.recv_timeout(Duration::from_secs(20)).expect("nobody told").timers.len() != want {}
        };
        count(0);
        station.start_timer(None, timer("one")).await.unwrap();
        count(1);
        tailcomb.pause().await.unwrap();
        tailcomb.resume().await.unwrap();
        station.start_timer(None, timer("two")).await.unwrap();
        count(2);
        observation.end();
        // Another one is told of what comes after; whoever was ended is not.
        let (send, others) = mpsc::channel();
        let other = tailcomb.observe(Arc::new(Told(Mutex::new(send))));
        station.start_timer(None, timer("three")).await.unwrap();
        while others.recv_timeout(Duration::from_secs(20)).expect("nobody told").timers.len() != 3 {}
        assert!(floors.try_iter().all(|floor| floor.timers.len() < 3));
        drop(other);
        tailcomb.shut().await.unwrap();
    });
}

/// Says that it is being told, and goes on when it may.
struct Slow {
    begun: Mutex<mpsc::Sender<()>>,
    may_go_on: Mutex<mpsc::Receiver<()>>,
    over: AtomicBool,
}

impl Observer for Slow {
    fn floor(&self, _: FloorView) {
        let _ = self.begun.lock().unwrap().send(());
        let _ = self.may_go_on.lock().unwrap().recv_timeout(Duration::from_secs(20));
        self.over.store(true, Ordering::Release);
    }
    fn alarms(&self, _: Vec<Alarm>) {}
    fn status(&self, _: Status) {}
}

#[test]
fn who_ends_a_station_waits_for_one_that_is_being_told_but_not_for_ever() {
    run(async {
        let directory = tempfile::tempdir().unwrap();
        let (tailcomb, _station) = founded(directory.path(), host()).await;
        let slow = || {
            let ((begun, is_told), (go_on, may_go_on)) = (mpsc::channel(), mpsc::channel());
            let (begun, may_go_on) = (Mutex::new(begun), Mutex::new(may_go_on));
            let slow = Arc::new(Slow { begun, may_go_on, over: AtomicBool::new(false) });
            let observation = tailcomb.observe(slow.clone());
            is_told.recv_timeout(Duration::from_secs(20)).expect("nobody told");
            (slow, go_on, observation)
        };
        let (told, go_on, observation) = slow();
        std::thread::spawn(move || {
            std::thread::sleep(Duration::from_millis(100));
            go_on.send(()).unwrap();
        });
        tailcomb.pause().await.unwrap();
        assert!(told.over.load(Ordering::Acquire), "it ended while the host was being told");
        observation.end();
        tailcomb.resume().await.unwrap();
        // This one would go on only after the end.
        let (told, go_on, _observation) = slow();
        tailcomb.pause().await.unwrap();
        assert!(!told.over.load(Ordering::Acquire));
        go_on.send(()).unwrap();
        tailcomb.shut().await.unwrap();
    });
}

#[test]
fn what_stands_in_the_way_is_told_by_its_kind_and_code() {
    run(async {
        let directory = tempfile::tempdir().unwrap();
        let empty = opened(directory.path(), host()).await.unwrap();
        assert!(empty.station().is_none());
        assert_eq!(code(&empty.device().await.unwrap_err()), "no-salon");
        assert_eq!(code(&empty.join("nonsense".to_owned(), "x".to_owned()).await.unwrap_err()), "link");
        assert_eq!(
            code(
                &empty.recover("no words".to_owned(), NOWHERE.to_owned(), "x".to_owned()).await.unwrap_err()
            ),
            "words"
        );
        empty.found(salon(NOWHERE)).await.unwrap();
        assert!(
            matches!(empty.found(salon(NOWHERE)).await, Err(HostError::Refused { code, .. }) if code == "station-exists")
        );
        assert!(
            matches!(opened(directory.path(), host()).await, Err(HostError::Device { code, .. }) if code == "in-use")
        );
        let invited = empty.invite().await;
        assert!(matches!(&invited, Err(HostError::Network { code, .. }) if code == "pairing"), "{invited:?}");
        let bad = HostServices { authority: Some(b"no certificate".to_vec()), ..host() };
        assert!(
            matches!(opened(directory.path(), bad).await, Err(HostError::Refused { code, .. }) if code == "authority")
        );
        let station = empty.station().unwrap();
        let visit = tailcomb_core::ids::DocId::try_from("visit/none".to_owned()).unwrap();
        let missing = station.answered(|station| station.visit_if_free(visit.clone())).await;
        assert!(matches!(missing, Err(HostError::Refused { code, .. }) if code == "not-found"));
        empty.shut().await.unwrap();
    });
}

/// A clock that keeps who reads it until a test lets them go.
#[derive(Default)]
struct Gate {
    shut: Mutex<bool>,
    changed: Condvar,
    waiting: AtomicBool,
}

impl Gate {
    fn set(&self, shut: bool) {
        *self.shut.lock().unwrap() = shut;
        self.changed.notify_all();
    }

    /// Until somebody waits at it.
    fn reached(&self) {
        while !self.waiting.load(Ordering::Acquire) {
            std::thread::sleep(Duration::from_millis(1));
        }
    }
}

impl HostClock for Gate {
    fn wall_ms(&self) -> i64 {
        let mut shut = self.shut.lock().unwrap();
        while *shut {
            self.waiting.store(true, Ordering::Release);
            shut = self.changed.wait(shut).unwrap();
        }
        self.waiting.store(false, Ordering::Release);
        1_772_000_000_000
    }

    fn boot_ms(&self) -> i64 {
        1_000
    }
}

/// The labels of what stands on the floor.
async fn labels(station: &HostedStation) -> Vec<String> {
    let floor = station.answered(HostedStation::floor_if_free).await.unwrap();
    let mut labels: Vec<String> = floor.timers.into_iter().map(|timer| timer.label.text).collect();
    labels.sort();
    labels
}

#[test]
fn a_question_waits_for_the_command_at_work_and_keeps_nobody_waiting_itself() {
    run(async {
        let directory = tempfile::tempdir().unwrap();
        let gate = Arc::new(Gate::default());
        let (tailcomb, station) =
            founded(directory.path(), HostServices { clock: Some(gate.clone()), ..host() }).await;
        let mut before_the_next = 0;
        for round in 0..20 {
            let was = labels(&station).await.len();
            gate.set(true);
            let command = tokio::spawn({
                let station = station.clone();
                async move { station.start_timer(None, timer("first")).await }
            });
            tokio::task::yield_now().await;
            gate.reached();
            // Not answered, and not waited for either: this thread goes on, with the gate shut.
            assert_eq!(code(&station.floor_if_free().unwrap_err()), "at-work");
            let mut question = pin!(labels(&station));
            let mut given_up = Box::pin(labels(&station));
            let mut context = Context::from_waker(Waker::noop());
            assert!(given_up.as_mut().poll(&mut context).is_pending());
            assert!(question.as_mut().poll(&mut context).is_pending());
            drop(given_up);
            let next = tokio::spawn({
                let station = station.clone();
                async move { station.start_timer(None, timer("second")).await }
            });
            tokio::task::yield_now().await;
            gate.set(false);
            let answer = question.await;
            assert!(answer.len() > was, "round {round}: answered before the command was done");
            // Before whatever came after it, unless this machine was too busy to ask again in time.
            before_the_next += usize::from(answer.len() == was + 1);
            command.await.unwrap().unwrap();
            next.await.unwrap().unwrap();
        }
        assert!(before_the_next > 0, "a question that waits has no turn of its own");
        assert_eq!(labels(&station).await.len(), 40);
        tailcomb.shut().await.unwrap();
    });
}

#[test]
fn who_waits_for_a_free_station_hears_of_its_end() {
    run(async {
        let directory = tempfile::tempdir().unwrap();
        let gate = Arc::new(Gate::default());
        let (tailcomb, station) =
            founded(directory.path(), HostServices { clock: Some(gate.clone()), ..host() }).await;
        gate.set(true);
        let command = tokio::spawn({
            let station = station.clone();
            async move { station.start_timer(None, timer("last")).await }
        });
        tokio::task::yield_now().await;
        gate.reached();
        let shut = tokio::spawn(async move { tailcomb.shut().await });
        tokio::task::yield_now().await;
        let mut question = pin!(station.answered(HostedStation::floor_if_free));
        assert!(question.as_mut().poll(&mut Context::from_waker(Waker::noop())).is_pending());
        gate.set(false);
        assert_eq!(code(&question.await.unwrap_err()), "closed");
        command.await.unwrap().unwrap();
        shut.await.unwrap().unwrap();
    });
}

/// Fails at what it is told.
struct Unhearing;

impl Connectivity for Unhearing {
    fn tell(&self, _network: Arc<NetworkTold>) {
        panic!("this host does not listen");
    }
}

#[test]
fn a_host_that_fails_at_word_of_the_network_keeps_no_station_from_opening() {
    run(async {
        let directory = tempfile::tempdir().unwrap();
        let lent = HostServices { connectivity: Some(Arc::new(Unhearing)), ..host() };
        let (tailcomb, station) = founded(directory.path(), lent).await;
        station.start_timer(None, timer("all the same")).await.unwrap();
        tailcomb.shut().await.unwrap();
    });
}

#[test]
fn exchanges_that_a_failing_clock_broke_off_begin_again() {
    // A relay that hangs up on whoever calls.
    let curt = TcpListener::bind("127.0.0.1:0").unwrap();
    let url = format!("http://{}", curt.local_addr().unwrap());
    let (called, calls) = mpsc::channel();
    std::thread::spawn(move || while curt.accept().is_ok_and(|_| called.send(()).is_ok()) {});
    run(async {
        let directory = tempfile::tempdir().unwrap();
        let clock = Arc::new(Clocks { at: AtomicI64::new(0), fails: AtomicBool::new(false) });
        let lent = HostServices { clock: Some(clock.clone()), ..host() };
        let tailcomb = opened(directory.path(), lent).await.unwrap();
        let station = tailcomb.found(salon(&url)).await.unwrap().station;
        calls.recv_timeout(Duration::from_secs(20)).expect("no request went out");
        clock.fails.store(true, Ordering::Relaxed);
        // Long enough for each lane to come round, and to break.
        std::thread::sleep(Duration::from_secs(4));
        assert_eq!(code(&station.floor_if_free().unwrap_err()), "internal");
        while calls.try_recv().is_ok() {}
        clock.at.fetch_add(60_000, Ordering::Relaxed);
        clock.fails.store(false, Ordering::Relaxed);
        calls.recv_timeout(Duration::from_secs(20)).expect("exchanges have ended for good");
        tailcomb.shut().await.unwrap();
    });
}
