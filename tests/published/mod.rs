//! The simulation and the core against figures that others have published.

mod burst;
mod control;
mod drying;
mod infiltration;
mod stress;
mod thermal;
mod thermocouple;
mod vacuum;
