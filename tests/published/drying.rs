//! The drying model against published properties of water.
//!
//! The saturation line in the simulation is the Wagner and Pruss (1993) equation. The figures here
//! come from other sources: IAPWS-95 through CoolProp for the table, the defined normal boiling point
//! and triple point, and Incropera's Stefan problem for the rate.

use std::f64::consts::PI;

use saggar_core::io::Outputs;
use saggar_plant::faults::FaultInjector;
use saggar_plant::furnace_state::FurnaceState;
use saggar_plant::gas::air_conductivity;
use saggar_plant::piece::{
    AMBIENT_VAPOUR_SHARE, GROWTH_BOILING, GROWTH_MAX, Piece, Water, evaporation_j_kg,
    saturation_pa,
};
use saggar_plant::plant::{ModelState, Plant};
use saggar_plant::radiation::{SIGMA, enclosed};
use saggar_plant::spec::{ChamberSpec, PumpSpec, WorkSpec};
use saggar_plant::vacuum::{ChamberGas, VacuumCommand};
use saggar_schedule::profile::Profile;

use super::even;

fn coated() -> WorkSpec {
    WorkSpec { count: 2, moisture_share: 0.0, ..WorkSpec::coated_coping() }
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

/// IAPWS-95 saturation temperatures (CoolProp) at the pressures of a pump-down, °C: the temperatures at
/// which a wet coat boils under a pump.
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

/// The coat in the model of the piece boils at the published boiling points.
#[test]
fn the_coat_boils_where_water_boils() {
    for (pa, boils_at) in [(3000.0, 24.079), (5000.0, 32.874), (101_325.0, 99.974)] {
        let growth = |t_c: f64| {
            let mut piece = Piece::new(&coated());
            piece.step(1.0, &even(t_c, pa));
            piece.water.largest_bubble().map_or(0.0, |bubble| bubble.growth)
        };
        // A step of 100 Pa changes the boiling point by half a kelvin at 24 °C.
        assert!(growth(boils_at - 0.6) < GROWTH_BOILING, "{pa} Pa below its boiling point");
        for tenth in 0..120 {
            let t_c = boils_at + 0.02 + 0.1 * f64::from(tenth);
            assert!(growth(t_c) >= GROWTH_BOILING, "{pa} Pa, {t_c} °C");
        }
    }
}

/// Below boiling, bubbles follow Dalton and Boyle: the pressure of the air in a bubble is the chamber
/// pressure less the vapour pressure. Vapour pressures of IAPWS-95 (CoolProp).
#[test]
fn bubbles_grow_by_the_gas_law() {
    let air_pa_k = (101_325.0 - 2339.318) / 293.15;
    for (t_c, vapour_pa, pa) in
        [(20.0, 2339.318, 101_325.0), (20.0, 2339.318, 5000.0), (80.0, 47_414.474, 101_325.0)]
    {
        let mut piece = Piece::new(&coated());
        piece.step(1.0, &even(t_c, pa));
        let found = piece.water.largest_bubble().map_or(0.0, |bubble| bubble.growth);
        let expected = air_pa_k * (t_c + 273.15) / (pa - vapour_pa);
        assert!((found / expected - 1.0).abs() < 1e-3, "{t_c} °C, {pa} Pa: {found}");
        assert_eq!(piece.water.first_lift().is_some(), expected > GROWTH_MAX);
    }
}

/// Vapour pressure over ice, Pa: values of published tables, from memory. The line meets the one over
/// water at the triple point, and its slope follows Clausius and Clapeyron with the heat of sublimation,
/// 2834 to 2838 kJ/kg from 0 to -40 °C (value from memory).
#[test]
fn vapour_pressure_over_ice() {
    for (t_c, pa) in [(-10.0, 259.9), (-20.0, 103.26), (-40.0, 12.84), (-60.0, 1.081)] {
        assert!((saturation_pa(t_c) / pa - 1.0).abs() < 1e-3, "{t_c} °C");
    }
    assert!((saturation_pa(0.0099) / saturation_pa(0.0101) - 1.0).abs() < 1e-4);
    for t_c in [-40.0, -20.0, -5.0] {
        let slope = f64::ln(saturation_pa(t_c + 0.5) / saturation_pa(t_c - 0.5));
        let kelvin = t_c + 273.15;
        assert!((slope * 461.52 * kelvin * kelvin / 2.836e6 - 1.0).abs() < 3e-3, "{t_c} °C");
    }
    // Far below the range, the pressure is close to zero.
    assert!(saturation_pa(-170.0) < 1e-3 && saturation_pa(-273.15) >= 0.0);
}

/// A pump removes the mixture as it is, so the gas ends with the share of vapour in the inflow: here
/// equal flows of vapour and air, and the moisture of that air.
#[test]
fn pumped_gas_reaches_the_vapour_share_of_the_inflow() {
    let pumping = VacuumCommand { pump: true, isolation_open: true, vent_open: false };
    let pump = PumpSpec {
        speed_m3_s: 10e-3 / 60.0,
        ultimate_pa: 1500.0,
        leak_pa_m3_s: 2e-3,
        vent_s: 3.0,
        gauge_noise_pa: 0.0,
    };
    let chamber = ChamberSpec {
        volume_m3: 0.5e-3,
        muffle_radius_m: 0.04,
        muffle_height_m: 0.08,
        muffle_kg: 0.25,
        muffle_emissivity: 0.6,
    };
    let mut vacuum = ChamberGas::new(&chamber, Some(&pump));
    let vapour = 2e-3;
    for _ in 0..3600 {
        (0..10).for_each(|_| {
            vacuum.step(pumping, 0.0, vapour);
        });
        vacuum.mix(1.0, vapour);
    }
    let leak = 2e-3 * (1.0 - vacuum.pressure_pa() / 101_325.0);
    let expected = (vapour + leak * AMBIENT_VAPOUR_SHARE) / (vapour + leak);
    assert!((vacuum.vapour_share() - expected).abs() < 1e-6, "{}", vacuum.vapour_share());
    // Vented and without drying, it becomes ambient air again.
    for _ in 0..1200 {
        vacuum.step(VacuumCommand { vent_open: true, ..VacuumCommand::default() }, 0.0, 0.0);
        vacuum.mix(1.0, 0.0);
    }
    assert!((vacuum.vapour_share() - AMBIENT_VAPOUR_SHARE).abs() < 1e-6);
}

/// Stefan flow: the rate through a stagnant film is proportional to `ln((p - p_far) / (p - p_surface))`
/// (Incropera, diffusion mass transfer, evaporation in a column). The ratio of two rates does not
/// depend on the film.
#[test]
fn rates_follow_the_stefan_logarithm() {
    // The body is so heavy that evaporation does not cool it.
    let rate = |t_c: f64| {
        let mut work = coated();
        work.body.heat_capacity_j_kg_k = 1e12;
        let mut piece = Piece::new(&work);
        piece.step(1.0, &even(t_c, 101_325.0));
        piece.water.vapour_kg_s()
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
    let per_tenth_gram = load * 1e-4 / piece.water.vapour_kg_s();
    assert!((per_tenth_gram / 5000.0 / 3.075e-3 - 1.0).abs() < 1e-3);
}

/// Mass and heat are conserved: all the water of two pieces leaves, and takes its heat of evaporation.
#[test]
fn mass_and_heat_of_the_water_are_conserved() {
    let mut piece = Piece::new(&coated());
    let (mut kg, mut heat) = (0.0, 0.0);
    for _ in 0..3600 {
        piece.step(1.0, &even(80.0, 101_325.0));
        kg += piece.water.vapour_kg_s();
        heat += piece.heat_taken_w();
    }
    // Heat of evaporation at 80 °C: 2308 kJ/kg, value from memory.
    // 2 x 2 cm² of 0.6 mm coat, half of it glass of 3214 kg/m³, 0.3 g of water per gram of glass.
    let water = 2.0 * 2.0e-4 * 0.6e-3 * 0.5 * 3214.0 * 0.3;
    assert!((kg / water - 1.0).abs() < 1e-6, "{kg} {water}");
    assert!((heat / (water * 2.308e6) - 1.0).abs() < 3e-3, "{heat}");
    let dry: &Water = &piece.water;
    assert!(dry.dry_at_s().is_some() && dry.first_lift().is_none());
}

/// What a wet piece takes up in a shut furnace at 150 °C is the heat of evaporation of the water that it loses
/// and what warms it. The heat that it takes up in closed form: a small grey body in an enclosure
/// (Incropera, chapter 13) with the emissivity of a wet surface, 0.9, and conduction over the gap to the air and
/// up the pins.
#[test]
fn a_wet_piece_dries_by_the_heat_that_a_wet_surface_takes_up() {
    let furnaces = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../docs/furnaces");
    let profile = Profile::load(&furnaces.join("lift-vacuum.toml")).expect("a shipped profile");
    let (work, warm) = (coated(), FurnaceState::evenly_warm(&profile.spec, 150.0));
    let mut plant = Plant::starting(&profile.spec, &work, 1, &warm).expect("a sound furnace");
    let faults = FaultInjector::default();
    let area = 2.0 * 2.0e-4;
    let water_kg = area * 0.6e-3 * 0.5 * 3214.0 * 0.3;
    // Body, glass and water, J/K; the body at 60 °C.
    let wall_j_k = area * 0.5e-3 * 0.72 * 3984.0 * 846.0 + water_kg / 0.3 * 1000.0;
    let minute = |plant: &mut Plant| {
        for tick in 1..=600 {
            plant.tick(&Outputs::default(), &faults);
            if tick % 10 == 0 {
                plant.end_second(1.0);
            }
        }
        plant.model_state()
    };
    let before = minute(&mut plant);
    let after = minute(&mut plant);
    assert!(after.water_left > 0.3, "the surface is wet: {after:?}");
    let mean = |value: fn(&ModelState) -> f64| 0.5 * (value(&before) + value(&after));
    let (piece_k, muffle_k) = (mean(|m| m.piece_c) + 273.15, mean(|m| m.muffle_c) + 273.15);
    let gone_kg = (before.water_left - after.water_left) * water_kg;
    let water_j_k = 0.5 * (before.water_left + after.water_left) * water_kg * 4186.0;
    let rise_k = after.piece_c - before.piece_c;
    let found_w =
        (gone_kg * evaporation_j_kg(piece_k - 273.15) + (wall_j_k + water_j_k) * rise_k) / 60.0;
    let taken_w = |emissivity: f64| {
        let exchange = enclosed(area, emissivity, 0.0302, 0.6);
        let radiation = SIGMA * exchange * (muffle_k.powi(4) - piece_k.powi(4));
        // Pins of dense alumina, 2 mm thick and 15 mm long, on a table that is about as warm.
        let pins = 2.0 * 7.0 * PI / 4.0 * 2.0e-3_f64.powi(2) / 15.0e-3;
        let air = area / 5.0e-3 * air_conductivity(muffle_k);
        radiation + (air + pins) * (muffle_k - piece_k)
    };
    assert!((found_w / taken_w(0.9) - 1.0).abs() < 0.1, "{found_w} W, wet {} W", taken_w(0.9));
    assert!((found_w / taken_w(0.4) - 1.0).abs() > 0.15, "{found_w} W, dry {} W", taken_w(0.4));
}
