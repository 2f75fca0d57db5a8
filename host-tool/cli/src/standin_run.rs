//! From what was typed for a stand-in to an exit code.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use crate::Error;
use crate::args::standin::StandIn;
use crate::commands::{self, Heard};
use crate::error::{EXIT_BAD_INPUT, EXIT_PASS, EXIT_VERDICT_FAILED};
use crate::output;
use crate::settings::Display;

/// Stands in for a furnace and shows what happens.
pub(crate) fn standin(args: &StandIn, display: &Display) -> Result<u8, Error> {
    let going = Arc::new(AtomicBool::new(true));
    let asked = Arc::clone(&going);
    // Without it Ctrl-C ends the program at once, which leaves nothing half done either.
    let _ = ctrlc::set_handler(move || asked.store(false, Ordering::Relaxed));
    let tell = |heard: Heard<'_>| output::stand_in(&heard, args, display);
    let passed =
        commands::standin(args, display.scale, tell, || going.load(Ordering::Relaxed))?;
    Ok(match passed {
        Some(true) => EXIT_PASS,
        Some(false) => EXIT_VERDICT_FAILED,
        None if args.once => EXIT_BAD_INPUT,
        None => EXIT_PASS,
    })
}
