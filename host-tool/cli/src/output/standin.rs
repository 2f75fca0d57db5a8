//! Shows the events of a stand-in while it runs.

use std::io;

use serde_json::{Value, json};

use super::device::display_text;
use super::standin_faults::{FAULT_HELP, fault_lines};
use super::verdict::rehearsal_result;
use crate::commands::device::interrupted_phrase;
use crate::commands::{RunFigures, StandInOptions, StandInReport, StartCondition};
use saggar_bench::firmware::{BoardUsage, SectionCost};
use saggar_core::Cause;
use saggar_core::controller::StartError;
use saggar_device::PressError;
use saggar_files::display_path;
use saggar_schedule::firing_plan::FiringPlan;
use saggar_standin::presses::Button;
use saggar_standin::{DisplayEvent, DisplayedProgramme, FaultNews};
use saggar_terminal::DisplayOptions;
use saggar_terminal::print_json;
use saggar_terminal::{Printer, stderr, stdout};
use saggar_verdict::format::clock_with_seconds;

/// Shows an event of a stand-in. With JSON, only the verdicts go to standard output.
///
/// # Errors
/// The output cannot be written.
pub fn stand_in(
    heard: &StandInReport<'_>,
    wanted: &StandInOptions<'_>,
    display: &DisplayOptions,
) -> io::Result<()> {
    let lines = match heard {
        StandInReport::Listening(port, plan, programme, tripped) => {
            let mut lines = listening_lines(port, plan, wanted);
            lines.extend(display_lines(programme.as_ref(), *tripped, display));
            lines
        }
        StandInReport::KeyReplaced(memory, key) => {
            let (memory, key) = (display_path(memory), display_path(key));
            vec![format!("{memory}: its key is replaced by {key}")]
        }
        StandInReport::Logged(at_s, text) => {
            vec![format!("{} {text}", clock_with_seconds(*at_s))]
        }
        StandInReport::Event(event) => vec![event_line(event, display)],
        StandInReport::Fault(at_s, news) => {
            let stamped = |line| format!("{} {line}", clock_with_seconds(*at_s));
            let mut lines: Vec<String> = fault_lines(news).into_iter().map(stamped).collect();
            if let FaultNews::PowerBack(_, programme, tripped) = news {
                lines.extend(display_lines(programme.as_ref(), *tripped, display));
            }
            lines
        }
        StandInReport::Verdict(judged, run) if display.json => {
            let verdict: Value = serde_json::from_str(&judged.json).unwrap_or_default();
            return print_json(&json!({ "verdict": verdict, "run": figures(run) }));
        }
        StandInReport::Verdict(judged, run) => {
            rehearsal_result(judged, display)?;
            return write_lines(stdout(display), figures_text(run));
        }
    };
    write_lines(stderr(display), lines)
}

fn write_lines(mut out: Printer<'_>, lines: Vec<String>) -> io::Result<()> {
    lines.iter().try_for_each(|line| out.wrapped(line, "", "  "))?;
    out.flush()
}

/// Shown by a stand-in without a key.
const NO_KEY: &str = "; it takes no programme and no stop: it has no key. Make one with `saggar device \
                      key new --out FILE`, and start with --key FILE";

fn listening_lines(port: &str, plan: &FiringPlan, wanted: &StandInOptions<'_>) -> Vec<String> {
    let (furnace, schedule) = (&plan.profile.name, plan.source.name());
    let key = if wanted.key.is_some() { "" } else { NO_KEY };
    let warmth = match wanted.rehearsal.start {
        StartCondition::EvenlyWarm(celsius) => {
            format!("at {}", wanted.rehearsal.scale.temperature(celsius))
        }
        StartCondition::Cold | StartCondition::After(..) => "cold".to_owned(),
    };
    let mut lines = vec![
        format!("Stand-in for {furnace}, {warmth}, with the work of {schedule}"),
        format!("Listens at {port}{key}"),
    ];
    let letters = Button::key_help();
    lines.push(format!("Buttons, each with Enter: {letters}; Ctrl-C ends it"));
    lines.push(FAULT_HELP.to_owned());
    lines.push("Times in front of events: since the stand-in started".to_owned());
    lines
}

/// What the display shows after power-up.
fn display_lines(
    programme: Option<&DisplayedProgramme>,
    tripped: Option<Cause>,
    display: &DisplayOptions,
) -> Vec<String> {
    let programme = match programme {
        Some(shown) => programme_line(shown, display),
        None => "Display: no programme".to_owned(),
    };
    let tripped = tripped.map(|cause| {
        format!("Display: tripped, {}; press confirm once the cause is gone", cause.name())
    });
    std::iter::once(programme).chain(tripped).collect()
}

fn event_line(event: &DisplayEvent, display: &DisplayOptions) -> String {
    let line = match event {
        DisplayEvent::ProgrammeAnnounced(shown) => return programme_line(shown, display),
        DisplayEvent::ProgrammeConfirmed => "Display: programme confirmed; press start (s)",
        DisplayEvent::FiringInterrupted(cut) => {
            return format!("Display: {}", interrupted_phrase(cut, None));
        }
        DisplayEvent::PressIgnored(error) => {
            return format!("Display: {}", ignored_press_text(*error));
        }
        DisplayEvent::StopWithoutFiring => "Display: stop had no effect: no firing is running",
        DisplayEvent::UnknownLine(line) => {
            let letters = Button::key_help();
            return format!(
                "\"{line}\" is no button. Buttons, each with Enter: {letters}. {FAULT_HELP}"
            );
        }
        DisplayEvent::WrongLine(why) => return format!("Not done: {why}"),
        DisplayEvent::KeysDropped => {
            "Lines come faster than buttons can be pressed, and some were dropped. A stop is never \
             dropped"
        }
    };
    line.to_owned()
}

/// Why a press had no effect, and what to do.
fn ignored_press_text(error: PressError) -> String {
    let text = match error {
        PressError::Unconfirmed => {
            "start had no effect: the new programme is not confirmed. Compare it with what the \
             upload printed, then press confirm (c)"
        }
        PressError::FiringRunning => "start had no effect: a firing is running already",
        PressError::StopPressed => "start had no effect: stop is pressed",
        PressError::CausePersists(cause) => {
            return format!(
                "confirm had no effect: the cause of the trip is still there, {}. {}",
                cause.name(),
                cause.advice()
            );
        }
        PressError::TooEarly => {
            "confirm had no effect: the new programme was not shown yet. Press it again"
        }
        PressError::NothingToConfirm => {
            "confirm had no effect: there is no question, no trip and no new programme"
        }
        PressError::NotStarted(why) => return start_error_text(why),
    };
    text.to_owned()
}

/// Why a press of start began nothing, and what to do.
fn start_error_text(error: StartError) -> String {
    let why = match error {
        StartError::NoProgramme => {
            "no programme is loaded. Upload one with `saggar device upload`"
        }
        StartError::NoReading => "the control thermocouple gives no valid reading",
        StartError::Tripped(cause) => {
            return format!(
                "start had no effect: tripped, {}. {} Press confirm (c) once the cause is gone",
                cause.name(),
                cause.advice()
            );
        }
        StartError::TooHot => {
            "the furnace is too hot for a programme that begins with heat. Let it cool first"
        }
        StartError::ChannelsDifferCold => {
            "the furnace is cold, and its two thermocouples differ. Check both"
        }
        StartError::TerminalsDiffer => {
            "the terminals of the two thermocouples differ. Check the cold-junction sensors"
        }
        StartError::ContactUnproven => {
            "its contact says that the chamber is shut, but it was not seen open since the last \
             firing and may be stuck. Look: is the chamber shut? Then press confirm (c), and start \
             again"
        }
        StartError::NoAirInChamber => {
            "the gauge does not read air. Wait until the chamber is vented, or check the gauge"
        }
        StartError::DataChanged => {
            "the data in the controller's memory have changed. Switch it off and on"
        }
        StartError::AskTwice => {
            "the reading has fallen far since the power cut. Press start again to go on all the same"
        }
        StartError::FiringOver => {
            "the schedule ends a firing that a power cut interrupts in this stage. Press stop or \
             confirm to clear it"
        }
    };
    format!("start had no effect: {why}")
}

/// What the display shows of a programme.
fn programme_line(shown: &DisplayedProgramme, display: &DisplayOptions) -> String {
    let DisplayedProgramme { summary, announcement } = shown;
    let what = display_text(summary, announcement.code, display.scale);
    match (announcement.unconfirmed, announcement.code) {
        (false, _) => format!("Display: programme confirmed, {what}"),
        (true, Some(_)) => format!(
            "Display: new programme, {what}. Is it the same that the upload printed? Then press \
             confirm (c)"
        ),
        // A board without random numbers, or a client that asks for no code.
        (true, None) => format!(
            "Display: new programme, {what}. If the upload prints a code, wait until the code is \
             shown here too. If it prints these digits, compare them, then press confirm (c)"
        ),
    }
}

fn figures_text(run: &RunFigures) -> Vec<String> {
    let mut lines =
        vec![format!("The firing ran {:.0} times faster than real time.", run.speed_ratio)];
    if let Some(ticks) = run.compared {
        lines.push(format!(
            "In {ticks} ticks the emulated board and the core here answered the same, bit for bit."
        ));
    }
    if let Some(BoardUsage { sections, stack }) = run.counted {
        let each = sections.map(|SectionCost { name, mean, max: most }| {
            format!("{name} {mean:.0} (at most {most:.0})")
        });
        lines.push(format!("Instructions a tick: {}.", each.join(", ")));
        lines.push(format!("Deepest stack: {stack} bytes."));
    }
    lines
}

fn figures(run: &RunFigures) -> Value {
    let counted = run.counted.map(|counted| {
        let sections: serde_json::Map<_, _> = counted
            .sections
            .into_iter()
            .map(|SectionCost { name, mean, max: most }| {
                (name.to_owned(), json!({ "mean": mean, "most": most }))
            })
            .collect();
        json!({ "instructions": sections, "stack_byte": counted.stack })
    });
    json!({
        "ticks": run.ticks,
        "times_life": run.speed_ratio,
        "ticks_compared": run.compared,
        "counted": counted,
    })
}

#[cfg(test)]
mod tests {
    use saggar_device::Announcement;
    use saggar_schedule::schedule::ProgrammeSummary;

    use super::*;

    fn plan() -> FiringPlan {
        let docs = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs");
        FiringPlan::load(&docs.join("schedules/infiltrate-alumina.toml"), None).unwrap()
    }

    /// The first digits of its digest, in groups of four.
    fn digits() -> String {
        let digest = plan().summary.digest;
        format!("{} {} ", &digest[..4], &digest[4..8])
    }

    /// What the display says of a new programme with this code.
    fn prompt(code: Option<u32>) -> String {
        let plan = plan();
        let announcement = Announcement { unconfirmed: true, code, ..Announcement::default() };
        programme_line(
            &DisplayedProgramme { summary: ProgrammeSummary::of(&plan.image), announcement },
            &DisplayOptions::plain_terminal(80),
        )
    }

    #[test]
    fn the_prompt_shows_what_the_upload_prints_and_asks_to_wait_for_a_code() {
        let waits = prompt(None);
        assert!(waits.contains("digits "), "{waits}");
        assert!(waits.contains(&digits()), "{waits}");
        assert!(waits.contains("If the upload prints a code, wait until"), "{waits}");
        let asks = prompt(Some(45_143_191));
        assert!(
            asks.starts_with("Display: new programme, code 4514 3191, peak 1145 °C, 7 steps."),
            "{asks}"
        );
        assert!(!asks.contains(&digits()), "{asks}");
    }
}
