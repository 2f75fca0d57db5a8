//! The inputs of the interlock.

use crate::demand::Demand;
use crate::estimate::Estimate;
use crate::io::{Inputs, Outputs};

/// Everything that the interlock evaluates in one tick.
#[derive(Clone, Copy, Debug)]
pub struct InterlockInputs<'a> {
    /// The raw inputs.
    pub raw: &'a Inputs,
    /// Estimates of both channels.
    pub estimate: &'a Estimate,
    /// Demand of the last tick.
    pub demand: &'a Demand,
    /// Outputs of the last tick.
    pub applied: &'a Outputs,
    /// Maximum setpoint of the programme (°C).
    pub setpoint_max_c: f32,
    /// Share of the last tick's mains cycles that were commanded to conduct, 0 to 1.
    pub commanded_duty: f32,
    /// The contacts prove the chamber shut, and the lift has had the time to shut it.
    pub shut: bool,
    /// The shut contact closed before the lift can have arrived.
    pub shut_too_early: bool,
    /// The pressure rose while the pump drew, and again after another try.
    pub vacuum_lost: bool,
    /// This tick came on time.
    pub on_time: bool,
    /// The programme in memory is still the one that was verified.
    pub programme_intact: bool,
    /// The furnace's data in memory are still those that were loaded.
    pub furnace_intact: bool,
}

impl InterlockInputs<'_> {
    /// The current step heats.
    pub const fn heats(&self) -> bool {
        self.demand.setpoint.is_some()
    }
}
