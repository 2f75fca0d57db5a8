//! Colours and dashes that people with any colour vision can tell apart.

use crate::palette;
use crate::svg_file;

#[test]
fn colours_have_enough_contrast_on_light_and_dark_backgrounds() {
    let luminance = |colour: &str| {
        let part = |from: usize| {
            let hex = colour.get(from..from + 2).expect("two digits");
            let share = f64::from(u8::from_str_radix(hex, 16).expect("hex")) / 255.0;
            if share <= 0.04045 { share / 12.92 } else { ((share + 0.055) / 1.055).powf(2.4) }
        };
        0.2126 * part(1) + 0.7152 * part(3) + 0.0722 * part(5)
    };
    let contrast = |a: &str, b: &str| {
        let (a, b) = (luminance(a), luminance(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    };
    // WCAG 2.2: 4.5 for text (1.4.3), 3 for lines that carry meaning (1.4.11).
    let texts = ["ink", "faint", "good", "bad", "unknown", "mark"].map(|name| (name, 4.5));
    let lines = ["setpoint", "sensor", "piece", "muffle", "element"].map(|n| (n, 3.0));
    for (name, contrast_min) in texts.into_iter().chain(lines) {
        for paper in ["paper", "card", "band"] {
            let (ink, paper) =
                (palette::pairs(name).expect(name), palette::pairs(paper).expect(paper));
            for (ink, paper) in ink.into_iter().zip(paper) {
                let found = contrast(ink, paper);
                assert!(found >= contrast_min, "{name}: {ink} on {paper} is {found:.2}");
            }
        }
    }
}

#[test]
fn every_colour_variable_of_the_style_sheets_is_defined() {
    let sheets = [svg_file::STYLE, include_str!("../page/page.css")].concat();
    let mut uses = 0;
    for piece in sheets.split("var(--").skip(1) {
        let name = piece.split(')').next().expect("a name");
        assert!(palette::pairs(name).is_some(), "no colour {name}");
        uses += 1;
    }
    assert!(uses > 20);
    assert!(!palette::literal(svg_file::STYLE).contains("var("));
}

#[test]
fn no_two_curves_look_the_same() {
    let mut looks: Vec<String> = Vec::new();
    let names = [
        "setpoint",
        "sensor",
        "limit",
        "piece",
        "muffle",
        "element",
        "control",
        "channels",
        "piece-lag",
        "muffle-lag",
        "duty",
        "opening",
        "pressure",
        "depth",
        "water",
        "lubricant",
    ];
    for name in names {
        let rule = format!(".chart .{name} {{");
        let (_, rest) = svg_file::STYLE.split_once(&rule).expect(name);
        let (rule, _) = rest.split_once('}').expect("an end");
        let part = |key: &str| {
            let mut parts = rule.split(';').filter_map(|part| part.trim().strip_prefix(key));
            parts.next_back().unwrap_or("none").to_owned()
        };
        looks.push(part("stroke: ") + " " + &part("stroke-dasharray: "));
    }
    let count = looks.len();
    looks.sort_unstable();
    looks.dedup();
    assert_eq!(looks.len(), count, "{looks:?}");
}
