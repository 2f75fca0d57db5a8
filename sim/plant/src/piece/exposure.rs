//! Exposure of the piece: time above temperatures, maximum temperature, temperature spread.

use super::stress::Peak;
use crate::constants::KELVIN;

/// Temperatures (°C) above which the time is counted.
pub const THRESHOLDS_C: [f64; 4] = [600.0, 800.0, 1000.0, 1100.0];

/// Times and peaks of one firing, from the mean of the layers unless stated otherwise.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Exposure {
    /// Seconds above each of [`THRESHOLDS_C`].
    pub above_s: [f64; 4],
    /// The temperature above which `at_soak_s` counts (°C); infinite if none is set.
    pub threshold_c: f64,
    /// Seconds above `watch_c`.
    pub above_threshold_s: f64,
    /// Hottest mean (°C) and when; the start value is absolute zero.
    pub hottest: Peak,
    /// Hottest single layer (°C) and when.
    pub hottest_layer: Peak,
    /// Largest difference between two layers (K) and when.
    pub spread_max_k: Peak,
}

impl Exposure {
    pub(super) fn new() -> Self {
        let zero = Peak { value: -KELVIN, at_s: 0.0 };
        Self {
            above_s: [0.0; 4],
            threshold_c: f64::INFINITY,
            above_threshold_s: 0.0,
            hottest: zero,
            hottest_layer: zero,
            spread_max_k: Peak::default(),
        }
    }

    /// Counts a whole step at the temperature at its end, so each time is exact to one step per
    /// crossing.
    pub(super) fn step(&mut self, dt_s: f64, mean_c: f64, cold_c: f64, hot_c: f64, at_s: f64) {
        for (time, limit) in self.above_s.iter_mut().zip(THRESHOLDS_C) {
            if mean_c > limit {
                *time += dt_s;
            }
        }
        if mean_c > self.threshold_c {
            self.above_threshold_s += dt_s;
        }
        self.hottest.raise(mean_c, at_s);
        self.hottest_layer.raise(hot_c, at_s);
        self.spread_max_k.raise(hot_c - cold_c, at_s);
    }
}
