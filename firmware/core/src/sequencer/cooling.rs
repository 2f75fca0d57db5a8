//! Waits without heat while the furnace is hotter than a ramp leads.
//!
//! A furnace can only be heated, so a setpoint below the reading has to wait until the furnace has cooled
//! down to it.

use serde::Serialize;

/// Distance above the target at which a ramp stops heating and waits (K).
const ABOVE_K: f32 = 2.0;

/// Distance above the target at which such a wait ends (K). It is smaller, so that noise does not begin
/// the wait again.
const COOLED_K: f32 = 1.0;

/// Readings at the start from which a chamber may warm up by itself (°C): after it was open, the sensor
/// is colder than muffle and insulation. Below, all of it is cold. Above, the muffle radiates so much
/// that the reading follows within seconds.
const WARM_C: core::ops::Range<f32> = 35.0..300.0;

/// Distance to the target from which the reading of a warm chamber does not get there by itself (K).
const FAR_K: f32 = 150.0;

/// Time over which the rise of a warm chamber is measured (ticks): one minute.
const WINDOW_TICKS: u16 = 600;

/// Rise in that time up to which the reading counts as settled (K).
const SETTLED_K: f32 = 0.5;

/// State of the wait in the current step.
#[derive(Clone, Debug, Default, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub(super) struct CoolingWait {
    waiting: bool,
    window: Option<WarmUpWindow>,
}

/// A minute in which the rise of a warm chamber is measured.
#[derive(Clone, Debug, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
struct WarmUpWindow {
    ticks: u16,
    start_c: f32,
}

impl CoolingWait {
    /// True while the step waits without heat.
    pub(super) const fn is_waiting(&self) -> bool {
        self.waiting
    }

    /// Before the first setpoint: waits until the reading shows the temperature of the chamber. Returns
    /// true once it does.
    pub(super) fn has_settled(&mut self, reading_c: f32, to_c: f32) -> bool {
        let may_pass = WARM_C.contains(&reading_c) && to_c - reading_c < FAR_K;
        if !self.waiting && !may_pass {
            return true;
        }
        let window = self.window.get_or_insert(WarmUpWindow { ticks: 0, start_c: reading_c });
        window.ticks = window.ticks.saturating_add(1);
        self.waiting = true;
        if window.ticks >= WINDOW_TICKS {
            self.waiting = !(reading_c - window.start_c <= SETTLED_K);
            self.window = None;
        }
        !self.waiting
    }

    /// Returns true, and waits, if the furnace has to cool down to the target of its first ramp, without
    /// following the rate: it cools slowly there anyway. From above, the setpoint falls at the rate of the
    /// ramp.
    pub(super) fn cools_first(&mut self, reading_c: f32, to_c: f32) -> bool {
        WARM_C.contains(&reading_c) && self.update(reading_c - to_c)
    }

    /// With the setpoint at the end of its ramp: waits while the reading is above it. Returns true while
    /// it waits.
    pub(super) fn update(&mut self, above_k: f32) -> bool {
        self.waiting = above_k > if self.waiting { COOLED_K } else { ABOVE_K };
        self.waiting
    }
}
