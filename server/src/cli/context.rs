//! What a command on a station gets, whichever process it runs in.

use std::path::{Path, PathBuf};
use std::time::Duration;

use tailcomb_core::net::SharedStation;
use tailcomb_core::record::salon::SalonView;
use tailcomb_core::station::{Station, StationError};
use tailcomb_core::sync::Status;
use tailcomb_core::time::Moment;
use tokio::sync::broadcast::error::RecvError;

use super::error::CliError;
use super::home::Home;

/// A station that is open, who acts at it, and what came on standard input.
#[derive(Debug, Clone)]
pub struct Context {
    shared: SharedStation,
    home: Home,
    /// As typed with `--as`.
    acting: Option<String>,
    input: String,
    /// Whether a station process keeps exchanging with the relay behind this command's back.
    live: bool,
    /// The directory in which the command was typed.
    typed_in: PathBuf,
}

impl Context {
    /// A command's view of a station.
    #[must_use]
    pub fn new(shared: SharedStation, home: Home, acting: Option<String>, input: String, live: bool) -> Self {
        Self { shared, home, acting, input, live, typed_in: PathBuf::new() }
    }

    /// Says in which directory the command was typed.
    #[must_use]
    pub fn typed_in(self, dir: impl Into<PathBuf>) -> Self {
        Self { typed_in: dir.into(), ..self }
    }

    /// A file as whoever typed the command means it, whichever process this is.
    #[must_use]
    pub fn path(&self, path: &Path) -> PathBuf {
        self.typed_in.join(path)
    }

    /// What came on standard input, for a command that wants it.
    #[must_use]
    pub fn input(&self) -> &str {
        &self.input
    }

    /// Whether this runs inside the station's own process, which stays in touch with the relay by itself.
    #[must_use]
    pub fn is_live(&self) -> bool {
        self.live
    }

    /// The station's directory.
    #[must_use]
    pub fn home(&self) -> &Home {
        &self.home
    }

    /// The station with its exchanges; for commands about those. Records are changed by [`Context::with`].
    #[must_use]
    pub fn shared(&self) -> &SharedStation {
        &self.shared
    }

    /// Runs a command or a query on the station, as whoever acts. Nobody else uses the station meanwhile: await
    /// nothing, and do in one call what belongs together.
    ///
    /// # Errors
    /// What `work` returns; or that the person named with `--as` is not known here or has left.
    pub fn with<R, E>(&self, work: impl FnOnce(&mut Station) -> Result<R, E>) -> Result<R, CliError>
    where
        CliError: From<E>,
    {
        self.shared.with(|station| {
            self.sign_in(station)?;
            Ok(work(station)?)
        })
    }

    /// Refuses when nobody acts.
    ///
    /// # Errors
    /// [`CliError`] of the code `nobody-signed-in`; or that the person named is not known here.
    pub fn require_somebody(&self) -> Result<(), CliError> {
        let somebody = self.shared.with(|station| self.sign_in(station))?;
        if somebody { Ok(()) } else { Err(StationError::NobodySignedIn.into()) }
    }

    /// Whoever acts takes the station up for one command. False when nobody does.
    fn sign_in(&self, station: &mut Station) -> Result<bool, CliError> {
        if let Some(name) = &self.acting {
            station.sign_in_as(name)?;
            return Ok(true);
        }
        let person = self.home.signed_in()?;
        let somebody = person.is_some();
        match person {
            Some(person) => station.sign_in(person),
            // Whoever a command before this one acted for is not here any more.
            None => station.sign_out(),
        }
        Ok(somebody)
    }

    /// Salon time.
    #[must_use]
    pub fn now(&self) -> Moment {
        self.shared.with(|station| station.now())
    }

    /// The salon's own document, read.
    ///
    /// # Errors
    /// [`CliError`].
    pub fn salon(&self) -> Result<SalonView, CliError> {
        Ok(self.shared.with(Station::salon)?)
    }

    /// Sends everything and reads everything within `deadline`. What is not done by then goes on by itself in a
    /// running station, and otherwise waits for the next command.
    ///
    /// # Errors
    /// [`CliError`] of this station's own store; an unreachable relay shows in the status.
    pub async fn sync(&self, deadline: Duration) -> Result<Status, CliError> {
        if !self.live {
            return Ok(self.shared.sync_once(deadline).await?);
        }
        // The two lanes belong to the station process: ask it to hurry, and watch.
        let mut happenings = self.shared.happenings();
        self.shared.with(Station::try_at_once);
        let settled = async {
            while !self.is_settled() && !self.is_off() {
                // Lagging behind only means that there was much to see.
                if happenings.recv().await == Err(RecvError::Closed) {
                    break;
                }
            }
        };
        drop(tokio::time::timeout(deadline, settled).await);
        Ok(self.shared.with(|station| station.status())?)
    }

    /// Whether somebody cut this station off the network.
    #[must_use]
    pub fn is_off(&self) -> bool {
        self.shared.with(|station| station.status().is_ok_and(|s| s.paused))
    }

    /// Refuses while the station is cut off the network, for what only the relay can do.
    ///
    /// # Errors
    /// [`CliError`] of the code `network-off`.
    pub fn require_network(&self) -> Result<(), CliError> {
        if self.is_off() {
            return Err(CliError::new(
                "network-off",
                "this station was cut off the network, and only the relay can do this",
            )
            .hint("tailcomb network on"));
        }
        Ok(())
    }

    /// Whether nothing is left to send and everything that the relay had was read.
    #[must_use]
    pub fn is_settled(&self) -> bool {
        self.shared
            .with(|station| station.is_settled() && station.status().is_ok_and(|s| s.reachable && !s.paused))
    }
}
