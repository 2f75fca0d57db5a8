//! What stands around and under the work: `[chamber]`, `[insulation]`, `[table]`, `[pin]`.

use std::f64::consts::PI;

use saggar_plant::spec::{ChamberSpec, InsulationSpec, PinSpec, TableSpec};

use crate::document::Table;
use saggar_plant::say::at_most;

/// Insulation, and how hot it may be for ever.
pub(super) struct Insulation {
    /// What the simulation builds.
    pub(super) spec: InsulationSpec,
    /// Hottest hot face (°C).
    pub(super) rated_c: f64,
}

/// Smallest chamber (L).
const VOLUME_MIN_LITRE: f64 = 0.05;

pub(super) fn chamber(table: Table<'_>) -> Option<ChamberSpec> {
    let volume = table.number("volume_litre", VOLUME_MIN_LITRE..=50.0);
    let radius = table.number("muffle_radius_millimetre", 10.0..=300.0);
    let height = table.number("muffle_height_millimetre", 10.0..=600.0);
    let mass = table.number("muffle_gram", 5.0..=50_000.0);
    let emissivity = table.number("muffle_emissivity", 0.05..=1.0);
    if let (Some(volume), Some(radius), Some(height)) = (volume, radius, height) {
        let muffle_litre = PI * radius * radius * height * 1e-6;
        let most_litre = 2.0 * muffle_litre;
        if volume > most_litre {
            let help = if most_litre < VOLUME_MIN_LITRE {
                "correct the radius and the height of the muffle".to_owned()
            } else {
                let most = at_most(most_litre, 2);
                format!(
                    "the volume is what the pump empties: allowed are {most} or less, twice the muffle's"
                )
            };
            table.note(
                "volume_litre",
                format!(
                    "the chamber is {volume} L, and the muffle in it only {muffle_litre:.2} L"
                ),
                help,
            );
        }
    }
    table.finish();
    Some(ChamberSpec {
        volume_m3: volume? * 1e-3,
        muffle_radius_m: radius? * 1e-3,
        muffle_height_m: height? * 1e-3,
        muffle_kg: mass? * 1e-3,
        muffle_emissivity: emissivity?,
    })
}

pub(super) fn insulation(table: Table<'_>) -> Option<Insulation> {
    let rated = table.number("rated_celsius", 600.0..=2000.0);
    let thickness = table.number("thickness_millimetre", 5.0..=300.0);
    let hot = table.number("hot_area_square_centimetre", 20.0..=20_000.0);
    let cold = table.number("cold_area_square_centimetre", 20.0..=50_000.0);
    let density = table.number("kilogram_per_cubic_metre", 50.0..=3000.0);
    let heat = table.number("joule_per_kilogram_kelvin", 300.0..=2000.0);
    let solid = table.number("watt_per_metre_kelvin", 0.01..=5.0);
    // k_radiative × T³ at 1273.15 K: a figure that data sheets have.
    let radiative = table.number("radiative_watt_per_metre_kelvin_at_1000_celsius", 0.0..=5.0);
    let gas = table.number("gas_share_percent", 0.0..=100.0);
    let pore = table.number("pore_micrometre", 0.01..=2000.0);
    let case = table.number("case_watt_per_square_metre_kelvin", 1.0..=100.0);
    if let (Some(hot), Some(cold)) = (hot, cold)
        && cold < hot
    {
        table.note(
            "cold_area_square_centimetre",
            format!("the cold face, {cold} cm², is smaller than the hot one, {hot} cm²"),
            "the insulation lies around the muffle: its outer face is the larger one",
        );
    }
    table.finish();
    Some(Insulation {
        rated_c: rated?,
        spec: InsulationSpec {
            thickness_m: thickness? * 1e-3,
            hot_area_m2: hot? * 1e-4,
            cold_area_m2: cold? * 1e-4,
            density_kg_m3: density?,
            heat_capacity_j_kg_k: heat?,
            k_solid_w_m_k: solid?,
            k_radiative_w_m_k4: radiative? / 1273.15_f64.powi(3),
            gas_share: gas? * 0.01,
            pore_m: pore? * 1e-6,
            case_w_m2_k: case?,
        },
    })
}

pub(super) fn table(table: Table<'_>) -> Option<TableSpec> {
    let mass = table.number("gram", 1.0..=20_000.0);
    let heat = table.number("joule_per_kilogram_kelvin", 300.0..=2000.0);
    let radius = table.number("radius_millimetre", 5.0..=300.0);
    let emissivity = table.number("emissivity", 0.05..=1.0);
    let foot = table.number("foot_watt_per_kelvin", 0.0..=5.0);
    table.finish();
    Some(TableSpec {
        kg: mass? * 1e-3,
        heat_capacity_j_kg_k: heat?,
        radius_m: radius? * 1e-3,
        emissivity: emissivity?,
        foot_w_k: foot?,
    })
}

pub(super) fn pin(table: Table<'_>) -> Option<PinSpec> {
    let diameter = table.number("diameter_millimetre", 0.2..=20.0);
    let length = table.number("length_millimetre", 1.0..=100.0);
    let k = table.number("watt_per_metre_kelvin", 0.5..=500.0);
    let heat = table.number("joule_per_cubic_centimetre_kelvin", 0.5..=10.0);
    table.finish();
    Some(PinSpec {
        diameter_m: diameter? * 1e-3,
        length_m: length? * 1e-3,
        k_w_m_k: k?,
        heat_capacity_j_m3_k: heat? * 1e6,
    })
}
