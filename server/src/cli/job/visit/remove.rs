//! Taking one thing off a visit, with who and why.

use clap::ValueEnum;
use tailcomb_core::ids::{DocId, EntryId};
use tailcomb_core::record::visit::{Item, Tells as _, VisitView};
use tailcomb_core::station::Station;

use super::super::{pick, say};
use crate::cli::error::CliError;
use crate::cli::output::Output;

/// What can be taken off a visit one by one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Thing {
    /// What a zone should become.
    Target,
    /// A note.
    Note,
    /// A look at a strand.
    Check,
    /// How a zone came out.
    Result,
    /// A gloss or a treatment.
    Finish,
    /// A photograph.
    Photo,
    /// Cut, styling, advice, the next visit.
    After,
}

/// Takes one thing off a visit.
pub(super) fn remove(
    station: &mut Station,
    visit: &DocId,
    what: Thing,
    which: &str,
    why: &str,
) -> Result<Output, CliError> {
    let id = find(&station.visit(visit)?, what, which)?;
    if why.trim().is_empty() {
        return Err(CliError::input("say why it is taken off: the reason stays on the record"));
    }
    match what {
        Thing::Target => station.remove_target(visit, &id, why),
        Thing::Note => station.remove_note(visit, &id, why),
        Thing::Check => station.remove_check(visit, &id, why),
        Thing::Result => station.remove_result(visit, &id, why),
        Thing::Finish => station.remove_finish(visit, &id, why),
        Thing::Photo => station.remove_photo(visit, &id, why),
        Thing::After => station.remove_after(visit, &id, why),
    }?;
    let human = format!("taken off the visit: {}; tailcomb history keeps it, with who and why", which.trim());
    Ok(Output::new(human, say::with_doc(visit, "removed", id)))
}

/// The one that the words mean.
pub(in crate::cli::job) fn find(view: &VisitView, what: Thing, which: &str) -> Result<EntryId, CliError> {
    fn one<T>(
        what: &'static str,
        which: &str,
        list: &[Item<T>],
        words: impl Fn(&T) -> String,
    ) -> Result<EntryId, CliError> {
        let called = |item: &Item<T>| item.values().map(&words).collect();
        pick::among(what, which, list, |item| item.id.as_str(), called).map(|item| item.id.clone())
    }
    match what {
        Thing::Target => one("target", which, &view.targets, |t| t.zone.clone()),
        Thing::Note => one("note", which, &view.notes, |n| n.text.clone()),
        Thing::Check => one("check", which, &view.checks, |c| {
            let section = view.section(&c.section).map_or("a section", |s| s.name());
            format!("{section}: {}", c.told())
        }),
        Thing::Result => one("result", which, &view.results, |r| r.zone.clone()),
        Thing::Finish => one("gloss or treatment", which, &view.finishes, |f| f.product.clone()),
        Thing::Photo => one("photograph", which, &view.photos, |p| p.sha256.clone()),
        Thing::After => one("note of cut, styling or advice", which, &view.after, |a| a.told().into()),
    }
}
