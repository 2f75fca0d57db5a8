//! An active firing: the current step and its state.

mod resume;
mod return_ramp;

use serde::Serialize;

use super::cooling::CoolingWait;
use super::interface::{Demand, Ending, SequencerInputs, SequencerLimits, Wait};
use super::pump_down::PumpDown;
use super::ramp::Ramp;
use super::seal;
use super::self_test::SelfTest;
use crate::TICK_MS;
use crate::demand::{AIR_PA, SelfTestPhase, Setpoint};
use crate::programme::{Action, ProgrammeImage, Step};
use crate::units::{Celsius, Instant};
use return_ramp::ReturnRamp;

/// A firing that is running.
#[derive(Clone, Debug, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub struct ActiveFiring {
    /// The current step. Not part of a snapshot: it is read from the programme again.
    #[serde(skip, default = "placeholder_step")]
    step: Step,
    index: u8,
    #[serde(skip)]
    next_offset: u16,
    /// Seals over what is kept from one tick to the next and decides what the furnace does: of the step
    /// and its position in the programme, set when it is entered; of the setpoint and the commands, set
    /// at the end of every tick.
    #[serde(skip)]
    step_seal: u32,
    #[serde(skip)]
    setpoint_seal: u32,
    started: Instant,
    /// Time that the steps before a power cut took at least (ms).
    passed_ms: u32,
    step_started: Instant,
    /// `None` until the first step that heats.
    setpoint: Option<Setpoint>,
    cooling: CoolingWait,
    /// Target of the next step if that is a ramp.
    #[serde(skip)]
    next_target_mc: Option<i32>,
    /// Time inside the band of a soak, or at the end of a move (ms).
    counted_ms: u32,
    /// Time outside the band of a soak (ms).
    outside_ms: u32,
    pump_down: PumpDown,
    /// After a power cut, until the setpoint is back where it was.
    returning: Option<ReturnRamp>,
    open: bool,
    /// The step heats and the chamber is not shut yet: it must shut first.
    shutting: bool,
    /// The lift or door has exceeded its time, which the interlock turns into a trip.
    closure_overdue: bool,
    self_test: SelfTest,
    /// What the step waits for. Set anew in every tick.
    #[serde(skip)]
    waiting: Option<Wait>,
}

/// The step of a deserialised firing until [`ActiveFiring::reload_step`] replaces it.
#[cfg(feature = "restore")]
fn placeholder_step() -> Step {
    Step::new(Action::Cool { below_mc: 0 }, None)
}

/// Target of the step at this offset if it is a ramp (thousandths of °C).
fn next_target_mc(programme: &ProgrammeImage, offset: u16) -> Option<i32> {
    programme.step_at(offset).and_then(|(step, _)| step.action.setpoint_mc())
}

/// What a running firing keeps from one tick to the next and decides what the furnace does, for tests of
/// the seals.
#[cfg(feature = "restore")]
#[derive(Debug)]
pub struct FiringMemory<'a> {
    /// The current step.
    pub step: &'a mut Step,
    /// Its index.
    pub index: &'a mut u8,
    /// Offset of the next step in the programme (bytes).
    pub next_offset: &'a mut u16,
    /// The setpoint.
    pub setpoint: &'a mut Option<Setpoint>,
    /// The command to the lift or door.
    pub open: &'a mut bool,
}

/// The result of one tick.
pub(super) enum TickOutcome {
    /// The firing goes on with this demand.
    Continue(Demand),
    /// The firing ended.
    Ended(Ending),
}

/// The status of the current step after one tick.
enum StepStatus {
    InProgress,
    Done,
    Failed(Ending),
}

impl ActiveFiring {
    /// Starts at the first step; `None` for an empty programme.
    pub(super) fn begin(
        programme: &ProgrammeImage,
        inputs: &SequencerInputs,
        open: bool,
    ) -> Option<Self> {
        let (step, next_offset) = programme.step_at(0)?;
        let mut firing = Self {
            step,
            index: 0,
            next_offset,
            step_seal: 0,
            setpoint_seal: 0,
            started: inputs.now,
            passed_ms: 0,
            step_started: inputs.now,
            setpoint: None,
            cooling: CoolingWait::default(),
            next_target_mc: next_target_mc(programme, next_offset),
            counted_ms: 0,
            outside_ms: 0,
            pump_down: PumpDown::default(),
            returning: None,
            open,
            shutting: step.action.heats() && !inputs.shut,
            closure_overdue: false,
            self_test: SelfTest::default(),
            waiting: None,
        };
        firing.seal_step();
        Some(firing)
    }

    /// Reads the current step from the programme after a restore; false if it has no such step.
    #[cfg(feature = "restore")]
    pub(super) fn reload_step(&mut self, programme: &ProgrammeImage) -> bool {
        let mut offset = 0;
        for _ in 0..=self.index {
            let Some((step, next_offset)) = programme.step_at(offset) else { return false };
            (self.step, self.next_offset) = (step, next_offset);
            offset = next_offset;
        }
        self.next_target_mc = next_target_mc(programme, offset);
        self.seal_step();
        self.seal_setpoint();
        true
    }

    #[cfg(feature = "restore")]
    pub(super) const fn memory(&mut self) -> FiringMemory<'_> {
        let Self { step, index, next_offset, setpoint, open, .. } = self;
        FiringMemory { step, index, next_offset, setpoint, open }
    }

    /// True while the step and its position are those that were entered.
    pub(super) fn step_is_intact(&self) -> bool {
        self.step_checksum() == self.step_seal
    }

    /// True while the setpoint and the commands are what the last tick left.
    pub(super) fn setpoint_is_intact(&self) -> bool {
        self.setpoint_checksum() == self.setpoint_seal
    }

    fn seal_step(&mut self) {
        self.step_seal = self.step_checksum();
    }

    fn seal_setpoint(&mut self) {
        self.setpoint_seal = self.setpoint_checksum();
    }

    fn step_checksum(&self) -> u32 {
        seal::of_step(&self.step, self.index, self.next_offset, self.next_target_mc)
    }

    fn setpoint_checksum(&self) -> u32 {
        let returning = self.returning.map(ReturnRamp::bits);
        seal::of_setpoint(self.setpoint.as_ref(), returning, self.open, self.shutting)
    }

    /// Takes back the command to open the lift or door.
    pub(super) fn keep_shut(&mut self) {
        self.open = false;
        self.seal_setpoint();
    }

    /// Index of the current step, from 0.
    pub const fn step_index(&self) -> u8 {
        self.index
    }

    /// The current step.
    pub const fn step(&self) -> &Step {
        &self.step
    }

    /// Time inside the band of a soak, or at the end of a move (ms).
    pub const fn counted_ms(&self) -> u32 {
        self.counted_ms
    }

    /// True once the pressure of the current vacuum stage is reached.
    pub const fn vacuum_reached(&self) -> bool {
        self.pump_down.is_reached()
    }

    /// True if the pressure of the current vacuum stage was reached before, maybe before a power cut.
    pub const fn vacuum_drawn(&self) -> bool {
        self.pump_down.is_drawn()
    }

    /// Processes one tick.
    pub(super) fn advance(
        &mut self,
        programme: &ProgrammeImage,
        limits: &SequencerLimits,
        inputs: &SequencerInputs,
    ) -> TickOutcome {
        let outcome = self.advance_unsealed(programme, limits, inputs);
        self.seal_setpoint();
        outcome
    }

    fn advance_unsealed(
        &mut self,
        programme: &ProgrammeImage,
        limits: &SequencerLimits,
        inputs: &SequencerInputs,
    ) -> TickOutcome {
        if let Some(cause) = inputs.trip {
            return TickOutcome::Ended(Ending::Tripped(cause));
        }
        if inputs.stop_held {
            return TickOutcome::Ended(Ending::Stopped);
        }
        let since_press_ms = inputs.now.since(self.started);
        if since_press_ms.saturating_add(u64::from(self.passed_ms)) > limits.firing_max_ms {
            return TickOutcome::Ended(Ending::TooLong);
        }
        if self.shutting {
            return self.shut_before_heating(limits, inputs);
        }
        self.waiting = None;
        self.set_first_setpoint(inputs);
        if let Some(phase) = self.next_self_test_phase(limits) {
            self.step_started = inputs.now;
            return TickOutcome::Continue(self.self_test_demand(phase, inputs));
        }
        let status = if self.return_to_setpoint(inputs) {
            StepStatus::InProgress
        } else {
            self.run_step(limits, inputs)
        };
        self.pump_down.update(self.step.vacuum.as_ref(), inputs, self.setpoint);
        if self.step.action.heats() && self.pump_down.is_waiting() {
            self.waiting = Some(Wait::Vacuum);
        }
        match status {
            StepStatus::Failed(ending) => return TickOutcome::Ended(ending),
            // A step that heats does not end before its vacuum is reached.
            StepStatus::Done if !(self.step.action.heats() && self.pump_down.is_waiting()) => {
                match programme.step_at(self.next_offset) {
                    Some((step, next_offset)) => {
                        self.enter(step, next_offset, inputs);
                        self.next_target_mc = next_target_mc(programme, next_offset);
                        self.seal_step();
                    }
                    None => return TickOutcome::Ended(Ending::Completed),
                }
            }
            StepStatus::InProgress | StepStatus::Done => {}
        }
        TickOutcome::Continue(self.demand())
    }

    /// Waits, without heat, until the contacts prove the chamber shut.
    fn shut_before_heating(
        &mut self,
        limits: &SequencerLimits,
        inputs: &SequencerInputs,
    ) -> TickOutcome {
        self.closure_overdue |=
            inputs.now.since(self.step_started) > limits.closure_travel_max_ms;
        self.open = false;
        self.shutting = !inputs.shut;
        if !self.shutting {
            self.step_started = inputs.now;
        }
        TickOutcome::Continue(Demand {
            firing: true,
            closure_overdue: self.closure_overdue,
            waiting: Some(Wait::Contacts),
            ..Demand::default()
        })
    }

    /// The phase of the self-test, which runs once in a firing, before the first step that heats.
    fn next_self_test_phase(&mut self, limits: &SequencerLimits) -> Option<SelfTestPhase> {
        let heats = self.step.action.heats() && !self.cooling.is_waiting();
        if heats { self.self_test.advance(limits) } else { None }
    }

    /// The step does not run meanwhile; pump and lift stay as they are.
    fn self_test_demand(&self, phase: SelfTestPhase, inputs: &SequencerInputs) -> Demand {
        let heats = phase == SelfTestPhase::FullCycles;
        Demand {
            setpoint: inputs.reading_c.filter(|_| heats).map(Setpoint::steady),
            operator_hold: false,
            self_test: Some(phase),
            ..self.demand()
        }
    }

    fn enter(&mut self, step: Step, next_offset: u16, inputs: &SequencerInputs) {
        // Steps with the same vacuum stage share one pump-down.
        if step.vacuum != self.step.vacuum {
            self.pump_down = PumpDown::default();
        }
        self.shutting = step.action.heats() && !inputs.shut;
        self.step = step;
        self.next_offset = next_offset;
        self.index = self.index.saturating_add(1);
        self.step_started = inputs.now;
        self.cooling = CoolingWait::default();
        self.counted_ms = 0;
        self.outside_ms = 0;
    }

    fn run_step(&mut self, limits: &SequencerLimits, inputs: &SequencerInputs) -> StepStatus {
        match self.step.action {
            Action::Ramp { to_mc, rate_mk_per_min } => {
                self.ramp(to_mc, rate_mk_per_min, inputs)
            }
            Action::Soak { duration_ms, band_mk, band_timeout_ms } => {
                self.soak(duration_ms, band_mk, band_timeout_ms, inputs)
            }
            Action::Cool { below_mc } => self.cool(below_mc, inputs),
            Action::MoveClosure { open, dwell_ms } => {
                self.move_closure(open, dwell_ms, limits, inputs)
            }
            Action::Hold { timeout_ms, continue_on_timeout } => {
                self.hold(timeout_ms, continue_on_timeout, inputs)
            }
        }
    }

    /// The setpoint from which a ramp starts at the begin of a firing or after a move: the reading, or the
    /// target if the furnace has to cool down to it first.
    fn set_first_setpoint(&mut self, inputs: &SequencerInputs) {
        let (Action::Ramp { to_mc, .. }, None, Some(reading)) =
            (self.step.action, self.setpoint, inputs.reading_c)
        else {
            return;
        };
        let to_c = Celsius::from_milli(to_mc).get();
        if !self.cooling.has_settled(reading, to_c) {
            return;
        }
        let cools = self.cooling.cools_first(reading, to_c);
        self.setpoint = Some(Setpoint::steady(if cools { to_c } else { reading }));
    }

    fn ramp(
        &mut self,
        to_mc: i32,
        rate_mk_per_min: u32,
        inputs: &SequencerInputs,
    ) -> StepStatus {
        let Some(reading) = inputs.reading_c else { return StepStatus::InProgress };
        let to_c = Celsius::from_milli(to_mc).get();
        let Some(from) = self.setpoint else { return StepStatus::InProgress };
        if from.is_steady_at(to_c) && self.cooling.update(reading - to_c) {
            return StepStatus::InProgress;
        }
        let ramp = Ramp::new(to_mc, rate_mk_per_min, self.next_target_mc);
        let wait = self.pump_down.is_waiting();
        let next = from.step_along(&ramp, &inputs.coast, reading, wait);
        self.setpoint = Some(next);
        // Exact equality works: both sides are converted from the same integer.
        if next.is_steady_at(to_c) && !self.cooling.update(reading - to_c) {
            StepStatus::Done
        } else {
            StepStatus::InProgress
        }
    }

    fn soak(
        &mut self,
        duration_ms: u32,
        band_mk: u32,
        band_timeout_ms: u32,
        inputs: &SequencerInputs,
    ) -> StepStatus {
        let setpoint = self.keep_setpoint(inputs);
        let band = band_mk as f32 * 0.001;
        let inside = inputs.reading_c.is_some_and(|c| (c - setpoint.celsius).abs() <= band);
        if inside && !self.pump_down.is_waiting() {
            self.counted_ms = self.counted_ms.saturating_add(TICK_MS);
        } else if !inside {
            self.outside_ms = self.outside_ms.saturating_add(TICK_MS);
            self.waiting = Some(Wait::Band);
        }
        if self.counted_ms >= duration_ms {
            StepStatus::Done
        } else if self.outside_ms > band_timeout_ms {
            StepStatus::Failed(Ending::BandLost)
        } else {
            StepStatus::InProgress
        }
    }

    fn cool(&mut self, below_mc: i32, inputs: &SequencerInputs) -> StepStatus {
        let below_c = Celsius::from_milli(below_mc).get();
        // A soak may follow, so the setpoint comes along, but is never raised.
        let current = self.setpoint.map_or(inputs.reading_c, |setpoint| Some(setpoint.celsius));
        self.setpoint = current.map(|celsius| Setpoint::steady(celsius.min(below_c)));
        if inputs.reading_c.is_some_and(|reading| reading <= below_c) {
            StepStatus::Done
        } else {
            StepStatus::InProgress
        }
    }

    fn move_closure(
        &mut self,
        open: bool,
        dwell_ms: u32,
        limits: &SequencerLimits,
        inputs: &SequencerInputs,
    ) -> StepStatus {
        // The ramp after a move starts from what the furnace reads then.
        self.setpoint = None;
        let cool = inputs.reading_c.is_some_and(|reading| reading < limits.open_below_c);
        let vented = !limits.has_vacuum || inputs.pressure_pa.is_some_and(|pa| pa >= AIR_PA);
        if open && !self.open && !(cool && vented) {
            // Cooling is progress; what a cool chamber lacks is air.
            self.waiting = cool.then_some(Wait::Air);
            self.step_started = inputs.now;
            return StepStatus::InProgress;
        }
        self.open = open;
        if if open { inputs.open } else { inputs.shut } {
            self.counted_ms = self.counted_ms.saturating_add(TICK_MS);
        } else if inputs.now.since(self.step_started) > limits.closure_travel_max_ms {
            self.closure_overdue = true;
        }
        let arrived = self.counted_ms > 0;
        self.waiting = (!arrived).then_some(Wait::Contacts);
        if arrived && self.counted_ms >= dwell_ms {
            StepStatus::Done
        } else {
            StepStatus::InProgress
        }
    }

    fn hold(
        &mut self,
        timeout_ms: u32,
        continue_on_timeout: bool,
        inputs: &SequencerInputs,
    ) -> StepStatus {
        self.keep_setpoint(inputs);
        let timed_out = inputs.now.since(self.step_started) > u64::from(timeout_ms);
        match (inputs.confirm_pressed, timed_out, continue_on_timeout) {
            (true, _, _) | (false, true, true) => StepStatus::Done,
            (false, true, false) => StepStatus::Failed(Ending::Unanswered),
            (false, false, _) => StepStatus::InProgress,
        }
    }

    /// Keeps the setpoint of the last ramp, or without one the current reading.
    fn keep_setpoint(&mut self, inputs: &SequencerInputs) -> Setpoint {
        let reading = inputs.reading_c.map(Setpoint::steady);
        let setpoint = self.setpoint.or(reading).unwrap_or_default();
        self.setpoint = Some(setpoint);
        setpoint
    }

    fn demand(&self) -> Demand {
        let stage = self.step.vacuum.as_ref();
        let pumping = self.pump_down.needs_pump();
        let cooling = self.cooling.is_waiting();
        let heats = self.step.action.heats() && !cooling;
        Demand {
            firing: true,
            setpoint: self.setpoint.filter(|_| heats),
            vacuum_pa: stage.filter(|_| pumping).map(|stage| stage.to_pa),
            vacuum_overdue: self.pump_down.is_overdue(stage),
            open_closure: self.open,
            operator_hold: matches!(self.step.action, Action::Hold { .. })
                && self.returning.is_none(),
            closure_overdue: self.closure_overdue,
            waiting: if cooling { Some(Wait::Cooling) } else { self.waiting },
            self_test: None,
        }
    }
}
