//! Formula notes at a station. What the shelf knows of a product (role, strength, the label's times and ratios) is
//! filled in and held against what is noted; a note that departs from a label is kept and says so.

use serde::Serialize;

use super::{Station, StationError};
use crate::ids::{DocId, EntryId};
use crate::record::RecordError;
use crate::record::shelf::{Goods, ShelfItem, ShelfView};
use crate::record::visit::{self, Formula, Line, LineRole};
use crate::trade::mix::Share;
use crate::trade::{Millis, Told, Volumes, term, told};

/// A line of a formula to be noted.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(serde::Deserialize, ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct NewLine {
    /// The product on the shelf, if it is there.
    #[cfg_attr(feature = "ffi", uniffi(default))]
    pub product: Option<EntryId>,
    /// What it does; `None`: what the shelf says.
    #[cfg_attr(feature = "ffi", uniffi(default))]
    pub role: Option<LineRole>,
    /// What it is called; empty: as on the shelf.
    #[cfg_attr(feature = "ffi", uniffi(default))]
    pub name: String,
    /// How much of the formula it is.
    pub share: Share,
    /// Of a developer: its strength by the label; `None`: what the shelf says.
    #[cfg_attr(feature = "ffi", uniffi(default))]
    pub strength: Option<Volumes>,
}

/// A formula that was noted.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Noted {
    /// The formula.
    pub formula: EntryId,
    /// Its new lines, in order.
    pub lines: Vec<EntryId>,
    /// Where it departs from a label as the shelf has it.
    pub cautions: Vec<Told>,
}

#[cfg_attr(any(feature = "web", feature = "ffi"), tailcomb_facade::exported)]
impl Station {
    /// Notes a formula with its lines as one action. The label's longest time and working life come from the shelf
    /// where the note gives none.
    ///
    /// # Errors
    /// [`StationError`]; nothing is kept then.
    pub fn note_formula(
        &mut self,
        visit: &DocId,
        formula: &Formula,
        lines: &[NewLine],
    ) -> Result<Noted, StationError> {
        let shelf = self.shelf_view()?;
        let products: Vec<&ShelfItem> =
            lines.iter().filter_map(|l| shelf.item(l.product.as_ref()?)).collect();
        let mut formula = formula.clone();
        formula.longest = formula.longest.or(shortest(&products, ShelfItem::longest_processing));
        formula.working_life = formula.working_life.or(shortest(&products, ShelfItem::working_life));
        let cautions = departures(&formula, &products);
        let lines: Vec<Line> = lines.iter().map(|l| filled(&shelf, l)).collect::<Result<_, _>>()?;
        self.edit_visit(visit, |edit| {
            let id = visit::add_formula(edit, &formula)?;
            let add = |line: &Line| visit::add_line(edit, &Line { formula: id.clone(), ..line.clone() });
            let lines = lines.iter().map(add).collect::<Result<Vec<_>, _>>()?;
            Ok(Noted { formula: id, lines, cautions })
        })
    }

    /// Says anew what a formula is, its lines aside.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn change_formula(
        &mut self,
        visit: &DocId,
        id: &EntryId,
        formula: &Formula,
    ) -> Result<Noted, StationError> {
        let shelf = self.shelf_view()?;
        let view = self.visit_view(visit)?;
        let lines = view.formula(id).map(|f| f.lines.as_slice()).unwrap_or_default();
        let products =
            lines.iter().filter_map(|l| shelf.item(l.value()?.product.as_ref()?)).collect::<Vec<_>>();
        let cautions = departures(formula, &products);
        self.edit_visit(visit, |edit| visit::set_formula(edit, id, formula).map(drop))?;
        Ok(Noted { formula: id.clone(), lines: Vec::new(), cautions })
    }

    /// Takes a formula off.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn remove_formula(&mut self, visit: &DocId, id: &EntryId, why: &str) -> Result<(), StationError> {
        self.edit_visit(visit, |edit| visit::remove_formula(edit, id, why).map(drop))
    }

    /// Adds lines to a formula, as one action.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn add_lines(
        &mut self,
        visit: &DocId,
        formula: &EntryId,
        lines: &[NewLine],
    ) -> Result<Noted, StationError> {
        let shelf = self.shelf_view()?;
        let view = self.visit_view(visit)?;
        let noted = view.formula(formula).and_then(|f| f.formula.value());
        let products: Vec<&ShelfItem> =
            lines.iter().filter_map(|l| shelf.item(l.product.as_ref()?)).collect();
        let cautions = noted.map(|f| departures(f, &products)).unwrap_or_default();
        let lines: Vec<Line> = lines.iter().map(|l| filled(&shelf, l)).collect::<Result<_, _>>()?;
        self.edit_visit(visit, |edit| {
            let add = |line: &Line| visit::add_line(edit, &Line { formula: formula.clone(), ..line.clone() });
            let lines = lines.iter().map(add).collect::<Result<Vec<_>, _>>()?;
            Ok(Noted { formula: formula.clone(), lines, cautions })
        })
    }

    /// Says a line anew.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn change_line(&mut self, visit: &DocId, id: &EntryId, line: &Line) -> Result<(), StationError> {
        self.edit_visit(visit, |edit| visit::set_line(edit, id, line).map(drop))
    }

    /// Takes a line off its formula.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn remove_line(&mut self, visit: &DocId, id: &EntryId, why: &str) -> Result<(), StationError> {
        self.edit_visit(visit, |edit| visit::remove_line(edit, id, why).map(drop))
    }

    /// Notes a formula of another visit again, word for word: the same client, months later.
    ///
    /// # Errors
    /// [`StationError`], also while something of the old note is to be settled.
    pub fn repeat_formula(
        &mut self,
        visit: &DocId,
        from: &DocId,
        formula: &EntryId,
    ) -> Result<Noted, StationError> {
        let past = self.visit_view(from)?;
        let noted = past.formula(formula).ok_or_else(|| RecordError::not_found(term!("formula"), formula))?;
        let unsettled = || {
            let why = told!("the old note was never settled: settle it in that visit, or note it anew here");
            StationError::Input(why)
        };
        let old = noted.formula.settled().cloned().ok_or_else(unsettled)?;
        let lines: Vec<Line> = noted
            .lines
            .iter()
            .map(|line| line.settled().cloned().ok_or_else(unsettled))
            .collect::<Result<_, _>>()?;
        self.edit_visit(visit, |edit| {
            let id = visit::add_formula(edit, &old)?;
            let add = |line: &Line| visit::add_line(edit, &Line { formula: id.clone(), ..line.clone() });
            let lines = lines.iter().map(add).collect::<Result<Vec<_>, _>>()?;
            Ok(Noted { formula: id, lines, cautions: Vec::new() })
        })
    }
}

fn shortest(products: &[&ShelfItem], time: impl Fn(&ShelfItem) -> Option<Millis>) -> Option<Millis> {
    products.iter().filter_map(|p| time(p)).min()
}

/// Where a formula departs from the labels as the shelf has them.
fn departures(formula: &Formula, products: &[&ShelfItem]) -> Vec<Told> {
    let mut cautions = Vec::new();
    for product in products {
        if let Some(ratio) = formula.ratio
            && product.allows(ratio) == Some(false)
        {
            let said = product.product.latest().map(|v| v.value.ratios.as_slice()).unwrap_or_default();
            let allowed: Vec<String> = said.iter().map(ToString::to_string).collect();
            cautions.push(told!(
                "{product}: its label, as noted on the shelf, allows {allowed}, not {ratio}",
                product = product.called(),
                allowed = allowed.join(", "),
                ratio
            ));
        }
        if let (Some(noted), Some(label)) = (formula.longest, product.longest_processing())
            && noted > label
        {
            cautions.push(told!(
                "{product}: its label, as noted on the shelf, allows at most {label} on the hair, not {noted}",
                product = product.called(),
                label,
                noted
            ));
        }
    }
    cautions
}

/// The line with what the shelf knows of its product.
fn filled(shelf: &ShelfView, line: &NewLine) -> Result<Line, StationError> {
    let item = match &line.product {
        Some(id) => Some(shelf.item(id).ok_or_else(|| RecordError::not_found(term!("product"), id))?),
        None => None,
    };
    let goods = item.and_then(|i| i.product.latest()).map(|v| &v.value.goods);
    let (role, strength) = match goods {
        Some(Goods::Shade { .. } | Goods::Gloss { .. }) => (Some(LineRole::Shade), None),
        Some(Goods::Developer { volumes_mvol }) => (Some(LineRole::Developer), Some(*volumes_mvol)),
        Some(Goods::Lightener) => (Some(LineRole::Lightener), None),
        Some(Goods::Clear) => (Some(LineRole::Clear), None),
        Some(Goods::Additive) => (Some(LineRole::Additive), None),
        Some(Goods::Treatment) => (Some(LineRole::Treatment), None),
        None => (None, None),
    };
    let name = match (line.name.trim(), item) {
        ("", Some(item)) => item.called(),
        (name, _) => name.to_owned(),
    };
    let role = line.role.or(role).ok_or_else(|| {
        let why = told!("say what the product does: shade, clear, lightener, developer, additive or treatment; or put it on \
                   the shelf");
        StationError::Input(told!("{name}: {why}", name = &name, why))
    })?;
    Ok(Line {
        // Replaced by whoever adds the line.
        formula: EntryId::new(""),
        order: 0,
        role,
        product: line.product.clone(),
        name,
        share: line.share,
        strength: line.strength.or(strength).filter(|_| role == LineRole::Developer),
    })
}
