//! A healthy firing, with a copy of the bench at each moment at which a fault will strike.

use saggar_bench::firmware::Firmware as _;
use saggar_bench::observer::invariants::InvariantWatch;
use saggar_bench::{Rehearsal, RehearsalSetup};
use saggar_core::sequencer::Ending;
use saggar_plant::faults::Fault;
use saggar_schedule::firing_plan::FiringPlan;

use super::watch::CaseWatch;
use super::{CampaignError, CampaignSchedule};

/// Delay with which the simulated operator answers (s).
pub(super) const OPERATOR_S: f64 = 30.0;

/// Seed of the noise.
const SEED: u64 = 1;

/// A tick (s).
const TICK_S: f64 = 0.1;

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
    /// The name of its schedule.
    pub name: &'static str,
    /// The schedule, its work and its furnace.
    pub plan: FiringPlan,
    /// The moments and the bench at each.
    pub(super) moments: Vec<(Moment, CaseBench)>,
    /// Length (s).
    pub length_s: f64,
}

impl ReferenceFiring {
    /// Fires a schedule of the campaign and keeps the bench at this many moments.
    ///
    /// # Errors
    /// It does not compile, or the healthy firing does not complete within the invariants.
    pub fn new(schedule: &CampaignSchedule, moments: usize) -> Result<Self, CampaignError> {
        let plan = schedule.plan()?;
        let healthy = bench(&plan)?.run_to_end(&plan.work);
        let violations = healthy.trace.invariants.violations();
        if healthy.ending != Some(Ending::Completed) || !violations.is_empty() {
            let why = format!("{:?}, {violations:?}", healthy.ending);
            return Err(CampaignError::Unhealthy(schedule.name, why));
        }
        let length_s = healthy.ticks as f64 * TICK_S;
        let starts = step_starts(&plan)?;
        let times = chosen(&starts, length_s, moments);
        let mut running = bench(&plan)?;
        let mut kept = vec![(Moment { at_s: Fault::BEFORE_START_S }, running.clone())];
        for at_s in times {
            running.run_until(at_s);
            kept.push((Moment { at_s }, running.clone()));
        }
        Ok(Self { name: schedule.name, plan, moments: kept, length_s })
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
fn bench(plan: &FiringPlan) -> Result<CaseBench, CampaignError> {
    let FiringPlan { profile, work, image, .. } = plan;
    let setup = RehearsalSetup {
        furnace: &profile.spec,
        device: &profile.furnace,
        work,
        programme: image,
        seed: SEED,
        faults: Vec::new(),
        operator_delay_s: Some(OPERATOR_S),
        start: None,
    };
    Ok(setup.bench(CaseWatch::new(InvariantWatch::new(&profile.furnace, image)))?)
}

/// When each step of the healthy firing began (s).
fn step_starts(plan: &FiringPlan) -> Result<Vec<f64>, CampaignError> {
    let mut running = bench(plan)?;
    let (mut starts, mut step) = (Vec::new(), None);
    while matches!(running.step(), Ok(true)) {
        let now = running.firmware.core().status().step;
        if now != step && now.is_some() {
            starts.push(running.world().now_s());
        }
        step = now;
    }
    Ok(starts)
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
