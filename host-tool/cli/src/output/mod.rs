//! Showing results: on standard output for whoever asked, as text or as JSON. Everything else,
//! findings above all, goes to standard error.

mod answer;
mod device;
mod error;
mod keys;
mod programme;
mod progress;
mod replay;
mod screen;
mod standin;
mod verdict;
mod view;
mod wrap;

pub use answer::{generated, notice};
pub use device::{info, log, message, new_key, settings, stopped, uploaded};
pub use error::{failed, unsaved, usage, usage_for_programs, usage_without_colours};
pub use keys::{keys, set};
pub use programme::{checked, compiled, programme};
pub use progress::Progress;
pub use replay::replayed;
pub use standin::stand_in;
pub use verdict::rehearsed;
pub use view::View;
