//! Reads schedules and furnace profiles. A [`schedule`] of stages and a [`profile`] of the furnace are
//! TOML files, checked by [`document`] against the table of their [`keys`]; all errors are reported
//! at once. Together they become a [`firing_plan`] that the core has verified. A rehearsal that
//! passes, or whose verdict is not known but for which a person gives a [`reason`], gives it a
//! [`clearance`]. A [`fault_list`] is what goes wrong in a firing on purpose.

pub mod clearance;
pub mod document;
pub mod fault_list;
pub mod firing_plan;
pub mod keys;
pub mod profile;
pub mod reason;
pub mod schedule;
pub mod text_file;

pub use firing_plan::FiringPlan;
pub use saggar_files::FilesError;
