//! Faults that are injected into the plant, or between plant and core. They are product code, so that
//! anyone can rehearse a fault.
//!
//! * `catalogue`: one row a kind of fault, with its name, the part that it needs, its severity and effect.
//! * `fault`: one fault as data: what, how much, and when.
//! * `effect`: the kinds of effects.
//! * `injector`: which faults are scheduled, and which are there.
//! * `plant_condition`: the effects on the plant, summed over the faults that are there.
//! * `readings`: the effects on the readings between plant and core.

mod catalogue;
mod effect;
mod fault;
mod injector;
mod plant_condition;
mod readings;
#[cfg(test)]
mod tests;

pub use catalogue::{FaultKind, Severity};
pub use effect::{
    ContactFault, CurrentFault, FaultEffect, FlashArea, FurnacePart, GaugeFault, MemoryArea,
    MemoryFault, SensorChannel, SignalFault, SwitchContact, TipFault,
};
pub use fault::{Fault, Intermittent};
pub use injector::{FaultInjector, SingleEffects};
pub use plant_condition::PlantCondition;
