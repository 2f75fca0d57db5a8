//! Melt-back: what passes, what fails, and what the model cannot tell.

use super::*;

/// An infiltrated coping, blasted to this roughness (µm), under 20 µm of skin.
fn blasted(roughness_um: f64) -> WorkSpec {
    let skin = CoatSpec {
        thickness_m: UncertainValue::relative(20e-6, 0.2),
        bare_rim_m: 2.0e-3,
        glass_share: 1.0,
        water_share: 0.0,
        glass: GlassSpec::named("lanthanum-glass").unwrap(),
    };
    let body = BodySpec::named("alumina-infiltrated").unwrap();
    let roughness_m = roughness_um * 1e-6;
    WorkSpec { infiltrated: true, roughness_m, coat: Some(skin), body, ..coated() }
}

fn found(work: &WorkSpec, soak_c: f64, soak_s: u32) -> Finding {
    verdict(work, soak_c, soak_s, ATMOSPHERE_PA).find(is!(MeltBack)).unwrap().clone()
}

#[test]
fn work_without_a_glass_fails_and_a_cold_soak_does() {
    let blind = WorkSpec { coat: None, ..blasted(4.0) };
    assert_eq!(found(&blind, 800.0, 300).outcome, Outcome::Fail);
    assert_eq!(found(&blasted(4.0), 650.0, 60).outcome, Outcome::Fail);
    assert!(verdict(&blasted(4.0), 800.0, 300, ATMOSPHERE_PA).passed());
}

#[test]
fn a_surface_levelled_many_times_over_is_not_known() {
    let hot = found(&blasted(8.0), 1000.0, 600);
    assert_eq!(hot.outcome, Outcome::NotKnown);
    let line = hot.line(Scale::Celsius);
    assert!(line.contains(",000 times over, so it cannot tell this firing from a "), "{line}");
    assert!(line.ends_with(" for 10 min, or after 1 min at 1000 °C."), "{line}");
    let Subject::MeltBack(MeltBackFinding::Indistinct { least, .. }) = hot.subject else {
        panic!("{hot:?}")
    };
    let (from_c, minutes) = least.as_long.unwrap();
    assert!((minutes - 10.0).abs() < 1e-9);
    // The ramps add a little, so one degree less may still do.
    assert_eq!(found(&blasted(8.0), from_c, 600).outcome, Outcome::Pass);
    assert_eq!(found(&blasted(8.0), from_c - 10.0, 600).outcome, Outcome::Fail);
}

#[test]
fn the_bound_is_a_hundred_times_the_flow_that_the_limit_needs() {
    let work = blasted(8.0);
    let times = |soak_s: u32| {
        let (piece, _) = fire(&work, 790.0, soak_s, ATMOSPHERE_PA);
        let needed = piece.melt_back.unwrap().needed_per_pa(1.0e-6);
        (piece.flow.unwrap().per_pa() / needed, found(&work, 790.0, soak_s).outcome)
    };
    let seconds = |wanted: f64| {
        let (short, long) = (times(600).0, times(1600).0);
        (600.0 + (wanted - short) * 1000.0 / (long - short)) as u32
    };
    let (below, above) = (times(seconds(99.0)), times(seconds(101.0)));
    assert!((98.0..100.0).contains(&below.0) && above.0 > 100.0, "{below:?} {above:?}");
    assert_eq!((below.1, above.1), (Outcome::Pass, Outcome::NotKnown));
}

#[test]
fn a_surface_that_was_smooth_before_needs_no_heat() {
    assert_eq!(found(&blasted(0.5), 1000.0, 600).outcome, Outcome::Pass);
}

#[test]
fn a_firing_without_a_soak_gets_a_time_alone() {
    let (piece, mut firing) = fire(&blasted(8.0), 1000.0, 600, ATMOSPHERE_PA);
    (firing.soaks, firing.hottest_soak) = (Vec::new(), None);
    let verdict = assess(&blasted(8.0), &[piece], &firing);
    let line = line_of(&verdict, is!(MeltBack));
    assert!(line.ends_with(" The limit is met after 1 min at 1000 °C."), "{line}");
}

#[test]
fn a_smoother_surface_does_not_become_not_known() {
    let soak_s = 900;
    assert_eq!(found(&blasted(8.0), 790.0, soak_s).outcome, Outcome::Pass);
    for roughness_um in [0.5, 0.9, 1.0, 1.000_001, 1.01, 2.0, 5.0, 7.99] {
        let smooth = found(&blasted(roughness_um), 790.0, soak_s);
        let line = smooth.line(Scale::Celsius);
        assert_eq!(smooth.outcome, Outcome::Pass, "{roughness_um} µm: {line}");
        assert!(!line.contains("NaN") && !line.contains("inf"), "{line}");
        assert_eq!(line.contains(" times over even for 8 µm."), roughness_um > 1.0, "{line}");
    }
    // What is not known of a blasted surface is not known of a smoother one either.
    for roughness_um in [1.01, 2.0, 8.0] {
        let hot = found(&blasted(roughness_um), 1000.0, 600);
        assert_eq!(hot.outcome, Outcome::NotKnown, "{roughness_um} µm");
    }
    let line = found(&blasted(2.0), 1000.0, 600).line(Scale::Celsius);
    assert!(line.contains("the model would have levelled even 8 µm "), "{line}");
}
