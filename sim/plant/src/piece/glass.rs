//! The glass: viscosity by Vogel, Fulcher and Tammann, and the flow over a temperature history.
//!
//! Infiltration and levelling both depend on the integral of time over viscosity along the
//! temperature of the piece, so one integral serves both. It is a trapezoid over the steps with
//! the arithmetic mean of the piece's layers: the front crosses all of them, and in a thin wall
//! they differ by a kelvin or two. The error of one step is at most `(s b dt)² / 12` of the
//! step, `s` the relative change of fluidity a kelvin and `b` the rate of heating: for 1 s, 2.5
//! K/s and the 1.4 % a kelvin of the lanthanum glass at 1120 °C, 0.01 %.

use crate::spec::GlassSpec;

impl GlassSpec {
    /// log10 of the viscosity (Pa s) at `t_c` (°C); `None` at or below the pole, where the
    /// glass does not flow at all.
    pub fn log10_viscosity(&self, t_c: f64) -> Option<f64> {
        let above = t_c - self.vft_t0_c;
        (above > 0.0).then(|| self.vft_a + self.vft_b_k / above)
    }

    /// One over the viscosity (1/(Pa s)); 0 at or below the pole.
    pub fn fluidity(&self, t_c: f64) -> f64 {
        libm::exp(self.ln_fluidity(t_c))
    }

    /// Natural logarithm of the fluidity; minus infinity at or below the pole.
    pub fn ln_fluidity(&self, t_c: f64) -> f64 {
        match self.log10_viscosity(t_c) {
            Some(log10) => -core::f64::consts::LN_10 * log10,
            None => f64::NEG_INFINITY,
        }
    }

    /// Relative change of fluidity a kelvin (1/K) at `t_c`; 0 at or below the pole.
    pub fn fluidity_per_k(&self, t_c: f64) -> f64 {
        let above = t_c - self.vft_t0_c;
        if above > 0.0 {
            core::f64::consts::LN_10 * self.vft_b_k / (above * above)
        } else {
            0.0
        }
    }

    /// Surface tension times the cosine of the contact angle (N/m).
    pub fn wetting_n_m(&self) -> f64 {
        self.surface_tension_n_m * libm::cos(self.contact_angle_deg.to_radians())
    }
}

/// Fluidity below this share of its peak counts as stiff again.
const STIFF_SHARE: f64 = 0.01;

/// Fluidity with its slope and its logarithm, at one temperature or summed up over time.
#[derive(Clone, Copy, Debug, PartialEq)]
struct FluiditySums {
    fluidity: f64,
    /// Times its relative change a kelvin (1/K).
    slope: f64,
    /// Times its logarithm.
    ln: f64,
}

impl FluiditySums {
    const NONE: Self = Self { fluidity: 0.0, slope: 0.0, ln: 0.0 };

    fn at(glass: &GlassSpec, t_c: f64) -> Self {
        let ln_fluidity = glass.ln_fluidity(t_c);
        let fluidity = libm::exp(ln_fluidity);
        let ln = if fluidity > 0.0 { fluidity * ln_fluidity } else { 0.0 };
        Self { fluidity, slope: fluidity * glass.fluidity_per_k(t_c), ln }
    }

    fn plus(self, seconds: f64, other: Self) -> Self {
        Self {
            fluidity: self.fluidity + seconds * other.fluidity,
            slope: self.slope + seconds * other.slope,
            ln: self.ln + seconds * other.ln,
        }
    }

    fn totals(self) -> FlowTotals {
        let mean = |sum: f64| if self.fluidity > 0.0 { sum / self.fluidity } else { 0.0 };
        FlowTotals {
            per_pa: self.fluidity,
            per_k: mean(self.slope),
            mean_ln_fluidity: mean(self.ln),
        }
    }
}

/// The flow over a whole history.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FlowTotals {
    /// Integral of time over viscosity (1/Pa).
    pub per_pa: f64,
    /// Relative change of that integral if the whole history were one kelvin hotter (1/K).
    pub per_k: f64,
    /// Mean of the natural logarithm of the fluidity (in 1/(Pa s)), weighted with the flow: the relative
    /// change of the integral if the viscosity depended one part more on temperature.
    pub mean_ln_fluidity: f64,
}

/// The flow over a temperature history.
#[derive(Clone, Debug, PartialEq)]
pub struct Flow {
    glass: GlassSpec,
    now: FluiditySums,
    started: bool,
    peak: f64,
    sums: FluiditySums,
    stiff_at_s: Option<f64>,
}

impl Flow {
    /// No flow yet.
    pub fn new(glass: GlassSpec) -> Self {
        Self {
            glass,
            now: FluiditySums::NONE,
            started: false,
            peak: 0.0,
            sums: FluiditySums::NONE,
            stiff_at_s: None,
        }
    }

    /// The glass that flows.
    pub fn glass(&self) -> &GlassSpec {
        &self.glass
    }

    /// Integral of time over viscosity so far (1/Pa).
    pub fn per_pa(&self) -> f64 {
        self.sums.fluidity
    }

    /// The flow so far.
    pub fn totals(&self) -> FlowTotals {
        self.sums.totals()
    }

    /// The flow with extra time at the given temperatures (s, °C). Negative times are subtracted.
    pub fn with_time_at(&self, more: impl IntoIterator<Item = (f64, f64)>) -> FlowTotals {
        let add = |sums: FluiditySums, (seconds, c): (f64, f64)| {
            sums.plus(seconds, FluiditySums::at(&self.glass, c))
        };
        more.into_iter().fold(self.sums, add).totals()
    }

    /// When the glass last stiffened (s): its fluidity fell below a hundredth of its peak.
    pub fn stiff_at_s(&self) -> Option<f64> {
        self.stiff_at_s
    }

    /// One step of `dt_s` that ends at `mean_c` and `at_s`; returns the flow that it added. The
    /// first step has no starting temperature and uses the one at its end.
    pub(super) fn step(&mut self, dt_s: f64, mean_c: f64, at_s: f64) -> f64 {
        let now = FluiditySums::at(&self.glass, mean_c);
        let from = if self.started { self.now } else { now };
        let added = 0.5 * dt_s * (from.fluidity + now.fluidity);
        self.sums = self.sums.plus(0.5 * dt_s, from.plus(1.0, now));
        self.peak = self.peak.max(now.fluidity);
        if now.fluidity >= STIFF_SHARE * self.peak {
            self.stiff_at_s = None;
        } else if self.stiff_at_s.is_none() {
            self.stiff_at_s = Some(at_s);
        }
        (self.now, self.started) = (now, true);
        added
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn glass() -> GlassSpec {
        GlassSpec::named("lanthanum-glass").unwrap()
    }

    #[test]
    fn nothing_flows_at_or_below_the_pole() {
        let glass = glass();
        for t in [-50.0, 20.0, glass.vft_t0_c - 1.0, glass.vft_t0_c] {
            assert_eq!(glass.log10_viscosity(t), None);
            assert!(glass.fluidity(t) < f64::MIN_POSITIVE && glass.fluidity_per_k(t) < 1e-300);
        }
        assert!(glass.fluidity(glass.vft_t0_c + 1e-9).is_finite());
    }

    #[test]
    fn the_trapezoid_keeps_its_error_bound() {
        // A fast ramp, 150 K/min up and down again, against a step a hundred times finer.
        let run = |dt: f64, n: u32| {
            let mut flow = Flow::new(glass());
            flow.step(0.0, 500.0, 0.0);
            for i in 1..=n {
                let t = f64::from(i) * dt;
                let c = if t < 250.0 { 500.0 + 2.5 * t } else { 1750.0 - 2.5 * t };
                flow.step(dt, c, t);
            }
            flow.per_pa()
        };
        let (coarse, fine) = (run(1.0, 500), run(0.01, 50_000));
        assert!((coarse / fine - 1.0).abs() < 2e-4, "{coarse} {fine}");
    }

    #[test]
    fn sensitivity_agrees_with_a_hotter_history() {
        let run = |offset: f64| {
            let mut flow = Flow::new(glass());
            for i in 0..1800 {
                flow.step(1.0, (700.0 + 0.5 * f64::from(i)).min(1120.0) + offset, 0.0);
            }
            flow
        };
        let base = run(0.0);
        let numeric = (run(0.5).per_pa() / run(-0.5).per_pa()).ln();
        assert!((base.totals().per_k / numeric - 1.0).abs() < 1e-3);
    }

    #[test]
    fn the_mean_logarithm_agrees_with_a_steeper_viscosity() {
        // A factor on the logarithm of the viscosity.
        let run = |factor: f64| {
            let glass = glass();
            let (vft_a, vft_b_k) = (factor * glass.vft_a, factor * glass.vft_b_k);
            let mut flow = Flow::new(GlassSpec { vft_a, vft_b_k, ..glass });
            for i in 0..1800 {
                flow.step(1.0, (700.0 + 0.5 * f64::from(i)).min(1120.0), 0.0);
            }
            flow
        };
        let numeric = (run(1.001).per_pa() / run(0.999).per_pa()).ln() / 0.002;
        let found = run(1.0).totals().mean_ln_fluidity;
        assert!((found / numeric - 1.0).abs() < 1e-5, "{found} {numeric}");
    }

    #[test]
    fn extra_time_agrees_with_a_longer_history() {
        let run = |seconds: u32| {
            let mut flow = Flow::new(glass());
            (0..=seconds).for_each(|_| {
                flow.step(1.0, 1100.0, 0.0);
            });
            flow
        };
        let (longer, more) = (run(900), run(300).with_time_at([(600.0, 1100.0)]));
        assert!((more.per_pa / longer.per_pa() - 1.0).abs() < 1e-9);
        assert!((more.per_k / longer.totals().per_k - 1.0).abs() < 1e-9);
        let ln_fluidity = glass().ln_fluidity(1100.0);
        assert!((more.mean_ln_fluidity / ln_fluidity - 1.0).abs() < 1e-9);
        let less = longer.with_time_at([(-600.0, 1100.0)]).per_pa;
        assert!((less / run(300).per_pa() - 1.0).abs() < 1e-9);
    }

    #[test]
    fn the_time_of_stiffening_is_cleared_when_the_glass_melts_again() {
        let mut flow = Flow::new(glass());
        flow.step(1.0, 1100.0, 10.0);
        flow.step(1.0, 600.0, 20.0);
        assert_eq!(flow.stiff_at_s(), Some(20.0));
        flow.step(1.0, 1100.0, 30.0);
        assert_eq!(flow.stiff_at_s(), None);
        flow.step(1.0, 600.0, 40.0);
        flow.step(1.0, 20.0, 50.0);
        assert_eq!(flow.stiff_at_s(), Some(40.0));
    }
}
