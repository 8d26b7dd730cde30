use proptest::prelude::*;

use super::head::{self, Cut};
use super::map::is_drawn;
use super::*;
use crate::ids::{DocId, EntryId, PersonId};
use crate::record::visit::{
    self, Contents, Formula, LineRole, Part as BowlPart, Section, StrokeKind, Strokes, VisitView,
};
use crate::record::{Document, Edit, RecordError, Stamp, View};
use crate::time::Moment;
use crate::trade::{Grams, Millis};

/// 3 March 2026, 10:00 in Lisbon.
const MORNING: i64 = 1_772_532_000_000;

struct Chair {
    doc: Document,
    random: u64,
}

impl Chair {
    fn new() -> Self {
        let doc = Document::new(DocId::parse("visit/v1").unwrap(), &[1; 16]);
        let mut chair = Self { doc, random: 1 };
        let card = DocId::parse("client/c1").unwrap();
        chair.does(0, |e| visit::open(e, &card, "half a head of foils"));
        chair
    }

    fn does<R>(&mut self, minute: i64, work: impl FnOnce(&mut Edit<'_, '_>) -> Result<R, RecordError>) -> R {
        let stamp = Stamp {
            by: PersonId::new("ines"),
            at: Moment { ms: MORNING + minute * 60_000, within_ms: Some(20) },
        };
        let state = &mut self.random;
        let mut random = |buffer: &mut [u8]| {
            for byte in buffer {
                *state =
                    state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
                *byte = u8::try_from(*state >> 56).unwrap();
            }
        };
        self.doc.edit(&stamp, &mut random, work).unwrap().0
    }

    fn section(&mut self, section: &Section) -> EntryId {
        self.does(1, |e| visit::add_section(e, section))
    }

    fn map(&self, minute: i64) -> SectionMap {
        section_map(&VisitView::read(&self.doc), MORNING + minute * 60_000)
    }
}

fn section(name: &str, shape: &str, direction: &str) -> Section {
    Section {
        name: name.to_owned(),
        shape: shape.to_owned(),
        direction: direction.to_owned(),
        ..Section::default()
    }
}

/// Five sections in every state: on the hair, past the maker's longest time, rinsed, left out, to do.
fn busy() -> (Chair, Vec<EntryId>) {
    let mut chair = Chair::new();
    let foils = Some(Strokes { by: StrokeKind::Foils, count: 6 });
    let sections = [
        Section { symbol: "N1".to_owned(), strokes: foils, ..section("nape", "slices", "nape to crown") },
        section("back left", "weave", "up"),
        section("back right", "weave", "up"),
        Section { left_out: true, ..section("fringe", "", "") },
        section("crown", "diagonal triangles", ""),
        section("underneath somewhere", "", ""),
    ];
    let ids: Vec<EntryId> = sections.iter().map(|s| chair.section(s)).collect();
    let formula = Formula {
        title: "foils".to_owned(),
        ratio: Some("1:1.5".parse().unwrap()),
        developer: Some("20 vol".parse().unwrap()),
        longest: Some(Millis::minutes(45)),
        working_life: None,
        note: String::new(),
    };
    let formula = chair.does(2, |e| visit::add_formula(e, &formula));
    let part = BowlPart {
        line: None,
        product: None,
        name: "clay".to_owned(),
        role: LineRole::Lightener,
        amount: Grams::whole(20),
        strength: None,
    };
    let contents = Contents {
        formula,
        label: String::new(),
        parts: vec![part],
        strength: None,
        working_life: None,
        weighed: None,
    };
    let bowl = chair.does(3, |e| visit::mix_bowl(e, None, &contents)).bowl;
    chair.does(5, |e| visit::paint(e, &ids[..1], Some(&bowl), None));
    chair.does(25, |e| visit::paint(e, &ids[1..2], Some(&bowl), None));
    chair.does(26, |e| visit::paint(e, &ids[2..3], Some(&bowl), None));
    chair.does(40, |e| visit::rinse(e, &ids[2..3]));
    (chair, ids)
}

#[test]
fn the_map_is_drawn_alike_to_the_letter_from_the_same_record() {
    let (chair, _) = busy();
    let svg = chair.map(52).svg();
    assert_eq!(svg, chair.map(52).svg());
    insta::assert_snapshot!(svg);
}

#[test]
fn the_map_as_data_says_what_the_drawing_says() {
    let (chair, ids) = busy();
    let map = chair.map(52);
    let told: Vec<(&str, &str, &str)> =
        map.sections.iter().map(|s| (s.label.as_str(), s.name.as_str(), s.told.as_str())).collect();
    assert_eq!(
        told,
        [
            ("N1", "nape", "RINSE: on the hair for 47 min, the maker's longest time is reached"),
            ("2", "back left", "on the hair for 27 min"),
            ("3", "back right", "rinsed"),
            ("4", "crown", "to do"),
            ("5", "underneath somewhere", "to do"),
            ("-", "fringe", "left out"),
        ]
    );
    // The nape is seen from behind and from both sides; what lies left is not seen from the right.
    let views = |id: &EntryId| -> Vec<HeadView> {
        map.views.iter().filter(|v| v.shapes.iter().any(|s| s.id == *id)).map(|v| v.view).collect()
    };
    assert_eq!(views(&ids[0]), [HeadView::Back, HeadView::Left, HeadView::Right]);
    assert_eq!(views(&ids[1]), [HeadView::Top, HeadView::Back, HeadView::Left]);
    assert!(views(&ids[5]).is_empty(), "no place on the head is known: listed only");
    let json = serde_json::to_value(&map).unwrap();
    assert_eq!(json["sections"][1]["state"], "on_hair");
    assert_eq!(json["sections"][1]["minutes"], 27);
    assert!(json["views"][1]["shapes"][0]["path"].as_str().unwrap().starts_with('M'));
    let nape = map.views[1].shapes.iter().find(|s| s.id == ids[0]).unwrap();
    assert!(nape.arrow.is_some() && nape.mark.is_some(), "way and shape have symbols");
}

#[test]
fn the_drawing_moves_on_with_the_clock() {
    let (chair, _) = busy();
    assert!(chair.map(10).svg().contains("5 min"));
    assert!(chair.map(49).svg().contains("44 min") && !chair.map(49).svg().contains("RINSE"));
    assert!(chair.map(50).svg().contains("RINSE"), "at the longest time, not after it");
}

#[test]
fn every_state_has_a_pattern_or_border_of_its_own_and_a_word() {
    let (chair, _) = busy();
    let svg = chair.map(52).svg();
    let parsed = roxmltree::Document::parse(&svg).unwrap();
    let mut looks = std::collections::BTreeMap::new();
    for group in parsed.descendants().filter(|n| n.has_attribute("data-state")) {
        let path = group.children().find(|n| n.has_tag_name("path")).unwrap();
        let look =
            ["fill", "stroke-width", "stroke-dasharray"].map(|name| path.attribute(name).unwrap_or(""));
        looks.insert(group.attribute("data-state").unwrap(), look);
    }
    let states: Vec<&str> = looks.keys().copied().collect();
    assert_eq!(states, ["left-out", "on-hair", "over", "planned", "rinsed"]);
    let distinct: std::collections::BTreeSet<_> = looks.values().collect();
    assert_eq!(distinct.len(), 5, "{looks:?}");
    // Shades of grey only: nothing is told by colour.
    for (_, hex) in
        svg.match_indices('#').filter(|(n, _)| svg[..*n].ends_with('"')).map(|(n, _)| (n, &svg[n + 1..n + 4]))
    {
        let [r, g, b] = hex.as_bytes() else { continue };
        assert!(r == g && g == b, "{hex}");
    }
}

/// What an honest map has: elements by name, and attribute names.
fn bones(svg: &str) -> Vec<String> {
    let parsed = roxmltree::Document::parse(svg).unwrap();
    let element = |n: roxmltree::Node<'_, '_>| {
        let attributes: Vec<&str> = n.attributes().map(|a| a.name()).collect();
        format!("{} {}", n.tag_name().name(), attributes.join(" "))
    };
    parsed.descendants().filter(roxmltree::Node::is_element).map(element).collect()
}

fn of_one(name: &str, symbol: &str, shape: &str) -> String {
    let mut chair = Chair::new();
    let section =
        Section { symbol: symbol.to_owned(), area: "crown".to_owned(), ..section(name, shape, shape) };
    // As another station would: nothing is checked before it is written.
    chair.does(1, |e| {
        let said = serde_json::json!({ "what": "set", "value": section });
        e.add(visit::SECTION, &EntryId::new("s1"), &said).map_err(RecordError::from)
    });
    chair.map(2).svg()
}

#[test]
fn a_hostile_name_breaks_out_of_nothing() {
    let honest = bones(&of_one("crown", "A", "panel"));
    for hostile in [
        "</text><script>alert(1)</script>",
        "\" onload=\"alert(1)",
        "' onclick='x' a='",
        "]]><!--<![CDATA[",
        "&lt;script&gt;&#60;b&#62;",
        "<?xml version=\"1.0\"?><!DOCTYPE svg [<!ENTITY x SYSTEM \"file:///etc/passwd\">]>&x;",
        "\u{0}\u{1}\u{b}\u{1b}[2J\u{fffe}\u{ffff}\u{202e}",
        "javascript:alert(1)",
    ] {
        let svg = of_one(hostile, hostile, &format!("panel {hostile}"));
        assert_eq!(bones(&svg), honest, "{hostile}: {svg}");
        assert!(!svg.contains("<script") && !svg.contains('\u{202e}') && !svg.contains('\u{1b}'), "{svg}");
    }
}

proptest! {
    #[test]
    fn no_text_of_people_ever_becomes_markup(name in "\\PC{0,40}|[<>&\"'/a-z \u{0}-\u{1f}]{0,40}", symbol in ".{0,4}") {
        prop_assert_eq!(bones(&of_one(&name, &symbol, "panel")), bones(&of_one("crown", "A", "panel")));
    }

    #[test]
    fn strips_cover_their_area_and_no_more(many in 1_usize..9, which in 0_usize..7, shape in 0_usize..3) {
        let names = ["fringe", "top", "crown", "occipital", "nape", "left temple", "right side"];
        let shapes = ["", "vertical", "diagonal"];
        let mut chair = Chair::new();
        for _ in 0..many {
            chair.section(&section(names[which], shapes[shape], ""));
        }
        let area = Area::read(names[which]).unwrap();
        for view in chair.map(2).views {
            let whole: i64 = area.outlines(view.view).iter().map(|o| doubled(o)).sum();
            let strips: i64 = view.shapes.iter().map(|s| doubled(&points(&s.path))).sum();
            // Corners are rounded to a tenth of a unit: half a tenth along each edge.
            prop_assert!((whole - strips).abs() <= 4_000 * i64::try_from(many).unwrap(), "{whole} {strips}");
            prop_assert_eq!(view.shapes.is_empty(), whole == 0);
        }
    }
}

/// Twice the area within an outline (Gauss's shoelace formula).
fn doubled(outline: &[(i64, i64)]) -> i64 {
    let next = outline.iter().cycle().skip(1);
    outline.iter().zip(next).map(|((x, y), (nx, ny))| x * ny - nx * y).sum::<i64>().abs()
}

fn points(path: &str) -> Vec<(i64, i64)> {
    let corners = path.trim_end_matches('Z').split(['M', 'L']).filter(|p| !p.is_empty());
    let number = |text: &str| text.parse::<i64>().unwrap();
    corners.map(|p| p.split_once(' ').map(|(x, y)| (number(x), number(y))).unwrap()).collect()
}

#[test]
fn every_part_of_the_head_has_a_convex_place_in_some_view() {
    for part in [Part::Fringe, Part::Top, Part::Crown, Part::Occipital, Part::Nape, Part::Temple, Part::Side]
    {
        assert!(is_drawn(part), "{part:?}");
        for view in HeadView::ALL {
            for outline in (Area { part, side: Side::Both }).outlines(view) {
                let turns = (0..outline.len()).map(|n| {
                    let at = |k: usize| outline[(n + k) % outline.len()];
                    let ((ax, ay), (bx, by), (cx, cy)) = (at(0), at(1), at(2));
                    (bx - ax) * (cy - by) - (by - ay) * (cx - bx)
                });
                assert!(turns.clone().all(|t| t > 0), "{part:?} {view:?} {:?}", turns.collect::<Vec<_>>());
            }
        }
    }
}

#[test]
fn areas_are_read_from_the_words_of_the_floor() {
    let area = |part, side| Some(Area { part, side });
    for (words, meant) in [
        ("nape", area(Part::Nape, Side::Both)),
        ("Crown left", area(Part::Crown, Side::Left)),
        ("behind the right ear", area(Part::Side, Side::Right)),
        ("front left side", area(Part::Side, Side::Left)),
        ("back", area(Part::Occipital, Side::Both)),
        ("front hairline", area(Part::Fringe, Side::Both)),
        ("left and right temples", area(Part::Temple, Side::Both)),
        ("foil 3", None),
        ("", None),
    ] {
        assert_eq!(Area::read(words), meant, "{words}");
    }
}

#[test]
fn a_straight_cut_leaves_what_lies_before_it() {
    let square = [(0, 0), (100, 0), (100, 100), (0, 100)];
    assert_eq!(Cut::at_most((1, 0), 40).of(&square), [(0, 0), (40, 0), (40, 100), (0, 100)]);
    assert_eq!(Cut::at_least((0, 1), 75).of(&square), [(100, 75), (100, 100), (0, 100), (0, 75)]);
    assert_eq!(Cut::at_most((1, 0), -1).of(&square), []);
    assert_eq!(head::middle(&square), (50, 50));
}
