//! The furnace and the work in it: a chamber, its vacuum, its instruments, its mains, the piece
//! inside it, and the faults that can befall them.
//!
//! * [`spec`] what the furnace and the work are made of.
//! * [`thermal`] temperatures of the chamber, its insulation, its sensors and the piece, with
//!   [`radiation`] and [`gas`] for what crosses gaps.
//! * [`constants`] of nature that more than one of these needs.
//! * [`vacuum`] pressure: pump, valves, leaks, vapour.
//! * [`mains`] what a burst of cycles puts into the element.
//! * [`closure`] the lift or door.
//! * [`instruments`] what the front ends read of all this.
//! * [`faults`] what can go wrong between plant and controller.
//! * [`piece`] drying, burn-off, infiltration, stress, melt-back.
//! * [`plant`] all of these together, a tick at a time.
//! * [`verdict`] what a firing did to the work.
//! * [`say`] quantities as people say them.
//! * [`rounding`] numbers that are advice, rounded so that they may be followed.

pub mod closure;
pub mod constants;
pub mod faults;
pub mod format;
pub mod gas;
pub mod instruments;
pub mod mains;
pub mod piece;
pub mod plant;
pub mod radiation;
pub mod rounding;
pub mod spec;
pub mod thermal;
pub mod vacuum;
pub mod verdict;
