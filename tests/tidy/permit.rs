//! A heat permit is made in one place, cannot be copied, and is never stored.

use super::{Source, sources};

const NAME: &str = "HeatPermit";

#[test]
fn one_place_makes_permits() {
    let mut makers = Vec::new();
    for source in sources("firmware") {
        let (code, path) = (source.code(), &source.path);
        let made =
            code.filter(|(_, line)| line.contains("HeatPermit(()") && !line.contains("struct"));
        makers.extend(made.map(|_| path.clone()));
    }
    assert_eq!(makers, ["firmware/core/src/interlock/mod.rs"]);
}

#[test]
fn permits_cannot_be_copied() {
    let all = sources("firmware");
    let home = all
        .iter()
        .find(|s| s.path == "firmware/core/src/interlock/mod.rs")
        .expect("the interlock");
    let (before, _) =
        home.text.split_once("pub struct HeatPermit(());").expect("its only field");
    let derive = before.lines().last().unwrap_or_default();
    assert_eq!(derive, "#[derive(Debug)]");
    for source in &all {
        // No methods either: one could make another permit without naming the type.
        for (number, line) in source.code() {
            let given = line.contains("impl") && line.contains(NAME);
            assert!(!given, "{}:{number}: code for {NAME}", source.path);
        }
    }
}

#[test]
fn nothing_stores_a_permit() {
    for source in ["firmware", "sim", "host-tool"].into_iter().flat_map(sources) {
        assert_eq!(stored(&source), Vec::<usize>::new(), "{}", source.path);
    }
}

/// Lines of types, statics and aliases that contain a permit.
fn stored(source: &Source) -> Vec<usize> {
    let mut found = Vec::new();
    let mut close: Option<String> = None;
    for (number, line) in source.code() {
        let word = line.trim_start();
        let public = word.starts_with("pub ") || word.starts_with("pub(");
        let word = if public { word.split_once(' ').unwrap_or_default().1 } else { word };
        let opens = ["struct ", "enum ", "union ", "static ", "type "]
            .iter()
            .any(|w| word.starts_with(w));
        // In formatted code each ends with the first closing line of the same indent.
        let indent = &line[..line.len() - line.trim_start().len()];
        if opens && !line.trim_end().ends_with([';', '}']) {
            close = Some(indent.to_owned());
        }
        let definition = word.starts_with("struct HeatPermit(());");
        if (opens || close.is_some()) && line.contains(NAME) && !definition {
            found.push(number);
        }
        if close.as_deref() == Some(indent) && word.starts_with(['}', ')', '>']) {
            close = None;
        }
    }
    found
}

#[test]
fn a_stored_permit_would_be_found() {
    let text = "pub struct A {\n    a: u8,\n    b: Option<HeatPermit>,\n}\nfn f(p: HeatPermit) {}\n\
                struct B(HeatPermit);\ntype C = Result<HeatPermit, ()>;\nenum D {\n    E(HeatPermit),\n}\n\
                pub(super) struct F(\n    u8,\n    HeatPermit,\n);\nfn g() -> HeatPermit {\n}\nstatic H: Mutex<\n    \
                Option<HeatPermit>,\n> = a();\nfn i(p: &HeatPermit) {}\n";
    let source = Source { path: String::new(), text: text.to_owned() };
    assert_eq!(stored(&source), [3, 6, 7, 9, 13, 18]);
}
