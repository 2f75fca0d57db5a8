//! What measures, and what pumps: `[control_sensor]`, `[limit_sensor]`, `[vacuum]`.

use saggar_core::furnace::Vacuum;
use saggar_core::sensors::ThermocoupleType;
use saggar_plant::spec::{PumpSpec, SensorSpec};

use crate::document::Table;

/// The letters of the standard.
const TYPES: [(&str, ThermocoupleType); 5] = [
    ("S", ThermocoupleType::S),
    ("R", ThermocoupleType::R),
    ("B", ThermocoupleType::B),
    ("K", ThermocoupleType::K),
    ("N", ThermocoupleType::N),
];

pub(super) fn sensor(table: Table<'_>) -> Option<SensorSpec> {
    let kind = table.choice("type", &TYPES);
    let view = table.number("element_view_percent", 0.0..=100.0);
    let lag = table.number("lag_second", 0.1..=120.0);
    let noise = table.number("noise_microvolt", 0.0..=100.0);
    let step = table.number("step_microvolt", 0.0..=100.0);
    let offset = table.number_or("offset_kelvin", -50.0..=50.0, 0.0);
    let tolerance = table.number("tolerance_kelvin", 0.1..=30.0);
    table.finish();
    Some(SensorSpec {
        kind: kind?,
        element_view: view? * 0.01,
        lag_s: lag?,
        noise_uv: noise?,
        step_uv: step?,
        offset_k: offset,
        tolerance_k: tolerance?,
    })
}

/// The pump. The leak is given as what a technician can measure, the rise of pressure in the
/// shut chamber, so it takes the chamber's volume to know it.
pub(super) fn vacuum(table: Table<'_>, volume_m3: Option<f64>) -> Option<(PumpSpec, Vacuum)> {
    let speed = table.number("litre_per_minute", 0.5..=500.0);
    let ultimate = table.number("ultimate_hectopascal", 0.01..=500.0);
    let lowest = table.number("lowest_hectopascal", 0.1..=900.0);
    let rise = table.number("leak_hectopascal_per_minute", 0.0..=100.0);
    let vent = table.number("vent_second", 0.1..=120.0);
    let noise = table.number("gauge_noise_hectopascal", 0.0..=20.0);
    if let (Some(ultimate), Some(lowest)) = (ultimate, lowest)
        && lowest <= ultimate
    {
        table.note(
            "lowest_hectopascal",
            format!(
                "a programme could ask for {lowest} hPa, and the pump ends at {ultimate} hPa"
            ),
            "allow a programme no less than the pump reaches with a leak: half as much again",
        );
    }
    table.finish();
    let pump = PumpSpec {
        speed_m3_s: speed? / 60e3,
        ultimate_pa: ultimate? * 1e2,
        leak_pa_m3_s: rise? * 1e2 / 60.0 * volume_m3?,
        vent_s: vent?,
        gauge_noise_pa: noise? * 1e2,
    };
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "its range lies far inside the type"
    )]
    let vacuum = Vacuum { lowest_pa: (lowest? * 1e2).round() as u32 };
    Some((pump, vacuum))
}
