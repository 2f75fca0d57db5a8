//! Plant and controller in one loop, on a clock that is only counted.
//!
//! The real [`Controller`] sees nothing but [`Inputs`], moves nothing but through [`Outputs`],
//! and what it asked for takes effect in the tick after, as it does on a board.

mod plant;
mod summary;

use saggar_core::controller::LoadError;
use saggar_core::furnace::Furnace;
use saggar_core::io::{Buttons, Inputs, Outputs};
use saggar_core::programme::Image;
use saggar_core::sequencer::{Ending, State};
use saggar_core::units::Instant;
use saggar_core::{Controller, TICK_MS};

use crate::faults::{Faults, Scheduled};
use crate::piece::PieceState;
use crate::record::{Record, Sample};
use crate::spec::{FurnaceSpec, WorkSpec};
use crate::thermal::{NetworkError, TICK_S};
use crate::verdict::{self, Verdict};
use plant::Plant;

/// Ticks between two rows of a record, and two steps of the piece: one second.
const ROW_TICKS: u32 = 10;

/// Time before the start button (ms): the estimate settles.
const WARM_UP_MS: u64 = 2_000;

/// The piece's time at the highest setpoint counts from this far below it (K).
const WATCH_BELOW_K: f64 = 10.0;

/// Rows recorded after a firing has ended, at least and at most: a firing that tripped is
/// followed until nothing more can happen to the piece.
const TAIL_ROWS: u32 = 30;
const TAIL_ROWS_MAX: u32 = 3_600;

/// Cooler than this nothing flows and nothing burns (°C).
const QUIET_C: f64 = 450.0;

/// Everything that a rehearsal is made of.
#[derive(Clone, Debug)]
pub struct Setup<'a> {
    /// The furnace as it is built.
    pub furnace: &'a FurnaceSpec,
    /// The furnace as its controller knows it.
    pub device: &'a Furnace,
    /// The work.
    pub work: &'a WorkSpec,
    /// The programme.
    pub programme: &'a Image,
    /// Seed of all noise: the same seed, the same firing, bit for bit.
    pub seed: u64,
    /// What goes wrong, and when.
    pub faults: Vec<Scheduled>,
    /// Time that the operator takes to answer a hold (s); `None` never answers.
    pub operator_s: Option<f64>,
}

/// A firing that is over.
#[derive(Clone, Debug)]
pub struct Firing {
    /// The trace.
    pub record: Record,
    /// What the piece went through.
    pub piece: PieceState,
    /// What it comes to.
    pub verdict: Verdict,
    /// How it ended; `None` if it was given up while still running.
    pub ending: Option<Ending>,
    /// Ticks that were run.
    pub ticks: u64,
}

/// Why a rehearsal cannot begin.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RigError {
    /// The controller does not take the programme.
    Load(LoadError),
    /// The furnace or the work makes no network of masses and conductances.
    Chamber(NetworkError),
}

/// A furnace, a piece and a controller.
pub struct Rig<'a> {
    setup: Setup<'a>,
    plant: Plant,
    controller: Controller,
    faults: Faults,
    inputs: Inputs,
    outputs: Outputs,
    now_ms: u64,
    /// When the operator pressed start; until then the estimate settles.
    start_ms: Option<u64>,
    asked_since_ms: Option<u64>,
    ticks: u64,
    limit_ticks: u64,
    cycles_per_row: f64,
    /// Rows recorded since the firing ended.
    tail: u32,
    row: Row,
    record: Record,
}

/// What gathers between two rows.
#[derive(Clone, Copy, Debug, Default)]
struct Row {
    ticks: u32,
    cycles: u32,
    energy_j: f64,
}

/// What moves the chamber in one tick.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Drive {
    /// Power of the heater (W).
    pub heater_w: f64,
    /// Pressure (Pa).
    pub pressure_pa: f64,
    /// How far the lift or door is open, 0 to 1.
    pub opening: f64,
}

impl<'a> Rig<'a> {
    /// A cold furnace with the programme loaded; the first steps let the estimate settle, then
    /// the operator presses start.
    ///
    /// # Errors
    /// Why the controller does not take the programme, or the furnace cannot be built.
    pub fn new(setup: Setup<'a>) -> Result<Self, RigError> {
        let mut controller = Controller::new(setup.device.clone());
        controller
            .load(setup.programme.bytes(), &setup.programme.digest())
            .map_err(RigError::Load)?;
        let highest_c = summary::highest_setpoint_c(setup.programme).unwrap_or(f64::INFINITY);
        let watch_c = highest_c - WATCH_BELOW_K;
        let plant = Plant::new(setup.furnace, setup.work, watch_c, setup.seed)
            .map_err(RigError::Chamber)?;
        let faults = Faults::new(setup.faults.clone());
        let limit_ticks = u64::from(setup.device.limits.firing_max_s) * 10 + 1_000;
        // A row is a second long.
        let cycles_per_row = f64::from(setup.device.heater.mains_hz);
        Ok(Self {
            setup,
            plant,
            controller,
            faults,
            inputs: Inputs::default(),
            outputs: Outputs::default(),
            now_ms: 0,
            start_ms: None,
            asked_since_ms: None,
            ticks: 0,
            limit_ticks,
            cycles_per_row,
            tail: 0,
            row: Row::default(),
            record: Record::default(),
        })
    }

    /// Runs the firing to its end. `watch` is told the time (s) once every simulated minute.
    pub fn run(mut self, mut watch: impl FnMut(f64)) -> Firing {
        while self.step() {
            if self.row.ticks == 0 && self.record.samples.len().is_multiple_of(60) {
                watch(self.now_s());
            }
        }
        self.finish()
    }

    /// One tenth of a second; false once the firing is over and its tail recorded.
    pub fn step(&mut self) -> bool {
        let buttons = self.operator();
        self.tick(buttons);
        if self.start_ms.is_none() {
            return true;
        }
        self.ticks += 1;
        if self.row.ticks >= ROW_TICKS {
            self.end_row();
            let ended = matches!(self.controller.state(), State::Ended(_) | State::Idle);
            self.tail += u32::from(ended);
        }
        self.ticks < self.limit_ticks && !self.told()
    }

    /// The firing has ended and its tail is recorded.
    fn told(&self) -> bool {
        let piece_c = self.record.samples.last().map_or(0.0, |row| row.piece_c);
        self.tail >= TAIL_ROWS && (piece_c < QUIET_C || self.tail >= TAIL_ROWS_MAX)
    }

    /// What the controller was told in the last tick, and when: fed to another controller, tick
    /// by tick, it makes the same outputs.
    pub fn told_controller(&self) -> (Instant, Inputs) {
        (Instant::from_millis(self.now_ms), self.inputs)
    }

    /// What the controller answered.
    pub fn outputs(&self) -> Outputs {
        self.outputs
    }

    /// What moved the chamber in the last tick.
    pub fn drive(&self) -> Drive {
        self.plant.drive()
    }

    /// One tick of plant and controller.
    #[inline]
    fn tick(&mut self, buttons: Buttons) {
        let late_ms = if self.faults.any() { self.faults.strike(self.now_s()) } else { 0 };
        self.now_ms += u64::from(TICK_MS) + late_ms;
        let watt = self.plant.tick(&self.outputs, &self.faults);
        let mut inputs: Inputs = self.plant.inputs();
        inputs.buttons = buttons;
        if !self.faults.none() {
            self.faults.spoil(self.now_s(), &mut inputs);
        }
        self.outputs = self.controller.step(Instant::from_millis(self.now_ms), &inputs);
        self.inputs = inputs;
        self.row.ticks += 1;
        self.row.energy_j += watt * TICK_S;
        self.row.cycles += self.outputs.heater_cycles.count_ones();
    }

    /// Seconds since the start button.
    fn now_s(&self) -> f64 {
        (self.now_ms as f64 - self.start_ms.unwrap_or(self.now_ms) as f64) / 1000.0
    }

    /// What the operator does: starts, and answers holds after a while.
    fn operator(&mut self) -> Buttons {
        if self.start_ms.is_none() {
            let start = self.now_ms >= WARM_UP_MS;
            if start {
                self.start_ms = Some(self.now_ms + u64::from(TICK_MS));
                self.row = Row::default();
            }
            return Buttons { start, ..Buttons::default() };
        }
        if !self.outputs.buzzer {
            self.asked_since_ms = None;
            return Buttons::default();
        }
        let since = *self.asked_since_ms.get_or_insert(self.now_ms);
        let waited_s = (self.now_ms - since) as f64 / 1000.0;
        let confirm = self.setup.operator_s.is_some_and(|after| waited_s >= after);
        if confirm {
            // A press, not a held button: the next question is answered in its own time.
            self.asked_since_ms = None;
        }
        Buttons { confirm, ..Buttons::default() }
    }

    fn end_row(&mut self) {
        let gathered = std::mem::take(&mut self.row);
        self.plant.second(f64::from(gathered.ticks) * TICK_S);
        let status = self.controller.status();
        let mut sample = Sample {
            at_s: self.now_s(),
            step: status.step,
            setpoint_c: status.setpoint.map(|setpoint| f64::from(setpoint.celsius)),
            sensor_c: status.reading_c.map(f64::from),
            duty: f64::from(gathered.cycles) / self.cycles_per_row,
            ..Sample::default()
        };
        self.plant.show(&mut sample);
        self.record.samples.push(sample);
        self.record.energy_j += gathered.energy_j;
        while let Some(mut event) = self.controller.take_event() {
            let at = event.at.millis().saturating_sub(self.start_ms.unwrap_or(0));
            event.at = Instant::from_millis(at);
            self.record.events.push(event);
        }
    }

    fn finish(self) -> Firing {
        let ending = match self.controller.state() {
            State::Ended(ending) => Some(*ending),
            State::Idle | State::Running(_) => None,
        };
        let summary = summary::of(&self.record, &self.setup, ending);
        let piece = self.plant.piece().clone();
        let verdict = verdict::judge(self.setup.work, &piece, &summary);
        Firing { record: self.record, piece, verdict, ending, ticks: self.ticks }
    }
}

impl std::fmt::Display for RigError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Load(LoadError::Firing) => f.write_str("a firing is running"),
            Self::Load(LoadError::Unfit(why)) => {
                write!(f, "the controller does not trust the furnace's data ({why:?})")
            }
            Self::Load(LoadError::Image(why)) => {
                write!(f, "the controller cannot read the programme ({why:?})")
            }
            Self::Load(LoadError::Forbidden { count, .. }) => {
                write!(f, "the controller refuses the programme for {count} reasons; check it")
            }
            Self::Chamber(why) => {
                write!(f, "the furnace and the work make no chamber ({why:?})")
            }
        }
    }
}
