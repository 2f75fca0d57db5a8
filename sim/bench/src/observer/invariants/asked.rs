//! The highest temperature that was asked for so far, judged from outside: the setpoint that the display
//! shows, but no higher than the programme goes, and no faster than the furnace's fastest ramp. A setpoint
//! that jumps by itself was not asked for.

use saggar_core::TICK_S;
use saggar_core::furnace::Furnace;
use saggar_core::programme::ProgrammeImage;

use crate::world::setpoint_max_c;

/// Rounding of the setpoint in a tick (K).
pub(super) const ROUNDING_K: f64 = 0.01;

/// The highest temperature that was asked for so far.
#[derive(Clone, Copy, Debug)]
pub(super) struct AskedTemperature {
    programme_max_c: f64,
    rise_max_k: f64,
    so_far_c: f64,
}

impl AskedTemperature {
    /// Nothing was asked for yet.
    pub(super) fn new(furnace: &Furnace, programme: &ProgrammeImage) -> Self {
        let ramp_k_per_s = f64::from(furnace.limits.ramp_max_k_per_min) / 60.0;
        Self {
            programme_max_c: setpoint_max_c(programme).unwrap_or(f64::NEG_INFINITY),
            rise_max_k: ramp_k_per_s * f64::from(TICK_S) + ROUNDING_K,
            so_far_c: f64::NEG_INFINITY,
        }
    }

    /// One tick with this setpoint on the display, and the muffle at this temperature (°C). A furnace that
    /// was warm before anything was asked for may stay as warm.
    pub(super) fn update(&mut self, setpoint_c: Option<f64>, muffle_c: impl FnOnce() -> f64) {
        if self.so_far_c.is_infinite() {
            self.so_far_c = muffle_c();
        }
        if let Some(setpoint_c) = setpoint_c {
            let asked_c = setpoint_c.min(self.programme_max_c);
            let reachable_c = self.so_far_c + self.rise_max_k;
            self.so_far_c = self.so_far_c.max(asked_c.min(reachable_c));
        }
    }

    /// The most a setpoint may rise in a tick (K).
    pub(super) const fn rise_max_k(&self) -> f64 {
        self.rise_max_k
    }

    /// The highest setpoint of the programme (°C).
    pub(super) const fn programme_max_c(&self) -> f64 {
        self.programme_max_c
    }

    /// The highest temperature that was asked for so far (°C).
    pub(super) const fn so_far_c(&self) -> f64 {
        self.so_far_c
    }
}
