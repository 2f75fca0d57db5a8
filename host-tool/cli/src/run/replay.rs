//! Runs `replay`.

use crate::args::replay::ReplayArgs;
use crate::commands::{self, Conclusion, RecordOptions};
use crate::error::{CliError, Exit};
use crate::output;
use saggar_terminal::DisplayOptions;

pub(super) fn replay(args: &ReplayArgs, display: &DisplayOptions) -> Result<Exit, CliError> {
    let options = args.schedule.as_ref().map(|schedule| RecordOptions {
        log: &args.log,
        schedule,
        furnace: args.furnace.as_deref(),
        start_c: args.start,
        clearance: args.clearance.as_deref(),
        out: args.out.as_deref(),
        scale: display.scale,
    });
    // What is wrong with a file is said before the long way through the recording.
    let plan = options.as_ref().map(RecordOptions::load).transpose()?;
    let programme = plan.as_ref().map(|plan| plan.image.digest());
    let replayed = commands::replay(&args.log, args.csv.as_deref(), programme)?;
    let judged = options.zip(plan).map(|(options, plan)| options.judge(&replayed, plan));
    let mut judged = judged.transpose()?;
    output::log_replay(&replayed, judged.as_ref(), display)?;
    let saved = judged.as_mut().and_then(|judged| judged.saved.take());
    if let Some(Err(failure)) = saved {
        let error = CliError::Report(failure);
        output::show_report_error(&error, display);
        return Ok(error.exit());
    }
    Ok(match replayed.conclusion() {
        Conclusion::Equal => {
            judged.map_or(Exit::Pass, |judged| judged.fired.verdict.result().into())
        }
        Conclusion::Different => Exit::Fail,
        Conclusion::NotKnown => Exit::NotKnown,
        Conclusion::Damaged(_) => Exit::BadInput,
    })
}
