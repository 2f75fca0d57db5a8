//! Prints the results of `check`, `compile` and `show`.

use std::io;

use serde_json::{Value, json};

use super::error::{diagnostics_json, print_diagnostics};
use crate::commands::{
    CheckResult, CheckedFile, CompileResult, FaultSummary, ProfileSummary, ProgrammeListing,
    StepListing,
};
use saggar_files::{diagnostics_summary, short};
use saggar_schedule::schedule::{ProgrammeSummary, vacuum_phrase};
use saggar_terminal::DisplayOptions;
use saggar_terminal::{GOOD, Printer, STRONG, StyledLine, stderr, stdout};
use saggar_terminal::{plural, print_answer, print_json, with_ok};
use saggar_verdict::format::{Scale, duration, one_decimal};

/// Prints the results of `check`.
///
/// # Errors
/// The output cannot be written.
pub fn check_results(checked: &[CheckResult], display: &DisplayOptions) -> io::Result<()> {
    if display.json {
        let files: Vec<_> = checked.iter().map(checked_json).collect();
        let ok = checked.iter().all(|one| one.outcome.is_ok());
        return print_json(&json!({ "ok": ok, "files": files }));
    }
    let mut all = Vec::new();
    // Flushed after each file, so that the two streams stay in order; a blank line separates files.
    let (mut good_before, mut bad_before) = (false, false);
    for one in checked {
        match &one.outcome {
            Ok(good) => {
                let mut out = stdout(display);
                if good_before {
                    out.blank()?;
                }
                match good {
                    CheckedFile::Schedule(compiled) => {
                        head(&mut out, compiled, "good", display)?;
                    }
                    CheckedFile::Profile(profile) => {
                        profile_summary(&mut out, profile, display)?;
                    }
                    CheckedFile::Faults(faults) => fault_summary(&mut out, faults)?,
                }
                out.flush()?;
                good_before = true;
            }
            Err(diagnostics) => {
                if bad_before || good_before && display.for_terminal {
                    let _ = stderr(display).blank();
                }
                print_diagnostics(diagnostics, display);
                all.extend(diagnostics.iter().cloned());
                bad_before = true;
            }
        }
    }
    if !all.is_empty() {
        let _ = stderr(display).line(diagnostics_summary(&all));
    }
    Ok(())
}

fn checked_json(checked: &CheckResult) -> Value {
    match &checked.outcome {
        Ok(good) => {
            let mut value = with_ok(json!(good));
            value["findings"] = json!([]);
            value
        }
        Err(wrong) => {
            json!({ "file": checked.file, "ok": false, "findings": diagnostics_json(wrong) })
        }
    }
}

/// Prints the result of `compile`.
///
/// # Errors
/// The output cannot be written.
pub fn compiled_schedule(compiled: &CompileResult, display: &DisplayOptions) -> io::Result<()> {
    print_answer(
        display,
        || with_ok(json!(compiled)),
        |out| {
            head(out, compiled, "written", display)?;
            digest(out, &compiled.programme)
        },
    )
}

/// A schedule in which nothing is wrong.
fn head(
    out: &mut Printer<'_>,
    compiled: &CompileResult,
    word: &str,
    display: &DisplayOptions,
) -> io::Result<()> {
    let CompileResult { file, furnace, programme, late_ramps } = compiled;
    out.wrapped(StyledLine::from(format!("{file}: ")).styled(GOOD, word), "", "  ")?;
    let title = StyledLine::default().styled(STRONG, &programme.name);
    out.wrapped(title.plain(&format!(" (for {furnace})")), "  ", "    ")?;
    figures(out, programme, display)?;
    late_ramps.iter().try_for_each(|ramp| {
        let text = format!(
            "{} reaches {} in about {} instead of {}, because of the heat stored in the element",
            ramp.phrase,
            display.scale.temperature(ramp.to_celsius),
            duration(ramp.planned_seconds),
            duration(ramp.at_rate_seconds)
        );
        out.wrapped(text, "  ", "    ")
    })
}

/// A list of faults in which nothing is wrong.
fn fault_summary(out: &mut Printer<'_>, summary: &FaultSummary) -> io::Result<()> {
    let head = StyledLine::from(format!("{}: ", summary.file)).styled(GOOD, "good");
    out.wrapped(head, "", "  ")?;
    summary.faults.iter().try_for_each(|fault| out.wrapped(fault.as_str(), "  ", "    "))
}

/// A furnace profile in which nothing is wrong.
fn profile_summary(
    out: &mut Printer<'_>,
    profile: &ProfileSummary,
    display: &DisplayOptions,
) -> io::Result<()> {
    let head = StyledLine::from(format!("{}: ", profile.file)).styled(GOOD, "good");
    out.wrapped(head, "", "  ")?;
    out.wrapped(StyledLine::default().styled(STRONG, &profile.furnace), "  ", "    ")?;
    let pump = if profile.has_pump { "with a vacuum pump" } else { "no vacuum" };
    out.wrapped(format!("{} W, {pump}", one_decimal(profile.rated_watt)), "  ", "    ")?;
    let peak = display.scale.temperature(profile.programme_max_celsius);
    let rate = display.scale.rate(profile.ramp_max_kelvin_per_minute);
    out.wrapped(format!("programmes up to {peak}, ramps up to {rate}"), "  ", "    ")?;
    let digest = profile.furnace_digest.get(..8).unwrap_or_default();
    out.wrapped(format!("furnace data {digest}"), "  ", "    ")
}

/// Prints the steps of a programme.
///
/// # Errors
/// The output cannot be written.
pub fn programme(shown: &ProgrammeListing, display: &DisplayOptions) -> io::Result<()> {
    print_answer(
        display,
        || json!({ "ok": true, "programme": shown }),
        |out| {
            let summary = &shown.summary;
            out.wrapped(StyledLine::default().styled(STRONG, &summary.name), "", "  ")?;
            figures(out, summary, display)?;
            digest(out, summary)?;
            for (index, step) in shown.list.iter().enumerate() {
                let text = step_words(step, display.scale);
                out.wrapped(text, format!("{:>4}  ", index + 1), "      ")?;
            }
            Ok(())
        },
    )
}

fn figures(
    out: &mut Printer<'_>,
    programme: &ProgrammeSummary,
    display: &DisplayOptions,
) -> io::Result<()> {
    let mut parts = vec![
        plural(programme.steps.into(), "step", "steps"),
        format!("at least {}", duration(programme.shortest_seconds)),
    ];
    if programme.cools {
        parts.push("plus time to cool".to_owned());
    }
    if programme.holds == 1 {
        parts.push("asks the operator once".to_owned());
    } else if programme.holds > 1 {
        parts.push(format!("asks the operator {} times", programme.holds));
    }
    out.wrapped(parts.join(", "), "  ", "    ")?;
    let peak = programme.peak_celsius.map_or_else(
        || "no heat".to_owned(),
        |peak| format!("peak {}", display.scale.temperature(peak)),
    );
    let vacuum = programme.vacuum.map_or_else(
        || "in air".to_owned(),
        |vacuum| vacuum_phrase(vacuum.from_celsius, vacuum.to_hectopascal, display.scale),
    );
    out.wrapped(format!("{peak}, {vacuum}"), "  ", "    ")
}

fn digest(out: &mut Printer<'_>, programme: &ProgrammeSummary) -> io::Result<()> {
    let bytes = format!(", {} bytes, SHA-256:", programme.bytes);
    let line = StyledLine::default().styled(STRONG, short(&programme.digest)).plain(&bytes);
    out.wrapped(line, "  ", "    ")?;
    out.digest(&programme.digest)
}

fn step_words(step: &StepListing, scale: Scale) -> String {
    let mut words = step.action.standalone_phrase(scale);
    if let Some(vacuum) = &step.vacuum {
        words += &format!("; {}", vacuum.standalone_phrase(scale));
    }
    words
}
