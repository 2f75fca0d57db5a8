//! The verdict of a rehearsal, for a person.

use std::io::{self, Write};

use anstyle::{AnsiColor, Style};
use saggar_sim::verdict::{Finding, Outcome, Scale, words};

use super::human::wrapped;
use crate::commands::Rehearsed;
use crate::settings::Display;

const GOOD: Style = AnsiColor::Green.on_default().bold();
const BAD: Style = AnsiColor::Red.on_default().bold();

/// Shows what a rehearsal came to: failures first, then what passed, then what is to be known.
pub(super) fn show(
    out: &mut impl Write,
    rehearsed: &Rehearsed,
    display: &Display,
) -> io::Result<()> {
    let plan = &rehearsed.plan;
    let title = format!("{} on {}", plan.schedule.name, plan.profile.name);
    wrapped(out, &title, "", "", display.width)?;
    let verdict = &rehearsed.fired.verdict;
    let failed = verdict.findings.iter().filter(|f| f.outcome == Outcome::Fail).count();
    match failed {
        0 => writeln!(out, "{GOOD}PASS{GOOD:#}: nothing in this rehearsal speaks against it")?,
        1 => writeln!(out, "{BAD}FAIL{BAD:#}: 1 finding")?,
        more => writeln!(out, "{BAD}FAIL{BAD:#}: {more} findings")?,
    }
    for (outcome, mark, style) in [
        (Outcome::Fail, "FAIL", BAD),
        (Outcome::Pass, "pass", GOOD),
        (Outcome::Note, "    ", Style::new()),
    ] {
        let of_it = |finding: &&Finding| finding.outcome == outcome;
        let mut findings = verdict.findings.iter().filter(of_it).peekable();
        if findings.peek().is_some() {
            writeln!(out)?;
        }
        for finding in findings {
            line(out, finding, mark, style, display)?;
        }
    }
    if let Some(saved) = &rehearsed.saved {
        writeln!(out, "\nReport: {}", saved.html.display())?;
    }
    writeln!(out)?;
    let caution = "A rehearsal is a simulation and no proof. Nothing here is certified; a \
                   furnace needs an independent hardware over-temperature cut-out.";
    wrapped(out, caution, "", "", display.width)
}

fn line(
    out: &mut impl Write,
    finding: &Finding,
    mark: &str,
    style: Style,
    display: &Display,
) -> io::Result<()> {
    let scale = if display.fahrenheit { Scale::Fahrenheit } else { Scale::Celsius };
    let text =
        format!("{}: {}", words::title(finding.subject), words::sentence(finding, scale));
    write!(out, "{style}{mark}{style:#} ")?;
    wrapped(out, &text, "", "     ", display.width.saturating_sub(5))
}
