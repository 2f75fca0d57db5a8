//! Runs the commands in the book's pages and the README, and compares their output with what the pages
//! show.
//!
//! Each page is run from top to bottom, in a folder with the examples:
//!
//! - a `console` block: every line that begins with `$ ` is run by a shell, and the lines after it are the
//!   expected output. A line `...` stands for any lines, `[..]` for any part of a line;
//! - an `sh` block: the commands of this tool in it are run, and each exits with 0 or 1;
//! - a comment `<!-- $ COMMAND`, output, `-->`: as a console block, for figures in prose and tables;
//!   `<!-- $ COMMAND -->` on one line stands for a step by hand: it has no output and exits with 0;
//! - a comment `<!-- file: PATH -->`: the next block is written to this file.
//!
//! `SAGGAR_BOOK=overwrite cargo test -p saggar --test book` replaces the expected output where it has no
//! `...`; prose and tables are for a person to correct.

#![cfg(unix)]
#![allow(clippy::unwrap_used, reason = "a test that cannot go on must stop")]

mod block;
mod matching;

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::thread;

use block::{Block, Kind, Turn};
use tempfile::TempDir;

/// Fewer commands mean that the search for them is broken.
const COMMANDS_MIN: usize = 60;

#[test]
fn the_output_shown_in_the_book_is_current() {
    let pages = pages();
    let overwrite = std::env::var_os("SAGGAR_BOOK").is_some_and(|value| value == "overwrite");
    let played: Vec<(usize, Vec<String>)> = thread::scope(|scope| {
        let each = |page| scope.spawn(move || run_page(page, overwrite));
        let running: Vec<_> = pages.iter().map(each).collect();
        running.into_iter().map(|page| page.join().unwrap()).collect()
    });
    let wrong: Vec<&String> = played.iter().flat_map(|(_, wrong)| wrong).collect();
    for one in &wrong {
        println!("{one}\n");
    }
    assert!(wrong.is_empty(), "{} blocks of the book are not true", wrong.len());
    let commands: usize = played.iter().map(|(commands, _)| commands).sum();
    assert!(commands >= COMMANDS_MIN, "only {commands} commands found in the book");
}

fn tree() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

fn pages() -> Vec<PathBuf> {
    let mut pages = vec![tree().join("README.md")];
    for entry in fs::read_dir(tree().join("docs")).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_some_and(|extension| extension == "md") {
            pages.push(path);
        }
    }
    pages.sort();
    pages
}

/// Runs a page; returns the number of commands, and the errors.
fn run_page(page: &PathBuf, overwrite: bool) -> (usize, Vec<String>) {
    let text = fs::read_to_string(page).unwrap();
    let bench = TempDir::new().unwrap();
    for kind in ["schedules", "furnaces"] {
        let to = bench.path().join("docs").join(kind);
        fs::create_dir_all(&to).unwrap();
        for entry in fs::read_dir(tree().join("docs").join(kind)).unwrap() {
            let from = entry.unwrap().path();
            fs::copy(&from, to.join(from.file_name().unwrap())).unwrap();
        }
    }
    let (mut commands, mut wrong, mut last) = (0, Vec::new(), 0);
    let mut new_text: Vec<String> = text.lines().map(str::to_owned).collect();
    // Applied from the end, so that earlier line numbers stay valid.
    let mut changes = Vec::new();
    for Block { kind, first_line, turns } in block::read(&text) {
        if let Kind::File(path) = &kind {
            let content: String = turns.iter().flat_map(|turn| turn.said.clone()).collect();
            fs::write(bench.path().join(path), content).unwrap();
            continue;
        }
        for Turn { command, line, said } in turns {
            let (code, found) = run(bench.path(), &command, last);
            (last, commands) = (code, commands + 1);
            let at = format!("{}:{}", page.display(), first_line + line);
            let good = match kind {
                Kind::Console | Kind::File(_) => matching::matches(&said, &found),
                Kind::Quiet => code == 0 && found.is_empty(),
                Kind::Shell => code < 2,
            };
            let elided = said.iter().any(|line| line.contains("...") || line.contains("[..]"));
            if !good && overwrite && kind == Kind::Console && !elided {
                let from = first_line + line;
                changes.push((from..from + said.len(), found));
            } else if !good {
                wrong.push(format!("{at}: `{command}` ends with {code} and says\n{found}"));
            }
        }
    }
    for (range, found) in changes.iter().rev() {
        new_text.splice(range.clone(), found.lines().map(str::to_owned));
    }
    if !changes.is_empty() {
        fs::write(page, new_text.join("\n") + "\n").unwrap();
    }
    (commands, wrong)
}

/// Exit code and output of a command.
fn run(folder: &Path, command: &str, last: i32) -> (i32, String) {
    let tool = Path::new(env!("CARGO_BIN_EXE_saggar")).parent().unwrap();
    let path = format!("{}:{}", tool.display(), std::env::var("PATH").unwrap());
    let command = command.replace("cargo run --release -- ", "saggar ");
    let command = command.replace("$?", &last.to_string());
    let output = Command::new("sh")
        .args(["-c", &format!("exec 2>&1; {command}")])
        .current_dir(folder)
        .env("PATH", path)
        .env("HOME", folder)
        .envs([("NO_COLOR", "1"), ("COLUMNS", "80"), ("LC_ALL", "C")])
        .env_remove("SAGGAR_BOOK")
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&output.stdout).into_owned();
    (output.status.code().unwrap_or(255), said)
}
