//! The process that has a station's store open for as long as it runs: it stays in touch with the relay, rings alarms
//! and executes the commands that come over the socket.

use std::fs;
use std::os::unix::fs::PermissionsExt;
use std::sync::Arc;
use std::time::Duration;

use clap::Parser as _;
use tailcomb_core::net::SharedStation;
use tailcomb_core::store::DirectoryLock;
use tokio::io::{AsyncReadExt, BufReader};
use tokio::net::unix::OwnedWriteHalf;
use tokio::net::{UnixListener, UnixStream};
use tokio::sync::broadcast::error::RecvError;
use tokio::sync::{RwLock, Semaphore, mpsc, watch};
use tokio::task::JoinSet;

use super::TURN;
use super::args::{AtStation, Cli, StationsCommand};
use super::board::{self, Board};
use super::context::Context;
use super::door::{self, MAX_REQUEST, Request, Said};
use super::error::CliError;
use super::execute::execute;
use super::home::Home;

/// Connections at once; one is a command or a board that is watched.
const CONNECTIONS: usize = 64;
/// Time for a command to arrive, and for an answer to be taken.
const PATIENCE: Duration = Duration::from_secs(10);
/// Time for what is under way to end, and for what is unsent to go out, when the process is asked to stop.
const ENDING: Duration = Duration::from_secs(3);
/// Least time between two frames of a board: news may come by the thousand.
const BETWEEN_FRAMES: Duration = Duration::from_millis(100);

/// A station that this process has open.
#[derive(Debug, Clone)]
pub(super) struct Owner {
    shared: SharedStation,
    home: Home,
    /// Counts what may have changed what a screen shows.
    news: watch::Sender<u64>,
    /// Held by every command that acts; alone by one that acts across an await.
    acting: Arc<RwLock<()>>,
}

/// What goes with the store being open; dropping it gives the station back.
#[derive(Debug)]
pub(super) struct Held {
    listener: UnixListener,
    home: Home,
    _lock: DirectoryLock,
}

impl Drop for Held {
    fn drop(&mut self) {
        // Before the lock goes: the next process makes its own.
        drop(fs::remove_file(self.home.socket()));
    }
}

impl Owner {
    /// Opens the station of `home`, for this process alone, and its socket.
    pub(super) async fn open(home: Home) -> Result<(Self, Held), CliError> {
        if !home.has_store() {
            return Err(home.empty());
        }
        if door::connect(&home).await?.is_some() {
            return Err(home.in_use());
        }
        let lock = home.lock_within(TURN).await?;
        let station = home.open_station(&lock)?;
        let listener = listen(&home)?;
        let (news, _) = watch::channel(0);
        let shared = SharedStation::new(station, &home.trust()?)?;
        let owner = Self { shared, home: home.clone(), news, acting: Arc::default() };
        Ok((owner, Held { listener, home, _lock: lock }))
    }

    pub(super) fn context(&self, acting: Option<String>, input: String) -> Context {
        Context::new(self.shared.clone(), self.home.clone(), acting, input, true)
    }

    pub(super) fn home(&self) -> &Home {
        &self.home
    }

    pub(super) fn shared(&self) -> &SharedStation {
        &self.shared
    }

    /// Wakes whenever something may have changed what a screen shows.
    pub(super) fn news(&self) -> watch::Receiver<u64> {
        self.news.subscribe()
    }

    fn something_happened(&self) {
        self.news.send_modify(|count| *count = count.wrapping_add(1));
    }

    /// Exchanges with the relay and takes commands until `stop`; then sends what is left, if that goes quickly, and
    /// puts the store to rest.
    pub(super) async fn run(&self, held: Held, stop: impl Future<Output = ()>) -> Result<(), CliError> {
        let connections = Arc::new(Semaphore::new(CONNECTIONS));
        let mut answering = JoinSet::new();
        {
            let exchanging = self.shared.run();
            let watching = self.watch_happenings();
            let accepting = async {
                loop {
                    let Ok(place) = Arc::clone(&connections).acquire_owned().await else { return };
                    // Ended ones are taken out, so that the set stays as small as what is open.
                    while answering.try_join_next().is_some() {}
                    match held.listener.accept().await {
                        Ok((stream, _)) => {
                            let owner = self.clone();
                            answering.spawn(async move {
                                owner.answer(stream).await;
                                drop(place);
                            });
                        }
                        Err(failed) => {
                            tracing::warn!(%failed, "the station's socket gives no connection");
                            tokio::time::sleep(Duration::from_millis(100)).await;
                        }
                    }
                }
            };
            tokio::select! {
                () = exchanging => {}
                () = watching => {}
                () = accepting => {}
                () = stop => {}
            }
        }
        // Nobody finds the socket any more; the lock stays until the store is at rest.
        drop(fs::remove_file(self.home.socket()));
        let ended = async { while answering.join_next().await.is_some() {} };
        if tokio::time::timeout(ENDING, ended).await.is_err() {
            // Boards that are watched have no end of their own.
            answering.shutdown().await;
        }
        self.shared.with(|station| station.abandon_requests());
        let status = self.shared.with(|station| station.status())?;
        if status.unsent > 0 && status.reachable && !status.paused {
            self.shared.sync_once(ENDING).await?;
        }
        self.shared.pause()?;
        Ok(())
    }

    /// Turns happenings into news.
    async fn watch_happenings(&self) {
        let mut happenings = self.shared.happenings();
        loop {
            match happenings.recv().await {
                Ok(_) | Err(RecvError::Lagged(_)) => self.something_happened(),
                Err(RecvError::Closed) => return,
            }
        }
    }

    async fn answer(&self, stream: UnixStream) {
        if let Err(failed) = self.converse(stream).await {
            // Garbage, or a caller that has gone. Nothing of it is logged but that.
            tracing::debug!(%failed, "a connection to the station's socket ended early");
        }
    }

    async fn converse(&self, stream: UnixStream) -> std::io::Result<()> {
        let (from, mut to) = stream.into_split();
        let mut from = BufReader::new(from);
        let request = match tokio::time::timeout(PATIENCE, door::read_line(&mut from, MAX_REQUEST)).await {
            Ok(Ok(Some(request))) => request,
            Ok(Ok(None)) => return Ok(()),
            Ok(Err(failed)) => {
                let error = CliError::usage(format!("this is no command for a station: {failed}"));
                return say(&mut to, &Said::error(&error, true)).await;
            }
            Err(_) => return Err(std::io::ErrorKind::TimedOut.into()),
        };
        match self.read_command(&request) {
            Err(said) => say(&mut to, &said).await,
            Ok((AtStation::Floor(args), _)) if !args.once => {
                let (send, mut boards) = mpsc::channel(1);
                let writing = async {
                    while let Some(board) = boards.recv().await {
                        let frame = Said::Frame(Box::new(board));
                        say(&mut to, &frame).await?;
                    }
                    Ok(())
                };
                let mut gone = [0_u8; 1];
                tokio::select! {
                    written = writing => written,
                    () = self.frames(send) => Ok(()),
                    _ = from.read(&mut gone) => Ok(()),
                }
            }
            Ok((command, cli)) => {
                let said = self.obey(command, cli, request).await;
                say(&mut to, &said).await
            }
        }
    }

    /// Reads a command line as the caller's own process would.
    fn read_command(&self, request: &Request) -> Result<(AtStation, super::args::Global), Said> {
        let json = request.argv.iter().any(|a| a == "--json");
        let argv = std::iter::once("tailcomb").chain(request.argv.iter().map(String::as_str));
        let cli = Cli::try_parse_from(argv).map_err(|said| {
            let (text, code) = (said.to_string(), u8::try_from(said.exit_code()).unwrap_or(2));
            match (json, said.use_stderr()) {
                (true, true) => Said::error(&CliError::usage(text.trim_end()), true),
                (_, true) => Said::Done { out: String::new(), err: text, code, file: None },
                (_, false) => Said::Done { out: text, err: String::new(), code, file: None },
            }
        })?;
        match cli.command.at_station() {
            Ok(command) => Ok((command, cli.global)),
            Err(_) => {
                Err(Said::error(&CliError::usage("a running station does not take this command"), json))
            }
        }
    }

    async fn obey(&self, command: AtStation, global: super::args::Global, request: Request) -> Said {
        let owner = self.clone();
        let json = global.json;
        // A task of its own: a defect in one command must not take the station's process with it.
        let done = tokio::spawn(async move {
            let ctx = owner.context(global.acting, request.input).typed_in(request.typed_in);
            let across_an_await =
                matches!(command, AtStation::Stations { what: Some(StationsCommand::Revoke { .. }) });
            if across_an_await {
                let _alone = owner.acting.write().await;
                execute(command, &ctx).await
            } else if command.acts() {
                let _one_of_many = owner.acting.read().await;
                execute(command, &ctx).await
            } else {
                execute(command, &ctx).await
            }
        })
        .await;
        self.something_happened();
        match done {
            Ok(Ok(out)) => Said::Done { out: out.text(json), err: String::new(), code: 0, file: out.file },
            Ok(Err(error)) => Said::error(&error, json),
            Err(_) => {
                let error = CliError::new(
                    "internal",
                    "this command failed inside the program; what was saved before it stays saved",
                )
                .hint("look at the station's log, and tell the maintainers what you did");
                Said::error(&error, json)
            }
        }
    }

    /// Sends the board now, whenever something happens, and each second while timers run; ends when nobody takes it.
    pub(super) async fn frames(&self, to: mpsc::Sender<Board>) {
        let mut news = self.news();
        loop {
            news.mark_unchanged();
            let shown_at = tokio::time::Instant::now();
            // Who signed in is a detail of the board; that it cannot be read shows at the next command.
            let person = self.home.signed_in().unwrap_or_default();
            let pause = match self.shared.with(|station| Board::read(station, person.as_ref())) {
                Ok(board) => {
                    let pause = board.still_for();
                    if to.send(board).await.is_err() {
                        return;
                    }
                    pause
                }
                Err(error) => {
                    tracing::warn!(%error, "the board cannot be read");
                    board::STILL
                }
            };
            // Either a frame is due or there is news; both mean the same.
            drop(tokio::time::timeout_at(shown_at + pause, news.changed()).await);
            tokio::time::sleep_until(shown_at + BETWEEN_FRAMES).await;
        }
    }
}

/// Says something to a caller, who has only so long to listen.
async fn say(to: &mut OwnedWriteHalf, said: &Said) -> std::io::Result<()> {
    let written = tokio::time::timeout(PATIENCE, door::write_line(to, said)).await;
    written.unwrap_or_else(|_| Err(std::io::ErrorKind::TimedOut.into()))
}

fn listen(home: &Home) -> Result<UnixListener, CliError> {
    let path = home.socket();
    let failed = |e: std::io::Error| {
        let error = CliError::new("socket", format!("cannot listen at {}: {e}", path.display()));
        match e.kind() {
            std::io::ErrorKind::InvalidInput => error.hint(
                "that path is too long for a socket: keep the station in a directory with a shorter path",
            ),
            _ => error.hint("check that the directory is yours and that its disk has room"),
        }
    };
    // We have the lock, so whoever made it is gone.
    match fs::remove_file(&path) {
        Err(e) if e.kind() != std::io::ErrorKind::NotFound => return Err(failed(e)),
        _ => {}
    }
    let listener = UnixListener::bind(&path).map_err(failed)?;
    // The directory is its owner's alone already; this holds even where somebody opened it up.
    fs::set_permissions(&path, fs::Permissions::from_mode(0o600)).map_err(failed)?;
    Ok(listener)
}
