//! Plant and controller in one loop, on a clock that is only counted.
//!
//! The real [`Controller`] sees nothing but [`Inputs`], moves nothing but through [`Outputs`],
//! and what it asked for takes effect in the tick after, as it does on a board.

mod summary;
mod world;

use saggar_core::Controller;
use saggar_core::controller::LoadError;
use saggar_core::furnace::Furnace;
use saggar_core::io::{Buttons, Inputs, Outputs};
use saggar_core::programme::Image;
use saggar_core::sequencer::{Ending, State};
use saggar_core::units::Instant;

use crate::record::Record;
use saggar_plant::faults::Scheduled;
use saggar_plant::piece::PieceState;
use saggar_plant::spec::{FurnaceSpec, WorkSpec};
use saggar_plant::thermal::NetworkError;
use saggar_plant::verdict::{NotBegun, Verdict};

pub use saggar_plant::plant::Drive;
pub use world::World;

/// Time before the start button (ms): the estimate settles.
const WARM_UP_MS: u64 = 2_000;

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
    /// Why it did not begin; `None` if it did.
    pub not_begun: Option<NotBegun>,
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
    world: World,
    controller: Controller,
    inputs: Inputs,
    outputs: Outputs,
    asked_since_ms: Option<u64>,
    limit_ticks: u64,
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
        let world = World::new(
            setup.furnace,
            setup.device,
            setup.work,
            setup.programme,
            setup.seed,
            setup.faults.clone(),
        )
        .map_err(RigError::Chamber)?;
        let limit_ticks = u64::from(setup.device.limits.firing_max_s) * 10 + 1_000;
        Ok(Self {
            setup,
            world,
            controller,
            inputs: Inputs::default(),
            outputs: Outputs::default(),
            asked_since_ms: None,
            limit_ticks,
        })
    }

    /// Runs the firing to its end. `watch` is told the time (s) once every simulated minute.
    pub fn run(mut self, mut watch: impl FnMut(f64)) -> Firing {
        while self.step() {
            if self.world.row_begins() && self.world.record().samples.len().is_multiple_of(60) {
                watch(self.world.now_s());
            }
        }
        self.finish()
    }

    /// One tenth of a second; false once the firing is over and its tail recorded.
    pub fn step(&mut self) -> bool {
        let buttons = self.operator();
        let (now, mut inputs) = self.world.advance(&self.outputs);
        inputs.buttons = buttons;
        self.outputs = self.controller.step(now, &inputs);
        self.inputs = inputs;
        if buttons.start
            && let Some(why) = refusal(&self.controller)
        {
            self.world.start_was_refused(why);
        }
        if self.world.answered(&self.outputs) {
            let controller = &mut self.controller;
            let status = controller.status();
            self.world.end_row(&status, std::iter::from_fn(|| controller.take_event()));
        }
        !self.world.started() || (self.world.ticks() < self.limit_ticks && !self.world.told())
    }

    /// What the controller was told in the last tick, and when: fed to another controller, tick
    /// by tick, it makes the same outputs.
    pub fn told_controller(&self) -> (Instant, Inputs) {
        (Instant::from_millis(self.world.now_ms()), self.inputs)
    }

    /// What the controller answered.
    pub fn outputs(&self) -> Outputs {
        self.outputs
    }

    /// What moved the chamber in the last tick.
    pub fn drive(&self) -> Drive {
        self.world.drive()
    }

    /// What the operator does: starts, and answers holds after a while.
    fn operator(&mut self) -> Buttons {
        let now_ms = self.world.now_ms();
        if !self.world.started() {
            let start = now_ms >= WARM_UP_MS;
            if start {
                self.world.press_start();
            }
            return Buttons { start, ..Buttons::default() };
        }
        if !self.outputs.buzzer {
            self.asked_since_ms = None;
            return Buttons::default();
        }
        let since = *self.asked_since_ms.get_or_insert(now_ms);
        let waited_s = (now_ms - since) as f64 / 1000.0;
        let confirm = self.setup.operator_s.is_some_and(|after| waited_s >= after);
        if confirm {
            // A press, not a held button: the next question is answered in its own time.
            self.asked_since_ms = None;
        }
        Buttons { confirm, ..Buttons::default() }
    }

    fn finish(self) -> Firing {
        let ending = match self.controller.state() {
            State::Ended(ending) => Some(*ending),
            State::Idle | State::Running(_) => None,
        };
        self.world.finish(self.setup.work, self.setup.programme, ending)
    }
}

/// Why a controller did not take the press on start in this tick; `None` if it did.
fn refusal(controller: &Controller) -> Option<NotBegun> {
    let status = controller.status();
    match (controller.state(), status.tripped) {
        (State::Running(_) | State::Ended(_), _) => None,
        (State::Idle, Some(cause)) => Some(NotBegun::Tripped(cause)),
        (State::Idle, None) => Some(NotBegun::NoReading),
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
