//! What is answered: text for a person, or JSON for a program.

use std::io;

use serde_json::{Value, json};

use super::screen::{Printer, plain_stdout, stderr, stdout};
use crate::invocation::DisplayOptions;

/// Answers a person or a program, whoever asked.
pub(super) fn print_answer(
    display: &DisplayOptions,
    for_programs: impl FnOnce() -> Value,
    for_people: impl FnOnce(&mut Printer<'_>) -> io::Result<()>,
) -> io::Result<()> {
    if display.json {
        return print_json(&for_programs());
    }
    let mut out = stdout(display);
    for_people(&mut out)?;
    out.flush()
}

/// Answers a program.
pub(super) fn print_json(value: &Value) -> io::Result<()> {
    let mut out = plain_stdout();
    out.json(value)?;
    out.flush()
}

/// An answer to a program, of what was done as it was asked.
pub(super) fn with_ok(mut value: Value) -> Value {
    value["ok"] = json!(true);
    value
}

/// Says one thing that was done, with what there is to add for programs.
pub(super) fn print_confirmation(
    text: &str,
    json: Value,
    display: &DisplayOptions,
) -> io::Result<()> {
    print_answer(display, || with_ok(json), |out| out.wrapped(text, "", "  "))
}

/// Says what goes on meanwhile, to a person.
pub fn notice(text: &str, display: &DisplayOptions) {
    if !display.json {
        let _ = stderr(display).wrapped(text, "", "  ");
    }
}

/// Prints what was made of the tool's own description: a script, or a page.
///
/// # Errors
/// The output cannot be written.
pub fn print_generated(bytes: &[u8]) -> io::Result<()> {
    let mut out = plain_stdout();
    out.raw(bytes)?;
    out.flush()
}

/// "1 tick", "3 ticks"
pub(super) fn plural(count: u64, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}
