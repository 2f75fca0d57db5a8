//! Programmes, their encoding, and the sequencer that runs them.

mod bytes;
mod corners;
mod firing;
mod follow;
mod going_on;
mod lift;
mod timeline;
mod timeouts;
mod vacuum;
mod violations;
mod warm;

use proptest::prelude::*;
use saggar_core::furnace::Coast;
use saggar_core::programme::{Action, ProgrammeImage, STEPS_MAX, Step, VacuumStage};
use saggar_core::sequencer::{
    Demand, Ending, Sequencer, SequencerInputs, SequencerLimits, SequencerState,
};
use saggar_core::units::Instant;

use crate::support::{ATMOSPHERE_PA, image};

/// A furnace with a lift and a pump.
const LIMITS: SequencerLimits = SequencerLimits {
    open_below_c: 300.0,
    firing_max_ms: 24 * 3_600_000,
    closure_travel_max_ms: 120_000,
    has_vacuum: true,
    has_auxiliary_contact: false,
    has_current_sensor: false,
};

/// The inputs of a healthy tick: shut, vented, and start pressed in the first.
fn now(tick: u64, reading_c: f32) -> SequencerInputs {
    SequencerInputs {
        now: Instant::from_millis(tick * 100),
        reading_c: Some(reading_c),
        pressure_pa: Some(ATMOSPHERE_PA),
        shut: true,
        open: false,
        trip: None,
        start_pressed: tick == 0,
        resume: None,
        stop_held: false,
        confirm_pressed: false,
        coast: Coast::default(),
    }
}

/// The sequencer alone, with an ideal furnace that follows the setpoint and a lift that follows its
/// command. Tests change the inputs for everything else.
struct SequencerBench {
    image: ProgrammeImage,
    sequencer: Sequencer,
    plan: Demand,
    tick: u64,
    reading_c: f32,
}

impl SequencerBench {
    /// Before the tick in which start is pressed.
    fn new(from_c: f32, steps: &[Step]) -> Self {
        let (sequencer, plan) = (Sequencer::default(), Demand::default());
        Self { image: image(steps), sequencer, plan, tick: 0, reading_c: from_c }
    }

    /// One tick with changed inputs.
    fn tick(&mut self, spoil: impl FnOnce(&mut SequencerInputs)) -> Demand {
        let (shut, open) = (!self.plan.open_closure, self.plan.open_closure);
        let mut now = SequencerInputs { shut, open, ..now(self.tick, self.reading_c) };
        spoil(&mut now);
        self.plan = self.sequencer.advance(Some(&self.image), &LIMITS, &now);
        self.reading_c = self.plan.setpoint.map_or(self.reading_c, |setpoint| setpoint.celsius);
        self.tick += 1;
        self.plan
    }

    /// Ticks with changed inputs until the step with this index starts.
    fn until(&mut self, index: u8, spoil: impl Fn(&mut SequencerInputs)) {
        for _ in 0..100_000 {
            if self.step() == Some(index) {
                return;
            }
            self.tick(&spoil);
        }
        panic!("step {index} never began: {:?}", self.sequencer.state());
    }

    /// The current step.
    fn step(&self) -> Option<u8> {
        match self.sequencer.state() {
            SequencerState::Running(run) => Some(run.step_index()),
            SequencerState::Idle | SequencerState::Ended(_) => None,
        }
    }

    /// How the firing ended.
    fn ended(&self) -> Option<Ending> {
        match self.sequencer.state() {
            SequencerState::Ended(ending) => Some(*ending),
            SequencerState::Idle | SequencerState::Running(_) => None,
        }
    }
}

/// Any step that can be encoded, valid or not.
fn any_step() -> impl Strategy<Value = Step> {
    let action = prop_oneof![
        (any::<i32>(), any::<u32>())
            .prop_map(|(to_mc, rate_mk_per_min)| Action::Ramp { to_mc, rate_mk_per_min }),
        any::<[u32; 3]>().prop_map(|[duration_ms, band_mk, band_timeout_ms]| {
            Action::Soak { duration_ms, band_mk, band_timeout_ms }
        }),
        any::<i32>().prop_map(|below_mc| Action::Cool { below_mc }),
        (any::<bool>(), any::<u32>())
            .prop_map(|(open, dwell_ms)| Action::MoveClosure { open, dwell_ms }),
        (any::<u32>(), any::<bool>()).prop_map(|(timeout_ms, continue_on_timeout)| {
            Action::Hold { timeout_ms, continue_on_timeout }
        }),
    ];
    let stage = (any::<i32>(), any::<u32>(), any::<u32>())
        .prop_map(|(from_mc, to_pa, within_ms)| VacuumStage { from_mc, to_pa, within_ms });
    (action, prop::option::of(stage)).prop_map(|(action, vacuum)| Step::new(action, vacuum))
}

/// Any list of steps that fits into a programme.
fn any_steps() -> impl Strategy<Value = Vec<Step>> {
    prop::collection::vec(any_step(), 0..=STEPS_MAX)
}
