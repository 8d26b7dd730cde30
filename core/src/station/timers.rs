//! Timers at a station: in a visit, loose on the day, on a card. One name for all of them, so that a gloved hand never
//! has to say where a timer lives.

use serde::Serialize;

use super::lookup::{Known, Wanted, pick};
use super::{Station, StationError};
use crate::ids::{DocId, DocKind, EntryId};
use crate::order::InOrder as _;
use crate::record::exposure::{Reminder, reminders};
use crate::record::timer::{self, Alarm, NewTimer, TimerView, next_alarms};
use crate::record::visit::{self, VisitView};
use crate::record::{Edit, RecordError};
use crate::trade::{Millis, Told, term, told};

/// A timer, wherever it lies.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[cfg_attr(feature = "web", derive(serde::Deserialize, ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct TimerRef {
    /// The document.
    pub doc: DocId,
    /// The timer.
    pub timer: EntryId,
}

/// A timer after a change, and what is to be said beside it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct TimerSet {
    /// Which.
    #[serde(flatten)]
    pub at: TimerRef,
    /// When it rings, milliseconds of salon time; `None` while it stands still and once it is stopped.
    pub due_ms: Option<i64>,
    /// What is to be said beside it.
    pub cautions: Vec<Told>,
}

#[cfg_attr(
    any(feature = "web", feature = "ffi"),
    tailcomb_facade::exported(asks(
        timers,
        timer,
        find_timer,
        rinse_alarms,
        find_rinse,
        next_alarms,
        next_in_visit
    ))
)]
impl Station {
    /// Starts a timer in a visit; `None`: loose on the day.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn start_timer(&mut self, visit: Option<&DocId>, new: &NewTimer) -> Result<TimerSet, StationError> {
        let doc = match visit {
            Some(visit) => self.visit_view(visit)?.doc.clone(),
            None => {
                self.names_no_client(&new.label)?;
                DocId::day(self.today()?)
            }
        };
        let timer = self.act(|action| action.edit(&doc, |edit| timer::start(edit, new)))?;
        self.set(TimerRef { doc, timer })
    }

    /// Every timer of the floor that is not stopped, first alarm first.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn timers(&mut self) -> Result<Vec<TimerView>, StationError> {
        let now_ms = self.now().ms;
        let mut timers = self.all_timers()?;
        timers.retain(TimerView::is_live);
        timers.order_by_key(|t| (t.remaining_ms(now_ms).unwrap_or(i64::MAX), t.doc.clone(), t.id.clone()));
        Ok(timers)
    }

    fn all_timers(&mut self) -> Result<Vec<TimerView>, StationError> {
        let mut timers = Vec::new();
        for id in self.on_floor()? {
            if matches!(id.kind(), DocKind::Visit | DocKind::Day | DocKind::Client) {
                timers.extend(TimerView::all(self.document(&id)?));
            }
        }
        Ok(timers)
    }

    /// A timer, read.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn timer(&mut self, at: &TimerRef) -> Result<TimerView, StationError> {
        let view = TimerView::of(&at.doc, self.document(&at.doc)?.entries(), &at.timer);
        Ok(view.ok_or_else(|| RecordError::not_found(term!("timer"), &at.timer))?)
    }

    /// The timer of the floor that the words mean: its label, the client's name, or its short name. One that runs is
    /// meant before one that is stopped.
    ///
    /// # Errors
    /// [`StationError::NotFound`], [`StationError::Ambiguous`].
    pub fn find_timer(&mut self, words: &str) -> Result<TimerRef, StationError> {
        let wanted = Wanted {
            what: term!("timer"),
            several: term!("the timers"),
            hint: term!("list the timers of the floor, or start one"),
        };
        let (mut live, mut stopped) = (Vec::new(), Vec::new());
        for view in self.all_timers()? {
            let client = match view.doc.kind() {
                DocKind::Visit => self.client_of(&view.doc)?,
                DocKind::Client => Some(view.doc.clone()),
                _ => None,
            };
            let name = match client {
                Some(client) => self.title(&client)?.unwrap_or_default(),
                None => String::new(),
            };
            let called = vec![view.label.to_string(), name.clone(), format!("{name} {}", view.label)];
            let list = if view.is_live() { &mut live } else { &mut stopped };
            let id = view.id.as_str().to_owned();
            list.push(Known { value: TimerRef { doc: view.doc, timer: view.id }, id, called });
        }
        match pick(wanted, words, live) {
            Err(StationError::NotFound { .. }) => pick(wanted, words, stopped),
            other => other,
        }
    }

    /// Makes a timer ring `by` later.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn extend_timer(&mut self, at: &TimerRef, by: Millis) -> Result<TimerSet, StationError> {
        self.change_timer(at, |edit| timer::extend(edit, &at.timer, by))
    }

    /// Sets a timer's whole length.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn set_timer(&mut self, at: &TimerRef, length: Millis) -> Result<TimerSet, StationError> {
        self.change_timer(at, |edit| timer::set_length(edit, &at.timer, length))
    }

    /// Lets a timer stand still.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn pause_timer(&mut self, at: &TimerRef) -> Result<TimerSet, StationError> {
        self.change_timer(at, |edit| timer::pause(edit, &at.timer))
    }

    /// Lets a paused timer run on, or takes back a stop.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn resume_timer(&mut self, at: &TimerRef) -> Result<TimerSet, StationError> {
        self.change_timer(at, |edit| timer::resume(edit, &at.timer))
    }

    /// Ends a timer.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn stop_timer(&mut self, at: &TimerRef) -> Result<TimerSet, StationError> {
        self.change_timer(at, |edit| timer::stop(edit, &at.timer))
    }

    /// Silences what rings of a timer now, or the alarm to rinse a section, at every station; says which instant that
    /// was. The alarm to rinse comes again while product is on.
    ///
    /// # Errors
    /// [`StationError`], also when nothing of it rings.
    pub fn silence_timer(&mut self, at: &TimerRef) -> Result<i64, StationError> {
        let rinse = self.is_rinse(at)?;
        self.act(|action| {
            action.edit(&at.doc, |edit| match rinse {
                true => visit::silence_rinse(edit, &at.timer),
                false => timer::silence(edit, &at.timer),
            })
        })
    }

    /// Whether the name is that of a section, whose alarm to rinse is meant.
    fn is_rinse(&mut self, at: &TimerRef) -> Result<bool, StationError> {
        let entries = self.document(&at.doc)?.entries();
        Ok(entries.get(timer::TIMERS, &at.timer).is_none()
            && entries.get(crate::record::exposure::ON_HAIR, &at.timer).is_some())
    }

    /// The alarms to rinse of the floor: those that ring, and those that will.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn rinse_alarms(&mut self) -> Result<Vec<Alarm>, StationError> {
        let now_ms = self.now().ms;
        let mut alarms = Vec::new();
        for id in self.visits_on_floor()? {
            alarms.extend(visit::rinse_alarms(&id, self.document(&id)?.entries(), now_ms));
        }
        Ok(alarms)
    }

    /// The alarm to rinse that rings and that the words mean: its section, or the client's name.
    ///
    /// # Errors
    /// [`StationError::NotFound`], [`StationError::Ambiguous`].
    pub fn find_rinse(&mut self, words: &str) -> Result<TimerRef, StationError> {
        let wanted = Wanted {
            what: term!("timer"),
            several: term!("the alarms to rinse"),
            hint: term!("list the timers of the floor, or start one"),
        };
        let now_ms = self.now().ms;
        let mut known = Vec::new();
        for alarm in self.rinse_alarms()?.into_iter().filter(|a| a.due_ms <= now_ms) {
            let client = match self.client_of(&alarm.doc)? {
                Some(client) => self.title(&client)?.unwrap_or_default(),
                None => String::new(),
            };
            let view = self.visit_view(&alarm.doc)?;
            let section = view.section(&alarm.timer).map_or("", |s| s.name()).to_owned();
            let called = vec![section.clone(), client.clone(), format!("{client} {section}")];
            let id = alarm.timer.as_str().to_owned();
            known.push(Known { value: TimerRef { doc: alarm.doc, timer: alarm.timer }, id, called });
        }
        pick(wanted, words, known)
    }

    /// Silences everything that rings on the floor, as one action.
    ///
    /// # Errors
    /// [`StationError`], also when nothing rings.
    pub fn silence_all(&mut self) -> Result<Vec<TimerRef>, StationError> {
        let now_ms = self.now().ms;
        let rinse = self.rinse_alarms()?.into_iter().filter(|a| a.due_ms <= now_ms);
        let rinse: Vec<TimerRef> = rinse.map(|a| TimerRef { doc: a.doc, timer: a.timer }).collect();
        let ringing: Vec<TimerRef> = self
            .all_timers()?
            .into_iter()
            .filter(|t| t.rings_ms(now_ms).is_some())
            .map(|t| TimerRef { doc: t.doc, timer: t.id })
            .collect();
        if ringing.is_empty() && rinse.is_empty() {
            return Err(StationError::Input(told!("nothing rings at the moment: stop a timer to end it")));
        }
        self.act(|action| {
            for at in &ringing {
                action.edit(&at.doc, |edit| timer::silence(edit, &at.timer).map(drop))?;
            }
            for at in &rinse {
                action.edit(&at.doc, |edit| visit::silence_rinse(edit, &at.timer).map(drop))?;
            }
            Ok(())
        })?;
        Ok(ringing.into_iter().chain(rinse).collect())
    }

    /// Takes one timer over; whoever takes a client takes all of its timers (see [`Station::take`]).
    ///
    /// # Errors
    /// [`StationError`].
    pub fn take_timer(&mut self, at: &TimerRef) -> Result<TimerSet, StationError> {
        self.change_timer(at, |edit| timer::take_over(edit, &at.timer))
    }

    /// The next alarms of the floor, at most `n`, what rings already first: what a host hands to its platform's
    /// scheduler.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn next_alarms(&mut self, n: usize) -> Result<Vec<Alarm>, StationError> {
        let now_ms = self.now().ms;
        let mut alarms = next_alarms(&self.timers()?, now_ms, n);
        alarms.extend(self.rinse_alarms()?);
        alarms.order_by_key(|a| a.due_ms);
        alarms.truncate(n);
        Ok(alarms)
    }

    /// What comes next in a visit, at most `n`: alarms, looks at strands, makers' longest times.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn next_in_visit(&mut self, visit: &DocId, n: usize) -> Result<Vec<Reminder>, StationError> {
        let now_ms = self.now().ms;
        let view = self.visit_view(visit)?;
        Ok(reminders(&view.exposure, &view.timers, now_ms, n))
    }

    fn change_timer<R>(
        &mut self,
        at: &TimerRef,
        change: impl FnOnce(&mut Edit<'_, '_>) -> Result<R, RecordError>,
    ) -> Result<TimerSet, StationError> {
        self.act(|action| action.edit(&at.doc, change).map(drop))?;
        self.set(at.clone())
    }

    fn set(&mut self, at: TimerRef) -> Result<TimerSet, StationError> {
        let view = self.timer(&at)?;
        let due_ms = view.due.map(|due| due.ms);
        let mut say = Vec::new();
        if at.doc.kind() == DocKind::Visit
            && let Some(due_ms) = due_ms
        {
            say = past_longest(&self.document(&at.doc)?.view(), &view, due_ms);
        }
        if view.held {
            say.push(told!("it rings at the maker's longest time, which nobody can extend: rinse then"));
        }
        if view.question.is_some() {
            say.push(told!(
                "others changed this timer apart: it rings at the earliest of what was said until somebody settles it"
            ));
        }
        Ok(TimerSet { at, due_ms, cautions: say })
    }
}

/// The sections for which a timer rings only after the maker's longest time.
fn past_longest(visit: &VisitView, timer: &TimerView, due_ms: i64) -> Vec<Told> {
    let of_it = |s: &&crate::record::exposure::SectionExposure| {
        timer.belongs_to.sections.contains(&s.section)
            || s.on_hair.iter().any(|p| p.bowl.is_some() && p.bowl == timer.belongs_to.bowl)
    };
    let limits = visit.exposure.on_hair().filter(of_it).filter_map(|s| s.limit());
    let late = limits.filter(|limit| limit.due_ms < due_ms).map(|limit| {
        let section = visit.section(&limit.section);
        told!(
            "{name}: this rings {by} after the maker's longest time of {longest}",
            name = section.map_or(term!("a section").told(), |s| s.told_name()),
            by = Millis::new(due_ms.saturating_sub(limit.due_ms)),
            longest = Millis::new(limit.longest_ms)
        )
    });
    late.collect()
}
