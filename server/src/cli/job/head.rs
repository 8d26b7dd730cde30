//! The head: its section map, what goes on which section, the looks in between, the rinse.

use clap::{Args, Subcommand, ValueEnum};
use serde_json::json;
use tailcomb_core::record::visit::{Check, Feel, Section, SectionView, StrokeKind, Strokes};
use tailcomb_core::station::{PaintTimer, Station, cautions, short};
use tailcomb_core::trade::Millis;

use super::super::error::CliError;
use super::super::output::{Output, aligned};
use super::say::{self, Names};
use super::{pick, read, stops, visit};

/// `tailcomb section …`
#[derive(Debug, Clone, Subcommand)]
pub enum SectionCommand {
    /// Put sections on the map, in the order of work.
    Add {
        /// The visit.
        visit: String,
        /// What they are called, e.g. "nape" "crown left".
        #[arg(required = true)]
        names: Vec<String>,
        /// Where they lie.
        #[arg(long, default_value = "")]
        area: String,
        /// Their shape, e.g. "diagonal slices".
        #[arg(long, default_value = "")]
        shape: String,
        /// Which way they are worked, e.g. "nape to crown".
        #[arg(long, default_value = "")]
        direction: String,
        /// Their mark on the map, up to four characters; of several the number follows.
        #[arg(long, default_value = "")]
        symbol: String,
        /// How many foils each takes.
        #[arg(long, value_name = "COUNT", conflicts_with = "strokes")]
        foils: Option<u16>,
        /// How many painted strokes each takes.
        #[arg(long, value_name = "COUNT")]
        strokes: Option<u16>,
    },
    /// Show the map: what is on which section since when.
    List {
        /// The visit.
        visit: String,
    },
    /// In which order to rinse: the oldest first.
    RinseOrder {
        /// The visit.
        visit: String,
    },
    /// Leave a section out of the plan, or put it back.
    LeaveOut {
        /// The visit.
        visit: String,
        /// The section.
        section: String,
        /// It is worked on after all.
        #[arg(long)]
        back: bool,
    },
    /// Take a section off the map.
    Remove {
        /// The visit.
        visit: String,
        /// The section.
        section: String,
        /// Why.
        #[arg(long, default_value = "")]
        why: String,
    },
}

/// What goes on which section.
#[derive(Debug, Clone, Args)]
pub struct PaintArgs {
    /// The visit.
    pub visit: String,
    /// The sections: names, marks or short names; "all" for every one on the map.
    #[arg(required = true)]
    pub sections: Vec<String>,
    /// From which bowl.
    #[arg(long)]
    pub bowl: Option<String>,
    /// When, if not now: 14:05, "5 min ago".
    #[arg(long, value_name = "TIME")]
    pub at: Option<String>,
    /// Start a timer of this length, e.g. 35m [default: the maker's longest time, where it is known].
    #[arg(long, value_name = "TIME")]
    pub time: Option<Millis>,
    /// Look at a strand so often [default: as the house has it].
    #[arg(long, value_name = "TIME", requires = "time")]
    pub check: Option<Millis>,
    /// Start no timer.
    #[arg(long, conflicts_with = "time")]
    pub no_timer: bool,
    /// If something stands against colour, answer for it by name with this reason, and paint.
    #[arg(long, value_name = "WHY")]
    pub despite: Option<String>,
}

/// What comes off.
#[derive(Debug, Clone, Args)]
pub struct RinseArgs {
    /// The visit.
    pub visit: String,
    /// The sections [default: all that have product on].
    pub sections: Vec<String>,
}

/// A look at a strand.
#[derive(Debug, Clone, Args)]
pub struct CheckArgs {
    /// The visit.
    pub visit: String,
    /// The section.
    pub section: String,
    /// Level that was seen, e.g. 7.5.
    #[arg(long, value_parser = read::level)]
    pub level: Option<u16>,
    /// Warmth that was seen, in the salon's own words.
    #[arg(long, default_value = "")]
    pub warmth: String,
    /// How a wet strand felt.
    #[arg(long, value_enum)]
    pub feel: Option<Felt>,
    /// Anything else.
    #[arg(long, default_value = "")]
    pub note: String,
    /// Say one anew in place of this check: its words or its short name.
    #[arg(long, value_name = "WHICH")]
    pub instead: Option<String>,
}

/// How a wet strand felt.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Felt {
    /// Springs back.
    Firm,
    /// Stretches further than it should.
    Stretchy,
    /// Soft, does not spring back.
    Mushy,
    /// Breaks.
    Breaking,
}

impl SectionCommand {
    pub(super) fn reads_only(&self) -> bool {
        matches!(self, Self::List { .. } | Self::RinseOrder { .. })
    }

    pub(super) fn run(self, station: &mut Station) -> Result<Output, CliError> {
        match self {
            Self::Add { visit, names, area, shape, direction, symbol, foils, strokes } => {
                let visit = station.find_visit(&visit)?;
                let several = names.len() > 1;
                let foils = foils.map(|count| Strokes { by: StrokeKind::Foils, count });
                let strokes = foils.or(strokes.map(|count| Strokes { by: StrokeKind::Strokes, count }));
                let sections: Vec<Section> = names
                    .iter()
                    .enumerate()
                    .map(|(place, name)| Section {
                        name: name.clone(),
                        area: area.clone(),
                        symbol: match (symbol.is_empty(), several) {
                            (true, _) => String::new(),
                            (false, true) => format!("{symbol}{}", place + 1),
                            (false, false) => symbol.clone(),
                        },
                        shape: shape.clone(),
                        direction: direction.clone(),
                        order: 0,
                        left_out: false,
                        strokes,
                    })
                    .collect();
                let ids = station.map_sections(&visit, &sections)?;
                let human = format!("on the map: {}", names.join(", "));
                Ok(Output::new(human, say::with_doc(&visit, "sections", ids)))
            }
            Self::List { visit } => list(station, &visit),
            Self::RinseOrder { visit } => rinse_order(station, &visit),
            Self::LeaveOut { visit, section, back } => {
                let visit = station.find_visit(&visit)?;
                let view = station.visit(&visit)?;
                let id = pick::section(&view, &section)?;
                let old = view.section(&id).and_then(|s| s.section.value()).cloned().ok_or_else(|| {
                    CliError::input("only a newer version can read this section: change it at that station")
                })?;
                let changed = Section { left_out: !back, ..old };
                station.change_section(&visit, &id, &changed)?;
                let said = if back { "is worked on" } else { "is left out" };
                Ok(say::done(format!("{} {said}", changed.name), &visit))
            }
            Self::Remove { visit, section, why } => {
                let visit = station.find_visit(&visit)?;
                let id = pick::section(&station.visit(&visit)?, &section)?;
                station.remove_section(&visit, &id, &why)?;
                Ok(say::done(format!("off the map: {}", section.trim()), &visit))
            }
        }
    }
}

fn rinse_order(station: &mut Station, words: &str) -> Result<Output, CliError> {
    let visit = station.find_visit(words)?;
    let view = station.visit(&visit)?;
    let now_ms = station.now().ms;
    let mut rows = Vec::new();
    let mut value = Vec::new();
    for (n, on) in view.exposure.rinse_order().into_iter().enumerate() {
        let name = view.section(&on.section).map_or("a section", |s| s.name());
        let elapsed_ms = on.elapsed_ms(now_ms).unwrap_or(0);
        let left_ms = on.limit().map(|l| l.due_ms.saturating_sub(now_ms));
        let left = match left_ms {
            Some(ms) if ms <= 0 => "RINSE NOW: the maker's longest time is reached".to_owned(),
            Some(ms) => format!("{} to the maker's longest time", Millis::new(ms)),
            None => String::new(),
        };
        let elapsed = format!("on for {}", Millis::new(elapsed_ms));
        rows.push(vec![(n + 1).to_string(), name.to_owned(), elapsed, left]);
        value.push(json!({ "section": on.section, "name": name, "elapsed_ms": elapsed_ms, "longest_left_ms": left_ms }));
    }
    let spread = Millis::new(view.exposure.spread_ms);
    let spread = if rows.len() > 1 { format!("oldest and newest are {spread} apart") } else { String::new() };
    let list = if rows.is_empty() { "nothing is on the hair".to_owned() } else { aligned(0, &rows) };
    let human = say::lines([list, spread, say::cautions(&cautions::for_time())]);
    Ok(Output::new(
        human,
        json!({
            "doc": visit,
            "rinse_order": value,
            "spread_ms": view.exposure.spread_ms,
            "cautions": cautions::for_time(),
        }),
    ))
}

fn list(station: &mut Station, words: &str) -> Result<Output, CliError> {
    let visit = station.find_visit(words)?;
    let view = station.visit(&visit)?;
    let names = Names::of(station)?;
    let row = |s: &SectionView| {
        let exposure = s.exposure.as_ref();
        let state = match exposure {
            Some(e) if !e.on_hair.is_empty() => {
                let elapsed = Millis::new(e.elapsed_ms(names.now_ms).unwrap_or(0));
                let since = e.since().map(|at| names.clock(at.ms)).unwrap_or_default();
                let bowls: Vec<&str> = e
                    .on_hair
                    .iter()
                    .filter_map(|p| Some(view.bowl(p.bowl.as_ref()?)?.label.as_str()))
                    .collect();
                format!("on for {elapsed} since {since} {}", bowls.join(", ")).trim_end().to_owned()
            }
            Some(e) if !e.rinsed_off.is_empty() => "rinsed".to_owned(),
            _ if s.is_left_out() => "left out".to_owned(),
            _ => "to do".to_owned(),
        };
        let asks = if s.section.is_contested() || exposure.is_some_and(|e| e.asks) {
            "asks to be settled"
        } else {
            ""
        };
        let symbol = s.section.value().map(|v| v.symbol.clone()).unwrap_or_default();
        let strokes = s.section.value().and_then(|v| v.strokes).map(|s| s.to_string()).unwrap_or_default();
        let id = short(s.section.id.as_str()).to_owned();
        vec![id, symbol, s.name().to_owned(), strokes, state, asks.to_owned()]
    };
    let rows: Vec<Vec<String>> = view.sections.iter().map(row).collect();
    let human = if rows.is_empty() { "no sections on the map yet".to_owned() } else { aligned(0, &rows) };
    let human = say::lines([human, say::cautions(&cautions::for_time())]);
    let value = json!({
        "doc": visit,
        "sections": view.sections,
        "exposure": view.exposure,
        "cautions": cautions::for_time(),
    });
    Ok(Output::new(human, value))
}

pub(super) fn paint(args: PaintArgs, station: &mut Station) -> Result<Output, CliError> {
    let visit = station.find_visit(&args.visit)?;
    let view = station.visit(&visit)?;
    let sections = pick::sections(&view, &args.sections)?;
    let bowl = args.bowl.as_deref().map(|words| pick::bowl(&view, words)).transpose()?;
    let at = args.at.map(|at| station.instant(&at)).transpose()?;
    let wish = match (args.time, args.no_timer) {
        (Some(length), _) => PaintTimer::Of { length, check_every: args.check },
        (None, true) => PaintTimer::Without,
        (None, false) => PaintTimer::ForLongest,
    };
    stops::despite(station, &visit, args.despite.as_deref())?;
    let painted = station.paint(&visit, &sections, bowl.map(|b| &b.id), at, wish)?;
    let names = Names::of(station)?;
    let after = station.visit(&visit)?;
    let named: Vec<&str> =
        sections.iter().map(|id| after.section(id).map_or("a section", |s| s.name())).collect();
    let from = bowl.map(|b| format!(" from {}", b.label)).unwrap_or_default();
    let timer = painted.timer.as_ref().and_then(|id| after.timer(id));
    let timer = timer.map(|t| format!("timer: {}", names.timer(t).join("  ").trim_end())).unwrap_or_default();
    let human = say::lines([
        format!("on the hair: {}{from}", named.join(", ")),
        timer,
        say::cautions(&painted.cautions),
    ]);
    Ok(Output::new(
        human,
        json!({
            "doc": visit,
            "sections": sections,
            "bowl": bowl.map(|b| &b.id),
            "steps": painted.steps,
            "timer": painted.timer,
            "cautions": painted.cautions,
        }),
    ))
}

pub(super) fn rinse(args: RinseArgs, station: &mut Station) -> Result<Output, CliError> {
    let visit = station.find_visit(&args.visit)?;
    let view = station.visit(&visit)?;
    let named = if args.sections.is_empty() { None } else { Some(pick::sections(&view, &args.sections)?) };
    let rinsed = station.rinse(&visit, named.as_deref())?;
    let names: Vec<&str> =
        rinsed.sections.iter().map(|id| view.section(id).map_or("a section", |s| s.name())).collect();
    let stopped = match rinsed.stopped.len() {
        0 => String::new(),
        1 => "one timer ended with it".to_owned(),
        n => format!("{n} timers ended with it"),
    };
    let left = station.visit(&visit)?.exposure.on_hair().count();
    let left = if left > 0 { format!("still on the hair: {left} sections") } else { String::new() };
    let human = say::lines([format!("rinsed: {}", names.join(", ")), stopped, left]);
    Ok(Output::new(human, say::with_doc(&visit, "rinsed", rinsed)))
}

pub(super) fn check(args: CheckArgs, station: &mut Station) -> Result<Output, CliError> {
    let visit = station.find_visit(&args.visit)?;
    let view = station.visit(&visit)?;
    let section = pick::section(&view, &args.section)?;
    let feel = args.feel.map(|felt| match felt {
        Felt::Firm => Feel::Firm,
        Felt::Stretchy => Feel::Stretchy,
        Felt::Mushy => Feel::Mushy,
        Felt::Breaking => Feel::Breaking,
    });
    let check = Check {
        section: section.clone(),
        level_tenths: args.level,
        warmth: args.warmth,
        feel,
        note: args.note,
    };
    let id = match args.instead {
        Some(words) => {
            let id = visit::find(&view, visit::Thing::Check, &words)?;
            station.change_check(&visit, &id, &check).map(|()| id)?
        }
        None => station.check_strand(&visit, &check)?,
    };
    let name = view.section(&section).map_or("a section", |s| s.name());
    let care = match feel {
        Some(feel) if feel.calls_for_care() => {
            format!("! a strand feels {}: rinse, and do not go on with what is on it", feel.name())
        }
        _ => String::new(),
    };
    let human = say::lines([format!("{name} is checked"), care, say::cautions(&cautions::for_time())]);
    let mut value = say::with_doc(&visit, "check", id);
    if let Some(fields) = value.as_object_mut() {
        fields.insert("cautions".to_owned(), json!(cautions::for_time()));
    }
    Ok(Output::new(human, value))
}
