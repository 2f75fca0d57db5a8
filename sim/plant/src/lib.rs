//! The furnace and the work in it: a chamber, its vacuum, its instruments, its mains, the piece
//! inside it, and the faults that can be injected.
//!
//! * [`spec`] plain data that describes the furnace and the work.
//! * [`thermal`] temperatures of the chamber, its insulation, its sensors and the piece, with
//!   [`radiation`] and [`gas`] for the heat across gaps.
//! * [`constants`] physical constants that several modules share.
//! * [`vacuum`] pressure: pump, valves, leaks, vapour.
//! * [`mains`] heater power and current for a number of mains cycles.
//! * [`closure`] the lift or door.
//! * [`instruments`] the readings of the sensor front ends.
//! * [`faults`] the faults that can be injected between plant and controller.
//! * [`piece`] drying, burn-off, infiltration, stress, melt-back.
//! * [`plant`] all of these together, advanced tick by tick.
//! * [`furnace_state`] how warm a furnace is before a firing, or as one left it.

pub mod closure;
pub mod constants;
pub mod faults;
pub mod furnace_state;
pub mod gas;
pub mod heat_curve;
pub mod instruments;
pub mod mains;
pub mod piece;
pub mod plant;
pub mod radiation;
pub mod spec;
mod terminals;
pub mod thermal;
pub mod vacuum;
