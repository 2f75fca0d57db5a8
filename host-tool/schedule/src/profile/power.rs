//! Converts `[heater]`, `[mains]` and `[inputs]`.

use saggar_core::furnace::{FeedForward, Heater, StoredHeat, TABLE_POINTS_MAX};
use saggar_plant::spec::{ChamberSpec, HeaterSpec, InputsSpec, MainsSpec};

use super::limits::to_f32;
use crate::document::{KeyDiagnostics, Section as _};
use crate::keys::profile as keys;

/// The heater for the simulation, and the value that only the controller needs.
pub(super) struct HeaterParts {
    /// Data for the simulation.
    pub(super) spec: HeaterSpec,
    /// Smallest current that counts as conducting (mA).
    pub(super) conducting_ma: u32,
    /// Current at full conduction and nominal mains (mA), if the profile states it.
    pub(super) full_current_ma: Option<u32>,
}

pub(super) fn heater(keys: &keys::Heater) -> Option<HeaterParts> {
    let keys = keys.with_defaults();
    Some(HeaterParts {
        conducting_ma: keys.conducting_milliampere?,
        full_current_ma: keys.current_milliampere,
        spec: HeaterSpec {
            rated_w: keys.rated_watt?,
            element_kg: keys.element_gram? * 1e-3,
            heat_capacity_j_kg_k: keys.joule_per_kilogram_kelvin?,
            area_m2: keys.area_square_centimetre? * 1e-4,
            emissivity: keys.emissivity?,
        },
    })
}

pub(super) fn mains(keys: &keys::Mains, notes: KeyDiagnostics<'_>) -> Option<MainsSpec> {
    let keys = keys.with_defaults();
    let hertz = keys.hertz?;
    if hertz != 50 && hertz != 60 {
        notes.at_value("mains.hertz", format!("`hertz` is {hertz}"), "allowed: 50 or 60");
    }
    Some(MainsSpec {
        nominal_v: keys.nominal_volt?,
        actual_v: keys.actual_volt.or(keys.nominal_volt)?,
        hz: u8::try_from(hertz).ok()?,
    })
}

/// The inputs that this furnace has.
pub(super) fn inputs(keys: &keys::OptionalInputs) -> Option<InputsSpec> {
    let keys = keys.with_defaults();
    Some(InputsSpec {
        heater_current: keys.heater_current?,
        auxiliary_contact: keys.auxiliary_contact?,
        mains_crossings: keys.mains_crossings?,
    })
}

/// Stefan-Boltzmann constant (W/(m² K⁴)), CODATA 2018.
pub(super) const STEFAN_BOLTZMANN: f64 = 5.670_374_419e-8;

/// Specific heat of the muffle (J/(kg K)): alumina between 600 and 1100 °C (common practice, no
/// source).
pub(super) const MUFFLE_J_KG_K: f64 = 1_150.0;

/// The same at 250 °C, below which the heat that an element stores matters: alumina's curve (NIST WebBook).
const COLD_MUFFLE_J_KG_K: f64 = 1_000.0;

/// The heater for the controller.
pub(super) fn core_heater(
    heater: &HeaterParts,
    mains: &MainsSpec,
    inputs: InputsSpec,
    chamber: &ChamberSpec,
    feed_forward: heapless::Vec<FeedForward, TABLE_POINTS_MAX>,
) -> Heater {
    let spec = &heater.spec;
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "its range lies far inside the type"
    )]
    let full_ma =
        heater.full_current_ma.unwrap_or((spec.rated_w / mains.nominal_v * 1e3).round() as u32);
    Heater {
        rated_w: to_f32(spec.rated_w),
        mains_hz: mains.hz,
        conducting_ma: heater.conducting_ma,
        full_current_ma: inputs.heater_current.then_some(full_ma),
        auxiliary_contact: inputs.auxiliary_contact,
        counts_crossings: inputs.mains_crossings,
        stored_heat: StoredHeat {
            element_j_per_k: to_f32(spec.element_kg * spec.heat_capacity_j_kg_k),
            element_w_per_k4: to_f32(spec.area_m2 * spec.emissivity * STEFAN_BOLTZMANN),
            muffle_j_per_k: to_f32(chamber.muffle_kg * COLD_MUFFLE_J_KG_K),
        },
        feed_forward,
    }
}
