//! What a stand-in shows while it runs.

use std::io;

use saggar_core::Cause;
use saggar_core::events::What;
use saggar_device::wire::Entry;
use serde_json::json;

use super::answer::json_lines;
use super::device::{code_of, compared};
use super::screen::{stderr, stdout};
use super::verdict::rehearsed;
use crate::commands::device::words;
use crate::commands::{Heard, Run, StandIn};
use crate::settings::Display;
use saggar_bench::firmware::{Counted, Section};
use saggar_plant::say::clock_to_the_second;
use saggar_schedule::firing::Firing;
use saggar_schedule::schedule::StageMap;
use saggar_standin::presses::Button;
use saggar_standin::{Shown, Told};

/// Shows what a stand-in tells. With JSON, only the verdicts go to standard output.
///
/// # Errors
/// The output cannot be written.
pub fn stand_in(heard: &Heard<'_>, wanted: &StandIn<'_>, display: &Display) -> io::Result<()> {
    match heard {
        Heard::Listens(port, plan, programme, tripped) => {
            listens(port, plan, wanted, display)?;
            on_display(programme.as_ref(), *tripped, display)?;
        }
        Heard::Told(told, map) => tell(told, *map, display)?,
        Heard::Judged(judged, run) => {
            if display.json {
                let verdict: serde_json::Value =
                    serde_json::from_str(&judged.json).unwrap_or_default();
                return json_lines(&json!({ "verdict": verdict, "run": figures(run) }));
            }
            rehearsed(judged, display)?;
            let mut out = stdout(display);
            for line in said(run) {
                out.wrapped(&line, "", "  ")?;
            }
        }
    }
    Ok(())
}

fn listens(
    port: &str,
    plan: &Firing,
    wanted: &StandIn<'_>,
    display: &Display,
) -> io::Result<()> {
    let mut out = stderr(display);
    let profile = &plan.profile.name;
    let title =
        format!("Stand-in for {profile}, cold, with the work of {}", plan.source.name());
    out.wrapped(&title, "", "  ")?;
    let key = if wanted.key.is_some() { "" } else { "; without --key it takes no programme" };
    out.wrapped(format!("Listens at {port}{key}"), "", "  ")?;
    if !wanted.operator {
        let keys = Button::letters();
        let keys = format!("Buttons, each with Enter: {keys}; Ctrl-C ends it");
        out.wrapped(keys, "", "  ")?;
    }
    out.flush()
}

/// What the display shows when it comes up.
fn on_display(
    shown: Option<&Shown>,
    tripped: Option<Cause>,
    display: &Display,
) -> io::Result<()> {
    let mut out = stderr(display);
    let line = match shown {
        Some(shown) => announced(shown, display),
        None => "Display: no programme".to_owned(),
    };
    out.wrapped(&line, "", "  ")?;
    if let Some(cause) = tripped {
        let line =
            format!("Display: tripped, {}; confirm once the cause has gone", cause.name());
        out.wrapped(&line, "", "  ")?;
    }
    out.flush()
}

fn tell(told: &Told, map: Option<&StageMap>, display: &Display) -> io::Result<()> {
    let mut out = stderr(display);
    let line = match told {
        Told::Event(at_s, event) => {
            format!("{} {}", clock_to_the_second(*at_s), happened(event.what, map))
        }
        Told::Announced(shown) => announced(shown, display),
        Told::Confirmed => "Display: programme confirmed; start may be pressed".to_owned(),
        Told::StartRefused => {
            "Display: not started: compare the programme with the desk and press confirm first"
                .to_owned()
        }
        Told::KeysDropped => {
            "Keys come faster than buttons can be pressed: some were dropped; a \
                              stop never is"
                .to_owned()
        }
    };
    out.wrapped(&line, "", "  ")?;
    out.flush()
}

/// What happened, with a stage as its schedule has it, or else the programme's step.
fn happened(what: What, map: Option<&StageMap>) -> String {
    if let What::StepBegan(step) = what
        && let Some(place) = map.and_then(|map| map.place(step))
    {
        return format!("{} began", place.phrase());
    }
    words::entry(&Entry::Core(what))
}

/// What the display shows of a programme.
fn announced(shown: &Shown, display: &Display) -> String {
    let Shown { summary, announcement } = shown;
    let digits = compared(summary, None, display.scale);
    let what = match announcement.code {
        Some(code) => format!("{}, {digits}", code_of(code)),
        None => digits,
    };
    if announcement.open {
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
    if let Some(Counted { sections, stack }) = run.counted {
        let each = sections.map(|Section { name, mean, most }| {
            format!("{name} {mean:.0} (at most {most:.0})")
        });
        lines.push(format!("Instructions a tick: {}.", each.join(", ")));
        lines.push(format!("Deepest stack: {stack} bytes."));
    }
    lines
}

fn figures(run: &Run) -> serde_json::Value {
    let counted = run.counted.map(|counted| {
        let sections: serde_json::Map<_, _> = counted
            .sections
            .into_iter()
            .map(|Section { name, mean, most }| {
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
