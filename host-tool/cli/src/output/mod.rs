//! Showing results: on standard output for whoever asked, as text or as JSON. Everything else,
//! findings above all, goes to standard error.

mod device;
mod finding;
mod human;
mod keys;
mod progress;
mod replay;
mod screen;
mod standin;
mod verdict;
mod view;
mod wrap;

use clap::CommandFactory as _;
use clap_complete::Shell;
use saggar_device::wire::LogLine;
use serde_json::json;

use crate::Error;
use crate::args::Args;
use crate::commands::device::{Info, Uploaded, words};
use crate::commands::{Checked, Compiled, Conclusion, Rehearsed, Replayed, ShownProgramme};
use crate::settings::Display;
pub use keys::{keys, set};
pub use progress::Progress;
use saggar_files::Finding;
use saggar_files::findings_line;
use screen::{before_settings, plain_stdout, stderr, stdout};
pub use standin::stand_in;
pub use view::View;

/// Shows what came of `check`.
///
/// # Errors
/// The output cannot be written.
pub fn checked(checked: &[Checked], display: &Display) -> Result<(), Error> {
    if display.json {
        let files: Vec<_> = checked.iter().map(checked_json).collect();
        let ok = checked.iter().all(|one| one.outcome.is_ok());
        return json_line(&json!({ "ok": ok, "files": files }));
    }
    let mut all = Vec::new();
    // Two streams, one order: each file is flushed before the next, and a blank line stands
    // between two of them.
    let (mut good_before, mut bad_before) = (false, false);
    for one in checked {
        match &one.outcome {
            Ok(passed) => {
                let mut out = stdout(display);
                if good_before {
                    out.blank()?;
                }
                human::passed(&mut out, &one.file, passed, display)?;
                out.flush()?;
                good_before = true;
            }
            Err(findings) => {
                if bad_before || good_before && display.drawn {
                    let _ = stderr(display).blank();
                }
                list(findings, display);
                all.extend(findings.iter().cloned());
                bad_before = true;
            }
        }
    }
    if !all.is_empty() {
        let _ = stderr(display).line(findings_line(&all));
    }
    Ok(())
}

/// Shows what came of `compile`.
///
/// # Errors
/// The output cannot be written.
pub fn compiled(compiled: &Compiled, display: &Display) -> Result<(), Error> {
    if display.json {
        let mut value = json!(compiled);
        value["ok"] = json!(true);
        return json_line(&value);
    }
    let mut out = stdout(display);
    human::compiled(&mut out, compiled, display)?;
    Ok(out.flush()?)
}

/// Shows the verdict of a rehearsal.
///
/// # Errors
/// The output cannot be written.
pub fn rehearsed(rehearsed: &Rehearsed, display: &Display) -> Result<(), Error> {
    if display.json {
        let mut out = plain_stdout();
        out.json_text(&rehearsed.json)?;
        return Ok(out.flush()?);
    }
    let mut out = stdout(display);
    verdict::show(&mut out, rehearsed, display)?;
    Ok(out.flush()?)
}

/// Shows why there is no report beside a verdict that was shown.
pub fn unsaved(error: &Error, display: &Display) {
    let mut err = stderr(display);
    let _ = wrap::wrapped(&mut err, format!("saggar: {error}"), "", "  ", display.width);
}

/// Shows a programme.
///
/// # Errors
/// The output cannot be written.
pub fn programme(shown: &ShownProgramme, display: &Display) -> Result<(), Error> {
    if display.json {
        return json_line(&json!({ "ok": true, "programme": shown }));
    }
    let mut out = stdout(display);
    human::programme(&mut out, shown, display)?;
    Ok(out.flush()?)
}

/// Shows who is there.
///
/// # Errors
/// The output cannot be written.
pub fn info(info: &Info, display: &Display) -> Result<(), Error> {
    if display.json {
        return json_line(&json!({ "ok": true, "device": info }));
    }
    let mut out = stdout(display);
    device::info(&mut out, info, display)?;
    Ok(out.flush()?)
}

/// Shows that a programme arrived.
///
/// # Errors
/// The output cannot be written.
pub fn uploaded(uploaded: &Uploaded, display: &Display) -> Result<(), Error> {
    if display.json {
        let mut value = json!(uploaded);
        value["ok"] = json!(true);
        return json_line(&value);
    }
    let mut out = stdout(display);
    device::uploaded(&mut out, uploaded, display)?;
    Ok(out.flush()?)
}

/// Shows the log of a device.
///
/// # Errors
/// The output cannot be written.
pub fn device_log(lines: &[LogLine], display: &Display) -> Result<(), Error> {
    if display.json {
        let line = |line: &LogLine| {
            let LogLine { number, boot, at_s, entry } = line;
            let said = words::entry(entry);
            json!({ "number": number, "boot": boot, "at_second": at_s, "text": said })
        };
        let lines: Vec<_> = lines.iter().map(line).collect();
        return json_line(&json!({ "ok": true, "lines": lines }));
    }
    let mut out = stdout(display);
    device::log(&mut out, lines, display)?;
    Ok(out.flush()?)
}

/// Shows what a replay came to.
///
/// # Errors
/// The output cannot be written.
pub fn replayed(replayed: &Replayed, display: &Display) -> Result<(), Error> {
    let Replayed { file, device, furnace, replay, torn, bytes: _, csv } = replayed;
    if display.json {
        let conclusion = replayed.conclusion();
        let torn = torn
            .map(|torn| json!({ "whole_bytes": torn.whole_bytes, "damaged": torn.damaged }));
        return json_line(&json!({
            "ok": conclusion == Conclusion::Equal,
            "conclusion": match conclusion {
                Conclusion::Equal => "equal",
                Conclusion::Different => "different",
                Conclusion::NotKnown => "not known",
                Conclusion::Damaged(_) => "damaged",
            },
            "why": replayed.why_not_known(),
            "file": file,
            "device": device,
            "furnace": furnace,
            "compared": replay.compared,
            "stretches": replay.stretches,
            "skipped": replay.skipped,
            "gaps": replay.gaps,
            "gap_count": replay.gap_count,
            "differs": replay.differs,
            "torn": torn,
            "csv": csv,
        }));
    }
    let mut out = stdout(display);
    replay::replayed(&mut out, replayed, display)?;
    Ok(out.flush()?)
}

/// Says one thing that was done, with what there is to add for programs.
///
/// # Errors
/// The output cannot be written.
pub fn done(text: &str, mut json: serde_json::Value, display: &Display) -> Result<(), Error> {
    if display.json {
        json["ok"] = json!(true);
        return json_line(&json);
    }
    let mut out = stdout(display);
    wrap::wrapped(&mut out, text, "", "  ", display.width)?;
    Ok(out.flush()?)
}

/// Says what goes on meanwhile, to a person.
pub fn notice(text: &str, display: &Display) {
    if !display.json {
        let _ = wrap::wrapped(&mut stderr(display), text, "", "  ", display.width);
    }
}

/// Shows help, or what is wrong with a command line, as the parser drew it. Nothing that was typed
/// may stand in it but written out. If it cannot be shown, the exit code still says it.
pub fn usage(drawn: &str, to_stderr: bool) {
    let _ = before_settings(to_stderr).drawn(drawn);
}

/// Shows what is wrong with a command line.
pub fn usage_without_colours(text: &str) {
    let mut out = before_settings(true);
    for line in text.lines() {
        let _ = out.line(line);
    }
}

/// Shows what is wrong with a command line to a program.
pub fn usage_for_programs(error: &str) {
    let _ = json_line(&json!({ "ok": false, "error": error, "findings": [] }));
}

/// Shows one message of an image.
///
/// # Errors
/// The output cannot be written.
pub fn message(level: Option<&str>, text: &str, display: &Display) -> Result<(), Error> {
    let mut out = plain_stdout();
    if display.json {
        out.json_row(&json!({ "level": level, "text": text }))?;
    } else {
        out.line(text)?;
    }
    Ok(out.flush()?)
}

/// Shows why a command did not do what it was asked to.
pub fn failed(error: &Error, display: &Display) {
    if display.json {
        let findings: Vec<_> = error.findings().iter().map(finding::json).collect();
        let value = json!({ "ok": false, "error": error.to_string(), "findings": findings });
        // If this cannot be written either, the exit code still says it.
        let _ = json_line(&value);
    } else if error.findings().is_empty() {
        let mut err = stderr(display);
        let _ = wrap::wrapped(&mut err, format!("saggar: {error}"), "", "  ", display.width);
    } else {
        report(error.findings(), display);
    }
}

/// Prints a completion script.
///
/// # Errors
/// The output cannot be written.
pub fn completions(shell: Shell) -> Result<(), Error> {
    let mut script = Vec::new();
    clap_complete::generate(shell, &mut Args::command(), "saggar", &mut script);
    generated(&script)
}

/// Prints the manual page.
///
/// # Errors
/// The output cannot be written.
pub fn manual() -> Result<(), Error> {
    let mut page = Vec::new();
    clap_mangen::Man::new(Args::command()).render(&mut page)?;
    generated(&page)
}

/// Findings, for a person.
fn report(findings: &[Finding], display: &Display) {
    list(findings, display);
    let _ = stderr(display).line(findings_line(findings));
}

fn list(findings: &[Finding], display: &Display) {
    let mut err = stderr(display);
    for one in findings {
        let _ = finding::show(&mut err, one, display);
    }
}

fn checked_json(checked: &Checked) -> serde_json::Value {
    match &checked.outcome {
        Ok(passed) => json!({
            "file": checked.file,
            "ok": true,
            "furnace": passed.furnace,
            "programme": passed.programme,
            "findings": [],
        }),
        Err(findings) => json!({
            "file": checked.file,
            "ok": false,
            "findings": findings.iter().map(finding::json).collect::<Vec<_>>(),
        }),
    }
}

fn json_line(value: &serde_json::Value) -> Result<(), Error> {
    let mut out = plain_stdout();
    out.json(value)?;
    Ok(out.flush()?)
}

fn generated(bytes: &[u8]) -> Result<(), Error> {
    let mut out = plain_stdout();
    out.generated(bytes)?;
    Ok(out.flush()?)
}
