//! Properties of water: its vapour pressure over liquid and over ice, and its heat of evaporation.

use crate::constants::{ATMOSPHERE_PA, KELVIN};

/// Critical temperature of water (K), IAPWS.
const CRITICAL_K: f64 = 647.096;
/// Critical pressure of water (Pa), IAPWS.
const CRITICAL_PA: f64 = 22.064e6;
/// Coefficients of the saturation line: Wagner and Pruss, J. Phys. Chem. Ref. Data 22 (1993)
/// 783, the IAPWS supplementary release on saturation properties.
const LINE: [f64; 6] =
    [-7.859_517_83, 1.844_082_59, -11.786_649_7, 22.680_741_1, -15.961_871_9, 1.801_225_02];
/// Coefficients of the sublimation line: Murphy and Koop, Q. J. R. Meteorol. Soc. 131 (2005)
/// 1539, equation 7, values from memory; good above 110 K.
const ICE: [f64; 4] = [9.550_426, -5723.265, 3.530_68, -0.007_283_32];
/// Coldest temperature of the sublimation line (K).
const COLDEST_K: f64 = 110.0;
/// Triple point of water (°C): below it, ice.
pub(super) const TRIPLE_C: f64 = 0.01;
/// Heat of melting of ice (J/kg), value from memory.
const MELTING_J_KG: f64 = 3.335e5;
/// Gas constant of water vapour (J/(kg K)): 8.314463 / 0.018015.
pub(super) const VAPOUR_J_KG_K: f64 = 461.52;
/// Share of vapour in ambient air: half saturated at 20 °C, 1170 Pa.
pub const AMBIENT_VAPOUR_SHARE: f64 = 1170.0 / ATMOSPHERE_PA;

/// Pressure of saturated water vapour (Pa) at `t_c` (°C): over ice below the triple point, over
/// water above it, and above the critical point the critical pressure.
pub fn saturation_pa(t_c: f64) -> f64 {
    let t = t_c + KELVIN;
    if t_c < TRIPLE_C {
        let t = t.max(COLDEST_K);
        let [a, b, c, d] = ICE;
        return libm::exp(a + b / t + c * libm::log(t) + d * t);
    }
    let x = 1.0 - t / CRITICAL_K;
    if x <= 0.0 {
        return CRITICAL_PA;
    }
    let root = x.sqrt();
    let [a, b, c, d, e, f] = LINE;
    let (x2, x3) = (x * x, x * x * x);
    let whole = a * x + c * x3 + e * x2 * x2;
    let halves = root * (b * x + d * x3 + f * x3 * x3 * x);
    CRITICAL_PA * libm::exp((whole + halves) * CRITICAL_K / t)
}

/// Heat of evaporation (J/kg): a line through the values at 25 and 100 °C (2441.68 and
/// 2256.40 kJ/kg, IAPWS-95), 0.1 % low at 60 °C. It is also used below the triple point: the heat
/// of freezing is returned when the ice sublimes, so the total is that of water.
pub fn evaporation_j_kg(t_c: f64) -> f64 {
    (2.441_68e6 - 2470.4 * (t_c - 25.0)).clamp(1.5e6, 2.6e6)
}

/// Slope of the vapour pressure (Pa/K), by Clausius and Clapeyron.
pub(super) fn steepness_pa_k(saturated_pa: f64, t_c: f64) -> f64 {
    let kelvin = (t_c + KELVIN).max(COLDEST_K);
    let melting = if t_c < TRIPLE_C { MELTING_J_KG } else { 0.0 };
    saturated_pa * (evaporation_j_kg(t_c) + melting) / (VAPOUR_J_KG_K * kelvin * kelvin)
}
