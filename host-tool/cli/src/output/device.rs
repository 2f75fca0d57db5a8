//! Shows what a device says.

use std::io;
use std::path::Path;

use serde_json::json;

use super::verdict::reason_line;
use crate::commands::device::{
    DeviceInfo, LogLine, StatusReport, StepReport, UploadReport, phrases,
};
use saggar_files::{display_path, short};
use saggar_schedule::schedule::ProgrammeSummary;
use saggar_terminal::DisplayOptions;
use saggar_terminal::{GOOD, Printer, STRONG, StyledLine, plain_stdout};
use saggar_terminal::{plural, print_answer, print_confirmation, with_ok};
use saggar_verdict::format::{Scale, clock_with_seconds, duration, one_decimal};

/// Shows what is known of a device.
///
/// # Errors
/// The output cannot be written.
pub fn info(info: &DeviceInfo, display: &DisplayOptions) -> io::Result<()> {
    let json = || json!({ "ok": true, "device": info });
    print_answer(display, json, |out| device_lines(out, info, display))
}

fn device_lines(
    out: &mut Printer<'_>,
    info: &DeviceInfo,
    display: &DisplayOptions,
) -> io::Result<()> {
    let head = StyledLine::default().styled(STRONG, &info.device);
    out.wrapped(head.plain(&format!(": {}", info.standing.state)), "", "  ")?;
    let mut line = |text: &str| out.wrapped(text, "", "  ");
    if let Some(advice) = info.standing.advice {
        line(advice)?;
    }
    let since = duration(info.standing.at_second);
    line(&match info.boot {
        0 => format!(
            "image {}, up for {since}; its flash fails, so it takes no orders",
            info.image
        ),
        boot => format!(
            "image {}, up for {since}; its log names this start boot {boot} (boot numbers have gaps)",
            info.image
        ),
    })?;
    line(if info.has_key {
        "has a key: uploads and stops need the same one"
    } else {
        "has no key: it takes no orders"
    })?;
    for text in figures(&info.standing, display.scale) {
        line(&text)?;
    }
    if info.standing.noise > 0 {
        line(&format!("{} frames arrived broken at the device", info.standing.noise))?;
    }
    if info.standing.damaged {
        line("a programme in its flash was found damaged and is not used")?;
    }
    match info.lock_outs {
        0 => {}
        1 => line("locked out once since it started, after too many wrong seals")?,
        times => line(&format!(
            "locked out {times} times since it started, after too many wrong seals"
        ))?,
    }
    match (&info.programme, &info.name) {
        (None, _) => line("no programme")?,
        (Some(whole), name) => {
            let name = name.as_deref().unwrap_or("(its name cannot be read)");
            let head = StyledLine::from("programme ").styled(STRONG, short(whole));
            out.wrapped(head.plain(&format!(": {name}")), "", "  ")?;
            if let Some(summary) = &info.summary {
                let what = display_text(summary, None, display.scale);
                out.wrapped(format!("its display shows {what}"), "", "  ")?;
            }
            out.digest(whole)?;
            if info.confirmed == Some(false) {
                let waits = "the programme waits to be confirmed at the furnace: compare it with \
                             the display, then press confirm there";
                out.wrapped(waits, "", "  ")?;
            }
        }
    }
    out.wrapped(format!("furnace {}", short(&info.furnace)), "", "  ")?;
    out.digest(&info.furnace)
}

/// The firing and the figures of a furnace, each in a phrase.
pub(super) fn figures(standing: &StatusReport, scale: Scale) -> Vec<String> {
    let mut all = Vec::new();
    if let Some(step) = &standing.progress {
        all.extend(progress(step));
    }
    all.push(temperatures(standing, scale));
    if let Some(celsius) = standing.setpoint_celsius {
        all.push(format!("setpoint {}", scale.temperature(celsius)));
    }
    all.push(format!("duty {} %", one_decimal(standing.duty_percent)));
    if standing.heater_weak {
        all.push("heater weak: low mains, an aged element, or half-waves only".to_owned());
    }
    if let Some(pressure) = standing.pressure_hectopascal {
        all.push(format!("{} hPa", one_decimal(pressure)));
    }
    all.extend(standing.chamber.map(|chamber| format!("chamber {chamber}")));
    all
}

/// Where a firing is, and what the operator is asked, each in a phrase.
fn progress(step: &StepReport) -> Vec<String> {
    let clock = |seconds: u64| clock_with_seconds(seconds as f64);
    let mut all = Vec::new();
    let left = step.step_left_second.map(|left| {
        let about = if step.step_left_at_least { "at least" } else { "about" };
        format!("{about} {} left", clock(left))
    });
    if let Some(continues) = step.continue_on_timeout {
        let question = step.question.as_deref();
        all.push(question.map_or_else(
            || "the question is in the schedule: name it with --schedule".to_owned(),
            |question| format!("question: \"{question}\""),
        ));
        let silence = phrases::on_timeout_phrase(continues);
        let within = step
            .step_left_second
            .map_or_else(String::new, |left| format!(" within {}", clock(left)));
        all.push(format!("no answer{within}: {silence}"));
        all.push("to answer: press confirm at the furnace".to_owned());
    }
    let in_step = step.step_second.map(|seconds| format!("in this step {}", clock(seconds)));
    let times = in_step.into_iter().chain(left.filter(|_| step.continue_on_timeout.is_none()));
    let since = step.firing_second.map(|seconds| format!("{} since the start", clock(seconds)));
    all.extend(times.chain(since));
    all
}

/// The readings of both channels: "control: no reading (open) · limit: 1118 °C".
fn temperatures(standing: &StatusReport, scale: Scale) -> String {
    let reads = |celsius: Option<f64>, fault: Option<&str>| match (celsius, fault) {
        (Some(celsius), _) => scale.temperature(celsius),
        (None, Some(fault)) => format!("no reading ({fault})"),
        (None, None) => "no reading".to_owned(),
    };
    let StatusReport { reading_celsius, control_fault, limit_celsius, limit_fault, .. } =
        standing;
    let control = format!("control: {}", reads(*reading_celsius, *control_fault));
    if limit_celsius.is_none() && limit_fault.is_none() {
        return control;
    }
    let at_most = if standing.limit_at_most { "at most " } else { "" };
    format!("{control} · limit: {at_most}{}", reads(*limit_celsius, *limit_fault))
}

/// Shows that a programme arrived.
///
/// # Errors
/// The output cannot be written.
pub fn uploaded(uploaded: &UploadReport, display: &DisplayOptions) -> io::Result<()> {
    print_answer(
        display,
        || with_ok(json!(uploaded)),
        |out| upload_lines(out, uploaded, display),
    )
}

fn upload_lines(
    out: &mut Printer<'_>,
    uploaded: &UploadReport,
    display: &DisplayOptions,
) -> io::Result<()> {
    let (here, there) = (&uploaded.programme.digest, &uploaded.device_digest);
    let mut line = |text: StyledLine, first: &str| out.wrapped(text, first, "    ");
    let head = StyledLine::from(format!("{}: ", uploaded.file)).styled(GOOD, "uploaded");
    line(head.plain(&format!(" to {}", uploaded.device)), "")?;
    line(StyledLine::default().styled(STRONG, &uploaded.programme.name), "  ")?;
    line(format!("here:  {}", short(here)).into(), "  ")?;
    let how = if uploaded.read_back { "read back and compared" } else { "as the device says" };
    line(format!("there: {}, {how}", short(there)).into(), "  ")?;
    if let Some(reason) = &uploaded.reason {
        line(reason_line(reason).into(), "  ")?;
    }
    if let Some(remark) = &uploaded.remark {
        line(format!("note:  {remark}").into(), "  ")?;
    }
    let what = display_text(&uploaded.programme, uploaded.code, display.scale);
    let shows =
        StyledLine::from("The display at the furnace must show: ").styled(STRONG, &what);
    line(shows.plain("."), "")?;
    line("Only then press confirm there, and start.".into(), "")
}

/// Shown when a device has accepted an order to stop.
pub(super) const STOP_TAKEN: &str =
    "the device has accepted the order: if a firing was running, it has been stopped";

/// Confirms that a device has accepted an order to stop.
///
/// # Errors
/// The output cannot be written.
pub fn stopped(display: &DisplayOptions) -> io::Result<()> {
    print_confirmation(STOP_TAKEN, json!({}), display)
}

/// Confirms that a key was written.
///
/// # Errors
/// The output cannot be written.
pub fn new_key(file: &Path, display: &DisplayOptions) -> io::Result<()> {
    let file = display_path(file);
    let told = format!(
        "{file}: a new key; keep it secret. `saggar standin --key` takes it as it is, and `saggar \
         device settings --key` makes the file that stores it in a board"
    );
    print_confirmation(&told, json!({ "file": file }), display)
}

/// Confirms which settings were written.
///
/// # Errors
/// The output cannot be written.
pub fn settings(
    file: &Path,
    id: &str,
    with_key: bool,
    furnace: &str,
    display: &DisplayOptions,
) -> io::Result<()> {
    let (file, digits) = (display_path(file), short(furnace));
    let secret = if with_key { ", with the key in it" } else { ", without a key" };
    let told = format!("{file}: settings of {id}, furnace {digits}{secret}");
    print_confirmation(&told, json!({ "file": file, "furnace": furnace }), display)
}

/// What a person compares with the display: the code, or the digits where there is none.
pub(super) fn display_text(
    summary: &ProgrammeSummary,
    code: Option<u32>,
    scale: Scale,
) -> String {
    let digits =
        || format!("digits {}", groups_of_four(summary.digest.get(..32).unwrap_or_default()));
    let first = code.map_or_else(digits, code_text);
    let peak = summary.peak_celsius.map_or_else(
        || "no ramp".to_owned(),
        |celsius| format!("peak {}", scale.temperature(celsius)),
    );
    format!("{first}, {peak}, {}", plural(summary.steps.into(), "step", "steps"))
}

/// "code 4821 7730"
pub(super) fn code_text(code: u32) -> String {
    format!("code {}", groups_of_four(&format!("{code:08}")))
}

/// Digits in groups of four: "9678 14df".
fn groups_of_four(digits: &str) -> String {
    let fours = digits.as_bytes().chunks(4).map(|four| String::from_utf8_lossy(four));
    fours.collect::<Vec<_>>().join(" ")
}

/// Shows the log of a device.
///
/// # Errors
/// The output cannot be written.
pub fn log(lines: &[LogLine], display: &DisplayOptions) -> io::Result<()> {
    print_answer(
        display,
        || json!({ "ok": true, "lines": lines }),
        |out| {
            if lines.is_empty() {
                return out.wrapped("no lines", "", "  ");
            }
            let mut boot = None;
            for line in lines {
                if boot.replace(line.boot) != Some(line.boot) {
                    out.line(
                        StyledLine::default().styled(STRONG, &format!("boot {}", line.boot)),
                    )?;
                }
                let at = clock_with_seconds(f64::from(line.at_second));
                let first = format!("{:>6}  {at}  ", line.number);
                out.wrapped(line.text.as_str(), first, "          ")?;
            }
            Ok(())
        },
    )
}

/// Shows one message of an image.
///
/// # Errors
/// The output cannot be written.
pub fn message(level: Option<&str>, text: &str, display: &DisplayOptions) -> io::Result<()> {
    let mut out = plain_stdout();
    if display.json {
        out.json_row(&json!({ "level": level, "text": text }))?;
    } else {
        out.line(text)?;
    }
    out.flush()
}
