//! Why a campaign cannot run.

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
    /// There is no case with this id.
    #[error("the campaign has no case `{0}`; an id looks like `{1}`")]
    NoCase(String, String),
    /// The number of its cases is fixed.
    #[error("the number of cases of `{0}` is fixed: take a sample with --every or --shard")]
    Fixed(&'static str),
}
