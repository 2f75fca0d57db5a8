//! A healthy furnace is left alone: a whole firing with vacuum, opening and cooling, no trip.

use saggar_core::events::EventKind;
use saggar_core::programme::Action;
use saggar_core::sequencer::{Ending, SequencerState};

use crate::support::{Bench, ramp, soak, step, under, vacuum};

#[test]
fn whole_firing_without_a_trip() {
    let steps = [
        step(ramp(400, 60)),
        step(soak(300)),
        under(ramp(1120, 60), vacuum(600)),
        under(soak(1800), vacuum(600)),
        step(Action::Cool { below_mc: 280_000 }),
        step(Action::MoveClosure { open: true, dwell_ms: 60_000 }),
        step(Action::MoveClosure { open: false, dwell_ms: 1000 }),
    ];
    let mut bench = Bench::firing(25.0, &steps);
    let mut hottest = 0.0f64;
    let mut said = Vec::new();
    for _ in 0..8 * 36_000 {
        bench.run(1);
        assert_eq!(bench.tripped(), None, "at {:.1} °C", bench.celsius);
        hottest = hottest.max(bench.celsius);
        said.extend(bench.events());
        if !matches!(bench.core.state(), SequencerState::Running(_)) {
            break;
        }
    }
    assert!(matches!(bench.core.state(), SequencerState::Ended(Ending::Completed)));
    assert!((1119.0..1125.0).contains(&hottest), "hottest {hottest:.1} °C");
    let began = said.iter().filter(|what| matches!(what, EventKind::StepStarted(_))).count();
    assert_eq!(began, steps.len());
    assert!(said.contains(&EventKind::VacuumReached));
    assert_eq!(said.last(), Some(&EventKind::FiringEnded(Ending::Completed)));
}
