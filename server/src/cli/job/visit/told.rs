//! The parts of a visit in lines: targets, formulas, results and what comes after.

use tailcomb_core::record::visit::{
    FORMULA, FinishKind, FormulaView, LINE, Line, LineRole, PhotoOf, Target, VisitView, ZoneResult,
};
use tailcomb_core::station::short;
use tailcomb_core::trade::Grams;
use tailcomb_core::trade::mix::Share;

use super::super::remark;
use super::super::say::{self, Names};

pub(super) fn told_target(target: &Target) -> String {
    let level = target.level_tenths.map(|l| format!("level {}", say::level(l))).unwrap_or_default();
    let parts = [target.zone.as_str(), &level, &target.tone, &target.note];
    parts.into_iter().filter(|p| !p.is_empty()).collect::<Vec<_>>().join(", ")
}

pub(super) fn told_result(result: &ZoneResult, names: &Names) -> String {
    let level = result.level_tenths.map(|l| format!("level {}", say::level(l))).unwrap_or_default();
    let line =
        result.line_um.map(|um| format!("line at {} from the scalp", names.length(um))).unwrap_or_default();
    let parts = [result.zone.as_str(), &level, &result.tone, &result.condition, &line, &result.note];
    parts.into_iter().filter(|p| !p.is_empty()).collect::<Vec<_>>().join(", ")
}

/// Results, finishes and notes of a visit.
pub(in crate::cli::job) fn results(view: &VisitView, names: &Names) -> Vec<String> {
    let results =
        view.results.iter().flat_map(|r| r.values().map(|v| format!("  result: {}", told_result(v, names))));
    let finishes = view.finishes.iter().flat_map(|f| {
        f.values().map(|v| {
            let kind = match v.kind {
                FinishKind::Gloss => "gloss",
                FinishKind::Treatment => "treatment",
            };
            let length = v.length.map(|l| format!(", {l}")).unwrap_or_default();
            format!("  {kind}: {}{length}", v.product)
        })
    });
    let notes =
        view.notes.iter().flat_map(|n| n.values().map(|v| format!("  {}: {}", v.topic.name(), v.text)));
    let photos = view.photos.iter().flat_map(|p| {
        p.values().map(|v| {
            let when = match v.of {
                PhotoOf::Before => "before",
                PhotoOf::During => "during",
                PhotoOf::After => "after",
            };
            format!("  photograph {when}: {} {}", v.sha256.get(..12).unwrap_or(&v.sha256), v.note)
        })
    });
    let after = view.after.iter().flat_map(|a| a.values().map(|v| format!("  {}", names.after(v))));
    results.chain(finishes).chain(notes).chain(photos).chain(after).collect()
}

/// "20.0 g" or "1.5 parts".
fn share(share: Share, names: &Names) -> String {
    match share {
        Share::Grams(grams) => names.weight(grams),
        Share::Milliparts(1000) => "1 part".to_owned(),
        // Thousandths of a part are written as thousandths of a gram are, without the unit.
        Share::Milliparts(milli) => match Grams::from_milligrams(milli) {
            Ok(grams) => grams.exact().replace(".0 g", " parts").replace(" g", " parts"),
            Err(_) => format!("{milli}/1000 parts"),
        },
    }
}

pub(in crate::cli::job) fn told_line(line: &Line, names: &Names) -> String {
    let strength = line.strength.map(|s| format!(" {s}")).unwrap_or_default();
    let role = if line.role == LineRole::Additive { ", on top" } else { "" };
    format!("{}{strength}, {}{role}", line.name, share(line.share, names))
}

/// A formula with its lines, everything that people noted differently side by side, and remarks beside what they are
/// about.
pub(in crate::cli::job) fn formula_lines(formula: &FormulaView, view: &VisitView, names: &Names) -> String {
    let head: Vec<String> = formula
        .formula
        .values()
        .map(|f| {
            let ratio = f.ratio.map(|r| format!("{r}")).unwrap_or_default();
            let developer = f.developer.map(|d| format!("developer {d}")).unwrap_or_default();
            let longest = f.longest.map(|l| format!("at most {l} on the hair")).unwrap_or_default();
            let life = f.working_life.map(|l| format!("works {l} once mixed")).unwrap_or_default();
            let parts = [f.title.as_str(), &ratio, &developer, &longest, &life, &f.note];
            parts.into_iter().filter(|p| !p.is_empty()).collect::<Vec<_>>().join(", ")
        })
        .collect();
    let mut lines = vec![
        format!("  {}  {}", short(formula.formula.id.as_str()), head.join("  |  ")),
        remark::beside(view, names, FORMULA, &formula.formula.id, 4),
    ];
    for line in &formula.lines {
        let all: Vec<String> = line.values().map(|l| told_line(l, names)).collect();
        let asks = if line.is_contested() { "  (asks to be settled)" } else { "" };
        lines.push(format!("    {}  {}{asks}", short(line.id.as_str()), all.join("  |  ")));
        lines.push(remark::beside(view, names, LINE, &line.id, 8));
    }
    say::lines(lines)
}
