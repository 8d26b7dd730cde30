//! The floor board: what everybody in the room must be able to see from across it. Timers by due time, who holds whom,
//! what is to be settled, how this station stands with the others; in words and symbols, never by colour alone.
//!
//! [`Board`] is a picture of one instant and travels as JSON between a station process and whoever watches.

mod paint;
mod read;
mod screen;

use std::time::Duration;

use serde::{Deserialize, Serialize};

pub(super) use screen::show;

/// How wide a board is printed where there is no terminal.
pub(super) const PLAIN_WIDTH: u16 = 80;
/// How long a board without running timers is still true: the clock on it shows minutes.
pub(super) const STILL: Duration = Duration::from_secs(20);
/// How long one with running timers is.
const TICK: Duration = Duration::from_secs(1);

/// The floor at one instant.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Board {
    /// The salon's name.
    pub salon: String,
    /// This station's.
    pub station: String,
    /// Who acts at it.
    pub person: Option<String>,
    /// Milliseconds of salon time.
    pub at_ms: i64,
    /// The same as local time of day.
    pub clock: String,
    /// The salon's date, `yyyy-mm-dd`.
    pub date: String,
    /// Whether that day is closed.
    pub day_closed: bool,
    /// Timers that are not stopped: ringing first, then by due time.
    pub timers: Vec<BoardTimer>,
    /// Open visits.
    pub visits: Vec<BoardVisit>,
    /// Alert tests that wait to be read.
    pub tests: Vec<BoardTest>,
    /// What people said apart and one of them has to settle.
    pub questions: Vec<BoardQuestion>,
    /// How this station stands with the others, in words.
    pub status: String,
    /// What is said beside timers and mixes.
    pub cautions: Vec<String>,
}

/// How a timer stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Standing {
    /// Due, and nobody has silenced it.
    Ringing,
    /// Time to look at a strand.
    Look,
    /// Due and silenced, and not stopped.
    Silenced,
    /// Time passes.
    Running,
    /// Time stands still.
    Paused,
    /// Only a newer version of Tailcomb can read it.
    Unreadable,
}

/// A timer on the board.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct BoardTimer {
    /// Its name in the record.
    pub timer: String,
    /// The document it lies in.
    pub doc: String,
    /// How it stands.
    pub standing: Standing,
    /// What it is for.
    pub kind: String,
    /// What it says.
    pub label: String,
    /// Whose hair, when it belongs to a client.
    pub client: Option<String>,
    /// The sections it is for.
    pub sections: Vec<String>,
    /// Who holds it.
    pub held_by: Vec<String>,
    /// Milliseconds left, negative when overdue.
    pub remaining_ms: Option<i64>,
    /// When it rings.
    pub due_ms: Option<i64>,
    /// The same as local time of day.
    pub due: Option<String>,
    /// Milliseconds until the next look at a strand.
    pub look_in_ms: Option<i64>,
    /// How far off the alarm may be, milliseconds; `None`: nobody has compared the clock it was set by.
    pub within_ms: Option<i64>,
    /// It waits to be settled, and rings at the earliest that was said.
    pub asks: bool,
}

/// An open visit on the board.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct BoardVisit {
    /// The visit.
    pub visit: String,
    /// The client's name.
    pub client: String,
    /// What was asked for.
    pub service: String,
    /// Where it is, in words.
    pub stage: String,
    /// Who holds the client; several took it without knowing of each other.
    pub held_by: Vec<String>,
    /// To whom the client is offered.
    pub offered_to: Vec<String>,
    /// How many sections have product on.
    pub on_hair: usize,
    /// For how long the oldest of them, milliseconds.
    pub oldest_ms: Option<i64>,
    /// What is left of the maker's longest time on the section that reaches it first, negative when it is over.
    pub longest_left_ms: Option<i64>,
    /// What a countersign says, where one was asked for.
    pub countersign: Option<String>,
}

/// An alert test that waits to be read.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct BoardTest {
    /// The client's name.
    pub client: String,
    /// With which product.
    pub product: String,
    /// Not to be read before, as local time.
    pub readable: String,
    /// Whether it may be read now.
    pub due: bool,
}

/// Something to be settled.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct BoardQuestion {
    /// Its short name, for `tailcomb settle`.
    #[serde(default)]
    pub mark: String,
    /// The document.
    pub doc: String,
    /// Whose, when it belongs to a client.
    pub client: Option<String>,
    /// What it is about.
    pub about: String,
    /// What was said by whom.
    pub sides: Vec<String>,
}

impl Board {
    /// How long it is still true if nothing happens.
    pub(super) fn still_for(&self) -> Duration {
        let passes = |s: Standing| !matches!(s, Standing::Paused | Standing::Unreadable);
        let running =
            self.timers.iter().any(|t| passes(t.standing)) || self.visits.iter().any(|v| v.on_hair > 0);
        if running { TICK } else { STILL }
    }

    /// How many alarms ring, looks at a strand among them.
    pub(super) fn ringing(&self) -> usize {
        self.timers.iter().filter(|t| matches!(t.standing, Standing::Ringing | Standing::Look)).count()
    }
}
