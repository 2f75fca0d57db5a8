//! Speed and accuracy of a rehearsal: `cargo bench -p saggar-tests --bench rehearsal`.
//!
//! The alumina example is fired once with everything in the loop. Its heater power, pressure and
//! closure then drive, tick by tick, the same network of equations under other solvers, in the same
//! process on the same CPU core, so that the ratios of the times can be compared. The error of our
//! solver is the maximum difference, over all nodes and seconds, from a Runge–Kutta solution with a
//! hundred steps per tick.

use std::hint::black_box;
use std::path::Path;
use std::time::Instant;

use ode_solvers::dop_shared::OutputType;
use ode_solvers::dopri5::Dopri5;
use ode_solvers::{SVector, System};
use saggar_bench::trace::Trace;
use saggar_bench::{Rehearsal, RehearsalSetup};
use saggar_core::Controller;
use saggar_plant::plant::ChamberDrive;
use saggar_plant::thermal::{Chamber, ChamberState, MAX_NODES, Network, PieceThermal, TICK_S};
use saggar_schedule::FiringPlan;

/// Repetitions of the fast measurements; the fastest counts, since other load only adds time.
const ROUNDS: usize = 40;

/// Number of ticks for the slow solvers.
const SLOW_TICKS: usize = 20_000;

/// Tolerance of the adaptive solver, as in the project's reference figures.
const TOLERANCE: f64 = 1e-6;

fn main() {
    let plan = plan();
    let drives = drives(&plan);
    let firing_s = drives.len() as f64 * TICK_S;
    println!("{}: {} ticks, {firing_s:.0} s of firing", plan.schedule.name, drives.len());
    println!("{:44} {:>10} {:>12}", "", "ns a tick", "x real time");
    let line = |what: &str, ns: f64| {
        println!("{what:44} {ns:10.1} {:12.0}", TICK_S * 1e9 / ns);
        ns
    };
    let full = line("rehearsal: core, chamber, piece, record", full_ns(&plan));
    line("core alone, on the recorded inputs", core_ns(&plan));
    line("chamber alone, under the recorded drive", chamber_ns(&plan, &drives));
    let slow = drives.get(..SLOW_TICKS.min(drives.len())).unwrap_or(&drives);
    let dopri = line("chamber by ode_solvers Dopri5, rtol 1e-6", dopri_ns(&plan, slow));
    let two = line("chamber by Runge-Kutta, 2 steps a tick", runge_kutta_ns(&plan, slow, 2));
    println!("rehearsal to Dopri5 alone: {:.1} times as fast", dopri / full);
    println!("rehearsal to Runge-Kutta alone: {:.1} times as fast", two / full);
    errors(&plan, &drives);
}

fn plan() -> FiringPlan {
    let schedules = Path::new(env!("CARGO_MANIFEST_DIR")).join("../docs/schedules");
    FiringPlan::load(&schedules.join("infiltrate-alumina.toml"), None)
        .expect("the example is valid")
}

fn bench(plan: &FiringPlan) -> Rehearsal {
    let setup = RehearsalSetup {
        furnace: &plan.profile.spec,
        device: &plan.profile.furnace,
        work: &plan.work,
        programme: &plan.image,
        seed: 1,
        faults: Vec::new(),
        operator_delay_s: Some(30.0),
        start: None,
    };
    setup.bench(Trace::default()).expect("the example can be rehearsed")
}

/// The inputs of the chamber in every tick of the firing.
fn drives(plan: &FiringPlan) -> Vec<ChamberDrive> {
    let mut bench = bench(plan);
    let mut drives = Vec::new();
    while bench.step() == Ok(true) {
        drives.push(bench.world().drive());
    }
    drives
}

fn best_ns(ticks: usize, rounds: usize, mut run: impl FnMut()) -> f64 {
    let once = |run: &mut dyn FnMut()| {
        let begin = Instant::now();
        run();
        begin.elapsed().as_secs_f64() * 1e9 / ticks as f64
    };
    (0..rounds).map(|_| once(&mut run)).fold(f64::INFINITY, f64::min)
}

fn full_ns(plan: &FiringPlan) -> f64 {
    let ticks = bench(plan).run_to_end(&plan.work).ticks as usize;
    best_ns(ticks, ROUNDS, || {
        black_box(bench(plan).run_to_end(&plan.work));
    })
}

fn core_ns(plan: &FiringPlan) -> f64 {
    let fresh = || {
        let mut controller = Controller::new(plan.profile.furnace.clone());
        let image = &plan.image;
        controller.load(image.bytes(), &image.digest()).expect("it was checked");
        controller
    };
    let mut bench = bench(plan);
    let mut recorded = Vec::new();
    while bench.step() == Ok(true) {
        recorded.push(bench.last_inputs());
    }
    best_ns(recorded.len(), ROUNDS, || {
        let mut controller = fresh();
        for (now, inputs) in &recorded {
            black_box(controller.step(*now, inputs));
        }
    })
}

fn chamber(plan: &FiringPlan) -> Chamber {
    let piece = PieceThermal::of(&plan.work);
    let spec = &plan.profile.spec;
    Chamber::new(spec, &piece, spec.ambient_c).expect("the furnace is good")
}

fn around(drive: &ChamberDrive) -> ChamberState {
    ChamberState { pressure_pa: drive.pressure_pa, opening: drive.opening }
}

fn chamber_ns(plan: &FiringPlan, drives: &[ChamberDrive]) -> f64 {
    best_ns(drives.len(), ROUNDS, || {
        let mut chamber = chamber(plan);
        for drive in drives {
            drive.advance(&mut chamber);
        }
        black_box(chamber.control_sensor_c());
    })
}

type State = SVector<f64, MAX_NODES>;

/// The network with the inputs of one tick, for the adaptive solver.
struct Equations<'a> {
    network: &'a Network,
    drive: ChamberDrive,
}

impl System<f64, State> for Equations<'_> {
    fn system(&self, _t: f64, kelvin: &State, rates: &mut State) {
        let kelvin: [f64; MAX_NODES] = (*kelvin).into();
        let mut out = [0.0; MAX_NODES];
        self.network.rates(&kelvin, self.drive.heater_w, around(&self.drive), &mut out);
        *rates = State::from(out);
    }
}

/// The solver is restarted every tick, as a controller in the loop requires.
fn dopri_ns(plan: &FiringPlan, drives: &[ChamberDrive]) -> f64 {
    best_ns(drives.len(), 3, || {
        let chamber = chamber(plan);
        let network = chamber.network();
        let mut kelvin = State::from(chamber.kelvin());
        for drive in drives {
            let equations = Equations { network, drive: *drive };
            let mut solver = adaptive(equations, kelvin);
            solver.integrate().expect("the equations are smooth within a tick");
            kelvin = *solver.y_out().last().expect("an end");
        }
        black_box(kelvin);
    })
}

/// The solver with its defaults, with two exceptions: the first step is given, because guessing it would
/// take two evaluations, and the stiffness test is off, because it needs more steps than a tick has.
fn adaptive<'a>(equations: Equations<'a>, kelvin: State) -> Dopri5<f64, State, Equations<'a>> {
    Dopri5::from_param(
        equations,
        0.0,
        TICK_S,
        TICK_S,
        kelvin,
        TOLERANCE,
        TOLERANCE,
        0.9,
        0.04,
        0.2,
        10.0,
        TICK_S,
        TICK_S / 2.0,
        100_000,
        100_000,
        OutputType::Sparse,
    )
}

/// Classical Runge–Kutta over one tick.
fn runge_kutta(
    network: &Network,
    kelvin: &mut [f64; MAX_NODES],
    drive: &ChamberDrive,
    steps: usize,
) {
    let step = TICK_S / steps as f64;
    let around = around(drive);
    let mut slopes = [[0.0; MAX_NODES]; 4];
    for _ in 0..steps {
        for (stage, reach) in [0.0, 0.5, 0.5, 1.0].into_iter().enumerate() {
            let mut at = *kelvin;
            if let Some(before) = stage.checked_sub(1) {
                for (at, slope) in at.iter_mut().zip(slopes[before]) {
                    *at += reach * step * slope;
                }
            }
            network.rates(&at, drive.heater_w, around, &mut slopes[stage]);
        }
        for (i, kelvin) in kelvin.iter_mut().enumerate() {
            let inner = slopes[1][i] + slopes[2][i];
            *kelvin += step / 6.0 * (slopes[0][i] + 2.0 * inner + slopes[3][i]);
        }
    }
}

fn runge_kutta_ns(plan: &FiringPlan, drives: &[ChamberDrive], steps: usize) -> f64 {
    best_ns(drives.len(), 3, || {
        let chamber = chamber(plan);
        let mut kelvin = chamber.kelvin();
        for drive in drives {
            runge_kutta(chamber.network(), &mut kelvin, drive, steps);
        }
        black_box(kelvin);
    })
}

/// The error of our solver against the fine Runge–Kutta solution, node by node.
fn errors(plan: &FiringPlan, drives: &[ChamberDrive]) {
    let mut ours = chamber(plan);
    let mut tight = chamber(plan).kelvin();
    let mut worst = [0.0f64; MAX_NODES];
    for (tick, drive) in drives.iter().enumerate() {
        runge_kutta(ours.network(), &mut tight, drive, 100);
        drive.advance(&mut ours);
        if tick % 10 == 9 {
            for ((worst, ours), tight) in worst.iter_mut().zip(ours.kelvin()).zip(tight) {
                *worst = worst.max((ours - tight).abs());
            }
        }
    }
    println!("maximum error (K) against Runge-Kutta with 100 steps a tick:");
    let named = |name: &str, node| {
        let slot = ours.network().slot(node);
        println!("  {name:20} {:.4}", worst.get(slot).copied().unwrap_or(f64::NAN));
    };
    let nodes = ours.nodes();
    named("element", nodes.element);
    for layer in nodes.insulation {
        named("insulation", layer);
    }
    named("muffle", nodes.muffle);
    named("gas", nodes.gas);
    named("control sensor", nodes.control_sensor);
    named("limit sensor", nodes.limit_sensor);
    named("table", nodes.table);
    for ring in &nodes.rings {
        named("pin", ring.pin);
        for layer in ring.piece {
            named("piece", layer);
        }
    }
    println!("  {:20} {:.4}", "every node", worst.into_iter().fold(0.0, f64::max));
}
