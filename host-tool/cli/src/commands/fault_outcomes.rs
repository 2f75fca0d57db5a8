//! Which faults of a firing had an effect: for each that had none, the output explains why.

use saggar_bench as bench;
use saggar_plant::faults::{Fault, FaultEffect};

use saggar_schedule::fault_list::fault_text;

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

/// The outcomes by the time of the end alone, for a firing that cannot be run again.
pub(super) fn outcomes_by_time(
    faults: &[Fault],
    fired: &bench::FiringResult,
) -> Vec<FaultOutcome> {
    // The end is in the time of the core's clock, which a fault may have put back.
    let behind_s: f64 = faults.iter().map(put_back_s).sum();
    let ended_s = fired.trace.duration_s() + behind_s;
    let fate = |fault: &Fault| {
        let fired_then = fired.not_started.is_none() && fault.from_s <= ended_s;
        match fault.from_s < 0.0 || fired_then {
            true => FaultOutcome::Struck,
            false => FaultOutcome::Missed,
        }
    };
    faults.iter().map(fate).collect()
}

/// By how much a fault puts the core's clock back (s).
fn put_back_s(fault: &Fault) -> f64 {
    let FaultEffect::ClockJump(ms) = fault.effect() else { return 0.0 };
    (-ms as f64 / 1000.0).max(0.0)
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
        Some(format!("{} {what}: {why}", fault_text(fault)))
    };
    faults.iter().zip(fates).filter_map(each).collect()
}
