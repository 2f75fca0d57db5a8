//! What may be wrong with a fault, however it was written, and which two faults exclude each other.

use saggar_plant::faults::{Fault, FaultKind};

use super::times::{PERIOD_MAX_S, SHORTEST_S, minutes_text, seconds_text, whole_ms};

/// Why a fault means nothing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum FaultError {
    /// A kind that is there or not was given a severity.
    NoSeverity(FaultKind),
    /// The severity is outside its range.
    SeverityOutOfRange(FaultKind, f64),
    /// The severity counts something, and is no whole number.
    SeverityNotWhole(FaultKind, f64),
    /// It ends before it begins: from, until (s).
    EndsTooEarly(f64, f64),
    /// It strikes once, and was given an end.
    StrikesOnce(FaultKind),
    /// The period is out of range (s).
    PeriodOutOfRange(f64),
    /// It never goes, or never comes: every, for (s).
    PartOutOfRange(f64, f64),
}

impl FaultError {
    /// What is wrong.
    pub fn message(&self) -> String {
        match *self {
            Self::NoSeverity(kind) => {
                format!("{} is there or not: it has no severity", kind.name())
            }
            Self::SeverityOutOfRange(kind, given) => {
                let (name, unit) = (kind.name(), unit(kind));
                format!("the severity of {name} is {given}{unit}, which is out of range")
            }
            Self::SeverityNotWhole(kind, given) => {
                format!("the severity of {} is {given}, not a whole number", kind.name())
            }
            Self::EndsTooEarly(from_s, until_s) => match from_s < 0.0 {
                true => format!("it ends at minute {}", minutes_text(until_s)),
                false => format!(
                    "it begins at minute {} and ends at minute {}",
                    minutes_text(from_s),
                    minutes_text(until_s)
                ),
            },
            Self::StrikesOnce(kind) => {
                format!("{} strikes in one tick: it has no end", kind.name())
            }
            Self::PeriodOutOfRange(every_s) => {
                format!("it comes every {} s", seconds_text(every_s))
            }
            Self::PartOutOfRange(every_s, for_s) => {
                let (every, part) = (seconds_text(every_s), seconds_text(for_s));
                format!("it is there for {part} s of every {every} s")
            }
        }
    }

    /// What to do about it.
    pub fn help(&self) -> String {
        match *self {
            Self::NoSeverity(_) => "leave the severity out".to_owned(),
            Self::SeverityOutOfRange(kind, _) | Self::SeverityNotWhole(kind, _) => {
                let range = kind.severity().map(|severity| severity.range);
                let (low, high) = range.unwrap_or_default();
                let whole = match kind.severity().is_some_and(|severity| severity.whole) {
                    true => "whole numbers from ",
                    false => "",
                };
                format!("allowed: {whole}{low} to {high}{}", unit(kind))
            }
            Self::EndsTooEarly(..) => {
                format!("give an end that is at least {SHORTEST_S} s later, or none")
            }
            Self::StrikesOnce(_) => {
                "leave the end out, or say how often it strikes until then".to_owned()
            }
            Self::PeriodOutOfRange(_) => {
                format!("allowed: {} to {PERIOD_MAX_S} s", 2.0 * SHORTEST_S)
            }
            Self::PartOutOfRange(every_s, _) => {
                let longest = seconds_text(whole_ms(every_s - SHORTEST_S));
                format!(
                    "it must come and go: there for {SHORTEST_S} to {longest} s of each period"
                )
            }
        }
    }

    /// The key of a file that it is about.
    pub(super) const fn key(&self) -> &'static str {
        match self {
            Self::NoSeverity(_) | Self::SeverityOutOfRange(..) | Self::SeverityNotWhole(..) => {
                "severity"
            }
            Self::EndsTooEarly(..) | Self::StrikesOnce(_) => "until_minutes",
            Self::PeriodOutOfRange(_) => "every_seconds",
            Self::PartOutOfRange(..) => "for_seconds",
        }
    }
}

/// The unit of a severity with a blank before it; none for a number that only counts.
fn unit(kind: FaultKind) -> String {
    let unit = kind.severity().filter(|severity| !severity.whole).map(|severity| severity.unit);
    unit.map_or_else(String::new, |unit| format!(" {unit}"))
}

/// Checks a fault by itself. `severity` is the one that was given, if any.
///
/// # Errors
/// What is wrong with it first.
pub fn check(fault: &Fault, severity: Option<f64>) -> Result<(), FaultError> {
    let kind = fault.kind;
    match (kind.severity(), severity) {
        (None, Some(_)) => return Err(FaultError::NoSeverity(kind)),
        (Some(allowed), Some(given)) => {
            let (low, high) = allowed.range;
            if !(low..=high).contains(&given) {
                return Err(FaultError::SeverityOutOfRange(kind, given));
            }
            if allowed.whole && given.fract().abs() > 0.0 {
                return Err(FaultError::SeverityNotWhole(kind, given));
            }
        }
        (_, None) => {}
    }
    // Less than a millisecond is what rounding may take.
    let shortest_s = SHORTEST_S - 0.0005;
    if fault.until_s.is_finite() {
        let lasts_s = fault.until_s - fault.from_s.max(0.0);
        if lasts_s.is_nan() || lasts_s < shortest_s {
            return Err(FaultError::EndsTooEarly(fault.from_s, fault.until_s));
        }
        if fault.intermittent.is_none() && fault.effect().happens_once() {
            return Err(FaultError::StrikesOnce(kind));
        }
    }
    let Some(times) = fault.intermittent else { return Ok(()) };
    if !(2.0 * shortest_s..=PERIOD_MAX_S).contains(&times.every_s) {
        return Err(FaultError::PeriodOutOfRange(times.every_s));
    }
    if !(shortest_s..=times.every_s - shortest_s).contains(&times.for_s) {
        return Err(FaultError::PartOutOfRange(times.every_s, times.for_s));
    }
    Ok(())
}

/// The first two faults of one kind that are there at the same time, by their indices. Different kinds may
/// be there together.
pub fn first_overlap(faults: &[Fault]) -> Option<(usize, usize)> {
    let end_s =
        |fault: &Fault| match fault.intermittent.is_none() && fault.effect().happens_once() {
            true => fault.from_s + SHORTEST_S,
            false => fault.until_s,
        };
    let meet = |one: &Fault, other: &Fault| {
        one.kind == other.kind && one.from_s < end_s(other) && other.from_s < end_s(one)
    };
    (0..faults.len()).find_map(|later| {
        let (before, rest) = faults.split_at(later);
        let fault = rest.first()?;
        Some((before.iter().position(|one| meet(one, fault))?, later))
    })
}
