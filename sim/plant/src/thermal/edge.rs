//! Heat paths between two nodes.
//!
//! Every edge carries `conductance · (T1 − T2) + radiative_coefficient · (T1⁴ − T2⁴)`. That covers
//! radiation, conduction, and conduction with `k = a + b·T³`, whose integral over the
//! temperature is `a·T + b/4·T⁴`: a layer of fibre board is exact for any
//! temperature gradient.

use super::places::RINGS;
use crate::radiation::SIGMA;

/// A node of a network under construction.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NodeId(pub(super) u8);

/// The medium of the conductive part of an edge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Medium {
    /// A solid, independent of pressure.
    Solid,
    /// Gas over a gap; the conductance is area over gap (m) and the gas is node `to`.
    Film {
        /// Width of the gap (m).
        gap_m: f64,
    },
    /// A porous solid, whose pore gas carries a share of the conductance.
    Porous {
        /// Share of the pore gas at atmospheric pressure, 0 to 1.
        gas_share: f64,
        /// Size of the pores (m).
        pore_m: f64,
    },
}

/// A path of heat between two nodes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Edge {
    /// One end.
    pub from: NodeId,
    /// The other end.
    pub to: NodeId,
    /// Heat per kelvin (W/K); area over gap (m) through [`Medium::Film`].
    pub conductance: f64,
    /// Heat per kelvin to the fourth (W/K⁴).
    pub radiative_coefficient: f64,
    /// The conducting medium.
    pub medium: Medium,
    /// Factor on the path when the closure is shut, 0 to 1.
    pub shut: f64,
    /// Factor on the path when the closure is fully open, 0 to 1.
    pub open: f64,
    /// What wet pieces change.
    pub wetting: Option<Wetting>,
}

/// How wet pieces change a path.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wetting {
    /// Factors on the path when they are wet, the closure shut and fully open.
    pub factors: [f64; 2],
    /// Share of each ring of pieces in the change.
    pub shares: [f64; RINGS],
}

impl Edge {
    /// A path of constant conductance (W/K).
    pub fn conduction(from: NodeId, to: NodeId, conductance: f64) -> Self {
        Self {
            from,
            to,
            conductance,
            radiative_coefficient: 0.0,
            medium: Medium::Solid,
            shut: 1.0,
            open: 1.0,
            wetting: None,
        }
    }

    /// Radiation over an exchange area (m²).
    pub fn radiation(from: NodeId, to: NodeId, exchange_m2: f64) -> Self {
        Self { radiative_coefficient: SIGMA * exchange_m2, ..Self::conduction(from, to, 0.0) }
    }

    /// Conduction with `k = k_solid + k_radiative·T³` over area divided by length (m).
    pub fn layer(
        from: NodeId,
        to: NodeId,
        shape_m: f64,
        k_solid: f64,
        k_radiative: f64,
    ) -> Self {
        Self {
            radiative_coefficient: shape_m * k_radiative / 4.0,
            ..Self::conduction(from, to, shape_m * k_solid)
        }
    }

    /// Conduction through the gas `to` at the surface `from` (m²), over a gap (m).
    pub fn film(from: NodeId, to: NodeId, area_m2: f64, gap_m: f64) -> Self {
        Self { medium: Medium::Film { gap_m }, ..Self::conduction(from, to, area_m2 / gap_m) }
    }

    /// Gives the path a porous medium.
    pub fn porous(self, gas_share: f64, pore_m: f64) -> Self {
        Self { medium: Medium::Porous { gas_share, pore_m }, ..self }
    }

    /// Adds an exchange area (m²) to the path.
    pub fn and_radiation(self, exchange_m2: f64) -> Self {
        Self { radiative_coefficient: self.radiative_coefficient + SIGMA * exchange_m2, ..self }
    }

    /// Makes the path depend on the closure.
    pub fn by_closure(self, shut: f64, open: f64) -> Self {
        Self { shut, open, ..self }
    }

    /// Gives the path other factors when pieces are wet.
    pub fn by_wetness(self, wetting: Wetting) -> Self {
        Self { wetting: Some(wetting), ..self }
    }

    /// Factor on the path at an opening of the closure and the wetness of each ring of pieces, 0 to 1.
    pub fn factor(&self, opening: f64, wetness: [f64; RINGS]) -> f64 {
        let along = |[shut, open]: [f64; 2]| shut + (open - shut) * opening;
        let dry = along([self.shut, self.open]);
        let Some(Wetting { factors, shares }) = self.wetting else { return dry };
        let wet: f64 = shares.iter().zip(wetness).map(|(share, wet)| share * wet).sum();
        dry + (along(factors) - dry) * wet
    }
}
