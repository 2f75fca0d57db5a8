//! What the tool can do. Each command takes plain arguments and returns data; who asked, and
//! how the answer is shown, is none of its business.

mod check;
mod compile;
mod conditions;
pub mod device;
mod fates;
mod folder_name;
mod keys;
mod rehearse;
mod replay;
mod show;
mod standin;

pub use check::{Checked, Passed, check};
pub use compile::{Compiled, compile};
pub use conditions::{OPERATOR_S, SEED, folder_of};
pub use keys::{Change, Sections, keys, set};
pub use rehearse::{Operator, Rehearsal, Rehearsed, Target, rehearse};
pub use replay::{Conclusion, Replayed, replay};
pub use show::{ShownProgramme, ShownStep, show};
pub use standin::{Counted, Heard, Run, standin};
