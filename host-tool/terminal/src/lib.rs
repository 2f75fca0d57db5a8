//! Text on a terminal: what is written is escaped, coloured by us alone, and wrapped to its width, and
//! what is typed at it is read line by line.

mod answer;
mod display;
mod progress;
mod screen;
mod typed_lines;
mod wrap;

pub use answer::{
    notice, plural, print_answer, print_confirmation, print_generated, print_json, with_ok,
};
pub use display::{DisplayOptions, width};
pub use progress::{CampaignProgress, RehearsalProgress};
pub use screen::{
    BAD, Cursor, GOOD, Printer, STRONG, StyledLine, UNKNOWN, before_parsing, plain_stdout,
    stderr, stdout,
};
pub use typed_lines::{ForegroundInput, TypedLines, end_asked};
pub use wrap::lines;
