//! Wet coats in whole firings: the effects of a pump and of a fast ramp.

use saggar_verdict::Outcome;
use saggar_verdict::format::Scale;

use super::{FiringOptions, example, fire, modelled, schedule};

/// Fires a wet coat of this thickness (mm) through these stages.
fn coated(thick_mm: f64, stages: &str) -> saggar_bench::FiringResult {
    let text = format!(
        "name = \"Drying\"\nfurnace = \"../furnaces/lift-vacuum.toml\"\n\
         [work]\nbody = \"alumina\"\nwall_millimetre = 0.5\n\
         area_square_millimetre = 220\nmoisture_percent = 1\n\
         [work.coat]\nglass = \"lanthanum-glass\"\nthickness_millimetre = {thick_mm}\n{stages}"
    );
    fire(&schedule(&text), &FiringOptions::default())
}

/// Dries at `soak_c` for this many minutes, then pumps at that temperature.
fn pumped(soak_c: f64, minutes: f64) -> saggar_bench::FiringResult {
    let from_c = soak_c - 8.0;
    coated(
        0.5,
        &format!(
            "[[stage]]\nramp = {{ to_celsius = {soak_c}, kelvin_per_minute = 5 }}\n\
             [[stage]]\nsoak = {{ minutes = {minutes}, band_kelvin = 10 }}\n\
             [[stage]]\nvacuum = {{ from_celsius = {from_c}, to_hectopascal = 50, \
             within_minutes = 3, until_end_of = \"end\" }}\n\
             [[stage]]\nname = \"end\"\nsoak = {{ minutes = 5, band_kelvin = 10 }}\n"
        ),
    )
}

/// Ramps a wet coat from cold to 350 °C in air.
fn ramped(thick_mm: f64, rate: f64) -> saggar_bench::FiringResult {
    coated(
        thick_mm,
        &format!(
            "[[stage]]\nramp = {{ to_celsius = 350, kelvin_per_minute = {rate} }}\n\
             [[stage]]\nsoak = {{ minutes = 5, band_kelvin = 10 }}\n"
        ),
    )
}

#[track_caller]
fn boiling(fired: &saggar_bench::FiringResult) -> (Outcome, String) {
    let finding = super::finding(&fired.verdict, is!(Boiling));
    (finding.outcome, finding.line(Scale::Celsius))
}

/// Water left (percent) in the last row before the pump ran.
fn left_at_pump(fired: &saggar_bench::FiringResult) -> f64 {
    let rows = &fired.trace.rows;
    let air = rows.iter().take_while(|row| modelled(row).pressure_pa > 100_000.0);
    air.last().map_or(100.0, |row| 100.0 * modelled(row).water_left)
}

#[test]
fn a_coat_under_the_pump_lifts_while_it_is_wet() {
    for (soak_c, minutes) in
        [(30.0, 1.0), (60.0, 1.0), (60.0, 12.0), (75.0, 0.1), (75.0, 6.0), (90.0, 3.0)]
    {
        let fired = pumped(soak_c, minutes);
        let left = left_at_pump(&fired);
        let (outcome, line) = boiling(&fired);
        assert!(left > 5.0, "{soak_c} °C, {minutes} min: {left} %");
        assert_eq!(outcome, Outcome::Fail, "{soak_c} °C, {minutes} min, {left} %: {line}");
        assert!(line.starts_with("FAIL No boiling: no, "), "{line}");
        assert!(line.ends_with("pump only when dry."), "{line}");
    }
}

#[test]
fn a_dry_coat_does_not_lift_under_the_pump() {
    let fired = pumped(90.0, 24.0);
    assert!(left_at_pump(&fired) < 1.0);
    assert_eq!(boiling(&fired).0, Outcome::Pass);
}

#[test]
fn a_wet_piece_under_the_pump_cools_to_just_below_the_boiling_point() {
    // The ultimate pressure of the pump is 15 hPa, where water boils at 13 °C. The chamber's gas is
    // then mostly vapour, so the piece does not cool far below that.
    for soak_c in [30.0, 60.0, 75.0] {
        let fired = pumped(soak_c, 1.0);
        let coldest =
            fired.trace.rows.iter().map(|row| modelled(row).piece_c).fold(f64::MAX, f64::min);
        assert!((-5.0..10.0).contains(&coldest), "{soak_c} °C: {coldest} °C");
    }
}

#[test]
fn a_thick_coat_ramped_too_fast_froths_in_air() {
    let (outcome, line) = boiling(&ramped(1.5, 40.0));
    assert_eq!(outcome, Outcome::Fail, "{line}");
    assert!(line.ends_with("Dry it longer below 96 °C, or heat it more slowly up to there."));
    assert!(!line.contains("pump") && !line.contains("vacuum"), "{line}");
    assert_eq!(boiling(&ramped(1.5, 5.0)).0, Outcome::Pass);
    assert_eq!(boiling(&ramped(0.5, 10.0)).0, Outcome::Pass);
}

#[test]
fn a_piece_hotter_than_its_programme_fails_even_if_the_sensor_is_not() {
    // Both sensors wrong alike: nothing in the furnace can show it.
    let mut plan = example("infiltrate-alumina");
    plan.profile.spec.control_sensor.offset_k = -30.0;
    plan.profile.spec.limit_sensor.offset_k = -30.0;
    let fired = fire(&plan, &FiringOptions::default());
    let outcome = |is| super::finding(&fired.verdict, is).outcome;
    assert_eq!(outcome(is!(Overshoot)), Outcome::Pass);
    assert_eq!(outcome(is!(SoakBand)), Outcome::Pass);
    assert_eq!(outcome(is!(PieceOverSetpoint)), Outcome::Fail);
}
