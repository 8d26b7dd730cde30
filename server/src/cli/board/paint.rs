//! Paints a board as lines of text that fit a width.

use tailcomb_core::trade::Millis;

use super::{Board, BoardQuestion, BoardTest, BoardTimer, BoardVisit, Standing};

/// Bold.
const BOLD: &str = "\u{1b}[1m";
/// Black on red: an alarm. The word and the mark beside it say the same.
const ALARM: &str = "\u{1b}[1;97;41m";
/// Black on yellow: a look, a question.
const ATTENTION: &str = "\u{1b}[1;30;43m";
/// Back to normal.
const PLAIN: &str = "\u{1b}[0m";

impl Standing {
    /// A mark and a word, so that neither colour nor sound is needed to tell.
    fn said(self) -> &'static str {
        match self {
            Self::Ringing => "[!] RINGING",
            Self::Look => "[?] LOOK NOW",
            Self::Silenced => "[-] silenced",
            Self::Running => "[>] running",
            Self::Paused => "[=] paused",
            Self::Unreadable => "[x] update",
        }
    }

    fn colour(self) -> Option<&'static str> {
        match self {
            Self::Ringing => Some(ALARM),
            Self::Look | Self::Unreadable => Some(ATTENTION),
            Self::Silenced | Self::Running | Self::Paused => None,
        }
    }
}

impl Board {
    /// As lines of at most `width` characters.
    #[must_use]
    pub fn paint(&self, width: usize, colour: bool) -> Vec<String> {
        let brush = Brush { width, colour };
        let mut lines = Vec::new();
        let person = self.person.as_deref().unwrap_or("nobody signed in");
        let title = format!("{} · {} · {person}", self.salon, self.station);
        lines.push(brush.colour(BOLD, &brush.both_ends(&title, &self.clock)));
        lines.extend(brush.wrap("", &self.status));
        if self.day_closed {
            lines.push(brush.clip(&format!("{} is closed", self.date)));
        }
        lines.push(String::new());
        brush.timers(&self.timers, &mut lines);
        brush.visits(&self.visits, &mut lines);
        brush.tests(&self.tests, &mut lines);
        brush.questions(&self.questions, &mut lines);
        for caution in &self.cautions {
            lines.extend(brush.wrap("  ", caution));
        }
        while lines.last().is_some_and(String::is_empty) {
            lines.pop();
        }
        lines
    }
}

struct Brush {
    width: usize,
    colour: bool,
}

impl Brush {
    fn colour(&self, colour: &str, text: &str) -> String {
        if self.colour { format!("{colour}{text}{PLAIN}") } else { text.to_owned() }
    }

    fn clip(&self, text: &str) -> String {
        if text.chars().count() <= self.width {
            return text.to_owned();
        }
        let kept: String = text.chars().take(self.width.saturating_sub(1)).collect();
        format!("{kept}…")
    }

    fn both_ends(&self, left: &str, right: &str) -> String {
        let room = self.width.saturating_sub(right.chars().count() + 1);
        let left = Brush { width: room, colour: false }.clip(left);
        format!("{left:<room$} {right}")
    }

    /// Broken at spaces; the following lines are indented by two more.
    fn wrap(&self, indent: &str, text: &str) -> Vec<String> {
        let mut lines = Vec::new();
        let mut line = indent.to_owned();
        let mut empty = true;
        for word in text.split_whitespace() {
            if !empty && line.chars().count() + 1 + word.chars().count() > self.width {
                lines.push(std::mem::replace(&mut line, format!("{indent}  ")));
                empty = true;
            }
            if !empty {
                line.push(' ');
            }
            line.push_str(word);
            empty = false;
        }
        lines.push(line);
        lines.iter().map(|line| self.clip(line)).collect()
    }

    fn heading(&self, text: &str, lines: &mut Vec<String>) {
        lines.push(self.colour(BOLD, &self.clip(text)));
    }

    fn timers(&self, timers: &[BoardTimer], lines: &mut Vec<String>) {
        self.heading("TIMERS", lines);
        if timers.is_empty() {
            lines.push("  none running".to_owned());
        }
        for timer in timers {
            let time = match timer.remaining_ms {
                Some(ms) if ms < 0 => format!("over {}", Millis::new(ms.saturating_neg())),
                Some(ms) => Millis::new(ms).to_string(),
                None => "-".to_owned(),
            };
            let due = timer.due.as_deref().map(|due| format!("due {due}")).unwrap_or_default();
            let what = if timer.label.is_empty() { timer.kind.as_str() } else { timer.label.as_str() };
            let whose = timer.client.as_deref().map(|c| format!("{c}: ")).unwrap_or_default();
            let held = timer.held_by.join(" + ");
            let line =
                format!("  {:<12}  {time:>10}  {due:<9}  {whose}{what} ({held})", timer.standing.said());
            let line = self.clip(&line);
            lines.push(match timer.standing.colour() {
                Some(colour) => self.colour(colour, &line),
                None => line,
            });
            let mut more = Vec::new();
            let sections = timer.sections.join(", ");
            if !sections.is_empty() && sections != timer.label {
                more.push(sections);
            }
            if let Some(ms) = timer.look_in_ms {
                more.push(format!("look at a strand in {}", Millis::new(ms)));
            }
            if timer.asks {
                more.push("people set it differently: it rings at the earliest; settle it".to_owned());
            }
            if timer.within_ms.is_none() {
                more.push("set by a clock that was never compared with the others".to_owned());
            }
            if !more.is_empty() {
                lines.extend(self.wrap("                ", &more.join(" · ")));
            }
        }
        lines.push(String::new());
    }

    fn visits(&self, visits: &[BoardVisit], lines: &mut Vec<String>) {
        self.heading("CLIENTS", lines);
        if visits.is_empty() {
            lines.push("  nobody is here".to_owned());
        }
        let room = visits.iter().map(|v| v.client.chars().count()).max().unwrap_or(0);
        for visit in visits {
            let held = match visit.held_by.as_slice() {
                [] => "held by nobody".to_owned(),
                [one] => format!("held by {one}"),
                several => format!("[?] HELD BY {}: one of them takes the client", several.join(" + ")),
            };
            let offered = if visit.offered_to.is_empty() {
                String::new()
            } else {
                format!(", offered to {}", visit.offered_to.join(" + "))
            };
            let line = self.clip(&format!("  {:<room$}  {held}{offered}", visit.client));
            let contested = visit.held_by.len() > 1;
            lines.push(if contested { self.colour(ATTENTION, &line) } else { line });
            let mut more = Vec::new();
            if !visit.service.is_empty() {
                more.push(visit.service.clone());
            }
            more.push(visit.stage.clone());
            if visit.on_hair > 0 {
                let plural = if visit.on_hair == 1 { "section" } else { "sections" };
                more.push(format!("product on {} {plural}", visit.on_hair));
            }
            if let Some(ms) = visit.oldest_ms {
                more.push(format!("oldest {}", Millis::new(ms)));
            }
            match visit.longest_left_ms {
                Some(ms) if ms < 0 => {
                    more.push(format!(
                        "[!] PAST THE MAKER'S LONGEST TIME by {}",
                        Millis::new(ms.saturating_neg())
                    ));
                }
                Some(ms) => more.push(format!("maker's longest time in {}", Millis::new(ms))),
                None => {}
            }
            more.extend(visit.countersign.clone());
            if !more.is_empty() {
                lines.extend(self.wrap(&" ".repeat(room + 4), &more.join(" · ")));
            }
        }
        lines.push(String::new());
    }

    fn tests(&self, tests: &[BoardTest], lines: &mut Vec<String>) {
        if tests.is_empty() {
            return;
        }
        self.heading("ALERT TESTS", lines);
        for test in tests {
            let (mark, when) =
                if test.due { ("[?] READ NOW", "since") } else { ("[>] waiting", "not before") };
            let line = format!("  {mark:<12}  {when} {}  {}: {}", test.readable, test.client, test.product);
            let line = self.clip(&line);
            lines.push(if test.due { self.colour(ATTENTION, &line) } else { line });
        }
        lines.push(String::new());
    }

    fn questions(&self, questions: &[BoardQuestion], lines: &mut Vec<String>) {
        if questions.is_empty() {
            return;
        }
        self.heading("TO BE SETTLED (tailcomb settle MARK NUMBER)", lines);
        for question in questions {
            let whose = question.client.as_deref().map(|c| format!("{c}: ")).unwrap_or_default();
            let mark = &question.mark;
            lines.push(
                self.colour(ATTENTION, &self.clip(&format!("  [?] {mark}  {whose}{}", question.about))),
            );
            for (place, side) in question.sides.iter().enumerate() {
                lines.extend(self.wrap("        ", &format!("{} {side}", place + 1)));
            }
        }
        lines.push(String::new());
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn timer(standing: Standing, remaining_ms: Option<i64>) -> BoardTimer {
        BoardTimer {
            timer: "k7dq2abcde".to_owned(),
            doc: "visit/abc".to_owned(),
            standing,
            kind: "processing".to_owned(),
            label: "regrowth tint".to_owned(),
            client: Some("Rosa Vale".to_owned()),
            sections: vec!["nape".to_owned(), "crown".to_owned()],
            held_by: vec!["Mara Quill".to_owned()],
            remaining_ms,
            due_ms: Some(1_000),
            due: Some("14:35".to_owned()),
            look_in_ms: None,
            within_ms: Some(20),
            asks: false,
        }
    }

    fn board() -> Board {
        Board {
            salon: "Alderlight Colour Room".to_owned(),
            station: "chair 2".to_owned(),
            person: Some("Mara Quill".to_owned()),
            at_ms: 0,
            clock: "14:02:31".to_owned(),
            date: "2026-03-03".to_owned(),
            day_closed: false,
            timers: vec![
                timer(Standing::Ringing, Some(-42_000)),
                BoardTimer {
                    asks: true,
                    look_in_ms: Some(60_000),
                    ..timer(Standing::Running, Some(1_264_000))
                },
                timer(Standing::Silenced, Some(-1_000)),
            ],
            visits: vec![BoardVisit {
                visit: "visit/abc".to_owned(),
                client: "Rosa Vale".to_owned(),
                service: "regrowth tint".to_owned(),
                stage: "on the hair".to_owned(),
                held_by: vec!["Mara Quill".to_owned(), "Teo Lind".to_owned()],
                offered_to: Vec::new(),
                on_hair: 3,
                oldest_ms: Some(1_000_000),
                longest_left_ms: Some(-5_000),
                countersign: None,
            }],
            tests: vec![BoardTest {
                client: "Ivo Brandt".to_owned(),
                product: "copper 7".to_owned(),
                readable: "Thu 05 Mar 14:00".to_owned(),
                due: false,
            }],
            questions: vec![BoardQuestion {
                mark: "q1a2b3".to_owned(),
                doc: "visit/abc".to_owned(),
                client: Some("Rosa Vale".to_owned()),
                about: "regrowth tint".to_owned(),
                sides: vec!["Mara Quill: 5 minutes more".to_owned(), "Teo Lind: stopped it".to_owned()],
            }],
            status: "All saved here · 3 not sent yet · last met the others 14:02".to_owned(),
            cautions: vec!["Follow the maker's label.".to_owned()],
        }
    }

    #[test]
    fn an_alarm_is_told_by_mark_and_word_without_any_colour() {
        let text = board().paint(80, false).join("\n");
        assert!(!text.contains('\u{1b}'));
        assert!(text.contains("[!] RINGING   over 00:42"), "{text}");
        assert!(text.contains("[>] running        21:04  due 14:35"), "{text}");
        assert!(text.contains("[-] silenced"), "{text}");
        assert!(text.contains("HELD BY Mara Quill + Teo Lind"), "{text}");
        assert!(text.contains("PAST THE MAKER'S LONGEST TIME"), "{text}");
        assert!(text.contains("1 Mara Quill: 5 minutes more") && text.contains("2 Teo Lind: stopped it"));
        assert!(text.contains("[?] q1a2b3  Rosa Vale: regrowth tint"), "what one types to settle it: {text}");
        assert!(text.contains("3 not sent yet") && text.contains("maker's label"));
        assert!(!text.to_lowercase().contains("safe"));
    }

    #[test]
    fn no_line_is_wider_than_the_terminal_at_any_width() {
        for width in 20..140 {
            for line in board().paint(width, false) {
                assert!(line.chars().count() <= width, "{width}: {line}");
            }
        }
    }

    #[test]
    fn colour_says_nothing_that_the_words_do_not() {
        let coloured = board().paint(80, true).join("\n");
        assert!(coloured.contains(ALARM));
        let mut stripped = coloured;
        for code in [ALARM, ATTENTION, BOLD, PLAIN] {
            stripped = stripped.replace(code, "");
        }
        assert_eq!(stripped, board().paint(80, false).join("\n"));
    }

    #[test]
    fn an_empty_floor_says_so() {
        let none = Board { timers: vec![], visits: vec![], tests: vec![], ..board() };
        let empty = Board { questions: vec![], cautions: vec![], ..none };
        let text = empty.paint(80, false).join("\n");
        assert!(text.contains("none running") && text.contains("nobody is here"));
        assert!(!text.contains("TO BE SETTLED"));
    }
}
