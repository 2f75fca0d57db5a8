//! Every fault at every moment of every firing.

use super::case::{CaseFinding, CaseOutcome, fire};
use super::error::CampaignError;
use super::expectation::{Expectation, Exposure};
use super::gap;
use super::reference::ReferenceFiring;
use super::rehearsal::{fault_text, rehearse_arguments};
use super::report::CaseReport;
use super::run::Campaign;
use super::schedules::CampaignSchedule;
use super::variants::{Variant, variants};

/// Moments of a firing at which a fault strikes.
pub const MOMENTS: usize = 25;

/// A case of the campaign.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SingleCase {
    /// The firing, by its place in [`Singles::firings`].
    pub firing: usize,
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
    pub findings: Vec<CaseFinding>,
}

/// The campaign, ready to run.
pub struct Singles {
    firings: Vec<ReferenceFiring>,
    variants: Vec<Variant>,
    cases: Vec<SingleCase>,
}

impl Singles {
    /// Fires each of these schedules once, healthy, with the noise of this seed.
    ///
    /// # Errors
    /// A healthy firing is not healthy.
    pub fn new(
        schedules: &[&'static CampaignSchedule],
        seed: u64,
    ) -> Result<Self, CampaignError> {
        let firings = ReferenceFiring::all(schedules, MOMENTS, seed)?;
        let variants = variants();
        let mut cases = Vec::new();
        for (index, firing) in firings.iter().enumerate() {
            for (variant, fault) in variants.iter().enumerate() {
                // A fault that a furnace cannot have is no case.
                if fault.is_possible_in(&firing.plan.profile.spec) {
                    let moments = 0..firing.moments().len();
                    cases.extend(moments.map(|moment| SingleCase {
                        firing: index,
                        variant,
                        moment,
                    }));
                }
            }
        }
        Ok(Self { firings, variants, cases })
    }

    /// The faults.
    pub fn variants(&self) -> &[Variant] {
        &self.variants
    }

    /// The firings.
    pub fn firings(&self) -> &[ReferenceFiring] {
        &self.firings
    }

    /// Fires one case; `None` if there is no such case.
    pub fn outcome(&self, case: &SingleCase) -> Option<SingleResult> {
        let firing = self.firings.get(case.firing)?;
        let variant = self.variants.get(case.variant)?;
        let (moment, bench) = firing.at(case.moment)?;
        let exposure = match variant.expectation {
            Expectation::Trips { exposure, .. } => exposure,
            Expectation::Bounded { .. } => Exposure::Firing,
        };
        let outcome = fire(bench, vec![variant.at(moment.at_s)], exposure);
        let findings = outcome.findings(&variant.expectation);
        Some(SingleResult { case: case.clone(), at_s: moment.at_s, outcome, findings })
    }
}

impl Campaign for Singles {
    fn cases(&self) -> usize {
        self.cases.len()
    }

    fn id(&self, case: usize) -> String {
        let SingleCase { firing, variant, moment } = self.cases[case];
        let (firing, variant) = (&self.firings[firing], &self.variants[variant]);
        format!("{}/{}/{moment}", firing.schedule.name, variant.name())
    }

    fn fire(&self, case: usize) -> CaseReport {
        let single = &self.cases[case];
        let (firing, variant) = (&self.firings[single.firing], &self.variants[single.variant]);
        let Some(SingleResult { at_s, outcome, findings, .. }) = self.outcome(single) else {
            unreachable!("every case of the list has a moment")
        };
        let reaction_s = match variant.expectation {
            Expectation::Trips { within_s, .. } => Some((outcome.exposed_s, within_s)),
            Expectation::Bounded { .. } => None,
        };
        let fault = variant.at(at_s);
        let is_gap = |finding: &CaseFinding| match finding {
            CaseFinding::Violated(violation) => {
                gap::is_known(&[variant.kind], violation, &outcome.measured)
            }
            CaseFinding::WrongCause(_)
            | CaseFinding::Late(..)
            | CaseFinding::Missed(..)
            | CaseFinding::Endless => false,
        };
        let (gaps, findings): (Vec<_>, Vec<_>) = findings.iter().partition(|one| is_gap(one));
        CaseReport {
            known_gap: !gaps.is_empty(),
            notes: gaps.iter().map(|gap| format!("known gap: {gap}")).collect(),
            variant: variant.name(),
            struck: vec![fault_text(&fault)],
            reaction_s,
            findings: findings.iter().map(ToString::to_string).collect(),
            rehearse: Some(rehearse_arguments(firing, &[fault])),
            ..CaseReport::of(self.id(case), variant.kind.name(), outcome)
        }
    }
}
