//! Firings drawn from a seed: another load, other mains, another view of the sensors, another start.

use std::ops::Range;

use rand_core::{Rng as _, SeedableRng as _};
use rand_xoshiro::Xoshiro256PlusPlus;
use saggar_bench::observer::invariants::InvariantWatch;
use saggar_bench::{RehearsalSetup, SetupError};
use saggar_plant::furnace_state::FurnaceState;
use saggar_plant::spec::{FurnaceSpec, WorkSpec};
use saggar_schedule::firing_plan::FiringPlan;

use super::error::CampaignError;
use super::reference::CaseBench;
use super::schedules::{CampaignSchedule, SCHEDULES};
use super::watch::CaseWatch;

/// Draws numbers.
pub(super) struct Draw(Xoshiro256PlusPlus);

impl Draw {
    /// The same seed gives the same numbers.
    pub(super) fn new(seed: u64) -> Self {
        Self(Xoshiro256PlusPlus::seed_from_u64(seed))
    }

    /// A number between two others, all equally likely.
    pub(super) fn between(&mut self, low: f64, high: f64) -> f64 {
        let share = f64::from(self.0.next_u32()) / f64::from(u32::MAX);
        low + share * (high - low)
    }

    /// True with this probability, 0 to 1.
    pub(super) fn chance(&mut self, probability: f64) -> bool {
        self.between(0.0, 1.0) < probability
    }

    /// A place in a list of this length, which is not empty.
    pub(super) fn place(&mut self, length: usize) -> usize {
        (self.0.next_u64() % length.max(1) as u64) as usize
    }
}

/// The firings that seeds choose from.
pub(super) struct DrawnFirings {
    plans: Vec<(&'static CampaignSchedule, FiringPlan)>,
    /// The seeds of the cases.
    seeds: Range<u64>,
}

/// One firing, drawn from a seed.
pub(super) struct DrawnFiring<'a> {
    /// Its schedule as the campaign knows it.
    pub schedule: &'static CampaignSchedule,
    /// Its schedule, work and furnace before anything was drawn.
    pub plan: &'a FiringPlan,
    /// Its seed.
    pub seed: u64,
    furnace: FurnaceSpec,
    work: WorkSpec,
    /// Temperature at which the furnace stands (°C); `None` for that of the room.
    pub start_c: Option<f64>,
    /// Time that the operator takes (s); `None` if nobody is there.
    pub operator_s: Option<f64>,
    /// In words.
    pub conditions: String,
}

/// Cases that one seed of a campaign leads to.
const SEEDS_EACH: u64 = 10_000_000;

impl DrawnFirings {
    /// This many cases of this seed of the campaign.
    ///
    /// # Errors
    /// A schedule does not compile.
    pub(super) fn new(seed: u64, cases: usize) -> Result<Self, CampaignError> {
        let begin = seed.wrapping_mul(SEEDS_EACH);
        Self::of(begin..begin.saturating_add(cases as u64))
    }

    /// The cases of all seeds, to find one of them.
    ///
    /// # Errors
    /// A schedule does not compile.
    pub(super) fn all() -> Result<Self, CampaignError> {
        Self::of(0..u64::MAX)
    }

    fn of(seeds: Range<u64>) -> Result<Self, CampaignError> {
        let plans = SCHEDULES.iter().map(|schedule| Ok((schedule, schedule.plan()?)));
        Ok(Self { plans: plans.collect::<Result<_, CampaignError>>()?, seeds })
    }

    /// Number of cases.
    pub(super) fn cases(&self) -> usize {
        usize::try_from(self.seeds.end - self.seeds.start).unwrap_or(usize::MAX)
    }

    /// The id of a case.
    pub(super) fn id(&self, case: usize) -> String {
        format!("seed={}", self.seed(case))
    }

    /// The case with this id.
    pub(super) fn find(&self, id: &str) -> Option<usize> {
        let seed: u64 = id.strip_prefix("seed=")?.parse().ok()?;
        let case = seed.checked_sub(self.seeds.start)?;
        self.seeds.contains(&seed).then(|| usize::try_from(case).ok())?
    }

    fn seed(&self, case: usize) -> u64 {
        self.seeds.start.wrapping_add(case as u64)
    }

    /// Draws the firing of a case. What else is drawn for it comes from the `draw` that it returns.
    pub(super) fn draw(&self, case: usize) -> (DrawnFiring<'_>, Draw) {
        let seed = self.seed(case);
        let mut draw = Draw::new(seed);
        let (schedule, plan) = &self.plans[draw.place(self.plans.len())];
        let (mut furnace, mut work) = (plan.profile.spec.clone(), plan.work.clone());
        let load = draw.between(0.5, 1.5);
        let mains = draw.between(0.9, 1.1);
        work.area_m2 *= load;
        furnace.table.kg *= draw.between(0.5, 1.5);
        furnace.mains.actual_v *= mains;
        let views = [draw.between(0.8, 1.2), draw.between(0.8, 1.2)];
        furnace.control_sensor.element_view *= views[0];
        furnace.limit_sensor.element_view *= views[1];
        // A third starts cold, a third warm, a third hot.
        let start_c = match draw.place(3) {
            0 => None,
            1 => Some(draw.between(furnace.ambient_c, 149.0)),
            _ => Some(draw.between(151.0, 500.0)),
        };
        let start = start_c.map_or("cold".to_owned(), |start_c| format!("at {start_c:.0} °C"));
        let conditions = format!(
            "{}: {:.0} % of the work, {:.0} % of the mains, {:.0} and {:.0} % of the view of the element, {start}",
            schedule.name,
            load * 100.0,
            mains * 100.0,
            views[0] * 100.0,
            views[1] * 100.0
        );
        let operator_s = Some(30.0);
        let firing = DrawnFiring {
            schedule,
            plan,
            seed,
            furnace,
            work,
            start_c,
            operator_s,
            conditions,
        };
        (firing, draw)
    }
}

impl DrawnFiring<'_> {
    /// Its bench, before the first tick.
    ///
    /// # Errors
    /// It cannot be set up.
    pub(super) fn bench(
        &self,
        faults: Vec<saggar_plant::faults::Fault>,
    ) -> Result<CaseBench, SetupError> {
        let device = &self.plan.profile.furnace;
        let start =
            self.start_c.map(|celsius| FurnaceState::evenly_warm(&self.furnace, celsius));
        let setup = RehearsalSetup {
            furnace: &self.furnace,
            device,
            work: &self.work,
            programme: &self.plan.image,
            seed: self.seed,
            faults,
            operator_delay_s: self.operator_s,
            start,
        };
        setup.bench(CaseWatch::new(InvariantWatch::new(device, &self.plan.image)))
    }
}
