//! The one screen for whoever takes a client over: what was mixed, what is on which section since when, which timers
//! run, what comes next, what to watch, what is to be settled.

use serde::Serialize;

use super::bowl::{BowlState, BowlView};
use super::handover::Holders;
use super::item::{self, Tells};
use super::{OpenQuestion, Override, VisitView};
use crate::ids::{DocId, EntryId, RevId};
use crate::order::InOrder as _;
use crate::record::client::{Answer, Watch};
use crate::record::exposure::{Reminder, reminders};
use crate::record::timer::{Certainty, TimerNow, TimerView};
use crate::time::{Moment, TimerKind};
use crate::trade::{Grams, Percent, Term, Told, Volumes, term, told};

/// How many of the things that come next are on the screen.
const NEXT: usize = 8;

/// Said wherever work on a client is handed on.
pub const CAUTIONS: [Term; 4] = [
    term!("Follow the maker's label. A licensed stylist decides; local rules come first."),
    term!("Gloves and eye protection; air the room when persulfate lightener is mixed or on hair."),
    term!("An alert test before colouring, as the maker and local rules say."),
    term!("Burning, swelling or trouble breathing: stop, rinse, and get medical help."),
];

/// A bowl on the screen.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct BriefBowl {
    /// The bowl.
    pub bowl: EntryId,
    /// What it is called.
    pub label: Told,
    /// The formula's title.
    pub formula: String,
    /// What was weighed into it, in a few words.
    pub contents: Told,
    /// Strength of its developer by the label.
    #[serde(rename = "strength_mvol")]
    pub strength: Option<Volumes>,
    /// Peroxide of the mix ready for use.
    #[serde(rename = "on_head_pct_e4")]
    pub on_head: Option<Percent>,
    /// How long ago it was mixed.
    pub mixed_ago_ms: Option<i64>,
    /// What is left of its working life, negative when it is over.
    pub life_left_ms: Option<i64>,
    /// Where it stands.
    pub state: BowlState,
    /// What was thrown away of it.
    #[serde(rename = "leftover_mg")]
    pub leftover: Option<Grams>,
}

/// A section on the screen.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct BriefSection {
    /// The section.
    pub section: EntryId,
    /// What it is called.
    pub name: String,
    /// Its mark on the map.
    pub symbol: String,
    /// The bowls that what is on it came from.
    pub bowls: Vec<Told>,
    /// Since when product is on it.
    pub since: Moment,
    /// For how long that is now.
    pub elapsed_ms: i64,
    /// What is left of the maker's longest time, negative when it is over; `None`: the formula carries none.
    pub longest_left_ms: Option<i64>,
    /// People noted it differently.
    pub asks: bool,
}

/// A timer on the screen.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct BriefTimer {
    /// The timer.
    pub timer: EntryId,
    /// What it is for.
    pub kind: TimerKind,
    /// What it says.
    pub label: Told,
    /// How it stands.
    pub now: TimerNow,
    /// How well the instant of its alarm is known.
    pub certainty: Certainty,
}

/// Something to know before touching the hair.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct VisitWatch {
    /// In words.
    pub text: Told,
    /// The revision that says so, when one does.
    pub rev: Option<RevId>,
    /// When it was said.
    pub at: Option<Moment>,
}

/// The one screen.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct HandoverBrief {
    /// The visit.
    pub visit: DocId,
    /// The client's card.
    pub client: Option<DocId>,
    /// What was asked for.
    pub service: String,
    /// The goal in the client's words; several while people noted it differently.
    pub goal: Vec<String>,
    /// Who holds the client.
    pub holders: Holders,
    /// What was mixed, oldest first.
    pub bowls: Vec<BriefBowl>,
    /// What is on which section, oldest first.
    pub on_hair: Vec<BriefSection>,
    /// Between the oldest and the newest section on the head.
    pub spread_ms: i64,
    /// Sections that were rinsed.
    pub rinsed: Vec<String>,
    /// Sections that are still to be done, in the order of work.
    pub to_do: Vec<String>,
    /// Sections that are left out.
    pub left_out: Vec<String>,
    /// Timers that are not stopped, first alarm first.
    pub timers: Vec<BriefTimer>,
    /// What comes next, with its instant.
    pub next: Vec<Reminder>,
    /// What the client's card says to watch; filled in by whoever has the card (see
    /// [`crate::record::client::watch_list`]).
    pub watch_card: Vec<Watch>,
    /// What this visit says to watch.
    pub watch: Vec<VisitWatch>,
    /// Who answers for colour although something stood against it, oldest first.
    pub overrides: Vec<Override>,
    /// What is to be settled.
    pub questions: Vec<OpenQuestion>,
    /// How much of the visit only a newer version of Tailcomb can read.
    pub newer: usize,
    /// Cautions.
    pub cautions: Vec<Told>,
}

/// Makes the one screen, at an instant of salon time. `watch_card` is what the client's card says to watch.
#[must_use]
pub fn brief(visit: &VisitView, watch_card: Vec<Watch>, now_ms: i64) -> HandoverBrief {
    let mut timers: Vec<&TimerView> = visit.timers.iter().filter(|t| t.is_live()).collect();
    timers.order_by_key(|t| (t.remaining_ms(now_ms).unwrap_or(i64::MAX), t.id.clone()));
    let names = |wanted: &dyn Fn(&super::SectionView) -> bool| -> Vec<String> {
        visit.sections.iter().filter(|s| wanted(s)).map(|s| s.name().to_owned()).collect()
    };
    let rinsed = |s: &super::SectionView| {
        s.exposure.as_ref().is_some_and(|e| e.on_hair.is_empty() && !e.rinsed_off.is_empty())
    };
    HandoverBrief {
        visit: visit.doc.clone(),
        client: visit.opening.as_ref().map(|o| o.client.clone()),
        service: visit.opening.as_ref().map(|o| o.service.clone()).unwrap_or_default(),
        goal: visit.goal.iter().flat_map(|g| g.values()).map(|g| g.words.clone()).collect(),
        holders: visit.holders.clone(),
        bowls: visit.bowls.iter().map(|b| brief_bowl(visit, b, now_ms)).collect(),
        on_hair: on_hair(visit, now_ms),
        spread_ms: visit.exposure.spread_ms,
        rinsed: names(&rinsed),
        to_do: names(&|s| !s.is_left_out() && !s.is_on_hair() && !rinsed(s)),
        left_out: names(&|s| s.is_left_out() && !s.is_on_hair()),
        timers: timers
            .into_iter()
            .map(|t| BriefTimer {
                timer: t.id.clone(),
                kind: t.kind,
                label: t.label.clone(),
                now: t.at(now_ms),
                certainty: t.certainty(),
            })
            .collect(),
        next: reminders(&visit.exposure, &visit.timers, now_ms, NEXT),
        watch_card,
        watch: watch(visit),
        overrides: visit.overrides.clone(),
        questions: visit.questions(),
        newer: visit.newer,
        cautions: CAUTIONS.map(Term::told).to_vec(),
    }
}

fn brief_bowl(visit: &VisitView, bowl: &BowlView, now_ms: i64) -> BriefBowl {
    let contents = bowl.contents();
    let formula = contents.and_then(|c| visit.formula(&c.formula)).map(|f| f.title().to_owned());
    BriefBowl {
        bowl: bowl.id.clone(),
        label: bowl.label.clone(),
        formula: formula.unwrap_or_default(),
        contents: contents.map(Tells::told).unwrap_or_default(),
        strength: contents.and_then(|c| c.strength),
        on_head: bowl.on_head,
        mixed_ago_ms: bowl.mixed_at.map(|at| now_ms.saturating_sub(at.ms)),
        life_left_ms: bowl.works_until_ms().map(|until| until.saturating_sub(now_ms)),
        state: bowl.state,
        leftover: bowl.leftover(),
    }
}

fn on_hair(visit: &VisitView, now_ms: i64) -> Vec<BriefSection> {
    let painted = visit.exposure.on_hair().filter_map(|exposure| {
        let since = exposure.since()?;
        let section = visit.section(&exposure.section);
        let bowls = exposure.on_hair.iter().filter_map(|p| visit.bowl(p.bowl.as_ref()?));
        let mut bowls: Vec<Told> = bowls.map(|b| b.label.clone()).collect();
        bowls.dedup();
        Some(BriefSection {
            section: exposure.section.clone(),
            name: section.map_or_else(|| exposure.section.to_string(), |s| s.name().to_owned()),
            symbol: section.and_then(|s| s.section.value()).map(|s| s.symbol.clone()).unwrap_or_default(),
            bowls,
            since,
            elapsed_ms: now_ms.saturating_sub(since.ms),
            longest_left_ms: exposure.limit().map(|l| l.due_ms.saturating_sub(now_ms)),
            asks: exposure.asks,
        })
    });
    painted.collect()
}

/// What was answered and seen in this visit that calls for care.
fn watch(visit: &VisitView) -> Vec<VisitWatch> {
    let mut watch = Vec::new();
    for question in &visit.screening {
        for version in question.answered.versions.iter().filter(|v| v.value.answer != Answer::No) {
            let mut text = question.care();
            if version.value.answer == Answer::Unsure {
                text = told!("not sure: {care}", care = text);
            }
            if !version.value.note.is_empty() {
                text = told!("{text} (\"{note}\")", text, note = &version.value.note);
            }
            watch.push(VisitWatch { text, rev: Some(version.rev.clone()), at: Some(version.at) });
        }
    }
    let unasked = visit.screening.iter().filter(|q| q.gravest().is_none()).count();
    if unasked > 0 {
        let text = told!("{n} of the standing questions were not asked at this visit", n = unasked);
        watch.push(VisitWatch { text, rev: None, at: None });
    }
    for check in &visit.checks {
        for version in &check.said.versions {
            if version.value.feel.is_some_and(super::Feel::calls_for_care) {
                let name = visit
                    .section(&version.value.section)
                    .map_or(term!("a section").told(), |s| s.told_name());
                watch.push(VisitWatch {
                    text: told!("{name}: {seen}", name, seen = version.value.told()),
                    rev: Some(version.rev.clone()),
                    at: Some(version.at),
                });
            }
        }
    }
    for section in visit.sections.iter().filter(|s| s.is_left_out() && s.is_on_hair()) {
        let text = told!("{name} is left out of the plan, but product is on it", name = section.told_name());
        watch.push(VisitWatch { text, rev: None, at: None });
    }
    watch
}

/// How a level is written: "7.5".
#[must_use]
pub fn level_text(tenths: u16) -> String {
    item::level_told(tenths)
}
