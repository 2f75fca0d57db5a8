//! Converts `[heater]` and `[mains]`.

use saggar_core::furnace::{FeedForward, Heater, TABLE_POINTS_MAX};
use saggar_plant::spec::{HeaterSpec, MainsSpec};

use super::limits::to_f32;
use crate::document::{KeyDiagnostics, Section as _};
use crate::keys::profile as keys;

/// The heater for the simulation, and the value that only the controller needs.
pub(super) struct HeaterParts {
    /// Data for the simulation.
    pub(super) spec: HeaterSpec,
    /// Smallest current that counts as conducting (mA).
    pub(super) conducting_ma: u32,
}

pub(super) fn heater(keys: &keys::Heater) -> Option<HeaterParts> {
    let keys = keys.with_defaults();
    Some(HeaterParts {
        conducting_ma: keys.conducting_milliampere?,
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

/// The heater for the controller.
pub(super) fn core_heater(
    heater: &HeaterParts,
    mains: &MainsSpec,
    feed_forward: heapless::Vec<FeedForward, TABLE_POINTS_MAX>,
) -> Heater {
    Heater {
        rated_w: to_f32(heater.spec.rated_w),
        mains_hz: mains.hz,
        conducting_ma: heater.conducting_ma,
        feed_forward,
    }
}
