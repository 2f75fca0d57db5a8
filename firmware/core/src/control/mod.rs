//! Station 5: how much heat, and which pump and valves, a plan takes.

mod heat;
mod trim;
mod vacuum;

pub use heat::HeatControl;
pub use trim::{Trim, TrimGains};
pub use vacuum::{VacuumControl, Valves};
