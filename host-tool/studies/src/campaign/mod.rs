//! Campaigns: many firings, each with something wrong, and what must hold in all of them.
//!
//! * `schedules`: the twelve firings that everything is tried in.
//! * `variants`: the faults that are tried, each with what must follow.
//! * `expectation`: what must follow a fault, and by when.
//! * `reference`: a healthy firing with a copy of the bench at each moment.
//! * `watch`: the observers of a case.
//! * `case`: one firing with its faults, how it went, and whether that is right.
//! * `report`: what became of a case; `rehearsal`: the same firing as a rehearsal.
//! * `run`: runs a campaign or a part of it; `parallel`: on all processors.
//! * `drawn`: firings drawn from a seed.
//! * `singles`, `doubles`, `cuts`, `healthy`, `seeds`, `decade`: the campaigns; `kind`: all of them by name.
//! * `gap`: what the interlocks are known not to hold.
//! * `hardware`: pairs of faults that only hardware can cut.
//! * `summary`: what a campaign found, by rows; `table`: the same in a page.

mod case;
mod cuts;
mod decade;
mod doubles;
mod drawn;
mod error;
mod expectation;
mod gap;
mod hardware;
mod healthy;
mod kind;
mod parallel;
mod reference;
mod rehearsal;
mod report;
mod run;
mod schedules;
mod seeds;
pub mod singles;
mod summary;
mod table;
#[cfg(test)]
mod tests;
mod variants;
mod watch;

pub use case::{CaseFinding, CaseOutcome};
pub use error::CampaignError;
pub use expectation::{Expectation, Exposure};
pub use kind::CampaignKind;
pub use parallel::Shard;
pub use reference::{Moment, ReferenceFiring};
pub use report::{CaseEnd, CaseReport};
pub use run::{Campaign, CampaignResult, Sample, run};
pub use schedules::{CampaignSchedule, SCHEDULES};
pub use summary::{CampaignSummary, Coverage, SummaryRow};
pub use table::{TableError, markdown, with_table};
pub use variants::{Variant, variants};
