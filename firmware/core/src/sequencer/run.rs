//! A running firing: the step at hand and what it remembers.

use serde::Serialize;

use super::ramp::Setpoint;
use super::terms::{Demand, Ending, SequencerInputs, SequencerLimits};
use super::vacuum_stage::PumpDown;
use crate::TICK_MS;
use crate::programme::{Action, ProgrammeImage, Step};
use crate::units::{Celsius, Instant};

/// Pressure at which a chamber counts as full of air (Pa): seven tenths of an atmosphere, so
/// that neither weather nor a mountain town keeps a lift shut.
const AIR_PA: u32 = 70_000;

/// A firing that is running.
#[derive(Clone, Debug, Serialize)]
#[cfg_attr(feature = "desk", derive(serde::Deserialize))]
pub struct ActiveFiring {
    /// What the programme says under `index`, so that a snapshot need not say it again.
    #[serde(skip, default = "unread")]
    step: Step,
    index: u8,
    #[serde(skip)]
    next_offset: u16,
    began: Instant,
    entered: Instant,
    /// `None` until the first step that heats.
    setpoint: Option<Setpoint>,
    /// Time gathered: in the band of a soak, or at the end of a move.
    gathered_ms: u32,
    /// Time lost outside the band of a soak.
    outside_ms: u32,
    drawing: PumpDown,
    open: bool,
    /// The step heats and the chamber is not shut: it shuts before anything else.
    shutting: bool,
}

/// A step that is read before anything looks at it.
#[cfg(feature = "desk")]
fn unread() -> Step {
    Step { action: Action::Cool { below_mc: 0 }, vacuum: None }
}

/// What came of one tick.
pub(super) enum TickOutcome {
    /// The firing goes on.
    Going(Demand),
    /// It is over.
    Over(Ending),
}

/// What one step says of itself.
enum StepStatus {
    Busy,
    Done,
    Failed(Ending),
}

impl ActiveFiring {
    /// The first step, or `None` for an empty programme.
    pub(super) fn begin(
        programme: &ProgrammeImage,
        now: &SequencerInputs,
        open: bool,
    ) -> Option<Self> {
        let (step, next_offset) = programme.step_at(0)?;
        let at = now.now;
        Some(Self {
            step,
            index: 0,
            next_offset,
            began: at,
            entered: at,
            setpoint: None,
            gathered_ms: 0,
            outside_ms: 0,
            drawing: PumpDown::default(),
            open,
            shutting: step.action.heats() && !now.shut,
        })
    }

    /// Reads the step at hand again, after a snapshot; false if the programme has none there.
    #[cfg(feature = "desk")]
    pub(super) fn recall(&mut self, programme: &ProgrammeImage) -> bool {
        let mut offset = 0;
        for _ in 0..=self.index {
            let Some((step, next_offset)) = programme.step_at(offset) else { return false };
            (self.step, self.next_offset) = (step, next_offset);
            offset = next_offset;
        }
        true
    }

    /// Index of the step at hand, from 0.
    pub const fn step_index(&self) -> u8 {
        self.index
    }

    /// The step at hand.
    pub const fn step(&self) -> &Step {
        &self.step
    }

    /// Time gathered inside the band of a soak, or at the end of a move (ms).
    pub const fn counted_ms(&self) -> u32 {
        self.gathered_ms
    }

    /// The pressure of the vacuum stage at hand has been reached.
    pub const fn vacuum_reached(&self) -> bool {
        self.drawing.reached()
    }

    /// One tick.
    pub(super) fn advance(
        &mut self,
        programme: &ProgrammeImage,
        rules: &SequencerLimits,
        now: &SequencerInputs,
    ) -> TickOutcome {
        if let Some(cause) = now.trip {
            return TickOutcome::Over(Ending::Tripped(cause));
        }
        if now.stop_held {
            return TickOutcome::Over(Ending::Stopped);
        }
        if now.now.since(self.began) > rules.firing_max_ms {
            return TickOutcome::Over(Ending::TooLong);
        }
        if self.shutting {
            return self.shut_first(rules, now);
        }
        let standing = self.work(rules, now);
        self.drawing.next(self.step.vacuum.as_ref(), now, self.setpoint);
        match standing {
            StepStatus::Failed(ending) => return TickOutcome::Over(ending),
            // A step that heats does not end before the pressure is there.
            StepStatus::Done if !(self.step.action.heats() && self.drawing.waits()) => {
                match programme.step_at(self.next_offset) {
                    Some((step, next_offset)) => self.enter(step, next_offset, now),
                    None => return TickOutcome::Over(Ending::Completed),
                }
            }
            StepStatus::Busy | StepStatus::Done => {}
        }
        TickOutcome::Going(self.plan())
    }

    /// Waits, without heat, until the contacts prove the chamber shut.
    fn shut_first(&mut self, rules: &SequencerLimits, now: &SequencerInputs) -> TickOutcome {
        if now.now.since(self.entered) > rules.closure_travel_max_ms {
            return TickOutcome::Over(Ending::ClosureStuck);
        }
        self.open = false;
        self.shutting = !now.shut;
        if !self.shutting {
            self.entered = now.now;
        }
        TickOutcome::Going(Demand { firing: true, ..Demand::default() })
    }

    fn enter(&mut self, step: Step, next_offset: u16, now: &SequencerInputs) {
        if step.vacuum != self.step.vacuum {
            self.drawing = PumpDown::default();
        }
        self.shutting = step.action.heats() && !now.shut;
        self.step = step;
        self.next_offset = next_offset;
        self.index = self.index.saturating_add(1);
        self.entered = now.now;
        self.gathered_ms = 0;
        self.outside_ms = 0;
    }

    fn work(&mut self, rules: &SequencerLimits, now: &SequencerInputs) -> StepStatus {
        match self.step.action {
            Action::Ramp { to_mc, rate_mk_per_min } => self.ramp(to_mc, rate_mk_per_min, now),
            Action::Soak { duration_ms: for_ms, band_mk, band_timeout_ms: patience_ms } => {
                self.soak(for_ms, band_mk, patience_ms, now)
            }
            Action::Cool { below_mc } => self.cool(below_mc, now),
            Action::MoveClosure { open, dwell_ms: stay_ms } => {
                self.shift(open, stay_ms, rules, now)
            }
            Action::Hold { timeout_ms, continue_on_timeout: go_on } => {
                self.ask(timeout_ms, go_on, now)
            }
        }
    }

    fn ramp(&mut self, to_mc: i32, rate_mk_per_min: u32, now: &SequencerInputs) -> StepStatus {
        let Some(reading) = now.reading_c else { return StepStatus::Busy };
        let to_c = Celsius::from_milli(to_mc).get();
        let rate = rate_mk_per_min as f32 * (0.001 / 60.0);
        let from = self.setpoint.unwrap_or(Setpoint::at(reading));
        let next = from.towards(to_c, rate, reading, self.drawing.waits());
        self.setpoint = Some(next);
        // Both numbers come from the same integer, so that they meet exactly.
        if next == Setpoint::at(to_c) { StepStatus::Done } else { StepStatus::Busy }
    }

    fn soak(
        &mut self,
        for_ms: u32,
        band_mk: u32,
        patience_ms: u32,
        now: &SequencerInputs,
    ) -> StepStatus {
        let setpoint = self.hold(now);
        let band = band_mk as f32 * 0.001;
        let inside = now.reading_c.is_some_and(|c| (c - setpoint.celsius).abs() <= band);
        if inside && !self.drawing.waits() {
            self.gathered_ms = self.gathered_ms.saturating_add(TICK_MS);
        } else if !inside {
            self.outside_ms = self.outside_ms.saturating_add(TICK_MS);
        }
        if self.gathered_ms >= for_ms {
            StepStatus::Done
        } else if self.outside_ms > patience_ms {
            StepStatus::Failed(Ending::BandLost)
        } else {
            StepStatus::Busy
        }
    }

    fn cool(&mut self, below_mc: i32, now: &SequencerInputs) -> StepStatus {
        let below_c = Celsius::from_milli(below_mc).get();
        // What comes after may hold this, so that it never lies above what was held before.
        let held = self.setpoint.map_or(now.reading_c, |setpoint| Some(setpoint.celsius));
        self.setpoint = held.map(|celsius| Setpoint::at(celsius.min(below_c)));
        if now.reading_c.is_some_and(|reading| reading <= below_c) {
            StepStatus::Done
        } else {
            StepStatus::Busy
        }
    }

    fn shift(
        &mut self,
        open: bool,
        stay_ms: u32,
        rules: &SequencerLimits,
        now: &SequencerInputs,
    ) -> StepStatus {
        // After a move the next ramp starts from what the furnace then reads.
        self.setpoint = None;
        let cool = now.reading_c.is_some_and(|reading| reading < rules.open_below_c);
        let air = !rules.has_vacuum || now.pressure_pa.is_some_and(|pa| pa >= AIR_PA);
        if open && !self.open && !(cool && air) {
            self.entered = now.now;
            return StepStatus::Busy;
        }
        self.open = open;
        if if open { now.open } else { now.shut } {
            self.gathered_ms = self.gathered_ms.saturating_add(TICK_MS);
        } else if now.now.since(self.entered) > rules.closure_travel_max_ms {
            return StepStatus::Failed(Ending::ClosureStuck);
        }
        let there = self.gathered_ms > 0;
        if there && self.gathered_ms >= stay_ms { StepStatus::Done } else { StepStatus::Busy }
    }

    fn ask(&mut self, timeout_ms: u32, go_on: bool, now: &SequencerInputs) -> StepStatus {
        self.hold(now);
        let silent = now.now.since(self.entered) > u64::from(timeout_ms);
        match (now.confirm_pressed, silent, go_on) {
            (true, _, _) | (false, true, true) => StepStatus::Done,
            (false, true, false) => StepStatus::Failed(Ending::Unanswered),
            (false, false, _) => StepStatus::Busy,
        }
    }

    /// Stays where the ramp before has come to rest, or where the furnace is.
    fn hold(&mut self, now: &SequencerInputs) -> Setpoint {
        let setpoint = self.setpoint.or(now.reading_c.map(Setpoint::at)).unwrap_or_default();
        self.setpoint = Some(setpoint);
        setpoint
    }

    fn plan(&self) -> Demand {
        let stage = self.step.vacuum.as_ref();
        let drawing = self.drawing.draws();
        Demand {
            firing: true,
            setpoint: if self.step.action.heats() { self.setpoint } else { None },
            vacuum_pa: stage.filter(|_| drawing).map(|stage| stage.to_pa),
            vacuum_overdue: self.drawing.overdue(stage),
            open_closure: self.open,
            operator_hold: matches!(self.step.action, Action::Hold { .. }),
        }
    }
}
