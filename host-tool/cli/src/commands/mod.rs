//! The commands. Each takes plain arguments and returns data; parsing and printing are done
//! elsewhere.

mod campaign;
mod check;
mod compile;
mod conditions;
pub mod device;
mod fault_outcomes;
mod injected;
mod keys;
mod manual;
mod new;
mod recorded;
mod rehearse;
mod replay;
mod show;
mod standin;
mod start_condition;
mod trips;

pub use campaign::{CampaignOptions, CampaignRun, campaign, campaign_case};
pub use check::{CheckResult, CheckedFile, FaultSummary, ProfileSummary, check};
pub use compile::{CompileResult, compile};
pub use conditions::{
    MAINS, OPERATOR_S, OperatorBehaviour, RehearsalOptions, ReportTarget, SEED,
};
pub use injected::{InjectedFaults, faults, faults_and_cuts};
pub use keys::{KeyChange, Sections, keys, set};
pub use manual::{ManualPage, write_manual};
pub use new::{EXAMPLES, Example, NewFiles, new};
pub use recorded::{RecordOptions, RecordVerdict};
pub use rehearse::{RehearsalResult, rehearse};
pub use replay::{Conclusion, LogReplay, replay};
pub use show::{ProgrammeListing, StepListing, show};
pub use standin::{EmulatedImage, RunFigures, StandInOptions, StandInReport, standin};
pub use start_condition::StartCondition;
pub use trips::{TripList, trips};
