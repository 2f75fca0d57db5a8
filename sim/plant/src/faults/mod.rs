//! Faults that are injected into the plant, or between plant and core. They are product code, so that
//! anyone can rehearse a fault.
//!
//! * `catalogue`: one row a fault, with its name, the part that it needs, and its effect with its figures.
//! * `effect`: the kinds of effects.
//! * `injector`: which faults are scheduled, and which have struck.
//! * `plant_condition`: the effects on the plant, summed over the faults that have struck.
//! * `readings`: the effects on the readings between plant and core.

mod catalogue;
mod effect;
mod injector;
mod plant_condition;
mod readings;
#[cfg(test)]
mod tests;

pub use catalogue::Fault;
pub use effect::{
    ContactFault, FaultEffect, FurnacePart, GaugeFault, SensorChannel, SignalFault,
    SwitchContact, TipFault,
};
pub use injector::{FaultInjector, ScheduledFault};
pub use plant_condition::PlantCondition;
