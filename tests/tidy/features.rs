//! Features of the tool that few need: a plain build goes without them.

use super::{members, read};

/// The packages that have such features.
const PACKAGES: [&str; 2] = ["saggar", "saggar-report"];

/// A line of a manifest that switches one on.
fn switches_on(line: &str) -> bool {
    let name = line.split(['.', ' ', '=']).next().unwrap_or_default();
    line.starts_with("default =") || PACKAGES.contains(&name) && line.contains("feature")
}

#[test]
fn nothing_in_the_workspace_switches_a_feature_of_the_tool_on() {
    for folder in members().into_iter().chain([".".to_owned()]) {
        for line in read(&format!("{folder}/Cargo.toml")).lines() {
            let on = switches_on(line);
            assert!(!on, "{folder}: `{line}` builds what a plain build leaves out");
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
