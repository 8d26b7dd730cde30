//! A small salon with one visit under way, to compose floors and closes from.

use super::super::View;
use super::super::client::{self, Applied, alert_applied};
use super::super::close::{CloseView, close_summary};
use super::super::day::{DayView, Slot, plan_visit};
use super::super::floor::{Floor, FloorView};
use super::super::salon::{self, Role, SalonView};
use super::super::shelf::{self, Goods, PackUnit, Price, Product, ShelfView};
use super::super::visit::{self, Contents, Formula, Line, LineRole, Part, Section, VisitView};
use super::trial::{Replica, at};
use crate::ids::{DocId, EntryId, PersonId};
use crate::trade::mix::Share;
use crate::trade::{Grams, Millis, Ratio, Volumes};

/// The documents of the salon at one station.
#[derive(Clone)]
pub(super) struct House {
    pub(super) salon: Replica,
    pub(super) shelf: Replica,
    pub(super) day: Replica,
    pub(super) card: Replica,
    pub(super) visit: Replica,
    pub(super) lightener: EntryId,
    pub(super) developer: EntryId,
    pub(super) formula: EntryId,
    pub(super) sections: Vec<EntryId>,
}

pub(super) fn day() -> jiff::civil::Date {
    jiff::civil::date(2026, 7, 1)
}

fn product(line: &str, name: &str, goods: Goods) -> Product {
    Product {
        line: line.to_owned(),
        name: name.to_owned(),
        goods,
        ratios: Vec::new(),
        working_life_ms: None,
        longest_processing_ms: Some(Millis::minutes(45)),
    }
}

pub(super) fn price(minor: i64, pack_milli: i64, unit: PackUnit) -> Price {
    Price { price_minor: minor, currency: "EUR".to_owned(), pack_milli, unit }
}

impl House {
    /// Inês (trainer) and Tomás (stylist) at work; Mara is expected at 08:30 and her visit opened by Tomás at 08:20.
    pub(super) fn open() -> Self {
        let id = |name: &str| DocId::parse(name).unwrap();
        let (mut salon, mut shelf) = (Replica::new(&DocId::salon(), 11), Replica::new(&DocId::shelf(), 12));
        let (mut today, mut card) =
            (Replica::new(&DocId::day(day()), 13), Replica::new(&id("client/mara"), 14));
        let mut mara = Replica::new(&id("visit/mara1"), 15);
        salon.does("ines", 0, |e| {
            salon::set_name(e, "Salon Marisma")?;
            salon::set_zone(e, "Europe/Lisbon")?;
            salon::add_person(e, &PersonId::new("ines"), "Inês", Role::Trainer)?;
            salon::add_person(e, &PersonId::new("tomas"), "Tomás", Role::Stylist)?;
            salon::add_person(e, &PersonId::new("wen"), "Wen", Role::Associate)
        });
        let (lightener, developer) = shelf.does("ines", 0, |e| {
            let vol = Volumes::from_thousandths(20_000).unwrap();
            let lightener = shelf::add_product(e, &product("Nimbus", "powder", Goods::Lightener))?;
            let developer =
                shelf::add_product(e, &product("Nimbus", "20 vol", Goods::Developer { volumes_mvol: vol }))?;
            // 500 g at 40.00; a litre at 9.00.
            shelf::set_price(e, &lightener, &price(4_000, 500_000, PackUnit::Gram))?;
            shelf::set_price(e, &developer, &price(900, 1_000_000, PackUnit::Millilitre))?;
            Ok((lightener, developer))
        });
        card.does("tomas", 19, |e| client::create(e, "Mara Quill"));
        let (formula, sections) = mara.does("tomas", 20, |e| {
            visit::open(e, &id("client/mara"), "partial foils")?;
            visit::take(e)?;
            let formula = visit::add_formula(
                e,
                &Formula {
                    title: "foils".to_owned(),
                    ratio: Some(Ratio::new(1, 2).unwrap()),
                    developer: Some(Volumes::from_thousandths(20_000).unwrap()),
                    longest: Some(Millis::minutes(45)),
                    working_life: Some(Millis::minutes(30)),
                    note: String::new(),
                },
            )?;
            visit::add_line(
                e,
                &Line {
                    formula: formula.clone(),
                    order: 1,
                    role: LineRole::Lightener,
                    product: Some(lightener.clone()),
                    name: "powder".to_owned(),
                    share: Share::parts(1),
                    strength: None,
                },
            )?;
            let section = |name: &str, order| Section {
                name: name.to_owned(),
                area: String::new(),
                symbol: String::new(),
                shape: String::new(),
                direction: String::new(),
                order,
                left_out: false,
                ..Section::default()
            };
            let crown = visit::add_section(e, &section("crown", 1))?;
            let nape = visit::add_section(e, &section("nape", 2))?;
            Ok((formula, vec![crown, nape]))
        });
        let slot = Slot { visit: id("visit/mara1"), planned_at_ms: at(30).ms, stylist: None };
        today.does("ines", 5, |e| plan_visit(e, &slot));
        Self { salon, shelf, day: today, card, visit: mara, lightener, developer, formula, sections }
    }

    /// 20 g of lightener and 40 g of developer.
    pub(super) fn contents(&self) -> Contents {
        let part = |product: &EntryId, name: &str, role, grams| Part {
            line: None,
            product: Some(product.clone()),
            name: name.to_owned(),
            role,
            amount: Grams::whole(grams),
            strength: None,
        };
        Contents {
            formula: self.formula.clone(),
            label: String::new(),
            parts: vec![
                part(&self.lightener, "powder", LineRole::Lightener, 20),
                part(&self.developer, "20 vol", LineRole::Developer, 40),
            ],
            strength: Some(Volumes::from_thousandths(20_000).unwrap()),
            working_life: None,
            weighed: None,
        }
    }

    /// An alert test applied 47 h before 09:00, so readable from 10:00 UTC.
    pub(super) fn tested(&mut self) -> EntryId {
        let applied = Applied {
            product: "Aurelle 7.4".to_owned(),
            site: "ear".to_owned(),
            applied_at_ms: at(2 * 60 - 48 * 60).ms,
        };
        self.card.does("ines", 2 * 60 - 48 * 60, |e| alert_applied(e, &applied))
    }

    pub(super) fn floor(&self, minute: i64) -> FloorView {
        Floor::compose(
            &SalonView::read(&self.salon.doc),
            Some(&DayView::read(&self.day.doc)),
            &[VisitView::read(&self.visit.doc)],
            &[client::ClientView::read(&self.card.doc)],
            at(minute),
        )
    }

    pub(super) fn close(&self, minute: i64) -> CloseView {
        close_summary(
            &SalonView::read(&self.salon.doc),
            &ShelfView::read(&self.shelf.doc),
            Some(&DayView::read(&self.day.doc)),
            &[VisitView::read(&self.visit.doc)],
            &[client::ClientView::read(&self.card.doc)],
            day(),
            at(minute),
        )
    }
}
