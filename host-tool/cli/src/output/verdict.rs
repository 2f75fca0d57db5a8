//! Prints the verdict of a rehearsal.

use std::io;
use std::path::Path;

use anstyle::Style;
use saggar_core::events::{Event, EventKind};
use saggar_verdict::{Finding, Outcome, Verdict, VerdictResult, Wording};

use crate::commands::RehearsalResult;
use saggar_files::feature::Feature;
use saggar_files::sanitized;
use saggar_report::WEAK_HEATER;
use saggar_terminal::DisplayOptions;
use saggar_terminal::{BAD, GOOD, Printer, StyledLine, UNKNOWN, plain_stdout, stdout};

/// Prints the verdict of a rehearsal.
///
/// # Errors
/// The output cannot be written.
pub fn rehearsal_result(
    rehearsed: &RehearsalResult,
    display: &DisplayOptions,
) -> io::Result<()> {
    if display.json {
        let mut out = plain_stdout();
        out.json_text(&rehearsed.json)?;
        return out.flush();
    }
    let mut out = stdout(display);
    show(&mut out, rehearsed, display)?;
    out.flush()
}

/// Failures first, then what is not known, then what passed, then the notes; the result on the first and the last lines.
fn show(
    out: &mut Printer<'_>,
    rehearsed: &RehearsalResult,
    display: &DisplayOptions,
) -> io::Result<()> {
    let plan = &rehearsed.plan;
    let title = format!("{} on {}", plan.schedule.name, plan.profile.name);
    out.wrapped(title, "", "")?;
    let verdict = &rehearsed.fired.verdict;
    let head = heading(verdict);
    out.wrapped(head.clone(), "", "      ")?;
    if let Some(conditions) = &rehearsed.conditions {
        out.wrapped(conditions, "", "     ")?;
    }
    for excuse in &rehearsed.fault_remarks {
        out.wrapped(excuse, "", "     ")?;
    }
    let is_weak = |event: &Event| event.kind == EventKind::HeaterWeak;
    if rehearsed.fired.trace.events.iter().any(is_weak) {
        let weak = format!("the heater carried {WEAK_HEATER}");
        out.wrapped(weak, "", "     ")?;
    }
    let terms = Wording { scale: display.scale, stages: &plan.map.verdict_stages() };
    findings(out, verdict, terms)?;
    if matches!(rehearsed.saved, Some(Ok(_)))
        && Feature::Png.require(saggar_report::DRAWS_PNG).is_err()
    {
        out.blank()?;
        let text = "No chart.png: this build leaves its feature `png` out.";
        out.wrapped(text, "", "  ")?;
    }
    out.blank()?;
    let caution = "A rehearsal is a simulation and no proof. Nothing here is certified; a \
                   furnace needs an independent hardware over-temperature cut-out.";
    out.wrapped(caution, "", "")?;
    out.blank()?;
    out.wrapped(head, "", "      ")?;
    files(out, rehearsed)
}

/// The result with the names of the checks that did not pass, as it heads and ends a verdict.
pub(super) fn heading(verdict: &Verdict) -> StyledLine {
    let result = verdict.result();
    let style = match result {
        VerdictResult::Pass => GOOD,
        VerdictResult::Fail => BAD,
        VerdictResult::NotKnown => UNKNOWN,
    };
    let head = StyledLine::default().styled(style, result.heading());
    head.plain(&format!(": {}", verdict.headline()))
}

/// The findings, each kind after a blank line.
pub(super) fn findings(
    out: &mut Printer<'_>,
    verdict: &Verdict,
    terms: Wording<'_>,
) -> io::Result<()> {
    for (outcome, mark, style) in [
        (Outcome::Fail, "FAIL", BAD),
        (Outcome::NotKnown, "NOT KNOWN", UNKNOWN),
        (Outcome::Pass, "pass", GOOD),
        (Outcome::Note, "    ", Style::new()),
    ] {
        let of_it = |finding: &&Finding| finding.outcome == outcome;
        let mut findings = verdict.findings.iter().filter(of_it).peekable();
        if findings.peek().is_some() {
            out.blank()?;
        }
        for finding in findings {
            let text = format!("{}: {}", finding.subject.title(), finding.sentence(terms));
            let mark = StyledLine::default().styled(style, mark).plain(" ");
            out.wrapped(text, mark, "     ")?;
        }
    }
    Ok(())
}

/// The reason in a clearance.
pub(super) fn reason_line(reason: &str) -> String {
    format!("Cleared although the verdict is NOT KNOWN, for this reason: {reason}")
}

/// Where the report and the clearance are, or why there is no clearance.
fn files(out: &mut Printer<'_>, rehearsed: &RehearsalResult) -> io::Result<()> {
    let shown = |path: &Path| sanitized(&path.display().to_string(), 400);
    let mut obstacles = rehearsed.obstacles.clone();
    if rehearsed.reason_unused {
        let unused = "--reason was not used: only a verdict that is NOT KNOWN needs one.";
        out.wrapped(unused, "", "  ")?;
    }
    match &rehearsed.saved {
        Some(Ok(saved)) => {
            out.wrapped(format!("Report: {}", shown(&saved.html)), "", "  ")?;
            if let Some(clearance) = &saved.clearance {
                let cleared = format!("Cleared for upload: {}", shown(clearance));
                out.wrapped(cleared, "", "  ")?;
                return match &rehearsed.reason {
                    Some(reason) => out.wrapped(reason_line(reason.as_str()), "", "  "),
                    None => Ok(()),
                };
            }
        }
        Some(Err(_)) if obstacles.is_empty() => obstacles.push("the report was not written"),
        None if obstacles.is_empty() => obstacles.push("--no-report was given"),
        Some(Err(_)) | None => {}
    }
    out.wrapped(format!("Not cleared for upload: {}", obstacles.join("; ")), "", "  ")
}
