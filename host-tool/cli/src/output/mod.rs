//! Prints results on standard output, as text or as JSON, and errors and notices on standard error.

mod campaign;
mod device;
mod error;
mod keys;
mod new;
mod programme;
mod replay;
mod standin;
mod standin_faults;
mod trips;
mod verdict;
mod view;

pub use campaign::{campaign, campaign_case};
pub use device::{info, log, message, new_key, settings, stopped, uploaded};
pub use error::{
    help, plain_usage_error, show_error, show_report_error, usage_error,
    usage_error_for_programs,
};
pub use keys::{keys, set};
pub use new::{examples, manual_files, new_files};
pub use programme::{check_results, compiled_schedule, programme};
pub use replay::log_replay;
pub use saggar_terminal::{CampaignProgress, RehearsalProgress, notice, print_generated};
pub use standin::stand_in;
pub use trips::trips;
pub use verdict::rehearsal_result;
pub use view::WatchView;
