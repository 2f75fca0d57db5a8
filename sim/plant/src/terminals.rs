//! The terminals of the controller, which sits beside the furnace and is warmed by it.

/// Temperature rise of the controller's terminals over ambient (K) and its time constant (s): the
/// controller sits beside the furnace (common practice, no source).
const RISE_K: f64 = 6.0;
const LAG_S: f64 = 1_800.0;

/// The terminals `dt_s` later (°C), while the controller is switched on.
pub(crate) fn warmed_c(terminals_c: f64, ambient_c: f64, dt_s: f64) -> f64 {
    let warm_c = ambient_c + RISE_K;
    terminals_c + (warm_c - terminals_c) * (dt_s / LAG_S)
}

/// The terminals (°C) beside a furnace that stands evenly warm: as warm as they become, but never warmer
/// than the furnace.
pub(crate) fn beside_even_furnace_c(ambient_c: f64, furnace_c: f64) -> f64 {
    ambient_c + (furnace_c - ambient_c).clamp(0.0, RISE_K)
}
