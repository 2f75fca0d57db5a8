//! Converts `[chamber]`, `[insulation]`, `[table]` and `[pin]`.

use std::f64::consts::PI;

use saggar_plant::spec::{ChamberSpec, InsulationSpec, PinSpec, TableSpec};

use crate::document::{KeyDiagnostics, Section as _};
use crate::keys::profile::{self as keys, VOLUME_MIN_LITRE};
use saggar_verdict::format::upper_limit;

/// The insulation for the simulation, and its temperature rating.
pub(super) struct InsulationParts {
    /// Data for the simulation.
    pub(super) spec: InsulationSpec,
    /// Highest continuous temperature of the hot face (°C).
    pub(super) rated_c: f64,
}

pub(super) fn chamber(keys: &keys::Chamber, notes: KeyDiagnostics<'_>) -> Option<ChamberSpec> {
    let (volume, radius, height) =
        (keys.volume_litre, keys.muffle_radius_millimetre, keys.muffle_height_millimetre);
    if let (Some(volume), Some(radius), Some(height)) = (volume, radius, height) {
        let muffle_litre = PI * radius * radius * height * 1e-6;
        let max_litre = 2.0 * muffle_litre;
        if volume > max_litre {
            let help = if max_litre < VOLUME_MIN_LITRE {
                "correct the radius and the height of the muffle".to_owned()
            } else {
                let max = upper_limit(max_litre, 2);
                format!("allowed: {max} or less, twice the volume of the muffle")
            };
            notes.at_value(
                "chamber.volume_litre",
                format!(
                    "the chamber is {volume} L, and the muffle in it only {muffle_litre:.2} L"
                ),
                help,
            );
        }
    }
    Some(ChamberSpec {
        volume_m3: volume? * 1e-3,
        muffle_radius_m: radius? * 1e-3,
        muffle_height_m: height? * 1e-3,
        muffle_kg: keys.muffle_gram? * 1e-3,
        muffle_emissivity: keys.muffle_emissivity?,
    })
}

pub(super) fn insulation(
    keys: &keys::Insulation,
    notes: KeyDiagnostics<'_>,
) -> Option<InsulationParts> {
    let keys = keys.with_defaults();
    let hot = keys.hot_area_square_centimetre;
    let cold = keys.cold_area_square_centimetre;
    if let (Some(hot), Some(cold)) = (hot, cold)
        && cold < hot
    {
        notes.at_value(
            "insulation.cold_area_square_centimetre",
            format!("the cold face, {cold} cm², is smaller than the hot one, {hot} cm²"),
            "the insulation lies around the muffle: its outer face is the larger one",
        );
    }
    // k_radiative × T³ at 1273.15 K, as in data sheets.
    let radiative = keys.radiative_watt_per_metre_kelvin_at_1000_celsius;
    Some(InsulationParts {
        rated_c: keys.rated_celsius?,
        spec: InsulationSpec {
            thickness_m: keys.thickness_millimetre? * 1e-3,
            hot_area_m2: hot? * 1e-4,
            cold_area_m2: cold? * 1e-4,
            density_kg_m3: keys.kilogram_per_cubic_metre?,
            heat_capacity_j_kg_k: keys.joule_per_kilogram_kelvin?,
            k_solid_w_m_k: keys.watt_per_metre_kelvin?,
            k_radiative_w_m_k4: radiative? / 1273.15_f64.powi(3),
            gas_share: keys.gas_share_percent? * 0.01,
            pore_m: keys.pore_micrometre? * 1e-6,
            case_w_m2_k: keys.case_watt_per_square_metre_kelvin?,
            case_emissivity: keys.case_emissivity?,
        },
    })
}

pub(super) fn table(keys: &keys::Table) -> Option<TableSpec> {
    Some(TableSpec {
        kg: keys.gram? * 1e-3,
        heat_capacity_j_kg_k: keys.joule_per_kilogram_kelvin?,
        radius_m: keys.radius_millimetre? * 1e-3,
        emissivity: keys.emissivity?,
        foot_w_k: keys.foot_watt_per_kelvin?,
    })
}

pub(super) fn pin(keys: &keys::Pin) -> Option<PinSpec> {
    Some(PinSpec {
        diameter_m: keys.diameter_millimetre? * 1e-3,
        length_m: keys.length_millimetre? * 1e-3,
        k_w_m_k: keys.watt_per_metre_kelvin?,
        heat_capacity_j_m3_k: keys.joule_per_cubic_centimetre_kelvin? * 1e6,
    })
}
