//! The world around the control core: a chamber, its vacuum, its instruments, its mains, the
//! piece inside it, and the faults that can befall them, with the real [`saggar_core`]
//! controller in the loop.
//!
//! * [`spec`] what the furnace and the work are made of.
//! * [`thermal`] temperatures of the chamber, its insulation, its sensors and the piece, with
//!   [`radiation`] and [`gas`] for what crosses gaps.
//! * [`constants`] of nature that more than one of these needs.
//! * [`vacuum`] pressure: pump, valves, leaks, vapour.
//! * [`mains`] what a burst of cycles puts into the element.
//! * [`closure`] the lift or door.
//! * [`instruments`] what the front ends read of all this.
//! * [`chips`] the registers of those front ends, for drivers without a board.
//! * [`faults`] what can go wrong between plant and controller.
//! * [`piece`] drying, burn-off, infiltration, stress, melt-back.
//! * [`rig`] plant and controller in one loop.
//! * [`record`] the trace of a firing.
//! * [`verdict`] what a firing did to the work.
//! * [`safe_side`] numbers that are advice, rounded so that they may be followed.

pub mod chips;
pub mod closure;
pub mod constants;
pub mod faults;
pub mod gas;
pub mod instruments;
pub mod mains;
pub mod piece;
pub mod radiation;
pub mod record;
pub mod rig;
pub mod safe_side;
pub mod spec;
pub mod thermal;
pub mod vacuum;
pub mod verdict;
