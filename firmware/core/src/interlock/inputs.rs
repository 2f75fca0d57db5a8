//! The inputs of the interlock.

use crate::estimate::Estimate;

/// What the sequencer demanded in the last tick, as far as it matters for safety.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct LastDemand {
    /// A firing is running.
    pub firing: bool,
    /// The current step heats.
    pub heat: bool,
    /// Maximum setpoint of the programme (°C).
    pub setpoint_max_c: f32,
    /// A vacuum stage has exceeded its time.
    pub vacuum_overdue: bool,
}

/// Everything that the interlock evaluates in one tick.
#[derive(Clone, Copy, Debug)]
pub struct InterlockInputs<'a> {
    /// Estimates of both channels.
    pub estimate: &'a Estimate,
    /// Demand of the last tick.
    pub demand: LastDemand,
    /// Share of the last tick's mains cycles that were commanded to conduct, 0 to 1.
    pub commanded_duty: f32,
    /// Whether the heater conducted; `None` without a current sensor.
    pub heater_conducting: Option<bool>,
    /// The contacts prove the chamber shut.
    pub shut: bool,
    /// This tick came on time.
    pub on_time: bool,
    /// The programme in memory is still the one that was verified.
    pub programme_intact: bool,
}
