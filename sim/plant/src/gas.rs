//! Heat conduction through air, from atmospheric pressure to vacuum.
//!
//! Between 30 and 60 hPa the gas in the chamber's gaps still conducts as at atmospheric pressure.
//! Vacuum removes convection, and half of the heat that gas carries through the pores of fibre board.
//! Both follow from the ratio of the mean free path to the width of the gap.

use std::f64::consts::PI;

use crate::constants::ATMOSPHERE_PA;

/// Molar gas constant (J/(mol K)), CODATA 2018, exact.
const MOLAR_GAS: f64 = 8.314_462_618;

/// Molar mass of dry air (kg/mol), value from memory.
const AIR_MOLAR_KG: f64 = 0.028_965_5;

/// Gas constant of air (J/(kg K)).
pub const AIR_GAS: f64 = MOLAR_GAS / AIR_MOLAR_KG;

/// Specific heat of air at constant pressure near 1,000 K (J/(kg K)), CoolProp.
pub const AIR_CP: f64 = 1_141.0;

/// Ratio of the specific heats of air.
const GAMMA: f64 = 1.4;

/// Prandtl number of air.
const PRANDTL: f64 = 0.7;

/// Thermal accommodation of air on a technical surface; to calibrate.
const ACCOMMODATION: f64 = 0.9;

/// Viscosity of air `VISCOSITY · T^1.5 / (T + SUTHERLAND_K)` (Pa s): Sutherland's form fitted
/// to CoolProp between 300 and 1,473 K, within 1 %.
const VISCOSITY: f64 = 1.582_54e-6;

/// Sutherland's temperature of that fit (K).
const SUTHERLAND_K: f64 = 146.732;

/// Thermal conductivity of air at atmospheric pressure (W/(m K)): a cubic through CoolProp's
/// figures between 300 and 1,473 K, within 0.2 %.
pub fn air_conductivity(kelvin: f64) -> f64 {
    2.250_473e-3 + kelvin * (8.934_740e-5 + kelvin * (-3.211_811e-8 + kelvin * 8.271_534e-12))
}

/// Viscosity of air (Pa s).
pub fn air_viscosity(kelvin: f64) -> f64 {
    VISCOSITY * kelvin * kelvin.sqrt() / (kelvin + SUTHERLAND_K)
}

/// Mean free path in air (m), from its viscosity. Rigid spheres of one size would give a
/// quarter less at firing temperature.
///
/// ```text
/// λ = μ/p · √(π R T / 2)
/// ```
pub fn mean_free_path(kelvin: f64, pressure_pa: f64) -> f64 {
    air_viscosity(kelvin) / pressure_pa * (PI * AIR_GAS * kelvin / 2.0).sqrt()
}

/// Free-molecular conductance between two close surfaces (W/(m² K)), at the gas temperature.
pub fn free_molecule_conductance(kelvin: f64, pressure_pa: f64) -> f64 {
    let exchange = 1.0 / (2.0 / ACCOMMODATION - 1.0);
    exchange * (GAMMA + 1.0) / (GAMMA - 1.0)
        * (AIR_GAS / (8.0 * PI * kelvin)).sqrt()
        * pressure_pa
}

/// Conduction over a gap relative to dense gas, by Sherman's
/// interpolation between dense gas and free molecules: `1/q = 1/q_dense + 1/q_free`.
pub fn gap_share(kelvin: f64, pressure_pa: f64, gap_m: f64) -> f64 {
    let free = gap_m * free_molecule_conductance(kelvin, pressure_pa);
    free / (free + air_conductivity(kelvin))
}

/// Free path times pressure, without the root: `λ p = PATH · T² / (T + SUTHERLAND_K)`.
fn path_pressure(kelvin: f64) -> f64 {
    // VISCOSITY · √(π R / 2), with π R / 2 = 450.9 for air.
    const PATH: f64 = VISCOSITY * 21.234_386;
    PATH * kelvin * kelvin / (kelvin + SUTHERLAND_K)
}

/// Temperature jump at a wall in free paths times two walls: `2 (2−α)/α · 2γ/(γ+1) / Pr`.
const JUMP: f64 =
    2.0 * (2.0 - ACCOMMODATION) / ACCOMMODATION * 2.0 * GAMMA / (GAMMA + 1.0) / PRANDTL;

/// Conduction of the gas in a pore relative to dense gas (Kaganer):
/// `1 / (1 + 2 β λ / pore)`.
pub fn pore_share(kelvin: f64, pressure_pa: f64, pore_m: f64) -> f64 {
    let dense = pore_m * pressure_pa;
    dense / (dense + JUMP * path_pressure(kelvin))
}

/// Conduction of the gas in a pore relative to that in air at one atmosphere, at which conductivities of
/// porous solids are stated: the ratio of two [`pore_share`]s.
pub fn pore_share_of_air(kelvin: f64, pressure_pa: f64, pore_m: f64) -> f64 {
    let jump = JUMP * path_pressure(kelvin);
    let share = pressure_pa / ATMOSPHERE_PA;
    share * (pore_m * ATMOSPHERE_PA + jump) / (pore_m * pressure_pa + jump)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pores_lose_nothing_at_one_atmosphere() {
        for (kelvin, pore_m) in [(300.0, 20e-6), (900.0, 20e-6), (1_400.0, 60e-6)] {
            assert!((pore_share_of_air(kelvin, ATMOSPHERE_PA, pore_m) - 1.0).abs() < 1e-12);
            let ratio =
                pore_share(kelvin, 5_000.0, pore_m) / pore_share(kelvin, ATMOSPHERE_PA, pore_m);
            let found = pore_share_of_air(kelvin, 5_000.0, pore_m);
            assert!((found - ratio).abs() < 1e-12, "{kelvin} K: {found}");
        }
    }

    #[test]
    fn the_two_forms_of_the_free_path_agree() {
        for kelvin in [293.15, 900.0, 1_373.15] {
            let ratio = path_pressure(kelvin) / (mean_free_path(kelvin, 5_000.0) * 5_000.0);
            assert!((ratio - 1.0).abs() < 1e-4, "{kelvin} K: {ratio}");
        }
    }
}
