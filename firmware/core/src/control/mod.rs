//! Heater duty, pump and valves for the sequencer's demand.

mod element;
mod heat;
mod pressure_hold;
mod trim;
mod vacuum;

pub use heat::{HeatControl, setpoint_coast};
pub use trim::{Trim, TrimGains};
pub use vacuum::{VacuumConditions, VacuumControl, Valves};
