//! Which faults of a firing had an effect: for each that had none, the output explains why.

use saggar_bench as bench;
use saggar_plant::faults::Fault;

use crate::error::CliError;
use saggar_files::{Diagnostic, display_path};
use saggar_schedule::firing_plan::FiringPlan;

/// The effect of one fault.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum FaultOutcome {
    /// It struck during the firing and, if that could be compared, changed the trace.
    Struck,
    /// The firing ended before its time, or did not begin.
    Missed,
    /// It struck, and the trace is the same as without it.
    Hidden,
    /// As `Hidden`, but only because of the other faults.
    Masked,
}

/// Refuses a fault that is given twice, and one of a part that the furnace does not have.
pub(super) fn check_supported(faults: &[Fault], plan: &FiringPlan) -> Result<(), CliError> {
    for (index, Fault { kind, .. }) in faults.iter().enumerate() {
        if faults[..index].iter().any(|earlier| earlier.kind == *kind) {
            let message = format!("{} is given twice", kind.name());
            let help = "a fault stays once it has struck: give its earliest minute only";
            return Err(Diagnostic::for_file(plan.source.name(), message, help).into());
        }
    }
    let missing = |one: &Fault| {
        let part = one.kind.needs()?;
        (!part.is_part_of(&plan.profile.spec)).then_some((one.kind.name(), part.name()))
    };
    let Some((fault, part)) = faults.iter().find_map(missing) else {
        return Ok(());
    };
    let furnace = &plan.profile.name;
    let path = display_path(&plan.profile_path);
    let message = format!("{furnace} has no {part}, so {fault} cannot happen");
    let help = format!("leave that fault out, or give a furnace with a {part} with --furnace");
    Err(Diagnostic::for_file(&path, message, help).into())
}

/// The outcomes by the time of the end alone, for a firing that cannot be run again.
pub(super) fn outcomes_by_time(
    faults: &[Fault],
    fired: &bench::FiringResult,
) -> Vec<FaultOutcome> {
    let ended_s = fired.trace.duration_s();
    let fate = |fault: &Fault| {
        let fired_then = fired.not_started.is_none() && fault.from_s <= ended_s;
        match fault.from_s < 0.0 || fired_then {
            true => FaultOutcome::Struck,
            false => FaultOutcome::Missed,
        }
    };
    faults.iter().map(fate).collect()
}

/// The outcomes by running the firing again without each fault that struck, and comparing the traces.
/// `fire` runs it with the given faults.
pub(super) fn outcomes_by_comparison(
    faults: &[Fault],
    fired: &bench::FiringResult,
    fire: impl Fn(Vec<Fault>) -> bench::FiringResult,
) -> Vec<FaultOutcome> {
    let mut fates = outcomes_by_time(faults, fired);
    for (index, fate) in
        fates.iter_mut().enumerate().filter(|(_, fate)| **fate == FaultOutcome::Struck)
    {
        let mut others = faults.to_vec();
        let fault = others.remove(index);
        if !fired.trace.has_same_effects_as(&fire(others).trace) {
            continue;
        }
        let alone = || fire(vec![fault]).trace.has_same_effects_as(&fire(Vec::new()).trace);
        *fate = if faults.len() == 1 || alone() {
            FaultOutcome::Hidden
        } else {
            FaultOutcome::Masked
        };
    }
    fates
}

/// What a fault failed to do, and why; `None` if it struck.
pub(super) fn explanation(
    fault: &Fault,
    fate: FaultOutcome,
    fired: &bench::FiringResult,
) -> Option<(&'static str, String)> {
    match fate {
        FaultOutcome::Struck => None,
        FaultOutcome::Missed if fired.not_started.is_some() => {
            Some(("did not strike", "the firing did not begin".to_owned()))
        }
        FaultOutcome::Missed => {
            let minute = fired.trace.duration_s() / 60.0;
            Some(("did not strike", format!("the firing ended at minute {minute:.0}")))
        }
        FaultOutcome::Hidden => {
            Some(("changed nothing", fault.kind.unnoticed_reason().to_owned()))
        }
        FaultOutcome::Masked => {
            Some(("changed nothing", "the other faults left it nothing to change".to_owned()))
        }
    }
}

/// The explanations for all faults, each in a sentence.
pub(super) fn explanations(
    faults: &[Fault],
    fates: &[FaultOutcome],
    fired: &bench::FiringResult,
) -> Vec<String> {
    let each = |(fault, fate): (&Fault, &FaultOutcome)| {
        let (what, why) = explanation(fault, *fate, fired)?;
        Some(format!("{} {what}: {why}", fault.kind.name()))
    };
    faults.iter().zip(fates).filter_map(each).collect()
}
