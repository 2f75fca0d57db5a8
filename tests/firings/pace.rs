//! A ramp given in minutes takes that time after any preceding stage.

use saggar_core::programme::Action;
use saggar_schedule::schedule::{ProgrammeSummary, late_ramps};
use saggar_verdict::Subject;
use saggar_verdict::format::Scale;

use super::{FiringOptions, example, finding, fire, schedule};

/// Work that takes little time to rehearse.
const HEAD: &str = r#"name = "Pace"
furnace = "../furnaces/lift-vacuum.toml"
[work]
body = "alumina"
wall_millimetre = 0.5
area_square_millimetre = 220
"#;

/// Additional time of a ramp for its two rounded corners, for the stored heat of the fastest of these, and
/// for the resolution of ticks and rows (s).
const CORNERS_S: f64 = 65.0;

/// Asserts that a ramp to 600 °C in 10 min after the stages `before` has this rate (K/min) and takes that
/// time.
fn assert_takes_ten_minutes(before: &[&str], rate: f64) {
    let mut text = HEAD.to_owned();
    for stage in before.iter().chain(&["ramp = { to_celsius = 600, minutes = 10 }"]) {
        text += &format!("[[stage]]\n{stage}\n");
    }
    let plan = schedule(&text);
    let Some(Action::Ramp { rate_mk_per_min, .. }) =
        plan.image.steps().last().map(|step| step.action)
    else {
        panic!("{before:?}: the last step is a ramp");
    };
    assert!((f64::from(rate_mk_per_min) / 1e3 - rate).abs() < 1e-9, "{before:?}");
    let shorter = |stages: &[&str]| {
        let text = stages
            .iter()
            .fold(HEAD.to_owned(), |text, stage| text + &format!("[[stage]]\n{stage}\n"));
        ProgrammeSummary::of(&schedule(&text).image).shortest_seconds
    };
    let planned = plan.summary.shortest_seconds - shorter(before);
    assert!((planned - 600.0).abs() < 0.1, "{before:?}: planned {planned} s");
    let fired = fire(&plan, &FiringOptions::default());
    let spans = fired.trace.spans();
    let span = spans.last().expect("a ramp ran");
    let took = span.to_s - span.from_s;
    assert!((600.0..600.0 + CORNERS_S).contains(&took), "{before:?}: took {took} s");
}

#[test]
fn a_ramp_after_a_ramp_takes_its_time() {
    assert_takes_ten_minutes(&["ramp = { to_celsius = 300, kelvin_per_minute = 60 }"], 30.0);
}

/// The chamber was never above 450 °C, so the cool stage does not change the setpoint.
#[test]
fn a_ramp_after_a_cool_stage_already_fulfilled_takes_its_time() {
    let before = [
        "ramp = { to_celsius = 300, kelvin_per_minute = 60 }",
        "cool = { below_celsius = 450 }",
    ];
    assert_takes_ten_minutes(&before, 30.0);
}

/// The chamber cools to 450 °C, where the ramp begins.
#[test]
fn a_ramp_after_a_cool_stage_from_above_takes_its_time() {
    let before = [
        "ramp = { to_celsius = 500, kelvin_per_minute = 60 }",
        "cool = { below_celsius = 450 }",
    ];
    assert_takes_ten_minutes(&before, 15.0);
}

/// A cold furnace is below 450 °C before it starts.
#[test]
fn a_ramp_after_a_cool_stage_at_the_start_takes_its_time() {
    assert_takes_ten_minutes(&["cool = { below_celsius = 450 }"], 57.5);
}

/// `check` plans with the core's own setpoint; the furnace follows it.
#[test]
fn a_low_ramp_arrives_when_check_says() {
    for (furnace, to_c, rate) in [
        ("lift-vacuum", 40.0, 4.0),
        ("lift-vacuum", 60.0, 20.0),
        ("lift-vacuum", 150.0, 20.0),
        ("teaching-door", 60.0, 10.0),
        ("teaching-door", 110.0, 4.0),
    ] {
        let text = HEAD.replace("lift-vacuum", furnace)
            + &format!(
                "[[stage]]\nramp = {{ to_celsius = {to_c}, kelvin_per_minute = {rate} }}\n"
            );
        let plan = schedule(&text);
        let planned = late_ramps(&plan.image, &plan.profile.furnace.heater);
        let fired = fire(&plan, &FiringOptions::default());
        let found = finding(&fired.verdict, is!(Duration));
        let Subject::Duration { latest: Some(took) } = found.subject else {
            panic!("{furnace}, {to_c} °C: not late: {found:?}");
        };
        let said = found.sentence(Scale::Celsius);
        assert!(said.contains(". In step 1 the ramp took "), "{said}");
        let [planned] = planned.as_slice() else { panic!("{planned:?}") };
        let ratio = took.takes_s / planned.takes_s;
        println!("{furnace}, {to_c} °C, {rate} K/min: took {ratio:.3} of the plan");
        assert!((0.9..1.1).contains(&ratio), "{took:?}, planned {planned:?}");
    }
}

#[test]
fn a_hot_ramp_is_on_time() {
    let plan = example("melt-back");
    assert_eq!(late_ramps(&plan.image, &plan.profile.furnace.heater), []);
    let fired = fire(&plan, &FiringOptions::default());
    assert_eq!(
        finding(&fired.verdict, is!(Duration)).subject,
        Subject::Duration { latest: None }
    );
}
