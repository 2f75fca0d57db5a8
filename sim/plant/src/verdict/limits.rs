//! What the verdict asks for. None of these has a source: they are common-sense choices, in one
//! place so that a shop can argue about them.

/// Probability at which a wall counts as sure to be infiltrated, and a coat as sure to suffice.
pub(super) const CONFIDENCE_MIN: f64 = 0.90;
/// Largest gas share in the pores that needs no remark: vacuum stays below, air does not.
pub(super) const GAS_NOTE_SHARE: f64 = 0.01;
/// The strength must be this many times the largest tension.
pub(super) const STRESS_SAFETY: f64 = 2.0;
/// Roughness that may be left after a melt-back fire (m): below it glass looks glossy.
pub(super) const ROUGHNESS_MAX_M: f64 = 1.0e-6;
/// How far the sensor may rise above the setpoint of a soak, or above the highest setpoint (K), if
/// the band of the soak is not wider: what a band allows for the whole soak is no fault at its start.
pub(super) const OVERSHOOT_MAX_K: f64 = 10.0;
/// How far the piece itself may rise above the highest setpoint (K): more than the sensor may,
/// and more than sensor and piece differ in a good soak.
pub(super) const PIECE_OVER_MAX_K: f64 = 15.0;
/// Longest extra soak (s) that the verdict advises; beyond it the soak is too cold.
pub(super) const EXTRA_SOAK_MAX_S: f64 = 4.0 * 3600.0;
