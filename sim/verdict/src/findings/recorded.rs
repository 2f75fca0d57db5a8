//! Verdicts on recorded firings.

use super::finding::{Finding, Outcome};
use super::limits::{
    SIMULATED_PRESSURE_APART_MAX_PA, SIMULATED_PRESSURE_APART_MIN_PA,
    SIMULATED_PRESSURE_RATIO_MAX, SIMULATED_SENSOR_MAX_K,
};
use super::recording::{PressureAgreement, RecordingFlaw, SensorAgreement};
use super::subject::Subject;
use super::unknown::Unknown;

impl RecordingFlaw {
    /// The only finding on such a recording.
    pub fn finding(self) -> Finding {
        let found = Finding::note(Subject::Recording(self), f64::NAN, None);
        Finding { outcome: Outcome::NotKnown, ..found }
    }
}

/// Makes all not known that a simulated furnace or piece computes for a recorded firing.
pub fn doubt_computed(findings: &mut [Finding], why: Unknown) {
    for finding in findings {
        let is_check = matches!(finding.outcome, Outcome::Pass | Outcome::Fail);
        if is_check && finding.subject.is_computed() {
            *finding = finding.clone().doubted([why]);
        }
    }
}

impl PressureAgreement {
    /// Whether the simulated pressure counts as the recorded one.
    pub fn is_believed(self) -> bool {
        let apart_pa = (self.simulated_pa - self.gauge_pa).abs();
        let (low, high) =
            (self.simulated_pa.min(self.gauge_pa), self.simulated_pa.max(self.gauge_pa));
        apart_pa <= SIMULATED_PRESSURE_APART_MIN_PA
            || (apart_pa <= SIMULATED_PRESSURE_APART_MAX_PA
                && high <= SIMULATED_PRESSURE_RATIO_MAX * low)
    }

    /// If the simulated pressure is not the recorded one, neither a pass nor a failure counts that depends
    /// on it.
    pub fn add_to(self, findings: &mut [Finding]) {
        if self.is_believed() {
            return;
        }
        // Glass over lubricant depends on the air in which the lubricant burns.
        let oily =
            findings.iter().any(|found| matches!(found.subject, Subject::BurnOff { .. }));
        for finding in findings {
            let is_front = matches!(finding.subject, Subject::Infiltration { .. });
            let depends = finding.subject.depends_on_pressure() || (is_front && oily);
            if depends && matches!(finding.outcome, Outcome::Pass | Outcome::Fail) {
                *finding = finding.clone().doubted([Unknown::OtherPressure(self)]);
            }
        }
    }
}

impl SensorAgreement {
    /// Adds it to the findings on a recorded firing. If the simulated furnace is so far off that what it
    /// computes for the work says nothing, neither a pass nor a failure of the work counts.
    pub fn add_to(self, findings: &mut Vec<Finding>) {
        let found = self.finding();
        if found.outcome == Outcome::NotKnown {
            doubt_computed(findings, Unknown::OtherFurnace(found.measured));
        }
        findings.push(found);
    }

    fn finding(self) -> Finding {
        // The larger one; what is not a number is larger than all.
        let soak_k = self.soak_k.map_or(0.0, f64::abs);
        let off_k =
            if soak_k <= self.rms_k || self.rms_k.is_nan() { self.rms_k } else { soak_k };
        let at_s = Some(self.largest_at_s);
        let found = Finding::at_most(
            Subject::SimulatedSensor(self),
            off_k,
            SIMULATED_SENSOR_MAX_K,
            at_s,
        );
        let outcome = match found.outcome {
            Outcome::Pass => Outcome::Note,
            Outcome::Fail | Outcome::NotKnown | Outcome::Note => Outcome::NotKnown,
        };
        Finding { outcome, ..found }
    }
}
