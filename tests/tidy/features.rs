//! The heavy features of the tool stay off in a plain build.

use super::{members, read};

/// The packages that have them.
const PACKAGES: [&str; 2] = ["saggar", "saggar-report"];

/// A line of a manifest that switches one on.
fn switches_on(line: &str) -> bool {
    let name = line.split(['.', ' ', '=']).next().unwrap_or_default();
    line.starts_with("default =") || PACKAGES.contains(&name) && line.contains("feature")
}

#[test]
fn the_workspace_enables_no_heavy_feature() {
    for folder in members().into_iter().chain([".".to_owned()]) {
        for line in read(&format!("{folder}/Cargo.toml")).lines() {
            let on = switches_on(line);
            assert!(!on, "{folder}: `{line}` enables a feature that a plain build leaves out");
        }
    }
    assert!(switches_on("saggar-report = { workspace = true, features = [\"png\"] }"));
    assert!(!switches_on("saggar-report.workspace = true"));
    assert!(!switches_on("saggar-core = { workspace = true, features = [\"desk\"] }"));
    let manifest = read("host-tool/cli/Cargo.toml") + &read("host-tool/report/Cargo.toml");
    for heavy in ["defmt-decoder", "dejavu", "png", "resvg"] {
        let line = manifest.lines().find(|line| line.starts_with(&format!("{heavy} = {{")));
        let optional = line.is_some_and(|line| line.contains("optional = true"));
        assert!(
            optional,
            "{heavy} must be optional: a first build takes twice as long with it"
        );
    }
}
