//! What a timer's steps mean: when it rings, whether it is paused or stopped, and what is left for people to settle.
//!
//! Knows nothing of documents. A timer is a set of steps, each of which names the steps its author had seen. One
//! branch of them folds into a candidate; candidates of people who did not know of each other are merged so that the
//! alarm never moves to a later instant without anyone having said so ([`Rule::Earliest`]). A test that must not be
//! read early is the mirror image ([`Rule::Latest`]). What comes out is a function of the set of steps alone.

use serde::{Deserialize, Serialize};

use super::Moment;

/// What a timer is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(rename_all = "snake_case")]
pub enum TimerKind {
    /// Colour or lightener at work on the hair.
    Processing,
    /// How long a mixed bowl works.
    BowlLife,
    /// When to look at a strand next.
    StrandCheck,
    /// A finishing gloss.
    Gloss,
    /// A treatment.
    Treatment,
    /// When an alert test may be read.
    AlertTest,
    /// Anything else.
    Plain,
    /// The maker's longest time on the hair is reached. Nobody starts it: it follows from what is on the hair.
    Rinse,
}

impl TimerKind {
    /// Which candidate counts while people have not settled.
    #[must_use]
    pub fn rule(self) -> Rule {
        if self == Self::AlertTest { Rule::Latest } else { Rule::Earliest }
    }

    /// As written in a record.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Processing => "processing",
            Self::BowlLife => "bowl_life",
            Self::StrandCheck => "strand_check",
            Self::Gloss => "gloss",
            Self::Treatment => "treatment",
            Self::AlertTest => "alert_test",
            Self::Plain => "plain",
            Self::Rinse => "rinse",
        }
    }

    /// Reads [`TimerKind::as_str`].
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        const ALL: [TimerKind; 8] = [
            TimerKind::Processing,
            TimerKind::BowlLife,
            TimerKind::StrandCheck,
            TimerKind::Gloss,
            TimerKind::Treatment,
            TimerKind::AlertTest,
            TimerKind::Plain,
            TimerKind::Rinse,
        ];
        ALL.into_iter().find(|kind| kind.as_str() == text)
    }
}

/// Which of several candidates counts until somebody settles.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Rule {
    /// The alarm that comes first: product on hair must not be forgotten.
    Earliest,
    /// The alarm that comes last: a test must not be read before its time.
    Latest,
}

impl Rule {
    /// The instant to count from. What must not be read early counts from the latest that the instant can truly be.
    fn surely(self, at: Moment) -> i64 {
        match self {
            Self::Earliest => at.ms,
            Self::Latest => at.ms.saturating_add(at.within_ms.unwrap_or(0).max(0)),
        }
    }
}

/// One thing that was done to a timer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Step {
    /// It began to run at `from`, for `length_ms`.
    Started {
        /// From when the length counts.
        from: Moment,
        /// How long.
        length_ms: i64,
    },
    /// It rings so much later.
    Extended {
        /// By how much.
        by_ms: i64,
    },
    /// Its whole length, pauses not counted, is this from now on.
    LengthSet {
        /// How long.
        length_ms: i64,
    },
    /// It stands still.
    Paused,
    /// It runs on; after a stop: the stop was a mistake.
    Resumed,
    /// It is over.
    Stopped,
    /// Somebody who saw all of it says how it stands.
    Settled(Outcome),
}

/// What a person settles on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(tag = "outcome", rename_all = "snake_case")]
pub enum Outcome {
    /// It runs and rings then.
    Ring {
        /// Milliseconds of salon time.
        due_ms: i64,
    },
    /// It is paused with so much left.
    Paused {
        /// Milliseconds left.
        left_ms: i64,
    },
    /// It is over.
    Stopped,
}

/// A step, when it was made, and what its author knew.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Node {
    /// When, in salon time.
    pub at: Moment,
    /// What; `None` for something that says nothing about the schedule, like a silence.
    pub step: Option<Step>,
    /// The positions, in the same list, of the steps its author saw as the newest. Positions that are not before its
    /// own are ignored.
    pub after: Vec<usize>,
}

/// Whether time passes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(tag = "phase", rename_all = "snake_case")]
pub enum Phase {
    /// It does.
    Running,
    /// It does not.
    Paused {
        /// Since when.
        at_ms: i64,
        /// What was left then.
        left_ms: i64,
    },
    /// It is over.
    Stopped {
        /// Since when.
        at_ms: i64,
    },
}

/// How one branch of steps leaves a timer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Candidate {
    /// The instant from which the time that has passed counts, pauses taken out.
    pub from_ms: i64,
    /// When it rings; while paused or stopped, when it would ring had that not been.
    pub due_ms: i64,
    /// How far off `due_ms` may be by the clocks that went into it; `None` when one of them never met a relay.
    pub within_ms: Option<i64>,
    /// Whether it runs.
    pub phase: Phase,
}

impl Candidate {
    /// What one step makes of it.
    fn then(mut self, rule: Rule, at: Moment, step: Step) -> Self {
        match step {
            // A timer starts once; a second start in the same branch comes from a broken writer.
            Step::Started { .. } => {}
            Step::Extended { by_ms } => {
                self.due_ms = self.due_ms.saturating_add(by_ms);
                if let Phase::Paused { left_ms, .. } = &mut self.phase {
                    *left_ms = left_ms.saturating_add(by_ms);
                }
            }
            Step::LengthSet { length_ms } => {
                self.due_ms = self.from_ms.saturating_add(length_ms);
                if let Phase::Paused { at_ms, left_ms } = &mut self.phase {
                    *left_ms = self.due_ms.saturating_sub(*at_ms);
                }
            }
            Step::Paused => {
                // Whoever pauses what is over changes nothing; a test, though, must not become readable by it.
                let stopped = matches!(self.phase, Phase::Stopped { .. });
                if self.phase == Phase::Running || (stopped && rule == Rule::Latest) {
                    // A clock that says "before the start" must not make what is left longer than the whole.
                    let since = if rule == Rule::Earliest { at.ms.max(self.from_ms) } else { at.ms };
                    self.phase = Phase::Paused { at_ms: at.ms, left_ms: self.due_ms.saturating_sub(since) };
                    self.within_ms = add_within(self.within_ms, at.within_ms);
                }
            }
            Step::Resumed => match self.phase {
                Phase::Running => {}
                Phase::Stopped { .. } => self.phase = Phase::Running,
                Phase::Paused { at_ms, left_ms } => {
                    let resumed_ms = rule.surely(at);
                    let due = resumed_ms.saturating_add(left_ms);
                    let stood = resumed_ms.saturating_sub(at_ms);
                    let (due, stood) = match rule {
                        Rule::Earliest => (due, stood),
                        Rule::Latest => (due.max(self.due_ms), stood.max(0)),
                    };
                    self.due_ms = due;
                    self.from_ms = self.from_ms.saturating_add(stood);
                    self.phase = Phase::Running;
                    self.within_ms = add_within(self.within_ms, at.within_ms);
                }
            },
            Step::Stopped => self = self.stopped(rule, at),
            Step::Settled(Outcome::Ring { due_ms }) => {
                self.due_ms = due_ms;
                self.phase = Phase::Running;
            }
            Step::Settled(Outcome::Paused { left_ms }) => {
                self.due_ms = at.ms.saturating_add(left_ms);
                self.phase = Phase::Paused { at_ms: at.ms, left_ms };
            }
            Step::Settled(Outcome::Stopped) => self = self.stopped(rule, at),
        }
        self
    }

    fn stopped(mut self, rule: Rule, at: Moment) -> Self {
        match self.phase {
            Phase::Stopped { .. } => return self,
            Phase::Paused { left_ms, .. } if rule == Rule::Latest => {
                self.due_ms = self.due_ms.max(at.ms.saturating_add(left_ms));
            }
            Phase::Paused { .. } | Phase::Running => {}
        }
        self.phase = Phase::Stopped { at_ms: at.ms };
        self
    }

    /// What candidates amount to together, on the side that `rule` calls safe. `None` of none.
    #[must_use]
    pub fn merge(rule: Rule, candidates: &[Self]) -> Option<Self> {
        let first = candidates.first()?;
        let pick = |of: fn(&Self) -> i64| {
            let all = candidates.iter().map(of);
            match rule {
                Rule::Earliest => all.min(),
                Rule::Latest => all.max(),
            }
        };
        let stopped = candidates.iter().filter_map(|c| match c.phase {
            Phase::Stopped { at_ms } => Some(at_ms),
            _ => None,
        });
        let paused: Vec<(i64, i64)> = candidates
            .iter()
            .filter_map(|c| match c.phase {
                Phase::Paused { at_ms, left_ms } => Some((at_ms, left_ms)),
                _ => None,
            })
            .collect();
        let due_ms = pick(|c| c.due_ms).unwrap_or(first.due_ms);
        let phase = if stopped.clone().count() == candidates.len() {
            Phase::Stopped { at_ms: stopped.min().unwrap_or_default() }
        } else if rule == Rule::Earliest && paused.len() == candidates.len() {
            Phase::Paused {
                at_ms: paused.iter().map(|(at, _)| *at).max().unwrap_or_default(),
                left_ms: paused.iter().map(|(_, left)| *left).min().unwrap_or_default(),
            }
        } else if rule == Rule::Latest && !paused.is_empty() {
            // A test that somebody paused is not readable before somebody says so, and then not before any of the
            // others would have it so, had they paused it with the first.
            let at_ms = paused.iter().map(|(at, _)| *at).min().unwrap_or_default();
            let left_ms = paused.iter().map(|(_, left)| *left).max().unwrap_or_default();
            Phase::Paused { at_ms, left_ms: left_ms.max(due_ms.saturating_sub(at_ms)) }
        } else {
            Phase::Running
        };
        Some(Self {
            from_ms: pick(|c| c.from_ms).unwrap_or(first.from_ms),
            due_ms,
            within_ms: candidates
                .iter()
                .try_fold(0, |most: i64, c| c.within_ms.map(|within| most.max(within))),
            phase,
        })
    }
}

/// How far off a sum of two instants may be.
fn add_within(a: Option<i64>, b: Option<i64>) -> Option<i64> {
    Some(a?.saturating_add(b?))
}

/// How a timer stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Schedule {
    /// What counts.
    pub stands: Candidate,
    /// Steps, by position, that were made without knowing of each other and that nobody has settled. Empty: no
    /// question.
    pub open: Vec<usize>,
    /// The branches that stand side by side: the newest step of each, by position, and what it alone would mean.
    pub branches: Vec<(usize, Candidate)>,
}

/// Reads a timer's steps, each after those it knew of. `None` when none of them is a start.
#[must_use]
pub fn evaluate(rule: Rule, nodes: &[Node]) -> Option<Schedule> {
    let knows_last = |(position, node): (usize, &Node)| match position.checked_sub(1) {
        None => node.after.is_empty(),
        Some(last) => node.after.as_slice() == [last],
    };
    if nodes.iter().enumerate().all(knows_last) {
        evaluate_chain(rule, nodes.iter().map(|node| (node.at, node.step)))
    } else {
        branching(rule, nodes)
    }
}

/// [`evaluate`] of steps each of whose authors knew all before it: the common case.
#[must_use]
pub fn evaluate_chain(rule: Rule, steps: impl Iterator<Item = (Moment, Option<Step>)>) -> Option<Schedule> {
    let mut stands = None;
    let mut newest = 0;
    for (position, (at, step)) in steps.enumerate() {
        if let Some(step) = step {
            stands = apply(rule, stands, at, step);
            newest = position;
        }
    }
    stands.map(|stands| Schedule { stands, open: Vec::new(), branches: vec![(newest, stands)] })
}

fn apply(rule: Rule, before: Option<Candidate>, at: Moment, step: Step) -> Option<Candidate> {
    match (before, step) {
        (Some(candidate), step) => Some(candidate.then(rule, at, step)),
        (None, Step::Started { from, length_ms }) => {
            let from_ms = rule.surely(from);
            Some(Candidate {
                from_ms,
                due_ms: from_ms.saturating_add(length_ms),
                within_ms: from.within_ms,
                phase: Phase::Running,
            })
        }
        // Without its start a step says nothing about when anything rings.
        (None, _) => None,
    }
}

/// What is known after one node.
#[derive(Clone, Default)]
struct Known {
    /// All schedule steps, itself included.
    steps: Set,
    /// Those of them that no other of them knew.
    tops: Vec<usize>,
    /// Only for a schedule step: how it leaves the timer.
    stands: Option<Candidate>,
    /// Only for a schedule step: what is unsettled.
    open: Set,
}

fn branching(rule: Rule, nodes: &[Node]) -> Option<Schedule> {
    let mut known: Vec<Known> = Vec::with_capacity(nodes.len());
    let mut everything = Known::default();
    for (position, node) in nodes.iter().enumerate() {
        let mut here = Known::default();
        for parent in node.after.iter().filter_map(|p| known.get(*p)) {
            here.steps.add_all(&parent.steps);
            here.tops.extend(&parent.tops);
        }
        keep_tops(&mut here.tops, &known);
        if let Some(step) = node.step {
            let (before, open) = join(rule, nodes, &known, &here.tops);
            here.stands = apply(rule, before, node.at, step);
            // A stop, a length or a settling made in the sight of all of it answers the question.
            if !matches!(step, Step::Stopped | Step::LengthSet { .. } | Step::Settled(_)) {
                here.open = open;
            }
            here.steps.add(position);
            here.tops = vec![position];
            everything.tops.push(position);
        }
        known.push(here);
    }
    keep_tops(&mut everything.tops, &known);
    let (stands, open) = join(rule, nodes, &known, &everything.tops);
    let branches = everything.tops.iter().filter_map(|t| Some((*t, known.get(*t)?.stands?))).collect();
    stands.map(|stands| Schedule { stands, open: open.iter().collect(), branches })
}

/// Leaves those steps that none of the others knew of, sorted.
fn keep_tops(tops: &mut Vec<usize>, known: &[Known]) {
    tops.sort_unstable();
    tops.dedup();
    if tops.len() > 1 {
        let all = tops.clone();
        tops.retain(|t| {
            !all.iter().any(|other| other != t && known.get(*other).is_some_and(|k| k.steps.has(*t)))
        });
    }
}

/// What the newest steps amount to together, and what of it is unsettled.
fn join(rule: Rule, nodes: &[Node], known: &[Known], tops: &[usize]) -> (Option<Candidate>, Set) {
    let branches: Vec<&Known> = tops.iter().filter_map(|t| known.get(*t)).collect();
    let candidates: Vec<Candidate> = branches.iter().filter_map(|k| k.stands).collect();
    let stands = Candidate::merge(rule, &candidates);
    let mut open = Set::default();
    for branch in &branches {
        open.add_all(&branch.open);
    }
    if branches.len() < 2 {
        return (stands, open);
    }
    if stands.is_some_and(|s| matches!(s.phase, Phase::Stopped { .. })) {
        return (stands, Set::default());
    }
    let mut apart = Set::default();
    for branch in &branches {
        apart.add_all(&branch.steps);
    }
    let all = apart.clone();
    for step in all.iter() {
        if branches.iter().all(|b| b.steps.has(step)) {
            apart.remove(step);
        }
    }
    // Two people who did the same one thing agree; two who each put five minutes on top do not.
    let same = apart.iter().count() == tops.len()
        && tops.windows(2).all(|pair| match pair {
            [a, b] => agree(nodes.get(*a).and_then(|n| n.step), nodes.get(*b).and_then(|n| n.step)),
            _ => true,
        });
    if !same {
        open.add_all(&apart);
    }
    (stands, open)
}

fn agree(a: Option<Step>, b: Option<Step>) -> bool {
    match (a, b) {
        (Some(Step::Paused), Some(Step::Paused)) | (Some(Step::Resumed), Some(Step::Resumed)) => true,
        (Some(Step::LengthSet { length_ms: a }), Some(Step::LengthSet { length_ms: b })) => a == b,
        (Some(Step::Settled(a)), Some(Step::Settled(b))) => a == b,
        _ => false,
    }
}

/// A set of positions.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
struct Set(Vec<u64>);

impl Set {
    fn add(&mut self, position: usize) {
        let word = position / 64;
        if self.0.len() <= word {
            self.0.resize(word + 1, 0);
        }
        if let Some(bits) = self.0.get_mut(word) {
            *bits |= 1 << (position % 64);
        }
    }

    fn remove(&mut self, position: usize) {
        if let Some(bits) = self.0.get_mut(position / 64) {
            *bits &= !(1 << (position % 64));
        }
    }

    fn has(&self, position: usize) -> bool {
        self.0.get(position / 64).is_some_and(|bits| bits & (1 << (position % 64)) != 0)
    }

    fn add_all(&mut self, other: &Self) {
        if self.0.len() < other.0.len() {
            self.0.resize(other.0.len(), 0);
        }
        for (mine, theirs) in self.0.iter_mut().zip(&other.0) {
            *mine |= theirs;
        }
    }

    fn iter(&self) -> impl Iterator<Item = usize> + '_ {
        self.0.iter().enumerate().flat_map(|(word, bits)| {
            (0..64).filter(move |bit| bits & (1 << bit) != 0).map(move |bit| word * 64 + bit)
        })
    }
}

#[cfg(test)]
mod tests;
