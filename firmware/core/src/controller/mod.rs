//! One tick, one way. This is the only file that knows the order of the stations.

mod load;
#[cfg(feature = "desk")]
mod restore;
mod snapshot;

use serde::Serialize;

use crate::TICK_MS;
use crate::actuators::{BurstFire, OtherOutputs};
use crate::control::{HeatControl, VacuumControl, Valves};
use crate::estimate::{Estimate, Tracker};
use crate::events::{Event, EventKind, EventQueue};
use crate::furnace::{Closure, Furnace};
use crate::interlock::{Cause, Interlock, InterlockInputs, LastDemand};
use crate::io::{Buttons, Inputs, Outputs};
use crate::programme::{ImageGuard, ProgrammeImage};
use crate::sensors::ChannelReader;
use crate::sequencer::{
    Demand, Sequencer, SequencerInputs, SequencerLimits, SequencerState, Setpoint,
};
use crate::units::Instant;

pub use load::{CheckedProgramme, LoadError};
#[cfg(feature = "desk")]
pub use restore::RestoreError;
pub use snapshot::SNAPSHOT_BYTES_MAX;

/// Longest time between two ticks that still counts as on time (ms).
const LATE_MS: u64 = 150;

/// Shortest.
const EARLY_MS: u64 = 50;

/// Ticks in a second.
#[expect(clippy::cast_possible_truncation, reason = "ten")]
const TICKS_PER_S: u8 = (1000 / TICK_MS) as u8;

/// Time that a lift is given to move (ms).
const LIFT_MAX_MS: u64 = 120_000;

/// Time that a person is given to move a door (ms).
const DOOR_MAX_MS: u64 = 900_000;

/// The buttons before the first tick: a button that is stuck at power-up has not been pressed.
const ALL_DOWN: Buttons = Buttons { start: true, stop: true, confirm: true };

/// The control core of one furnace.
#[derive(Clone, Debug)]
pub struct Controller {
    furnace: Furnace,
    rules: SequencerLimits,
    /// Whole mains cycles in one tick: 5 at 50 Hz, 6 at 60 Hz; and one of them as a share.
    cycles_per_tick: u8,
    cycle_share: f32,
    programme: Option<LoadedProgramme>,
    control: (ChannelReader, Tracker),
    limit: (ChannelReader, Tracker),
    interlock: Interlock,
    sequencer: Sequencer,
    heat: HeatControl,
    vacuum: VacuumControl,
    burst: BurstFire,
    events: EventQueue,
    last: PreviousTick,
}

/// A programme that was verified on this furnace.
#[derive(Clone, Debug)]
struct LoadedProgramme {
    image: ProgrammeImage,
    guard: ImageGuard,
    highest_c: f32,
}

/// What one tick leaves to the next.
#[derive(Clone, Debug, Default, Serialize)]
#[cfg_attr(feature = "desk", derive(serde::Deserialize))]
struct PreviousTick {
    at: Option<Instant>,
    buttons: Buttons,
    plan: Demand,
    reading_c: Option<f32>,
    commanded: f32,
    told: ReportedState,
}

/// What the events have said so far.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "desk", derive(serde::Deserialize))]
struct ReportedState {
    step: Option<u8>,
    vacuum_reached: bool,
    asked: bool,
    tripped: Option<Cause>,
}

/// What a display or a record shows of the core after a tick.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ControllerStatus {
    /// The step at hand, from 0, while a firing runs.
    pub step: Option<u8>,
    /// What the control follows.
    pub setpoint: Option<Setpoint>,
    /// Filtered reading of the control channel (°C), if it is believed.
    pub reading_c: Option<f32>,
    /// The latched cause.
    pub trip: Option<Cause>,
    /// How the last firing ended.
    pub ending: Option<crate::sequencer::Ending>,
    /// Share of the mains cycles of this tick that conduct.
    pub commanded_duty: f32,
}

impl Controller {
    /// A core for this furnace, with nothing loaded.
    #[inline]
    pub fn new(furnace: Furnace) -> Self {
        let rules = SequencerLimits {
            open_below_c: furnace.limits.open_below.get(),
            firing_max_ms: u64::from(furnace.limits.firing_max_s).saturating_mul(1000),
            closure_travel_max_ms: match furnace.closure {
                Closure::Lift => LIFT_MAX_MS,
                Closure::Door => DOOR_MAX_MS,
            },
            has_vacuum: furnace.vacuum.is_some(),
        };
        let cycles_per_tick = furnace.heater.mains_hz / TICKS_PER_S;
        Self {
            furnace,
            rules,
            cycles_per_tick,
            cycle_share: 1.0 / f32::from(cycles_per_tick.max(1)),
            programme: None,
            control: Default::default(),
            limit: Default::default(),
            interlock: Interlock::default(),
            sequencer: Sequencer::default(),
            heat: HeatControl::default(),
            vacuum: VacuumControl::default(),
            burst: BurstFire::default(),
            events: EventQueue::default(),
            last: PreviousTick { buttons: ALL_DOWN, ..PreviousTick::default() },
        }
    }

    /// The programme that would run, or runs.
    pub fn programme(&self) -> Option<&ProgrammeImage> {
        self.programme.as_ref().map(|loaded| &loaded.image)
    }

    /// The furnace's data.
    pub const fn furnace(&self) -> &Furnace {
        &self.furnace
    }

    /// Whole mains cycles in a tick.
    pub const fn cycles_per_tick(&self) -> u8 {
        self.cycles_per_tick
    }

    /// Where the firing is.
    pub const fn state(&self) -> &SequencerState {
        self.sequencer.state()
    }

    /// What a display shows after this tick.
    #[inline]
    pub fn status(&self) -> ControllerStatus {
        let (step, ended) = match self.sequencer.state() {
            SequencerState::Idle => (None, None),
            SequencerState::Running(run) => (Some(run.step_index()), None),
            SequencerState::Ended(ending) => (None, Some(*ending)),
        };
        ControllerStatus {
            step,
            setpoint: self.last.plan.setpoint,
            reading_c: self.last.reading_c,
            trip: self.interlock.trip(),
            ending: ended,
            commanded_duty: self.last.commanded,
        }
    }

    /// The oldest event that has not been taken.
    pub fn take_event(&mut self) -> Option<Event> {
        self.events.pop()
    }

    /// Latches a cause again after a power failure: a trip is over when somebody at the device has
    /// accepted it, not when the power comes back. Only ever adds a latch; does nothing while
    /// another cause is latched or a firing runs. Nothing is told of it: it was told when it came.
    #[inline]
    pub fn restore_trip(&mut self, cause: Cause) {
        if self.interlock.trip().is_some() || self.is_firing() {
            return;
        }
        // Which programme tripped is forgotten; a programme without a ramp asks for no heat.
        let highest_c = self.programme.as_ref().map(|loaded| loaded.highest_c);
        let highest_c = highest_c.filter(|highest| *highest > f32::MIN);
        let programme_max = self.furnace.limits.programme_max.get();
        self.interlock.restore_trip(cause, highest_c.unwrap_or(programme_max));
        self.last.told.tripped = Some(cause);
    }

    /// One tick: call it every [`TICK_MS`] milliseconds with what the instruments say, and do at
    /// once what it returns.
    // Kept apart from a caller that is compiled for room.
    #[inline(never)]
    pub fn step(&mut self, now: Instant, inputs: &Inputs) -> Outputs {
        let pressed = self.pressed(inputs.buttons);
        let estimate = self.estimate(inputs);
        let intact = self.programme.as_mut().is_none_or(|p| p.guard.check_next_byte(&p.image));
        let facts = self.facts(now, inputs, &estimate, intact);
        let permit = self.interlock.evaluate(&self.furnace, &facts);
        let accepted = pressed.confirm
            && !self.is_firing()
            && self.interlock.accept_trip(&self.furnace, &facts);
        if accepted {
            self.events.push(now, EventKind::TripAccepted);
        }

        let reading_c = estimate.control.ok().map(|belief| belief.celsius.get());
        let seen = SequencerInputs {
            now,
            reading_c,
            pressure_pa: inputs.pressure_pa,
            shut: inputs.closure.proves_shut(),
            open: inputs.closure.proves_open(),
            trip: self.interlock.trip(),
            // To accept a trip is one decision, to start heat another.
            start_pressed: pressed.start && !accepted,
            // A stop button that is down, or stuck down, stops.
            stop_held: inputs.buttons.stop,
            confirm_pressed: pressed.confirm,
        };
        let image = self.programme.as_ref().map(|loaded| &loaded.image);
        let plan = self.sequencer.advance(image, &self.rules, &seen);

        let duty = self.heat.duty(&self.furnace, plan.setpoint, reading_c);
        let valves = self.valves(&plan, &estimate);
        let rest = OtherOutputs {
            valves,
            open_closure: plan.open_closure,
            heating: plan.setpoint.is_some(),
            firing: plan.firing,
            operator_hold: plan.operator_hold,
        };
        let outputs = self.burst.drive(permit, duty, self.cycles_per_tick, &rest);

        self.last.commanded = outputs.heater_cycles.count_ones() as f32 * self.cycle_share;
        self.last.reading_c = reading_c;
        self.last.plan = plan;
        self.tell_changes(now);
        outputs
    }

    /// A firing runs.
    pub const fn is_firing(&self) -> bool {
        matches!(self.sequencer.state(), SequencerState::Running(_))
    }

    /// Pump and valves. Air needs proof from both channels, and that they agree: a shorted sensor
    /// reads as a cold chamber.
    fn valves(&mut self, plan: &Demand, estimate: &Estimate) -> Valves {
        if !self.rules.has_vacuum {
            return Valves::default();
        }
        let limits = &self.furnace.limits;
        let sound = estimate.agrees(limits.disagree_max_k);
        let hottest_c = estimate.worst_case_max_c().filter(|_| sound);
        self.vacuum.step(plan, hottest_c, limits.vent_below.get())
    }

    /// Buttons act when they go down; stop besides as long as it is down.
    fn pressed(&mut self, buttons: Buttons) -> Buttons {
        let before = core::mem::replace(&mut self.last.buttons, buttons);
        Buttons {
            start: buttons.start && !before.start,
            stop: buttons.stop && !before.stop,
            confirm: buttons.confirm && !before.confirm,
        }
    }

    fn estimate(&mut self, inputs: &Inputs) -> Estimate {
        let limits = &self.furnace.limits;
        let (channel, tracker) = &mut self.control;
        let reading = channel.read(self.furnace.control_sensor, inputs.control.as_ref());
        let control = tracker.update(limits, reading);
        let (channel, tracker) = &mut self.limit;
        let reading = channel.read(self.furnace.limit_sensor, inputs.limit.as_ref());
        let limit = tracker.update(limits, reading);
        Estimate { control, limit }
    }

    fn facts<'a>(
        &mut self,
        now: Instant,
        inputs: &Inputs,
        estimate: &'a Estimate,
        programme_intact: bool,
    ) -> InterlockInputs<'a> {
        let on_time = match self.last.at.replace(now) {
            None => true,
            Some(before) => (EARLY_MS..=LATE_MS).contains(&now.since(before)),
        };
        let conducting_ma = self.furnace.heater.conducting_ma;
        InterlockInputs {
            estimate,
            demand: LastDemand {
                firing: self.last.plan.firing,
                heat: self.last.plan.setpoint.is_some(),
                setpoint_max_c: self.programme.as_ref().map_or(f32::MIN, |p| p.highest_c),
                vacuum_overdue: self.last.plan.vacuum_overdue,
            },
            commanded_duty: self.last.commanded,
            heater_conducting: inputs.heater_current_ma.map(|ma| ma >= conducting_ma),
            shut: inputs.closure.proves_shut(),
            on_time,
            programme_intact,
        }
    }

    /// Compares this tick with the last and tells what changed.
    fn tell_changes(&mut self, now: Instant) {
        let mut seen =
            ReportedState { tripped: self.interlock.trip(), ..ReportedState::default() };
        let mut ended = None;
        match self.sequencer.state() {
            SequencerState::Running(run) => {
                seen.step = Some(run.step_index());
                seen.vacuum_reached = run.vacuum_reached();
                seen.asked = self.last.plan.operator_hold;
            }
            SequencerState::Ended(ending) => ended = Some(*ending),
            SequencerState::Idle => {}
        }
        let told = core::mem::replace(&mut self.last.told, seen);
        if told == seen {
            return;
        }
        let newly = |is: bool, what: EventKind| is.then_some(what);
        let list = [
            newly(told.step.is_none() && seen.step.is_some(), EventKind::FiringStarted),
            seen.step.filter(|_| told.step != seen.step).map(EventKind::StepStarted),
            newly(seen.vacuum_reached && !told.vacuum_reached, EventKind::VacuumReached),
            newly(
                seen.asked && (!told.asked || told.step != seen.step),
                EventKind::HoldStarted,
            ),
            seen.tripped.filter(|_| told.tripped.is_none()).map(EventKind::Tripped),
            ended.filter(|_| told.step.is_some()).map(EventKind::FiringEnded),
        ];
        for what in list.into_iter().flatten() {
            self.events.push(now, what);
        }
    }
}
