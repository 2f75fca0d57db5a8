//! Healthy firings: another load, other mains, another view of the sensors, a warm or a hot start, other
//! noise, on both furnaces. An interlock that trips without a fault would be bridged.

use saggar_core::controller::StartError;

use super::case::{CaseOutcome, run_out};
use super::drawn::DrawnFirings;
use super::report::{CaseEnd, CaseReport};
use super::run::Campaign;

/// Cases if their number is not given.
pub(super) const CASES: usize = 10_000;

/// Start temperature from which a start may be refused (°C): below it the furnace's data allow every start.
const HOT_C: f64 = 150.0;

/// The campaign, ready to run.
pub(super) struct Healthy(pub(super) DrawnFirings);

impl Campaign for Healthy {
    fn cases(&self) -> usize {
        self.0.cases()
    }

    fn id(&self, case: usize) -> String {
        self.0.id(case)
    }

    fn find(&self, id: &str) -> Option<usize> {
        self.0.find(id)
    }

    fn fire(&self, case: usize) -> CaseReport {
        let (firing, _) = self.0.draw(case);
        let mut bench = match firing.bench(Vec::new()) {
            Ok(bench) => bench,
            Err(why) => return CaseReport::unfired(self.id(case), firing.schedule.name, &why),
        };
        run_out(&mut bench);
        let mut report =
            CaseReport::of(self.id(case), firing.schedule.name, CaseOutcome::of(bench));
        let hot = firing.start_c.is_some_and(|celsius| celsius > HOT_C);
        let is_right = match report.end {
            CaseEnd::Completed => true,
            // Refusing a hot start is an answer, not a trip.
            CaseEnd::Refused(why) => hot && why == StartError::TooHot,
            CaseEnd::Tripped(_) | CaseEnd::Ended(_) | CaseEnd::Waits => false,
        };
        if !is_right {
            report.findings.push(report.end.words());
        }
        report.struck = vec![firing.conditions];
        report
    }

    /// Firings that are refused show nothing.
    fn conclude(&self, all: &[CaseReport]) -> Vec<String> {
        let completed = all.iter().filter(|report| report.end == CaseEnd::Completed).count();
        let enough = 2 * completed >= all.len();
        let few = || format!("only {completed} of {} firings were completed", all.len());
        if enough { Vec::new() } else { vec![few()] }
    }
}
