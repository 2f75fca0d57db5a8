//! Ten simulated years in one run of one controller: a firing a day with new work, now and then a fault, trips
//! that the operator accepts, and idle time between. The time that the core is given begins five minutes
//! before a count of milliseconds in 32 bits would wrap.

use saggar_bench::firmware::{BareCore, Firmware};
use saggar_bench::observer::SummaryRecorder;
use saggar_bench::observer::invariants::InvariantWatch;
use saggar_bench::operator::{Operator, ScriptedOperator};
use saggar_bench::{Bench, RehearsalSetup, SetupError, World};
use saggar_core::Controller;
use saggar_core::io::{Buttons, Inputs, Outputs};
use saggar_core::sequencer::Ending;
use saggar_plant::faults::{Fault, FaultKind};
use saggar_schedule::firing_plan::FiringPlan;

use super::case::CaseOutcome;
use super::drawn::Draw;
use super::error::CampaignError;
use super::hardware;
use super::reference::OPERATOR_S;
use super::report::CaseReport;
use super::run::Campaign;
use super::schedules::SCHEDULES;
use super::seeds::{drawn_fault, is_possible};
use super::watch::CaseWatch;

/// Firings if their number is not given: ten years, one a day.
pub(super) const FIRINGS: usize = 3_652;

/// Time since power-up at the first tick (ms): five minutes before 32 bits of milliseconds are full.
const BEGIN_MS: u64 = (1 << 32) - 300_000;

/// Ticks of a day.
const DAY_TICKS: u64 = 864_000;

/// Time after the work was put in until start is pressed (ms): two minutes on the first day, so that the wrap
/// comes in its firing, and later a quarter of an hour, so that the filters show nothing of the day before.
const FIRST_LOADING_MS: u64 = 120_000;
const LOADING_MS: u64 = 900_000;

/// One firing in this many has a fault.
const FAULT_EVERY: usize = 10;

/// Temperature below which the furnace counts as cold (°C), and stands still until the next day.
const COLD_C: f64 = 35.0;

/// Readings that a furnace that stands still repeats: ten seconds.
const READINGS: usize = 100;

/// The day whose firing must be equal to the last one, each after a day that is equal as well: the first
/// day finds the lift shut, the later ones as the day before has left it.
const COMPARED_DAY: usize = 1;

/// How far the two may be apart: ticks, share of the cycles, and kelvin.
const TICKS_APART: usize = 10;
const CYCLES_APART: f64 = 0.001;
const KELVIN_APART: f64 = 0.1;

/// Seed of the noise of these days.
const SEED: u64 = 1;

/// The campaign, ready to run.
pub(super) struct Decade {
    plans: Vec<FiringPlan>,
    seed: u64,
    firings: usize,
}

/// Starts when the work is in, and then acts by the script.
#[derive(Clone, Debug)]
struct DailyOperator {
    script: ScriptedOperator,
    start_ms: u64,
}

impl Operator for DailyOperator {
    fn buttons(&mut self, now_ms: u64, outputs: &Outputs, firmware: &impl Firmware) -> Buttons {
        match now_ms < self.start_ms {
            true => Buttons::default(),
            false => self.script.buttons(now_ms, outputs, firmware),
        }
    }

    fn starts_once(&self) -> bool {
        true
    }
}

impl DailyOperator {
    /// Starts at this time (ms).
    fn starting_at(start_ms: u64) -> Self {
        Self { script: ScriptedOperator::answering(Some(OPERATOR_S)), start_ms }
    }
}

/// The bench of one controller for all its days.
type DailyBench<F> = Bench<F, DailyOperator, (SummaryRecorder, CaseWatch)>;

/// What the days have shown so far.
#[derive(Debug, Default)]
struct Diary {
    completed: usize,
    tripped: usize,
    other: usize,
    findings: Vec<String>,
    excused: Vec<String>,
    above_asked_k: f64,
    /// The firings that must be equal.
    second: FiringFigures,
    last: FiringFigures,
}

impl Decade {
    /// With this many firings; the seed is that of what is drawn.
    ///
    /// # Errors
    /// A schedule does not compile.
    pub(super) fn new(seed: u64, firings: usize) -> Result<Self, CampaignError> {
        let plans = SCHEDULES.iter().map(super::schedules::CampaignSchedule::plan);
        let mut plans = plans.collect::<Result<Vec<_>, _>>()?;
        // One controller has one furnace.
        let device = plans[0].profile.furnace.clone();
        plans.retain(|plan| plan.profile.furnace == device);
        Ok(Self { plans, seed, firings: firings.max(4) })
    }

    /// The plan, the seed of the noise and the faults of a day. The first two and the last two are equal, and
    /// healthy.
    fn day(&self, day: usize) -> (&FiringPlan, u64, Vec<Fault>) {
        if day < 2 || day + 2 >= self.firings {
            return (&self.plans[0], SEED, Vec::new());
        }
        let mut draw = Draw::new(self.seed.wrapping_mul(1_000_000).wrapping_add(day as u64));
        let plan = &self.plans[draw.place(self.plans.len())];
        let mut faults = Vec::new();
        if day.is_multiple_of(FAULT_EVERY) {
            let kind = FaultKind::ALL[draw.place(FaultKind::ALL.len())];
            if is_possible(kind, &plan.profile.spec) && !outlasts_the_firing(kind) {
                let length_s = plan.summary.shortest_seconds;
                faults.push(drawn_fault(&mut draw, kind, length_s));
            }
        }
        (plan, SEED + day as u64, faults)
    }

    /// All days, one after another.
    fn live(&self) -> Result<Diary, SetupError> {
        let mut diary = Diary { above_asked_k: f64::NEG_INFINITY, ..Diary::default() };
        let (plan, seed, faults) = self.day(0);
        let setup = setup(plan, seed, faults);
        let mut bench = bench_of(&setup, BEGIN_MS, |core| core)?;
        for day in 0..self.firings {
            let before = bench.ticks();
            let (plan, _, faults) = self.day(day);
            let outputs = fire(&mut bench);
            cool(&mut bench);
            let outcome = CaseOutcome::in_world(bench.world(), bench.observer.1.clone());
            diary.last = FiringFigures::of(&outputs, &outcome);
            if day == COMPARED_DAY {
                diary.second = diary.last;
            }
            diary.note(day, &plan.schedule.name, &faults, &outcome);
            rest_until(&mut bench, before + DAY_TICKS, day, &mut diary);
            if day + 1 < self.firings {
                self.load_next(&mut bench, day + 1)?;
            }
        }
        Ok(diary)
    }

    /// New work and its programme, in a furnace that has become cold.
    fn load_next(
        &self,
        bench: &mut DailyBench<BareCore>,
        day: usize,
    ) -> Result<(), SetupError> {
        let (plan, seed, faults) = self.day(day);
        let setup = setup(plan, seed, faults);
        let image = setup.programme;
        bench
            .firmware
            .core_mut()
            .load(image.bytes(), &image.digest())
            .map_err(SetupError::Load)?;
        let observer = (setup.summary_recorder(), watch(plan));
        bench.start_next(|| setup.world(), observer)?;
        bench.operator = DailyOperator::starting_at(bench.world().now_ms() + LOADING_MS);
        Ok(())
    }
}

/// Whether a fault of this kind is still there when its cause is gone: a changed memory, or a clock that the
/// next world would set back.
const fn outlasts_the_firing(kind: FaultKind) -> bool {
    use FaultKind::{
        ClockFast, ClockJump, ClockSlow, ClockStopped, MemoryFurnace, MemoryHighestSetpoint,
        MemoryProgramme, MemorySetpoint, MemoryStep, MemoryTable,
    };
    matches!(
        kind,
        ClockFast
            | ClockSlow
            | ClockStopped
            | ClockJump
            | MemoryFurnace
            | MemoryProgramme
            | MemoryHighestSetpoint
            | MemorySetpoint
            | MemoryStep
            | MemoryTable
    )
}

fn setup(plan: &FiringPlan, seed: u64, faults: Vec<Fault>) -> RehearsalSetup<'_> {
    RehearsalSetup {
        furnace: &plan.profile.spec,
        device: &plan.profile.furnace,
        work: &plan.work,
        programme: &plan.image,
        seed,
        faults,
        operator_delay_s: Some(OPERATOR_S),
        start: None,
    }
}

fn watch(plan: &FiringPlan) -> CaseWatch {
    CaseWatch::new(InvariantWatch::new(&plan.profile.furnace, &plan.image))
}

/// A bench whose time begins at `begin_ms`, with this firmware around the core.
fn bench_of<F: Firmware>(
    setup: &RehearsalSetup<'_>,
    begin_ms: u64,
    firmware: impl FnOnce(BareCore) -> F,
) -> Result<DailyBench<F>, SetupError> {
    let mut core = Controller::new(setup.device.clone());
    core.load(setup.programme.bytes(), &setup.programme.digest()).map_err(SetupError::Load)?;
    let observer = (
        setup.summary_recorder(),
        CaseWatch::new(InvariantWatch::new(setup.device, setup.programme)),
    );
    let operator = DailyOperator::starting_at(begin_ms + FIRST_LOADING_MS);
    let world = setup.world()?.at_time(begin_ms);
    Ok(Bench::new(world, firmware(BareCore::new(core)), operator, observer))
}

/// Runs a firing to its end; returns all its outputs from the start button on.
fn fire<F: Firmware>(bench: &mut DailyBench<F>) -> Vec<Outputs> {
    let mut outputs = Vec::new();
    while matches!(bench.step(), Ok(true)) {
        if bench.world().is_started() {
            outputs.push(bench.outputs());
        }
    }
    outputs
}

/// A firing in figures.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct FiringFigures {
    /// Ticks from the start button to the end of its tail.
    ticks: usize,
    /// Conducting cycles of the mains.
    cycles: u32,
    /// Hottest muffle (°C).
    muffle_c: f64,
}

impl FiringFigures {
    fn of(outputs: &[Outputs], outcome: &CaseOutcome) -> Self {
        Self {
            ticks: outputs.len(),
            cycles: outputs.iter().map(|one| one.heater_cycles.count_ones()).sum(),
            muffle_c: outcome.measured.muffle_c,
        }
    }

    /// Whether two firings are the same but for rounding. Not bit for bit: single precision keeps a rate of
    /// the reading that differs by less than a step of the reading, and the estimate of the element fades.
    fn equals(&self, other: &Self) -> bool {
        let cycles = (f64::from(self.cycles) - f64::from(other.cycles)).abs();
        self.ticks.abs_diff(other.ticks) <= TICKS_APART
            && cycles <= CYCLES_APART * f64::from(self.cycles)
            && (self.muffle_c - other.muffle_c).abs() <= KELVIN_APART
    }
}

/// Mends what is broken and lets the furnace cool; the operator accepts a trip meanwhile.
fn cool(bench: &mut DailyBench<BareCore>) {
    let broken: Vec<_> = bench.world().active_faults().map(|fault| fault.kind).collect();
    for kind in broken {
        bench.world_mut().mend(kind);
    }
    let is_warm = |world: &World| world.modelled().muffle_c > COLD_C;
    let deadline = bench.ticks() + DAY_TICKS;
    let mut left = READINGS;
    while bench.ticks() < deadline && left > 0 {
        let _ = bench.step();
        let waits = bench.firmware.core().status().trip.is_some();
        left = if is_warm(bench.world()) || waits { READINGS } else { left - 1 };
    }
}

/// Lets a cold furnace stand until this tick.
fn rest_until(bench: &mut DailyBench<BareCore>, until: u64, day: usize, diary: &mut Diary) {
    let mut readings: Vec<Inputs> = Vec::with_capacity(READINGS);
    while readings.len() < READINGS {
        let _ = bench.step();
        readings.push(bench.last_inputs().1);
    }
    let left = until.saturating_sub(bench.ticks());
    let is_off = |outputs: &Outputs| outputs.heater_cycles == 0 && !outputs.contactor;
    let rested = bench.stand_still(left, &readings, is_off);
    if !matches!(rested, Ok(true)) {
        diary.findings.push(format!("day {day}: heat at rest"));
    }
    if let Some(cause) = bench.firmware.core().status().trip {
        diary.findings.push(format!("day {day}: {} at rest", cause.name()));
    }
}

impl Diary {
    /// Notes how the firing of a day went.
    fn note(&mut self, day: usize, name: &str, faults: &[Fault], outcome: &CaseOutcome) {
        match outcome.ending {
            Some(Ending::Completed) => self.completed += 1,
            Some(Ending::Tripped(_)) => self.tripped += 1,
            Some(Ending::Stopped | Ending::Unanswered | Ending::BandLost | Ending::TooLong)
            | None => self.other += 1,
        }
        self.above_asked_k = self.above_asked_k.max(outcome.measured.above_asked_k.0);
        let kinds: Vec<_> = faults.iter().map(|fault| fault.kind).collect();
        let (excused, mut findings) = hardware::judge(&kinds, outcome);
        if faults.is_empty() && outcome.ending != Some(Ending::Completed) {
            let (ending, start) = (outcome.ending, outcome.not_started);
            findings.push(format!("a healthy firing ended: {ending:?} {start:?}"));
        }
        self.findings.extend(findings.iter().map(|one| format!("day {day}, {name}: {one}")));
        self.excused.extend(excused);
    }
}

impl Campaign for Decade {
    fn cases(&self) -> usize {
        1
    }

    fn id(&self, _: usize) -> String {
        format!("firings={}", self.firings)
    }

    fn fire(&self, case: usize) -> CaseReport {
        let mut diary = match self.live() {
            Ok(diary) => diary,
            Err(why) => return CaseReport::unfired(self.id(case), "one controller", &why),
        };
        if !diary.second.equals(&diary.last) {
            let (second, last) = (diary.second, diary.last);
            diary
                .findings
                .push(format!("the last firing differs: {last:?}, before {second:?}"));
        }
        let Diary { completed, tripped, other, .. } = diary;
        let mut report = CaseReport::completed(self.id(case), "one controller");
        report.above_asked_k = (diary.above_asked_k, 0.0);
        report.findings = diary.findings;
        report.notes = vec![format!(
            "{} firings on as many days: {completed} completed, {tripped} tripped, {other} ended \
             in another way",
            self.firings
        )];
        report.notes.push(format!(
            "the second and the last firing: {:?}, {:?}",
            diary.second, diary.last
        ));
        report.notes.extend(diary.excused);
        report
    }
}

#[cfg(test)]
mod tests {
    use std::convert::Infallible;

    use saggar_core::events::Event;
    use saggar_core::interlock::Cause;
    use saggar_core::units::Instant;

    use super::*;

    /// A board that does not extend its count of milliseconds.
    struct Wrapping(BareCore);

    impl Firmware for Wrapping {
        type Error = Infallible;

        fn tick(&mut self, now: Instant, inputs: &mut Inputs) -> Result<Outputs, Infallible> {
            self.0.tick(Instant::from_millis(now.millis() & u64::from(u32::MAX)), inputs)
        }

        fn core(&self) -> &Controller {
            self.0.core()
        }

        fn take_event(&mut self) -> Option<Event> {
            self.0.take_event()
        }
    }

    /// The first firing of a decade that begins at this time (ms), and how it ended.
    fn first_firing<F: Firmware>(
        begin_ms: u64,
        firmware: impl FnOnce(BareCore) -> F,
    ) -> (Vec<Outputs>, Option<Ending>) {
        let decade = Decade::new(1, 2).expect("the schedules compile");
        let (plan, seed, faults) = decade.day(0);
        let mut bench =
            bench_of(&setup(plan, seed, faults), begin_ms, firmware).expect("a bench");
        let outputs = fire(&mut bench);
        (outputs, bench.world().ending())
    }

    #[test]
    fn the_wrap_is_invisible_to_a_board_that_extends_its_count() {
        let (early, ending) = first_firing(0, |core| core);
        assert_eq!(ending, Some(Ending::Completed));
        let (late, _) = first_firing(BEGIN_MS, |core| core);
        assert!(early == late, "the outputs differ");
    }

    #[test]
    fn a_board_that_does_not_extend_its_count_trips_at_the_wrap() {
        let (outputs, ending) = first_firing(BEGIN_MS, Wrapping);
        assert_eq!(ending, Some(Ending::Tripped(Cause::TickOverrun)));
        // Start is pressed after two of the five minutes.
        let last_on = outputs.iter().rposition(|one| one.contactor).expect("heat before");
        assert!((1_795..=1_801).contains(&last_on), "{last_on}");
    }

    #[test]
    fn a_few_days_end_as_they_began() {
        let decade = Decade::new(1, 4).expect("the schedules compile");
        let report = decade.fire(0);
        assert_eq!(report.findings, Vec::<String>::new());
        assert!(report.notes[0].starts_with("4 firings"), "{:?}", report.notes);
    }
}
