//! Faults of the core's clock.

use saggar_core::interlock::Cause::{self, ClockWrong, TickOverrun};
use saggar_plant::faults::FaultKind::*;

use super::variant::{Variant, bounded, trips};
use crate::campaign::expectation::Exposure;

const WRONG: &[Cause] = &[ClockWrong];
const LATE: &[Cause] = &[TickOverrun];

/// The clock.
pub(super) const CLOCK: [Variant; 10] = [
    Variant::of(ClockFast, trips(WRONG, 121.0, Exposure::Firing)),
    Variant::of(ClockFast, trips(WRONG, 121.0, Exposure::Firing)).severity(1.05),
    Variant::of(ClockSlow, trips(WRONG, 121.0, Exposure::Firing)),
    Variant::of(ClockSlow, trips(WRONG, 121.0, Exposure::Firing)).severity(1.05),
    Variant::of(ClockStopped, trips(LATE, 0.2, Exposure::Firing)),
    Variant::of(ClockJump, trips(LATE, 0.2, Exposure::FiringAtStrike)),
    Variant::of(ClockJump, trips(LATE, 0.2, Exposure::FiringAtStrike)).severity(-60.0),
    Variant::of(ClockJump, trips(LATE, 0.2, Exposure::FiringAtStrike)).severity(0.2),
    Variant::of(TickLate, trips(LATE, 0.2, Exposure::FiringAtStrike)),
    Variant::of(TickLate, bounded(LATE)).severity(40.0),
];
