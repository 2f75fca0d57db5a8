//! The schema for editors accepts what the reader accepts, and refuses what it refuses.

use std::fs;

use jsonschema::{Validator, draft202012};
use saggar_files::Diagnostics;
use saggar_schedule::document::{Document, KeySpec, ValueKind, sections};
use saggar_schedule::keys::{FaultFile, FileKind, Profile, Schedule, list_sections};
use serde_json::{Value, json};

use super::{examples, source};

fn validator(file: FileKind) -> Validator {
    let schema = file.json_schema();
    assert!(draft202012::meta::is_valid(&schema));
    draft202012::new(&schema).unwrap()
}

fn json(text: &str) -> Value {
    toml::from_str(text).unwrap()
}

/// The reader accepts the keys of a text.
fn reader_accepts(file: FileKind, text: &str) -> bool {
    let source = source(text);
    let diagnostics = Diagnostics::new(&source);
    let document = Document::parse(&source, &diagnostics, &list_sections()).unwrap();
    match file {
        FileKind::Schedule => _ = document.read::<Schedule>(),
        FileKind::Profile => _ = document.read::<Profile>(),
        FileKind::Faults => _ = document.read::<FaultFile>(),
    }
    diagnostics.is_empty()
}

const FILES: [(&str, FileKind); 3] = [
    ("schedules", FileKind::Schedule),
    ("furnaces", FileKind::Profile),
    ("faults", FileKind::Faults),
];

#[test]
fn reader_and_schema_accept_every_example() {
    for (folder, file) in FILES {
        let validator = validator(file);
        for path in examples(folder) {
            let text = fs::read_to_string(&path).unwrap();
            let wrong: Vec<_> =
                validator.iter_errors(&json(&text)).map(|error| error.to_string()).collect();
            assert!(
                wrong.is_empty() && reader_accepts(file, &text),
                "{}: {wrong:?}",
                path.display()
            );
            assert_eq!(FileKind::of(&text), file, "{}", path.display());
        }
    }
}

#[test]
fn reader_and_schema_refuse_the_same_errors() {
    let spinel = include_str!("../../../../docs/schedules/infiltrate-spinel-vacuum.toml");
    let dunlin = include_str!("../../../../docs/furnaces/lift-vacuum.toml");
    let loose = include_str!("../../../../docs/faults/loose-contact.toml");
    for (file, text, from, to) in [
        (FileKind::Schedule, spinel, "body = \"spinel\"", "body = \"clay\""),
        (FileKind::Schedule, spinel, "body = \"spinel\"\n", ""),
        (FileKind::Schedule, spinel, "count = 1", "count = 1.5"),
        (FileKind::Schedule, spinel, "count = 1", "count = \"1\""),
        (FileKind::Schedule, spinel, "count = 1", "count = 1\ninfiltrated = \"yes\""),
        (FileKind::Schedule, spinel, "count = 1", "cuont = 1"),
        (FileKind::Schedule, spinel, "name = \"Infiltrate spinel coping\"", "name = \"\""),
        (FileKind::Schedule, spinel, "[work.coat]", "[[work.coat]]"),
        (FileKind::Schedule, spinel, "then = \"end\"", "then = \"go on\""),
        (FileKind::Schedule, spinel, "to_celsius = 80, ", ""),
        (FileKind::Profile, dunlin, "closure = \"lift\"", "closure = \"lid\""),
        (FileKind::Profile, dunlin, "vent_below_celsius = 700\n", ""),
        (FileKind::Profile, dunlin, "hertz = 50", "hertz = 70"),
        (FileKind::Profile, dunlin, "[pin] ", "[pins] "),
        (FileKind::Profile, dunlin, "type = \"S\"", "type = \"T\""),
        (FileKind::Faults, loose, "kind = \"control-open\"", "kind = \"control-opened\""),
        (FileKind::Faults, loose, "kind = \"control-open\"\n", ""),
        (FileKind::Faults, loose, "for_seconds", "for_second"),
    ] {
        assert!(text.contains(from), "{from}");
        let text = text.replacen(from, to, 1);
        assert!(!validator(file).is_valid(&json(&text)), "the schema accepts {to}");
        assert!(!reader_accepts(file, &text), "the reader accepts {to}");
    }
}

/// Tries both ends of every range, and a number beyond each.
#[test]
fn reader_and_schema_have_the_same_ranges() {
    let mut tried = 0;
    for (folder, file) in FILES {
        let validator = validator(file);
        for path in examples(folder) {
            let mut example = json(&fs::read_to_string(&path).unwrap());
            // No example has these sections, so add them empty.
            for (above, section) in [("/work", "body_values"), ("/work/coat", "glass_values")] {
                if let Some(above) = example.pointer_mut(above) {
                    above[section] = json!({});
                }
            }
            for (section, keys) in sections(file.keys()) {
                let Some(pointer) = pointer_to(&example, &section) else { continue };
                for key in keys {
                    let ValueKind::Number { from, to, at_most, .. } = key.kind else {
                        continue;
                    };
                    let span = to - from;
                    let most = if at_most.is_some() { from } else { to };
                    for (number, good) in
                        [(from, true), (most, true), (from - span, false), (to + span, false)]
                    {
                        let mut changed = example.clone();
                        let here = changed.pointer_mut(&pointer).unwrap();
                        here[key.name] = json!(number);
                        // A schema cannot express that one key may not exceed another.
                        here.as_object_mut()
                            .unwrap()
                            .retain(|name, _| !is_bounded_by(keys, name, key));
                        let text = toml::to_string(&changed).unwrap();
                        let accepted =
                            (validator.is_valid(&changed), reader_accepts(file, &text));
                        // An example ramp may then have both a rate and a time. The schema refuses that; the
                        // reader checks it later.
                        let differs = good && section == "stage.ramp";
                        assert!(
                            differs || accepted == (good, good),
                            "{section} {}: {accepted:?}",
                            key.name
                        );
                        tried += 1;
                    }
                }
            }
        }
    }
    assert!(tried > 1000, "only {tried} numbers were tried");
}

/// Whether the key `name` may not exceed the key `other`.
fn is_bounded_by(keys: &[KeySpec], name: &str, other: &KeySpec) -> bool {
    let at_most = |key: &KeySpec| match key.kind {
        ValueKind::Number { at_most, .. } => at_most == Some(other.name),
        ValueKind::Integer { .. }
        | ValueKind::Boolean
        | ValueKind::Text { .. }
        | ValueKind::Word(_)
        | ValueKind::Section(_)
        | ValueKind::List { .. } => false,
    };
    keys.iter().any(|key| key.name == name && at_most(key))
}

/// Pointer to a section in an example; in a list, to the first entry that has it.
fn pointer_to(example: &Value, section: &str) -> Option<String> {
    let mut pointers = vec![String::new()];
    for name in section.split('.').filter(|name| !name.is_empty()) {
        let inner = pointers.iter().flat_map(|pointer| {
            let at = format!("{pointer}/{name}");
            match example.pointer(&at) {
                Some(Value::Array(list)) => {
                    (0..list.len()).map(|nth| format!("{at}/{nth}")).collect()
                }
                Some(_) => vec![at],
                None => Vec::new(),
            }
        });
        pointers = inner.collect();
    }
    pointers.into_iter().next()
}
