//! The water of a coat against published properties of water.
//!
//! The saturation line in the simulation is the Wagner and Pruss (1993) equation; the figures
//! here come from elsewhere: IAPWS-95 through CoolProp for the table, the defined normal
//! boiling point and triple point, and Incropera's Stefan problem for the rate.

use saggar_sim::piece::{
    LIFT_PA, Piece, PieceConditions, Water, evaporation_j_kg, saturation_pa,
};
use saggar_sim::spec::{BodySpec, CoatSpec, GlassSpec, Spread, WorkSpec};

/// A body of the library, which the cases below take and change.
fn alumina() -> BodySpec {
    BodySpec::named("alumina").unwrap_or_else(|| panic!("the library has no alumina"))
}

/// The constructed glass of the library.
fn lanthanum() -> GlassSpec {
    GlassSpec::named("lanthanum-glass")
        .unwrap_or_else(|| panic!("the library has no such glass"))
}

fn coated() -> WorkSpec {
    WorkSpec {
        count: 2,
        wall_m: Spread { value: 0.5e-3, relative_sd: 0.1 },
        area_m2: 2.0e-4,
        body: alumina(),
        coat: Some(CoatSpec {
            thickness_m: Spread { value: 0.6e-3, relative_sd: 0.15 },
            glass_share: 0.5,
            water_share: 0.3,
            glass: lanthanum(),
        }),
        lubricant_share: 0.0,
        moisture_share: 0.0,
        infiltrated: false,
        roughness_m: 0.0,
    }
}

fn even(t_c: f64, pressure_pa: f64) -> PieceConditions {
    PieceConditions { layers_c: [t_c; 4], pressure_pa }
}

/// IAPWS-95 saturation pressures (CoolProp), Pa.
#[test]
fn saturation_pressure_of_water() {
    for (t_c, pa) in [
        (20.0, 2339.318),
        (40.0, 7384.938),
        (60.0, 19_946.434),
        (80.0, 47_414.474),
        (100.0, 101_417.997),
        (150.0, 476_164.5),
    ] {
        let found = saturation_pa(t_c);
        assert!((found / pa - 1.0).abs() < 2e-4, "{t_c} °C: {found} Pa, published {pa}");
    }
}

/// IAPWS-95 saturation temperatures (CoolProp) at the pressures of a pump-down, °C. Read the
/// other way, they say at which body heat a coat boils under a pump.
#[test]
fn boiling_points_under_a_pump() {
    for (pa, t_c) in [
        (1000.0, 6.970),
        (3000.0, 24.079),
        (5000.0, 32.874),
        (6000.0, 36.159),
        (10_000.0, 45.806),
    ] {
        assert!(saturation_pa(t_c - 0.02) < pa && saturation_pa(t_c + 0.02) > pa, "{pa} Pa");
    }
}

/// The triple point, 611.657 Pa (Guildner, Johnson and Jones 1976), and the critical point of
/// the IAPWS release.
#[test]
fn ends_of_the_saturation_line() {
    assert!((saturation_pa(0.01) / 611.657 - 1.0).abs() < 1e-4);
    assert!((saturation_pa(373.945) / 22.064e6 - 1.0).abs() < 1e-4);
    assert!((saturation_pa(900.0) / 22.064e6 - 1.0).abs() < 1e-12);
}

/// IAPWS-95 heats of evaporation (CoolProp), kJ/kg.
#[test]
fn heat_of_evaporation() {
    for (t_c, kj_kg) in [(25.0, 2441.68), (60.0, 2357.65), (100.0, 2256.40)] {
        assert!((evaporation_j_kg(t_c) / (kj_kg * 1e3) - 1.0).abs() < 1.5e-3, "{t_c} °C");
    }
}

/// A coat at rest boils exactly where the vapour pressure passes the chamber's and what the
/// coat bears on top: the published boiling points, seen through the piece.
#[test]
fn the_coat_boils_where_water_boils() {
    for (pa, boils_at) in [(5000.0, 32.874), (101_325.0, 99.974)] {
        let boiled = |t_c: f64| {
            let mut piece = Piece::new(&coated());
            piece.step(1.0, &even(t_c, pa));
            piece.state().water.boil().is_some()
        };
        assert!(!boiled(boils_at), "{pa} Pa at its boiling point");
        let bears = |t_c: f64| saturation_pa(t_c) - pa <= LIFT_PA;
        for tenth in 0..120 {
            let t_c = boils_at + 0.1 * f64::from(tenth);
            assert_eq!(boiled(t_c), !bears(t_c), "{pa} Pa, {t_c} °C");
        }
    }
}

/// Stefan flow: the rate through a stagnant film goes with `ln((p - p_far) / (p - p_surface))`
/// (Incropera, diffusion mass transfer, evaporation in a column). The ratio of two rates needs
/// no film.
#[test]
fn rates_follow_the_stefan_logarithm() {
    // A body so heavy that its own cooling changes nothing.
    let rate = |t_c: f64| {
        let mut work = coated();
        work.body.heat_capacity_j_kg_k = 1e12;
        let mut piece = Piece::new(&work);
        piece.step(1.0, &even(t_c, 101_325.0));
        piece.state().water.vapour_kg_s()
    };
    let log = |pa: f64| f64::ln((101_325.0 - 1170.0) / (101_325.0 - pa));
    for (t_c, pa) in [(40.0, 7384.938), (80.0, 47_414.474)] {
        let expected = log(pa) / log(19_946.434);
        assert!((rate(t_c) / rate(60.0) / expected - 1.0).abs() < 1e-3, "{t_c} °C");
    }
}

/// 0.1 g of water at 60 °C and 50 hPa is 3.075 L of vapour: ideal gas with the molar mass
/// 18.015 g/mol.
#[test]
fn vapour_volume_of_a_tenth_of_a_gram() {
    let mut piece = Piece::new(&coated());
    piece.step(1.0, &even(60.0, 101_325.0));
    let load = piece.vapour_load_pa_m3_s();
    let per_tenth_gram = load * 1e-4 / piece.state().water.vapour_kg_s();
    assert!((per_tenth_gram / 5000.0 / 3.075e-3 - 1.0).abs() < 1e-3);
}

/// Mass and heat add up: all the water of two pieces leaves, and takes its heat of evaporation.
#[test]
fn all_of_the_water_leaves_once() {
    let mut piece = Piece::new(&coated());
    let (mut kg, mut heat) = (0.0, 0.0);
    for _ in 0..3600 {
        piece.step(1.0, &even(80.0, 101_325.0));
        kg += piece.state().water.vapour_kg_s();
        heat += piece.heat_taken_w();
    }
    // Heat of evaporation at 80 °C: 2308 kJ/kg, value from memory.
    // 2 x 2 cm² of 0.6 mm coat, half glass of 3214 kg/m³, 0.3 g of water a gram of glass.
    let water = 2.0 * 2.0e-4 * 0.6e-3 * 0.5 * 3214.0 * 0.3;
    assert!((kg / water - 1.0).abs() < 1e-6, "{kg} {water}");
    assert!((heat / (water * 2.308e6) - 1.0).abs() < 3e-3, "{heat}");
    let dry: &Water = &piece.state().water;
    assert!(dry.dry_at_s().is_some() && dry.boil().is_none());
}
