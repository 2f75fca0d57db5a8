//! The verdict of a rehearsal, for a person.

use std::io;

use anstyle::{AnsiColor, Style};
use saggar_plant::verdict::{Finding, Outcome, Terms};

use super::screen::{Line, Out};
use super::wrap::wrapped;
use crate::commands::Rehearsed;
use crate::settings::Display;
use saggar_files::feature::Feature;
use saggar_files::shown;
use saggar_report::Saved;

const GOOD: Style = AnsiColor::Green.on_default().bold();
const BAD: Style = AnsiColor::Red.on_default().bold();

/// Shows what a rehearsal came to: failures first, then what passed, then what is to be known.
pub(super) fn show(
    out: &mut Out<'_>,
    rehearsed: &Rehearsed,
    display: &Display,
) -> io::Result<()> {
    let plan = &rehearsed.plan;
    let title = format!("{} on {}", plan.schedule.name, plan.profile.name);
    wrapped(out, title, "", "", display.width)?;
    let verdict = &rehearsed.fired.verdict;
    let (style, word) = if verdict.passed { (GOOD, "PASS") } else { (BAD, "FAIL") };
    let head = Line::default().styled(style, word).plain(&format!(": {}", verdict.sum()));
    wrapped(out, head, "", "      ", display.width)?;
    if let Some(conditions) = &rehearsed.conditions {
        wrapped(out, conditions, "", "     ", display.width)?;
    }
    for excuse in &rehearsed.excuses {
        wrapped(out, excuse, "", "     ", display.width)?;
    }
    let terms = Terms { scale: display.scale, stages: &plan.map.named() };
    for (outcome, mark, style) in [
        (Outcome::Fail, "FAIL", BAD),
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
            let mark = Line::default().styled(style, mark).plain(" ");
            wrapped(out, text, mark, "     ", display.width)?;
        }
    }
    if let Some(Ok(saved)) = &rehearsed.saved {
        out.blank()?;
        let path = shown(&saved.html.display().to_string(), 400);
        wrapped(out, format!("Report: {path}"), "", "  ", display.width)?;
    }
    if let Some(Ok(Saved { clearance: Some(clearance), .. })) = &rehearsed.saved {
        let path = shown(&clearance.display().to_string(), 400);
        wrapped(out, format!("Cleared for upload: {path}"), "", "  ", display.width)?;
    }
    if matches!(rehearsed.saved, Some(Ok(_)))
        && Feature::Png.require(saggar_report::DRAWS_PNG).is_err()
    {
        let text = "No chart.png: this build leaves its feature `png` out.";
        wrapped(out, text, "", "  ", display.width)?;
    }
    out.blank()?;
    let caution = "A rehearsal is a simulation and no proof. Nothing here is certified; a \
                   furnace needs an independent hardware over-temperature cut-out.";
    wrapped(out, caution, "", "", display.width)
}
