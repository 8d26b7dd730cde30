//! The close of a day as a page to print.

use crate::markup::entity;
use std::fmt::Write;

use super::{CloseSheet, SheetTable};
use crate::trade::Told;

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
.state { font-weight: 600; }
table { width: 100%; border-collapse: collapse; }
th, td { text-align: left; vertical-align: top; padding: .15rem .5rem .15rem 0; border-bottom: 1px solid var(--rule); }
th { font-weight: 600; }
tfoot td { font-weight: 600; border-bottom: none; background: var(--soft); }
.todo h2::before { content: '\\25A1\\00A0'; }
.none { color: #57514a; }
footer { margin-top: 1rem; border-top: 1px solid var(--rule); padding-top: .3rem; font-size: .85rem; }
@media print {
  @page { margin: 10mm; }
  body { padding: 0; max-width: none; font-size: 8.5pt; line-height: 1.2; }
  h1 { font-size: 12pt; }
  h2 { font-size: 9pt; margin: 5pt 0 1pt; }
  tr, section { break-inside: avoid; }
}
";

pub(super) fn page(sheet: &CloseSheet) -> String {
    let date = sheet.date.to_string();
    let salon = escaped(&sheet.salon);
    let mut body = String::new();
    let state = match (sheet.closed, sheet.is_clear) {
        (true, true) => "The day is closed.",
        (true, false) => "The day is closed, with things left to do.",
        (false, true) => "The day is open; nothing is left to do.",
        (false, false) => "The day is open; something is left to do.",
    };
    for table in &sheet.tables {
        body.push_str(&section(table));
    }
    let questions = match sheet.questions {
        0 => String::new(),
        1 => "<p class=\"state\">1 question is to be settled.</p>".to_owned(),
        n => format!("<p class=\"state\">{n} questions are to be settled.</p>"),
    };
    format!(
        "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <title>{salon}: close of {date}</title>\n<style>{STYLE}</style>\n</head>\n<body>\n\
         <header><h1>{salon}: close of {date}</h1>\n<p class=\"state\">{state}</p>{questions}</header>\n\
         <main>\n{body}</main>\n<footer><p>Made {made}. Amounts are what was weighed; what has no price is not counted \
         as free. Follow the maker's label; a licensed stylist decides, and local codes prevail.</p></footer>\n\
         </body>\n</html>\n",
        made = escaped(&sheet.made_at),
    )
}

fn section(table: &SheetTable) -> String {
    let class = if table.to_do && !table.rows.is_empty() { " class=\"todo\"" } else { "" };
    let title = escaped(&table.title);
    if table.rows.is_empty() {
        return format!("<section{class}><p class=\"none\">{title}: none</p></section>\n");
    }
    let cells = |row: &[Told], tag: &str| -> String {
        row.iter().fold(String::new(), |mut all, cell| {
            // Writing to a string does not fail.
            let _ = write!(all, "<{tag}>{}</{tag}>", escaped(cell));
            all
        })
    };
    let heads: String = table.columns.iter().fold(String::new(), |mut all, column| {
        let _ = write!(all, "<th scope=\"col\">{}</th>", escaped(column));
        all
    });
    let rows: String = table.rows.iter().fold(String::new(), |mut all, row| {
        let _ = writeln!(all, "<tr>{}</tr>", cells(row, "td"));
        all
    });
    let total = table.total.as_ref().map(|t| format!("<tfoot><tr>{}</tr></tfoot>", cells(t, "td")));
    format!(
        "<section{class}><h2>{title}</h2>\n<table>\n<thead><tr>{heads}</tr></thead>\n<tbody>\n{rows}</tbody>\n{}\
         </table></section>\n",
        total.unwrap_or_default()
    )
}

/// Text that is only text, in content and in quoted attributes.
fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for letter in text.chars() {
        match entity(letter) {
            Some(entity) => out.push_str(entity),
            None => out.push(letter),
        }
    }
    out
}
