//! The piece as a whole, in firings with piecewise linear temperatures.

use super::*;
use crate::spec::BodySpec;
use proptest::prelude::*;

fn even(t_c: f64, pressure_pa: f64) -> PieceConditions {
    PieceConditions { layers_c: [t_c; 4], pressure_pa, vapour_share: AMBIENT_VAPOUR_SHARE }
}

/// Slow drying in air, a ramp in vacuum, a soak, cooling.
fn fire(work: &WorkSpec, soak_c: f64, soak_s: u32) -> Piece {
    let mut piece = Piece::new(work);
    let mut t = 20.0;
    piece.step(0.0, &even(t, 101_325.0));
    while t < 90.0 {
        t += 0.05;
        piece.step(1.0, &even(t, 101_325.0));
    }
    while t < soak_c {
        t = (t + 0.5).min(soak_c);
        piece.step(1.0, &even(t, 5000.0));
    }
    for _ in 0..soak_s {
        piece.step(1.0, &even(t, 5000.0));
    }
    while t > 20.0 {
        t -= 1.0;
        piece.step(1.0, &even(t, 101_325.0));
    }
    piece
}

#[test]
fn a_long_enough_soak_fills_the_wall_and_a_short_one_does_not() {
    let long = fire(&WorkSpec::coated_coping(), 1120.0, 2400);
    let front = long.front.unwrap();
    assert!((front.depth_m() - 0.5e-3).abs() < 1e-12);
    assert!(front.predicted_depth_m() > front.depth_m());
    assert!(front.through_at_s().is_some() && front.trapped_share().unwrap() < 0.01);
    let short = fire(&WorkSpec::coated_coping(), 1120.0, 300);
    let front = short.front.unwrap();
    assert_eq!(front.through_at_s(), None);
    assert!(short.flow.as_ref().unwrap().stiff_at_s().is_some());
    assert!((0.2e-3..0.4e-3).contains(&front.depth_m()), "{}", front.depth_m());
}

#[test]
fn a_thin_coat_stops_the_front_early() {
    let mut work = WorkSpec::coated_coping();
    if let Some(coat) = &mut work.coat {
        coat.thickness_m.value = 0.2e-3;
    }
    let front = fire(&work, 1120.0, 2400).front.unwrap();
    // 0.1 mm of glass fills 0.1 / 0.28 mm.
    assert!((front.depth_m() - 0.1e-3 / 0.28).abs() < 1e-12);
    assert_eq!(front.through_at_s(), None);
    assert!(front.coat_used_up_at_s().is_some());
}

#[test]
fn the_time_through_the_wall_is_interpolated_within_a_step() {
    // At constant temperature from the start, the time is Washburn's to rounding.
    let mut piece = Piece::new(&WorkSpec::coated_coping());
    piece.step(0.0, &even(1120.0, 5000.0));
    for _ in 0..2000 {
        piece.step(1.0, &even(1120.0, 5000.0));
    }
    let work = WorkSpec::coated_coping();
    let glass = &work.coat.as_ref().unwrap().glass;
    let expected = 0.25e-6 / (conductance(&work.body, glass) * glass.fluidity(1120.0));
    let through = piece.front.unwrap().through_at_s().unwrap();
    assert!((through - expected).abs() < 1e-6, "{through} {expected}");
}

#[test]
fn only_a_flowing_glass_transmits_the_pressure() {
    let share = |vent_c: f64| {
        let mut piece = Piece::new(&WorkSpec::coated_coping());
        for t in [1120.0, 1120.0, vent_c] {
            (0..60).for_each(|_| piece.step(1.0, &even(t, 5000.0)));
        }
        (0..60).for_each(|_| piece.step(1.0, &even(vent_c, 101_325.0)));
        piece.front.unwrap().trapped_share().unwrap()
    };
    // The capillary pressure used is 10 bar.
    assert!((share(500.0) - 5000.0 / 1.005e6).abs() < 1e-12);
    assert!((share(1100.0) - 5000.0 / 1.101_325e6).abs() < 1e-12);
}

#[test]
fn a_bare_body_dries_over_both_sides() {
    let mut work = WorkSpec::coated_coping();
    work.body.heat_capacity_j_kg_k = 1e12;
    let rate = |work: &WorkSpec| {
        let mut piece = Piece::new(work);
        piece.step(1.0, &even(60.0, 101_325.0));
        piece.water.vapour_kg_s()
    };
    let bare = WorkSpec { coat: None, ..work.clone() };
    assert!((rate(&bare) / rate(&work) - 2.0).abs() < 1e-6);
}

#[test]
fn the_maximum_temperature_is_that_of_the_soak() {
    let piece = fire(&WorkSpec::coated_coping(), 1120.0, 600);
    assert!((piece.hottest.value - 1120.0).abs() < 1e-9, "{}", piece.hottest.value);
}

#[test]
fn the_maximum_temperature_is_that_of_the_mean_of_the_layers() {
    let mut piece = Piece::new(&WorkSpec::coated_coping());
    let uneven = PieceConditions {
        layers_c: [510.0, 503.0, 499.0, 496.0],
        pressure_pa: 5000.0,
        vapour_share: AMBIENT_VAPOUR_SHARE,
    };
    piece.step(7.0, &uneven);
    assert_eq!(piece.hottest, Peak { value: 502.0, at_s: 7.0 });
}

#[test]
fn gas_never_fills_more_than_the_pores() {
    assert!((trapped_share(101_325.0, 1000.0, 0.0) - 1.0).abs() < 1e-12);
}

#[test]
fn a_melt_back_fire_levels_the_skin() {
    let mut work = WorkSpec::coated_coping();
    work.infiltrated = true;
    work.roughness_m = 5.0e-6;
    work.body = BodySpec::named("alumina-infiltrated").unwrap();
    work.moisture_share = 0.0;
    if let Some(coat) = &mut work.coat {
        coat.thickness_m.value = 20.0e-6;
        coat.glass_share = 1.0;
        coat.water_share = 0.0;
    }
    let left = |soak_c| {
        let piece = fire(&work, soak_c, 300);
        let state = &piece;
        assert_eq!(state.front, None);
        state.melt_back.unwrap().left_m(state.flow.as_ref().unwrap().per_pa())
    };
    assert!(left(960.0) < 1.0e-9);
    assert!((left(600.0) - 5.0e-6).abs() < 1.0e-8);
}

#[test]
fn wet_work_gives_vapour_and_takes_heat() {
    let mut piece = Piece::new(&WorkSpec::coated_coping());
    piece.step(1.0, &even(60.0, 101_325.0));
    assert!(piece.vapour_load_pa_m3_s() > 0.0 && piece.heat_taken_w() > 0.0);
    // 6 g/(m² s) times ln(0.988/(1 - 0.197)) over 2 cm², 2.36 MJ/kg.
    let free = 6.0e-3 * f64::ln(0.988_45 / (1.0 - 19_946.4 / 101_325.0)) * 2.0e-4 * 2.357e6;
    let found = piece.heat_taken_w();
    assert!(found < free && found > 0.7 * free, "{found} {free}");
}

proptest! {
    #[test]
    fn the_front_never_retreats_and_more_time_is_never_less_depth(
        history in prop::collection::vec((0.0f64..1250.0, 100.0f64..101_325.0), 1..120)
    ) {
        let mut piece = Piece::new(&WorkSpec::coated_coping());
        let (mut depth, mut flow) = (0.0, 0.0);
        for (t, p) in history {
            piece.step(1.0, &even(t, p));
            let front = piece.front.unwrap();
            let per_pa = piece.flow.as_ref().unwrap().per_pa();
            prop_assert!(front.depth_m() >= depth && per_pa >= flow);
            prop_assert!(front.depth_m() <= front.plan().wall_m);
            (depth, flow) = (front.depth_m(), per_pa);
        }
    }

    #[test]
    fn a_hotter_or_longer_soak_goes_deeper(soak_c in 900.0f64..1180.0, soak_s in 0u32..1500) {
        let depth = |c, s| fire(&WorkSpec::coated_coping(), c, s).front.unwrap().predicted_depth_m();
        let base = depth(soak_c, soak_s);
        prop_assert!(depth(soak_c + 10.0, soak_s) > base);
        prop_assert!(depth(soak_c, soak_s + 60) > base);
    }
}
