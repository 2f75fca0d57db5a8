//! Runs every input of the corpus once, as a regression test that needs no fuzzing engine.

use std::path::Path;

/// Runs all inputs in these folders, relative to the top of the tree; there must be at least `count`.
fn run(target: fn(&[u8]), folders: &[&str], count: usize) {
    let top = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let mut found = 0;
    for folder in folders {
        for entry in std::fs::read_dir(top.join(folder)).expect("a folder of inputs") {
            let path = entry.expect("an entry").path();
            println!("{}", path.display());
            target(&std::fs::read(&path).expect("an input"));
            found += 1;
        }
    }
    assert!(found >= count, "{found} inputs in {folders:?}");
}

#[test]
fn link() {
    run(crate::link, &["tests/fuzz/corpus/link"], 10);
}

#[test]
fn flash() {
    run(crate::flash, &["tests/fuzz/corpus/flash"], 10);
}

#[test]
fn schedule() {
    let folders = ["tests/fuzz/corpus/schedule", "docs/schedules", "docs/furnaces"];
    run(crate::schedule, &folders, 16);
}

#[test]
fn programme() {
    run(crate::programme, &["tests/fuzz/corpus/programme"], 10);
}
