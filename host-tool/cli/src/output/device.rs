//! What devices say, for a person.

use std::io;

use clap::builder::styling::{AnsiColor, Style};
use saggar_device::wire::LogLine;

use super::screen::{Line, Out};
use super::wrap::wrapped;
use crate::commands::device::{Info, Standing, Uploaded, words};
use crate::settings::Display;
use saggar_plant::say::{Scale, clock_to_the_second, duration, tidy};
use saggar_schedule::schedule::Summary;

const GOOD: Style = AnsiColor::Green.on_default().bold();
const STRONG: Style = Style::new().bold();

/// Who is there.
pub(super) fn info(out: &mut Out<'_>, info: &Info, display: &Display) -> io::Result<()> {
    let head = Line::default().styled(STRONG, &info.device);
    wrapped(out, head.plain(&format!(": {}", info.standing.state)), "", "  ", display.width)?;
    let mut line = |text: &str| wrapped(out, text, "", "  ", display.width);
    let since = duration(info.standing.at_second);
    line(&match info.boot {
        0 => format!(
            "image {}, up for {since}; its flash fails, so it takes no orders",
            info.image
        ),
        boot => format!("image {}, up for {since}, boot number {boot}", info.image),
    })?;
    line(if info.has_key {
        "has a key: uploads and stops take the same one"
    } else {
        "has no key: it takes no orders"
    })?;
    for text in figures(&info.standing, display.scale) {
        line(&text)?;
    }
    if info.standing.noise > 0 {
        line(&format!("{} frames arrived broken there", info.standing.noise))?;
    }
    if info.standing.damaged {
        line("a programme in its flash was found damaged and is not used")?;
    }
    match (&info.programme, &info.name) {
        (None, _) => line("no programme")?,
        (Some(whole), name) => {
            let name = name.as_deref().unwrap_or("(its name cannot be read)");
            let head = Line::from("programme ").styled(STRONG, short(whole));
            wrapped(out, head.plain(&format!(": {name}")), "", "  ", display.width)?;
            if let Some(summary) = &info.summary {
                let what = compared(summary, None, display.scale);
                wrapped(out, format!("its display shows {what}"), "", "  ", display.width)?;
            }
            digest(out, whole, display)?;
        }
    }
    wrapped(out, format!("furnace {}", short(&info.furnace)), "", "  ", display.width)?;
    digest(out, &info.furnace, display)
}

/// Figures of a furnace, each in a phrase.
pub(super) fn figures(standing: &Standing, scale: Scale) -> Vec<String> {
    let mut all = Vec::new();
    all.push(temperatures(standing, scale));
    if let Some(celsius) = standing.setpoint_celsius {
        all.push(format!("setpoint {}", scale.temperature(celsius)));
    }
    all.push(format!("duty {} %", tidy(standing.duty_percent)));
    if let Some(pressure) = standing.pressure_hectopascal {
        all.push(format!("{} hPa", tidy(pressure)));
    }
    all
}

/// What both channels read, each by its name: "control: no reading (open) · limit: 1118 °C".
fn temperatures(standing: &Standing, scale: Scale) -> String {
    let reads = |celsius: Option<f64>, fault: Option<&str>| match (celsius, fault) {
        (Some(celsius), _) => scale.temperature(celsius),
        (None, Some(fault)) => format!("no reading ({fault})"),
        (None, None) => "no reading".to_owned(),
    };
    let Standing { reading_celsius, control_fault, limit_celsius, limit_fault, .. } = standing;
    let control = format!("control: {}", reads(*reading_celsius, *control_fault));
    if limit_celsius.is_none() && limit_fault.is_none() {
        return control;
    }
    let at_most = if standing.limit_at_most { "at most " } else { "" };
    format!("{control} · limit: {at_most}{}", reads(*limit_celsius, *limit_fault))
}

/// A programme that arrived.
pub(super) fn uploaded(
    out: &mut Out<'_>,
    uploaded: &Uploaded,
    display: &Display,
) -> io::Result<()> {
    let (here, there) = (&uploaded.programme.digest, &uploaded.device_digest);
    let line =
        |out: &mut _, text: Line, first: &str| wrapped(out, text, first, "    ", display.width);
    let head = Line::from(format!("{}: ", uploaded.file)).styled(GOOD, "uploaded");
    line(out, head.plain(&format!(" to {}", uploaded.device)), "")?;
    line(out, Line::default().styled(STRONG, &uploaded.programme.name), "  ")?;
    line(out, format!("here:  {}", short(here)).into(), "  ")?;
    let how = if uploaded.read_back { "read back and compared" } else { "says the device" };
    line(out, format!("there: {}, {how}", short(there)).into(), "  ")?;
    if let Some(remark) = &uploaded.remark {
        line(out, format!("mind:  {remark}").into(), "  ")?;
    }
    let what = compared(&uploaded.programme, uploaded.code, display.scale);
    let shows = Line::from("The display at the furnace must show: ").styled(STRONG, &what);
    line(out, shows.plain("."), "")?;
    line(out, "Only then press confirm there, and start.".into(), "")
}

/// What a person compares with the display: the code if there is one, or else the digits.
pub(super) fn compared(summary: &Summary, code: Option<u32>, scale: Scale) -> String {
    let digits =
        || format!("digits {}", in_fours(summary.digest.get(..32).unwrap_or_default()));
    let first = code.map_or_else(digits, code_of);
    let peak = summary.peak_celsius.map_or_else(
        || "no ramp".to_owned(),
        |celsius| format!("peak {}", scale.temperature(celsius)),
    );
    let plural = if summary.steps == 1 { "" } else { "s" };
    format!("{first}, {peak}, {} step{plural}", summary.steps)
}

/// "code 4821 7730"
pub(super) fn code_of(code: u32) -> String {
    format!("code {}", in_fours(&format!("{code:08}")))
}

/// Digits as people read them.
fn in_fours(digits: &str) -> String {
    let fours = digits.as_bytes().chunks(4).map(|four| String::from_utf8_lossy(four));
    fours.collect::<Vec<_>>().join(" ")
}

/// The lines of a log.
pub(super) fn log(out: &mut Out<'_>, lines: &[LogLine], display: &Display) -> io::Result<()> {
    if lines.is_empty() {
        return wrapped(out, "no lines", "", "  ", display.width);
    }
    let mut boot = None;
    for line in lines {
        if boot.replace(line.boot) != Some(line.boot) {
            out.line(Line::default().styled(STRONG, &format!("start {}", line.boot)))?;
        }
        let at = clock_to_the_second(f64::from(line.at_s));
        let first = format!("{:>6}  {at}  ", line.number);
        wrapped(out, words::entry(&line.entry), first, "          ", display.width)?;
    }
    Ok(())
}

/// The first digits of a digest: enough to tell two by eye that nobody made alike.
pub(super) fn short(digest: &str) -> &str {
    digest.get(..8).unwrap_or(digest)
}

fn digest(out: &mut Out<'_>, whole: &str, display: &Display) -> io::Result<()> {
    // A narrow screen has no room for all of it in one line.
    let piece =
        if display.width < whole.len() + 2 { whole.len().div_ceil(3) } else { whole.len() };
    for from in (0..whole.len()).step_by(piece.max(1)) {
        let to = (from + piece).min(whole.len());
        out.line(format!("  {}", whole.get(from..to).unwrap_or_default()))?;
    }
    Ok(())
}
