//! The one screen for whoever takes a client over: 80 columns by 24 lines, or what the terminal has. What to watch and
//! the cautions are never cut, whatever else must give way; what is cut says how much there is more, and where.

use clap::Args;
use tailcomb_core::ids::DocId;
use tailcomb_core::record::timer::TimerState;
use tailcomb_core::record::visit::{BowlState, VisitState, VisitView};
use tailcomb_core::station::{Asked, Briefing, Station, short};
use tailcomb_core::trade::Millis;

use super::super::error::CliError;
use super::super::output::{Output, aligned};
use super::say::{self, Names};
use super::stops;
use tailcomb_core::trade::Told;

/// How large the screen is.
#[derive(Debug, Clone, Copy, Args)]
pub struct Size {
    /// So many characters wide.
    #[arg(long, default_value_t = 80, value_parser = clap::value_parser!(u16).range(40..=400))]
    pub width: u16,
    /// So many lines high; what to watch is never cut.
    #[arg(long, default_value_t = 24, value_parser = clap::value_parser!(u16).range(10..=400))]
    pub height: u16,
}

impl Default for Size {
    fn default() -> Self {
        Self { width: 80, height: 24 }
    }
}

/// `tailcomb brief`
pub(super) fn brief(station: &mut Station, visit: &DocId, size: Size) -> Result<Output, CliError> {
    let briefing = station.brief(visit)?;
    answer(station, visit, briefing, size)
}

/// The screen with its JSON.
pub(super) fn answer(
    station: &mut Station,
    visit: &DocId,
    briefing: Briefing,
    size: Size,
) -> Result<Output, CliError> {
    let view = station.visit(visit)?;
    let names = Names::of(station)?;
    let asked = station.questions_in(visit)?;
    let blocks = blocks(&briefing, &view, &asked, &names);
    let human = fit(blocks, usize::from(size.width), usize::from(size.height)).join("\n");
    Ok(Output::new(human, say::to_value(briefing)))
}

/// Lines under one label.
struct Block {
    label: &'static str,
    lines: Vec<String>,
    /// At least so many stay when the screen is too small.
    least: usize,
    /// Where the rest is told.
    more: String,
    /// Cut later the higher it is; [`KEPT`]: never, and wrapped instead of clipped.
    weight: u8,
}

const KEPT: u8 = u8::MAX;

fn blocks(briefing: &Briefing, view: &VisitView, asked: &[Asked], names: &Names) -> Vec<Block> {
    let brief = &briefing.brief;
    let name =
        briefing.client_name.clone().unwrap_or_else(|| "a client whose card has not arrived".to_owned());
    let state = match &view.state {
        VisitState::Open => "",
        VisitState::Closed => ", closed",
        VisitState::NotOpened => ", not opened",
        VisitState::Asks { .. } => ", asks whether it is closed",
    };
    let id = short(view.doc.as_str());
    let holders = names.people(brief.holders.now.iter().map(|h| &h.person));
    let offered: Vec<String> = brief.holders.offered_to().map(|p| names.person(p)).collect();
    let offered =
        if offered.is_empty() { String::new() } else { format!(", offered to {}", offered.join(" and ")) };
    let head = vec![format!("{name}: {}{state} ({id})", brief.service), format!("with {holders}{offered}")];
    let mut watch: Vec<String> = briefing.card_to_watch().map(|w| format!("! {}", w.text)).collect();
    watch.extend(stops::against(&briefing.stop, &brief.overrides, names).iter().map(|t| t.trim().to_owned()));
    watch.extend(briefing.hair.iter().map(|w| format!("! {}", w.text)));
    let stopped = |text: &Told| briefing.stop.against.iter().any(|a| a.text == *text);
    let verdict = briefing.alert_test.iter().map(|v| &v.text).filter(|text| !stopped(text));
    watch.extend(verdict.map(|text| format!("! {text}")));
    watch.extend(briefing.lacks.iter().map(|lack| {
        format!("! an associate's work waits for a trainer's countersign: {}", lack.what_to_do())
    }));
    watch.extend(brief.watch.iter().map(|w| format!("! {}", w.text)));
    if brief.newer > 0 {
        watch.push(format!(
            "! {} steps were written by a newer version: look at that station too",
            brief.newer
        ));
    }
    let mut all = vec![
        Block { label: "", lines: head, least: 2, more: String::new(), weight: KEPT },
        Block { label: "watch", lines: watch, least: 0, more: String::new(), weight: KEPT },
        Block {
            label: "on hair",
            lines: on_hair(briefing, names),
            least: 3,
            more: format!("tailcomb section list {id}"),
            weight: 9,
        },
        Block {
            label: "timers",
            lines: unusual_timers(briefing, view, names),
            least: 2,
            more: "tailcomb timer list".to_owned(),
            weight: 8,
        },
        Block {
            label: "next",
            lines: brief.next.iter().map(|r| names.reminder(r, view)).collect(),
            least: 2,
            more: "tailcomb timer list".to_owned(),
            weight: 7,
        },
        Block { label: "to do", lines: list(&brief.to_do), least: 1, more: String::new(), weight: 6 },
        Block {
            label: "settle",
            lines: asked.iter().map(|q| question(q, names)).collect(),
            least: 1,
            more: format!("tailcomb questions visit {id}"),
            weight: 5,
        },
        Block {
            label: "bowls",
            lines: bowls(briefing, view, names),
            least: 1,
            more: format!("tailcomb bowl list {id}"),
            weight: 4,
        },
        Block { label: "done", lines: done(briefing), least: 0, more: String::new(), weight: 3 },
        Block {
            label: "goal",
            lines: brief.goal.iter().map(|g| format!("“{g}”")).collect(),
            least: 0,
            more: format!("tailcomb visit show {id}"),
            weight: 2,
        },
        Block {
            label: "remarks",
            lines: remarks(view, names),
            least: 0,
            more: format!("tailcomb remark list {id}"),
            weight: 1,
        },
    ];
    let cautions = brief.cautions.iter().map(|c| format!("! {c}")).collect();
    all.push(Block { label: "", lines: cautions, least: 0, more: String::new(), weight: KEPT });
    all
}

fn list(names: &[String]) -> Vec<String> {
    if names.is_empty() { Vec::new() } else { vec![names.join(", ")] }
}

fn done(briefing: &Briefing) -> Vec<String> {
    let told = |what: &str, names: &[String]| {
        if names.is_empty() { None } else { Some(format!("{what} {}", names.join(", "))) }
    };
    let (rinsed, left_out) =
        (told("rinsed:", &briefing.brief.rinsed), told("left out:", &briefing.brief.left_out));
    let parts: Vec<String> = rinsed.into_iter().chain(left_out).collect();
    if parts.is_empty() { parts } else { vec![parts.join("; ")] }
}

/// Oldest first: that is what must come off first.
fn on_hair(briefing: &Briefing, names: &Names) -> Vec<String> {
    let brief = &briefing.brief;
    let rows: Vec<Vec<String>> = brief
        .on_hair
        .iter()
        .map(|s| {
            let left = match s.longest_left_ms {
                Some(ms) if ms < 0 => format!("OVER the longest by {}", Millis::new(-ms)),
                Some(ms) => format!("{} to the longest", Millis::new(ms)),
                None => String::new(),
            };
            let asks = if s.asks { "asks to be settled" } else { "" };
            vec![
                s.name.clone(),
                format!("on for {} since {}", Millis::new(s.elapsed_ms), names.clock(s.since.ms)),
                say::several(&s.bowls),
                left,
                asks.to_owned(),
            ]
        })
        .collect();
    let mut lines: Vec<String> =
        aligned(0, &rows).lines().filter(|l| !l.is_empty()).map(str::to_owned).collect();
    if brief.on_hair.len() > 1
        && let Some(first) = lines.first_mut()
    {
        first.push_str(&format!("  (spread {})", Millis::new(brief.spread_ms)));
    }
    lines
}

/// Timers that run as they should are among what comes next; these ring, stand still or ask.
fn unusual_timers(briefing: &Briefing, view: &VisitView, names: &Names) -> Vec<String> {
    let rows: Vec<Vec<String>> = briefing
        .brief
        .timers
        .iter()
        .filter(|t| t.now.state != TimerState::Running || t.now.asks)
        .filter_map(|t| view.timer(&t.timer))
        .map(|t| names.timer(t))
        .collect();
    aligned(0, &rows).lines().filter(|l| !l.is_empty()).map(str::to_owned).collect()
}

fn bowls(briefing: &Briefing, view: &VisitView, names: &Names) -> Vec<String> {
    let bowls = briefing.brief.bowls.iter();
    // What is in use first: that is what may still be painted from.
    let mut order: Vec<_> = bowls.collect();
    order.sort_by_key(|b| b.state != BowlState::InUse);
    let line = |b: &&tailcomb_core::record::visit::BriefBowl| {
        let life = match (b.state, b.life_left_ms) {
            (BowlState::InUse, Some(ms)) if ms < 0 => format!(", working life OVER by {}", Millis::new(-ms)),
            (BowlState::InUse, Some(ms)) => format!(", works {} more", Millis::new(ms)),
            _ => String::new(),
        };
        let on_head = b.on_head.map(|p| format!(", {p} ready for use")).unwrap_or_default();
        let made =
            view.bowl(&b.bowl).and_then(|v| v.contents()).map(|c| names.contents(c)).unwrap_or_default();
        format!("{} {}{life}{on_head}: {made}", b.label, say::bowl_state(b.state))
    };
    order.iter().map(line).collect()
}

fn question(asked: &Asked, names: &Names) -> String {
    let sides: Vec<String> = asked
        .choices
        .iter()
        .map(|c| match &c.by {
            Some(by) => format!("{}: {}", names.person(by), c.text),
            None => c.text.to_string(),
        })
        .collect();
    format!("{} {}: {}", asked.mark(), asked.place, sides.join(" | "))
}

fn remarks(view: &VisitView, names: &Names) -> Vec<String> {
    let said = view.remarks.iter().rev().flat_map(|r| &r.said.versions);
    said.map(|v| format!("{} ({})", v.value.text, names.person(&v.by))).collect()
}

/// The room of the labels and the space after them.
const LABEL: usize = 9;

/// Lays the blocks out within `width`, and within `height` as far as what must be told leaves room.
fn fit(blocks: Vec<Block>, width: usize, height: usize) -> Vec<String> {
    let mut laid: Vec<(Block, Vec<String>, usize)> = blocks
        .into_iter()
        .map(|block| {
            let indent = if block.label.is_empty() { 0 } else { LABEL };
            let room = width.saturating_sub(indent);
            let lines: Vec<String> = if block.weight == KEPT {
                block.lines.iter().flat_map(|l| wrap(l, room)).collect()
            } else {
                block.lines.clone()
            };
            let shown = lines.len();
            (block, lines, shown)
        })
        .collect();
    // One line less each time, from the lightest block that has lines to spare.
    while laid.iter().map(|(_, _, shown)| shown).sum::<usize>() > height {
        let spare = |(block, _, shown): &&mut (Block, Vec<String>, usize)| {
            block.weight != KEPT && *shown > block.least
        };
        let Some(lightest) = laid.iter_mut().filter(spare).min_by_key(|(block, _, _)| block.weight) else {
            break;
        };
        lightest.2 -= 1;
    }
    let mut all = Vec::new();
    for (block, lines, shown) in &laid {
        let indent = if block.label.is_empty() { 0 } else { LABEL };
        for (place, line) in lines.iter().take(*shown).enumerate() {
            let label = if place == 0 { block.label } else { "" };
            let hidden = lines.len() - shown;
            let text = if hidden > 0 && place + 1 == *shown {
                more(line, hidden, &block.more, width.saturating_sub(indent))
            } else {
                clip(line, width.saturating_sub(indent))
            };
            all.push(format!("{label:<indent$}{text}"));
        }
    }
    all
}

/// The last line that is shown, with how many are not.
fn more(line: &str, hidden: usize, place: &str, room: usize) -> String {
    let place = if place.is_empty() { String::new() } else { format!(": {place}") };
    let told = format!(" … {hidden} more{place}");
    let left = room.saturating_sub(told.chars().count());
    clip(&format!("{}{told}", clip(line, left)), room)
}

fn clip(text: &str, room: usize) -> String {
    if text.chars().count() <= room {
        return text.to_owned();
    }
    let kept: String = text.chars().take(room.saturating_sub(1)).collect();
    format!("{kept}…")
}

/// Broken at spaces; a word that is longer than a line is broken where the line ends. Following lines are indented.
fn wrap(text: &str, room: usize) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = String::new();
    for word in text.split_whitespace() {
        let mut rest: Vec<char> = word.chars().collect();
        if line.trim().is_empty() {
        } else if line.chars().count() + 1 + rest.len() <= room {
            line.push(' ');
        } else {
            lines.push(std::mem::replace(&mut line, "  ".to_owned()));
        }
        while line.chars().count() + rest.len() > room && room > 4 {
            let fits = room - line.chars().count();
            line.extend(rest.drain(..fits));
            lines.push(std::mem::replace(&mut line, "  ".to_owned()));
        }
        line.extend(rest);
    }
    lines.push(line);
    lines
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn block(label: &'static str, lines: usize, least: usize, weight: u8) -> Block {
        let lines = (0..lines).map(|n| format!("{label} number {n} with some words to it")).collect();
        Block { label, lines, least, more: "tailcomb timer list".to_owned(), weight }
    }

    #[test]
    fn what_gives_way_is_the_lightest_and_it_says_how_much_is_missing() {
        let all = vec![block("watch", 3, 0, KEPT), block("next", 6, 2, 7), block("bowls", 4, 1, 4)];
        let screen = fit(all, 80, 8);
        assert_eq!(screen.len(), 8);
        assert_eq!(screen.iter().filter(|l| l.contains("watch number")).count(), 3);
        assert_eq!(screen.iter().filter(|l| l.contains("bowls number")).count(), 1, "{screen:?}");
        assert!(screen[7].contains("… 3 more: tailcomb timer list"), "{screen:?}");
        assert!(screen[6].contains("… 2 more"), "{screen:?}");
    }

    #[test]
    fn a_short_screen_cuts_no_word_of_what_to_watch() {
        let text =
            "! PPD: severe reaction, swelling of the whole face and neck within the hour, hospital, twice";
        let watch = Block {
            label: "watch",
            lines: vec![text.to_owned(); 30],
            least: 0,
            more: String::new(),
            weight: KEPT,
        };
        let screen = fit(vec![watch, block("next", 5, 2, 7)], 60, 24);
        let words: String = screen.join(" ").split_whitespace().collect::<Vec<_>>().join(" ");
        assert_eq!(words.matches("hospital, twice").count(), 30);
        assert!(screen.iter().all(|l| l.chars().count() <= 60));
    }

    proptest! {
        #[test]
        fn every_line_fits_and_so_do_all_where_what_must_be_told_leaves_room(
            watch in proptest::collection::vec("[a-zé ]{0,200}", 0..4),
            counts in proptest::collection::vec(0_usize..20, 4),
            width in 40_usize..120,
            height in 10_usize..60,
        ) {
            let kept: usize = watch.iter().map(|w| wrap(w, width - LABEL).len()).sum();
            let mut all = vec![Block {
                label: "watch", lines: watch, least: 0, more: String::new(), weight: KEPT,
            }];
            for (place, count) in counts.iter().enumerate() {
                let weight = u8::try_from(place).unwrap() + 1;
                all.push(block(["one", "two", "three", "four"][place], *count, 1, weight));
            }
            let screen = fit(all, width, height);
            prop_assert!(screen.iter().all(|l| l.chars().count() <= width), "{screen:?}");
            prop_assert!(screen.len() <= height.max(kept + 4), "{} lines", screen.len());
        }
    }
}
