//! Response of a linear network, within one block of ticks, to its initial imbalance and to the
//! heater.
//!
//! Both responses are the same function, `Y(t) = (e^{tA} − 1)/A · w`: the imbalance is a constant
//! source from the start of the block, and the heat of each tick is the difference of two constant
//! sources that start one tick apart. `e^{tA}` is approximated by a sum over four real poles,
//!
//! ```text
//! Y(t) ≈ Σ p_k(t/h) / γ_k · u_k,     (C/(γ_k h) − J) u_k = w C
//! ```
//!
//! so one elimination of four independent matrices serves all ticks of the block. Four conditions
//! give the weights `p_k` at any time in the block: the first three terms of the Taylor series are
//! exact, and a node with a time constant far below the block reaches its equilibrium. A decaying
//! mode can therefore not grow at any tick of the block. The poles are free parameters, found by a
//! search for a small error over a whole block. Rational approximations of the exponential with real
//! poles are known as restricted Padé approximations (Nørsett; citation from memory).

use super::elimination::LANES;

/// Maximum number of ticks in a block.
pub(super) const BLOCK: usize = 20;

/// The poles, as shares of the block.
pub(super) const POLES: [f64; LANES] = [0.19, 0.23, 0.28, 0.35];

/// Number of powers of the time in the weights, from the constant to the cube.
pub(super) const POWERS: usize = 4;

/// The weights as polynomials of the time in ticks: `weight[pole] = Σ table[power][pole] · i^power`
/// for `i ≥ 1`.
#[derive(Clone, Debug)]
pub(super) struct Weights(pub(super) [[f64; LANES]; POWERS]);

impl Weights {
    /// Solves the four conditions `Σ weight_k γ_k^n = θ^n / n!` for `n` from 0 to 3, where
    /// `weight_k` is `p_k / γ_k`, and `θ` the time as a share of a block of `span` ticks. This is a
    /// Vandermonde system, solved with Lagrange polynomials.
    pub(super) fn new(span: usize) -> Self {
        let mut table = [[0.0; LANES]; POWERS];
        for (k, pole) in POLES.iter().enumerate() {
            // Coefficients of the polynomial that is one at this pole and zero at the others.
            let mut lagrange = [1.0, 0.0, 0.0, 0.0];
            for other in POLES.iter().enumerate().filter(|(j, _)| *j != k).map(|(_, p)| p) {
                let scale = 1.0 / (pole - other);
                let mut next = [0.0; POWERS];
                for (n, slot) in next.iter_mut().enumerate() {
                    let lower = if n == 0 { 0.0 } else { lagrange[n - 1] };
                    *slot = (lower - other * lagrange[n]) * scale;
                }
                lagrange = next;
            }
            let mut factor = 1.0;
            for (n, coefficient) in lagrange.iter().enumerate() {
                table[n][k] = coefficient * factor;
                factor /= (n + 1) as f64 * span as f64;
            }
        }
        Self(table)
    }

    /// The weights for a source with these moments.
    #[inline(always)]
    pub(super) fn at(&self, moments: [f64; POWERS]) -> [f64; LANES] {
        let mut weight = [0.0; LANES];
        for (row, moment) in self.0.iter().zip(moments) {
            for l in 0..LANES {
                weight[l] += row[l] * moment;
            }
        }
        weight
    }
}

/// The moments of a source of unit strength after this many ticks.
#[inline(always)]
pub(super) fn constant_source(ticks: usize) -> [f64; POWERS] {
    let i = ticks as f64;
    [1.0, i, i * i, i * i * i]
}

/// Advances the moments of a source that changes from tick to tick, `Σ p_j ((i−j)^n − (i−j−1)^n)`, by
/// one tick with this strength. For `n = 0` only the newest tick contributes.
#[inline(always)]
pub(super) fn next_source(moments: [f64; POWERS], strength: f64) -> [f64; POWERS] {
    let [_, one, two, three] = moments;
    [
        strength,
        one + strength,
        two + 2.0 * one + strength,
        three + 3.0 * two + 3.0 * one + strength,
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The approximation of `e^{θ z}` after `ticks` of a block over which the mode changes by the
    /// factor `e^z`.
    fn decay(z: f64, ticks: usize) -> f64 {
        let weight = Weights::new(BLOCK).at(constant_source(ticks));
        let sum: f64 =
            weight.iter().zip(POLES).map(|(w, pole)| w * pole / (1.0 - pole * z)).sum();
        1.0 + z * sum
    }

    #[test]
    fn no_mode_grows_at_any_tick_of_a_block() {
        for ticks in 1..=BLOCK {
            for step in 0..2_000 {
                let z = -(10_f64.powf(f64::from(step) / 200.0 - 4.0));
                assert!(decay(z, ticks).abs() < 1.0, "z {z} after {ticks} ticks");
            }
        }
    }

    #[test]
    fn slow_modes_have_a_small_error_and_fast_ones_vanish() {
        for (z, error) in [(-0.1, 1e-6), (-0.3, 5e-5), (-1.0, 2e-3), (-3.0, 2e-2)] {
            let found = (decay(z, BLOCK) - f64::exp(z)).abs();
            assert!(found < error, "z {z}: {found}");
        }
        assert!(decay(-1e6, 1).abs() < 1e-4 && decay(-1e6, BLOCK).abs() < 1e-4);
    }

    #[test]
    fn equal_ticks_have_the_moments_of_a_constant_source() {
        let mut moments = [0.0; POWERS];
        for ticks in 1..=BLOCK {
            moments = next_source(moments, 1.0);
            for (a, b) in moments.iter().zip(constant_source(ticks)) {
                assert!((a - b).abs() < 1e-9);
            }
        }
    }
}
