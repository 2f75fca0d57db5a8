//! One tick, one way. This is the only file that knows the order of the stations.

mod load;
#[cfg(feature = "desk")]
mod restore;
mod snapshot;

use serde::Serialize;

use crate::TICK_MS;
use crate::actuators::{Burst, Rest};
use crate::control::{HeatControl, VacuumControl, Valves};
use crate::estimate::{Estimate, Tracker};
use crate::events::{Event, Events, What};
use crate::furnace::{Closure, Furnace};
use crate::interlock::{Asked, Cause, Facts, Interlock};
use crate::io::{Buttons, Inputs, Outputs};
use crate::programme::{Guard, Image};
use crate::sensors::Channel;
use crate::sequencer::{Now, Plan, Rules, Sequencer, Setpoint, State};
use crate::units::Instant;

pub use load::{Admitted, LoadError};
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
    rules: Rules,
    /// Whole mains cycles in one tick: 5 at 50 Hz, 6 at 60 Hz; and one of them as a share.
    cycles_per_tick: u8,
    cycle_share: f32,
    programme: Option<Loaded>,
    control: (Channel, Tracker),
    limit: (Channel, Tracker),
    interlock: Interlock,
    sequencer: Sequencer,
    heat: HeatControl,
    vacuum: VacuumControl,
    burst: Burst,
    events: Events,
    last: Last,
}

/// A programme that was verified on this furnace.
#[derive(Clone, Debug)]
struct Loaded {
    image: Image,
    guard: Guard,
    highest_c: f32,
}

/// What one tick leaves to the next.
#[derive(Clone, Debug, Default, Serialize)]
#[cfg_attr(feature = "desk", derive(serde::Deserialize))]
struct Last {
    at: Option<Instant>,
    buttons: Buttons,
    plan: Plan,
    reading_c: Option<f32>,
    commanded: f32,
    told: Told,
}

/// What the events have said so far.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "desk", derive(serde::Deserialize))]
struct Told {
    step: Option<u8>,
    vacuum_reached: bool,
    asked: bool,
    tripped: Option<Cause>,
}

/// What a display or a record shows of the core after a tick.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Status {
    /// The step at hand, from 0, while a firing runs.
    pub step: Option<u8>,
    /// What the control follows.
    pub setpoint: Option<Setpoint>,
    /// Filtered reading of the control channel (°C), if it is believed.
    pub reading_c: Option<f32>,
    /// The latched cause.
    pub tripped: Option<Cause>,
    /// How the last firing ended.
    pub ended: Option<crate::sequencer::Ending>,
    /// Share of the mains cycles of this tick that conduct.
    pub commanded: f32,
}

impl Controller {
    /// A core for this furnace, with nothing loaded.
    #[inline]
    pub fn new(furnace: Furnace) -> Self {
        let rules = Rules {
            open_below_c: furnace.limits.open_below.get(),
            firing_max_ms: u64::from(furnace.limits.firing_max_s).saturating_mul(1000),
            closure_max_ms: match furnace.closure {
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
            burst: Burst::default(),
            events: Events::default(),
            last: Last { buttons: ALL_DOWN, ..Last::default() },
        }
    }

    /// The programme that would run, or runs.
    pub fn programme(&self) -> Option<&Image> {
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
    pub const fn state(&self) -> &State {
        self.sequencer.state()
    }

    /// What a display shows after this tick.
    #[inline]
    pub fn status(&self) -> Status {
        let (step, ended) = match self.sequencer.state() {
            State::Idle => (None, None),
            State::Running(run) => (Some(run.index()), None),
            State::Ended(ending) => (None, Some(*ending)),
        };
        Status {
            step,
            setpoint: self.last.plan.setpoint,
            reading_c: self.last.reading_c,
            tripped: self.interlock.tripped(),
            ended,
            commanded: self.last.commanded,
        }
    }

    /// The oldest event that has not been taken.
    pub fn take_event(&mut self) -> Option<Event> {
        self.events.take()
    }

    /// Latches a cause again after a power failure: a trip is over when somebody at the device has
    /// accepted it, not when the power comes back. Only ever adds a latch; does nothing while
    /// another cause is latched or a firing runs. Nothing is told of it: it was told when it came.
    #[inline]
    pub fn retrip(&mut self, cause: Cause) {
        if self.interlock.tripped().is_some() || self.firing() {
            return;
        }
        // Which programme tripped is forgotten; a programme without a ramp asks for no heat.
        let highest_c = self.programme.as_ref().map(|loaded| loaded.highest_c);
        let highest_c = highest_c.filter(|highest| *highest > f32::MIN);
        let programme_max = self.furnace.limits.programme_max.get();
        self.interlock.retrip(cause, highest_c.unwrap_or(programme_max));
        self.last.told.tripped = Some(cause);
    }

    /// One tick: call it every [`TICK_MS`] milliseconds with what the instruments say, and do at
    /// once what it returns.
    // Kept apart from a caller that is compiled for room.
    #[inline(never)]
    pub fn step(&mut self, now: Instant, inputs: &Inputs) -> Outputs {
        let pressed = self.pressed(inputs.buttons);
        let estimate = self.estimate(inputs);
        let intact = self.programme.as_mut().is_none_or(|p| p.guard.walk(&p.image));
        let facts = self.facts(now, inputs, &estimate, intact);
        let permit = self.interlock.judge(&self.furnace, &facts);
        let accepted =
            pressed.confirm && !self.firing() && self.interlock.accept(&self.furnace, &facts);
        if accepted {
            self.events.tell(now, What::Accepted);
        }

        let reading_c = estimate.control.ok().map(|belief| belief.celsius.get());
        let seen = Now {
            at: now,
            reading_c,
            pressure_pa: inputs.pressure_pa,
            shut: inputs.closure.proves_shut(),
            open: inputs.closure.proves_open(),
            tripped: self.interlock.tripped(),
            // To accept a trip is one decision, to start heat another.
            start: pressed.start && !accepted,
            // A stop button that is down, or stuck down, stops.
            stop: inputs.buttons.stop,
            confirm: pressed.confirm,
        };
        let image = self.programme.as_ref().map(|loaded| &loaded.image);
        let plan = self.sequencer.advance(image, &self.rules, &seen);

        let duty = self.heat.duty(&self.furnace, plan.setpoint, reading_c);
        let valves = self.valves(&plan, &estimate);
        let rest = Rest {
            valves,
            open: plan.open,
            heats: plan.setpoint.is_some(),
            firing: plan.firing,
            ask: plan.ask,
        };
        let outputs = self.burst.drive(permit, duty, self.cycles_per_tick, &rest);

        self.last.commanded = outputs.heater_cycles.count_ones() as f32 * self.cycle_share;
        self.last.reading_c = reading_c;
        self.last.plan = plan;
        self.tell_changes(now);
        outputs
    }

    /// A firing runs.
    pub const fn firing(&self) -> bool {
        matches!(self.sequencer.state(), State::Running(_))
    }

    /// Pump and valves. Air needs proof from both channels, and that they agree: a shorted sensor
    /// reads as a cold chamber.
    fn valves(&mut self, plan: &Plan, estimate: &Estimate) -> Valves {
        if !self.rules.has_vacuum {
            return Valves::default();
        }
        let limits = &self.furnace.limits;
        let sound = estimate.agrees(limits.disagree_max_k);
        let hottest_c = estimate.hottest_c().filter(|_| sound);
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
        let control = tracker.take(limits, reading);
        let (channel, tracker) = &mut self.limit;
        let reading = channel.read(self.furnace.limit_sensor, inputs.limit.as_ref());
        let limit = tracker.take(limits, reading);
        Estimate { control, limit }
    }

    fn facts<'a>(
        &mut self,
        now: Instant,
        inputs: &Inputs,
        estimate: &'a Estimate,
        programme_intact: bool,
    ) -> Facts<'a> {
        let on_time = match self.last.at.replace(now) {
            None => true,
            Some(before) => (EARLY_MS..=LATE_MS).contains(&now.since(before)),
        };
        let conducting_ma = self.furnace.heater.conducting_ma;
        Facts {
            estimate,
            asked: Asked {
                firing: self.last.plan.firing,
                heat: self.last.plan.setpoint.is_some(),
                highest_c: self.programme.as_ref().map_or(f32::MIN, |p| p.highest_c),
                vacuum_overdue: self.last.plan.vacuum_overdue,
            },
            commanded: self.last.commanded,
            conducting: inputs.heater_current_ma.map(|ma| ma >= conducting_ma),
            shut: inputs.closure.proves_shut(),
            on_time,
            programme_intact,
        }
    }

    /// Compares this tick with the last and tells what changed.
    fn tell_changes(&mut self, now: Instant) {
        let mut seen = Told { tripped: self.interlock.tripped(), ..Told::default() };
        let mut ended = None;
        match self.sequencer.state() {
            State::Running(run) => {
                seen.step = Some(run.index());
                seen.vacuum_reached = run.vacuum_reached();
                seen.asked = self.last.plan.ask;
            }
            State::Ended(ending) => ended = Some(*ending),
            State::Idle => {}
        }
        let told = core::mem::replace(&mut self.last.told, seen);
        if told == seen {
            return;
        }
        let newly = |is: bool, what: What| is.then_some(what);
        let list = [
            newly(told.step.is_none() && seen.step.is_some(), What::Started),
            seen.step.filter(|_| told.step != seen.step).map(What::StepBegan),
            newly(seen.vacuum_reached && !told.vacuum_reached, What::VacuumReached),
            newly(seen.asked && (!told.asked || told.step != seen.step), What::Asked),
            seen.tripped.filter(|_| told.tripped.is_none()).map(What::Tripped),
            ended.filter(|_| told.step.is_some()).map(What::Ended),
        ];
        for what in list.into_iter().flatten() {
            self.events.tell(now, what);
        }
    }
}
