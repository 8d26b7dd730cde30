//! What is handed out to be read, printed or kept. A page is data first, so that an app says it in its reader's
//! language; then HTML or CSV, so that no app writes markup of its own.

use std::fmt::Write as _;

use serde::{Deserialize, Serialize};

use super::{Station, StationError};
use crate::markup::escaped;
use crate::trade::{Told, told};

/// A page, in the words of its `text`s: an app in another language puts its own words there and hands it back.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Page {
    /// What it is.
    pub title: Told,
    /// What stands under the title.
    pub lines: Vec<Told>,
    /// One after another.
    pub parts: Vec<PagePart>,
    /// What stands below everything.
    pub foot: Vec<Told>,
    /// What a program reads first: the first record as CSV.
    pub facts: Vec<Told>,
}

/// A part of a page: sentences, then a table.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct PagePart {
    /// What it is about.
    pub title: Told,
    /// How it is shown.
    pub look: PartLook,
    /// Sentences.
    pub lines: Vec<Told>,
    /// The table's columns; none: there is no table.
    pub columns: Vec<Told>,
    /// Its rows, each as long as the columns.
    pub rows: Vec<Vec<Told>>,
    /// A row of sums.
    pub total: Option<Vec<Told>>,
    /// What stands there instead of a table without rows.
    pub none: Told,
}

/// How a part of a page is shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(rename_all = "snake_case")]
pub enum PartLook {
    /// As any.
    Plain,
    /// Framed, so that it is not overlooked.
    Watch,
    /// With a box to tick, where there is something.
    ToDo,
}

/// Narrow margins and small type: a salon's ordinary day fits one sheet of A4 or Letter.
const STYLE: &str = "
:root { color-scheme: light; --ink: #1d1b19; --rule: #b9b2a8; --soft: #f4f0ea; }
* { box-sizing: border-box; }
body { margin: 0 auto; padding: 1.5rem; max-width: 60rem; color: var(--ink); background: #fff;
  font: 0.95rem/1.35 system-ui, sans-serif; }
header { border-bottom: 3px double var(--ink); margin-bottom: 1rem; padding-bottom: .4rem; }
h1 { font-size: 1.35rem; margin: 0; }
h2 { font-size: 1rem; margin: 1rem 0 .25rem; }
p { margin: .2rem 0; }
header p { font-weight: 600; }
table { width: 100%; border-collapse: collapse; }
th, td { text-align: left; vertical-align: top; padding: .15rem .5rem .15rem 0; border-bottom: 1px solid var(--rule); }
td:last-child { overflow-wrap: anywhere; }
th { font-weight: 600; }
tfoot td { font-weight: 600; border-bottom: none; background: var(--soft); }
.watch { border: 2px solid var(--ink); padding: .4rem .8rem; margin-top: 1rem; }
.watch h2 { margin-top: 0; }
.to-do h2::before { content: '\\25A1\\00A0'; }
.none { color: #57514a; }
footer { margin-top: 1rem; border-top: 1px solid var(--rule); padding-top: .3rem; font-size: .85rem; }
@media print {
  @page { margin: 10mm; }
  body { padding: 0; max-width: none; font-size: 8.5pt; line-height: 1.2; }
  h1 { font-size: 12pt; }
  h2 { font-size: 9pt; margin: 5pt 0 1pt; break-after: avoid; }
  tr { break-inside: avoid; }
}
";

/// The language of the words that this crate writes by itself.
pub const ENGLISH: &str = "en";

#[cfg_attr(any(feature = "web", feature = "ffi"), tailcomb_facade::exported)]
impl Station {
    /// A page as one HTML file to be read or printed: everything in it, nothing fetched, every text escaped. `language`
    /// is that of its words (BCP 47), for whatever reads it aloud or hyphenates it.
    #[must_use]
    pub fn page_html(&self, page: &Page, language: &str) -> String {
        page.html(language)
    }

    /// The tables of a page as CSV (RFC 4180), for a spreadsheet: first its facts; then each record begins with its
    /// table's title, and of each table the columns come first.
    ///
    /// # Errors
    /// [`StationError::Input`] for a page that cannot be written.
    pub fn page_csv(&self, page: &Page) -> Result<String, StationError> {
        page.csv()
    }
}

impl Page {
    /// See [`Station::page_html`].
    #[must_use]
    pub fn html(&self, language: &str) -> String {
        let is_tag = language.len() <= 35 && language.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-');
        let mut out = String::new();
        // Writing to a string does not fail, here and below.
        let _ = write!(
            out,
            "<!doctype html>\n<html lang=\"{}\">\n<head>\n<meta charset=\"utf-8\">\n\
             <meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">\n\
             <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n<title>{1}</title>\n\
             <style>{STYLE}</style>\n</head>\n<body>\n<header><h1>{1}</h1>\n{2}</header>\n<main>\n",
            if is_tag { language } else { ENGLISH },
            escaped(&self.title),
            paragraphs(&self.lines),
        );
        self.parts.iter().for_each(|part| part.html(&mut out));
        let _ = write!(out, "</main>\n<footer>{}</footer>\n</body>\n</html>\n", paragraphs(&self.foot));
        out
    }

    /// See [`Station::page_csv`].
    ///
    /// # Errors
    /// [`StationError::Input`], which writing to memory does not give.
    pub fn csv(&self) -> Result<String, StationError> {
        let failed = |error: String| StationError::Input(told!("the page cannot be written: {error}", error));
        let mut writer = csv::WriterBuilder::new().flexible(true).from_writer(Vec::new());
        let mut put = |row: Vec<String>| writer.write_record(row).map_err(|error| failed(error.to_string()));
        if !self.facts.is_empty() {
            put(self.facts.iter().map(|fact| plain(fact)).collect())?;
        }
        for part in self.parts.iter().filter(|part| !part.columns.is_empty()) {
            for row in std::iter::once(&part.columns).chain(&part.rows).chain(&part.total) {
                put(std::iter::once(&part.title).chain(row).map(|cell| plain(cell)).collect())?;
            }
        }
        let bytes = writer.into_inner().map_err(|error| failed(error.error().to_string()))?;
        Ok(String::from_utf8_lossy(&bytes).into_owned())
    }
}

impl PagePart {
    /// Sentences under a title.
    pub(super) fn of_lines(title: Told, look: PartLook, lines: Vec<Told>) -> Self {
        Self { lines, ..Self::of_table(title, look, Vec::new(), Vec::new()) }
    }

    /// A table under a title.
    pub(super) fn of_table(title: Told, look: PartLook, columns: Vec<Told>, rows: Vec<Vec<Told>>) -> Self {
        let none = told!("{title}: none", title = &title);
        Self { title, look, lines: Vec::new(), columns, rows, total: None, none }
    }

    fn html(&self, out: &mut String) {
        if !self.columns.is_empty() && self.rows.is_empty() {
            let _ = writeln!(out, "<section><p class=\"none\">{}</p></section>", escaped(&self.none));
            return;
        }
        let class = match self.look {
            PartLook::Plain => "",
            PartLook::Watch => " class=\"watch\"",
            PartLook::ToDo => " class=\"to-do\"",
        };
        let _ = writeln!(out, "<section{class}><h2>{}</h2>", escaped(&self.title));
        out.push_str(&paragraphs(&self.lines));
        if !self.columns.is_empty() {
            let _ = writeln!(out, "<table>\n<thead>{}</thead>", row(&self.columns, "th scope=\"col\"", "th"));
            let _ = writeln!(out, "<tbody>");
            for cells in &self.rows {
                let _ = writeln!(out, "{}", row(cells, "td", "td"));
            }
            let _ = writeln!(out, "</tbody>");
            if let Some(total) = &self.total {
                let _ = writeln!(out, "<tfoot>{}</tfoot>", row(total, "td", "td"));
            }
            let _ = writeln!(out, "</table>");
        }
        let _ = writeln!(out, "</section>");
    }
}

fn paragraphs(lines: &[Told]) -> String {
    lines.iter().fold(String::new(), |mut all, line| {
        let _ = writeln!(all, "<p>{}</p>", escaped(line));
        all
    })
}

fn row(cells: &[Told], opening: &str, closing: &str) -> String {
    let cells = cells.iter().fold(String::new(), |mut all, cell| {
        let _ = write!(all, "<{opening}>{}</{closing}>", escaped(cell));
        all
    });
    format!("<tr>{cells}</tr>")
}

/// A cell that a spreadsheet would take for a formula gets an apostrophe before it: clients' names come from outside.
fn plain(cell: &str) -> String {
    let formula = cell.starts_with(['=', '+', '@', '\t', '\r']) || (cell.starts_with('-') && cell.len() > 1);
    if formula { format!("'{cell}") } else { cell.to_owned() }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn page(text: &str) -> Page {
        let text = Told::written(text);
        let part = PagePart::of_table(
            text.clone(),
            PartLook::ToDo,
            vec![text.clone()],
            vec![vec![text.clone()], vec![text.clone()]],
        );
        let empty = PagePart::of_table(text.clone(), PartLook::Plain, vec![text.clone()], Vec::new());
        let watch = PagePart::of_lines(text.clone(), PartLook::Watch, vec![text.clone()]);
        let parts = vec![watch, PagePart { total: Some(vec![text.clone()]), ..part }, empty];
        Page {
            title: text.clone(),
            lines: vec![text.clone()],
            parts,
            foot: vec![text.clone()],
            facts: vec![text],
        }
    }

    proptest! {
        #[test]
        fn no_word_of_a_page_becomes_markup_or_a_formula(text in "[-=+@<>&\"'a-z\t\n ]{0,12}") {
            let tags = |html: &str| html.matches('<').count();
            let (bare, html) = (page("x").html("es"), page(&text).html("es"));
            prop_assert_eq!(tags(&bare), tags(&html), "{}", html);
            prop_assert!(html.contains("<html lang=\"es\">"));
            let csv = page(&text).csv().unwrap();
            let mut reader = csv::ReaderBuilder::new().has_headers(false).flexible(true).from_reader(csv.as_bytes());
            for record in reader.records() {
                for cell in record.unwrap().iter() {
                    prop_assert!(!cell.starts_with(['=', '+', '@', '\t']), "{:?}", cell);
                    prop_assert_eq!(cell.strip_prefix('\'').filter(|_| cell != text).unwrap_or(cell), text.as_str());
                }
            }
        }
    }

    #[test]
    fn a_language_is_a_tag_or_is_not_believed() {
        assert!(page("x").html("es-MX").contains("<html lang=\"es-MX\">"));
        assert!(page("x").html("\"><script>").contains("<html lang=\"en\">"));
    }
}
