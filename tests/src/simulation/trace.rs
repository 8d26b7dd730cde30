//! What happened, told in order: its hash proves that a seed replays the same day, its end is what a failure shows.

use std::collections::VecDeque;
use std::fmt;
use std::hash::{DefaultHasher, Hasher};

const KEPT: usize = 80;

pub(super) struct Trace {
    hasher: DefaultHasher,
    last: VecDeque<String>,
    /// Everything, when it was asked for.
    all: Option<Vec<String>>,
}

impl Trace {
    pub(super) fn new(keep_all: bool) -> Self {
        Self {
            hasher: DefaultHasher::new(),
            last: VecDeque::with_capacity(KEPT),
            all: keep_all.then(Vec::new),
        }
    }

    pub(super) fn tell(&mut self, at_ms: i64, what: fmt::Arguments<'_>) {
        let seconds = at_ms.rem_euclid(86_400_000);
        let (h, m, s, ms) = (seconds / 3_600_000, seconds / 60_000 % 60, seconds / 1000 % 60, seconds % 1000);
        let line = format!("{h:02}:{m:02}:{s:02}.{ms:03} {what}");
        self.hasher.write(line.as_bytes());
        if let Some(all) = &mut self.all {
            all.push(line.clone());
        }
        if self.last.len() == KEPT {
            self.last.pop_front();
        }
        self.last.push_back(line);
    }

    pub(super) fn hash(&self) -> u64 {
        self.hasher.finish()
    }

    /// Everything if it was kept, else the end.
    pub(super) fn lines(self) -> Vec<String> {
        self.all.unwrap_or_else(|| self.last.into())
    }
}
