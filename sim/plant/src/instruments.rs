//! Readings of the controller's front ends: noise, converter steps, offset, cold junction. The lag
//! of a sensor is a mass in the chamber's thermal network.

use rand_core::Rng;
use rand_xoshiro::Xoshiro256PlusPlus;
use saggar_core::io::ThermocoupleSample;
use saggar_core::sensors::ThermocoupleType;

use crate::spec::SensorSpec;

/// Temperature change after which a reference function is expanded again (K). From 0 °C to the end of
/// every type's range the error stays under 0.002 µV (a test measures it).
const EXPAND_K: f64 = 2.0;

/// Half the interval of the difference quotients of an expansion (K).
const BASE_K: f64 = 0.5;

/// Lowest chamber temperature (°C). The reference functions of K and N have two ranges that meet at
/// 0 °C; for N the slope jumps there.
const COLDEST_C: f64 = 0.0;

/// One step of the cold-junction sensor (thousandths of a degree): 1/16 °C, as in common parts (common
/// practice, no source).
const COLD_STEP_MC: f64 = 62.5;

/// A reference function near one temperature, to second order: exact enough, and many times
/// faster than the polynomial in a loop of a million ticks.
#[derive(Clone, Copy, Debug)]
struct Expansion {
    at_c: f64,
    emf_uv: f64,
    slope: f64,
    bend: f64,
}

impl Expansion {
    fn near(kind: ThermocoupleType, celsius: f64) -> Self {
        // Beyond its range the function is extrapolated from the end of the range.
        let (_, hottest_c) = kind.range_c();
        let at_c = celsius.max(COLDEST_C + BASE_K).min(hottest_c - BASE_K);
        // Within its range, every type has a value.
        let emf = |c: f64| kind.emf_uv(c).unwrap_or(0.0);
        let (low, mid, high) = (emf(at_c - BASE_K), emf(at_c), emf(at_c + BASE_K));
        Self {
            at_c,
            emf_uv: mid,
            slope: (high - low) / (2.0 * BASE_K),
            bend: (high - 2.0 * mid + low) / (2.0 * BASE_K * BASE_K),
        }
    }

    fn emf_uv(&self, celsius: f64) -> f64 {
        let away = celsius - self.at_c;
        self.emf_uv + away * (self.slope + away * self.bend)
    }
}

/// Noise in units of [`NOISE_UNITS`] to the standard deviation: the sum of four independent
/// uniform numbers, centred (Irwin and Hall). After any filter it is as smooth as a Gaussian, it never
/// exceeds 3.5 deviations, and it takes one draw instead of a table look-up. Speed counts, because an
/// instrument is read ten times per simulated second.
fn noise(rng: &mut Xoshiro256PlusPlus) -> f64 {
    // One draw gives four numbers of 16 bits, which are added in pairs.
    const LOW_HALVES: u64 = 0x0000_FFFF_0000_FFFF;
    let bits = rng.next_u64();
    let pairs = (bits & LOW_HALVES) + ((bits >> 16) & LOW_HALVES);
    let sum = (pairs as u32 + (pairs >> 32) as u32) as i32;
    f64::from(sum - 2 * 0xFFFF)
}

/// Standard deviation of that sum: the root of four times the variance 65536² / 12.
const NOISE_UNITS: f64 = 65_536.0 / 1.732_050_807_568_877_2;

/// Rounds to the nearest whole number without a branch or a library call; for numbers above
/// −2²⁰ and below 2³⁰.
fn nearest(value: f64) -> i32 {
    const UP: i32 = 1 << 20;
    (value + (f64::from(UP) + 0.5)) as i32 - UP
}

/// How the tip of a thermocouple follows the chamber at its place. The default is a healthy tip.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TipCondition {
    /// It reaches this share of the temperature in °C.
    pub share: f64,
    /// It is colder by this difference (K).
    pub colder_k: f64,
    /// An additional first-order lag, as a multiple of the sensor's own.
    pub lag_factor: Option<f64>,
}

impl Default for TipCondition {
    fn default() -> Self {
        Self { share: 1.0, colder_k: 0.0, lag_factor: None }
    }
}

/// A thermocouple and its front end.
#[derive(Clone, Debug)]
pub struct Thermocouple {
    kind: ThermocoupleType,
    lag_s: f64,
    /// Temperature of a tip that lags additionally (°C).
    lagging_c: Option<f64>,
    /// Steps of the converter per unit of noise, and per microvolt.
    noise_steps: f64,
    steps_per_uv: f64,
    step_nv: i32,
    offset_k: f64,
    hot: Expansion,
    cold_junction_mc: i32,
    cold_uv: f64,
}

impl Thermocouple {
    /// A thermocouple with the hot junction and the terminals at these temperatures (°C).
    pub fn new(spec: &SensorSpec, hot_c: f64, terminals_c: f64) -> Self {
        let step_nv = (spec.step_uv * 1000.0).round().max(1.0);
        let mut new = Self {
            kind: spec.kind,
            lag_s: spec.lag_s,
            lagging_c: None,
            noise_steps: spec.noise_uv * 1000.0 / step_nv / NOISE_UNITS,
            steps_per_uv: 1000.0 / step_nv,
            step_nv: step_nv as i32,
            offset_k: spec.offset_k,
            hot: Expansion::near(spec.kind, hot_c),
            cold_junction_mc: i32::MIN,
            cold_uv: 0.0,
        };
        new.set_terminals(terminals_c);
        new
    }

    /// Sets the temperature of the terminals (°C), in steps of their own sensor.
    pub fn set_terminals(&mut self, celsius: f64) {
        let code = f64::from(nearest(celsius * 1000.0 / COLD_STEP_MC)) * COLD_STEP_MC;
        // The code stays the same for minutes at a time.
        if self.cold_junction_mc != code as i32 {
            self.cold_junction_mc = code as i32;
            self.cold_uv = self.kind.emf_uv((code / 1000.0).max(0.0)).unwrap_or(0.0);
        }
    }

    /// Temperature of a tip in this condition (°C), `dt_s` after the last call, with the chamber at its
    /// place at `place_c`.
    pub fn tip_c(&mut self, condition: &TipCondition, place_c: f64, dt_s: f64) -> f64 {
        let target_c = place_c * condition.share;
        let before_c = *self.lagging_c.get_or_insert(place_c);
        let reached_c = match condition.lag_factor {
            None => target_c,
            Some(factor) => {
                before_c - (target_c - before_c) * libm::expm1(-dt_s / (factor * self.lag_s))
            }
        };
        self.lagging_c = Some(reached_c);
        reached_c - condition.colder_k
    }

    /// Forgets where a lagging tip was: without a fault the tip is where the chamber's network has it.
    pub const fn forget_tip(&mut self) {
        self.lagging_c = None;
    }

    /// One conversion with the hot junction at `hot_c` (°C).
    pub fn sample(&mut self, hot_c: f64, rng: &mut Xoshiro256PlusPlus) -> ThermocoupleSample {
        let hot_c = hot_c + self.offset_k;
        if (hot_c - self.hot.at_c).abs() > EXPAND_K {
            self.hot = Expansion::near(self.kind, hot_c);
        }
        let emf_uv = self.hot.emf_uv(hot_c) - self.cold_uv;
        let steps = nearest(emf_uv * self.steps_per_uv + noise(rng) * self.noise_steps);
        ThermocoupleSample {
            emf_nv: steps.saturating_mul(self.step_nv),
            cold_junction_mc: self.cold_junction_mc,
            open: false,
            age_ms: 0,
        }
    }
}

/// A pressure gauge.
#[derive(Clone, Debug)]
pub struct Gauge {
    unit_pa: f64,
}

impl Gauge {
    /// A gauge with this noise (Pa, standard deviation).
    pub fn new(noise_pa: f64) -> Self {
        Self { unit_pa: noise_pa / NOISE_UNITS }
    }

    /// One reading (Pa).
    pub fn sample(&self, pressure_pa: f64, rng: &mut Xoshiro256PlusPlus) -> u32 {
        nearest(pressure_pa + noise(rng) * self.unit_pa).max(0).unsigned_abs()
    }
}
