//! The limits of the verdict. They have no source: they are common-sense choices, kept in one place so
//! that a shop can review them.

/// Confidence required that the wall is infiltrated, and that the coat has enough glass.
pub(super) const CONFIDENCE_MIN: f64 = 0.90;
/// Largest gas share in the pores that needs no remark: a firing under vacuum stays below it, a
/// firing in air does not.
pub(super) const GAS_NOTE_SHARE: f64 = 0.01;
/// Safety factor on the strength: the tension may reach the strength divided by this.
pub(super) const STRESS_SAFETY: f64 = 2.0;
/// Roughness that may be left after a melt-back fire (m): below it glass looks glossy.
pub(super) const ROUGHNESS_MAX_M: f64 = 1.0e-6;
/// Flow over the flow that the roughness needs, above which a melt-back fire is not known: two decades of
/// viscosity, more than lies between the library's fluid and stiff glasses.
pub(super) const LEVELLED_TIMES_MAX: f64 = 100.0;
/// Limit of the sensor's overshoot over the setpoint of a soak, or over the highest setpoint (K). If the
/// band of the soak is wider, the band is the limit: what is allowed during the soak is allowed at its
/// start.
pub(super) const OVERSHOOT_MAX_K: f64 = 10.0;
/// Limit of the piece's own temperature over the highest setpoint (K): larger than that of the sensor,
/// and larger than the difference of sensor and piece in a good soak.
pub(super) const PIECE_OVER_MAX_K: f64 = 15.0;
/// Largest mean difference in a soak, and largest root mean square over the firing, between the simulated and
/// the recorded control sensor (K) with which the simulated furnace counts as the recorded one. At 1120 °C
/// it is about 15 % of the flow.
pub(super) const SIMULATED_SENSOR_MAX_K: f64 = 10.0;
/// Largest ratio between the pressure of the simulated chamber and that of the recorded gauge, as means over a soak
/// under vacuum, either way, with which the simulated pressure counts as the recorded one.
pub(super) const SIMULATED_PRESSURE_RATIO_MAX: f64 = 1.5;
/// Largest difference of the same (Pa).
pub(super) const SIMULATED_PRESSURE_APART_MAX_PA: f64 = 2000.0;
/// Differences of the same up to this (Pa) never matter, whatever their ratio.
pub(super) const SIMULATED_PRESSURE_APART_MIN_PA: f64 = 100.0;
/// Longest extra soak (s) that the verdict advises; if more is needed, the soak is too cold.
pub(super) const EXTRA_SOAK_MAX_S: f64 = 4.0 * 3600.0;
/// Share of the uncertainty from which the verdict advises to measure one input.
pub(super) const DOMINANT_SHARE: f64 = 0.5;
