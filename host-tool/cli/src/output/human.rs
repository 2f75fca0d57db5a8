//! Results as a person reads them, in as few columns as there are.

use std::io;

use clap::builder::styling::{AnsiColor, Style};

use super::screen::{Line, Out};
use super::wrap::wrapped;
use crate::commands::{Compiled, Passed, ShownProgramme, ShownStep};
use crate::settings::Display;
use saggar_plant::say::{Scale, duration};
use saggar_schedule::schedule::{Summary, vacuum_words};

const GOOD: Style = AnsiColor::Green.on_default().bold();
const STRONG: Style = Style::new().bold();

/// A schedule that may run.
pub(super) fn passed(
    out: &mut Out<'_>,
    file: &str,
    passed: &Passed,
    display: &Display,
) -> io::Result<()> {
    let programme = &passed.programme;
    let good = Line::from(format!("{file}: ")).styled(GOOD, "good");
    wrapped(out, good, "", "  ", display.width)?;
    wrapped(out, title(programme, &passed.furnace), "  ", "    ", display.width)?;
    figures(out, programme, display)
}

/// A programme that was written.
pub(super) fn compiled(
    out: &mut Out<'_>,
    compiled: &Compiled,
    display: &Display,
) -> io::Result<()> {
    let programme = &compiled.programme;
    let written = Line::from(format!("{}: ", compiled.file)).styled(GOOD, "written");
    wrapped(out, written, "", "  ", display.width)?;
    wrapped(out, title(programme, &compiled.furnace), "  ", "    ", display.width)?;
    figures(out, programme, display)?;
    digest(out, programme, display)
}

/// A programme, step by step.
pub(super) fn programme(
    out: &mut Out<'_>,
    shown: &ShownProgramme,
    display: &Display,
) -> io::Result<()> {
    let summary = &shown.summary;
    let name = Line::default().styled(STRONG, &summary.name);
    wrapped(out, name, "", "  ", display.width)?;
    figures(out, summary, display)?;
    digest(out, summary, display)?;
    for (index, step) in shown.list.iter().enumerate() {
        let text = step_words(step, display.scale);
        wrapped(out, text, format!("{:>4}  ", index + 1), "      ", display.width)?;
    }
    Ok(())
}

fn title(programme: &Summary, furnace: &str) -> Line {
    Line::default().styled(STRONG, &programme.name).plain(&format!(" (for {furnace})"))
}

fn figures(out: &mut Out<'_>, programme: &Summary, display: &Display) -> io::Result<()> {
    let mut parts = vec![
        match programme.steps {
            1 => "1 step".to_owned(),
            steps => format!("{steps} steps"),
        },
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
    wrapped(out, parts.join(", "), "  ", "    ", display.width)?;
    let peak = programme.peak_celsius.map_or_else(
        || "no heat".to_owned(),
        |peak| format!("peak {}", display.scale.temperature(peak)),
    );
    let vacuum = programme.vacuum.map_or_else(
        || "in air".to_owned(),
        |vacuum| vacuum_words(vacuum.from_celsius, vacuum.to_hectopascal, display.scale),
    );
    wrapped(out, format!("{peak}, {vacuum}"), "  ", "    ", display.width)
}

fn digest(out: &mut Out<'_>, programme: &Summary, display: &Display) -> io::Result<()> {
    let short = programme.short_name();
    let bytes = format!(", {} bytes, SHA-256:", programme.bytes);
    let line = Line::default().styled(STRONG, short).plain(&bytes);
    wrapped(out, line, "  ", "    ", display.width)?;
    // A narrow screen has no room for all of it in one line.
    let whole = programme.digest.len();
    let piece = if display.width < whole + 2 { whole.div_ceil(3) } else { whole };
    for from in (0..whole).step_by(piece.max(1)) {
        let to = (from + piece).min(whole);
        out.line(format!("  {}", programme.digest.get(from..to).unwrap_or_default()))?;
    }
    Ok(())
}

fn step_words(step: &ShownStep, scale: Scale) -> String {
    let mut words = step.action.order(scale);
    if let Some(vacuum) = &step.vacuum {
        words += &format!("; {}", vacuum.order(scale));
    }
    words
}
