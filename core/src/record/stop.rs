//! What stands against putting colour on a client: no alert test that counts, one that is not read, one that showed a
//! reaction, a reaction before, a client too young by the rule of the place. A pure function of card, visit, house
//! rules and the clock, so that every station stops at the same things.
//!
//! Each thing has a name that says which fact it is. An override covers facts by those names
//! ([`super::visit::Override`]), so what nobody knew of when it was made is not covered by it.

use jiff::civil::Date;
use serde::Serialize;

use super::alert::{AlertResult, AlertStanding, AlertState, AlertTest, alert_verdict};
use super::client::{ClientField, ClientView};
use super::reaction::ReactedTo;
use super::salon::{AlertTestPeriod, SalonView};
use super::screening::{Answer, REACTED_BEFORE, StandingQuestion};
use super::visit::{Contents, LineRole, Override, VisitView};
use crate::order::InOrder as _;
use crate::time::Moment;
use crate::trade::age::{MinimumAge, rule_told};
use crate::trade::{Term, Told, term, told};

/// What a product does where it touches, the least first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum Touch {
    /// A treatment: neither colours nor lightens.
    Cares,
    /// Lightener or developer alone.
    Lightens,
    /// Leaves colour: a shade, or the clear base of one. What nobody knows counts as this.
    Colours,
}

impl Touch {
    /// What a mix does: the most that anything in it does.
    #[must_use]
    pub fn of(contents: &Contents) -> Self {
        let one = |role| match role {
            LineRole::Shade | LineRole::Clear => Self::Colours,
            LineRole::Lightener | LineRole::Developer => Self::Lightens,
            LineRole::Additive | LineRole::Treatment => Self::Cares,
        };
        contents.parts.iter().map(|p| one(p.role)).max().unwrap_or(Self::Colours)
    }
}

/// Why something stands against colour, the gravest first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(rename_all = "snake_case")]
pub enum AgainstKind {
    /// A test showed a reaction, or something doubtful.
    Reaction,
    /// The client reacted to colour, lightener or a temporary black tattoo before.
    ReactedBefore,
    /// The client is too young by the rule of the place or the house.
    UnderAge,
    /// A test waits to be read.
    Unread,
    /// No test that counts was read: there is none, it is too old, or it is not to be read yet.
    NoReading,
    /// The client's card is not at this station, so nobody can see a test.
    NoCard,
}

/// One thing that stands against colour.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Against {
    /// Why.
    pub kind: AgainstKind,
    /// The name of the very fact; alike on every station.
    pub fact: String,
    /// In words, without anything of the client's.
    pub text: Told,
    /// Whether somebody answers for it by name, knowing of it.
    pub overridden: bool,
}

/// What stands against colour at a visit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Stop {
    /// Whether anything stands that nobody answers for.
    pub stands: bool,
    /// All of it, the gravest first.
    pub against: Vec<Against>,
    /// What is to be asked before colour, without stopping it.
    pub asks: Vec<Told>,
}

/// The rules that decide.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ColourRules {
    /// How long a reading counts.
    pub alert_test: AlertTestPeriod,
    /// Whether lightener needs a test too.
    pub lightener_needs_test: bool,
    /// From which age on.
    pub minimum_age: Option<MinimumAge>,
    /// The salon's date.
    pub today: Date,
}

impl ColourRules {
    /// The rules of a salon, on the day of `now`.
    #[must_use]
    pub fn of(salon: &SalonView, now: Moment) -> Self {
        Self {
            alert_test: salon.policies.alert_test(),
            lightener_needs_test: salon.policies.lightener_needs_test(),
            minimum_age: salon.minimum_age(),
            today: salon.date(now.ms),
        }
    }
}

impl Stop {
    /// What stands against a product that does `touch`, at a visit; `card` is `None` while it has not arrived.
    #[must_use]
    pub fn read(
        card: Option<&ClientView>,
        visit: &VisitView,
        rules: &ColourRules,
        touch: Touch,
        now: Moment,
    ) -> Self {
        let mut against = Vec::new();
        let mut asks = Vec::new();
        if touch > Touch::Cares {
            answered(&visit.screening, &mut against);
            let tested = touch == Touch::Colours || rules.lightener_needs_test;
            match card {
                Some(card) => {
                    reactions(card, now, &mut against);
                    reacted_before(card, &mut against);
                    age(card, rules, &mut against, &mut asks);
                    if tested {
                        reading(card, visit, rules, now, &mut against);
                    }
                }
                None if tested => against.push(Against {
                    kind: AgainstKind::NoCard,
                    fact: "no-card".to_owned(),
                    text: no_card(),
                    overridden: false,
                }),
                None => {}
            }
        }
        for one in &mut against {
            one.overridden = visit.overrides.iter().any(|o: &Override| o.covers(&one.fact));
        }
        against.order_by(|a, b| (a.kind, &a.fact).cmp(&(b.kind, &b.fact)));
        Self { stands: against.iter().any(|a| !a.overridden), against, asks }
    }

    /// What stands and nobody answers for.
    pub fn standing(&self) -> impl Iterator<Item = &Against> {
        self.against.iter().filter(|a| !a.overridden)
    }
}

/// What stood against colour, as it was written down when somebody answered for it: `None` for what is no
/// sentence of this version.
pub(super) fn own(text: &str) -> Option<Told> {
    let no_time = Moment { ms: 0, within_ms: None };
    let verdicts =
        [AlertStanding::Reaction, AlertStanding::Missing, AlertStanding::Outdated, AlertStanding::Due];
    let verdicts = verdicts.map(|standing| standing.verdict(no_time).text);
    let reacted =
        [ReactedTo::HairColour, ReactedTo::Lightener, ReactedTo::BlackTattoo].map(|to| before(to.name()));
    let others = [before(NEWER_REACTION), by_answer(Answer::Yes), by_answer(Answer::Unsure), no_card()];
    let known = verdicts.into_iter().chain(reacted).chain(others).find(|known| known.as_str() == text);
    known.or_else(|| waiting(text)).or_else(|| younger(text))
}

/// That the client is too young by the rule of a place.
fn younger(text: &str) -> Option<Told> {
    let (years, rule) = text
        .strip_prefix("By the card this client is younger than ")?
        .strip_suffix(").")?
        .split_once(" (")?;
    let years: u8 = years.parse().ok()?;
    Some(too_young(years, &rule_told(rule)))
}

fn too_young(years: u8, rule: &Told) -> Told {
    told!("By the card this client is younger than {years} ({rule}).", years, rule)
}

/// A verdict on a test that was not to be read yet.
fn waiting(text: &str) -> Option<Told> {
    let time = text
        .strip_prefix("An alert test is on the skin. Not to be read before ")?
        .strip_suffix(" from now.")?;
    Some(told!("An alert test is on the skin. Not to be read before {time} from now.", time))
}

fn no_card() -> Told {
    told!(
        "The client's card has not arrived at this station, so no alert test can be seen. Bring it together with the \
         others."
    )
}

fn before(to: Term) -> Told {
    told!(
        "The card notes that the client reacted to {to} before. Do not colour before a doctor has been asked.",
        to
    )
}

fn by_answer(answer: Answer) -> Told {
    match answer {
        Answer::Yes => told!(
            "By the answer at this visit the client has reacted to colour, lightener or black henna before. Do not \
             colour before a doctor has been asked."
        ),
        Answer::No | Answer::Unsure => told!(
            "By the answer at this visit the client may have reacted to colour, lightener or black henna before. Do not \
             colour before a doctor has been asked."
        ),
    }
}

const NEWER_REACTION: Term = term!("something that only a newer version can read");

/// A reaction stays one, whatever was said of its test later.
fn reactions(card: &ClientView, now: Moment, against: &mut Vec<Against>) {
    for test in &card.alert_tests {
        for reading in test.readings.iter().filter(|r| r.value.result != AlertResult::NothingSeen) {
            against.push(Against {
                kind: AgainstKind::Reaction,
                fact: format!("reaction/{}/{}", test.id, reading.rev),
                text: AlertStanding::Reaction.verdict(now).text,
                overridden: false,
            });
        }
    }
}

/// A reaction on the card stands until somebody takes it off who knows all that was said of it.
fn reacted_before(card: &ClientView, against: &mut Vec<Against>) {
    let mut add = |fact: String, to: Term| {
        against.push(Against { kind: AgainstKind::ReactedBefore, fact, text: before(to), overridden: false });
    };
    for reaction in card.reactions.iter().filter(|r| r.stands) {
        for said in reaction.versions.iter().filter(|v| v.value.to.stands_against_colour()) {
            add(format!("reacted/{}/{}", reaction.id, said.rev), said.value.to.name());
        }
        if reaction.unreadable > 0 {
            add(format!("reacted/{}", reaction.id), NEWER_REACTION);
        }
    }
}

/// The same said in answer to the standing question at this visit.
fn answered(screening: &[StandingQuestion], against: &mut Vec<Against>) {
    for question in screening.iter().filter(|q| q.key == REACTED_BEFORE) {
        for said in question.answered.versions.iter().filter(|v| v.value.answer != Answer::No) {
            against.push(Against {
                kind: AgainstKind::ReactedBefore,
                fact: format!("answered/{REACTED_BEFORE}/{}", said.rev),
                text: by_answer(said.value.answer),
                overridden: false,
            });
        }
    }
}

fn reading(
    card: &ClientView,
    visit: &VisitView,
    rules: &ColourRules,
    now: Moment,
    against: &mut Vec<Against>,
) {
    let opened_ms = visit.opening.as_ref().map_or(i64::MAX, |o| o.at.ms);
    let last_colour = card.last_colour_before(&visit.doc, opened_ms);
    let quiet: Vec<AlertTest> =
        card.alert_tests.iter().filter(|t| t.state(now) != AlertState::Reaction).cloned().collect();
    let verdict = |tests: &[AlertTest]| alert_verdict(tests, rules.alert_test, last_colour, now);
    let found = verdict(&quiet);
    if matches!(found.standing, AlertStanding::NothingSeen { .. }) {
        return;
    }
    // A test put on the skin during this visit, for the next one, does not take back what was read for this one.
    let earlier: Vec<AlertTest> = quiet
        .iter()
        .filter(|t| t.applied.iter().all(|a| a.value.applied_at_ms < opened_ms))
        .cloned()
        .collect();
    if matches!(verdict(&earlier).standing, AlertStanding::NothingSeen { .. }) {
        return;
    }
    let (kind, fact) = match found.standing {
        AlertStanding::Due => {
            let due = quiet.iter().filter(|t| matches!(t.state(now), AlertState::Due { .. }));
            let names: Vec<&str> = due.map(|t| t.id.as_str()).collect();
            (AgainstKind::Unread, format!("unread/{}", names.join("+")))
        }
        _ => (AgainstKind::NoReading, "no-reading".to_owned()),
    };
    against.push(Against { kind, fact, text: found.text, overridden: false });
}

fn age(card: &ClientView, rules: &ColourRules, against: &mut Vec<Against>, asks: &mut Vec<Told>) {
    let Some(least) = &rules.minimum_age else { return };
    let (years, rule) = (least.years, &least.citation.rule);
    let said = card.field(ClientField::Born).iter().filter_map(|s| s.value.as_str()?.parse::<Date>().ok());
    // Of several dates of birth the latest counts.
    match said.max() {
        Some(born) if years_old(born, rules.today) < i32::from(years) => against.push(Against {
            kind: AgainstKind::UnderAge,
            fact: format!("under-age/{years}"),
            text: too_young(years, rule),
            overridden: false,
        }),
        Some(_) => {}
        None => asks.push(told!(
            "The date of birth is not on the card: ask whether the client is at least {years} ({rule}).",
            years,
            rule
        )),
    }
}

/// Whole years. Somebody born on 29 February is a year older on 1 March where there is no such day.
fn years_old(born: Date, today: Date) -> i32 {
    let had_birthday = (today.month(), today.day()) >= (born.month(), born.day());
    i32::from(today.year()) - i32::from(born.year()) - i32::from(!had_birthday)
}

/// Whether colour touched the client at this visit while something stands that nobody answers for.
#[must_use]
pub fn touched_despite(card: &ClientView, visit: &VisitView, rules: &ColourRules, now: Moment) -> bool {
    touched(visit).into_iter().any(|touch| Stop::read(Some(card), visit, rules, touch, now).stands)
}

/// What the products do that went on at this visit.
fn touched(visit: &VisitView) -> Vec<Touch> {
    let painted = visit.exposure.sections.iter().flat_map(|s| s.on_hair.iter().chain(&s.rinsed_off));
    let bowls = painted.map(|p| p.bowl.as_ref().map_or(Touch::Colours, |bowl| visit.touch_of(bowl)));
    let glosses = visit.finishes.iter().flat_map(|f| f.values()).map(|f| visit.touch_of_finish(f));
    bowls.chain(glosses).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_stood_against_colour_is_told_from_what_was_written_down() {
        let now = Moment { ms: 0, within_ms: None };
        let waiting = AlertStanding::Waiting { readable_at_ms: 100_000_000 }.verdict(now).text;
        let missing = AlertStanding::Missing.verdict(now).text;
        for said in [waiting, missing, no_card(), before(ReactedTo::Lightener.name()), by_answer(Answer::Yes)]
        {
            let read = own(&said).unwrap();
            assert_eq!((read.say.as_str(), read.as_str()), (said.say.as_str(), said.as_str()));
        }
        assert_eq!(own("somebody else's reason"), None, "what this version does not say stays as written");
    }
}
