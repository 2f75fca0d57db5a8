//! What a replay comes to, for a person.

use std::io;

use clap::builder::styling::{AnsiColor, Style};

use super::device::short;
use super::screen::{Line, Out};
use super::wrap::wrapped;
use crate::commands::{Conclusion, Replayed};
use crate::settings::Display;
use saggar_bench::replay::{Difference, Gap, Replay};
use saggar_plant::say::clock_to_the_second;

const GOOD: Style = AnsiColor::Green.on_default().bold();
const BAD: Style = AnsiColor::Red.on_default().bold();

/// Gaps that are listed; a program gets more of them.
const GAPS_LISTED: usize = 20;

/// A replay: what it comes to first, then what was compared, then what was not.
pub(super) fn replayed(
    out: &mut Out<'_>,
    replayed: &Replayed,
    display: &Display,
) -> io::Result<()> {
    let replay = &replayed.replay;
    let head = Line::from(format!("{}: ", replayed.file));
    wrapped(out, concluded(head, replayed), "", "    ", display.width)?;
    let mut line = |text: String| wrapped(out, text, "  ", "    ", display.width);
    if let Some(why) = replayed.why_not_known() {
        line(why)?;
    }
    if matches!(replayed.conclusion(), Conclusion::Damaged(_)) {
        line(before_the_damage(replay))?;
    }
    line(format!("of {}, furnace {}", replayed.device, short(&replayed.furnace)))?;
    let stretches = counted(u64::from(replay.stretches), "stretch", "stretches");
    let ticks = counted(replay.compared, "tick", "ticks");
    line(format!("{ticks} compared, every output, in {stretches}"))?;
    if let Some(Difference { tick, at_ms, output, recorded, replayed }) = &replay.differs {
        let at = clock_to_the_second(*at_ms as f64 / 1e3);
        line(format!("tick {tick} at {at}: {output} was {recorded} and is {replayed} now"))?;
    }
    for gap in replay.gaps.iter().take(GAPS_LISTED) {
        line(missing(gap))?;
    }
    let more = replay.gap_count.saturating_sub(GAPS_LISTED as u64);
    if more > 0 {
        line(format!("and {} more", counted(more, "gap", "gaps")))?;
    }
    if replay.skipped > 0 {
        let ticks = counted(replay.skipped, "tick", "ticks");
        line(format!("{ticks} not compared: no origin stands before them"))?;
    }
    if let Some(torn) = replayed.torn.filter(|torn| !torn.damaged) {
        let whole = torn.whole_bytes;
        line(format!("the log ends in the middle of a record after {whole} whole bytes"))?;
    }
    match &replayed.csv {
        Some(csv) => wrapped(out, format!("Ticks: {csv}"), "", "    ", display.width),
        None => Ok(()),
    }
}

fn concluded(head: Line, replayed: &Replayed) -> Line {
    match replayed.conclusion() {
        Conclusion::Equal => {
            let gaps = match replayed.replay.gap_count {
                0 => String::new(),
                gaps => format!(", with {}", counted(gaps, "gap", "gaps")),
            };
            head.styled(GOOD, "equal").plain(&gaps)
        }
        Conclusion::Different => head.styled(BAD, "different"),
        Conclusion::NotKnown => head.styled(BAD, "not known").plain(": nothing was compared"),
        Conclusion::Damaged(torn) => {
            let place = format!(" after {} of {} bytes", torn.whole_bytes, replayed.bytes);
            head.styled(BAD, "damaged").plain(&place)
        }
    }
}

/// What a damaged log is still good for.
fn before_the_damage(replay: &Replay) -> String {
    let told = match (&replay.differs, replay.compared) {
        (Some(_), _) => "before it, different: see below".to_owned(),
        (None, 0) => "nothing before it was compared".to_owned(),
        (None, 1) => "the tick before it was compared and is equal".to_owned(),
        (None, ticks) => format!("the {ticks} ticks before it were compared and are equal"),
    };
    format!(
        "{told}; what lies behind cannot be read: copy the log anew from where it was recorded"
    )
}

fn missing(gap: &Gap) -> String {
    let Gap { after, before, anew } = gap;
    if *anew {
        format!(
            "the device came up anew after tick {after}: what it did up to its new tick {before} \
             is missing"
        )
    } else {
        format!("ticks between {after} and {before} are missing")
    }
}

fn counted(count: u64, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}
