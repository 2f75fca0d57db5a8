//! What a line typed at a stand-in means: a button, or an order about faults.

use saggar_files::sanitized;
use saggar_plant::faults::{Fault, FaultKind};
use saggar_schedule::fault_list::{BEFORE_START, parse_fault};

use crate::presses::Button;

/// Most characters of a line that a message repeats.
const SHOWN_CHARS_MAX: usize = 40;

/// Longest time that can be given (s): a day.
const TIME_MAX_S: f64 = 86_400.0;

/// A line that means something.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum TypedLine {
    /// Press a button.
    Press(Button),
    /// Do something about faults.
    Order(FaultOrder),
    /// Take the following lines after this time (s).
    Wait(f64),
}

/// An order about faults.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum FaultOrder {
    /// Inject this one now, and mend it after this time (s) if one is given.
    Inject(Fault, Option<f64>),
    /// Mend this one.
    Mend(FaultKind),
    /// Mend all.
    MendAll,
    /// List those that are there.
    List,
}

/// A line that means nothing.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum LineError {
    /// No button and no order begins like this.
    Unknown(String),
    /// It is wrong for this reason.
    Wrong(String),
}

/// Reads a line that is not empty.
///
/// # Errors
/// It means nothing.
pub(super) fn parse(line: &str) -> Result<TypedLine, LineError> {
    let line = line.to_ascii_lowercase();
    let words: Vec<&str> = line.split_whitespace().collect();
    let order = match words.as_slice() {
        ["fault"] | ["mend"] => Err(format!(
            "give the name of a fault, such as {} control-open. `saggar keys faults` lists them",
            words.concat()
        )),
        ["fault", fault] => inject(fault, None),
        ["fault", fault, "for", time @ ..] => inject(fault, Some(&time.concat())),
        ["fault", ..] => Err("after the fault there may be a time, such as for 30s".to_owned()),
        ["mend", "all"] => Ok(TypedLine::Order(FaultOrder::MendAll)),
        ["mend", name] => named(name).map(|kind| TypedLine::Order(FaultOrder::Mend(kind))),
        ["faults"] => Ok(TypedLine::Order(FaultOrder::List)),
        ["wait", time @ ..] => seconds(&time.concat()).map(TypedLine::Wait),
        [button] if button.parse::<Button>().is_ok() => button.parse().map(TypedLine::Press),
        _ => return Err(LineError::Unknown(sanitized(line.trim(), SHOWN_CHARS_MAX))),
    };
    order.map_err(LineError::Wrong)
}

fn inject(typed: &str, time: Option<&str>) -> Result<TypedLine, String> {
    // As on a command line, but for the time.
    let (fault, times) = typed.split_once(',').unwrap_or((typed, ""));
    let comma = if times.is_empty() { "" } else { "," };
    let fault = parse_fault(&format!("{fault}@{BEFORE_START}{comma}{times}"))
        .map_err(|error| error.to_string())?;
    let time = time.map(seconds).transpose()?;
    if time.is_some() && happens_once(&fault) {
        return Err(format!("{} strikes once: it has no length", fault.kind.name()));
    }
    Ok(TypedLine::Order(FaultOrder::Inject(fault, time)))
}

fn named(name: &str) -> Result<FaultKind, String> {
    match FaultKind::from_name(name) {
        Some(kind) => Ok(kind),
        // Says which one may be meant.
        None => parse_fault(&format!("{name}@{BEFORE_START}"))
            .map(|fault| fault.kind)
            .map_err(|error| error.to_string()),
    }
}

/// A time such as "30s", "5min" or "1.5h" (s).
fn seconds(typed: &str) -> Result<f64, String> {
    let units = [("min", 60.0), ("h", 3600.0), ("s", 1.0)];
    let read = units.into_iter().find_map(|(unit, unit_s)| {
        let number: f64 = typed.strip_suffix(unit)?.parse().ok()?;
        Some(number * unit_s)
    });
    read.filter(|seconds| (0.1..=TIME_MAX_S).contains(seconds))
        .ok_or_else(|| "give a time, such as 30s, 5min or 1h, of a day at most".to_owned())
}

/// Whether a fault strikes once and leaves nothing to mend.
pub(super) fn happens_once(fault: &Fault) -> bool {
    fault.effect().happens_once() && fault.intermittent.is_none()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn order(line: &str) -> FaultOrder {
        match parse(line) {
            Ok(TypedLine::Order(order)) => order,
            other => panic!("{line}: {other:?}"),
        }
    }

    fn wrong(line: &str) -> String {
        match parse(line) {
            Err(LineError::Wrong(why)) => why,
            other => panic!("{line}: {other:?}"),
        }
    }

    #[test]
    fn orders_about_faults_are_read() {
        let gain = FaultKind::ControlGain.before_start();
        let open = FaultKind::ControlOpen.before_start();
        for (line, wanted) in [
            ("fault control-open", FaultOrder::Inject(open, None)),
            (" Fault  CONTROL-OPEN ", FaultOrder::Inject(open, None)),
            ("fault control-gain=90.5", FaultOrder::Inject(gain.severity(90.5), None)),
            (
                "fault control-open,every=10,for=0.5",
                FaultOrder::Inject(open.intermittent(10.0, 0.5), None),
            ),
            ("fault control-open for 30s", FaultOrder::Inject(open, Some(30.0))),
            ("fault control-open for 1.5 min", FaultOrder::Inject(open, Some(90.0))),
            ("mend control-gain", FaultOrder::Mend(FaultKind::ControlGain)),
            ("mend all", FaultOrder::MendAll),
            ("faults", FaultOrder::List),
        ] {
            assert_eq!(order(line), wanted, "{line}");
        }
        assert_eq!(parse("wait 2h"), Ok(TypedLine::Wait(7200.0)));
        assert_eq!(parse("S"), Ok(TypedLine::Press(Button::Start)));
    }

    #[test]
    fn what_is_wrong_with_an_order_is_said() {
        for (line, says) in [
            ("fault", "such as fault control-open"),
            ("mend", "such as mend control-open"),
            (
                "fault control-opne",
                "there is no fault `control-opne`; did you mean `control-open`?",
            ),
            ("mend contol-open", "did you mean `control-open`?"),
            ("fault control-gain=300", "allowed: 0 to 200 % of the voltage"),
            ("fault control-gain=x", "`x` is no number"),
            ("fault control-gain=nan", "`nan` is no number"),
            ("fault control-open=3", "has no severity"),
            ("fault control-open@45", "no number"),
            ("fault control-open,every=3", "`for=` is missing"),
            ("fault control-open for", "give a time, such as 30s"),
            ("fault control-open for 5", "give a time, such as 30s"),
            ("fault control-open for -5s", "give a time, such as 30s"),
            ("fault control-open now", "there may be a time, such as for 30s"),
            ("fault memory-step for 5s", "strikes once"),
            ("wait", "give a time"),
            ("wait inf min", "give a time"),
        ] {
            assert!(wrong(line).contains(says), "{line}: {}", wrong(line));
        }
        for line in ["z", "x y", "s s", "faults all", "\u{1b}[2J"] {
            assert!(matches!(parse(line), Err(LineError::Unknown(_))), "{line}");
        }
        let Err(LineError::Unknown(shown)) = parse(&"s".repeat(100)) else { panic!("known") };
        assert!(shown.chars().count() <= SHOWN_CHARS_MAX + 1, "{shown}");
    }
}
