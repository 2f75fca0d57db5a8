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
    /// Platinum - 30 % rhodium / platinum - 6 % rhodium, 250 to 1820 °C. Below 250 °C its voltage is
    /// too small to measure, so it cannot control a cold furnace.
    B,
    /// Nickel-chromium / nickel-aluminium, to 1372 °C.
    K,
    /// Nickel-chromium-silicon / nickel-silicon, to 1300 °C.
    N,
}

/// Minimum temperature that is read from a type B (°C).
pub const TYPE_B_FLOOR_C: f32 = 250.0;

impl ThermocoupleType {
    /// All types.
    pub const ALL: [Self; 5] = [Self::S, Self::R, Self::B, Self::K, Self::N];

    /// The type's letter in the standard.
    pub const fn letter(self) -> char {
        match self {
            Self::S => 'S',
            Self::R => 'R',
            Self::B => 'B',
            Self::K => 'K',
            Self::N => 'N',
        }
    }

    /// Range of the reference function (°C).
    pub const fn range_c(self) -> (f64, f64) {
        polynomial::range(self.forward())
    }

    /// Voltage (µV) at a temperature (°C) with the reference junction at 0 °C, in double precision,
    /// for host tools. `None` outside the type's range.
    pub fn emf_uv(self, celsius: f64) -> Option<f64> {
        let emf_mv = polynomial::value_f64(self.forward(), celsius)?;
        let [a0, a1, a2] = K_EXPONENTIAL;
        let exponential = match self {
            Self::K if celsius > 0.0 => a0 * libm::exp(a1 * (celsius - a2) * (celsius - a2)),
            Self::S | Self::R | Self::B | Self::K | Self::N => 0.0,
        };
        Some((emf_mv + exponential) * 1000.0)
    }

    /// The voltage in single precision (mV), for the cold junction in a tick. `None` outside the
    /// pieces that cover plausible terminal temperatures.
    #[expect(clippy::cast_possible_truncation, reason = "rounded constants")]
    pub(super) fn emf_mv_f32(self, celsius: f32) -> Option<f32> {
        let emf_mv = polynomial::value_f32(self.forward_f32(), celsius)?;
        let [a0, a1, a2] = const {
            let [a0, a1, a2] = K_EXPONENTIAL;
            [a0 as f32, a1 as f32, a2 as f32]
        };
        let exponential = match self {
            // At 0 °C the later piece is used, which needs the exponential term.
            Self::K if celsius >= 0.0 => a0 * libm::expf(a1 * (celsius - a2) * (celsius - a2)),
            Self::S | Self::R | Self::B | Self::K | Self::N => 0.0,
        };
        Some(emf_mv + exponential)
    }

    /// Temperature (°C) at a voltage (mV) with the reference junction at 0 °C, with an error of at
    /// most 0.06 K. `None` outside the range of the inverse function.
    pub fn celsius(self, emf_mv: f32) -> Option<f32> {
        polynomial::value_f32(self.inverse_f32(), emf_mv)
    }

    /// Minimum terminal temperature that the cold-junction compensation uses (°C). Type B is defined
    /// from 0 °C only; its slope there is a quarter of a microvolt per kelvin, so that nothing is lost.
    pub(super) const fn terminal_min_c(self) -> f32 {
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

    /// The pieces that cover plausible terminal temperatures.
    const fn forward_f32(self) -> &'static [Polynomial<f32>] {
        match self {
            Self::S => const { &rounded::<1>(&S_FORWARD) },
            Self::R => const { &rounded::<1>(&R_FORWARD) },
            Self::B => const { &rounded::<1>(&B_FORWARD) },
            Self::K => const { &rounded::<2>(&K_FORWARD) },
            Self::N => const { &rounded::<2>(&N_FORWARD) },
        }
    }

    const fn inverse_f32(self) -> &'static [Polynomial<f32>] {
        match self {
            Self::S => const { &rounded::<4>(&S_INVERSE) },
            Self::R => const { &rounded::<4>(&R_INVERSE) },
            Self::B => const { &rounded::<2>(&B_INVERSE) },
            Self::K => const { &rounded::<3>(&K_INVERSE) },
            Self::N => const { &rounded::<3>(&N_INVERSE) },
        }
    }
}
