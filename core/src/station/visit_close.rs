//! The end of a visit: what keeps it open is named, and what was done to which zone goes into the history on the card.

use super::{Station, StationError};
use crate::ids::{DocId, EntryId};
use crate::order::InOrder as _;
use crate::record::client::{self, Chemical, ChemicalKind, ClientView};
use crate::record::visit::{self, BowlState, FinishKind, LineRole, VisitView, ZoneResult};
use crate::record::zone::SOMEWHERE;
use crate::record::{Edit, RecordError, tell, timer};
use crate::time::TimerKind;
use crate::trade::{Told, told};

#[cfg_attr(any(feature = "web", feature = "ffi"), tailcomb_facade::exported)]
impl Station {
    /// Closes a visit, and writes what was done to which zone into the history on the client's card. Says what it
    /// wrote there.
    ///
    /// # Errors
    /// [`StationError`], naming what is still to be done: bowls in use, timers, product on hair.
    pub fn close_visit(&mut self, visit: &DocId) -> Result<Vec<Chemical>, StationError> {
        let view = self.visit_view(visit)?;
        self.nothing_left_open(&view)?;
        let client = view.opening.as_ref().map(|o| o.client.clone());
        let now_ms = self.now().ms;
        let known: Vec<(EntryId, Chemical)> = match &client {
            Some(client) => of_visit(&self.document(client)?.view(), visit),
            None => Vec::new(),
        };
        let history = done_to_hair(&view, now_ms);
        self.act(|action| {
            action.edit(visit, |edit| visit::close(edit).map(drop))?;
            if let (Some(client), false) = (&client, history.is_empty()) {
                action.edit(client, |edit| write_history(edit, &known, &history))?;
            }
            Ok(())
        })?;
        Ok(history)
    }

    /// What keeps a visit from being closed, named, before the record refuses it in general.
    fn nothing_left_open(&mut self, view: &VisitView) -> Result<(), StationError> {
        let mut left = Vec::new();
        let bowls = view.bowls.iter().filter(|b| b.state == BowlState::InUse);
        left.extend(bowls.map(|b| told!("{bowl} is in use: say what became of it", bowl = &b.label)));
        let bowl_life = |t: &&timer::TimerView| t.kind != TimerKind::BowlLife;
        let timers = view.timers.iter().filter(|t| t.is_live()).filter(bowl_life);
        left.extend(timers.map(|t| {
            let label = if t.label.is_empty() { tell::label(t.kind.as_str()) } else { t.label.clone() };
            told!("the timer “{label}” is not stopped", label)
        }));
        let on_hair: Vec<&str> = view.sections.iter().filter(|s| s.is_on_hair()).map(|s| s.name()).collect();
        if !on_hair.is_empty() {
            left.push(told!("product is on {sections}: record the rinse", sections = on_hair.join(", ")));
        }
        if left.is_empty() {
            return Ok(());
        }
        Err(StationError::Input(told!(
            "the visit cannot be closed yet: {left}",
            left = Told::joined(left, "; ")
        )))
    }

    /// Opens a closed visit again, or says of one that asks that it stays open.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn reopen_visit(&mut self, visit: &DocId, why: &str) -> Result<(), StationError> {
        self.visit_view(visit)?;
        self.edit_visit(visit, |edit| visit::reopen(edit, why).map(drop))
    }
}

/// What a card says was done in one visit.
fn of_visit(card: &ClientView, visit: &DocId) -> Vec<(EntryId, Chemical)> {
    let standing = card.chemical.iter().filter(|c| c.stands);
    let said = standing.filter_map(|c| Some((c.id.clone(), c.versions.last()?.value.clone())));
    said.filter(|(_, c)| c.visit.as_ref() == Some(visit)).collect()
}

/// Writes history, saying anew what an earlier closing of the same visit wrote.
fn write_history(
    edit: &mut Edit<'_, '_>,
    known: &[(EntryId, Chemical)],
    history: &[Chemical],
) -> Result<(), RecordError> {
    for done in history {
        match known.iter().find(|(_, k)| k.zone == done.zone && k.kind == done.kind) {
            Some((_, said)) if said == done => {}
            Some((id, said)) => {
                let same_time = Chemical { done_at_ms: said.done_at_ms, ..done.clone() };
                if same_time != *said {
                    client::chemical_changed(edit, id, &same_time)?;
                }
            }
            None => drop(client::chemical_recorded(edit, done)?),
        }
    }
    Ok(())
}

/// What a visit did to which zone: results where there are any, else one line for what was painted at all.
fn done_to_hair(view: &VisitView, now_ms: i64) -> Vec<Chemical> {
    let painted: Vec<&visit::BowlView> = view
        .bowls
        .iter()
        .filter(|b| b.mixed_at.is_some())
        .filter(|b| {
            let on = view.exposure.sections.iter().flat_map(|s| s.on_hair.iter().chain(&s.rinsed_off));
            on.filter_map(|p| p.bowl.as_ref()).any(|bowl| *bowl == b.id)
        })
        .collect();
    let has = |role: LineRole| {
        painted.iter().filter_map(|b| b.contents()).flat_map(|c| &c.parts).any(|p| p.role == role)
    };
    let done_at_ms = view
        .exposure
        .sections
        .iter()
        .flat_map(|s| s.on_hair.iter().chain(&s.rinsed_off))
        .map(|p| p.at.ms)
        .max()
        .unwrap_or(now_ms);
    let kind = |line: bool| match (has(LineRole::Lightener), has(LineRole::Shade)) {
        (true, _) if line => Some(ChemicalKind::Lightener),
        (_, true) => Some(ChemicalKind::Tint),
        (true, false) => Some(ChemicalKind::Lightener),
        (false, false) => None,
    };
    let formulas: Vec<&str> = {
        let mut titles: Vec<&str> = Vec::new();
        for formula in painted.iter().filter_map(|b| view.formula(&b.contents()?.formula)) {
            if !titles.contains(&formula.title()) {
                titles.push(formula.title());
            }
        }
        titles
    };
    let of = |zone: &str, kind, result: Option<&ZoneResult>| Chemical {
        zone: zone.to_owned(),
        kind,
        done_at_ms,
        line_um: result.and_then(|r| r.line_um),
        level_tenths: result.and_then(|r| r.level_tenths),
        visit: Some(view.doc.clone()),
        note: formulas.join(", "),
    };
    let mut results: Vec<(i64, &ZoneResult)> =
        view.results.iter().filter_map(|r| Some((r.said.versions.first()?.at.ms, r.value()?))).collect();
    results.order_by_key(|(at_ms, result)| (*at_ms, result.zone.clone()));
    let mut done: Vec<Chemical> =
        results.iter().filter_map(|(_, r)| Some(of(&r.zone, kind(r.line_um.is_some())?, Some(r)))).collect();
    if done.is_empty()
        && !painted.is_empty()
        && let Some(kind) = kind(true)
    {
        done.push(of(&SOMEWHERE, kind, None));
    }
    let glosses = view.finishes.iter().filter_map(|f| f.value()).filter(|f| f.kind == FinishKind::Gloss);
    for gloss in glosses {
        let note = gloss.product.clone();
        done.push(Chemical { note, done_at_ms: now_ms, ..of("all over", ChemicalKind::Gloss, None) });
    }
    done
}
