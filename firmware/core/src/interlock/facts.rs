//! What there is to judge.

use crate::estimate::Estimate;

/// What the sequencer asked for on the last tick, as far as it matters for safety.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct LastDemand {
    /// A firing is running.
    pub firing: bool,
    /// The step heats.
    pub heat: bool,
    /// The programme's highest setpoint (°C).
    pub setpoint_max_c: f32,
    /// A vacuum stage has used up its time.
    pub vacuum_overdue: bool,
}

/// What there is to judge in one tick.
#[derive(Clone, Copy, Debug)]
pub struct InterlockInputs<'a> {
    /// Both channels.
    pub estimate: &'a Estimate,
    /// What the sequencer asked for on the last tick.
    pub demand: LastDemand,
    /// Share of the last tick's mains cycles that were commanded on, 0 to 1.
    pub commanded_duty: f32,
    /// Whether the heater conducted, if the furnace can tell.
    pub heater_conducting: Option<bool>,
    /// The chamber is proven shut.
    pub shut: bool,
    /// This tick came when it was due.
    pub on_time: bool,
    /// The programme in memory is the one that was verified.
    pub programme_intact: bool,
}
