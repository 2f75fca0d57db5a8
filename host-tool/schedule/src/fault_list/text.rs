//! A fault as text, `NAME[=SEVERITY]@FROM[..UNTIL][,every=SECONDS,for=SECONDS]`, with the times in
//! minutes: the one parser and the one writer.

use saggar_files::{nearest, sanitized};
use saggar_plant::faults::{Fault, FaultKind, Intermittent};

use super::check::{FaultError, check};
use super::times::{BEFORE_START, MINUTE_MAX, minutes_text, seconds_text, whole_ms};

/// Most characters of what was typed that a message repeats.
const TYPED_CHARS_MAX: usize = 40;

/// Why a text is no fault.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum FaultTextError {
    /// It has no time.
    #[error("give a fault and a minute, such as control-open@45")]
    NoTime,
    /// There is no such kind.
    #[error("there is no fault `{0}`; {1}")]
    UnknownKind(String, String),
    /// A number is missing after this.
    #[error("a number is missing after `{0}`: such as {1}")]
    NumberMissing(String, String),
    /// Something should be a number.
    #[error("`{0}` is no number: write one such as 45 or 2.5")]
    NotANumber(String),
    /// A number with a decimal comma.
    #[error("write {0} with a decimal point")]
    DecimalComma(String),
    /// A minute is out of range.
    #[error(
        "minute {0} is out of range: give 0 to {MINUTE_MAX} (three days), or {BEFORE_START}"
    )]
    MinuteOutOfRange(f64),
    /// Something after a comma is unknown.
    #[error("`{0}` is not known here: after the times there may be every=SECONDS,for=SECONDS")]
    UnknownPart(String),
    /// The same is said twice.
    #[error("`{0}=` is given twice")]
    GivenTwice(&'static str),
    /// One of two is missing.
    #[error(
        "`{0}=` is missing: a fault that comes and goes needs every=SECONDS and for=SECONDS"
    )]
    PartMissing(&'static str),
    /// The fault means nothing.
    #[error("{}: {}", .0.message(), .0.help())]
    Invalid(FaultError),
}

/// Parses a fault.
///
/// # Errors
/// What is wrong with the text, and what to write instead.
pub fn parse_fault(typed: &str) -> Result<Fault, FaultTextError> {
    let (head, times) = typed.split_once('@').ok_or(FaultTextError::NoTime)?;
    let (name, severity) = match head.split_once('=') {
        Some((name, severity)) => (name, Some(severity)),
        None => (head, None),
    };
    let kind = FaultKind::from_name(name).ok_or_else(|| unknown_kind(name))?;
    let severity = severity
        .map(|typed| {
            number(typed, || (format!("{name}="), format!("{name}={}@45", example(kind))))
        })
        .transpose()?;
    let mut parts = times.split(',');
    let span = parts.next().unwrap_or_default();
    let (from, until) = match span.split_once("..") {
        Some((from, until)) => (from, Some(until)),
        None => (span, None),
    };
    let from_s = match from == BEFORE_START {
        true => Fault::BEFORE_START_S,
        false => minute_s(from, || ("@".to_owned(), format!("{name}@45")))?,
    };
    let missing = || ("..".to_owned(), format!("{name}@{from}..60"));
    let until_s = until.map(|typed| minute_s(typed, missing)).transpose()?;
    let fault = Fault {
        severity: severity.unwrap_or(kind.at(0.0).severity),
        until_s: until_s.unwrap_or(f64::INFINITY),
        intermittent: intermittent(span, parts)?,
        ..kind.at(from_s)
    };
    check(&fault, severity).map_err(FaultTextError::Invalid)?;
    Ok(fault)
}

/// The parts after the times, which follow `span`.
fn intermittent<'t>(
    span: &str,
    parts: impl Iterator<Item = &'t str>,
) -> Result<Option<Intermittent>, FaultTextError> {
    let (mut every_s, mut for_s) = (None, None);
    for part in parts {
        let (name, place, typed) = match part.split_once('=') {
            Some(("every", typed)) => ("every", &mut every_s, typed),
            Some(("for", typed)) => ("for", &mut for_s, typed),
            // "2,5" for 2.5.
            None if !part.is_empty() && part.bytes().all(|byte| byte.is_ascii_digit()) => {
                let last = span.rsplit("..").next().unwrap_or_default();
                return Err(FaultTextError::DecimalComma(shown(&format!("{last}.{part}"))));
            }
            Some(_) | None => return Err(FaultTextError::UnknownPart(shown(part))),
        };
        if place.is_some() {
            return Err(FaultTextError::GivenTwice(name));
        }
        let seconds = number(typed, || (format!("{name}="), format!("{name}=10")))?;
        *place = Some(whole_ms(seconds));
    }
    match (every_s, for_s) {
        (None, None) => Ok(None),
        (Some(every_s), Some(for_s)) => Ok(Some(Intermittent { every_s, for_s })),
        (None, Some(_)) => Err(FaultTextError::PartMissing("every")),
        (Some(_), None) => Err(FaultTextError::PartMissing("for")),
    }
}

fn unknown_kind(name: &str) -> FaultTextError {
    let known = FaultKind::ALL.map(FaultKind::name);
    let help = match nearest(name, known) {
        Some(meant) => format!("did you mean `{meant}`?"),
        None => "`saggar keys faults` lists them".to_owned(),
    };
    FaultTextError::UnknownKind(shown(name), help)
}

/// A severity to show, also of a kind without one.
fn example(kind: FaultKind) -> f64 {
    kind.severity().map_or(1.0, |severity| severity.default)
}

fn shown(typed: &str) -> String {
    sanitized(typed, TYPED_CHARS_MAX)
}

/// A finite number; `missing` says after what it is missing, and gives an example.
fn number(
    typed: &str,
    missing: impl FnOnce() -> (String, String),
) -> Result<f64, FaultTextError> {
    if typed.is_empty() {
        let (after, example) = missing();
        return Err(FaultTextError::NumberMissing(after, example));
    }
    if typed.contains(',') {
        return Err(FaultTextError::DecimalComma(shown(&typed.replace(',', "."))));
    }
    match typed.parse::<f64>() {
        // An added zero makes a negative zero positive.
        Ok(number) if number.is_finite() => Ok(number + 0.0),
        Ok(_) | Err(_) => Err(FaultTextError::NotANumber(shown(typed))),
    }
}

/// A minute as seconds.
fn minute_s(
    typed: &str,
    missing: impl FnOnce() -> (String, String),
) -> Result<f64, FaultTextError> {
    let minute = number(typed, missing)?;
    match (0.0..=MINUTE_MAX).contains(&minute) {
        true => Ok(whole_ms(minute * 60.0)),
        false => Err(FaultTextError::MinuteOutOfRange(minute)),
    }
}

/// A fault as text: [`parse_fault`] reads it back.
pub fn fault_text(fault: &Fault) -> String {
    let from = match fault.from_s < 0.0 {
        true => BEFORE_START.to_owned(),
        false => minutes_text(fault.from_s),
    };
    let until = match fault.until_s.is_finite() {
        true => format!("..{}", minutes_text(fault.until_s)),
        false => String::new(),
    };
    let times = fault.intermittent.map_or_else(String::new, |times| {
        let (every, part) = (seconds_text(times.every_s), seconds_text(times.for_s));
        format!(",every={every},for={part}")
    });
    format!("{}@{from}{until}{times}", name_text(fault))
}

/// Its name, and its severity if that is not the default: `control-drift=30`.
pub fn name_text(fault: &Fault) -> String {
    let name = fault.kind.name();
    match fault.kind.severity() {
        Some(severity) if (severity.default - fault.severity).abs() > 0.0 => {
            format!("{name}={}", fault.severity)
        }
        Some(_) | None => name.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::fault_list::any_fault::any_fault;

    fn message(typed: &str) -> String {
        parse_fault(typed).expect_err(typed).to_string()
    }

    #[test]
    fn a_fault_is_what_its_text_says() {
        let drift = FaultKind::ControlDrift;
        let open = FaultKind::ControlOpen;
        for (text, fault) in [
            ("control-drift@45", drift.at(2700.0)),
            ("control-drift=30@45..60", drift.at(2700.0).severity(30.0).until(3600.0)),
            ("control-drift=-0.5@2.5", drift.at(150.0).severity(-0.5)),
            ("control-open@before", open.before_start()),
            ("control-open@before..60", open.before_start().until(3600.0)),
            (
                "control-open@45..46,every=10,for=0.5",
                open.at(2700.0).until(2760.0).intermittent(10.0, 0.5),
            ),
            ("tick-late@1.66667,every=10,for=1", {
                FaultKind::TickLate.at(100.0).intermittent(10.0, 1.0)
            }),
        ] {
            assert_eq!(parse_fault(text), Ok(fault), "{text}");
            assert_eq!(fault_text(&fault), text);
        }
        let same = parse_fault("control-open@45,for=0.5,every=10");
        assert_eq!(same, parse_fault("control-open@45.0000,every=10.0,for=.5"));
        assert_eq!(parse_fault("control-drift=6@1"), Ok(drift.at(60.0)), "the default");
    }

    /// What is typed, and the message.
    const WRONG: [(&str, &str); 24] = [
        ("control-open", "give a fault and a minute, such as control-open@45"),
        ("control-opne@45", "there is no fault `control-opne`; did you mean `control-open`?"),
        ("xyzzy@1", "there is no fault `xyzzy`; `saggar keys faults` lists them"),
        ("control-open@", "a number is missing after `@`: such as control-open@45"),
        (
            "control-drift=@1",
            "a number is missing after `control-drift=`: such as control-drift=6@45",
        ),
        ("control-open@5..", "a number is missing after `..`: such as control-open@5..60"),
        ("control-open@soon", "`soon` is no number: write one such as 45 or 2.5"),
        ("control-open@NaN", "`NaN` is no number: write one such as 45 or 2.5"),
        ("control-open@1..inf", "`inf` is no number: write one such as 45 or 2.5"),
        ("control-drift=1e999@1", "`1e999` is no number: write one such as 45 or 2.5"),
        ("control-open@2,5", "write 2.5 with a decimal point"),
        ("control-drift=2,5@1", "write 2.5 with a decimal point"),
        (
            "control-open@-1",
            "minute -1 is out of range: give 0 to 4320 (three days), or before",
        ),
        (
            "control-open@4,evry=3",
            "`evry=3` is not known here: after the times there may be \
             every=SECONDS,for=SECONDS",
        ),
        ("control-open@4,every=3,every=4", "`every=` is given twice"),
        (
            "control-open@4,every=3",
            "`for=` is missing: a fault that comes and goes needs every=SECONDS and \
             for=SECONDS",
        ),
        (
            "control-open=3@4",
            "control-open is there or not: it has no severity: leave the severity out",
        ),
        (
            "mains-low=120@4",
            "the severity of mains-low is 120 % of their voltage, which is out of range: \
             allowed: 1 to 99 % of their voltage",
        ),
        (
            "memory-step=1.5@4",
            "the severity of memory-step is 1.5, not a whole number: allowed: whole numbers \
             from 0 to 15",
        ),
        (
            "control-open@45..45",
            "it begins at minute 45 and ends at minute 45: give an end that is at least 0.1 s \
             later, or none",
        ),
        (
            "control-open@before..0",
            "it ends at minute 0: give an end that is at least 0.1 s later, or none",
        ),
        (
            "tick-late@4..5",
            "tick-late strikes in one tick: it has no end: leave the end out, or say how \
             often it strikes until then",
        ),
        (
            "control-open@4,every=10,for=10",
            "it is there for 10 s of every 10 s: it must come and go: there for 0.1 to 9.9 s \
             of each period",
        ),
        ("control-open@4,every=0.1,for=0.05", "it comes every 0.1 s: allowed: 0.2 to 86400 s"),
    ];

    #[test]
    fn what_is_wrong_with_a_text_is_said_with_its_cure() {
        for (typed, expected) in WRONG {
            assert_eq!(message(typed), expected, "{typed}");
        }
        let odd = message("control\u{1b}[2J@1");
        assert!(!odd.contains('\u{1b}'), "{odd:?}");
    }

    proptest! {
        #[test]
        fn every_fault_survives_its_text(fault in any_fault()) {
            let text = fault_text(&fault);
            prop_assert_eq!(parse_fault(&text), Ok(fault), "{}", text);
        }

        #[test]
        fn no_text_is_too_odd(typed in "[a-z-]{0,14}(=[-0-9.,eNainf]{0,6})?(@[a-z0-9.,=]{0,30})?|\\PC{0,30}") {
            if let Ok(fault) = parse_fault(&typed) {
                prop_assert_eq!(parse_fault(&fault_text(&fault)), Ok(fault));
            }
        }

        #[test]
        fn a_changed_text_is_read_or_refused(fault in any_fault(), cut in any::<prop::sample::Index>(), put in "[-0-9.,=@a-z]{0,3}") {
            let mut text = fault_text(&fault);
            let at = cut.index(text.len() + 1);
            text.insert_str(at, &put);
            if let Ok(fault) = parse_fault(&text) {
                prop_assert_eq!(parse_fault(&fault_text(&fault)), Ok(fault));
            }
        }
    }
}
