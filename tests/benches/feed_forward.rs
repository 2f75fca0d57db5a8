//! Measures the tables `[[feed_forward]]` of the shipped profiles on the simulated furnaces:
//! `cargo bench -p saggar-tests --bench feed_forward`.
//!
//! For each temperature of a table the furnace is driven up a ramp from cold, empty but for a small piece,
//! by a power that follows the control sensor, and held. The power of the hold is that of minutes 1 to 4,
//! and of minute 10 in the slow furnace; the heat per kelvin is what the ramp took beyond it. At the end
//! of 90 minutes the limit sensor is compared with the control sensor, and after eight hours the case is
//! as warm as it gets.

use std::path::Path;

use saggar_plant::constants::{ATMOSPHERE_PA, KELVIN};
use saggar_plant::heat_curve::HeatCurve;
use saggar_plant::spec::FurnaceSpec;
use saggar_plant::thermal::{Chamber, PieceThermal, TICK_S};
use saggar_schedule::profile::Profile;

/// Gains of the power that follows the setpoint, as shares of the rated power (1/K, 1/(K s)).
const PROPORTIONAL: f64 = 1.0 / 30.0;
const INTEGRAL: f64 = 1.0 / 1_500.0;

/// Deviation beyond which the integral stands still (K).
const NEAR_K: f64 = 5.0;

/// How a furnace is measured: its profile, the rate of its ramps (K/min), and the minutes of the hold.
struct Procedure {
    profile: &'static str,
    k_min: f64,
    hold_min: [f64; 2],
}

const PROCEDURES: [Procedure; 2] = [
    Procedure { profile: "lift-vacuum.toml", k_min: 35.0, hold_min: [1.0, 4.0] },
    Procedure { profile: "teaching-door.toml", k_min: 12.0, hold_min: [9.5, 10.5] },
];

fn main() {
    for procedure in PROCEDURES {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../docs/furnaces");
        let profile =
            Profile::load(&path.join(procedure.profile)).expect("a shipped profile is valid");
        println!("{}: ramps of {} K/min", profile.name, procedure.k_min);
        println!("{:>6} {:>8} {:>8} {:>8} {:>8}", "°C", "hold W", "J/K", "limit K", "case °C");
        for point in profile.furnace.heater.feed_forward.iter() {
            let celsius = f64::from(point.at.get());
            // Further down the heat of the cold element decides, and no ramp is steady.
            if celsius > 300.0 {
                measure(&profile.spec, &procedure, celsius);
            }
        }
    }
}

/// A furnace that follows a ramp and a hold.
struct Driven<'a> {
    spec: &'a FurnaceSpec,
    chamber: Chamber,
    integral_w: f64,
    seconds: f64,
}

/// Means over a time.
#[derive(Default)]
struct Means {
    watt: f64,
    limit_above_k: f64,
}

impl Driven<'_> {
    fn run(&mut self, seconds: f64, setpoint_c: impl Fn(f64) -> f64) -> Means {
        let mut means = Means::default();
        let ticks = (seconds / TICK_S).round().max(1.0);
        for _ in 0..ticks as u64 {
            let error_k = setpoint_c(self.seconds) - self.chamber.control_sensor_c();
            let rated_w = self.spec.heater.rated_w;
            let wanted_w = self.integral_w + PROPORTIONAL * rated_w * error_k;
            let watt = wanted_w.clamp(0.0, rated_w);
            // The integral stands still while the cold element warms up, and at the ends of the range.
            if error_k.abs() < NEAR_K && (watt - wanted_w).abs() < 1e-9 {
                self.integral_w += INTEGRAL * rated_w * error_k * TICK_S;
            }
            self.chamber.step(watt, ATMOSPHERE_PA, 0.0);
            self.seconds += TICK_S;
            means.watt += watt / ticks;
            let above_k = self.chamber.limit_sensor_c() - self.chamber.control_sensor_c();
            means.limit_above_k += above_k / ticks;
        }
        means
    }
}

fn measure(spec: &FurnaceSpec, procedure: &Procedure, celsius: f64) {
    let piece = PieceThermal {
        count: 1,
        wall_m: 0.5e-3,
        area_m2: 220e-6,
        heat_capacity_j_m3_k: HeatCurve::ALUMINA.times(0.72 * 3_984.0),
        k_w_m_k: 2.5,
        emissivity: 0.4,
        coat_j_k: 0.0,
    };
    let chamber =
        Chamber::new(spec, &piece, spec.ambient_c).expect("a shipped furnace is good");
    let mut driven = Driven { spec, chamber, integral_w: 0.0, seconds: 0.0 };
    let k_s = procedure.k_min / 60.0;
    let ramp_s = (celsius - spec.ambient_c) / k_s;
    let setpoint_c = |seconds: f64| (spec.ambient_c + seconds * k_s).min(celsius);
    // The last 100 K of the ramp, but not its beginning, where the cold element warms up first.
    let steady_s = (100.0 / k_s).min(0.4 * ramp_s);
    driven.run(ramp_s - steady_s, setpoint_c);
    let ramp = driven.run(steady_s, setpoint_c);
    let [from, to] = procedure.hold_min.map(|minutes| minutes * 60.0);
    driven.run(from, setpoint_c);
    let hold = driven.run(to - from, setpoint_c);
    let j_k = (ramp.watt - hold.watt) / k_s;
    driven.run(80.0 * 60.0 - to, setpoint_c);
    let late = driven.run(600.0, setpoint_c);
    driven.run(6.5 * 3_600.0, setpoint_c);
    let (kelvin, network) = (driven.chamber.kelvin(), driven.chamber.network());
    let [.., case] = driven.chamber.nodes().insulation;
    println!(
        "{celsius:6.0} {:8.1} {j_k:8.0} {:8.2} {:8.0}",
        hold.watt,
        late.limit_above_k * hold.watt / late.watt,
        kelvin[network.slot(case)] - KELVIN,
    );
}
