//! What a stand-in shows while it runs.

use std::io;

use saggar_core::Cause;
use saggar_core::events::What;
use saggar_device::wire::Entry;
use serde_json::json;

use super::device::{code_of, compared};
use super::screen::{stderr, stdout};
use super::{json_line, rehearsed, wrap::wrapped};
use crate::Error;
use crate::args::standin::StandIn;
use crate::commands::device::words;
use crate::commands::{Counted, Heard, Run};
use crate::settings::Display;
use saggar_plant::say::clock_to_the_second;
use saggar_schedule::firing::Firing;
use saggar_schedule::schedule::StageMap;
use saggar_standin::{Shown, Told};

/// Shows what a stand-in tells. With JSON, only the verdicts go to standard output.
///
/// # Errors
/// The output cannot be written.
pub fn stand_in(heard: &Heard<'_>, args: &StandIn, display: &Display) -> Result<(), Error> {
    match heard {
        Heard::Listens(port, plan, programme, tripped) => {
            listens(port, plan, args, display)?;
            on_display(programme.as_ref(), *tripped, display)?;
        }
        Heard::Told(told, map) => tell(told, *map, display)?,
        Heard::Judged(judged, run) => {
            if display.json {
                let verdict: serde_json::Value =
                    serde_json::from_str(&judged.json).unwrap_or_default();
                return json_line(&json!({ "verdict": verdict, "run": figures(run) }));
            }
            rehearsed(judged, display)?;
            let mut out = stdout(display);
            for line in said(run) {
                wrapped(&mut out, &line, "", "  ", display.width)?;
            }
        }
    }
    Ok(())
}

fn listens(port: &str, plan: &Firing, args: &StandIn, display: &Display) -> io::Result<()> {
    let mut out = stderr(display);
    let profile = &plan.profile.name;
    let title =
        format!("Stand-in for {profile}, cold, with the work of {}", plan.source.name());
    wrapped(&mut out, &title, "", "  ", display.width)?;
    let key = if args.key.is_some() { "" } else { "; without --key it takes no programme" };
    wrapped(&mut out, format!("Listens at {port}{key}"), "", "  ", display.width)?;
    if !args.operator {
        let keys = "Buttons, each with Enter: s start, x stop, c confirm; Ctrl-C ends it";
        wrapped(&mut out, keys, "", "  ", display.width)?;
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
    wrapped(&mut out, &line, "", "  ", display.width)?;
    if let Some(cause) = tripped {
        let line =
            format!("Display: tripped, {}; confirm once the cause has gone", cause.name());
        wrapped(&mut out, &line, "", "  ", display.width)?;
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
    wrapped(&mut out, &line, "", "  ", display.width)?;
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
        let each =
            sections.map(|(name, mean, most)| format!("{name} {mean:.0} (at most {most:.0})"));
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
            .map(|(name, mean, most)| (name.to_owned(), json!({ "mean": mean, "most": most })))
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
