//! Thermocouples by the reference functions of IEC 60584-1.

use serde::{Deserialize, Serialize};

use super::coefficients::{
    B_FORWARD, B_INVERSE, K_EXPONENTIAL, K_FORWARD, K_INVERSE, N_FORWARD, N_INVERSE, R_FORWARD,
    R_INVERSE, S_FORWARD, S_INVERSE,
};
use super::polynomial::{self, Polynomial, rounded};

/// A standardised thermocouple.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum ThermocoupleType {
    /// Platinum - 10 % rhodium / platinum, to 1768 °C.
    S,
    /// Platinum - 13 % rhodium / platinum, to 1768 °C.
    R,
    /// Platinum - 30 % rhodium / platinum - 6 % rhodium, 250 to 1820 °C. Below, its voltage is
    /// no measure: it cannot lead a furnace up from cold.
    B,
    /// Nickel-chromium / nickel-aluminium, to 1372 °C.
    K,
    /// Nickel-chromium-silicon / nickel-silicon, to 1300 °C.
    N,
}

/// Below this a type B is not read (°C).
pub const TYPE_B_FLOOR_C: f32 = 250.0;

impl ThermocoupleType {
    /// All of them.
    pub const ALL: [Self; 5] = [Self::S, Self::R, Self::B, Self::K, Self::N];

    /// The letter of the standard.
    pub const fn letter(self) -> char {
        match self {
            Self::S => 'S',
            Self::R => 'R',
            Self::B => 'B',
            Self::K => 'K',
            Self::N => 'N',
        }
    }

    /// Coldest and hottest temperature of the reference function (°C).
    pub const fn range_c(self) -> (f64, f64) {
        polynomial::range(self.forward())
    }

    /// Voltage (µV) at a temperature (°C) with the reference junction at 0 °C, in double
    /// precision: for desks and instruments. `None` outside the type's range.
    pub fn emf_uv(self, celsius: f64) -> Option<f64> {
        let emf_mv = polynomial::exact(self.forward(), celsius)?;
        let [a0, a1, a2] = K_EXPONENTIAL;
        let bump = match self {
            Self::K if celsius > 0.0 => a0 * libm::exp(a1 * (celsius - a2) * (celsius - a2)),
            Self::S | Self::R | Self::B | Self::K | Self::N => 0.0,
        };
        Some((emf_mv + bump) * 1000.0)
    }

    /// The same in single precision (mV), for the cold junction inside a tick.
    /// `None` outside the pieces in which terminals lie.
    #[expect(clippy::cast_possible_truncation, reason = "rounded constants")]
    pub(super) fn emf_mv_quick(self, celsius: f32) -> Option<f32> {
        let emf_mv = polynomial::quick(self.quick_forward(), celsius)?;
        let [a0, a1, a2] = const {
            let [a0, a1, a2] = K_EXPONENTIAL;
            [a0 as f32, a1 as f32, a2 as f32]
        };
        let bump = match self {
            // At 0 °C the later piece counts, and needs its bump.
            Self::K if celsius >= 0.0 => a0 * libm::expf(a1 * (celsius - a2) * (celsius - a2)),
            Self::S | Self::R | Self::B | Self::K | Self::N => 0.0,
        };
        Some(emf_mv + bump)
    }

    /// Temperature (°C) at a voltage (mV) with the reference junction at 0 °C. `None` outside
    /// the range of the inverse; the error is at most 0.06 K.
    pub fn celsius(self, emf_mv: f32) -> Option<f32> {
        polynomial::quick(self.quick_inverse(), emf_mv)
    }

    /// Coldest temperature of the reference function that a terminal can have (°C): type B is
    /// defined from 0 °C on, where its slope is a quarter of a microvolt a kelvin.
    pub(super) const fn coldest_c(self) -> f32 {
        match self {
            Self::B => 0.0,
            Self::S | Self::R | Self::K | Self::N => -20.0,
        }
    }

    const fn forward(self) -> &'static [Polynomial<f64>] {
        match self {
            Self::S => &S_FORWARD,
            Self::R => &R_FORWARD,
            Self::B => &B_FORWARD,
            Self::K => &K_FORWARD,
            Self::N => &N_FORWARD,
        }
    }

    /// The pieces in which terminals lie.
    const fn quick_forward(self) -> &'static [Polynomial<f32>] {
        match self {
            Self::S => const { &rounded::<1>(&S_FORWARD) },
            Self::R => const { &rounded::<1>(&R_FORWARD) },
            Self::B => const { &rounded::<1>(&B_FORWARD) },
            Self::K => const { &rounded::<2>(&K_FORWARD) },
            Self::N => const { &rounded::<2>(&N_FORWARD) },
        }
    }

    const fn quick_inverse(self) -> &'static [Polynomial<f32>] {
        match self {
            Self::S => const { &rounded::<4>(&S_INVERSE) },
            Self::R => const { &rounded::<4>(&R_INVERSE) },
            Self::B => const { &rounded::<2>(&B_INVERSE) },
            Self::K => const { &rounded::<3>(&K_INVERSE) },
            Self::N => const { &rounded::<3>(&N_INVERSE) },
        }
    }
}
