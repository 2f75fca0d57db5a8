//! Heat transfer in the chamber against closed forms.
//!
//! The cases are built with the simulation's network and run through its stepper, so they check the code
//! that a rehearsal runs.
//!
//! * Lumped body that radiates, plane wall after a change of the fluid around it, half-infinite
//!   solid under constant flux, grey enclosures: the closed forms of any heat transfer text
//!   (Incropera and DeWitt, chapters 5 and 13), worked out to all digits given here.
//! * Wall whose conductivity depends on temperature: the conductivity integral.
//! * Properties of air: CoolProp. Conduction between dense and thin gas: Sherman's
//!   interpolation. Mean free path: from the viscosity.

use std::f64::consts::PI;

use saggar_plant::constants::ATMOSPHERE_PA;
use saggar_plant::gas::{air_conductivity, air_viscosity, gap_share, mean_free_path};
use saggar_plant::radiation::{SIGMA, enclosed};
use saggar_plant::thermal::{ChamberState, Edge, NetworkBuilder, NodeId, Stepper, TICK_S};

const AIR: ChamberState = ChamberState::SHUT_IN_AIR;

fn stepper(net: NetworkBuilder, watch: NodeId) -> Stepper {
    Stepper::new(net.build().expect("a sound network"), [watch, watch])
}

fn run(stepper: &mut Stepper, seconds: f64, heater_w: f64) {
    for _ in 0..(seconds / TICK_S).round() as u64 {
        stepper.step(heater_w, AIR);
    }
}

/// Net heat into a node now (W), without the heater's.
fn heat_into(stepper: &Stepper, node: NodeId) -> f64 {
    let network = stepper.network();
    network.heat_flows(&stepper.temperatures_k(), 0.0, AIR)[network.slot(node)]
}

#[track_caller]
fn assert_near(found: f64, expected: f64, within: f64) {
    assert!((found - expected).abs() <= within, "{found} is not {expected} ± {within}");
}

/// The time at which the body passes a temperature (s), interpolated between ticks.
fn time_to(stepper: &mut Stepper, kelvin: f64) -> f64 {
    let [mut before, _] = stepper.watched_k();
    let side = before < kelvin;
    for tick in 0..10_000 {
        stepper.step(0.0, AIR);
        let [now, _] = stepper.watched_k();
        if (now < kelvin) != side {
            let part = (kelvin - before) / (now - before);
            return (f64::from(tick) + part) * TICK_S;
        }
        before = now;
    }
    f64::INFINITY
}

#[test]
fn a_lumped_body_cools_and_heats_by_radiation_in_the_time_of_the_closed_form() {
    // 20 g of 1,200 J/(kg K), emissivity 0.8, 20 cm².
    for (from, to, walls, seconds) in [
        (1_473.15, 773.15, 298.15, 165.027_863),
        (1_373.15, 1_073.15, 298.15, 37.440_755),
        (298.15, 1_273.15, 1_373.15, 99.669_942),
        (873.15, 1_373.15, 1_393.15, 95.242_714),
    ] {
        let mut net = NetworkBuilder::default();
        let body = net.node(0.020 * 1_200.0, from);
        let walls = net.fixed(walls);
        net.edge(Edge::radiation(body, walls, 0.8 * 20e-4));
        let found = time_to(&mut stepper(net, body), to);
        assert_near(found, seconds, 5e-4 * seconds);
    }
}

/// Half a plane wall of unit area, from its middle to its face, in equal cells with half a cell at each
/// end. Its time constant L²/κ is 1,000 s.
fn plane_wall(biot: f64) -> (Stepper, NodeId, NodeId) {
    const STEPS: usize = 28;
    const J_K: f64 = 1_000.0;
    let mut net = NetworkBuilder::default();
    let cells: Vec<NodeId> = (0..=STEPS)
        .map(|i| {
            let share = if i == 0 || i == STEPS { 0.5 } else { 1.0 };
            net.node(J_K * share / STEPS as f64, 400.0)
        })
        .collect();
    // k A / L is one watt per kelvin.
    for pair in cells.windows(2) {
        net.edge(Edge::conduction(pair[0], pair[1], STEPS as f64));
    }
    let fluid = net.fixed(300.0);
    net.edge(Edge::conduction(cells[STEPS], fluid, biot));
    let (middle, face) = (cells[0], cells[STEPS]);
    (stepper(net, middle), middle, face)
}

#[test]
fn a_plane_wall_follows_the_full_series_in_its_middle_and_at_its_face() {
    for (biot, fourier, middle_theta, face_theta) in [
        (0.1, 1.0, 0.922_389, 0.878_126),
        (1.0, 0.2, 0.950_642, 0.643_391),
        (1.0, 1.0, 0.533_859, 0.348_177),
        (10.0, 0.2, 0.829_255, 0.122_482),
    ] {
        let (mut wall, middle, face) = plane_wall(biot);
        run(&mut wall, fourier * 1_000.0, 0.0);
        let theta = |node| (wall.temperature_k(node) - 300.0) / 100.0;
        assert_near(theta(middle), middle_theta, 4e-4);
        assert_near(theta(face), face_theta, 4e-4);
    }
}

#[test]
fn a_plane_wall_whose_faces_are_suddenly_cold_follows_the_full_series() {
    for (fourier, theta) in
        [(0.05, 0.996_869), (0.1, 0.949_305), (0.2, 0.772_312), (0.5, 0.370_777)]
    {
        let (mut wall, middle, _) = plane_wall(1e7);
        run(&mut wall, fourier * 1_000.0, 0.0);
        assert_near((wall.temperature_k(middle) - 300.0) / 100.0, theta, 8e-4);
    }
}

#[test]
fn a_half_infinite_board_under_constant_flux_warms_as_the_closed_form_says() {
    // Fibre board: k 0.20 W/(m K), 300 kg/m³, 1,100 J/(kg K); 20 kW on a square metre. Cells of half a
    // millimetre down to 5 mm, then increasingly coarse.
    let mut spacings = vec![0.5e-3; 10];
    spacings.extend((1..=18).map(|i| 0.5e-3 * 1.25_f64.powi(i)));
    let mut net = NetworkBuilder::default();
    let cells: Vec<NodeId> = (0..=spacings.len())
        .map(|i| {
            let above = if i == 0 { 0.0 } else { spacings[i - 1] };
            let below = spacings.get(i).copied().unwrap_or(0.0);
            net.node(300.0 * 1_100.0 * 0.5 * (above + below), 300.0)
        })
        .collect();
    for (pair, spacing) in cells.windows(2).zip(&spacings) {
        net.edge(Edge::conduction(pair[0], pair[1], 0.20 / spacing));
    }
    net.heat(cells[0]);
    let (face, deep) = (cells[0], cells[10]);
    let mut board = stepper(net, face);
    let mut seconds = 0.0;
    for (at, face_rise, deep_rise) in
        [(10.0, 277.788, 23.567), (60.0, 680.438, 294.150), (300.0, 1_521.506, 1_073.510)]
    {
        run(&mut board, at - seconds, 20_000.0);
        seconds = at;
        assert_near(board.temperature_k(face) - 300.0, face_rise, 0.005 * face_rise);
        assert_near(board.temperature_k(deep) - 300.0, deep_rise, 0.015 * deep_rise);
    }
}

#[test]
fn grey_plates_settle_where_the_exchange_carries_the_heat() {
    // A square metre, emissivities 0.8 and 0.5, the colder plate fixed at 1,373.15 K.
    let mut net = NetworkBuilder::default();
    let hot = net.node(200.0, 1_400.0);
    let cold = net.fixed(1_373.15);
    net.edge(Edge::radiation(hot, cold, enclosed(1.0, 0.8, 1.0, 0.5)));
    net.heat(hot);
    let mut plates = stepper(net, hot);
    run(&mut plates, 200.0, 29_092.228);
    assert_near(plates.temperature_k(hot), 1_473.15, 1e-3);
}

#[test]
fn a_shield_between_grey_plates_lets_through_what_the_closed_form_says() {
    let mut net = NetworkBuilder::default();
    let hot = net.fixed(1_473.15);
    let shield = net.node(100.0, 300.0);
    let cold = net.fixed(298.15);
    net.edge(Edge::radiation(hot, shield, enclosed(1.0, 0.8, 1.0, 0.1)));
    net.edge(Edge::radiation(shield, cold, enclosed(1.0, 0.1, 1.0, 0.8)));
    let mut plates = stepper(net, shield);
    run(&mut plates, 600.0, 0.0);
    assert_near(heat_into(&plates, cold), 13_005.183, 0.01);
    assert_near(heat_into(&plates, hot), -13_005.183, 0.01);
}

#[test]
fn a_sphere_in_a_sphere_settles_where_the_exchange_carries_the_heat() {
    let area = |radius: f64| 4.0 * PI * radius * radius;
    let mut net = NetworkBuilder::default();
    let inner = net.node(5.0, 900.0);
    let outer = net.fixed(1_373.15);
    net.edge(Edge::radiation(inner, outer, enclosed(area(0.010), 0.4, area(0.045), 0.8)));
    net.heat(inner);
    let mut spheres = stepper(net, inner);
    // A heat sink in the inner sphere.
    run(&mut spheres, 600.0, -84.350_327);
    assert_near(spheres.temperature_k(inner), 873.15, 1e-2);
}

/// Exchange area from a grey surface to its own radiosity: `ε A / (1 − ε)` (m²).
fn to_radiosity(area_m2: f64, emissivity: f64) -> f64 {
    area_m2 * emissivity / (1.0 - emissivity)
}

/// View factor between two equal coaxial discs.
fn view_between_discs(radius_m: f64, distance_m: f64) -> f64 {
    let ratio = radius_m / distance_m;
    let s = 2.0 + 1.0 / (ratio * ratio);
    (s - (s * s - 4.0).sqrt()) / 2.0
}

/// A closed grey cylinder, its ends and its side as surfaces with their radiosities as nodes.
struct Cylinder {
    stepper: Stepper,
    surfaces: [NodeId; 3],
    radiosities: [NodeId; 3],
}

fn cylinder(bottom_is_adiabatic: bool) -> Cylinder {
    const RADIUS: f64 = 0.045;
    const HEIGHT: f64 = 0.080;
    let disc = PI * RADIUS * RADIUS;
    let side = 2.0 * PI * RADIUS * HEIGHT;
    let across = view_between_discs(RADIUS, HEIGHT);
    let mut net = NetworkBuilder::default();
    let bottom = if bottom_is_adiabatic { net.node(1.0, 1_300.0) } else { net.fixed(1_073.15) };
    let surfaces = [net.fixed(1_173.15), bottom, net.fixed(1_473.15)];
    let radiosities = [0; 3].map(|_| net.node(0.05, 1_200.0));
    for (i, (area, emissivity)) in [(disc, 0.8), (disc, 0.7), (side, 0.9)].iter().enumerate() {
        let own = to_radiosity(*area, *emissivity);
        net.edge(Edge::radiation(surfaces[i], radiosities[i], own));
    }
    net.edge(Edge::radiation(radiosities[0], radiosities[1], disc * across));
    for end in 0..2 {
        let exchange = disc * (1.0 - across);
        net.edge(Edge::radiation(radiosities[end], radiosities[2], exchange));
    }
    let mut stepper = stepper(net, radiosities[0]);
    run(&mut stepper, 300.0, 0.0);
    Cylinder { stepper, surfaces, radiosities }
}

#[test]
fn a_grey_enclosure_of_three_surfaces_has_the_radiosities_of_the_closed_form() {
    assert_near(view_between_discs(0.045, 0.080), 0.201_660_33, 1e-8);
    let Cylinder { stepper, surfaces, radiosities } = cylinder(false);
    for (node, expected) in
        radiosities.iter().zip([132_469.402_4, 123_032.891_2, 260_433.953_9])
    {
        assert_near(SIGMA * stepper.temperature_k(*node).powi(4), expected, 0.05);
    }
    // In the closed form, heat that leaves a surface is positive.
    for (node, expected) in surfaces.iter().zip([-637.802_436, -709.941_099, 1_347.743_535]) {
        assert_near(-heat_into(&stepper, *node), expected, 1e-3);
    }
}

#[test]
fn an_adiabatic_surface_of_an_enclosure_floats_to_its_temperature() {
    let Cylinder { stepper, surfaces, .. } = cylinder(true);
    assert_near(stepper.temperature_k(surfaces[1]), 1_431.231_476, 1e-3);
    assert_near(-heat_into(&stepper, surfaces[2]), 767.310_062, 1e-3);
}

#[test]
fn a_wall_whose_conductivity_grows_with_the_cube_carries_the_conductivity_integral() {
    // k = 0.05 + 1.2e-10 T³, 50 mm, 1,423.15 K to 333.15 K, for any number of layers.
    for layers in [2, 3, 7] {
        let mut net = NetworkBuilder::default();
        let hot = net.fixed(1_423.15);
        let cold = net.fixed(333.15);
        let mut chain = vec![hot];
        chain.extend((1..layers).map(|_| net.node(50.0, 700.0)));
        chain.push(cold);
        for pair in chain.windows(2) {
            let shape = layers as f64 / 0.050;
            net.edge(Edge::layer(pair[0], pair[1], shape, 0.05, 1.2e-10));
        }
        let mut wall = stepper(net, chain[1]);
        run(&mut wall, 600.0, 0.0);
        assert_near(heat_into(&wall, cold), 3_543.848_84, 1e-2);
    }
}

#[test]
fn a_graded_shell_carries_what_a_cylinder_carries() {
    // k 0.2, radii 45 and 95 mm, height 100 mm, 1,000 K, in six rings.
    const RINGS: usize = 6;
    let mut net = NetworkBuilder::default();
    let hot = net.fixed(1_300.0);
    let cold = net.fixed(300.0);
    let mut chain = vec![hot];
    chain.extend((1..RINGS).map(|_| net.node(10.0, 600.0)));
    chain.push(cold);
    for (ring, pair) in chain.windows(2).enumerate() {
        let radius = |i: usize| 0.045 + 0.050 * i as f64 / RINGS as f64;
        let (inner, outer) = (radius(ring), radius(ring + 1));
        let shape = PI * (inner + outer) * 0.100 / (outer - inner);
        net.edge(Edge::layer(pair[0], pair[1], shape, 0.2, 0.0));
    }
    let mut shell = stepper(net, chain[1]);
    run(&mut shell, 3_000.0, 0.0);
    // The rings use the mean of their radii instead of the logarithmic mean.
    assert_near(heat_into(&shell, cold), 168.176_237, 0.003 * 168.176_237);
}

#[test]
fn air_has_the_properties_that_coolprop_gives() {
    for (kelvin, conductivity, viscosity) in [
        (300.0, 0.026_384, 1.853_7e-5),
        (500.0, 0.039_945, 2.709_0e-5),
        (1_000.0, 0.067_677, 4.328_0e-5),
        (1_273.15, 0.081_099, 5.063_5e-5),
        (1_373.15, 0.085_849, 5.318_1e-5),
        (1_473.15, 0.090_534, 5.566_7e-5),
    ] {
        assert_near(air_conductivity(kelvin), conductivity, 0.002 * conductivity);
        assert_near(air_viscosity(kelvin), viscosity, 0.01 * viscosity);
    }
    assert_near(mean_free_path(1_373.15, 5_000.0), 8.369_2e-6, 0.01 * 8.369_2e-6);
}

#[test]
fn conduction_over_a_gap_falls_with_pressure_as_sherman_says() {
    // Accommodation 0.9, plates at 1,373.15 and 1,273.15 K.
    const MEAN: f64 = 1_323.15;
    for (gap_m, pressure_pa, share) in [
        (1e-3, ATMOSPHERE_PA, 0.998_196),
        (1e-3, 5_000.0, 0.964_678),
        (1e-3, 1_000.0, 0.845_254),
        (1e-3, 100.0, 0.353_262),
        (1e-3, 10.0, 0.051_793),
        (5e-3, 5_000.0, 0.992_730),
        (0.1e-3, 5_000.0, 0.731_983),
    ] {
        assert_near(gap_share(MEAN, pressure_pa, gap_m), share, 5e-4);
    }
}

#[test]
fn two_plates_through_thin_gas_exchange_what_sherman_says() {
    // Gas at 1,323.15 K, a gap of one millimetre, a square metre.
    for (pressure_pa, share) in [(5_000.0, 0.964_678), (100.0, 0.353_262)] {
        let around = ChamberState { pressure_pa, opening: 0.0 };
        let mut net = NetworkBuilder::default();
        let gas = net.fixed(1_323.15);
        let body = net.node(10.0, 1_323.15);
        net.edge(Edge::film(body, gas, 1.0, 1e-3));
        net.heat(body);
        let mut gap = stepper(net, body);
        let carried = 0.0835 / 1e-3 * share * 50.0;
        for _ in 0..600 {
            gap.step(carried, around);
        }
        assert_near(gap.temperature_k(body), 1_373.15, 0.1);
    }
}
