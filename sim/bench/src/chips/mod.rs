//! Models of the converters on the board, with their registers and commands, so that drivers can be
//! tested without a board.
//!
//! The models are written from the data sheets, independently of the drivers, so that an error in one
//! shows as a disagreement. A call of `tick` stands for 100 ms and completes a conversion that is in
//! progress. Functions that the drivers do not use (external references, comparators, temperature modes)
//! are left out; each model lists its own.

pub mod ads1115;
pub mod ads1220;
pub mod max31856;

#[cfg(test)]
mod tests;

/// The state of the terminals of a thermocouple front end.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Terminals {
    /// Voltage between them (nV).
    pub emf_nv: i32,
    /// Temperature of the terminals, which is also the chip's (thousandths of °C).
    pub cold_mc: i32,
    /// The thermocouple is an open circuit.
    pub open: bool,
    /// A terminal is above the supply voltage or below ground.
    pub over_under: bool,
}

/// A fault of a chip.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum ChipFault {
    /// No fault.
    #[default]
    None,
    /// It does not respond, and its data line stays at this level (0x00 or 0xFF).
    Silent(u8),
    /// It responds, but its oscillator has stopped, so no conversion completes.
    OscillatorStopped,
}

/// Rounds a converter code and limits it to its range.
fn code(value: f64, low: i32, high: i32) -> i32 {
    (value.round() as i32).clamp(low, high)
}
