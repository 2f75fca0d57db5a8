//! One fault of a campaign, with what must follow.

use saggar_core::interlock::Cause;
use saggar_plant::faults::{Fault, FaultKind, Intermittent};
use saggar_plant::spec::FurnaceSpec;

use crate::campaign::expectation::{Expectation, Exposure};

/// One fault of a campaign.
#[derive(Clone, Copy, Debug)]
pub struct Variant {
    /// The kind of fault.
    pub kind: FaultKind,
    /// Its severity; `None` for the usual one.
    pub severity: Option<f64>,
    /// Whether it comes and goes.
    pub intermittent: Option<Intermittent>,
    /// What must follow.
    pub expectation: Expectation,
}

impl Variant {
    /// A fault of this kind with the usual severity.
    pub(super) const fn of(kind: FaultKind, expectation: Expectation) -> Self {
        Self { kind, severity: None, intermittent: None, expectation }
    }

    /// With another severity.
    pub(super) const fn severity(self, severity: f64) -> Self {
        Self { severity: Some(severity), ..self }
    }

    /// There for the first `for_s` of every `every_s` seconds.
    pub(super) const fn intermittent(self, every_s: f64, for_s: f64) -> Self {
        Self { intermittent: Some(Intermittent { every_s, for_s }), ..self }
    }

    /// Its name: the kind, with the severity and the times if they are not the usual ones.
    pub fn name(&self) -> String {
        let severity = self.severity.map_or(String::new(), |severity| format!("={severity}"));
        let times = self.intermittent.map_or(String::new(), |times| {
            format!(",every={},for={}", times.every_s, times.for_s)
        });
        format!("{}{severity}{times}", self.kind.name())
    }

    /// The fault, striking at this time (s).
    pub fn at(&self, from_s: f64) -> Fault {
        let mut fault = self.kind.at(from_s);
        fault.severity = self.severity.unwrap_or(fault.severity);
        Fault { intermittent: self.intermittent, ..fault }
    }

    /// Whether it can strike this furnace.
    pub fn is_possible_in(&self, furnace: &FurnaceSpec) -> bool {
        self.kind.needs().is_none_or(|part| part.is_part_of(furnace))
    }
}

/// A trip for one of these causes, within this time of exposure (s).
pub(super) const fn trips(
    causes: &'static [Cause],
    within_s: f64,
    exposure: Exposure,
) -> Expectation {
    Expectation::Trips { causes, within_s, exposure }
}

/// Nothing need follow as long as every invariant holds.
pub(super) const fn bounded(causes: &'static [Cause]) -> Expectation {
    Expectation::Bounded { causes }
}
