//! Every fault at every moment of every firing.

use super::case::{CaseOutcome, Finding, fire};
use super::expectation::{Expectation, Exposure};
use super::reference::ReferenceFiring;
use super::variants::{Variant, variants};
use super::{CampaignError, SCHEDULES, Shard, parallel};

/// Moments of a firing at which a fault strikes.
pub const MOMENTS: usize = 25;

/// A case of the campaign.
#[derive(Clone, Debug)]
pub struct SingleCase {
    /// The schedule, by its place in [`SCHEDULES`].
    pub schedule: usize,
    /// The fault, by its place in [`variants`].
    pub variant: usize,
    /// The moment, from 0.
    pub moment: usize,
}

/// A case with its outcome.
#[derive(Clone, Debug)]
pub struct SingleResult {
    /// The case.
    pub case: SingleCase,
    /// When the fault struck (s).
    pub at_s: f64,
    /// How it went.
    pub outcome: CaseOutcome,
    /// What was wrong with that.
    pub findings: Vec<Finding>,
}

/// The campaign, ready to run.
pub struct Singles {
    firings: Vec<ReferenceFiring>,
    variants: Vec<Variant>,
}

impl Singles {
    /// Fires every schedule once, healthy.
    ///
    /// # Errors
    /// A healthy firing is not healthy.
    pub fn new() -> Result<Self, CampaignError> {
        let firings = SCHEDULES.iter().map(|schedule| ReferenceFiring::new(schedule, MOMENTS));
        Ok(Self { firings: firings.collect::<Result<_, _>>()?, variants: variants() })
    }

    /// The faults.
    pub fn variants(&self) -> &[Variant] {
        &self.variants
    }

    /// The firings.
    pub fn firings(&self) -> &[ReferenceFiring] {
        &self.firings
    }

    /// All cases: a fault that a furnace cannot have is none.
    pub fn cases(&self) -> Vec<SingleCase> {
        let mut all = Vec::new();
        for (schedule, firing) in self.firings.iter().enumerate() {
            for (variant, fault) in self.variants.iter().enumerate() {
                if fault.is_possible_in(&firing.plan.profile.spec) {
                    let moments = 0..firing.moments().len();
                    all.extend(moments.map(|moment| SingleCase { schedule, variant, moment }));
                }
            }
        }
        all
    }

    /// Runs a part of the campaign.
    pub fn run(&self, shard: Shard, progress: &(dyn Fn(usize) + Sync)) -> Vec<SingleResult> {
        let all = self.cases();
        let mine: Vec<_> =
            all.into_iter().enumerate().filter(|(index, _)| shard.has(*index)).collect();
        let results = parallel::run(mine.len(), |index| self.fire(&mine[index].1), progress);
        results.into_iter().flatten().collect()
    }

    /// Fires one case; `None` if there is no such case.
    pub fn fire(&self, case: &SingleCase) -> Option<SingleResult> {
        let firing = self.firings.get(case.schedule)?;
        let variant = self.variants.get(case.variant)?;
        let (moment, bench) = firing.at(case.moment)?;
        let exposure = match variant.expectation {
            Expectation::Trips { exposure, .. } => exposure,
            Expectation::Bounded { .. } => Exposure::Firing,
        };
        let outcome = fire(bench, &firing.plan, vec![variant.at(moment.at_s)], exposure);
        let findings = outcome.findings(&variant.expectation);
        Some(SingleResult { case: case.clone(), at_s: moment.at_s, outcome, findings })
    }
}
