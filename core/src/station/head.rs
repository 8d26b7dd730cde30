//! The head: its section map, what goes on which section when, the looks at a strand in between, the rinse.
//!
//! Product on hair is what a timer must not miss, so painting starts one by itself where the maker's longest time is
//! known, and a rinse ends what ran for the sections it clears.

use std::collections::BTreeSet;

use serde::Serialize;

use super::{Station, StationError, cautions};
use crate::draw::{SectionMap, section_map};
use crate::ids::{DocId, EntryId, PersonId, RevId};
use crate::order::Gather as _;
use crate::record::Edit;
use crate::record::approval;
use crate::record::exposure::SectionExposure;
use crate::record::hair::warning::{HairWarning, HairWarningKind};
use crate::record::salon::SalonView;
use crate::record::stop::Touch;
use crate::record::timer::{self, NewTimer, TimerView};
use crate::record::visit::{self, Check, Section, VisitView};
use crate::time::{Moment, TimerKind};
use crate::trade::{Millis, Told, told};

/// Which timer a painting starts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(
    feature = "web",
    derive(serde::Deserialize, ts_rs::TS),
    serde(tag = "timer", rename_all = "snake_case")
)]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
pub enum PaintTimer {
    /// One for the maker's longest time, with looks in between as the house has it; none where that time is not known,
    /// or where one runs for the bowl already.
    #[default]
    ForLongest,
    /// None.
    Without,
    /// One of this length.
    Of {
        /// How long.
        length: Millis,
        /// How often to look in between; `None`: as the house has it, where that is shorter than the length.
        check_every: Option<Millis>,
    },
}

/// Product that went on sections.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Painted {
    /// The steps, one a section.
    pub steps: Vec<RevId>,
    /// The timer that was started.
    pub timer: Option<EntryId>,
    /// What is to be said beside it.
    pub cautions: Vec<Told>,
}

/// Product that came off sections.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Rinsed {
    /// The sections.
    pub sections: Vec<EntryId>,
    /// Timers that ended with it.
    pub stopped: Vec<EntryId>,
}

#[cfg_attr(any(feature = "web", feature = "ffi"), tailcomb_facade::exported(asks(section_map)))]
impl Station {
    /// Puts sections on the map, as one action.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn map_sections(
        &mut self,
        visit: &DocId,
        sections: &[Section],
    ) -> Result<Vec<EntryId>, StationError> {
        self.edit_visit(visit, |edit| sections.iter().map(|s| visit::add_section(edit, s)).collect())
    }

    /// Says a section anew.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn change_section(
        &mut self,
        visit: &DocId,
        id: &EntryId,
        section: &Section,
    ) -> Result<(), StationError> {
        self.edit_visit(visit, |edit| visit::set_section(edit, id, section).map(drop))
    }

    /// The section map as it stands now, ready to be drawn.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn section_map(&mut self, visit: &DocId) -> Result<SectionMap, StationError> {
        Ok(section_map(&*self.visit_view(visit)?, self.now().ms))
    }

    /// Takes a section off the map.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn remove_section(&mut self, visit: &DocId, id: &EntryId, why: &str) -> Result<(), StationError> {
        self.edit_visit(visit, |edit| visit::remove_section(edit, id, why).map(drop))
    }

    /// Records that product went on sections, `at` if not now, and starts a timer for it.
    ///
    /// # Errors
    /// [`StationError`], also while an associate's work waits for a trainer's countersign, and
    /// [`StationError::Stopped`] while something stands against colour that nobody answers for.
    pub fn paint(
        &mut self,
        visit: &DocId,
        sections: &[EntryId],
        bowl: Option<&EntryId>,
        at: Option<Moment>,
        wish: PaintTimer,
    ) -> Result<Painted, StationError> {
        let view = self.visit_view(visit)?;
        let salon = self.salon_view()?;
        let me = self.signed_in()?;
        countersigned(&view, &salon, &me, bowl)?;
        self.may_touch(&view, bowl.map_or(Touch::Colours, |bowl| view.touch_of(bowl)))?;
        let longest = bowl.and_then(|bowl| longest(&view, bowl));
        let hair = self.hair_warnings_of(&view)?;
        let mut say = painting_cautions(&view, bowl, at.unwrap_or_else(|| self.now()).ms);
        let new = paint_timer(&view, &salon, sections, bowl, longest, wish);
        if let Some(new) = &new
            && longest.is_some_and(|longest| new.length > longest)
        {
            say.push(told!(
                "the timer rings after {time}, but the maker's longest time on the hair is {longest}",
                time = new.length,
                longest = longest.unwrap_or_default()
            ));
        }
        if wish == PaintTimer::ForLongest && longest.is_none() {
            say.push(told!("no longest time is noted for this: start a timer by the maker's label"));
        }
        let lightens = bowl.is_none_or(|bowl| view.has_lightener(bowl));
        let of_it = |w: &HairWarning| match w.kind {
            HairWarningKind::Incompatible => true,
            HairWarningKind::History => false,
            HairWarningKind::Overlap | HairWarningKind::Weakened | HairWarningKind::Line => lightens,
        };
        say.extend(hair.into_iter().filter(of_it).map(|w| w.text));
        say.extend(cautions::for_time());
        self.edit_visit(visit, |edit| {
            let steps = visit::paint(edit, sections, bowl, at)?;
            let start = |new: NewTimer| timer::start(edit, &NewTimer { from: at, ..new });
            let timer = new.map(start).transpose()?;
            Ok(Painted { steps, timer, cautions: say })
        })
    }

    /// Records that product came off sections; `None`: off all that have any. Ends the timers that ran for them.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn rinse(&mut self, visit: &DocId, sections: Option<&[EntryId]>) -> Result<Rinsed, StationError> {
        let view = self.visit_view(visit)?;
        let sections: Vec<EntryId> = match sections {
            Some(sections) => sections.to_vec(),
            None => view.exposure.on_hair().map(|s| s.section.clone()).collect(),
        };
        if sections.is_empty() {
            let why =
                told!("nothing is on the hair by this record: paint first, or see what is on which section");
            return Err(StationError::Input(why));
        }
        let over: Vec<EntryId> = over_with(&view, &sections).map(|t| t.id.clone()).collect();
        self.edit_visit(visit, |edit| {
            visit::rinse(edit, &sections)?;
            over.iter().try_for_each(|id| timer::stop(edit, id).map(drop))?;
            Ok(Rinsed { sections: sections.clone(), stopped: over.clone() })
        })
    }

    /// Takes back a painting or a rinse that was recorded by mistake.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn take_back(&mut self, visit: &DocId, section: &EntryId, step: &RevId) -> Result<(), StationError> {
        self.edit_visit(visit, |edit| visit::take_back(edit, section, step).map(drop))
    }

    /// Records a look at a strand, and silences what reminds of it: looks that are due for the section or for the bowl
    /// that is on it.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn check_strand(&mut self, visit: &DocId, check: &Check) -> Result<EntryId, StationError> {
        let view = self.visit_view(visit)?;
        let on_it = view.exposure.section(&check.section).map(|s| s.on_hair.as_slice()).unwrap_or_default();
        let bowls: BTreeSet<&EntryId> = on_it.iter().filter_map(|p| p.bowl.as_ref()).gather();
        self.edit_visit(visit, |edit: &mut Edit<'_, '_>| {
            let id = visit::record_check(edit, check)?;
            let now_ms = edit.stamp().at.ms;
            let reminds = |t: &&TimerView| {
                let look = t.rings_ms(now_ms).is_some_and(|due| t.stands.is_some_and(|s| due < s.due_ms));
                let of_bowl = t.belongs_to.bowl.as_ref().is_some_and(|b| bowls.contains(b));
                look && (of_bowl || (t.belongs_to.bowl.is_none() && t.belongs_to.sections.is_empty()))
            };
            let timers = TimerView::all_of(edit.doc(), edit.entries());
            for timer in timers.iter().filter(reminds) {
                timer::silence(edit, &timer.id)?;
            }
            Ok(id)
        })
    }

    /// Says a check anew.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn change_check(&mut self, visit: &DocId, id: &EntryId, check: &Check) -> Result<(), StationError> {
        self.edit_visit(visit, |edit| visit::set_check(edit, id, check).map(drop))
    }

    /// Takes a check off. What it silenced stays silent; whoever wants to be reminded starts a timer.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn remove_check(&mut self, visit: &DocId, id: &EntryId, why: &str) -> Result<(), StationError> {
        self.edit_visit(visit, |edit| visit::remove_check(edit, id, why).map(drop))
    }
}

/// The longest time on the hair that the maker allows for a bowl.
fn longest(view: &VisitView, bowl: &EntryId) -> Option<Millis> {
    let bowl = view.bowl(bowl)?;
    let said = bowl.mixed.versions.iter().chain(&bowl.planned.versions);
    said.filter_map(|v| view.formula(&v.value.formula)?.longest_ms()).min().map(Millis::new)
}

/// Refuses work of an associate on which no trainer's word stands. A trainer who applies it answers for it.
pub(super) fn countersigned(
    view: &VisitView,
    salon: &SalonView,
    me: &PersonId,
    bowl: Option<&EntryId>,
) -> Result<(), StationError> {
    if salon.may_countersign(me) || approval::associates_in(salon, view, me, bowl).is_empty() {
        return Ok(());
    }
    match approval::lack(salon, view) {
        None => Ok(()),
        Some(lack) => Err(StationError::Input(told!(
            "an associate's work needs a trainer's countersign before anything touches the client: {what_to_do}; or a trainer \
             decides, with a reason",
            what_to_do = lack.what_to_do()
        ))),
    }
}

fn painting_cautions(view: &VisitView, bowl: Option<&EntryId>, at_ms: i64) -> Vec<Told> {
    let Some(bowl) = bowl.and_then(|b| view.bowl(b)) else { return Vec::new() };
    match bowl.works_until_ms() {
        Some(until) if at_ms > until => {
            let over = Millis::new(at_ms.saturating_sub(until));
            vec![told!(
                "the working life of {bowl} ended {over} before this: mix a fresh one",
                bowl = &bowl.label,
                over
            )]
        }
        _ => Vec::new(),
    }
}

fn paint_timer(
    view: &VisitView,
    salon: &SalonView,
    sections: &[EntryId],
    bowl: Option<&EntryId>,
    longest: Option<Millis>,
    wish: PaintTimer,
) -> Option<NewTimer> {
    let (length, check_every) = match wish {
        PaintTimer::Without => return None,
        PaintTimer::Of { length, check_every } => (length, check_every),
        PaintTimer::ForLongest => {
            let runs = |t: &TimerView| {
                t.kind == TimerKind::Processing && t.is_live() && t.belongs_to.bowl.as_ref() == bowl
            };
            if view.timers.iter().any(runs) {
                return None;
            }
            (longest?, None)
        }
    };
    let house = Some(salon.policies.check_every()).filter(|every| *every < length);
    let name = |id: &EntryId| view.section(id).map_or_else(String::new, |s| s.name().to_owned());
    let label = match bowl.and_then(|b| view.bowl(b)) {
        Some(bowl) if wish == PaintTimer::ForLongest => bowl.label.to_string(),
        _ => sections.iter().map(name).collect::<Vec<_>>().join(", "),
    };
    Some(NewTimer {
        check_every: check_every.or(house),
        sections: sections.to_vec(),
        bowl: bowl.cloned(),
        ..NewTimer::new(TimerKind::Processing, label, length)
    })
}

/// The timers that have nothing left to run for once these sections are rinsed.
fn over_with<'v>(view: &'v VisitView, rinsed: &'v [EntryId]) -> impl Iterator<Item = &'v TimerView> {
    let still: Vec<&SectionExposure> =
        view.exposure.on_hair().filter(|s| !rinsed.contains(&s.section)).collect();
    let nothing = move |t: &TimerView| {
        let bowl = t.belongs_to.bowl.as_ref();
        let sections = &t.belongs_to.sections;
        let of_it = |s: &SectionExposure| match bowl {
            Some(bowl) => s.on_hair.iter().any(|p| p.bowl.as_ref() == Some(bowl)),
            None => sections.is_empty() || sections.contains(&s.section),
        };
        !still.iter().any(|s| of_it(s) || sections.contains(&s.section))
    };
    let kind = |t: &&TimerView| matches!(t.kind, TimerKind::Processing | TimerKind::StrandCheck);
    view.timers.iter().filter(|t| t.is_live()).filter(kind).filter(move |t| nothing(t))
}
