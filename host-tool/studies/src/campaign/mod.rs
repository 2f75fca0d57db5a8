//! Campaigns: many firings, each with something wrong, and what must hold in all of them.
//!
//! * `schedules`: the twelve firings that everything is tried in.
//! * `variants`: the faults that are tried, each with what must follow.
//! * `expectation`: what must follow a fault, and by when.
//! * `reference`: a healthy firing with a copy of the bench at each moment.
//! * `watch`: the observers of a case.
//! * `case`: one firing with its faults, how it went, and whether that is right.
//! * `singles`, `doubles`: the campaigns.
//! * `parallel`: runs cases on all processors.

mod case;
pub mod doubles;
mod expectation;
mod parallel;
mod reference;
mod schedules;
pub mod singles;
mod variants;
mod watch;

pub use case::{CaseOutcome, Finding};
pub use expectation::{Expectation, Exposure};
pub use parallel::Shard;
pub use reference::{Moment, ReferenceFiring};
pub use schedules::{CampaignSchedule, SCHEDULES};
pub use variants::{Variant, variants};

/// Why a campaign cannot run.
#[derive(Debug, thiserror::Error)]
pub enum CampaignError {
    /// A schedule of the campaign does not compile: its name and why.
    #[error("the schedule {0} of the campaign cannot be used: {1}")]
    Schedule(&'static str, String),
    /// The healthy firing cannot be set up.
    #[error("the healthy firing cannot be set up: {0}")]
    Setup(#[from] saggar_bench::SetupError),
    /// The healthy firing did not run to its end.
    #[error("the healthy firing of {0} did not complete: {1}")]
    Unhealthy(&'static str, String),
}
