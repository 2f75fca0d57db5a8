//! What the core does without: standard library, clock, heap, unsafe code, fused arithmetic.

use std::fs;

use super::{read, root, sources};

/// The code of the core.
const CORE: &str = "firmware/core/src";

/// What may not stand in the core's code, and why.
const FORBIDDEN: [(&str, &str); 10] = [
    ("std::", "no standard library"),
    ("extern crate", "no standard library, no heap"),
    ("alloc::", "no heap"),
    ("Box<", "no heap"),
    ("unsafe", "no unsafe code"),
    ("Instant::now", "no clock: time is an argument"),
    ("SystemTime", "no clock: time is an argument"),
    ("mul_add", "the same bits on every machine"),
    ("static mut", "no state outside the controller"),
    ("cfg(target", "the same code on every machine"),
];

#[test]
fn core_does_without() {
    let files = sources("firmware/core/src");
    for source in &files {
        for (number, line) in source.code() {
            for (word, why) in FORBIDDEN {
                assert!(!line.contains(word), "{}:{number}: {word}: {why}", source.path);
            }
        }
    }
    let top = read("firmware/core/src/lib.rs");
    assert!(top.lines().any(|line| line == "#![no_std]"));
    let manifest = read("firmware/core/Cargo.toml");
    assert!(manifest.lines().any(|line| line == "unsafe_code = \"forbid\""));
}

/// No decision hides in a dependency's standard features either.
#[test]
fn core_takes_its_dependencies_without_std() {
    let workspace = read("Cargo.toml");
    let core = read("firmware/core/Cargo.toml");
    let (_, after) = core.split_once("[dependencies]").expect("dependencies");
    let (section, _) = after.split_once("\n[").unwrap_or((after, ""));
    let names = section.lines().filter_map(|line| line.split_once(['.', ' ']));
    let mut count = 0;
    for (name, rest) in names {
        assert!(rest.contains("workspace = true"), "{name}: versions live in the workspace");
        let line = workspace.lines().find(|line| line.starts_with(&format!("{name} =")));
        let line = line.unwrap_or_else(|| panic!("{name} is not in the workspace"));
        let lean = line.contains("default-features = false") || name == "defmt";
        assert!(lean, "{name}: default features");
        count += 1;
    }
    assert!(count > 5, "{count} dependencies read");
}

/// No safe code can change a loaded programme, so that no test of the whole core can show that
/// its guard is asked in every tick: this reads that it is.
#[test]
fn the_guard_is_asked_in_every_tick() {
    let text = read("firmware/core/src/controller.rs");
    let (_, step) = text.split_once("pub fn step(").expect("the step");
    let (step, _) = step.split_once("\n    }\n").expect("its end");
    assert!(step.contains("p.guard.walk(&p.image)"));
    assert!(step.contains("self.facts(now, inputs, &estimate, intact)"));
}

/// Only a desk may go back to a snapshot: on a device it would heat without a press on start.
#[test]
fn no_device_can_be_restored() {
    let ours = [String::from("firmware/drivers/Cargo.toml")];
    for manifest in boards().into_iter().chain(ours) {
        assert!(!read(&manifest).contains("desk"), "{manifest}");
    }
    let manifest = read("firmware/core/Cargo.toml");
    let has = |line: &str| manifest.lines().any(|it| it == line);
    assert!(has("desk = []") && !manifest.contains("default = ["));
    let text = read("firmware/core/src/controller.rs");
    assert!(text.contains("#[cfg(feature = \"desk\")]\nmod restore;"));
    for source in sources(CORE) {
        let away = source.path.ends_with("controller/restore.rs");
        assert_eq!(source.text.contains("pub fn restored("), away, "{}", source.path);
    }
}

/// Manifests of the images.
fn boards() -> Vec<String> {
    let folder = root().join("firmware/boards");
    let entries = fs::read_dir(folder).expect("boards").map(|entry| entry.expect("an entry"));
    let found: Vec<_> = entries
        .filter(|entry| entry.path().join("Cargo.toml").exists())
        .map(|entry| {
            format!("firmware/boards/{}/Cargo.toml", entry.file_name().to_string_lossy())
        })
        .collect();
    assert!(!found.is_empty());
    found
}
