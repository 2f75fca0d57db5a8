//! What core and device must not use: standard library, clock, heap, unsafe code, fused arithmetic.

use super::{boards, members, read, sources};

/// The packages that every image contains, whatever its board.
const CORE: &str = "firmware/core";
const DEVICE: &str = "firmware/device";

/// What must not occur in their code, and why.
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
fn core_and_device_use_nothing_forbidden() {
    for folder in [CORE, DEVICE] {
        for source in sources(&format!("{folder}/src")) {
            for (number, line) in source.code() {
                for (word, why) in FORBIDDEN {
                    assert!(!line.contains(word), "{}:{number}: {word}: {why}", source.path);
                }
            }
        }
    }
}

#[test]
fn firmware_has_no_standard_library() {
    let mut firmware = members();
    firmware.retain(|folder| folder.starts_with("firmware/"));
    assert!([CORE, DEVICE].iter().all(|folder| firmware.contains(&(*folder).to_owned())));
    for folder in firmware {
        let top = read(&format!("{folder}/src/lib.rs"));
        assert!(top.lines().any(|line| line == "#![no_std]"), "{folder}");
    }
}

/// The manifests forbid most of it as lints: the same list in both.
#[test]
fn core_and_device_have_the_same_lints() {
    let [core, device] = [CORE, DEVICE].map(|folder| read(&format!("{folder}/Cargo.toml")));
    let lints = |manifest: &str| -> Vec<String> {
        let (_, lints) = manifest.split_once("[lints.rust]").expect("lints");
        lints.lines().filter(|line| !line.starts_with('#')).map(str::to_owned).collect()
    };
    assert_eq!(lints(&core), lints(&device));
    for lint in ["unsafe_code = \"forbid\"", "panic = \"deny\"", "unwrap_used = \"deny\""] {
        assert!(core.lines().any(|line| line == lint), "{lint}");
    }
}

/// A dependency must not bring the standard library back through its default features.
#[test]
fn core_and_device_take_their_dependencies_without_std() {
    let workspace = read("Cargo.toml");
    for folder in [CORE, DEVICE] {
        let manifest = read(&format!("{folder}/Cargo.toml"));
        let (_, after) = manifest.split_once("[dependencies]").expect("dependencies");
        let (section, _) = after.split_once("\n[").unwrap_or((after, ""));
        let names = section.lines().filter_map(|line| line.split_once(['.', ' ']));
        let mut count = 0;
        for (name, rest) in names {
            assert!(
                rest.contains("workspace = true"),
                "{name}: versions live in the workspace"
            );
            let line = workspace.lines().find(|line| line.starts_with(&format!("{name} =")));
            let line = line.unwrap_or_else(|| panic!("{name} is not in the workspace"));
            let lean = line.contains("default-features = false")
                || ["defmt", "saggar-core"].contains(&name);
            assert!(lean, "{name}: default features");
            count += 1;
        }
        assert!(count > 5, "{folder}: {count} dependencies read");
    }
}

/// No safe code can change a loaded programme, so no test of the whole core can show that its guard
/// runs in every tick. This test reads the source instead.
#[test]
fn the_guards_run_in_every_tick() {
    let text = read("firmware/core/src/controller/mod.rs");
    let (_, step) = text.split_once("pub fn step(").expect("the step");
    let (step, _) = step.split_once("\n    }\n").expect("its end");
    assert!(step.contains("let intact = self.check_next_data();"));
    assert!(step.contains("let (programme_intact, furnace_intact) = intact;"));
    assert!(text.contains("            programme_intact,\n            furnace_intact,\n"));
    let text = read("firmware/core/src/controller/guard.rs");
    assert!(text.contains("self.furnace_guard.check_next_group(&self.furnace)"));
    assert!(text.contains("self.guard.check_next_byte(&self.image)"));
}

/// Only host tools may restore a snapshot: on a device it would heat without a press on start.
#[test]
fn no_device_firmware_can_restore_a_snapshot() {
    let ours = ["device", "drivers", "lockstep"].map(|name| format!("firmware/{name}"));
    for folder in boards().into_iter().chain(ours) {
        assert!(!read(&format!("{folder}/Cargo.toml")).contains("restore"), "{folder}");
    }
    // Nor may a board reach into the core of its device.
    for folder in boards() {
        assert!(!read(&format!("{folder}/Cargo.toml")).contains("\"bench\""), "{folder}");
    }
    assert!(read("firmware/device/Cargo.toml").contains("\nbench = []\n"));
    let reach = "#[cfg(feature = \"bench\")]\n    pub const fn controller_mut(";
    let device = sources("firmware/device");
    let gives = device.iter().filter(|source| source.text.contains("&mut Controller {"));
    assert!(gives.clone().count() == 1 && gives.clone().all(|it| it.text.contains(reach)));
    let manifest = read("firmware/core/Cargo.toml");
    let has = |line: &str| manifest.lines().any(|it| it == line);
    assert!(has("restore = []") && !manifest.contains("default = ["));
    let text = read("firmware/core/src/controller/mod.rs");
    assert!(text.contains("#[cfg(feature = \"restore\")]\nmod restore;"));
    let mut all = sources("firmware");
    all.retain(|source| source.text.contains("pub fn from_snapshot("));
    let places: Vec<_> = all.iter().map(|source| source.path.as_str()).collect();
    assert_eq!(places, ["firmware/core/src/controller/restore.rs"]);
}
