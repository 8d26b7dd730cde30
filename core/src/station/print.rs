//! One client as a page to be read and printed: one file, nothing loaded from anywhere, every word from the record
//! escaped.

use std::fmt::Write as _;

use super::{Station, StationError};
use crate::ids::DocId;
use crate::markup::entity;
use crate::record::client::{ClientField, watch_list};
use crate::record::portable::ClientFile;
use crate::record::visit;

const STYLE: &str = "body{font:15px/1.45 Georgia,serif;color:#1d1b19;max-width:52rem;margin:2rem auto;padding:0 1rem}\
h1{font-size:1.7rem;margin:0}h2{font-size:1.2rem;margin:2rem 0 .4rem;border-bottom:2px solid #1d1b19}\
h3{font-size:1rem;margin:1rem 0 .3rem}p{margin:.3rem 0}table{border-collapse:collapse;width:100%}\
th,td{text-align:left;vertical-align:top;padding:.2rem .6rem .2rem 0;border-bottom:1px solid #c9c3bb;overflow-wrap:anywhere}\
th{font-weight:600}.watch{border:2px solid #1d1b19;padding:.4rem .8rem}.small{font-size:.85rem}\
@media print{body{margin:0;max-width:none}h2{break-after:avoid}tr{break-inside:avoid}}";

/// A text that no browser reads as anything but text.
fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        if let Some(entity) = entity(c) {
            out.push_str(entity);
            continue;
        }
        match c {
            c if c.is_control() && c != '\n' && c != '\t' => out.push('\u{fffd}'),
            c => out.push(c),
        }
    }
    out
}

fn table(out: &mut String, heads: &[&str], rows: impl IntoIterator<Item = Vec<String>>) {
    let cells = |tag: &str, row: &[String]| {
        row.iter().map(|c| format!("<{tag}>{}</{tag}>", escaped(c))).collect::<String>()
    };
    let heads: Vec<String> = heads.iter().map(|h| (*h).to_owned()).collect();
    let _ = write!(out, "<table><thead><tr>{}</tr></thead><tbody>", cells("th", &heads));
    for row in rows {
        let _ = write!(out, "<tr>{}</tr>", cells("td", &row));
    }
    out.push_str("</tbody></table>\n");
}

impl Station {
    /// A client's file as a page.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn client_page(&mut self, client: &DocId, file: &ClientFile) -> Result<String, StationError> {
        let (salon, card) = (self.salon()?, self.client(client)?);
        let name = card.called();
        let mut out = String::new();
        let _ = write!(
            out,
            "<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">\
             <meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">\
             <meta name=\"viewport\" content=\"width=device-width\"><title>{0}</title><style>{STYLE}</style></head>\n\
             <body><h1>{0}</h1><p>Everything that {1} keeps of this client, made {2} by {3}.</p>\n",
            escaped(&name),
            escaped(&file.made.salon),
            escaped(&file.made.at),
            escaped(salon.called(&file.made.by)),
        );
        let watch = watch_list(&card);
        if !watch.is_empty() {
            out.push_str("<h2>To watch</h2><div class=\"watch\">");
            for one in &watch {
                let _ = write!(out, "<p>{}</p>", escaped(&one.text));
            }
            out.push_str("</div>\n");
        }
        out.push_str("<h2>The card</h2>\n");
        let fields = card.fields.iter().flat_map(|(field, said)| {
            let row = |s: &crate::record::Said| {
                vec![label(field), told(&s.value), salon.called(&s.by).to_owned(), date(&salon, s.at_ms)]
            };
            said.iter().map(row).collect::<Vec<_>>()
        });
        table(&mut out, &["What", "Says", "By", "When"], fields);
        out.push_str("<h3>Everything that was said on it</h3>\n");
        self.said(&mut out, client, &salon)?;
        for doc in &file.visits {
            let opening = visit::glance(self.document(&doc.doc)?.entries()).0;
            let title = opening.map_or_else(
                || "A visit".to_owned(),
                |o| format!("Visit of {}: {}", date(&salon, o.at.ms), o.service),
            );
            let _ = writeln!(out, "<h2>{}</h2>", escaped(&title));
            self.said(&mut out, &doc.doc, &salon)?;
        }
        if !file.not_here.is_empty() {
            let _ = writeln!(
                out,
                "<p>{} visits that the card lists had not arrived at this station.</p>",
                file.not_here.len()
            );
        }
        out.push_str(
            "<p class=\"small\">Times are the salon's own. What was corrected or removed is listed with its \
             correction. Colour work is decided by a licensed stylist, the maker's label and local rules.</p>\
             </body></html>\n",
        );
        Ok(out)
    }

    fn said(
        &mut self,
        out: &mut String,
        doc: &DocId,
        salon: &crate::record::salon::SalonView,
    ) -> Result<(), StationError> {
        let zone = salon.time_zone();
        let lines = self.history(doc)?.into_iter().map(|l| {
            let at = jiff::Timestamp::from_millisecond(l.at.ms).unwrap_or(jiff::Timestamp::UNIX_EPOCH);
            let at = zone.to_datetime(at).strftime("%Y-%m-%d %H:%M").to_string();
            vec![at, salon.called(&l.by).to_owned(), l.place.text, l.text.text]
        });
        table(out, &["When", "Who", "About", "What was said"], lines);
        Ok(())
    }
}

fn date(salon: &crate::record::salon::SalonView, ms: i64) -> String {
    salon.date(ms).to_string()
}

fn label(field: &str) -> String {
    ClientField::from_key(field).map_or(field, |f| f.key()).replace('_', " ")
}

fn told(value: &serde_json::Value) -> String {
    value.as_str().map_or_else(|| value.to_string(), str::to_owned)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn no_word_of_the_record_becomes_markup(text in ".{0,60}") {
            let out = escaped(&text);
            prop_assert!(!out.contains(['<', '>', '"', '\'']));
            let back = out.replace("&lt;", "<").replace("&gt;", ">").replace("&quot;", "\"");
            let back = back.replace("&#39;", "'").replace("&amp;", "&");
            prop_assert_eq!(back.chars().count(), text.chars().count());
        }
    }
}
