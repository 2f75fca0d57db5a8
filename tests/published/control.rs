//! The real trim controller on plants with known responses: dead time and one lag, and two lags.
//!
//! The trim's output is limited to 0 to 1, but the closed forms assume an unlimited output. The output
//! is therefore scaled as `u = SPAN (out − 0.5)`, so that no limit is reached.
//! Tuning rule: S. Skogestad, "Simple analytic rules for model reduction and PID controller
//! tuning", J. Process Control 13 (2003) 291. The figures are the response to a unit step, computed
//! with another program at the same sample time.

use saggar_core::control::{Trim, TrimGains};

/// Sample time of all runs here (s).
const DT: f64 = 1.0e-3;

/// Range to which the trim's output is scaled.
const SPAN: f64 = 20.0;

/// A plant that is stepped sample by sample.
trait Plant {
    fn step(&mut self, input: f64) -> f64;
}

/// First-order plant with dead time, exact between samples.
struct Delayed {
    gain: f64,
    keep: f64,
    line: Vec<f64>,
    at: usize,
    output: f64,
}

impl Delayed {
    fn new(gain: f64, lag_s: f64, dead_s: f64) -> Self {
        let samples = (dead_s / DT).round() as usize;
        let line = vec![0.0; samples];
        Self { gain, keep: (-DT / lag_s).exp(), line, at: 0, output: 0.0 }
    }
}

impl Plant for Delayed {
    fn step(&mut self, input: f64) -> f64 {
        let delayed = std::mem::replace(&mut self.line[self.at], input);
        self.at = (self.at + 1) % self.line.len();
        let target = self.gain * delayed;
        self.output = target + (self.output - target) * self.keep;
        self.output
    }
}

/// Two first-order lags in series.
struct TwoLags {
    lags_s: [f64; 2],
    first: f64,
    second: f64,
}

impl Plant for TwoLags {
    fn step(&mut self, input: f64) -> f64 {
        let [a, b] = self.lags_s;
        // The midpoint of the first lag drives the second, so the error is of second order in the
        // sample time.
        let before = self.first;
        self.first = input + (self.first - input) * (-DT / a).exp();
        let between = 0.5 * (before + self.first);
        self.second = between + (self.second - between) * (-DT / b).exp();
        self.second
    }
}

/// A recorded step response.
struct Response {
    outputs: Vec<f64>,
    error_integral: f64,
}

impl Response {
    fn at(&self, seconds: f64) -> f64 {
        self.outputs[(seconds / DT).round() as usize]
    }

    /// The peak and its time.
    fn peak(&self) -> (f64, f64) {
        let (index, peak) =
            self.outputs.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1)).expect("samples");
        (*peak, index as f64 * DT)
    }
}

/// The closed loop from rest: setpoint 1 from time 0.
fn closed_loop(plant: &mut impl Plant, gain: f64, reset_s: f64, seconds: f64) -> Response {
    let gains = TrimGains {
        proportional: (gain / SPAN) as f32,
        integral: (gain / reset_s / SPAN) as f32,
        derivative: 0.0,
    };
    let mut trim = Trim::new(DT as f32);
    let mut outputs = vec![0.0];
    let mut error_integral = 0.0;
    let mut output = 0.0f64;
    for _ in 0..(seconds / DT).round() as usize {
        let out = f64::from(trim.step(&gains, 1.0, output as f32, 0.5, 1.0));
        assert!(out > 0.0 && out < 1.0, "the trim reached its limit: {out}");
        output = plant.step(SPAN * (out - 0.5));
        outputs.push(output);
        error_integral += (1.0 - output).abs() * DT;
    }
    Response { outputs, error_integral }
}

fn near(what: &str, found: f64, expected: f64, within: f64) {
    println!("{what}: {found:.5}, expected {expected:.5}");
    assert!((found - expected).abs() <= within, "{what}: {found}, not {expected} ± {within}");
}

/// SIMC with the dead time as closed-loop time: Kc = τ / (k 2θ), Ti = min(τ, 8θ).
fn simc(lag_s: f64) -> Response {
    let (gain, reset_s) = (lag_s / 2.0, lag_s.min(8.0));
    closed_loop(&mut Delayed::new(1.0, lag_s, 1.0), gain, reset_s, 60.0)
}

#[test]
fn step_response_with_equal_lag_and_dead_time() {
    let response = simc(1.0);
    let (peak, when) = response.peak();
    near("overshoot, %", 100.0 * (peak - 1.0), 4.0583, 0.02);
    near("peak at, s", when, 4.737, 0.02);
    near("integral of error", response.error_integral, 2.168_77, 0.002);
    near("y(2)", response.at(2.0), 0.500_16, 0.001);
    near("y(5)", response.at(5.0), 1.039_09, 0.000_5);
}

#[test]
fn step_response_with_a_long_lag() {
    let response = simc(10.0);
    let (peak, when) = response.peak();
    near("overshoot, %", 100.0 * (peak - 1.0), 8.1350, 0.03);
    near("peak at, s", when, 4.801, 0.02);
    near("integral of error", response.error_integral, 2.499_87, 0.003);
    near("y(5)", response.at(5.0), 1.080_39, 0.000_5);
}

/// G = 1/((10s+1)(2s+1)), C = 4(1 + 1/(5s)): linear analysis of the same loop.
#[test]
fn step_response_of_two_lags() {
    let mut plant = TwoLags { lags_s: [10.0, 2.0], first: 0.0, second: 0.0 };
    let response = closed_loop(&mut plant, 4.0, 5.0, 60.0);
    let (peak, when) = response.peak();
    near("peak", peak, 1.312_465, 0.000_5);
    near("peak at, s", when, 8.127, 0.02);
    near("y(5)", response.at(5.0), 1.030_532, 0.000_5);
    near("y(10)", response.at(10.0), 1.249_114, 0.000_5);
    near("y(20)", response.at(20.0), 0.970_866, 0.000_5);
}

/// Checks the plant model by its limit cycle under an ideal relay: amplitude k(1 − e^(−θ/τ)), period
/// 2τ ln(2e^(θ/τ) − 1), both exact.
#[test]
fn relay_cycle_of_the_plant() {
    for (gain, lag_s, dead_s) in [(1.0, 1.0, 1.0), (1.0, 10.0, 1.0), (2.0, 100.0, 5.0)] {
        let mut plant = Delayed::new(gain, lag_s, dead_s);
        let (mut output, mut high, mut crossings) = (0.0f64, 0.0f64, Vec::new());
        for i in 0..(40.0 * (dead_s + dead_s) / DT) as usize {
            let before = output;
            output = plant.step(if output < 0.0 { 1.0 } else { -1.0 });
            if i as f64 * DT > 20.0 * dead_s {
                high = high.max(output);
                if before < 0.0 && output >= 0.0 {
                    crossings.push(i as f64 * DT);
                }
            }
        }
        let ratio = dead_s / lag_s;
        let span = crossings.last().unwrap() - crossings[0];
        let period = span / (crossings.len() - 1) as f64;
        near("amplitude", high, gain * (1.0 - (-ratio).exp()), 0.002);
        near("period, s", period, 2.0 * lag_s * (2.0 * ratio.exp() - 1.0).ln(), 0.02);
    }
}

/// During a long time at full power the integral does not grow, so the furnace leaves the limit without
/// the overshoot that a wound-up integral causes.
#[test]
fn integral_does_not_wind_up() {
    let gains = TrimGains { proportional: 0.008_333, integral: 8.68e-5, derivative: 0.0 };
    let run = |conditional: bool| {
        // 1200 K at full power, a lag of 240 s, a dead time of 12 s.
        let mut plant = Delayed::new(1200.0, 240.0, 12.0);
        let (mut trim, mut raw, mut output, mut high) =
            (Trim::new(DT as f32), 0.0, 0.0f64, 0.0f64);
        for _ in 0..(1500.0 / DT) as usize {
            let out = if conditional {
                f64::from(trim.step(&gains, 800.0, output as f32, 0.0, 1.0))
            } else {
                raw += f64::from(gains.integral) * (800.0 - output) * DT;
                (f64::from(gains.proportional) * (800.0 - output) + raw).clamp(0.0, 1.0)
            };
            output = plant.step(out);
            high = high.max(output);
        }
        (high - 800.0, output - 800.0)
    };
    let (over, rest) = run(true);
    let (wound_up, _) = run(false);
    println!("overshoot {over:.1} K; an integral that winds up: {wound_up:.1} K");
    assert!(wound_up > 200.0, "the case causes no windup, so it checks nothing: {wound_up} K");
    assert!(over < 5.0, "{over} K");
    assert!(rest.abs() < 1.0, "{rest} K off at the end");
}

/// An input that is NaN or infinite gives no heat and does not affect later outputs.
#[test]
fn non_finite_inputs_give_no_heat() {
    let gains = TrimGains { proportional: 0.02, integral: 0.001, derivative: 0.0 };
    let mut trim = Trim::new(0.1);
    let mut other = trim.clone();
    for bad in [f32::NAN, f32::INFINITY, f32::NEG_INFINITY] {
        for (setpoint, reading, feed) in [(bad, 20.0, 0.1), (30.0, bad, 0.1), (30.0, 20.0, bad)]
        {
            assert_eq!(trim.step(&gains, setpoint, reading, feed, 1.0).to_bits(), 0);
            let after = trim.step(&gains, 30.0, 25.0, 0.1, 1.0);
            assert_eq!(after.to_bits(), other.step(&gains, 30.0, 25.0, 0.1, 1.0).to_bits());
            assert!(after > 0.1);
        }
    }
}

/// A feed-forward far beyond full power, from a wrong table, does not overwhelm the trim: far above the
/// setpoint the output is zero, and far below it is full even if the table asks for far less than none.
#[test]
fn feed_forward_cannot_overwhelm_the_trim() {
    let gains = TrimGains { proportional: 0.02, integral: 0.0, derivative: 0.0 };
    for feed in [1.0, 1.5, 100.0, f32::MAX] {
        assert_eq!(Trim::new(0.1).step(&gains, 800.0, 860.0, feed, 1.0).to_bits(), 0, "{feed}");
        let equal = Trim::new(0.1).step(&gains, 800.0, 825.0, 1.0, 1.0);
        assert_eq!(
            Trim::new(0.1).step(&gains, 800.0, 825.0, feed, 1.0).to_bits(),
            equal.to_bits()
        );
    }
    for feed in [0.0, -1.5, -100.0, f32::MIN] {
        let full = Trim::new(0.1).step(&gains, 800.0, 740.0, feed, 1.0);
        assert_eq!(full.to_bits(), 1.0f32.to_bits(), "{feed}");
    }
}
