//! The examples' stages as they stood before the piece saw the table, in `tests/pinned`: later
//! schedules are compared with them, so they must not change.

use std::path::Path;

use saggar_schedule::FiringPlan;

/// Each with the first digits of its programme's digest.
const PINNED: [(&str, &str); 6] = [
    ("clean-alumina", "771995ffef9345ad"),
    ("infiltrate-alumina", "f355871f65934022"),
    ("infiltrate-alumina-too-short", "6bdae40e2b673dd2"),
    ("infiltrate-spinel-vacuum", "2e668f985f05884e"),
    ("infiltrate-zirconia-toughened", "ada21904e3d430d2"),
    ("melt-back", "ff9aa9d65d409332"),
];

#[test]
fn the_pinned_stages_are_those_of_the_day() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("pinned");
    let found = PINNED.map(|(name, _)| {
        let path = folder.join(name).with_extension("toml");
        let plan = FiringPlan::load(&path, None).unwrap_or_else(|why| panic!("{name}: {why}"));
        (name, plan.summary.digest.chars().take(16).collect::<String>())
    });
    assert_eq!(found, PINNED.map(|(name, digest)| (name, digest.to_owned())));
}
