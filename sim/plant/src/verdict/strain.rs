//! Where a wall was strained too much. No number is advised: the tension follows the rate of a ramp
//! only roughly, and hardly at all where the furnace heats as fast as it can.

use super::FiringSummary;

/// A step that moves the temperature, and the largest tension that the piece had in it and until
/// the next one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StepStress {
    /// The step of the programme, from 0.
    pub step: u8,
    /// Largest tension at a face (Pa).
    pub tension_pa: f64,
    /// What moves the temperature.
    pub by: Mover,
}

/// What moves the temperature of a piece.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mover {
    /// A ramp.
    Ramp,
    /// Nothing: it cools with the heat off.
    Cooling,
    /// A chamber that opens or shuts.
    Opening,
}

/// The steps with a tension above `limit_pa`, or with one that is no number.
pub(super) fn strained(firing: &FiringSummary, limit_pa: f64) -> Vec<StepStress> {
    let above =
        |stress: &&StepStress| stress.tension_pa > limit_pa || stress.tension_pa.is_nan();
    firing.stresses.iter().filter(above).copied().collect()
}
