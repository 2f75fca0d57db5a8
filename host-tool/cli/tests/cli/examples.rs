//! `new`: its files pass `check` and can be rehearsed in any folder, and it replaces nothing.

use serde_json::Value;
use tempfile::TempDir;

use super::bench::docs;
use crate::run_output::{RunOutput, run_output};

/// Runs the binary in a folder.
fn run(folder: &TempDir, arguments: &[&str]) -> RunOutput {
    let mut command = std::process::Command::new(env!("CARGO_BIN_EXE_saggar"));
    run_output(command.args(arguments).current_dir(folder.path()).output().unwrap())
}

fn names(json: &Value, kind: &str) -> Vec<String> {
    let examples = json["examples"].as_array().unwrap().iter();
    let of_kind = examples.filter(|example| example["kind"] == kind);
    of_kind.map(|example| example["name"].as_str().unwrap().to_owned()).collect()
}

fn listed(kind: &str) -> Vec<String> {
    let empty = TempDir::new().unwrap();
    names(&serde_json::from_str(&run(&empty, &["new", "--json"]).out).unwrap(), kind)
}

#[test]
fn all_files_in_the_documents_are_examples() {
    for (kind, folder) in [("schedule", "schedules"), ("profile", "furnaces")] {
        let mut listed = listed(kind);
        listed.sort();
        let files = std::fs::read_dir(docs().join(folder)).unwrap();
        let name =
            |path: std::path::PathBuf| path.file_stem().unwrap().to_str().unwrap().into();
        let mut there: Vec<String> = files.map(|file| name(file.unwrap().path())).collect();
        there.sort();
        assert_eq!(listed, there);
    }
}

#[test]
fn every_schedule_can_be_rehearsed_unchanged_in_an_empty_folder() {
    for name in listed("schedule") {
        for to in ["", "job.toml", "inner/", "inner/job.toml"] {
            let folder = TempDir::new().unwrap();
            std::fs::create_dir(folder.path().join("inner")).unwrap();
            let new: Vec<&str> =
                ["new", &name, to].into_iter().filter(|a| !a.is_empty()).collect();
            let result = run(&folder, &new);
            assert_eq!((result.code, result.err.as_str()), (0, ""), "{name} {to}");
            let (_, next) = result.out.trim_end().split_once("Next: saggar ").unwrap();
            let next: Vec<&str> = next.split_whitespace().collect();
            let result = run(&folder, &next);
            assert!(result.code < 2 && result.out.contains("Report: "), "{result:#?}");
            let fails = name == "infiltrate-alumina-too-short";
            assert_eq!(result.code == 1, fails, "{name}: {}", result.out);
            assert_eq!(run(&folder, &["check", next[1]]).code, 0);
        }
    }
}

#[test]
fn every_profile_passes_check_unchanged() {
    for name in listed("profile") {
        let folder = TempDir::new().unwrap();
        assert_eq!(run(&folder, &["new", &name, "ours.toml"]).code, 0);
        let text = std::fs::read(folder.path().join("ours.toml")).unwrap();
        assert_eq!(text, std::fs::read(docs().join(format!("furnaces/{name}.toml"))).unwrap());
        assert_eq!(run(&folder, &["check", "ours.toml"]).code, 0);
    }
}

#[test]
fn a_missing_folder_is_created() {
    let folder = TempDir::new().unwrap();
    let result = run(&folder, &["new", "clean-alumina", "our/jobs/one.toml"]);
    assert_eq!(result.code, 0, "{result:#?}");
    assert_eq!(run(&folder, &["check", "our/jobs/one.toml"]).code, 0);

    std::fs::write(folder.path().join("file"), "precious").unwrap();
    let result = run(&folder, &["new", "clean-alumina", "file/one.toml"]);
    assert_eq!((result.code, result.out.as_str()), (2, ""), "{result:#?}");
    let err = result.err.replace("\n  ", " ");
    assert!(err.contains("a file has the name of the folder"), "{err}");
}

#[test]
fn nothing_is_replaced() {
    let folder = TempDir::new().unwrap();
    let read = |name: &str| std::fs::read_to_string(folder.path().join(name)).unwrap();
    std::fs::write(folder.path().join("job.toml"), "precious").unwrap();
    let result = run(&folder, &["new", "clean-alumina", "job.toml"]);
    assert_eq!((result.code, result.out.as_str()), (2, ""), "{result:#?}");
    assert!(result.err.contains("it exists already: name another"), "{}", result.err);
    assert_eq!(read("job.toml"), "precious");
    assert!(!folder.path().join("teaching-door.toml").exists());

    // An existing profile that fits the schedule is kept; any other is an error.
    let door = std::fs::read_to_string(docs().join("furnaces/teaching-door.toml")).unwrap();
    let ours = door.replace("name = \"Fieldfare\"", "name = \"Ours\"");
    std::fs::write(folder.path().join("teaching-door.toml"), &ours).unwrap();
    let result = run(&folder, &["new", "clean-alumina"]);
    assert!(result.code == 0 && result.out.contains("teaching-door.toml: kept"), "{result:#?}");
    assert_eq!(read("teaching-door.toml"), ours);
    std::fs::write(folder.path().join("teaching-door.toml"), "name = 3\n").unwrap();
    let result = run(&folder, &["new", "clean-alumina", "other.toml"]);
    assert_eq!((result.code, result.out.as_str()), (2, ""), "{result:#?}");
    let err = result.err.replace("\n  ", " ");
    assert!(err.contains("the schedule does not fit it"), "{err}");
    assert_eq!(read("teaching-door.toml"), "name = 3\n");
    assert!(!folder.path().join("other.toml").exists());
}

#[test]
fn an_unknown_example_is_answered_with_the_nearest() {
    let folder = TempDir::new().unwrap();
    let result = run(&folder, &["new", "infiltrate-alumna"]);
    assert_eq!(result.code, 2);
    assert!(
        result.err.contains("similar value exists: 'infiltrate-alumina'"),
        "{}",
        result.err
    );
}

/// A folder that does not exist looks like a file without an ending.
#[test]
fn new_refuses_a_file_name_without_toml_and_writes_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let result = run(&folder, &["new", "infiltrate-alumina", "mine"]);
    assert_eq!(result.code, 2, "{result:#?}");
    let text = result.err.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(text.contains("its name must end in .toml; for a folder"), "{text}");
    assert_eq!(std::fs::read_dir(&folder).unwrap().count(), 0);
}
