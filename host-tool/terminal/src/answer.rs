//! Prints a result as text or as JSON.

use std::io;

use serde_json::{Value, json};

use crate::display::DisplayOptions;
use crate::screen::{Printer, plain_stdout, stderr, stdout};

/// Prints a result as text, or as JSON if that was asked for.
pub fn print_answer(
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

/// Prints JSON.
pub fn print_json(value: &Value) -> io::Result<()> {
    let mut out = plain_stdout();
    out.json(value)?;
    out.flush()
}

/// Adds `"ok": true`.
pub fn with_ok(mut value: Value) -> Value {
    value["ok"] = json!(true);
    value
}

/// Prints a confirmation; `json` has the details for programs.
pub fn print_confirmation(text: &str, json: Value, display: &DisplayOptions) -> io::Result<()> {
    print_answer(display, || with_ok(json), |out| out.wrapped(text, "", "  "))
}

/// Prints a notice on standard error while a command runs; nothing with `--json`.
pub fn notice(text: &str, display: &DisplayOptions) {
    if !display.json {
        let _ = stderr(display).wrapped(text, "", "  ");
    }
}

/// Prints a completion script or a manual page.
///
/// # Errors
/// The output cannot be written.
pub fn print_generated(bytes: &[u8]) -> io::Result<()> {
    let mut out = plain_stdout();
    out.raw(bytes)?;
    out.flush()
}

/// "1 tick", "3 ticks"
pub fn plural(count: u64, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}
