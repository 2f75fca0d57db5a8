//! What a stand-in shows while it runs.

use std::io;

use saggar_core::events::What;
use saggar_device::wire::LogEvent;
use serde_json::{Value, json};

use super::answer::print_json;
use super::device::{code_of, compared};
use super::screen::{Printer, stderr, stdout};
use super::verdict::rehearsal_result;
use crate::commands::device::words;
use crate::commands::{Heard, Run, StandIn};
use crate::invocation::DisplayOptions;
use saggar_bench::firmware::{BoardUsage, SectionCost};
use saggar_plant::format::clock_to_the_second;
use saggar_schedule::firing_plan::FiringPlan;
use saggar_schedule::schedule::StageMap;
use saggar_standin::presses::Button;
use saggar_standin::{Shown, Told};

/// Shows what a stand-in tells. With JSON, only the verdicts go to standard output.
///
/// # Errors
/// The output cannot be written.
pub fn stand_in(
    heard: &Heard<'_>,
    wanted: &StandIn<'_>,
    display: &DisplayOptions,
) -> io::Result<()> {
    let lines = match heard {
        Heard::Listens(port, plan, programme, tripped) => {
            let mut lines = listens(port, plan, wanted);
            lines.push(match programme {
                Some(shown) => announced(shown, display),
                None => "Display: no programme".to_owned(),
            });
            lines.extend(tripped.map(|cause| {
                format!("Display: tripped, {}; confirm once the cause has gone", cause.name())
            }));
            lines
        }
        Heard::Told(told, map) => vec![line_of(told, *map, display)],
        Heard::Judged(judged, run) if display.json => {
            let verdict: Value = serde_json::from_str(&judged.json).unwrap_or_default();
            return print_json(&json!({ "verdict": verdict, "run": figures(run) }));
        }
        Heard::Judged(judged, run) => {
            rehearsal_result(judged, display)?;
            return all(stdout(display), said(run));
        }
    };
    all(stderr(display), lines)
}

fn all(mut out: Printer<'_>, lines: Vec<String>) -> io::Result<()> {
    lines.iter().try_for_each(|line| out.wrapped(line, "", "  "))?;
    out.flush()
}

fn listens(port: &str, plan: &FiringPlan, wanted: &StandIn<'_>) -> Vec<String> {
    let (furnace, schedule) = (&plan.profile.name, plan.source.name());
    let key = if wanted.key.is_some() { "" } else { "; without --key it takes no programme" };
    let mut lines = vec![
        format!("Stand-in for {furnace}, cold, with the work of {schedule}"),
        format!("Listens at {port}{key}"),
    ];
    if !wanted.operator {
        let letters = Button::letters();
        lines.push(format!("Buttons, each with Enter: {letters}; Ctrl-C ends it"));
    }
    lines
}

fn line_of(told: &Told, map: Option<&StageMap>, display: &DisplayOptions) -> String {
    let line = match told {
        Told::Event(at_s, event) => {
            return format!("{} {}", clock_to_the_second(*at_s), happened(event.what, map));
        }
        Told::Announced(shown) => return announced(shown, display),
        Told::Confirmed => "Display: programme confirmed; start may be pressed",
        Told::StartRefused => {
            "Display: not started: compare the programme with the desk and press confirm first"
        }
        Told::KeysDropped => {
            "Keys come faster than buttons can be pressed: some were dropped; a stop never is"
        }
    };
    line.to_owned()
}

/// What happened, with a stage as its schedule has it, or else the programme's step.
fn happened(what: What, map: Option<&StageMap>) -> String {
    if let What::StepBegan(step) = what
        && let Some(place) = map.and_then(|map| map.origin(step))
    {
        return format!("{} began", place.phrase());
    }
    words::entry(&LogEvent::Core(what))
}

/// What the display shows of a programme.
fn announced(shown: &Shown, display: &DisplayOptions) -> String {
    let Shown { summary, announcement } = shown;
    let digits = compared(summary, None, display.scale);
    let what = match announcement.code {
        Some(code) => format!("{}, {digits}", code_of(code)),
        None => digits,
    };
    if announcement.unconfirmed {
        format!("Display: new programme, {what}. Compare with the desk, then press confirm")
    } else {
        format!("Display: programme confirmed, {what}")
    }
}

fn said(run: &Run) -> Vec<String> {
    let mut lines = vec![format!("The firing ran {:.0} times faster than life.", run.times)];
    if let Some(ticks) = run.compared {
        lines.push(format!(
            "In {ticks} ticks the emulated board and the core here answered the same, bit for bit."
        ));
    }
    if let Some(BoardUsage { sections, stack }) = run.counted {
        let each = sections.map(|SectionCost { name, mean, most }| {
            format!("{name} {mean:.0} (at most {most:.0})")
        });
        lines.push(format!("Instructions a tick: {}.", each.join(", ")));
        lines.push(format!("Deepest stack: {stack} bytes."));
    }
    lines
}

fn figures(run: &Run) -> Value {
    let counted = run.counted.map(|counted| {
        let sections: serde_json::Map<_, _> = counted
            .sections
            .into_iter()
            .map(|SectionCost { name, mean, most }| {
                (name.to_owned(), json!({ "mean": mean, "most": most }))
            })
            .collect();
        json!({ "instructions": sections, "stack_byte": counted.stack })
    });
    json!({
        "ticks": run.ticks,
        "times_life": run.times,
        "ticks_compared": run.compared,
        "counted": counted,
    })
}
