//! Checks the stepper against the equations that it integrates, and two furnaces against the limits of
//! real ones.

pub(crate) mod demo;

use std::f64::consts::PI;

use super::{
    Chamber, ChamberState, Edge, MAX_NODES, Network, NetworkBuilder, NetworkError,
    NodeTemperatures, PieceThermal, RingLoad, Stepper, TICK_S,
};
use crate::constants::KELVIN;
use crate::radiation::{SIGMA, enclosed};
use crate::spec::FurnaceSpec;
use crate::vacuum::{ChamberGas, VacuumCommand};
use demo::{copings, door_furnace, small_lift_furnace};

/// A simple controller whose heater has steps of one fifth, as mains cycles give.
struct PlainController {
    integral: f64,
    credit: f64,
    kelvin_per_s: f64,
    soak_c: f64,
    soak_s: f64,
}

impl PlainController {
    fn new(kelvin_per_min: f64, soak_c: f64, soak_s: f64) -> Self {
        let kelvin_per_s = kelvin_per_min / 60.0;
        Self { integral: 0.0, credit: 0.0, kelvin_per_s, soak_c, soak_s }
    }

    fn setpoint_c(&self, seconds: f64) -> f64 {
        let soak_from = (self.soak_c - 22.0) / self.kelvin_per_s;
        let cooling = (seconds - soak_from - self.soak_s).max(0.0) * self.kelvin_per_s;
        (22.0 + seconds * self.kelvin_per_s).min(self.soak_c) - cooling
    }

    fn fifths(&mut self, measured_c: f64, seconds: f64) -> f64 {
        let error = self.setpoint_c(seconds) - measured_c;
        if error.abs() < 15.0 {
            self.integral = (self.integral + 3e-5 * error).clamp(-0.5, 0.8);
        }
        let duty = (0.1 + 0.02 * error + self.integral).clamp(0.0, 1.0);
        self.credit += 5.0 * duty;
        let cycles = self.credit.floor().clamp(0.0, 5.0);
        self.credit -= cycles;
        cycles / 5.0
    }
}

/// Classical Runge–Kutta steps of the network's own equations over one tick.
fn runge_kutta(
    network: &Network,
    kelvin: &mut [f64; MAX_NODES],
    heater_w: f64,
    chamber: ChamberState,
    steps: usize,
) {
    let step = TICK_S / steps as f64;
    let mut slopes = [[0.0; MAX_NODES]; 4];
    for _ in 0..steps {
        for stage in 0..4 {
            let reach = [0.0, 0.5, 0.5, 1.0][stage] * step;
            let mut at = *kelvin;
            if stage > 0 {
                for (at, slope) in at.iter_mut().zip(slopes[stage - 1]) {
                    *at += reach * slope;
                }
            }
            network.rates(&at, heater_w, chamber, &mut slopes[stage]);
        }
        for (i, kelvin) in kelvin.iter_mut().enumerate() {
            let middle = slopes[1][i] + slopes[2][i];
            *kelvin += step / 6.0 * (slopes[0][i] + 2.0 * middle + slopes[3][i]);
        }
    }
}

/// Fires the small furnace for two hours and returns the maximum error against the reference solution
/// over all nodes and ticks (K).
fn max_error_k(chamber_at: impl Fn(f64) -> ChamberState, steps: usize) -> f64 {
    let spec = small_lift_furnace();
    let mut chamber = Chamber::new(&spec, &copings(), 22.0).unwrap();
    let mut exact = chamber.network().start_k();
    let mut controller = PlainController::new(50.0, 1_120.0, 3_600.0);
    let mut worst = 0.0_f64;
    for tick in 0..72_000 {
        let seconds = f64::from(tick) * TICK_S;
        let power =
            spec.heater.rated_w * controller.fifths(chamber.control_sensor_c(), seconds);
        let now = chamber_at(seconds);
        chamber.step(power, now.pressure_pa, now.opening);
        runge_kutta(chamber.network(), &mut exact, power, now, steps);
        let found = chamber.kelvin();
        for (a, b) in found.iter().zip(exact) {
            worst = worst.max((a - b).abs());
        }
    }
    worst
}

#[test]
fn a_firing_in_air_stays_near_the_reference_solution_at_every_node() {
    let worst = max_error_k(|_| ChamberState::SHUT_IN_AIR, 10);
    assert!(worst < 0.04, "{worst} K");
}

#[test]
fn a_firing_with_vacuum_stays_near_the_reference_solution_at_every_node() {
    let chamber_at = |seconds: f64| {
        let pressure_pa = if seconds < 1_000.0 {
            101_325.0
        } else if seconds < 4_800.0 {
            2_000.0 + 99_325.0 * f64::exp(-(seconds - 1_000.0) * 0.27)
        } else {
            101_325.0 - 99_325.0 * f64::exp(-(seconds - 4_800.0) / 3.0)
        };
        ChamberState { pressure_pa, opening: 0.0 }
    };
    let worst = max_error_k(chamber_at, 10);
    assert!(worst < 0.05, "{worst} K");
}

#[test]
fn a_lift_that_opens_at_a_thousand_degrees_stays_near_the_reference_solution() {
    let chamber_at = |seconds: f64| ChamberState {
        opening: ((seconds - 5_300.0) / 20.0).clamp(0.0, 1.0),
        ..ChamberState::SHUT_IN_AIR
    };
    let worst = max_error_k(chamber_at, 10);
    assert!(worst < 0.1, "{worst} K");
}

#[test]
fn heat_is_neither_made_nor_lost() {
    let mut net = NetworkBuilder::default();
    let nodes = [(50.0, 300.0), (20.0, 1_400.0), (5.0, 900.0), (200.0, 500.0)]
        .map(|(j_k, kelvin)| net.node(j_k, kelvin));
    net.edge(Edge::radiation(nodes[0], nodes[1], 0.01));
    net.edge(Edge::layer(nodes[1], nodes[2], 0.1, 0.2, 1e-10));
    net.edge(Edge::conduction(nodes[2], nodes[3], 0.4).and_radiation(0.005));
    net.edge(Edge::radiation(nodes[3], nodes[0], 0.02));
    net.heat(nodes[0]);
    let network = net.build().unwrap();
    let capacity = network.capacities(101_325.0, &network.start_k());
    let stored = |kelvin: &[f64; MAX_NODES]| -> f64 {
        kelvin.iter().zip(capacity).filter(|(_, c)| c.is_finite()).map(|(t, c)| t * c).sum()
    };
    let mut stepper = Stepper::new(network, [nodes[0], nodes[3]]);
    let before = stored(&stepper.temperatures_k());
    let mut heat = 0.0;
    for tick in 0..6_003_u32 {
        let power = f64::from(tick * 7 % 6) * 240.0;
        stepper.step(power, ChamberState::SHUT_IN_AIR);
        heat += power * TICK_S;
    }
    let gained = stored(&stepper.temperatures_k()) - before;
    assert!((gained - heat).abs() < 1e-9 * heat, "{gained} J of {heat} J");
}

#[test]
fn two_runs_agree_bit_for_bit_and_reading_temperatures_changes_nothing() {
    let spec = small_lift_furnace();
    let run = |look: bool| {
        let mut chamber = Chamber::new(&spec, &copings(), 22.0).unwrap();
        let mut looked = 0.0;
        for tick in 0..5_000_u32 {
            let pressure_pa = if tick < 2_000 { 101_325.0 } else { 4_000.0 };
            chamber.step(f64::from(tick % 6) * 240.0, pressure_pa, 0.0);
            if look {
                looked += chamber.temperatures().element_c;
            }
        }
        assert!(looked.is_finite());
        chamber.kelvin().map(f64::to_bits)
    };
    assert_eq!(run(false), run(true));
}

#[test]
fn watched_nodes_have_the_same_temperatures_as_when_read_on_request() {
    let spec = small_lift_furnace();
    let mut chamber = Chamber::new(&spec, &copings(), 22.0).unwrap();
    for tick in 0..1_234_u32 {
        chamber.step(if tick % 3 == 0 { 1_200.0 } else { 0.0 }, 101_325.0, 0.0);
        let (all, nodes) = (chamber.kelvin(), chamber.nodes());
        let celsius = |node| all[chamber.network().slot(node)] - KELVIN;
        assert!((celsius(nodes.control_sensor) - chamber.control_sensor_c()).abs() < 1e-9);
        assert!((celsius(nodes.limit_sensor) - chamber.limit_sensor_c()).abs() < 1e-9);
        assert!((celsius(nodes.element) - chamber.temperatures().element_c).abs() < 1e-9);
    }
}

#[test]
fn a_sensor_at_a_thousand_degrees_has_its_specified_lag() {
    let spec = small_lift_furnace();
    let chamber = Chamber::new(&spec, &copings(), 1_000.0).unwrap();
    let network = chamber.network();
    for (node, lag_s) in [
        (chamber.nodes().control_sensor, spec.control_sensor.lag_s),
        (chamber.nodes().limit_sensor, spec.limit_sensor.lag_s),
    ] {
        let mut kelvin = network.start_k();
        let mut rates = [0.0; MAX_NODES];
        kelvin[network.slot(node)] += 0.01;
        network.rates(&kelvin, 0.0, ChamberState::SHUT_IN_AIR, &mut rates);
        let found = -0.01 / rates[network.slot(node)];
        assert!((found / lag_s - 1.0).abs() < 0.001, "{found} s for {lag_s} s");
    }
}

/// Fires two copings to a temperature at this rate. Returns how much later than an ideal ramp the sensor
/// arrives (s), the maximum temperature of the element (°C), and the mean power of the last ten minutes
/// (W).
fn fire(spec: &FurnaceSpec, kelvin_per_min: f64, to_c: f64, supply: f64) -> (f64, f64, f64) {
    let mut chamber = Chamber::new(spec, &copings(), 22.0).unwrap();
    let mut controller = PlainController::new(kelvin_per_min, to_c, 1e9);
    let ideal_s = (to_c - 22.0) / kelvin_per_min * 60.0;
    let ticks = ((ideal_s + 3_600.0) / TICK_S) as u32;
    let (mut arrival_s, mut hottest_c, mut heat) = (f64::INFINITY, 0.0_f64, 0.0);
    for tick in 0..ticks {
        let seconds = f64::from(tick) * TICK_S;
        let fifths = controller.fifths(chamber.control_sensor_c(), seconds);
        let power = spec.heater.rated_w * supply * fifths;
        chamber.step(power, 101_325.0, 0.0);
        if chamber.control_sensor_c() >= to_c - 5.0 {
            arrival_s = arrival_s.min(seconds);
        }
        hottest_c = hottest_c.max(chamber.temperatures().element_c);
        if tick + 6_000 >= ticks {
            heat += power / 6_000.0;
        }
    }
    (arrival_s - ideal_s, hottest_c, heat)
}

#[test]
fn the_small_furnace_keeps_its_ramp_on_mains_ten_per_cent_low() {
    let (late_s, hottest_c, hold_w) = fire(&small_lift_furnace(), 50.0, 1_120.0, 0.81);
    assert!(late_s < 60.0, "{late_s} s late");
    assert!(hottest_c < 1_300.0, "element at {hottest_c} °C");
    assert!((0.30..0.50).contains(&(hold_w / 1_200.0)), "{hold_w} W");
}

#[test]
fn the_door_furnace_reaches_its_temperature() {
    let (late_s, _, hold_w) = fire(&door_furnace(), 18.0, 1_100.0, 1.0);
    assert!(late_s < 60.0, "{late_s} s late");
    assert!((0.25..0.50).contains(&(hold_w / 2_000.0)), "{hold_w} W");
}

#[test]
fn an_opened_lift_cools_the_piece_much_faster_than_the_muffle() {
    let spec = small_lift_furnace();
    let mut chamber = Chamber::new(&spec, &copings(), 900.0).unwrap();
    for tick in 0..1_200 {
        chamber.step(0.0, 101_325.0, (f64::from(tick) * TICK_S / 20.0).min(1.0));
    }
    let now = chamber.temperatures();
    assert!(now.piece_mean_c() < 450.0, "piece {}", now.piece_mean_c());
    assert!(now.muffle_c > 650.0, "muffle {}", now.muffle_c);
}

#[test]
fn twenty_pieces_stand_on_two_rings_and_those_outside_see_less_of_the_table() {
    let many = PieceThermal { count: 20, area_m2: 219e-6, ..copings() };
    for spec in [small_lift_furnace(), door_furnace()] {
        let mut chamber = Chamber::new(&spec, &many, 900.0).unwrap();
        let counts: Vec<u32> = chamber.counts().collect();
        assert!(counts.len() == 2 && counts.iter().sum::<u32>() == 20, "{counts:?}");
        for _ in 0..6_000 {
            chamber.step(0.3 * spec.heater.rated_w, 101_325.0, 0.0);
        }
        let now = chamber.temperatures();
        let outer_c = now.outer_piece_mean_c().unwrap();
        assert!(outer_c > now.piece_mean_c() && outer_c < now.muffle_c, "{now:?}");
    }
}

#[test]
fn a_wet_piece_takes_up_the_heat_of_an_enclosed_body_with_the_emissivity_of_water() {
    // Table and muffle are equally warm, and without gas only radiation is left.
    let spec = small_lift_furnace();
    let start = NodeTemperatures::even(100.0).with_piece_at(40.0);
    let mut chamber = Chamber::starting_at(&spec, &copings(), &start).unwrap();
    let vacuum = ChamberState { pressure_pa: 1e-3, opening: 0.0 };
    let heat_w = |chamber: &Chamber| {
        let (network, outer) = (chamber.network(), chamber.nodes().inner().piece[0]);
        network.heat_flows(&chamber.kelvin(), 0.0, vacuum)[network.slot(outer)]
    };
    let inside = 2.0 * PI * 0.043 * 0.086 + 2.0 * PI * 0.043 * 0.043;
    let expected = |emissivity: f64| {
        let area = enclosed(2.0 * 2.2e-4, emissivity, inside, 0.75);
        SIGMA * area * (373.15_f64.powi(4) - 313.15_f64.powi(4))
    };
    assert!((heat_w(&chamber) / expected(0.4) - 1.0).abs() < 0.02, "{}", heat_w(&chamber));
    chamber.set_load(0, RingLoad { wetness: 1.0, ..RingLoad::default() });
    assert!((heat_w(&chamber) / expected(0.9) - 1.0).abs() < 0.02, "{}", heat_w(&chamber));
    chamber.set_load(0, RingLoad { wetness: 0.5, ..RingLoad::default() });
    let half = 0.5 * (expected(0.4) + expected(0.9));
    assert!((heat_w(&chamber) / half - 1.0).abs() < 0.02);
}

#[test]
fn water_and_coat_slow_the_outer_layer_by_their_heat_capacity() {
    let coated = PieceThermal { coat_j_k: 0.2, ..copings() };
    let capacity = |piece: &PieceThermal, water_j_k: f64| {
        let mut chamber = Chamber::new(&small_lift_furnace(), piece, 60.0).unwrap();
        chamber.set_load(0, RingLoad { water_j_k, ..RingLoad::default() });
        let (network, outer) = (chamber.network(), chamber.nodes().inner().piece[0]);
        network.capacities(101_325.0, &chamber.kelvin())[network.slot(outer)]
    };
    let bare = capacity(&copings(), 0.0);
    assert!((capacity(&coated, 0.0) - bare - 2.0 * 0.2).abs() < 1e-12);
    assert!((capacity(&coated, 1.5) - bare - 2.0 * 0.2 - 1.5).abs() < 1e-12);
}

#[test]
fn heat_taken_from_one_ring_cools_that_ring() {
    let many = PieceThermal { count: 20, area_m2: 219e-6, ..copings() };
    let mut chamber = Chamber::new(&small_lift_furnace(), &many, 100.0).unwrap();
    chamber.set_load(1, RingLoad { taken_w: 5.0, ..RingLoad::default() });
    for _ in 0..100 {
        chamber.step(0.0, 101_325.0, 0.0);
    }
    let now = chamber.temperatures();
    assert!(now.outer_piece_mean_c().unwrap() < now.piece_mean_c() - 2.0, "{now:?}");
}

#[test]
fn an_unheated_furnace_at_ambient_temperature_keeps_its_temperature() {
    let spec = small_lift_furnace();
    let mut chamber = Chamber::new(&spec, &copings(), 22.0).unwrap();
    for _ in 0..10_000 {
        chamber.step(0.0, 101_325.0, 1.0);
    }
    assert!(chamber.kelvin().iter().take(18).all(|t| (t - 22.0 - KELVIN).abs() < 1e-9));
}

#[test]
fn a_chamber_without_a_pump_stays_at_ambient_pressure() {
    let mut vacuum = ChamberGas::new(&door_furnace().chamber, None);
    for _ in 0..100 {
        vacuum.step(VacuumCommand { pump: true, ..Default::default() }, 0.0, 1e-3);
    }
    assert!((vacuum.pressure_pa() - 101_325.0).abs() < 1.0);
}

#[test]
fn an_opened_chamber_fills_within_a_second() {
    let spec = small_lift_furnace();
    let mut vacuum = ChamberGas::new(&spec.chamber, spec.pump.as_ref());
    vacuum.set_pressure(3_000.0);
    for _ in 0..10 {
        vacuum.step(VacuumCommand::default(), 0.2, 0.0);
    }
    assert!(vacuum.pressure_pa() > 101_000.0);
}

#[test]
fn invalid_networks_are_rejected() {
    let build = |make: &dyn Fn(&mut NetworkBuilder)| {
        let mut net = NetworkBuilder::default();
        make(&mut net);
        net.build().map(|_| ())
    };
    assert_eq!(build(&|_| {}), Err(NetworkError::BadNode));
    for bad in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        assert_eq!(build(&|net| _ = net.node(bad, 300.0)), Err(NetworkError::BadNode));
    }
    let many = |net: &mut NetworkBuilder| (0..32).for_each(|_| _ = net.node(1.0, 300.0));
    assert_eq!(build(&many), Err(NetworkError::TooManyNodes));
    let cold = |net: &mut NetworkBuilder| {
        let room = net.fixed(300.0);
        net.heat(room);
    };
    assert_eq!(build(&cold), Err(NetworkError::BadNode));
    let looped = |net: &mut NetworkBuilder| {
        let node = net.node(1.0, 300.0);
        net.edge(Edge::conduction(node, node, 1.0));
    };
    assert_eq!(build(&looped), Err(NetworkError::BadEdge));
    let dense = |net: &mut NetworkBuilder| {
        let nodes: Vec<_> = (0..16).map(|_| net.node(1.0, 300.0)).collect();
        for i in 0..16 {
            for j in 0..i {
                net.edge(Edge::conduction(nodes[i], nodes[j], 1.0));
            }
        }
    };
    assert_eq!(build(&dense), Err(NetworkError::TooManyEdges));
}
