//! Arbitrary faults, for the tests.

use proptest::prelude::*;
use saggar_plant::faults::{Fault, FaultKind};

use super::times::{SHORTEST_S, whole_ms};

/// Any fault that can be written, with times in whole milliseconds.
pub(super) fn any_fault() -> impl Strategy<Value = Fault> {
    let kind = (0..FaultKind::ALL.len()).prop_map(|nth| FaultKind::ALL[nth]);
    let ms = |most: u32| (0..most).prop_map(|ms| f64::from(ms) / 1000.0);
    let from_s = prop_oneof![Just(Fault::BEFORE_START_S), ms(259_000_000)];
    let length_s = prop::option::of(ms(100_000));
    let times = prop::option::of((ms(80_000_000), 0.0..1.0f64));
    let share = prop::option::of(0.0..=1.0f64);
    (kind, share, from_s, length_s, times).prop_map(|(kind, share, from_s, length_s, times)| {
        let mut fault = kind.at(from_s);
        if let (Some(share), Some(allowed)) = (share, kind.severity()) {
            let (low, high) = allowed.range;
            let severity = (low + share * (high - low)).clamp(low, high);
            fault.severity = if allowed.whole { severity.round() } else { severity };
        }
        if let Some((every_s, share)) = times {
            let every_s = whole_ms(every_s + 2.0 * SHORTEST_S);
            let free_s = every_s - 2.0 * SHORTEST_S;
            fault = fault.intermittent(every_s, whole_ms(SHORTEST_S + share * free_s));
        }
        match length_s {
            Some(length_s)
                if fault.intermittent.is_some() || !fault.effect().happens_once() =>
            {
                fault.until(whole_ms(from_s.max(0.0) + SHORTEST_S + length_s))
            }
            Some(_) | None => fault,
        }
    })
}
