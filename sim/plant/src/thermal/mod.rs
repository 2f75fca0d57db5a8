//! The chamber's temperatures.
//!
//! A furnace is a [`Network`]: nodes that store heat and edges that carry it, by conduction,
//! by radiation, through gas, through porous board. A [`Stepper`] advances any network by
//! tenths of a second; [`Chamber`] is the furnace's network with its nodes by name. Textbook
//! cases are built with the same [`NetworkBuilder`] and run through the same stepper, so the
//! code that is tested against closed forms is the code that fires the work.
//!
//! The network is lumped: one temperature for the muffle, one for the table. The spread
//! over the height of the muffle is not modelled.

mod builder;
mod chamber;
mod edge;
mod elimination;
mod enclosure;
mod furnace;
mod network;
mod node_temperatures;
mod piece_thermal;
mod places;
mod response;
mod stepper;

#[cfg(test)]
pub(crate) mod tests;

pub use builder::{NetworkBuilder, NetworkError};
pub use chamber::{Chamber, Temperatures};
pub use edge::{Edge, Medium, NodeId, Wetting};
pub use elimination::MAX_NODES;
pub use furnace::{FurnaceNodes, RingNodes, furnace_network};
pub use network::{ChamberState, Network, RingLoad};
pub use node_temperatures::NodeTemperatures;
pub use piece_thermal::PieceThermal;
pub use places::RINGS;
pub use stepper::{Stepper, TICK_S};
