//! What the controller asks of the sequencer beside its ticks.

use super::{Demand, Ending, Sequencer, SequencerInputs, SequencerLimits, SequencerState};
use crate::demand::SelfTestPhase;
use crate::furnace::Coast;
use crate::interlock::Cause;
use crate::programme::{Action, Programme, ProgrammeImage, Step};
use crate::units::Instant;

const LIMITS: SequencerLimits = SequencerLimits {
    open_below_c: 300.0,
    firing_max_ms: 3_600_000,
    closure_travel_max_ms: 120_000,
    has_vacuum: false,
    has_auxiliary_contact: false,
    has_current_sensor: false,
};

/// A sequencer, its programme of one step, and the time (ms).
struct Bench {
    image: ProgrammeImage,
    limits: SequencerLimits,
    sequencer: Sequencer,
    millis: u64,
}

impl Bench {
    /// With a programme that opens the chamber.
    fn new() -> Option<Self> {
        Self::of(Action::MoveClosure { open: true, dwell_ms: 60_000 })
    }

    fn of(action: Action) -> Option<Self> {
        let mut programme = Programme::new("bench")?;
        programme.steps.push(Step::new(action, None)).ok()?;
        let image = ProgrammeImage::encode(&programme).ok()?;
        Some(Self { image, limits: LIMITS, sequencer: Sequencer::default(), millis: 0 })
    }

    /// One tick of a cool, shut chamber that a test may spoil.
    fn tick(&mut self, spoil: impl FnOnce(&mut SequencerInputs)) -> Demand {
        let mut inputs = SequencerInputs {
            now: Instant::from_millis(self.millis),
            reading_c: Some(100.0),
            pressure_pa: None,
            shut: true,
            open: false,
            trip: None,
            start_pressed: false,
            resume: None,
            stop_held: false,
            confirm_pressed: false,
            coast: Coast::default(),
        };
        spoil(&mut inputs);
        self.millis = self.millis.saturating_add(100);
        self.sequencer.advance(Some(&self.image), &self.limits, &inputs)
    }
}

#[test]
fn a_command_to_open_that_was_taken_back_needs_its_conditions_again() {
    let mut bench = Bench::new().unwrap();
    assert!(bench.tick(|now| now.start_pressed = true).open_closure);
    // On its way it does not turn back for a reading.
    assert!(bench.tick(|now| now.reading_c = Some(900.0)).open_closure);
    bench.sequencer.keep_shut();
    assert!(bench.sequencer.setpoint_is_intact(), "taken back, not changed");
    assert!(!bench.tick(|now| now.reading_c = Some(900.0)).open_closure);
    assert!(bench.tick(|_| {}).open_closure);
    // Nor does it open once the firing is over.
    bench.sequencer.keep_shut();
    assert!(!bench.tick(|now| now.trip = Some(Cause::SensorOpen)).open_closure);
    assert!(!bench.tick(|_| {}).open_closure);
}

#[test]
fn a_reset_drops_the_last_firing() {
    let mut bench = Bench::new().unwrap();
    bench.tick(|now| now.start_pressed = true);
    bench.tick(|now| now.stop_held = true);
    assert!(matches!(bench.sequencer.state(), SequencerState::Ended(Ending::Stopped)));
    bench.sequencer.reset();
    assert!(matches!(bench.sequencer.state(), SequencerState::Idle));
}

#[test]
fn neither_a_trip_nor_a_missing_reading_lets_a_firing_begin() {
    let spoils: [fn(&mut SequencerInputs); 2] =
        [|now| now.trip = Some(Cause::SensorOpen), |now| now.reading_c = None];
    for spoil in spoils {
        let mut bench = Bench::new().unwrap();
        let demand = bench.tick(|now| {
            now.start_pressed = true;
            spoil(now);
        });
        assert_eq!(demand, Demand::default());
        assert!(matches!(bench.sequencer.state(), SequencerState::Idle));
    }
}

/// The self-test runs before the first step that heats, and asks nobody.
#[test]
fn a_hold_asks_after_the_self_test() {
    let mut bench =
        Bench::of(Action::Hold { timeout_ms: 5_000, continue_on_timeout: true }).unwrap();
    bench.limits.has_current_sensor = true;
    for tick in 0..100u32 {
        let demand = bench.tick(|now| now.start_pressed = tick == 0);
        assert_eq!(demand.operator_hold, demand.self_test.is_none() && demand.firing);
        let phase = match tick {
            0..5 => Some(SelfTestPhase::ContactorOpen),
            5..15 => Some(SelfTestPhase::ContactorClosed),
            15..21 => Some(SelfTestPhase::FullCycles),
            21.. => None,
        };
        assert_eq!(demand.self_test, phase, "tick {tick}");
        // Its own 5 s begin when the test is over.
        assert_eq!(demand.firing, tick < 71, "tick {tick}");
    }
}
