//! Assessment of the soaks of a firing: each soak is assessed from the arrival at its setpoint.

use saggar_bench::FiringResult;
use saggar_core::sequencer::Ending;
use saggar_verdict::{Outcome, Subject};

use super::{FiringOptions, bench_with, finding, schedule};

/// An excess of the feed-forward at low temperatures (W) with which the firing overshoots: with more, the
/// stored heat alone would carry the reading so far that the controller takes it for a lagging sensor.
const EXCESS_W: f32 = 300.0;

/// Fires a bare body through these stages.
fn fire_bare(stages: &str) -> FiringResult {
    fire_with_excess_feed_forward(stages, 0.0)
}

/// Fires a bare body with a feed-forward that is `watt` too high at low temperatures, so that any
/// controller overshoots there.
fn fire_with_excess_feed_forward(stages: &str, watt: f32) -> FiringResult {
    let text = format!(
        "name = \"Soaks\"\nfurnace = \"../furnaces/lift-vacuum.toml\"\n\
         [work]\nbody = \"alumina\"\nwall_millimetre = 0.5\narea_square_millimetre = 220\n{stages}"
    );
    let plan = schedule(&text);
    let mut device = plan.profile.furnace.clone();
    let low = device.heater.feed_forward.iter_mut().filter(|point| point.at.get() < 250.0);
    low.for_each(|point| {
        point.hold_w += watt;
        // As much difference of the channels for a watt as before, or the channels would disagree.
        point.limit_above_control_k = 3.4 / 25.0 * point.hold_w;
    });
    bench_with(&plan, &plan.profile.spec, &device, &FiringOptions::default())
        .run_to_end(&plan.work)
}

fn ramp(to_celsius: f64, rate: f64) -> String {
    format!("[[stage]]\nramp = {{ to_celsius = {to_celsius}, kelvin_per_minute = {rate} }}\n")
}

fn soak(minutes: f64, band: f64) -> String {
    format!("[[stage]]\nsoak = {{ minutes = {minutes}, band_kelvin = {band} }}\n")
}

/// Maximum of the sensor above a temperature in these steps (K), from the trace.
fn highest(fired: &FiringResult, steps: &[u8], celsius: f64) -> f64 {
    let rows = fired.trace.rows.iter();
    let rows = rows.filter(|row| row.measured.step.is_some_and(|step| steps.contains(&step)));
    rows.filter_map(|row| row.measured.sensor_c).fold(f64::MIN, f64::max) - celsius
}

#[test]
fn a_low_soak_that_overshoots_fails_though_the_hottest_does_not() {
    let stages = ramp(40.0, 5.0) + &soak(1.0, 3.0) + &ramp(400.0, 10.0) + &soak(2.0, 5.0);
    let fired = fire_with_excess_feed_forward(&stages, EXCESS_W);
    let (low_k, hot_k) = (highest(&fired, &[0, 1], 40.0), highest(&fired, &[2, 3], 400.0));
    assert!(low_k > 10.0 && hot_k < 10.0, "{low_k} K, {hot_k} K by the trace");
    let found = finding(&fired.verdict, is!(Overshoot));
    assert_eq!((found.outcome, found.step), (Outcome::Fail, Some(1)), "{found:?}");
    assert!((found.measured - low_k).abs() < 1e-9, "{found:?}, {low_k} K by the trace");
}

#[test]
fn an_overshoot_before_the_setpoint_reaches_the_soak_counts() {
    let fired = fire_with_excess_feed_forward(
        &(ramp(60.0, 5.0) + &soak(5.0, 45.0) + &ramp(200.0, 10.0)),
        400.0,
    );
    let (on_the_way_k, over_k) = (highest(&fired, &[0], 60.0), highest(&fired, &[0, 1], 60.0));
    assert!(on_the_way_k > 0.0, "the sensor arrives with the setpoint: {on_the_way_k} K");
    let found = finding(&fired.verdict, is!(Overshoot));
    assert!((found.measured - over_k).abs() < 1e-9 && found.step == Some(1), "{found:?}");
    // The band is wider than 10 K, so it is the limit of the overshoot.
    assert!((found.limit - 45.0).abs() < 1e-9, "{found:?}");
}

#[test]
fn a_soak_reached_from_above_has_no_overshoot_on_the_approach() {
    let fired = fire_bare(&(ramp(500.0, 40.0) + &ramp(400.0, 10.0) + &soak(10.0, 5.0)));
    assert_eq!(fired.ending, Some(Ending::Completed));
    assert!(highest(&fired, &[1], 400.0) > 90.0, "the way began far above");
    let found = finding(&fired.verdict, is!(Overshoot));
    assert!(found.measured < 10.0 && found.outcome == Outcome::Pass, "{found:?}");
}

#[test]
fn a_peak_without_a_soak_is_assessed_as_well() {
    let fired = fire_bare(&(ramp(120.0, 5.0) + &soak(5.0, 10.0) + &ramp(300.0, 40.0)));
    let found = finding(&fired.verdict, is!(Overshoot));
    let soaked_k = highest(&fired, &[0, 1], 120.0);
    let peak_k = highest(&fired, &[2], 300.0);
    assert!((found.measured - soaked_k.max(peak_k)).abs() < 1e-9, "{found:?}");
}

#[test]
fn the_band_of_every_soak_is_assessed() {
    let soak = |minutes: f64, band: f64| {
        format!(
            "[[stage]]\nsoak = {{ minutes = {minutes}, band_kelvin = {band}, \
             patience_minutes = 60 }}\n"
        )
    };
    let stages = ramp(90.0, 5.0) + &soak(2.0, 8.0) + &ramp(400.0, 10.0) + &soak(5.0, 5.0);
    let fired = fire_with_excess_feed_forward(&stages, EXCESS_W);
    let over_k = highest(&fired, &[1], 90.0);
    assert!(over_k > 8.0, "{over_k} K by the trace");
    let found = finding(&fired.verdict, is!(SoakBand));
    assert_eq!((found.outcome, found.step), (Outcome::Fail, Some(1)), "{found:?}");
    assert!((found.measured - over_k).abs() < 1e-9 && (found.limit - 8.0).abs() < 1e-9);
    // The infiltration, and the remark on sensor and piece, refer to the hottest soak.
    assert_eq!(fired.ending, Some(Ending::Completed));
    assert_eq!(finding(&fired.verdict, is!(SensorToPiece)).step, Some(3));
}

#[test]
fn a_second_soak_at_a_setpoint_is_not_charged_with_the_overshoot_of_the_approach() {
    let fired = fire_with_excess_feed_forward(
        &(ramp(90.0, 5.0) + &soak(30.0, 20.0) + &soak(10.0, 5.0)),
        EXCESS_W,
    );
    let (first_k, second_k) = (highest(&fired, &[0, 1], 90.0), highest(&fired, &[2], 90.0));
    assert!(first_k > 10.0 && second_k < 5.0, "{first_k} K, {second_k} K by the trace");
    let found = finding(&fired.verdict, is!(Overshoot));
    assert!((found.measured - first_k).abs() < 1e-9 && found.step == Some(1), "{found:?}");
}

#[test]
fn a_lost_band_ends_the_firing_in_its_soak() {
    let lose = |minutes| {
        let soak = format!(
            "[[stage]]\nsoak = {{ minutes = {minutes}, band_kelvin = 3, patience_minutes = 1 }}\n"
        );
        let stages = ramp(40.0, 5.0) + &soak + &ramp(400.0, 10.0) + &self::soak(2.0, 5.0);
        fire_with_excess_feed_forward(&stages, EXCESS_W)
    };
    let fired = lose(20.0);
    assert_eq!(fired.ending, Some(Ending::BandLost));
    let ending = finding(&fired.verdict, is!(Ending));
    let Subject::Ending { lost: Some(lost), .. } = ending.subject else { panic!("{ending:?}") };
    let over_k = highest(&fired, &[1], 40.0);
    assert!(
        (lost.excursion.deviation_k - over_k).abs() < 1e-9,
        "{lost:?}, {over_k} K by the trace"
    );
    assert_eq!(ending.step, Some(1));
    assert_eq!(finding(&fired.verdict, is!(SoakBand)).step, Some(1));
    // The hottest soak never began, so there is no finding about sensor and piece in it.
    assert!(fired.verdict.find(is!(SensorToPiece)).is_none());
}
