//! A section map written as one SVG. Names and notes come from people, and from other stations: every text is escaped
//! and clipped, and none of it is ever a part of markup.

use crate::markup::entity;
use std::fmt::Write as _;

use super::map::{MapSection, MapShape, MapView, SectionMap, SectionNow};

/// Room around and between the views.
const GAP: i64 = 200;
/// Room above a view for its title.
const HEADING: i64 = 300;
/// Height of a line of the list.
const ROW: i64 = 260;
/// The longest text on the drawing itself; the whole of it stands in the title of its shape.
const LONGEST: usize = 72;

/// Patterns and the like; nothing in it comes from outside.
const DEFS: &str = concat!(
    "<defs>",
    "<pattern id=\"tc-on\" width=\"80\" height=\"80\" patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate(45)\">",
    "<rect width=\"80\" height=\"80\" fill=\"#fff\"/><rect width=\"28\" height=\"80\" fill=\"#bbb\"/></pattern>",
    "<pattern id=\"tc-over\" width=\"60\" height=\"60\" patternUnits=\"userSpaceOnUse\">",
    "<rect width=\"60\" height=\"60\" fill=\"#fff\"/><path d=\"M0 0L60 60M60 0L0 60\" stroke=\"#888\" stroke-width=\"14\"/></pattern>",
    "<pattern id=\"tc-rinsed\" width=\"120\" height=\"80\" patternUnits=\"userSpaceOnUse\">",
    "<rect width=\"120\" height=\"80\" fill=\"#fff\"/><path d=\"M0 40Q30 10 60 40T120 40\" fill=\"none\" stroke=\"#aaa\" stroke-width=\"10\"/></pattern>",
    "<pattern id=\"tc-out\" width=\"100\" height=\"100\" patternUnits=\"userSpaceOnUse\">",
    "<rect width=\"100\" height=\"100\" fill=\"#fff\"/><circle cx=\"50\" cy=\"50\" r=\"10\" fill=\"#999\"/></pattern>",
    "</defs>"
);

impl SectionMap {
    /// The map as an SVG document: the views two by two, and under them a list of all sections with their state in
    /// words. The same map is the same text, to the letter.
    #[must_use]
    pub fn svg(&self) -> String {
        let columns = 2;
        let (wide, high) = (self.width + GAP, self.height + HEADING);
        let views = i64::try_from(self.views.len()).unwrap_or(0);
        let rows = (views + columns - 1) / columns;
        let list = GAP + rows * high;
        let lines = i64::try_from(self.sections.len()).unwrap_or(0).max(1);
        let (width, height) = (GAP + columns * wide, list + (lines + 1) * ROW + GAP);
        let mut svg = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width} {height}\" width=\"{}\" height=\"{}\" \
             role=\"img\" font-family=\"sans-serif\" font-size=\"150\"><title>Section map</title><desc>{}</desc>{DEFS}\
             <rect width=\"{width}\" height=\"{height}\" fill=\"#fff\"/>",
            width / 10,
            height / 10,
            escaped(&self.summary(), usize::MAX),
        );
        for (n, view) in (0..views).zip(&self.views) {
            let (x, y) = (GAP + n % columns * wide, GAP + n / columns * high);
            self.view(view, x, y, &mut svg);
        }
        put(&mut svg, format_args!("<g transform=\"translate({GAP} {list})\">"));
        if self.sections.is_empty() {
            svg.push_str("<text y=\"200\">no sections on the map yet</text>");
        }
        for (n, section) in (0..lines).zip(&self.sections) {
            listed(section, (n + 1) * ROW, &mut svg);
        }
        svg.push_str("</g></svg>\n");
        svg
    }

    /// Everything on the map in words.
    fn summary(&self) -> String {
        let told = |s: &MapSection| format!("{} {}: {}", s.label, s.name, s.told);
        self.sections.iter().map(told).collect::<Vec<_>>().join("; ")
    }

    fn view(&self, view: &MapView, x: i64, y: i64, svg: &mut String) {
        put(
            svg,
            format_args!(
                "<g transform=\"translate({x} {y})\"><text x=\"{}\" y=\"180\" text-anchor=\"middle\">{}</text>\
             <g transform=\"translate(0 {HEADING})\"><path d=\"{}\" fill=\"#fff\" stroke=\"#000\" stroke-width=\"24\"/>",
                self.width / 2,
                escaped(&view.title, LONGEST),
                view.outline,
            ),
        );
        for feature in &view.features {
            put(
                svg,
                format_args!("<path d=\"{feature}\" fill=\"none\" stroke=\"#000\" stroke-width=\"12\"/>"),
            );
        }
        for shape in &view.shapes {
            if let Some(section) = self.section(&shape.id) {
                drawn(shape, section, svg);
            }
        }
        svg.push_str("</g></g>");
    }
}

/// How a state looks: fill, width of the border, dashes of it.
fn look(now: SectionNow) -> (&'static str, u8, &'static str) {
    match now {
        SectionNow::Planned => ("#fff", 12, " stroke-dasharray=\"60 40\""),
        SectionNow::OnHair { over: false, .. } => ("url(#tc-on)", 28, ""),
        SectionNow::OnHair { over: true, .. } => ("url(#tc-over)", 56, ""),
        SectionNow::Rinsed => ("url(#tc-rinsed)", 12, ""),
        SectionNow::LeftOut => ("url(#tc-out)", 8, " stroke-dasharray=\"10 40\""),
    }
}

fn word(now: SectionNow) -> &'static str {
    match now {
        SectionNow::Planned => "planned",
        SectionNow::OnHair { over: false, .. } => "on-hair",
        SectionNow::OnHair { over: true, .. } => "over",
        SectionNow::Rinsed => "rinsed",
        SectionNow::LeftOut => "left-out",
    }
}

fn drawn(shape: &MapShape, section: &MapSection, svg: &mut String) {
    let (fill, border, dashes) = look(section.now);
    put(
        svg,
        format_args!(
            "<g data-section=\"{}\" data-state=\"{}\"><title>{}</title>\
         <path d=\"{}\" fill=\"{fill}\" stroke=\"#000\" stroke-width=\"{border}\"{dashes}/>",
            escaped(section.id.as_str(), LONGEST),
            word(section.now),
            escaped(&described(section), usize::MAX),
            shape.path,
        ),
    );
    for drawn in shape.mark.iter().chain(&shape.arrow) {
        put(svg, format_args!("<path d=\"{drawn}\" fill=\"none\" stroke=\"#000\" stroke-width=\"14\"/>"));
    }
    let (x, y) = shape.at;
    let size = (shape.room * 3 / 4).clamp(70, 170);
    // A white edge around the letters keeps them readable on any pattern.
    let text = |y: i64, size: i64, words: &str, svg: &mut String| {
        put(
            svg,
            format_args!(
                "<text x=\"{x}\" y=\"{y}\" font-size=\"{size}\" text-anchor=\"middle\" font-weight=\"bold\" stroke=\"#fff\" \
             stroke-width=\"40\" paint-order=\"stroke\">{}</text>",
                escaped(words, 12),
            ),
        );
    };
    let asks = if section.asks { "?" } else { "" };
    text(y, size, &format!("{}{asks}", section.label), svg);
    let short = section.now.short();
    if !short.is_empty() {
        text(y + size, size * 3 / 4, &short, svg);
    }
    svg.push_str("</g>");
}

/// A line of the list: the same pattern as on the head, then everything in words.
fn listed(section: &MapSection, y: i64, svg: &mut String) {
    let (fill, border, dashes) = look(section.now);
    put(
        svg,
        format_args!(
            "<rect y=\"{}\" width=\"260\" height=\"170\" fill=\"{fill}\" stroke=\"#000\" stroke-width=\"{border}\"{dashes}/>\
         <text x=\"330\" y=\"{y}\">{}</text>",
            y - 150,
            escaped(&described(section), LONGEST),
        ),
    );
}

/// A section in words.
fn described(section: &MapSection) -> String {
    let strokes = section.strokes.map(|s| s.to_string()).unwrap_or_default();
    let asks = if section.asks { "people noted it differently: settle it" } else { "" };
    let area = if section.area == section.name { "" } else { section.area.as_str() };
    let parts =
        [section.name.as_str(), &section.told, asks, area, &section.shape, &section.direction, &strokes];
    let parts: Vec<&str> = parts.into_iter().filter(|p| !p.is_empty()).collect();
    format!("{} · {}", section.label, parts.join(" · "))
}

/// A text with nothing in it that markup could be made of, at most so many characters long. What XML cannot hold, and
/// what would turn the direction of the writing around, is shown as a replacement character.
fn escaped(text: &str, longest: usize) -> String {
    let mut out = String::with_capacity(text.len());
    for (n, c) in text.chars().enumerate() {
        if n >= longest {
            out.push('…');
            break;
        }
        if let Some(entity) = entity(c) {
            out.push_str(entity);
            continue;
        }
        match c {
            '\t' | '\n' | '\r' => out.push(' '),
            c if c.is_control() || is_hidden(c) => out.push('\u{fffd}'),
            c => out.push(c),
        }
    }
    out
}

/// What XML 1.0 has no place for (section 2.2), and marks that reorder what is beside them (Unicode, UAX 9).
fn is_hidden(c: char) -> bool {
    matches!(c, '\u{fffe}' | '\u{ffff}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{200e}' | '\u{200f}' | '\u{61c}')
}

fn put(svg: &mut String, words: std::fmt::Arguments<'_>) {
    // Writing to a text does not fail.
    let _ = svg.write_fmt(words);
}
