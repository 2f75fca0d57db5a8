//! How well the furnace of the book is held: the project's own goal, on its own furnace, with
//! mains and feed-forward as wrong as they may be.

use saggar_core::sequencer::Ending;

use super::{How, fire, schedule};

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

/// Largest overshoot of the sensor (K).
const OVERSHOOT_MAX_K: f64 = 3.0;

/// Largest distance from the setpoint in the soak (K).
const SOAK_MAX_K: f64 = 1.5;

/// What one firing showed.
struct Shown {
    overshoot_k: f64,
    soak_k: f64,
}

fn show(mains: f64, feed_forward: f32) -> Shown {
    let plan = schedule(FAST);
    let fired = fire(&plan, &How { mains, feed_forward, ..How::default() });
    assert_eq!(fired.ending, Some(Ending::Completed), "mains {mains}, feed {feed_forward}");
    let away = |step: u8| {
        let rows = fired.trace.rows.iter().filter(move |row| row.measured.step == Some(step));
        rows.filter_map(|row| row.measured.sensor_c).map(|celsius| celsius - 1120.0)
    };
    let highest = away(0).chain(away(1)).fold(f64::MIN, f64::max);
    Shown { overshoot_k: highest.max(0.0), soak_k: away(1).map(f64::abs).fold(0.0, f64::max) }
}

#[test]
fn fast_to_1120_and_held_with_wrong_mains_and_wrong_feed_forward() {
    let mut bad = Vec::new();
    for mains in [0.9, 1.0, 1.1] {
        for feed_forward in [0.8, 1.0, 1.2] {
            let Shown { overshoot_k, soak_k } = show(mains, feed_forward);
            println!(
                "mains {mains:.1} feed-forward {feed_forward:.1}: overshoot {overshoot_k:.2} K, \
                 soak within {soak_k:.2} K"
            );
            if !(overshoot_k < OVERSHOOT_MAX_K && soak_k <= SOAK_MAX_K) {
                bad.push((mains, feed_forward));
            }
        }
    }
    assert!(bad.is_empty(), "not held at {bad:?}");
}

#[test]
fn the_sensor_follows_the_ramp() {
    let plan = schedule(FAST);
    let fired = fire(&plan, &How::default());
    let rows = fired.trace.rows.iter().filter(|row| row.measured.step == Some(0));
    // From 200 °C on: below, a cold element has to come up first.
    let lag = rows
        .filter_map(|row| Some((row.measured.setpoint_c?, row.measured.sensor_c?)))
        .filter(|(setpoint, _)| *setpoint > 200.0)
        .map(|(setpoint, sensor)| (setpoint - sensor).abs())
        .fold(0.0, f64::max);
    println!("largest distance on the ramp {lag:.2} K");
    assert!(lag < 6.5, "{lag} K behind the ramp");
}
