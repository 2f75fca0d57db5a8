//! The controller: calls the modules of a tick in order. No other file knows this order.

mod bookmark;
mod contact;
#[cfg(feature = "restore")]
mod corrupt;
mod guard;
mod interruption;
mod limits;
mod load;
mod recovery;
#[cfg(feature = "restore")]
mod restore;
mod snapshot;
mod start;
mod travel;
mod wait;

use serde::Serialize;

use crate::TICK_MS;
use crate::actuators::{BurstFire, OtherOutputs};
use crate::control::{HeatControl, VacuumConditions, VacuumControl, Valves};
use crate::demand::{AIR_PA, Demand, SelfTestPhase, Setpoint, Wait};
use crate::estimate::{Estimate, Tracker};
use crate::events::{Event, EventKind, EventQueue};
use crate::furnace::{Closure, Furnace, FurnaceGuard};
use crate::interlock::{Cause, HeatPermit, Interlock, InterlockInputs, PermitError};
use crate::io::{Buttons, ClosureContacts, Inputs, Outputs};
use crate::programme::{ImageGuard, ProgrammeImage};
use crate::sensors::ChannelReader;
use crate::sequencer::{ResumePoint, Sequencer, SequencerInputs, SequencerState};
use crate::units::Instant;
use recovery::Recovery;

pub use bookmark::Bookmark;
use contact::ContactProof;
pub use load::{CheckedProgramme, LoadError};
#[cfg(feature = "restore")]
pub use restore::RestoreError;
pub use snapshot::{SNAPSHOT_BYTES_MAX, SNAPSHOT_VERSION};
pub use start::StartError;
use travel::{JudgedContacts, LiftTravel};
use wait::WaitAlarm;

/// Maximum time between two ticks that counts as on time (ms).
const LATE_MS: u64 = 150;

/// Minimum time between two ticks that counts as on time (ms).
const EARLY_MS: u64 = 50;

/// Ticks per second.
#[expect(clippy::cast_possible_truncation, reason = "ten")]
const TICKS_PER_S: u8 = (1000 / TICK_MS) as u8;

/// The assumed buttons before the first tick, so that a button that is down at power-up does not count
/// as pressed.
const ALL_DOWN: Buttons = Buttons { start: true, stop: true, confirm: true };

/// The control core of one furnace.
#[derive(Clone, Debug)]
pub struct Controller {
    furnace: Furnace,
    furnace_guard: FurnaceGuard,
    programme: Option<LoadedProgramme>,
    control: (ChannelReader, Tracker),
    limit: (ChannelReader, Tracker),
    interlock: Interlock,
    sequencer: Sequencer,
    heat: HeatControl,
    vacuum: VacuumControl,
    burst: BurstFire,
    events: EventQueue,
    previous: PreviousTick,
    recovery: Recovery,
}

/// A programme that was verified for this furnace.
#[derive(Clone, Debug)]
struct LoadedProgramme {
    image: ProgrammeImage,
    guard: ImageGuard,
    /// Maximum setpoint (°C); `f32::MIN` without a ramp.
    setpoint_max_c: f32,
    /// The bits of the maximum setpoint, inverted.
    setpoint_max_inverted: u32,
}

/// Data of the previous tick.
#[derive(Clone, Debug, Default, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
struct PreviousTick {
    at: Option<Instant>,
    buttons: Buttons,
    demand: Demand,
    outputs: Outputs,
    reading_c: Option<f32>,
    limit_c: Option<f32>,
    commanded: f32,
    start_error: Option<StartError>,
    contact: ContactProof,
    travel: LiftTravel,
    wait: WaitAlarm,
    /// The chamber was full of air.
    air: bool,
    reported: ReportedState,
}

/// The state that events have reported so far; a difference to the present state is a new event.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
struct ReportedState {
    step: Option<u8>,
    vacuum_reached: bool,
    hold: bool,
    trip: Option<Cause>,
    heater_weak: bool,
}

/// The state of the core after a tick, for displays and records.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ControllerStatus {
    /// Current step, from 0; `None` without a firing.
    pub step: Option<u8>,
    /// Current setpoint; `None` without heat.
    pub setpoint: Option<Setpoint>,
    /// Number of steps of the loaded programme; 0 without one.
    pub steps: u8,
    /// Filtered reading of the control channel (°C); `None` if it is not valid.
    pub reading_c: Option<f32>,
    /// Filtered reading of the limit channel (°C); `None` if it is not valid.
    pub limit_c: Option<f32>,
    /// Cause of the latched trip.
    pub trip: Option<Cause>,
    /// How the last firing ended.
    pub ending: Option<crate::sequencer::Ending>,
    /// Share of this tick's mains cycles that are commanded to conduct.
    pub commanded_duty: f32,
    /// What the firing waits for.
    pub waiting: Option<Wait>,
    /// The readings and the pressure allow that the chamber is opened.
    pub may_open: bool,
    /// The firing that a power cut interrupted, until start or stop is pressed.
    pub interrupted: Option<Bookmark>,
    /// Why the last press of start began nothing.
    pub start_error: Option<StartError>,
    /// In this firing the heater has carried less current than expected, but enough to go on.
    pub heater_weak: bool,
}

impl Controller {
    /// A controller for this furnace, without a programme.
    #[inline]
    pub fn new(furnace: Furnace) -> Self {
        Self {
            furnace_guard: FurnaceGuard::new(&furnace),
            furnace,
            programme: None,
            control: Default::default(),
            limit: Default::default(),
            interlock: Interlock::default(),
            sequencer: Sequencer::default(),
            heat: HeatControl::default(),
            vacuum: VacuumControl::default(),
            burst: BurstFire::default(),
            events: EventQueue::default(),
            previous: PreviousTick { buttons: ALL_DOWN, ..PreviousTick::default() },
            recovery: Recovery::default(),
        }
    }

    /// The loaded programme.
    pub fn programme(&self) -> Option<&ProgrammeImage> {
        self.programme.as_ref().map(|loaded| &loaded.image)
    }

    /// The furnace data.
    pub const fn furnace(&self) -> &Furnace {
        &self.furnace
    }

    /// Mains cycles in one tick: 5 at 50 Hz, 6 at 60 Hz.
    pub const fn cycles_per_tick(&self) -> u8 {
        self.furnace.heater.mains_hz / TICKS_PER_S
    }

    /// State of the sequencer.
    pub const fn state(&self) -> &SequencerState {
        self.sequencer.state()
    }

    /// The state after this tick, for displays and records.
    #[inline]
    pub fn status(&self) -> ControllerStatus {
        let (step, ended) = match self.sequencer.state() {
            SequencerState::Idle => (None, None),
            SequencerState::Running(run) => (Some(run.step_index()), None),
            SequencerState::Ended(ending) => (None, Some(*ending)),
        };
        ControllerStatus {
            step,
            setpoint: self.previous.demand.setpoint,
            steps: self.programme.as_ref().map_or(0, |loaded| loaded.image.len()),
            reading_c: self.previous.reading_c,
            limit_c: self.previous.limit_c,
            trip: self.interlock.trip(),
            ending: ended,
            commanded_duty: self.previous.commanded,
            waiting: self.previous.demand.waiting,
            may_open: self.may_open(),
            interrupted: self.recovery.interrupted(),
            start_error: self.previous.start_error,
            heater_weak: self.interlock.heater_is_weak(),
        }
    }

    /// Takes the oldest pending event.
    pub fn take_event(&mut self) -> Option<Event> {
        self.events.pop()
    }

    /// Latches a trip again after a power failure: only the operator at the device can end a trip.
    /// Does nothing while another trip is latched or a firing is running. Emits no event; the original
    /// trip did.
    #[inline]
    pub fn restore_trip(&mut self, cause: Cause) {
        if self.interlock.trip().is_some() || self.is_firing() {
            return;
        }
        // The programme that tripped is not known any more. One without a ramp would make every
        // temperature too hot, so the furnace's maximum setpoint applies instead.
        let setpoint_max_c = self.programme.as_ref().map(|loaded| loaded.setpoint_max_c);
        let setpoint_max_c = setpoint_max_c.filter(|max_c| *max_c > f32::MIN);
        let programme_max = self.furnace.limits.programme_max.get();
        self.interlock.restore_trip(cause, setpoint_max_c.unwrap_or(programme_max));
        self.previous.reported.trip = Some(cause);
    }

    /// Processes one tick. Call it every [`TICK_MS`] milliseconds with fresh inputs and apply the
    /// outputs at once.
    // Not inlined: callers are optimised for size.
    #[inline(never)]
    pub fn step(&mut self, now: Instant, inputs: &Inputs) -> Outputs {
        let pressed = self.newly_pressed(inputs.buttons);
        let estimate = self.estimate(inputs);
        let intact = self.check_next_data();
        let on_time = self.is_on_time(now);
        let firing = matches!(self.sequencer.state(), SequencerState::Running(_));
        let closure = self.judge_contacts(firing, inputs.closure);
        let (programme_intact, furnace_intact) = intact;
        let interlock_inputs = InterlockInputs {
            raw: inputs,
            estimate: &estimate,
            demand: &self.previous.demand,
            applied: &self.previous.outputs,
            setpoint_max_c: self.programme.as_ref().map_or(f32::MIN, |p| p.setpoint_max_c),
            commanded_duty: self.previous.commanded,
            shut: closure.shut,
            shut_too_early: closure.shut_too_early,
            vacuum_lost: self.vacuum.has_lost_pressure(),
            on_time,
            programme_intact,
            furnace_intact,
        };
        let permit = self.interlock.evaluate(&self.furnace, &interlock_inputs);
        let accepted = pressed.confirm
            && !firing
            && self.interlock.accept_trip(&self.furnace, &interlock_inputs);
        if accepted {
            self.events.push(now, EventKind::TripAccepted);
        }
        let checked = pressed.confirm && self.answer_contact_question(now);

        let reading_c = estimate.control.ok().map(|channel| channel.celsius.get());
        self.discard_interrupted(now, pressed);
        // A confirmation and a start take separate presses.
        let asked = pressed.start && !firing && !checked;
        let (start_pressed, resumed) =
            if asked { self.take_start(inputs, &estimate, !accepted) } else { (false, None) };
        let sequencer_inputs = SequencerInputs {
            now,
            reading_c,
            pressure_pa: inputs.pressure_pa,
            shut: closure.shut,
            open: inputs.closure.proves_open(),
            trip: self.interlock.trip(),
            start_pressed,
            resume: resumed.map(ResumePoint::from),
            // The level, not the press: a stop button that is stuck down must stop as well.
            stop_held: inputs.buttons.stop,
            confirm_pressed: pressed.confirm,
            coast: self.heat.coast(),
        };
        let image = self.programme.as_ref().map(|loaded| &loaded.image);
        let limits = limits::sequencer_limits(&self.furnace);
        let mut demand = self.sequencer.advance(image, &limits, &sequencer_inputs);
        self.check_at_step();
        self.check_before_opening(&mut demand, inputs.closure.proves_open());

        let outputs = self.drive(now, inputs, &demand, (&estimate, permit), pressed.confirm);
        self.previous.commanded = outputs.heater_cycles.count_ones() as f32
            / f32::from(self.cycles_per_tick().max(1));
        self.previous.outputs = outputs;
        self.previous.reading_c = reading_c;
        self.previous.limit_c = estimate.limit.ok().map(|channel| channel.celsius.get());
        self.previous.air = self.is_full_of_air(inputs);
        self.previous.demand = demand;
        self.emit_events(now, resumed.map(|bookmark| bookmark.step));
        self.note_bookmark(now);
        outputs
    }

    /// What the contacts of the lift or door say, after the command of the last tick.
    fn judge_contacts(&mut self, firing: bool, contacts: ClosureContacts) -> JudgedContacts {
        let previous = &mut self.previous;
        previous.contact.update(firing, contacts.shut);
        let to_open = previous.outputs.open_closure;
        match self.furnace.closure {
            Closure::Lift => previous.travel.update(firing, to_open, contacts),
            Closure::Door => {}
        }
        previous.travel.judge(to_open, contacts)
    }

    /// Turns the demand of this tick into outputs.
    #[inline]
    fn drive(
        &mut self,
        now: Instant,
        inputs: &Inputs,
        demand: &Demand,
        (estimate, permit): (&Estimate, Result<HeatPermit, PermitError>),
        confirmed: bool,
    ) -> Outputs {
        let controlled = self.heat.duty(
            &self.furnace,
            demand.controlled_setpoint(),
            estimate.control.ok().map(|channel| channel.celsius.get()),
            self.applied_share(inputs),
        );
        let duty =
            if demand.self_test == Some(SelfTestPhase::FullCycles) { 1.0 } else { controlled };
        let valves = self.valves(demand, estimate, inputs);
        if let Some(wait) = self.previous.wait.update(demand, confirmed) {
            self.events.push(now, EventKind::WaitIsLong(wait));
        }
        let other = OtherOutputs {
            valves,
            open_closure: demand.open_closure,
            contactor: demand.closes_contactor(),
            firing: demand.firing,
            calls_operator: demand.operator_hold || self.previous.wait.sounds(),
        };
        let cycles_per_tick = self.cycles_per_tick();
        self.burst.drive(permit, duty, cycles_per_tick, &other)
    }

    /// Share of the rated power that the heater took in the last tick: from its current, so that low
    /// mains and an aged element count, or else from the cycles that were commanded.
    fn applied_share(&self, inputs: &Inputs) -> f32 {
        match (self.furnace.heater.full_current_ma, inputs.heater_current_ma) {
            (Some(full_ma), Some(ma)) if full_ma > 0 => {
                let share = ma as f32 / full_ma as f32;
                share * share
            }
            (Some(_) | None, _) => self.previous.commanded,
        }
    }

    /// True while a firing is running.
    pub const fn is_firing(&self) -> bool {
        matches!(self.sequencer.state(), SequencerState::Running(_))
    }

    /// Pump and valves. Venting needs both channels, and they must agree: a shorted sensor reads like a
    /// cold chamber.
    fn valves(&mut self, demand: &Demand, estimate: &Estimate, inputs: &Inputs) -> Valves {
        if self.furnace.vacuum.is_none() {
            return Valves::default();
        }
        let limits = &self.furnace.limits;
        let agrees = estimate.agrees(limits.disagree_max_k);
        let worst_case_c = estimate.worst_case_max_c().filter(|_| agrees);
        let conditions = VacuumConditions {
            worst_case_c,
            vent_below_c: limits.vent_below.get(),
            pressure_pa: inputs.pressure_pa,
            isolation_stuck: self.interlock.trip() == Some(Cause::IsolationStuck),
        };
        let mut valves = self.vacuum.step(demand, &conditions);
        if valves.vent && !self.previous.outputs.vent_valve {
            valves.vent = self.check_before_vent(demand);
        }
        valves
    }

    /// The gauge reads air, or the furnace has no pump.
    fn is_full_of_air(&self, inputs: &Inputs) -> bool {
        self.furnace.vacuum.is_none() || inputs.pressure_pa.is_some_and(|pa| pa >= AIR_PA)
    }

    /// Both channels read below the limit for opening, and there is air in the chamber.
    fn may_open(&self) -> bool {
        let open_below_c = self.furnace.limits.open_below.get();
        let cool = |celsius: Option<f32>| celsius.is_some_and(|c| c < open_below_c);
        cool(self.previous.reading_c) && cool(self.previous.limit_c) && self.previous.air
    }

    /// The buttons that went down in this tick.
    fn newly_pressed(&mut self, buttons: Buttons) -> Buttons {
        let before = core::mem::replace(&mut self.previous.buttons, buttons);
        Buttons {
            start: buttons.start && !before.start,
            stop: buttons.stop && !before.stop,
            confirm: buttons.confirm && !before.confirm,
        }
    }

    fn estimate(&mut self, inputs: &Inputs) -> Estimate {
        let limits = &self.furnace.limits;
        let (channel, tracker) = &mut self.control;
        let reading = channel.read(&self.furnace.control_sensor, inputs.control.as_ref());
        let control = tracker.update(limits, reading);
        let (channel, tracker) = &mut self.limit;
        let reading = channel.read(&self.furnace.limit_sensor, inputs.limit.as_ref());
        let limit = tracker.update(limits, reading);
        Estimate { control, limit }
    }

    /// Whether this tick came on time after the one before.
    fn is_on_time(&mut self, now: Instant) -> bool {
        match self.previous.at.replace(now) {
            None => true,
            Some(before) => (EARLY_MS..=LATE_MS).contains(&now.since(before)),
        }
    }

    /// Emits an event for every change since the previous tick.
    fn emit_events(&mut self, now: Instant, resumed: Option<u8>) {
        let mut current = ReportedState {
            trip: self.interlock.trip(),
            heater_weak: self.interlock.heater_is_weak(),
            ..ReportedState::default()
        };
        let mut ended = None;
        match self.sequencer.state() {
            SequencerState::Running(firing) => {
                current.step = Some(firing.step_index());
                current.vacuum_reached = firing.vacuum_reached();
                current.hold = self.previous.demand.operator_hold;
            }
            SequencerState::Ended(ending) => ended = Some(*ending),
            SequencerState::Idle => {}
        }
        let before = core::mem::replace(&mut self.previous.reported, current);
        // A firing may go on and end within one tick.
        if before == current && resumed.is_none() {
            return;
        }
        let new_step = resumed.or(before.step) != current.step;
        let failed = self.interlock.failed_channel();
        let event_if = |condition: bool, kind: EventKind| condition.then_some(kind);
        let list = [
            resumed.map(EventKind::FiringResumed),
            event_if(
                resumed.is_none() && before.step.is_none() && current.step.is_some(),
                EventKind::FiringStarted,
            ),
            current.step.filter(|_| new_step).map(EventKind::StepStarted),
            event_if(
                current.vacuum_reached && !before.vacuum_reached,
                EventKind::VacuumReached,
            ),
            event_if(current.hold && (!before.hold || new_step), EventKind::HoldStarted),
            event_if(current.heater_weak && !before.heater_weak, EventKind::HeaterWeak),
            current.trip.filter(|_| before.trip.is_none()).map(EventKind::Tripped),
            failed.filter(|_| before.trip.is_none()).map(EventKind::ChannelFailed),
            ended
                .filter(|_| before.step.is_some() || resumed.is_some())
                .map(EventKind::FiringEnded),
        ];
        for kind in list.into_iter().flatten() {
            self.events.push(now, kind);
        }
    }
}
