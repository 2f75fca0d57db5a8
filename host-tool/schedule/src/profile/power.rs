//! What heats: `[heater]` and `[mains]`.

use saggar_core::furnace::{FeedForward, Heater, TABLE_POINTS_MAX};
use saggar_plant::spec::{HeaterSpec, MainsSpec};

use super::limits::single;
use crate::document::Table;

/// The heater for the simulation, and what only the controller needs.
pub(super) struct HeaterRead {
    /// What the simulation builds.
    pub(super) spec: HeaterSpec,
    /// Smallest current that counts as conducting (mA).
    pub(super) conducting_ma: u32,
}

pub(super) fn heater(table: Table<'_>) -> Option<HeaterRead> {
    let rated = table.number("rated_watt", 50.0..=20_000.0);
    let conducting = table.whole_or("conducting_milliampere", 10..=50_000, 200);
    let mass = table.number("element_gram", 1.0..=20_000.0);
    let heat = table.number("joule_per_kilogram_kelvin", 100.0..=2000.0);
    let area = table.number("area_square_centimetre", 1.0..=10_000.0);
    let emissivity = table.number("emissivity", 0.05..=1.0);
    table.finish();
    Some(HeaterRead {
        conducting_ma: conducting,
        spec: HeaterSpec {
            rated_w: rated?,
            element_kg: mass? * 1e-3,
            heat_capacity_j_kg_k: heat?,
            area_m2: area? * 1e-4,
            emissivity: emissivity?,
        },
    })
}

pub(super) fn mains(table: Table<'_>) -> Option<MainsSpec> {
    let nominal = table.number("nominal_volt", 24.0..=480.0);
    let actual = table.number_if("actual_volt", 12.0..=600.0);
    let hertz = table.whole_or("hertz", 50..=60, 50);
    if hertz != 50 && hertz != 60 {
        table.note("hertz", format!("`hertz` is {hertz}"), "allowed: 50 or 60");
    }
    table.finish();
    Some(MainsSpec {
        nominal_v: nominal?,
        actual_v: actual.or(nominal)?,
        hz: u8::try_from(hertz).ok()?,
    })
}

/// The heater as the controller sees it.
pub(super) fn core_heater(
    heater: &HeaterRead,
    mains: &MainsSpec,
    feed_forward: heapless::Vec<FeedForward, TABLE_POINTS_MAX>,
) -> Heater {
    Heater {
        rated_w: single(heater.spec.rated_w),
        mains_hz: mains.hz,
        conducting_ma: heater.conducting_ma,
        feed_forward,
    }
}
