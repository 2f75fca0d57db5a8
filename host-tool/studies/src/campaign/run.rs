//! Runs a campaign, or a part of it.

use std::time::{Duration, Instant};

use super::parallel::{self, Shard};
use super::report::CaseReport;

/// A campaign, ready to run: cases that can be fired in any order, each with an id of its own.
pub trait Campaign: Sync {
    /// Number of cases.
    fn cases(&self) -> usize;

    /// The id of a case.
    fn id(&self, case: usize) -> String;

    /// Fires a case.
    fn fire(&self, case: usize) -> CaseReport;

    /// The case with this id.
    fn find(&self, id: &str) -> Option<usize> {
        (0..self.cases()).find(|case| self.id(*case) == id)
    }

    /// What only all cases together show to be wrong.
    fn conclude(&self, _all: &[CaseReport]) -> Vec<String> {
        Vec::new()
    }
}

/// Which cases of a campaign to run.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sample {
    /// The part.
    pub shard: Shard,
    /// About one case in this many, drawn by the seed; 1 for all.
    pub every: usize,
    /// The seed.
    pub seed: u64,
}

impl Sample {
    /// Everything.
    pub const fn whole(seed: u64) -> Self {
        Self { shard: Shard::WHOLE, every: 1, seed }
    }

    /// Whether it is the whole campaign.
    pub fn is_whole(&self) -> bool {
        self.shard == Shard::WHOLE && self.every == 1
    }

    /// The chosen ones of this many cases.
    fn chosen(&self, cases: usize) -> Vec<usize> {
        let every = self.every.max(1) as u64;
        let drawn =
            (0..cases).filter(|case| mixed(*case as u64 ^ self.seed).is_multiple_of(every));
        let drawn = drawn.enumerate().filter(|(place, _)| self.shard.has(*place));
        drawn.map(|(_, case)| case).collect()
    }
}

/// Mixes the bits of a number, so that a sample has no rhythm of its own.
fn mixed(number: u64) -> u64 {
    let mut bits = number.wrapping_add(0x9e37_79b9_7f4a_7c15);
    bits = (bits ^ (bits >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    bits = (bits ^ (bits >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    bits ^ (bits >> 31)
}

/// What a campaign found.
#[derive(Clone, Debug)]
pub struct CampaignResult {
    /// The cases that were run, in order.
    pub reports: Vec<CaseReport>,
    /// What only all of them together show to be wrong.
    pub conclusions: Vec<String>,
    /// Cases that the sample has.
    pub chosen: usize,
    /// Cases that the campaign has.
    pub cases: usize,
    /// Time that it took.
    pub took: Duration,
}

impl CampaignResult {
    /// Whether it was ended before its last case.
    pub const fn is_cut_short(&self) -> bool {
        self.reports.len() < self.chosen
    }

    /// The cases with something wrong.
    pub fn failed(&self) -> impl Iterator<Item = &CaseReport> {
        self.reports.iter().filter(|report| !report.findings.is_empty())
    }

    /// Whether nothing was found.
    pub fn is_clean(&self) -> bool {
        self.conclusions.is_empty() && self.failed().next().is_none()
    }
}

/// Runs the cases of a sample on all processors. `go_on` is called after each with the number of finished
/// ones and of all; no other case begins once it says no.
pub fn run(
    campaign: &dyn Campaign,
    sample: &Sample,
    go_on: &(dyn Fn(usize, usize) -> bool + Sync),
) -> CampaignResult {
    let began = Instant::now();
    let chosen = sample.chosen(campaign.cases());
    let fire = |place: usize| {
        let mut report = campaign.fire(chosen[place]);
        if report.findings.is_empty() {
            report.events = Vec::new();
        }
        report
    };
    let reports = parallel::run(chosen.len(), fire, &|done| go_on(done, chosen.len()));
    let whole = sample.is_whole() && reports.len() == chosen.len();
    CampaignResult {
        conclusions: if whole { campaign.conclude(&reports) } else { Vec::new() },
        reports,
        chosen: chosen.len(),
        cases: campaign.cases(),
        took: began.elapsed(),
    }
}

#[cfg(test)]
mod tests {
    use super::{Sample, Shard};

    #[test]
    fn shards_share_a_sample_without_gaps() {
        let sample = |index| Sample { shard: Shard { index, of: 3 }, every: 4, seed: 9 };
        let mut all: Vec<_> = (0..3).flat_map(|index| sample(index).chosen(1_000)).collect();
        all.sort_unstable();
        assert_eq!(all, Sample { every: 4, ..Sample::whole(9) }.chosen(1_000));
        assert!((200..300).contains(&all.len()), "about a quarter: {}", all.len());
        assert_eq!(Sample::whole(9).chosen(5), [0, 1, 2, 3, 4]);
    }

    /// A sample by remainders of 5 would see only five of 25 moments.
    #[test]
    fn a_sample_sees_every_moment() {
        let chosen = Sample { every: 5, ..Sample::whole(1) }.chosen(2_500);
        let mut moments: Vec<_> = chosen.iter().map(|case| case % 25).collect();
        moments.sort_unstable();
        moments.dedup();
        assert_eq!(moments.len(), 25);
    }
}
