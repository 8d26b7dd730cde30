//! One client as a page to be read and printed.

use super::page::{Page, PagePart, PartLook};
use super::{Station, StationError};
use crate::ids::DocId;
use crate::record::client::{ClientField, watch_list};
use crate::record::portable::ClientFile;
use crate::record::salon::SalonView;
use crate::record::tell;
use crate::record::visit;
use crate::trade::told::Filling;
use crate::trade::{Told, term, told};

impl Station {
    /// A client's file as a page.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn page_of(&mut self, client: &DocId, file: &ClientFile) -> Result<Page, StationError> {
        let (salon, card) = (self.salon_view()?, self.client_view(client)?);
        let zone = salon.time_zone();
        let made = told!(
            "Everything that {salon} keeps of this client, made {when} by {who}.",
            salon = &file.made.salon,
            when = salon.instant_told(file.made.at_ms),
            who = salon.called(&file.made.by)
        );
        let mut parts = Vec::new();
        let watch: Vec<Told> = watch_list(&card).into_iter().map(|one| one.text).collect();
        if !watch.is_empty() {
            parts.push(PagePart::of_lines(told!("To watch"), PartLook::Watch, watch));
        }
        let fields = card.fields.iter().flat_map(|(field, said)| {
            let row = |said: &crate::record::Said| {
                vec![
                    tell::label(field),
                    tell::field(field, &said.value, &zone),
                    Told::written(salon.called(&said.by)),
                    told!("{date}", date = Filling::date(&salon.date(said.at_ms).to_string())),
                ]
            };
            said.iter().map(row).collect::<Vec<_>>()
        });
        let columns = [term!("What"), term!("Says"), term!("By"), term!("When")];
        parts.push(PagePart::of_table(
            told!("The card"),
            PartLook::Plain,
            columns.iter().map(|column| column.told()).collect(),
            fields.collect(),
        ));
        parts.push(self.all_said(told!("Everything that was said on it"), client, &salon)?);
        for doc in &file.visits {
            let opening = visit::glance(self.document(&doc.doc)?.entries()).0;
            let title = opening.map_or_else(
                || told!("A visit"),
                |opening| {
                    let date = salon.date(opening.at.ms).to_string();
                    told!("Visit of {day}: {service}", day = Filling::date(&date), service = opening.service)
                },
            );
            parts.push(self.all_said(title, &doc.doc, &salon)?);
        }
        let missing = match file.not_here.len() {
            0 => None,
            1 => Some(told!("1 visit that the card lists had not arrived at this station.")),
            n => Some(told!("{n} visits that the card lists had not arrived at this station.", n)),
        };
        let foot = [
            told!("Times are the salon's own. What was corrected or removed is listed with its correction."),
            told!("Colour work is decided by a licensed stylist, the maker's label and local rules."),
        ];
        Ok(Page {
            title: card
                .shown(ClientField::Name)
                .map_or_else(|| told!("Client without a name"), Told::written),
            lines: vec![made],
            parts,
            foot: missing.into_iter().chain(foot).collect(),
            facts: Vec::new(),
        })
    }

    fn all_said(&mut self, title: Told, doc: &DocId, salon: &SalonView) -> Result<PagePart, StationError> {
        let lines = self.history(doc)?.into_iter();
        let row = |line: crate::record::settle::HistoryLine| {
            vec![salon.instant_told(line.at.ms), Told::written(salon.called(&line.by)), line.place, line.text]
        };
        let columns = [term!("When"), term!("Who"), term!("About"), term!("What was said")];
        let columns = columns.iter().map(|column| column.told()).collect();
        Ok(PagePart::of_table(title, PartLook::Plain, columns, lines.map(row).collect()))
    }
}
