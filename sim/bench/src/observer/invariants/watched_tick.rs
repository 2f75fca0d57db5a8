//! What the watch keeps from one tick to the next.

use saggar_core::interlock::Cause;

/// What the watch keeps from one tick to the next.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct WatchedTick {
    /// The latched trip.
    pub(super) trip: Option<Cause>,
    /// The setpoint on the display (°C).
    pub(super) setpoint_c: Option<f64>,
    /// Ticks in a row in which the chamber was open.
    pub(super) open_ticks: u8,
    /// Trips latched since the start of the firing.
    pub(super) latched: u32,
}

impl WatchedTick {
    /// The setpoint is lost in a power cut; a trip is not.
    pub(super) const fn power_was_cut(&mut self) {
        self.setpoint_c = None;
    }
}
