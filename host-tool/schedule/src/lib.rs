//! What a person plans: a [`schedule`] of stages and a [`profile`] of the furnace, read from TOML
//! by [`document`] and the table of their [`keys`], which says everything that is wrong with one at
//! once. Together they become a
//! [`firing`] that the core has verified; its rehearsal may give it a [`clearance`].

pub mod clearance;
pub mod document;
pub mod firing_plan;
pub mod keys;
pub mod profile;
pub mod schedule;
pub mod text_file;

pub use firing_plan::FiringPlan;
pub use saggar_files::FilesError;
