//! Faults of pump, valves, seals and gauge.

use saggar_core::interlock::Cause::{
    self, GaugeImplausible, IsolationStuck, VacuumLate, VacuumLost,
};
use saggar_plant::faults::FaultKind::*;

use super::variant::{Variant, bounded, trips};
use crate::campaign::expectation::Exposure;

/// The pressure does not come, or does not stay.
const PRESSURE: &[Cause] = &[VacuumLate, VacuumLost, GaugeImplausible, IsolationStuck];

/// The gauge is wrong.
const GAUGE: &[Cause] = &[GaugeImplausible, VacuumLate, VacuumLost, IsolationStuck];

/// The vacuum.
pub(super) const VACUUM: [Variant; 20] = [
    Variant::of(SealLeaks, bounded(PRESSURE)),
    Variant::of(SealLeaks, bounded(PRESSURE)).severity(0.05),
    Variant::of(SealLeaks, bounded(PRESSURE)).severity(100.0),
    Variant::of(PumpDead, trips(PRESSURE, 30.0, Exposure::Drawing)),
    Variant::of(PumpDead, bounded(PRESSURE)).intermittent(120.0, 4.0),
    Variant::of(PumpWeak, bounded(PRESSURE)),
    Variant::of(PumpWeak, bounded(PRESSURE)).severity(60.0),
    Variant::of(IsolationOpen, bounded(PRESSURE)),
    Variant::of(IsolationShut, trips(PRESSURE, 240.0, Exposure::Drawing)),
    // In a cool chamber the stage's own time limit finds it, in a hot one 45 s do.
    Variant::of(VentOpen, trips(PRESSURE, 601.0, Exposure::Drawing)),
    Variant::of(VentShut, trips(PRESSURE, 70.0, Exposure::Venting)),
    Variant::of(GaugeDead, bounded(GAUGE)),
    Variant::of(GaugeDead, bounded(GAUGE)).intermittent(5.0, 0.5),
    Variant::of(GaugeFrozen, bounded(GAUGE)),
    Variant::of(GaugeLow, bounded(GAUGE)),
    Variant::of(GaugeLow, bounded(GAUGE)).severity(0.0),
    Variant::of(GaugeLow, bounded(GAUGE)).severity(80.0),
    Variant::of(GaugeHigh, bounded(GAUGE)),
    Variant::of(GaugeHigh, bounded(GAUGE)).severity(1_000.0),
    Variant::of(GaugeHigh, bounded(GAUGE)).severity(120.0),
];
