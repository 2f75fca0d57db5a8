//! Copies the store of the device with bugs planted in it, so that the campaigns in `store` can be
//! asked whether they see them. The product has no switch for a bug: each one is a change of its
//! text, and a change that no longer fits stops the build.

use std::env;
use std::fmt::Write;
use std::fs;
use std::path::{Path, PathBuf};

/// The list of bugs.
#[path = "store/bugs.rs"]
mod bugs;
/// What they change.
#[path = "store/changes.rs"]
mod changes;

use bugs::{BUGS, Bug};
use changes::{CHANGES, Change};

fn main() {
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("../firmware/device/src/store");
    let out = PathBuf::from(env::var("OUT_DIR").expect("cargo sets it"));
    println!("cargo::rerun-if-changed={}", source.display());
    println!("cargo::rerun-if-changed=store/bugs.rs");
    println!("cargo::rerun-if-changed=store/changes.rs");
    println!("cargo::rerun-if-changed=build.rs");
    let mut list = String::new();
    for bug in BUGS {
        let module = bug.name.replace(' ', "_");
        let folder = out.join(&module);
        plant(&source, &folder, bug);
        writeln!(list, "#[path = {:?}] pub mod {module};", folder.join("mod.rs"))
            .expect("a string");
    }
    fs::write(out.join("planted.rs"), list).expect("can write");
}

/// One copy.
fn plant(source: &Path, folder: &Path, bug: &Bug) {
    fs::create_dir_all(folder).expect("can write");
    let changes: Vec<&Change> = bug
        .changes
        .iter()
        .map(|name| CHANGES.iter().find(|c| c.name == *name).expect("a change of that name"))
        .collect();
    let mut planted = 0;
    for entry in fs::read_dir(source).expect("the store") {
        let path = entry.expect("an entry").path();
        let name = path.file_name().and_then(|name| name.to_str()).expect("a name");
        let mut text = fs::read_to_string(&path).expect("readable");
        for (file, from, to) in changes.iter().flat_map(|change| change.edits) {
            if *file == name {
                let times = text.matches(from).count();
                assert_eq!(times, 1, "tests/store/changes.rs: {file}: {from:?} no longer fits");
                text = text.replace(from, to);
                planted += 1;
            }
        }
        // The copies stand in another crate, which has no such feature.
        let text =
            text.replace("#[cfg_attr(feature = \"defmt\", derive(defmt::Format))]\n", "");
        fs::write(folder.join(name), text).expect("can write");
    }
    let wanted: usize = changes.iter().map(|change| change.edits.len()).sum();
    assert_eq!(planted, wanted, "{}: a file of a change is missing", bug.name);
}
