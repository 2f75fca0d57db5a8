//! What a campaign found, row by row, and the diagnostic coverage.

use std::collections::{BTreeMap, BTreeSet};

use super::report::{CaseEnd, CaseReport};

/// One row: the firings of a mode of failure, or of another group of cases.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SummaryRow {
    /// Its name.
    pub group: String,
    /// The variants in it.
    pub variants: BTreeSet<String>,
    /// Its firings.
    pub firings: usize,
    /// Those that ended with a trip.
    pub tripped: usize,
    /// Those whose start was refused.
    pub refused: usize,
    /// Those that ran all steps.
    pub completed: usize,
    /// Those that ended in another way, or wait for the operator.
    pub other: usize,
    /// The ways in which they ended, with their numbers.
    pub ends: BTreeMap<String, usize>,
    /// The slowest reaction, by the share of its bound: time of exposure, and the bound (s).
    pub slowest_s: Option<(f64, f64)>,
    /// Maximum of the muffle above what was asked for so far (K).
    pub above_asked_k: f64,
    /// Firings with something wrong.
    pub findings: usize,
    /// Firings of a known gap.
    pub gaps: usize,
    /// Firings that went as if nothing were wrong.
    pub undisturbed: usize,
}

impl SummaryRow {
    fn add(&mut self, report: &CaseReport) {
        if !report.variant.is_empty() {
            self.variants.insert(report.variant.clone());
        }
        let count = match report.end {
            CaseEnd::Completed => &mut self.completed,
            CaseEnd::Tripped(_) => &mut self.tripped,
            CaseEnd::Refused(_) => &mut self.refused,
            CaseEnd::Ended(_) | CaseEnd::Waits => &mut self.other,
        };
        *count += 1;
        self.firings += 1;
        *self.ends.entry(report.end.words()).or_default() += 1;
        self.above_asked_k = self.above_asked_k.max(report.above_asked_k.0);
        self.findings += usize::from(!report.findings.is_empty());
        self.gaps += usize::from(report.known_gap);
        self.undisturbed += usize::from(report.is_undisturbed());
        if let Some((exposed_s, bound_s)) = report.reaction_s {
            let is_slower = |(other_s, other_bound_s): (f64, f64)| {
                exposed_s / bound_s > other_s / other_bound_s
            };
            if self.slowest_s.is_none_or(is_slower) {
                self.slowest_s = Some((exposed_s, bound_s));
            }
        }
    }

    /// Whether the mode is dangerous: at least one of its firings did not go as if nothing were wrong.
    pub const fn is_dangerous(&self) -> bool {
        self.undisturbed < self.firings
    }
}

/// The diagnostic coverage: dangerous modes that software detects, over all dangerous modes. A mode counts
/// once, by its worst variant: it is detected if none of its firings has a finding or shows a known gap.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Coverage {
    /// Dangerous modes.
    pub dangerous: usize,
    /// Those of them that software detects.
    pub detected: usize,
    /// The others.
    pub missed: Vec<String>,
    /// Firings of a known gap of the interlocks.
    pub gaps: usize,
}

impl Coverage {
    /// In percent.
    pub fn percent(&self) -> f64 {
        100.0 * self.detected as f64 / self.dangerous.max(1) as f64
    }
}

/// What a campaign found, row by row.
#[derive(Clone, Debug, PartialEq)]
pub struct CampaignSummary {
    /// The rows, by name.
    pub rows: Vec<SummaryRow>,
    /// All of them.
    pub total: SummaryRow,
}

impl CampaignSummary {
    /// Of these cases.
    pub fn of(reports: &[CaseReport]) -> Self {
        let row = |group: &str| SummaryRow {
            group: group.to_owned(),
            above_asked_k: f64::NEG_INFINITY,
            ..SummaryRow::default()
        };
        let mut rows = BTreeMap::<&str, SummaryRow>::new();
        let mut total = row("all");
        for report in reports {
            rows.entry(&report.group).or_insert_with(|| row(&report.group)).add(report);
            total.add(report);
        }
        Self { rows: rows.into_values().collect(), total }
    }

    /// The diagnostic coverage, if each row is a mode of failure.
    pub fn coverage(&self) -> Coverage {
        let dangerous: Vec<_> = self.rows.iter().filter(|row| row.is_dangerous()).collect();
        let missed = dangerous.iter().filter(|row| row.findings + row.gaps > 0);
        let missed: Vec<_> = missed.map(|row| row.group.clone()).collect();
        let detected = dangerous.len() - missed.len();
        Coverage { dangerous: dangerous.len(), detected, missed, gaps: self.total.gaps }
    }
}

#[cfg(test)]
pub(super) mod tests {
    use saggar_core::interlock::Cause;

    use super::{CampaignSummary, CaseEnd, CaseReport};

    /// A report of a case in this group.
    pub(in crate::campaign) fn report(
        group: &str,
        variant: &str,
        end: CaseEnd,
        findings: &[&str],
    ) -> CaseReport {
        CaseReport {
            id: format!("{group}/{variant}"),
            group: group.to_owned(),
            known_gap: false,
            variant: variant.to_owned(),
            struck: Vec::new(),
            end,
            tripped_at_s: None,
            reaction_s: None,
            above_asked_k: (1.0, 0.0),
            findings: findings.iter().map(ToString::to_string).collect(),
            events: Vec::new(),
            rehearse: None,
            notes: Vec::new(),
        }
    }

    #[test]
    fn a_mode_counts_once_by_its_worst_variant() {
        let tripped = CaseEnd::Tripped(Cause::SensorOpen);
        let slow = |reaction_s| CaseReport {
            reaction_s: Some(reaction_s),
            ..report("open", "open", tripped, &[])
        };
        let summary = CampaignSummary::of(&[
            // Harmless: in no firing does it matter.
            report("open-stuck", "open-stuck", CaseEnd::Completed, &[]),
            // Detected in each firing in which it matters.
            slow((1.0, 10.0)),
            slow((2.0, 2.5)),
            report("open", "open", CaseEnd::Completed, &[]),
            // Its second variant is not.
            report("drift", "drift", tripped, &[]),
            report("drift", "drift=60", CaseEnd::Completed, &["I3"]),
        ]);
        let coverage = summary.coverage();
        assert_eq!((coverage.dangerous, coverage.detected), (2, 1));
        assert_eq!(coverage.missed, ["drift"]);
        assert!((coverage.percent() - 50.0).abs() < 1e-9);
        let [drift, open, _] = &summary.rows[..] else { panic!("{summary:?}") };
        assert_eq!((drift.variants.len(), drift.tripped, drift.completed), (2, 1, 1));
        assert_eq!(open.slowest_s, Some((2.0, 2.5)));
        assert_eq!((summary.total.firings, summary.total.findings), (6, 1));
    }
}
