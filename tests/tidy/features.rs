//! Features of the tool that few need: a plain build goes without them.

use super::read;

/// The members of the workspace that depend on the tool, or are it.
const MANIFESTS: [&str; 4] = [
    "Cargo.toml",
    "host-tool/cli/Cargo.toml",
    "host-tool/report/Cargo.toml",
    "tests/Cargo.toml",
];

#[test]
fn nothing_in_the_workspace_switches_a_feature_of_the_tool_on() {
    for path in MANIFESTS {
        for line in read(path).lines() {
            let tool = line.starts_with("saggar.") || line.starts_with("saggar =");
            let on = line.starts_with("default =") || tool && line.contains("feature");
            assert!(!on, "{path}: `{line}` builds what a plain build leaves out");
        }
    }
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
