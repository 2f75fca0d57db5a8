//! Models of the converters on the board, with their registers and commands, so that drivers can be
//! tested without a board.
//!
//! Written from the data sheets, independently of the drivers, so that the two can disagree. A conversion that was due is done at `tick`, which stands for 100 ms. What
//! the drivers have no use for (external references, comparators, temperature modes) is left out
//! and named where it is.

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
    /// Their temperature, which is the chip's (thousandths of °C).
    pub cold_mc: i32,
    /// The wire is broken.
    pub open: bool,
    /// A terminal lies above the supply or below ground.
    pub over_under: bool,
}

/// A fault of a chip.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum ChipFault {
    /// Nothing.
    #[default]
    None,
    /// It does not respond, and its data line stays at this level (0x00 or 0xFF).
    Silent(u8),
    /// It responds, but its oscillator has stopped, so no conversion completes.
    OscillatorStopped,
}

/// Rounds a code and keeps it between its rails.
fn code(value: f64, low: i32, high: i32) -> i32 {
    (value.round() as i32).clamp(low, high)
}
