//! The first tick of a firing that goes on after a power cut.

use saggar_core::programme::{Action, Step};
use saggar_core::sequencer::{Demand, ResumePoint, Wait};

use super::SequencerBench;
use crate::support::{ramp, step};

/// The first tick in this step, with the chamber shut or open.
fn first_tick(steps: &[Step], index: u8, reading_c: f32, shut: bool) -> Demand {
    let mut bench = SequencerBench::new(reading_c, steps);
    bench.tick(|now| {
        now.resume = Some(ResumePoint { step: index, gathered_s: 0, vacuum_drawn: false });
        (now.shut, now.open) = (shut, !shut);
    })
}

/// The first ramp begins as in any firing: a warm chamber shows what it settles at. A later one goes on from
/// the reading at once, also down.
#[test]
fn only_the_first_ramp_waits_for_a_warm_chamber() {
    let steps = [step(ramp(200, 60)), step(ramp(150, 60))];
    let first = first_tick(&steps, 0, 180.0, true);
    assert_eq!((first.setpoint, first.waiting), (None, Some(Wait::Cooling)));
    let second = first_tick(&steps, 1, 180.0, true);
    let celsius = second.setpoint.map_or(0.0, |setpoint| setpoint.celsius);
    assert!((celsius - 180.0).abs() < 0.01 && second.waiting.is_none(), "{second:?}");
}

/// Only heat needs a shut chamber, and it waits until it is.
#[test]
fn an_open_chamber_is_shut_for_heat_only() {
    let steps =
        [step(ramp(200, 60)), step(ramp(500, 60)), step(Action::Cool { below_mc: 50_000 })];
    let heats = first_tick(&steps, 1, 180.0, false);
    assert!(heats.setpoint.is_none() && !heats.open_closure, "{heats:?}");
    assert_eq!(heats.waiting, Some(Wait::Contacts));
    let cools = first_tick(&steps, 2, 180.0, false);
    assert!(cools.firing && cools.open_closure && cools.waiting.is_none(), "{cools:?}");
}
