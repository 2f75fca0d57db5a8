//! Who may use whom: modules inside the core as the table in `docs/architecture.md` says,
//! packages as that page says.

use std::collections::BTreeSet;

use super::{Source, quoted, read, sources, table};

const CORE: &str = "firmware/core/src/";

/// The module at the top of the core that a file belongs to.
fn module_of(source: &Source) -> &str {
    let path = source.path.strip_prefix(CORE).expect("a file of the core");
    path.split(['/', '.']).next().unwrap_or_default()
}

/// Every `crate::module` that a file names, in `use` lines and elsewhere.
fn used(source: &Source) -> BTreeSet<String> {
    let mut found = BTreeSet::new();
    for (_, line) in source.code() {
        for after in line.split("crate::").skip(1) {
            assert!(!after.starts_with('{'), "{}: one `use crate::` a module", source.path);
            let end = after.find(|c: char| !(c.is_ascii_lowercase() || c == '_'));
            let name = &after[..end.unwrap_or(after.len())];
            if !name.is_empty() {
                found.insert(name.to_owned());
            }
        }
    }
    found
}

#[test]
fn modules_use_only_what_the_table_allows() {
    let rows = table(&read("docs/architecture.md"), "module");
    let allowed: Vec<(String, BTreeSet<String>)> = rows
        .iter()
        .map(|row| (quoted(&row[0])[0].clone(), quoted(&row[2]).into_iter().collect()))
        .collect();
    let mut seen = vec![BTreeSet::new(); allowed.len()];
    for source in sources(CORE) {
        let module = module_of(&source);
        if module == "lib" {
            continue;
        }
        let row = allowed.iter().position(|(name, _)| name == module);
        let row = row.unwrap_or_else(|| panic!("{module} is not in the table"));
        for other in used(&source) {
            assert!(allowed[row].1.contains(&other), "{}: uses {other}", source.path);
            seen[row].insert(other);
        }
        assert_no_way_around(&source);
    }
    for ((module, may_use), used) in allowed.iter().zip(seen) {
        assert_eq!(may_use, &used, "{module}: the table allows what nothing uses");
    }
}

/// `super` from the top of a module would be an arrow that the search above does not see.
fn assert_no_way_around(source: &Source) {
    let path = source.path.strip_prefix(CORE).unwrap_or_default();
    let at_the_top =
        !path.contains('/') || path.matches('/').count() == 1 && path.ends_with("/mod.rs");
    for (number, line) in source.code() {
        let way = if at_the_top { "super::" } else { "super::super::" };
        assert!(!line.contains(way), "{}:{number}: {way}", source.path);
    }
}

/// A module may use only rows above its own: so there is no circle.
#[test]
fn the_table_has_no_circle() {
    let mut above = BTreeSet::new();
    for row in table(&read("docs/architecture.md"), "module") {
        for other in quoted(&row[2]) {
            assert!(above.contains(&other), "{} uses {other}, which is not above it", row[0]);
        }
        above.insert(quoted(&row[0])[0].clone());
    }
    let listed: BTreeSet<_> =
        sources(CORE).iter().map(|source| module_of(source).to_owned()).collect();
    assert_eq!(listed.difference(&above).map(String::as_str).collect::<Vec<_>>(), ["lib"]);
}

/// Packages of ours that a manifest names as dependencies, tests aside.
fn packages(manifest: &str) -> Vec<String> {
    let text = read(manifest);
    let mut section = String::new();
    let mut found = Vec::new();
    for line in text.lines() {
        if line.starts_with('[') {
            section = line.to_owned();
        } else if section == "[dependencies]" && line.starts_with("saggar") {
            found.push(line.split(['.', ' ', '=']).next().unwrap_or_default().to_owned());
        }
    }
    found.sort();
    found
}

#[test]
fn packages_depend_one_way() {
    assert_eq!(packages("firmware/core/Cargo.toml"), Vec::<String>::new());
    assert_eq!(packages("firmware/drivers/Cargo.toml"), ["saggar-core"]);
    assert_eq!(packages("sim/Cargo.toml"), ["saggar-core"]);
    assert_eq!(
        packages("host-tool/Cargo.toml"),
        ["saggar-core", "saggar-drivers", "saggar-sim"]
    );
}

/// The simulation keeps its own plant: what the core believes of a furnace may not creep into
/// what the furnace is.
#[test]
fn simulation_does_not_use_the_estimator() {
    for source in sources("sim/src") {
        for (number, line) in source.code() {
            let stolen =
                ["estimate::", "Tracker", "Belief"].iter().find(|word| line.contains(*word));
            assert_eq!(stolen, None, "{}:{number}", source.path);
        }
    }
}
