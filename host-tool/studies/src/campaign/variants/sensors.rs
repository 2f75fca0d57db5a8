//! Faults of the two thermocouple channels.

use saggar_core::interlock::Cause::{
    self, AboveFurnaceLimit, AboveProgrammeLimit, AboveSetpoint, ChannelsDisagree,
    HeaterStuckOn, HeaterWithoutEffect, SensorFrozen, SensorImplausible, SensorLagging,
    SensorOpen, TerminalsDisagree,
};
use saggar_plant::faults::FaultKind::*;

use super::variant::{Variant, bounded, trips};
use crate::campaign::expectation::Exposure;

/// A channel that gives no valid sample.
const LOST: &[Cause] = &[SensorOpen];

/// A channel whose samples come and go.
const FLICKERS: &[Cause] = &[SensorOpen, SensorImplausible];

/// A channel that jumps, and is far from the other one. A short in a cold furnace reads what is true, and
/// then stands still.
const JUMPS: &[Cause] =
    &[SensorImplausible, ChannelsDisagree, HeaterWithoutEffect, SensorFrozen];

/// A channel that is wrong by little.
const WRONG: &[Cause] = &[
    SensorImplausible,
    ChannelsDisagree,
    HeaterWithoutEffect,
    AboveProgrammeLimit,
    AboveFurnaceLimit,
    AboveSetpoint,
    SensorLagging,
    HeaterStuckOn,
];

/// A channel that stands still.
const STILL: &[Cause] =
    &[SensorFrozen, ChannelsDisagree, SensorImplausible, HeaterWithoutEffect, SensorLagging];

/// A cold junction that is wrong.
const COLD: &[Cause] = &[TerminalsDisagree, ChannelsDisagree, SensorImplausible];

/// The control channel.
pub(super) const CONTROL: [Variant; 26] = [
    Variant::of(ControlOpen, trips(LOST, 0.5, Exposure::Firing)),
    Variant::of(ControlOpen, bounded(FLICKERS)).intermittent(2.0, 0.3),
    Variant::of(ControlOpen, bounded(FLICKERS)).intermittent(1.0, 0.1),
    Variant::of(ControlSilent, trips(LOST, 0.5, Exposure::Firing)),
    Variant::of(ControlSilent, bounded(FLICKERS)).intermittent(30.0, 0.2),
    Variant::of(ControlShort, bounded(JUMPS)),
    Variant::of(ControlReversed, bounded(JUMPS)),
    Variant::of(ControlDrift, bounded(WRONG)),
    Variant::of(ControlDrift, bounded(WRONG)).severity(60.0),
    Variant::of(ControlDrift, bounded(WRONG)).severity(-60.0),
    Variant::of(ControlGain, bounded(WRONG)),
    Variant::of(ControlGain, bounded(WRONG)).severity(90.0),
    Variant::of(ControlGain, bounded(WRONG)).severity(103.0),
    Variant::of(ControlOffset, bounded(WRONG)),
    Variant::of(ControlOffset, bounded(WRONG)).severity(15.0),
    Variant::of(ControlOffset, bounded(WRONG)).severity(-30.0),
    Variant::of(ControlFrozen, bounded(STILL)),
    Variant::of(ControlDetached, bounded(WRONG)),
    Variant::of(ControlDetached, bounded(WRONG)).severity(60.0),
    Variant::of(ControlLagging, bounded(WRONG)),
    Variant::of(ControlLagging, bounded(WRONG)).severity(30.0),
    Variant::of(ControlNoisy, bounded(WRONG)),
    Variant::of(ControlNoisy, bounded(WRONG)).severity(20.0),
    Variant::of(ControlNoisy, bounded(WRONG)).severity(2_000.0),
    Variant::of(ControlTerminals, trips(COLD, 15.0, Exposure::Firing)),
    Variant::of(ControlTerminals, trips(COLD, 15.0, Exposure::Firing)).severity(-30.0),
];

/// The limit channel.
pub(super) const LIMIT: [Variant; 24] = [
    Variant::of(LimitOpen, trips(LOST, 0.5, Exposure::Firing)),
    Variant::of(LimitOpen, bounded(FLICKERS)).intermittent(2.0, 0.3),
    Variant::of(LimitSilent, trips(LOST, 0.5, Exposure::Firing)),
    Variant::of(LimitSilent, bounded(FLICKERS)).intermittent(30.0, 0.2),
    Variant::of(LimitShort, bounded(JUMPS)),
    Variant::of(LimitReversed, bounded(JUMPS)),
    Variant::of(LimitDrift, bounded(WRONG)),
    Variant::of(LimitDrift, bounded(WRONG)).severity(60.0),
    Variant::of(LimitDrift, bounded(WRONG)).severity(-60.0),
    Variant::of(LimitGain, bounded(WRONG)),
    Variant::of(LimitGain, bounded(WRONG)).severity(90.0),
    Variant::of(LimitGain, bounded(WRONG)).severity(103.0),
    Variant::of(LimitOffset, bounded(WRONG)),
    Variant::of(LimitOffset, bounded(WRONG)).severity(100.0),
    Variant::of(LimitOffset, bounded(WRONG)).severity(-30.0),
    Variant::of(LimitFrozen, bounded(STILL)),
    Variant::of(LimitDetached, bounded(WRONG)),
    Variant::of(LimitDetached, bounded(WRONG)).severity(60.0),
    Variant::of(LimitLagging, bounded(WRONG)),
    Variant::of(LimitLagging, bounded(WRONG)).severity(30.0),
    Variant::of(LimitNoisy, bounded(WRONG)),
    Variant::of(LimitNoisy, bounded(WRONG)).severity(2_000.0),
    Variant::of(LimitTerminals, trips(COLD, 15.0, Exposure::Firing)),
    Variant::of(LimitTerminals, trips(COLD, 15.0, Exposure::Firing)).severity(-30.0),
];
