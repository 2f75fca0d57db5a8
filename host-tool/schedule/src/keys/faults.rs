//! The keys of a list of faults.

use saggar_plant::faults::FaultKind;

use crate::document::Presence::{OneOf, Optional, Required};
use crate::document::{ValueKind, WordChoice, list, number, section, word};

/// Most faults that are read.
const FAULTS_MAX: usize = 100;

/// A time of a fault: at most three days.
const MINUTES: ValueKind = number("min", 0.0, 4320.0);

/// The word for a fault that is there before the start button is pressed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BeforeStart;

section! {
    /// A list of faults.
    FaultFile {
        fault: Vec<FaultEntry> = list::<FaultEntry>(FAULTS_MAX), Required, "what breaks and when, in any order";
    }
}

section! {
    /// `[[fault]]`.
    FaultEntry {
        kind: FaultKind = word::<FaultKind>(), Required, "what breaks: a name from the list of [faults](commands.md#faults)";
        severity: f64 = number("", -86_400.0, 3_600_000.0), Optional("the default of its kind"), "how much, in the unit and the range of its kind; not for a kind that is there or not";
        from_minutes: f64 = MINUTES, OneOf, "when it strikes, after the start button";
        from: BeforeStart = word::<BeforeStart>(), OneOf, "it is there before the start button is pressed";
        until_minutes: f64 = MINUTES, Optional("never"), "when it is mended; not for a kind that strikes in one tick, unless it comes again";
        every_seconds: f64 = number("s", 0.2, 86_400.0), Optional("it stays"), "it comes and goes: the length of a period";
        for_seconds: f64 = number("s", 0.1, 86_399.9), Optional("it stays"), "it comes and goes: how long it is there, from the start of each period";
    }
}

impl WordChoice for FaultKind {
    fn choices() -> Vec<(&'static str, Self)> {
        Self::ALL.map(|kind| (kind.name(), kind)).into()
    }
}

impl WordChoice for BeforeStart {
    fn choices() -> Vec<(&'static str, Self)> {
        vec![("before", Self)]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::document::Section as _;

    #[test]
    fn the_severity_of_every_kind_fits_its_key() {
        let severities = || FaultKind::ALL.into_iter().filter_map(FaultKind::severity);
        let low = severities().map(|severity| severity.range.0).fold(0.0, f64::min);
        let high = severities().map(|severity| severity.range.1).fold(0.0, f64::max);
        let key = FaultEntry::KEYS.iter().find(|key| key.name == "severity").expect("a key");
        let ValueKind::Number { from, to, .. } = key.kind else { panic!("{key:?}") };
        assert!((from - low).abs() < 1e-9 && (to - high).abs() < 1e-9, "{low} to {high}");
    }
}
