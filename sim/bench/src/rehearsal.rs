//! Rehearsals: a firing with the bare core and a scripted operator that ends in a verdict.

use std::convert::Infallible;
use std::ops::ControlFlow;

use saggar_core::Controller;
use saggar_core::controller::LoadError;
use saggar_core::furnace::Furnace;
use saggar_core::programme::ProgrammeImage;
use saggar_core::sequencer::Ending;
use saggar_plant::faults::{Fault, FaultEffect, FaultKind};
use saggar_plant::furnace_state::FurnaceState;
use saggar_plant::piece::Piece;
use saggar_plant::spec::{FurnaceSpec, WorkSpec};
use saggar_plant::thermal::NetworkError;
use saggar_plant::vacuum::ValvesAtRest;
use saggar_verdict::{NotStarted, Verdict, assess};

use crate::bench::Bench;
use crate::firmware::BareCore;
use crate::observer::{Observer, SummaryRecorder};
use crate::operator::ScriptedOperator;
use crate::trace::Trace;
use crate::world::World;

/// The inputs of a rehearsal.
#[derive(Clone, Debug)]
pub struct RehearsalSetup<'a> {
    /// The furnace as the model simulates it.
    pub furnace: &'a FurnaceSpec,
    /// The furnace as its controller knows it.
    pub device: &'a Furnace,
    /// The work.
    pub work: &'a WorkSpec,
    /// The programme.
    pub programme: &'a ProgrammeImage,
    /// Seed of all noise: the same seed, the same firing, bit for bit.
    pub seed: u64,
    /// The injected faults.
    pub faults: Vec<Fault>,
    /// Time that the operator takes to answer a hold (s); `None` never answers.
    pub operator_delay_s: Option<f64>,
    /// The furnace before the work is put in; `None` for a cold one.
    pub start: Option<FurnaceState>,
}

/// The bench of a rehearsal. It records the figures for the verdict, and runs the observer `O`.
pub type Rehearsal<O = Trace> = Bench<BareCore, ScriptedOperator, (SummaryRecorder, O)>;

/// The result of a finished firing.
#[derive(Clone, Debug)]
pub struct FiringResult<O = Trace> {
    /// The trace, or another observer.
    pub trace: O,
    /// The final states of the pieces, one for each ring of places, the inner one first.
    pub pieces: Vec<Piece>,
    /// The furnace when start was pressed.
    pub furnace_at_start: FurnaceState,
    /// The state in which the firing leaves the furnace, at the end of the trace.
    pub furnace_at_end: FurnaceState,
    /// The verdict.
    pub verdict: Verdict,
    /// How it ended; `None` if the bench stopped it while it was still running.
    pub ending: Option<Ending>,
    /// Why it did not begin; `None` if it did.
    pub not_started: Option<NotStarted>,
    /// Ticks that were run.
    pub ticks: u64,
}

/// Why a rehearsal cannot be set up.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum SetupError {
    /// The controller does not accept the programme.
    #[error("{}", load_error_text(.0))]
    Load(LoadError),
    /// The furnace and the work do not form a valid thermal network.
    #[error("the furnace and the work do not form a valid thermal model ({0:?})")]
    Chamber(NetworkError),
    /// A rehearsal of the bare core has nothing for this fault to strike.
    #[error("{} cannot strike in a rehearsal: {}", .0.name(), unreachable_reason(*.0))]
    OutOfReach(FaultKind),
}

impl RehearsalSetup<'_> {
    /// The furnace with the programme loaded. The first ticks let the estimate settle, then the
    /// operator presses start.
    ///
    /// # Errors
    /// The controller does not accept the programme, or the furnace cannot be built.
    pub fn bench<O: Observer>(&self, observer: O) -> Result<Rehearsal<O>, SetupError> {
        for fault in &self.faults {
            if is_out_of_reach(fault) {
                return Err(SetupError::OutOfReach(fault.kind));
            }
        }
        let mut core = Controller::new(self.device.clone());
        core.load(self.programme.bytes(), &self.programme.digest())
            .map_err(SetupError::Load)?;
        let script = ScriptedOperator::answering(self.operator_delay_s);
        Ok(Bench::new(
            self.world()?,
            BareCore::new(core),
            script,
            (self.summary_recorder(), observer),
        ))
    }

    /// A recorder of the figures that the verdict needs.
    pub fn summary_recorder(&self) -> SummaryRecorder {
        SummaryRecorder::new(self.programme, self.furnace, self.device)
    }

    /// The furnace with the work in it, which is cold.
    ///
    /// # Errors
    /// It cannot be built.
    pub fn world(&self) -> Result<World, SetupError> {
        let faults = self.faults.clone();
        let Self { furnace, work, seed, .. } = *self;
        match &self.start {
            Some(start) => World::starting(furnace, work, seed, faults, start),
            None => World::new(furnace, work, seed, faults),
        }
        .map_err(SetupError::Chamber)
    }
}

/// A power cut of a rehearsal.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlannedCut {
    /// When (s from the start button).
    pub at_s: f64,
    /// For how long (s).
    pub length_s: f64,
}

impl<O: Observer> Rehearsal<O> {
    /// Runs up to each power cut, cuts the power and boots the core again, which then waits for the
    /// operator. `cuts` are in order of time; those after the end of the firing do not happen.
    pub fn run_through_cuts(&mut self, cuts: &[PlannedCut], rest: ValvesAtRest) {
        for cut in cuts {
            self.run_until(cut.at_s);
            if !self.is_under_way() {
                return;
            }
            self.cut_power(cut.length_s, rest);
            self.firmware.reboot();
        }
    }

    /// Runs the firing of this work to its end. `watch` is called once per simulated minute with the time
    /// (s), and may abort the firing.
    pub fn run_with_progress<B>(
        mut self,
        work: &WorkSpec,
        mut watch: impl FnMut(f64) -> ControlFlow<B>,
    ) -> ControlFlow<B, FiringResult<O>> {
        let Ok(flow) = self.run(|bench| -> Result<_, Infallible> {
            let ticks = bench.world().ticks();
            let minute = ticks > 0 && ticks.is_multiple_of(600);
            Ok(if minute { watch(bench.world().now_s()) } else { ControlFlow::Continue(()) })
        });
        match flow {
            ControlFlow::Break(why) => ControlFlow::Break(why),
            ControlFlow::Continue(()) => ControlFlow::Continue(self.conclude(work)),
        }
    }

    /// Runs up to this time of the firing (s), or to its end if that is earlier. For a time before the
    /// start it does not run at all.
    pub fn run_until(&mut self, at_s: f64) {
        let before =
            |world: &World| at_s >= 0.0 && (!world.is_started() || world.now_s() < at_s);
        while before(self.world()) && matches!(self.step(), Ok(true)) {}
    }

    /// Runs the firing of this work to its end.
    pub fn run_to_end(self, work: &WorkSpec) -> FiringResult<O> {
        let on = |_| ControlFlow::<Infallible>::Continue(());
        let ControlFlow::Continue(firing) = self.run_with_progress(work, on);
        firing
    }

    fn conclude(self, work: &WorkSpec) -> FiringResult<O> {
        let (world, _, (summary, trace)) = self.into_parts();
        FiringResult::from_world(&world, summary, trace, work)
    }
}

impl<O> FiringResult<O> {
    /// The result of the finished firing in a world.
    pub fn from_world(
        world: &World,
        summary: SummaryRecorder,
        trace: O,
        work: &WorkSpec,
    ) -> Self {
        let (ending, not_started) = (world.ending(), world.not_started());
        let summary = summary.finish(ending, not_started);
        let pieces = world.pieces().to_vec();
        let verdict = assess(work, &pieces, &summary);
        Self {
            trace,
            pieces,
            furnace_at_start: world.furnace_at_start(),
            furnace_at_end: world.furnace_state(),
            verdict,
            ending,
            not_started,
            ticks: world.ticks(),
        }
    }
}

/// Whether the bare core has nothing for this fault to strike.
fn is_out_of_reach(fault: &Fault) -> bool {
    fault.effect() == FaultEffect::MainsCut
        || fault.kind.needs().is_some_and(|part| part.needs_a_device())
}

fn unreachable_reason(kind: FaultKind) -> String {
    match kind.needs() {
        Some(part) => format!("it has no {}; try a stand-in", part.name()),
        None => "a power cut is planned as one".to_owned(),
    }
}

fn load_error_text(why: &LoadError) -> String {
    match why {
        LoadError::FiringInProgress => "a firing is running".into(),
        LoadError::Furnace(why) => {
            format!("the controller rejects the furnace's data ({why:?})")
        }
        LoadError::Image(why) => format!("the controller cannot read the programme ({why:?})"),
        LoadError::Violations { count, .. } => {
            format!("the programme breaks {count} rules of the controller; check it")
        }
    }
}
