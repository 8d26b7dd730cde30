//! What a command on a station gets, whichever process it runs in.

use std::time::Duration;

use tailcomb_core::ids::{DocId, PersonId};
use tailcomb_core::net::SharedStation;
use tailcomb_core::record::salon::{Person, SalonView};
use tailcomb_core::station::{Station, StationError};
use tailcomb_core::sync::Status;
use tailcomb_core::time::Moment;

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
}

impl Context {
    /// A command's view of a station.
    #[must_use]
    pub fn new(shared: SharedStation, home: Home, acting: Option<String>, input: String, live: bool) -> Self {
        Self { shared, home, acting, input, live }
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
    /// What `work` returns; or that the person named with `--as` is not known here.
    pub fn with<R, E>(&self, work: impl FnOnce(&mut Station) -> Result<R, E>) -> Result<R, CliError>
    where
        CliError: From<E>,
    {
        self.shared.with(|station| {
            if let Some(person) = self.person_acting(station)? {
                station.sign_in(person);
            }
            Ok(work(station)?)
        })
    }

    /// Who acts: the one named with `--as`, else who signed in at this station.
    ///
    /// # Errors
    /// When the one named is not known here.
    pub fn acting(&self) -> Result<Option<PersonId>, CliError> {
        self.shared.with(|station| self.person_acting(station))
    }

    fn person_acting(&self, station: &mut Station) -> Result<Option<PersonId>, CliError> {
        match &self.acting {
            Some(name) => Ok(Some(find_person(&read_salon(station)?, name)?.id.clone())),
            None => self.home.signed_in(),
        }
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
        self.shared.with(read_salon)
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
            while !self.shared.with(|station| station.is_settled()) {
                // Lagging behind only means that there was much to see.
                if let Err(tokio::sync::broadcast::error::RecvError::Closed) = happenings.recv().await {
                    break;
                }
            }
        };
        drop(tokio::time::timeout(deadline, settled).await);
        Ok(self.shared.with(|station| station.status())?)
    }
}

/// The salon's own document of a station.
///
/// # Errors
/// [`StationError`].
pub fn read_salon(station: &mut Station) -> Result<SalonView, CliError> {
    Ok(SalonView::read(station.document(&DocId::salon())?))
}

/// A person by name, unique beginning of a name or of one of its words, or id; capitals do not matter.
///
/// # Errors
/// [`CliError`] when nobody or several fit.
pub fn find_person<'s>(salon: &'s SalonView, name: &str) -> Result<&'s Person, CliError> {
    let sought = name.trim().to_lowercase();
    let called = |p: &Person| p.called().to_lowercase();
    let exact: Vec<&Person> =
        salon.people.iter().filter(|p| p.id.as_str() == sought || called(p) == sought).collect();
    let begins = |p: &&Person| {
        let called = called(p);
        called.starts_with(&sought) || called.split_whitespace().any(|word| word.starts_with(&sought))
    };
    let fitting: Vec<&Person> = if exact.is_empty() && !sought.is_empty() {
        salon.people.iter().filter(begins).collect()
    } else {
        exact
    };
    match fitting.as_slice() {
        [one] => Ok(one),
        [] => Err(StationError::NotFound {
            what: "person",
            name: name.trim().to_owned(),
            hint: "look at tailcomb people, or put them on the staff with tailcomb people add NAME",
        }
        .into()),
        several => Err(StationError::Ambiguous {
            what: "person",
            name: name.trim().to_owned(),
            count: several.len(),
        }
        .into()),
    }
}
