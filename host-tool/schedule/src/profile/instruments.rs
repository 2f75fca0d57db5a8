//! Converts `[control_sensor]`, `[limit_sensor]` and `[vacuum]`.

use saggar_core::furnace::{SensorData, VacuumSystem};
use saggar_plant::spec::{PumpSpec, SensorSpec};

use crate::document::{KeyDiagnostics, Section as _};
use crate::keys::profile as keys;

pub(super) fn sensor(keys: &keys::Sensor) -> Option<SensorSpec> {
    let keys = keys.with_defaults();
    Some(SensorSpec {
        kind: keys.r#type?,
        element_view: keys.element_view_percent? * 0.01,
        lag_s: keys.lag_second?,
        noise_uv: keys.noise_microvolt?,
        step_uv: keys.step_microvolt?,
        offset_k: keys.offset_kelvin?,
        tolerance_k: keys.tolerance_kelvin?,
    })
}

/// The sensor as the controller knows it.
#[expect(clippy::cast_possible_truncation, reason = "its range lies far inside the type")]
pub(super) fn core_sensor(keys: &keys::Sensor) -> Option<SensorData> {
    let keys = keys.with_defaults();
    let correction_mk = (keys.correction_kelvin? * 1e3).round() as i32;
    Some(SensorData { kind: keys.r#type?, correction_mk })
}

/// The pump. A profile gives the leak as a technician measures it, as a rise of pressure in the shut
/// chamber, so the conversion needs the chamber's volume.
pub(super) fn vacuum(
    keys: &keys::Vacuum,
    volume_m3: Option<f64>,
    notes: KeyDiagnostics<'_>,
) -> Option<(PumpSpec, VacuumSystem)> {
    let (ultimate, lowest) = (keys.ultimate_hectopascal, keys.lowest_hectopascal);
    if let (Some(ultimate), Some(lowest)) = (ultimate, lowest)
        && lowest <= ultimate
    {
        notes.at_value(
            "vacuum.lowest_hectopascal",
            format!(
                "a programme could ask for {lowest} hPa, but the pump only reaches {ultimate} hPa"
            ),
            "leave a margin for leaks: about one and a half times `ultimate_hectopascal`",
        );
    }
    let pump = PumpSpec {
        speed_m3_s: keys.litre_per_minute? / 60e3,
        ultimate_pa: ultimate? * 1e2,
        leak_pa_m3_s: keys.leak_hectopascal_per_minute? * 1e2 / 60.0 * volume_m3?,
        vent_s: keys.vent_second?,
        gauge_noise_pa: keys.gauge_noise_hectopascal? * 1e2,
    };
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "its range lies far inside the type"
    )]
    let vacuum = VacuumSystem { pressure_min_pa: (lowest? * 1e2).round() as u32 };
    Some((pump, vacuum))
}
