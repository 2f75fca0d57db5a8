//! A healthy firing, with a copy of the bench at each moment at which a fault will strike.

use saggar_bench::firmware::Firmware as _;
use saggar_bench::observer::invariants::InvariantWatch;
use saggar_bench::{Rehearsal, RehearsalSetup};
use saggar_core::sequencer::Ending;
use saggar_plant::faults::Fault;
use saggar_schedule::firing_plan::FiringPlan;

use super::error::CampaignError;
use super::parallel;
use super::schedules::CampaignSchedule;
use super::watch::CaseWatch;

/// Delay with which the simulated operator answers (s).
pub(super) const OPERATOR_S: f64 = 30.0;

/// A tick (s).
pub(super) const TICK_S: f64 = 0.1;

/// A bench in the middle of a firing.
pub(super) type CaseBench = Rehearsal<CaseWatch>;

/// A moment of a firing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moment {
    /// Time since the start button (s), or [`Fault::BEFORE_START_S`].
    pub at_s: f64,
}

/// A healthy firing with its moments.
pub struct ReferenceFiring {
    /// Its schedule, as the campaign knows it.
    pub schedule: &'static CampaignSchedule,
    /// Seed of the noise.
    pub seed: u64,
    /// The schedule, its work and its furnace.
    pub plan: FiringPlan,
    /// The moments and the bench at each.
    pub(super) moments: Vec<(Moment, CaseBench)>,
    /// Length (s).
    pub length_s: f64,
}

impl ReferenceFiring {
    /// Fires a schedule of the campaign and keeps the bench at this many moments; the seed
    /// is that of the noise.
    ///
    /// # Errors
    /// It does not compile, or the healthy firing does not complete within the invariants.
    pub fn new(
        schedule: &'static CampaignSchedule,
        moments: usize,
        seed: u64,
    ) -> Result<Self, CampaignError> {
        Self::with_moments(schedule, seed, |starts, length_s| chosen(starts, length_s, moments))
    }

    /// The same with the moments that `choose` gives for the beginnings of the steps and the length of the
    /// firing (s); the moment before the start comes first.
    pub(super) fn with_moments(
        schedule: &'static CampaignSchedule,
        seed: u64,
        choose: impl FnOnce(&[f64], f64) -> Vec<f64>,
    ) -> Result<Self, CampaignError> {
        let plan = schedule.plan()?;
        let mut healthy = bench(&plan, seed)?;
        let starts = run_through_steps(&mut healthy);
        let length_s = healthy.world().ticks() as f64 * TICK_S;
        let (ending, violations) =
            (healthy.world().ending(), healthy.observer.1.invariants.violations());
        if ending != Some(Ending::Completed) || !violations.is_empty() {
            let why = format!("{ending:?}, {violations:?}");
            return Err(CampaignError::Unhealthy(schedule.name, why));
        }
        let times = choose(&starts, length_s);
        let mut running = bench(&plan, seed)?;
        let mut kept = vec![(Moment { at_s: Fault::BEFORE_START_S }, running.clone())];
        for at_s in times {
            running.run_until(at_s);
            kept.push((Moment { at_s }, running.clone()));
        }
        Ok(Self { schedule, seed, plan, moments: kept, length_s })
    }

    /// Fires these schedules, on all processors.
    ///
    /// # Errors
    /// As [`Self::new`].
    pub fn all(
        schedules: &[&'static CampaignSchedule],
        moments: usize,
        seed: u64,
    ) -> Result<Vec<Self>, CampaignError> {
        let fire = |index: usize| Self::new(schedules[index], moments, seed);
        parallel::run(schedules.len(), fire, &|_| true).into_iter().collect()
    }

    /// The moments.
    pub fn moments(&self) -> impl ExactSizeIterator<Item = Moment> {
        self.moments.iter().map(|(moment, _)| *moment)
    }

    /// The bench at a moment.
    pub(super) fn at(&self, moment: usize) -> Option<&(Moment, CaseBench)> {
        self.moments.get(moment)
    }
}

/// The bench of a healthy firing, before its first tick.
pub(super) fn bench(plan: &FiringPlan, seed: u64) -> Result<CaseBench, CampaignError> {
    let FiringPlan { profile, work, image, .. } = plan;
    let setup = RehearsalSetup {
        furnace: &profile.spec,
        device: &profile.furnace,
        work,
        programme: image,
        seed,
        faults: Vec::new(),
        operator_delay_s: Some(OPERATOR_S),
        start: None,
    };
    Ok(setup.bench(CaseWatch::new(InvariantWatch::new(&profile.furnace, image)))?)
}

/// Runs a bench to the end of its firing, and returns when each step began (s).
fn run_through_steps(running: &mut CaseBench) -> Vec<f64> {
    let (mut starts, mut step) = (Vec::new(), None);
    while matches!(running.step(), Ok(true)) {
        let now = running.firmware.core().status().step;
        if now != step && now.is_some() {
            starts.push(running.world().now_s());
        }
        step = now;
    }
    starts
}

/// The moments after the start: each step's beginning, the ticks before and after it, its middle, and
/// others between them, so that there are `count` with the one before the start.
fn chosen(starts: &[f64], length_s: f64, count: usize) -> Vec<f64> {
    let ends = starts.iter().skip(1).copied().chain([length_s]);
    let spans: Vec<_> = starts.iter().copied().zip(ends).collect();
    let mut times: Vec<f64> = spans
        .iter()
        .flat_map(|&(from, to)| {
            [from, from + TICK_S, (from + to) / 2.0, (from - TICK_S).max(0.0)]
        })
        .collect();
    let wanted = count.saturating_sub(1);
    // Thirds, fifths and so on of every step, until there are enough.
    for part in [3.0, 5.0, 7.0, 11.0, 13.0] {
        if times.len() < wanted {
            times.extend(spans.iter().map(|&(from, to)| from + (to - from) / part));
        }
    }
    times.truncate(wanted);
    times.sort_by(f64::total_cmp);
    times
}
