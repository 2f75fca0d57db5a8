//! Every cause of a trip can be rehearsed: its page has an exercise, whose last command ends with that trip.

use std::fs;
use std::path::Path;
use std::process::Command;

use saggar_core::Cause;

use super::bench::{Bench, GOOD, docs};

#[test]
fn the_exercise_of_every_cause_ends_with_its_trip() {
    for cause in Cause::ALL {
        let name = cause.name();
        let file = docs().join("causes").join(format!("{}.md", name.replace(' ', "-")));
        let page = fs::read_to_string(file).expect(name);
        assert_eq!(page.lines().next().unwrap().to_lowercase(), format!("# {name}"));
        let (_, exercise) = page.split_once("\n## Exercise\n\n").expect(name);
        let (_, commands) = exercise.split_once("```sh\n").expect(name);
        let (commands, _) = commands.split_once("```").expect(name);
        assert_trips(commands, name);
    }
    let pages = fs::read_dir(docs().join("causes")).unwrap().count();
    assert_eq!(pages, Cause::ALL.len());
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
        // Only the last rehearsal must end with the trip.
        let allowed = if rehearsed { 0..=1 } else { 0..=0 };
        assert!(allowed.contains(&code), "{cause}: {command}\n{last}\n{errors}");
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
