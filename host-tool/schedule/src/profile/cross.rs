//! Checks the sections of a profile against each other.

use saggar_core::furnace::{Closure, FeedForward, Limits, TABLE_POINTS_MAX};
use saggar_core::sensors::{TYPE_B_FLOOR_C, ThermocoupleType};
use saggar_plant::spec::{ChamberSpec, MainsSpec, SensorSpec, TableSpec};
use saggar_verdict::format::one_decimal;

use super::chamber::InsulationParts;
use super::power::HeaterParts;
use crate::document::KeyDiagnostics;

/// The range of a sensor must extend this far above the furnace's limit (K), so that it can show that the
/// limit is exceeded.
const SENSOR_ROOM_K: f64 = 20.0;

pub(super) fn sensors(
    notes: KeyDiagnostics<'_>,
    control: Option<&SensorSpec>,
    limit: Option<&SensorSpec>,
    limits: Option<&Limits>,
) {
    if control.is_some_and(|sensor| sensor.kind == ThermocoupleType::B) {
        notes.at_value(
"control_sensor.type",
            format!(
                "a type B cannot be read below {TYPE_B_FLOOR_C} °C, so a cold start would be blind"
            ),
            "control with type S, R, K or N; a type B may be the limit sensor",
        );
    }
    let Some(limits) = limits else { return };
    let furnace_max = f64::from(limits.furnace_max.get());
    for (section, sensor) in [("control_sensor", control), ("limit_sensor", limit)] {
        let Some(kind) = sensor.map(|sensor| sensor.kind) else { continue };
        // The end of the type's reference function.
        let (_, hottest_c) = kind.range_c();
        let highest = hottest_c - SENSOR_ROOM_K;
        if furnace_max > highest {
            notes.at_value(
                &format!("{section}.type"),
                format!(
                    "a type {} ends at {hottest_c} °C, too low for a furnace limit of \
                     {furnace_max} °C",
                    kind.letter(),
                ),
                format!("choose another type, or lower `furnace_max_celsius` to {highest}"),
            );
        }
    }
}

pub(super) fn insulation(
    notes: KeyDiagnostics<'_>,
    insulation: Option<&InsulationParts>,
    limits: Option<&Limits>,
) {
    let (Some(insulation), Some(limits)) = (insulation, limits) else { return };
    let furnace_max = f64::from(limits.furnace_max.get());
    if furnace_max > insulation.rated_c {
        notes.at_value(
            "limits.furnace_max_celsius",
            format!(
                "{furnace_max} °C is above the {} °C that the insulation is rated for",
                insulation.rated_c
            ),
            "lower it, or correct `rated_celsius` in [insulation]",
        );
    }
}

/// The table stands in the muffle.
pub(super) fn table(
    notes: KeyDiagnostics<'_>,
    table: Option<&TableSpec>,
    chamber: Option<&ChamberSpec>,
) {
    let (Some(table), Some(chamber)) = (table, chamber) else { return };
    let [own, muffle] = [table.radius_m, chamber.muffle_radius_m].map(|radius| radius * 1e3);
    if own > muffle {
        notes.at_value(
            "table.radius_millimetre",
            format!(
                "a table of {} mm does not fit into a muffle of {} mm",
                one_decimal(own),
                one_decimal(muffle)
            ),
            "give the radius of what stands inside, or correct `muffle_radius_millimetre` in \
             [chamber]",
        );
    }
}

pub(super) fn power(
    notes: KeyDiagnostics<'_>,
    heater: Option<&HeaterParts>,
    mains: Option<&MainsSpec>,
    feed_forward: Option<&heapless::Vec<FeedForward, TABLE_POINTS_MAX>>,
) {
    let Some(heater) = heater else { return };
    let rated_w = heater.spec.rated_w;
    if let Some(mains) = mains {
        let current_ma =
            heater.full_current_ma.map_or(rated_w / mains.nominal_v * 1e3, f64::from);
        if f64::from(heater.conducting_ma) > 0.5 * current_ma {
            notes.at_value(
                "heater.conducting_milliampere",
                format!(
                    "{} mA is more than half of the heater's own {current_ma:.0} mA",
                    heater.conducting_ma
                ),
                "it is the current above which the heater counts as on: a tenth of its own is enough",
            );
        }
    }
    let hungry =
        feed_forward.into_iter().flatten().find(|point| f64::from(point.hold_w) > rated_w);
    if let Some(point) = hungry {
        let (at, needed_w) = (point.at.get(), point.hold_w);
        notes.at_value(
            "heater.rated_watt",
            format!("{rated_w} W is less than the {needed_w} W that hold {at} °C by [[feed_forward]]"),
            "correct `hold_watt` there, or `rated_watt` here",
        );
    }
}

pub(super) fn closure(notes: KeyDiagnostics<'_>, closure: Option<Closure>, has_pump: bool) {
    if has_pump && closure == Some(Closure::Door) {
        notes.at_value(
            "closure",
            "a door with a pump is not supported: nothing would hold it shut",
            "write closure = \"lift\", or remove [vacuum]",
        );
    }
}
