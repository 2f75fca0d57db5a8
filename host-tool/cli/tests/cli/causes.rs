//! The exercise on the page of each cause: its last command ends with a trip of that cause. A page whose
//! cause no rehearsal can show names the test that does.

use std::fs;
use std::path::Path;
use std::process::Command;

use super::bench::{Bench, GOOD, docs};

#[test]
fn the_exercise_of_every_cause_ends_with_its_trip() {
    let mut pages = 0;
    for entry in fs::read_dir(docs().join("causes")).unwrap() {
        let path = entry.unwrap().path();
        let page = fs::read_to_string(&path).unwrap();
        let cause = page.lines().next().unwrap().trim_start_matches("# ").to_lowercase();
        let (_, exercise) = page.split_once("\n## Exercise\n\n").unwrap();
        match exercise.split_once("```sh\n") {
            Some((_, commands)) => {
                let (commands, _) = commands.split_once("```").unwrap();
                assert_trips(commands, &cause);
            }
            None => assert_names_a_test(exercise, &cause),
        }
        pages += 1;
    }
    assert!(pages > 20, "only {pages} pages");
}

/// Runs the commands in a folder with the documents.
fn assert_trips(commands: &str, cause: &str) {
    let bench = Bench::with(GOOD);
    for folder in ["schedules", "furnaces"] {
        copy(&docs().join(folder), &bench.path("docs").join(folder));
    }
    let tool = Path::new(env!("CARGO_BIN_EXE_saggar")).parent().unwrap();
    let path = format!("{}:{}", tool.display(), std::env::var("PATH").unwrap());
    let mut last = String::new();
    for command in commands.lines() {
        let mut shell = Command::new("sh");
        shell.args(["-c", command]).current_dir(bench.path("")).env("PATH", &path);
        let output = shell.env("NO_COLOR", "1").env_remove("COLUMNS").output().unwrap();
        last = String::from_utf8(output.stdout).unwrap().replace("\n     ", " ");
        let code = output.status.code().unwrap();
        let rehearsed = command.starts_with("saggar rehearse ");
        let errors = String::from_utf8_lossy(&output.stderr);
        assert_eq!(code, i32::from(rehearsed), "{cause}: {command}\n{last}\n{errors}");
    }
    let ending = last.lines().find(|line| line.contains(" Ending: ")).unwrap();
    assert!(ending.contains(" an interlock tripped at "), "{cause}: {ending}");
    assert!(ending.contains(&format!(" min: {cause}. ")), "{cause}: {ending}");
}

fn copy(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap() {
        let file = entry.unwrap();
        fs::copy(file.path(), to.join(file.file_name())).unwrap();
    }
}

fn assert_names_a_test(exercise: &str, cause: &str) {
    let named = exercise.split('`').find(|quoted| quoted.starts_with("interlocks::"));
    let (module, name) = named.unwrap().rsplit_once("::").unwrap();
    let file = docs().join(format!("../tests/{}.rs", module.replace("::", "/")));
    let text = fs::read_to_string(file).unwrap();
    assert!(text.contains(&format!("#[test]\nfn {name}() {{")), "{cause}: {name} is no test");
}
