//! What the sequencer is told in a tick, what it asks for, and how a firing ends.

use serde::{Deserialize, Serialize};

use super::ramp::Setpoint;
use crate::interlock::Cause;
use crate::units::Instant;

/// How a firing ended. Links and logs carry the number of a variant: new ones are added at the
/// end, and only there.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Ending {
    /// Every step was run.
    Completed,
    /// The operator pressed stop.
    Stopped,
    /// The interlock took the heat away.
    Tripped(Cause),
    /// Nobody answered an operator hold whose silence ends the firing.
    Unanswered,
    /// A soak lost its band for longer than its patience.
    BandLost,
    /// The lift or door did not get where it was asked to go.
    ClosureStuck,
    /// The firing took longer than the furnace allows.
    TooLong,
}

/// What the sequencer asks for in one tick.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
#[cfg_attr(feature = "desk", derive(serde::Deserialize))]
pub struct Demand {
    /// A firing is running.
    pub firing: bool,
    /// The setpoint to follow; `None` asks for no heat.
    pub setpoint: Option<Setpoint>,
    /// The pressure to reach and keep (Pa); `None` is atmosphere.
    pub vacuum_pa: Option<u32>,
    /// The vacuum stage has used up its time.
    pub vacuum_overdue: bool,
    /// Lift or door open.
    pub open_closure: bool,
    /// The operator is wanted.
    pub operator_hold: bool,
}

/// What the sequencer is told in one tick.
#[derive(Clone, Copy, Debug)]
pub struct SequencerInputs {
    /// The time.
    pub now: Instant,
    /// Reading of the control channel (°C), if it is believed.
    pub reading_c: Option<f32>,
    /// Chamber pressure (Pa), if there is a gauge and it answered.
    pub pressure_pa: Option<u32>,
    /// Contacts prove the chamber shut.
    pub shut: bool,
    /// Contacts prove it open.
    pub open: bool,
    /// The interlock has tripped.
    pub trip: Option<Cause>,
    /// The operator pressed start.
    pub start_pressed: bool,
    /// The operator pressed stop.
    pub stop_held: bool,
    /// The operator pressed confirm.
    pub confirm_pressed: bool,
}

/// What the sequencer must know of the furnace.
#[derive(Clone, Copy, Debug)]
pub struct SequencerLimits {
    /// Hottest reading at which the chamber may be opened (°C).
    pub open_below_c: f32,
    /// Longest firing (ms).
    pub firing_max_ms: u64,
    /// Time that a lift or a door is given to move (ms).
    pub closure_travel_max_ms: u64,
    /// The chamber can be under vacuum, so that opening waits for air.
    pub has_vacuum: bool,
}
