//! The inputs and outputs of the sequencer.

use serde::{Deserialize, Serialize};

pub use crate::demand::{Demand, Wait};
use crate::furnace::Coast;
use crate::interlock::Cause;
use crate::units::Instant;

/// How a firing ended. Links and logs carry the variant's number, so add new variants at the end
/// only.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Ending {
    /// All steps were run.
    Completed,
    /// The operator, or a client over the link, stopped it.
    Stopped,
    /// The interlock tripped.
    Tripped(Cause),
    /// An operator hold timed out, and its step says that this ends the firing.
    Unanswered,
    /// The reading was outside the band of a soak for longer than the step allows.
    BandLost,
    /// The firing exceeded the furnace's maximum duration.
    TooLong,
}

/// Where a firing goes on after a power cut.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ResumePoint {
    /// The step, from 0.
    pub step: u8,
    /// Time inside the band of a soak, or at the end of a move, that counts (s).
    pub gathered_s: u16,
    /// The pressure of the step's vacuum stage had been reached.
    pub vacuum_drawn: bool,
}

/// The sequencer's inputs in one tick.
#[derive(Clone, Copy, Debug)]
pub struct SequencerInputs {
    /// Time of the tick.
    pub now: Instant,
    /// Reading of the control channel (°C); `None` if it is not valid.
    pub reading_c: Option<f32>,
    /// Chamber pressure (Pa); `None` without a gauge, or if it did not answer.
    pub pressure_pa: Option<u32>,
    /// The contacts prove the chamber shut.
    pub shut: bool,
    /// The contacts prove the chamber open.
    pub open: bool,
    /// The latched trip.
    pub trip: Option<Cause>,
    /// The start button went down in this tick.
    pub start_pressed: bool,
    /// The firing that this press goes on with; `None` begins at the first step.
    pub resume: Option<ResumePoint>,
    /// The stop button is down.
    pub stop_held: bool,
    /// The confirm button went down in this tick.
    pub confirm_pressed: bool,
    /// How the reading would go on if it followed the setpoint and the heater went off.
    pub coast: Coast,
}

/// The furnace data that the sequencer needs.
#[derive(Clone, Copy, Debug)]
pub struct SequencerLimits {
    /// The chamber may be opened below this reading (°C).
    pub open_below_c: f32,
    /// Maximum duration of a firing (ms).
    pub firing_max_ms: u64,
    /// Time within which the lift or door must reach its position (ms).
    pub closure_travel_max_ms: u64,
    /// The furnace has a pump, so that opening must wait until the chamber is vented.
    pub has_vacuum: bool,
    /// The contactor has an auxiliary contact, which a self-test can look at.
    pub has_auxiliary_contact: bool,
    /// A sensor measures the heater's current, which a self-test can look at.
    pub has_current_sensor: bool,
}
