//! Faults of the lift or door and its contacts.

use saggar_core::interlock::Cause::{
    self, ClosureOpen, ClosureStuck, HeaterStuckOn, VacuumLate, VacuumLost,
};
use saggar_plant::faults::FaultKind::*;

use super::variant::{Variant, bounded, trips};
use crate::campaign::expectation::Exposure;

/// The chamber is not proven shut.
const OPEN: &[Cause] = &[ClosureOpen, ClosureStuck];

/// The chamber is open in truth.
const AJAR: &[Cause] = &[ClosureOpen, ClosureStuck, VacuumLate, VacuumLost, HeaterStuckOn];

/// The lift or door.
pub(super) const CONTACTS: [Variant; 10] = [
    Variant::of(ClosureLost, trips(OPEN, 0.5, Exposure::Heating)),
    Variant::of(ClosureLost, bounded(OPEN)).intermittent(2.0, 0.2),
    Variant::of(ShutStuck, bounded(OPEN)),
    Variant::of(OpenLost, trips(OPEN, 901.0, Exposure::Moving)),
    Variant::of(OpenStuck, bounded(OPEN)),
    Variant::of(ClosureOpened, trips(AJAR, 1.0, Exposure::Heating)),
    Variant::of(ClosureOpened, trips(AJAR, 1.0, Exposure::Heating)).severity(2.0),
    Variant::of(ClosureOpened, trips(AJAR, 1.0, Exposure::Heating)).severity(100.0),
    Variant::of(ClosureJammed, trips(OPEN, 901.0, Exposure::Moving)),
    Variant::of(ClosureJammed, bounded(OPEN)).intermittent(20.0, 10.0),
];
