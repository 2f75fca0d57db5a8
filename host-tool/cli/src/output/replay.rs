//! Prints the result of a replay.

use std::io;

use serde_json::{Value, json};

use super::verdict;
use crate::commands::{Conclusion, LogReplay, RecordVerdict};
use saggar_bench::replay::{Gap, OutputDifference, ReplayResult};
use saggar_files::{display_path, short};
use saggar_terminal::DisplayOptions;
use saggar_terminal::{BAD, GOOD, Printer, StyledLine};
use saggar_terminal::{plural, print_answer};
use saggar_verdict::Wording;
use saggar_verdict::format::clock_with_seconds;

/// Maximum number of gaps that are listed; JSON has more.
const GAPS_LISTED: usize = 20;

/// Prints the result of a replay.
///
/// # Errors
/// The output cannot be written.
pub fn log_replay(
    replayed: &LogReplay,
    judged: Option<&RecordVerdict>,
    display: &DisplayOptions,
) -> io::Result<()> {
    print_answer(
        display,
        || for_programs(replayed, judged),
        |out| {
            for_people(out, replayed)?;
            judged.map_or(Ok(()), |judged| record_verdict(out, judged, display))
        },
    )
}

/// The verdict on the work, after what was compared.
fn record_verdict(
    out: &mut Printer<'_>,
    judged: &RecordVerdict,
    display: &DisplayOptions,
) -> io::Result<()> {
    let RecordVerdict { plan, fired, json: _, remarks, reason, saved } = judged;
    out.blank()?;
    out.wrapped(format!("{} on {}", plan.schedule.name, plan.profile.name), "", "")?;
    let basis = "Verdict from the recording: the sensors' readings are recorded; what sensors cannot know \
                 (piece, depth, water) is computed by the simulated furnace from the recorded outputs.";
    out.wrapped(basis, "", "  ")?;
    let head = verdict::heading(&fired.verdict);
    out.wrapped(head.clone(), "", "      ")?;
    for remark in remarks {
        out.wrapped(remark, "", "     ")?;
    }
    let terms = Wording { scale: display.scale, stages: &plan.map.verdict_stages() };
    verdict::findings(out, &fired.verdict, terms)?;
    out.blank()?;
    out.wrapped(head, "", "      ")?;
    if let Some(reason) = reason {
        let cleared = format!(
            "The programme was cleared although the verdict of its rehearsal was NOT KNOWN, for this \
             reason: {reason}"
        );
        out.wrapped(cleared, "", "  ")?;
    }
    match saved {
        Some(Ok(saved)) => {
            out.wrapped(format!("Report: {}", display_path(&saved.html)), "", "  ")
        }
        Some(Err(_)) | None => Ok(()),
    }
}

fn for_programs(replayed: &LogReplay, judged: Option<&RecordVerdict>) -> Value {
    let LogReplay { file, device, furnace, began_s: _, firing: _, replay, torn, bytes: _, csv } =
        replayed;
    let verdict =
        judged.map(|judged| serde_json::from_str(&judged.json).unwrap_or(Value::Null));
    let conclusion = replayed.conclusion();
    let torn =
        torn.map(|torn| json!({ "whole_bytes": torn.intact_bytes, "damaged": torn.corrupt }));
    json!({
        "ok": conclusion == Conclusion::Equal,
        "conclusion": conclusion.name(),
        "why": replayed.why_not_known(),
        "file": file,
        "device": device,
        "furnace": furnace,
        "compared": replay.compared,
        "stretches": replay.stretches,
        "skipped": replay.skipped,
        "gaps": replay.gaps,
        "gap_count": replay.gap_count,
        "differs": replay.difference,
        "torn": torn,
        "csv": csv,
        "verdict": verdict,
    })
}

/// The conclusion first, then what was compared, then what was not.
fn for_people(out: &mut Printer<'_>, replayed: &LogReplay) -> io::Result<()> {
    let replay = &replayed.replay;
    let head = StyledLine::from(format!("{}: ", replayed.file));
    out.wrapped(concluded(head, replayed), "", "    ")?;
    let mut line = |text: String| out.wrapped(text, "  ", "    ");
    if let Some(why) = replayed.why_not_known() {
        line(why)?;
    }
    if matches!(replayed.conclusion(), Conclusion::Damaged(_)) {
        line(before_the_damage(replay))?;
    }
    line(format!("of {}, furnace {}", replayed.device, short(&replayed.furnace)))?;
    let stretches = plural(u64::from(replay.stretches), "stretch", "stretches");
    let ticks = plural(replay.compared, "tick", "ticks");
    line(format!("{ticks} compared, every output, in {stretches}"))?;
    if let Some(OutputDifference { tick, at_ms, output, recorded, replayed }) =
        &replay.difference
    {
        let at = clock_with_seconds(*at_ms as f64 / 1e3);
        line(format!("tick {tick} at {at}: {output} was {recorded} and is {replayed} now"))?;
    }
    for gap in replay.gaps.iter().take(GAPS_LISTED) {
        line(missing(gap))?;
    }
    let more = replay.gap_count.saturating_sub(GAPS_LISTED as u64);
    if more > 0 {
        line(format!("and {} more", plural(more, "gap", "gaps")))?;
    }
    if replay.skipped > 0 {
        let ticks = plural(replay.skipped, "tick", "ticks");
        line(format!("{ticks} not compared: no origin comes before them"))?;
    }
    if let Some(torn) = replayed.torn.filter(|torn| !torn.corrupt) {
        let whole = torn.intact_bytes;
        line(format!(
            "the recording ends in the middle of a record after {whole} whole bytes"
        ))?;
    }
    match &replayed.csv {
        Some(csv) => out.wrapped(format!("Ticks: {csv}"), "", "    "),
        None => Ok(()),
    }
}

fn concluded(head: StyledLine, replayed: &LogReplay) -> StyledLine {
    let conclusion = replayed.conclusion();
    let (style, more) = match conclusion {
        Conclusion::Equal => {
            let gaps = match replayed.replay.gap_count {
                0 => String::new(),
                gaps => format!(", with {}", plural(gaps, "gap", "gaps")),
            };
            let cut = if replayed.torn.is_some() { ", but cut" } else { "" };
            (GOOD, format!("{cut}{gaps}"))
        }
        Conclusion::Different => (BAD, String::new()),
        Conclusion::NotKnown => (BAD, ": nothing was compared".to_owned()),
        Conclusion::Damaged(torn) => {
            (BAD, format!(" after {} of {} bytes", torn.intact_bytes, replayed.bytes))
        }
    };
    head.styled(style, conclusion.name()).plain(&more)
}

/// What was compared before the damage.
fn before_the_damage(replay: &ReplayResult) -> String {
    let compared = match (&replay.difference, replay.compared) {
        (Some(_), _) => "before it, different: see below".to_owned(),
        (None, 0) => "nothing before it was compared".to_owned(),
        (None, 1) => "the tick before it was compared and is equal".to_owned(),
        (None, ticks) => format!("the {ticks} ticks before it were compared and are equal"),
    };
    format!(
        "{compared}; the rest cannot be read: copy the recording again from where it was made"
    )
}

fn missing(gap: &Gap) -> String {
    let Gap { after, before, is_restart } = gap;
    if *is_restart {
        format!(
            "the device restarted after tick {after}: its ticks from then up to its new tick \
             {before} are missing"
        )
    } else {
        format!("ticks between {after} and {before} are missing")
    }
}
