//! What is answered: text for a person, or JSON for a program.

use std::io;

use serde_json::{Value, json};

use super::screen::{Out, plain_stdout, stderr, stdout};
use crate::settings::Display;

/// Answers a person or a program, whoever asked.
pub(super) fn answer(
    display: &Display,
    for_programs: impl FnOnce() -> Value,
    for_people: impl FnOnce(&mut Out<'_>) -> io::Result<()>,
) -> io::Result<()> {
    if display.json {
        return json_lines(&for_programs());
    }
    let mut out = stdout(display);
    for_people(&mut out)?;
    out.flush()
}

/// Answers a program.
pub(super) fn json_lines(value: &Value) -> io::Result<()> {
    let mut out = plain_stdout();
    out.json(value)?;
    out.flush()
}

/// An answer to a program, of what was done as it was asked.
pub(super) fn ok(mut value: Value) -> Value {
    value["ok"] = json!(true);
    value
}

/// Says one thing that was done, with what there is to add for programs.
pub(super) fn done(text: &str, json: Value, display: &Display) -> io::Result<()> {
    answer(display, || ok(json), |out| out.wrapped(text, "", "  "))
}

/// Says what goes on meanwhile, to a person.
pub fn notice(text: &str, display: &Display) {
    if !display.json {
        let _ = stderr(display).wrapped(text, "", "  ");
    }
}

/// Prints what was made of the tool's own description: a script, or a page.
///
/// # Errors
/// The output cannot be written.
pub fn generated(bytes: &[u8]) -> io::Result<()> {
    let mut out = plain_stdout();
    out.generated(bytes)?;
    out.flush()
}

/// "1 tick", "3 ticks"
pub(super) fn counted(count: u64, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}
