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

pub use check::{Checked, check};
pub use compile::{Compiled, compile};
pub use conditions::{MAINS, OPERATOR_S, Operator, Rehearsal, SEED, Target};
pub use keys::{Change, Sections, keys, set};
pub use rehearse::{Rehearsed, rehearse};
pub use replay::{Conclusion, Replayed, replay};
pub use show::{ShownProgramme, ShownStep, show};
pub use standin::{Heard, Image, Run, StandIn, standin};
