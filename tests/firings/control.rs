//! Quality of control on the example furnace: the project's own goal, with the largest permitted errors
//! of mains voltage and feed-forward.

use saggar_core::sequencer::Ending;

use super::{FiringOptions, fire, schedule};

const FAST: &str = r#"
name = "Fast to 1120"
furnace = "../furnaces/lift-vacuum.toml"

[work]
body = "alumina"
count = 1
wall_millimetre = 0.5
area_square_millimetre = 220

[[stage]]
ramp = { to_celsius = 1120, kelvin_per_minute = 50 }

[[stage]]
soak = { minutes = 30, band_kelvin = 5 }
"#;

/// Limit of the sensor's overshoot (K).
const OVERSHOOT_MAX_K: f64 = 3.0;

/// Limit of the deviation from the setpoint in the soak (K).
const SOAK_MAX_K: f64 = 1.5;

/// Deviations in one firing.
struct ControlQuality {
    overshoot_k: f64,
    soak_k: f64,
}

fn control_quality(mains: f64, feed_forward: f32) -> ControlQuality {
    let plan = schedule(FAST);
    let fired = fire(&plan, &FiringOptions { mains, feed_forward, ..FiringOptions::default() });
    assert_eq!(fired.ending, Some(Ending::Completed), "mains {mains}, feed {feed_forward}");
    let deviations = |step: u8| {
        let rows = fired.trace.rows.iter().filter(move |row| row.measured.step == Some(step));
        rows.filter_map(|row| row.measured.sensor_c).map(|celsius| celsius - 1120.0)
    };
    let highest = deviations(0).chain(deviations(1)).fold(f64::MIN, f64::max);
    ControlQuality {
        overshoot_k: highest.max(0.0),
        soak_k: deviations(1).map(f64::abs).fold(0.0, f64::max),
    }
}

#[test]
fn control_stays_within_limits_with_wrong_mains_and_feed_forward() {
    let mut bad = Vec::new();
    for mains in [0.9, 1.0, 1.1] {
        for feed_forward in [0.8, 1.0, 1.2] {
            let ControlQuality { overshoot_k, soak_k } = control_quality(mains, feed_forward);
            println!(
                "mains {mains:.1} feed-forward {feed_forward:.1}: overshoot {overshoot_k:.2} K, \
                 soak within {soak_k:.2} K"
            );
            if !(overshoot_k < OVERSHOOT_MAX_K && soak_k <= SOAK_MAX_K) {
                bad.push((mains, feed_forward));
            }
        }
    }
    assert!(bad.is_empty(), "outside the limits at (mains, feed-forward) {bad:?}");
}

#[test]
fn the_sensor_follows_the_ramp() {
    let plan = schedule(FAST);
    let fired = fire(&plan, &FiringOptions::default());
    let rows = fired.trace.rows.iter().filter(|row| row.measured.step == Some(0));
    // Only above 200 °C: below, the cold element must warm up first.
    let lag = rows
        .filter_map(|row| Some((row.measured.setpoint_c?, row.measured.sensor_c?)))
        .filter(|(setpoint, _)| *setpoint > 200.0)
        .map(|(setpoint, sensor)| (setpoint - sensor).abs())
        .fold(0.0, f64::max);
    println!("maximum deviation on the ramp {lag:.2} K");
    assert!(lag < 6.5, "{lag} K behind the ramp");
}
