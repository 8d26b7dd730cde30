//! One service from the first word to the last rinse: plan, section map, formula notes, bowls, what went on which
//! section when, timers, checks, result, who holds the client, countersigns.
//!
//! Everything is an entry (see [`super::entry`]); [`VisitView`] is a function of the set of their revisions. Commands
//! take an [`Edit`], refuse nonsense with a sentence that says what would be possible, and write nothing then.

mod after;
mod bowl;
mod brief;
mod check;
mod countersign;
mod estimate;
mod formula;
mod handover;
mod item;
mod longest;
mod overrule;
mod plan;
mod questions;
mod remark;
mod result;
mod section;
mod state;

use serde::Serialize;

pub use after::{AFTER, After, NextProposal, add_after, remove_after, set_after, told_after};
pub use bowl::{
    BOWL, BowlState, BowlView, Contents, End, MixedBowl, Part, PartDifference, Weighed, WeightSource,
    differences, discard_bowl, keep_bowl, mix_bowl, plan_bowl, use_up_bowl, weighings,
};
pub use brief::{
    BriefBowl, BriefSection, BriefTimer, CAUTIONS, HandoverBrief, VisitWatch, brief, level_text,
};
pub use check::{CHECK, Check, Feel, record_check, remove_check, set_check};
pub use countersign::{
    COUNTERSIGN, Countersign, Seen, SignAnswer, SignState, answer_countersign, decide_countersign,
    request_countersign, withdraw_countersign,
};
pub use estimate::{Assumed, Estimate, estimate};
pub use formula::{
    FORMULA, Formula, FormulaView, LINE, Line, LineRole, add_formula, add_line, remove_formula, remove_line,
    set_formula, set_line, share_told,
};
pub use handover::{HOLDER, Holder, Holders, hand_over, take};
pub use item::{Item, REMOVED, Side, Tells};
pub use longest::{RINSE_AGAIN, rinse_alarms, silence_rinse};
pub(super) use longest::{hold, within_label};
pub use overrule::{OVERRIDE, Overridden, Override, override_stop, withdraw_override};
pub use plan::{
    GOAL, Goal, NOTE, Note, TARGET, Target, Topic, add_note, add_target, remove_note, remove_target,
    set_goal, set_note, set_target,
};
pub use questions::{About, OpenQuestion, settle};
pub use remark::{REMARK, Remark, RemarkKind, add_remark, remove_remark, set_remark};
pub use result::{
    FINISH, Finish, FinishKind, Kept, PHOTO, Photo, PhotoOf, RESULT, ZoneResult, add_finish, add_photo,
    add_result, remove_finish, remove_photo, remove_result, set_finish, set_result,
};
pub use section::{
    SECTION, Section, SectionView, StrokeKind, Strokes, add_section, confirm, paint, remove_section, rinse,
    set_section, take_back,
};
pub use state::{Opening, StateEdit, VISIT, VisitState, close, glance, open, reopen};

use super::client::SCREENING;
use super::exposure::{Exposure, ON_HAIR};
use super::screening::{self, Answered, StandingQuestion};
use super::stop::Touch;
use super::timer::{TIMERS, TimerView};
use super::{Document, Edit, RecordError, View, schema};
use crate::ids::{DocId, EntryId, RevId};
use crate::order::InOrder as _;
use state::open_for_work;

/// The collections that this version knows.
const COLLECTIONS: [&str; 21] = [
    schema::META,
    VISIT,
    GOAL,
    TARGET,
    NOTE,
    SCREENING,
    SECTION,
    FORMULA,
    LINE,
    BOWL,
    ON_HAIR,
    CHECK,
    RESULT,
    FINISH,
    PHOTO,
    AFTER,
    HOLDER,
    COUNTERSIGN,
    REMARK,
    OVERRIDE,
    TIMERS,
];

/// A visit, read.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct VisitView {
    /// Which document.
    pub doc: DocId,
    /// Whose visit it is and what was asked for; `None` when nobody opened it.
    pub opening: Option<Opening>,
    /// Whether it is open.
    pub state: VisitState,
    /// The goal in the client's words.
    pub goal: Option<Item<Goal>>,
    /// Targets by zone.
    pub targets: Vec<Item<Target>>,
    /// Notes.
    pub notes: Vec<Item<Note>>,
    /// The standing questions, asked anew at this visit.
    pub screening: Vec<StandingQuestion>,
    /// Sections in the order of work.
    pub sections: Vec<SectionView>,
    /// Formulas with their lines.
    pub formulas: Vec<FormulaView>,
    /// Bowls in the order in which they were mixed.
    pub bowls: Vec<BowlView>,
    /// What is on the head.
    pub exposure: Exposure,
    /// Strand checks, oldest first.
    pub checks: Vec<Item<Check>>,
    /// Results by zone.
    pub results: Vec<Item<ZoneResult>>,
    /// Glosses and treatments.
    pub finishes: Vec<Item<Finish>>,
    /// Photographs.
    pub photos: Vec<Item<Photo>>,
    /// Cut, styling, advice, the next visit.
    pub after: Vec<Item<After>>,
    /// Who holds the client.
    pub holders: Holders,
    /// Requests for a countersign, oldest first.
    pub countersigns: Vec<Countersign>,
    /// Remarks and reasons, each beside what it is about, oldest first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub remarks: Vec<Item<Remark>>,
    /// Who answers for colour that went on although something stood against it, oldest first.
    pub overrides: Vec<Override>,
    /// Timers, by name.
    pub timers: Vec<TimerView>,
    /// What of the plan stands: hand it to [`answer_countersign`] with the answer of whoever read this view.
    pub plan_seen: Seen,
    /// How much of it only a newer version of Tailcomb can read. Kept and passed on.
    pub newer: usize,
}

impl View for VisitView {
    /// Reads a visit, whoever wrote it.
    fn read(document: &Document) -> Self {
        let entries = document.entries();
        let timers = TimerView::all(document);
        let formulas = FormulaView::all(entries);
        let exposure = Exposure::read(entries, |bowl| BowlView::longest_ms(entries, &formulas, bowl));
        let (opening, state, state_newer) = state::read(entries);
        let mut checks = item::list::<Check>(entries, CHECK);
        checks.order_by_key(|c| (c.said.versions.first().map_or(i64::MAX, |v| v.at.ms), c.id.clone()));
        let mut view = Self {
            doc: document.id().clone(),
            opening,
            state,
            goal: plan::goal(entries),
            targets: item::list(entries, TARGET),
            notes: item::list(entries, NOTE),
            screening: screening::read(entries),
            sections: section::all(entries, &exposure.sections),
            bowls: BowlView::all(entries, &timers),
            formulas,
            exposure,
            checks,
            results: item::list(entries, RESULT),
            finishes: item::list(entries, FINISH),
            photos: item::list(entries, PHOTO),
            after: item::list(entries, AFTER),
            holders: Holders::read(entries),
            countersigns: countersign::all(entries),
            remarks: remark::all(entries),
            overrides: overrule::all(entries),
            timers,
            plan_seen: Seen::now(entries),
            newer: state_newer + item::in_unknown_collections(document, &COLLECTIONS),
        };
        view.newer += view.newer_within();
        view
    }
}

impl VisitView {
    /// A section by name.
    #[must_use]
    pub fn section(&self, id: &EntryId) -> Option<&SectionView> {
        self.sections.iter().find(|s| s.section.id == *id)
    }

    /// A formula by name.
    #[must_use]
    pub fn formula(&self, id: &EntryId) -> Option<&FormulaView> {
        self.formulas.iter().find(|f| f.formula.id == *id)
    }

    /// A bowl by name.
    #[must_use]
    pub fn bowl(&self, id: &EntryId) -> Option<&BowlView> {
        self.bowls.iter().find(|b| b.id == *id)
    }

    /// What a bowl does where it touches, by the most that anybody says is in it; colours, where nobody knows.
    #[must_use]
    pub fn touch_of(&self, bowl: &EntryId) -> Touch {
        let Some(bowl) = self.bowl(bowl) else { return Touch::Colours };
        let said = if bowl.mixed.versions.is_empty() { &bowl.planned } else { &bowl.mixed };
        let most = said.versions.iter().map(|v| Touch::of(&v.value)).max();
        most.filter(|_| said.unreadable == 0).unwrap_or(Touch::Colours)
    }

    /// Whether lightener is in a bowl, by anything that anybody says is in it; yes, where nobody knows.
    #[must_use]
    pub fn has_lightener(&self, bowl: &EntryId) -> bool {
        let Some(bowl) = self.bowl(bowl) else { return true };
        let said = bowl.mixed.versions.iter().chain(&bowl.planned.versions);
        let mut parts = said.flat_map(|v| &v.value.parts);
        bowl.newer > 0 || parts.any(|p| p.role == LineRole::Lightener)
    }

    /// What a gloss or treatment does where it touches: a gloss colours, a treatment does what is in its bowl.
    #[must_use]
    pub fn touch_of_finish(&self, finish: &Finish) -> Touch {
        match (finish.kind, &finish.bowl) {
            (FinishKind::Gloss, None) => Touch::Colours,
            (FinishKind::Treatment, None) => Touch::Cares,
            (_, Some(bowl)) => self.touch_of(bowl),
        }
    }

    /// A timer by name.
    #[must_use]
    pub fn timer(&self, id: &EntryId) -> Option<&TimerView> {
        self.timers.iter().find(|t| t.id == *id)
    }

    /// The request for a countersign that was made last and not withdrawn.
    #[must_use]
    pub fn countersign(&self) -> Option<&Countersign> {
        self.countersigns.iter().rev().find(|c| c.state != SignState::Withdrawn)
    }

    /// What was remarked on an entry, oldest first.
    pub fn remarks_on<'v>(
        &'v self,
        collection: &'v str,
        entry: &'v EntryId,
    ) -> impl Iterator<Item = &'v Item<Remark>> {
        self.remarks.iter().filter(move |r| r.values().any(|v| v.on == collection && v.entry == *entry))
    }

    /// What people must settle.
    #[must_use]
    pub fn questions(&self) -> Vec<OpenQuestion> {
        questions::of(self)
    }

    fn newer_within(&self) -> usize {
        self.goal.iter().map(|i| i.said.unreadable).sum::<usize>()
            + self.targets.iter().map(|i| i.said.unreadable).sum::<usize>()
            + self.notes.iter().map(|i| i.said.unreadable).sum::<usize>()
            + self.screening.iter().map(|q| q.answered.unreadable).sum::<usize>()
            + self.sections.iter().map(|s| s.section.said.unreadable).sum::<usize>()
            + self.formulas.iter().map(|f| f.formula.said.unreadable).sum::<usize>()
            + self.formulas.iter().flat_map(|f| &f.lines).map(|l| l.said.unreadable).sum::<usize>()
            + self.bowls.iter().map(|b| b.newer).sum::<usize>()
            + self.exposure.sections.iter().map(|s| s.newer).sum::<usize>()
            + self.checks.iter().map(|i| i.said.unreadable).sum::<usize>()
            + self.results.iter().map(|i| i.said.unreadable).sum::<usize>()
            + self.finishes.iter().map(|i| i.said.unreadable).sum::<usize>()
            + self.photos.iter().map(|i| i.said.unreadable).sum::<usize>()
            + self.after.iter().map(|i| i.said.unreadable).sum::<usize>()
            + self.countersigns.iter().map(|c| c.newer).sum::<usize>()
            + self.remarks.iter().map(|r| r.said.unreadable).sum::<usize>()
            + self.overrides.iter().map(|o| o.newer).sum::<usize>()
            + self.timers.iter().map(|t| t.newer).sum::<usize>()
            + self.holders.newer
    }
}

/// Records the answer to a standing question at this visit.
///
/// # Errors
/// [`RecordError`] for a question that this version does not ask, or a visit that is closed.
pub fn answer_screening(
    edit: &mut Edit<'_, '_>,
    key: &str,
    answered: &Answered,
) -> Result<RevId, RecordError> {
    open_for_work(edit)?;
    screening::answer(edit, key, answered)
}
