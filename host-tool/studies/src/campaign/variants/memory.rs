//! Flipped bits of the core's memory.

use saggar_core::interlock::Cause::{
    self, AboveProgrammeLimit, AboveSetpoint, ChannelsDisagree, FurnaceDataChanged,
    ProgrammeChanged,
};
use saggar_plant::faults::FaultKind::*;

use super::variant::{Variant, bounded, trips};
use crate::campaign::expectation::Exposure;

const FURNACE: &[Cause] = &[FurnaceDataChanged, AboveProgrammeLimit, AboveSetpoint];

/// Too much heat, which the limit channel sees first.
const TABLE: &[Cause] =
    &[FurnaceDataChanged, AboveProgrammeLimit, AboveSetpoint, ChannelsDisagree];
const PROGRAMME: &[Cause] = &[ProgrammeChanged, AboveProgrammeLimit];

/// The memory.
pub(super) const MEMORY: [Variant; 12] = [
    Variant::of(MemoryFurnace, trips(FURNACE, 9.3, Exposure::Firing)),
    Variant::of(MemoryFurnace, trips(FURNACE, 9.3, Exposure::Firing)).severity(30.0),
    Variant::of(MemoryFurnace, trips(FURNACE, 9.3, Exposure::Firing)).severity(31.0),
    Variant::of(MemoryTable, bounded(TABLE)),
    Variant::of(MemoryProgramme, trips(PROGRAMME, 206.0, Exposure::Firing)),
    Variant::of(MemoryProgramme, trips(PROGRAMME, 206.0, Exposure::Firing)).severity(200.0),
    Variant::of(MemoryHighestSetpoint, trips(PROGRAMME, 0.2, Exposure::Firing)),
    Variant::of(MemoryHighestSetpoint, trips(PROGRAMME, 0.2, Exposure::Firing)).severity(30.0),
    Variant::of(MemorySetpoint, bounded(PROGRAMME)),
    Variant::of(MemorySetpoint, bounded(PROGRAMME)).severity(20.0),
    Variant::of(MemorySetpoint, bounded(PROGRAMME)).severity(31.0),
    Variant::of(MemoryStep, bounded(PROGRAMME)),
];
