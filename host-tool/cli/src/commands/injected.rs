//! What a firing is to go through on purpose: faults and power cuts, from the command line and a file.
//! Whatever cannot strike is refused before anything is fired.

use std::path::Path;

use saggar_bench::PlannedCut;
use saggar_files::{Diagnostic, FilesError, display_path};
use saggar_plant::faults::{Fault, FaultKind};
use saggar_schedule::fault_list::{self, fault_text, first_overlap};
use saggar_schedule::firing_plan::FiringPlan;
use saggar_verdict::format::{duration, one_decimal};

/// Most power cuts of one fault that comes and goes.
const CUTS_MAX: f64 = 1000.0;

/// Faults and power cuts.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct InjectedFaults {
    /// The faults, but for failures of the power in a rehearsal.
    pub faults: Vec<Fault>,
    /// The power cuts, in order of time.
    pub cuts: Vec<PlannedCut>,
}

/// The faults of the command line and of a file.
///
/// # Errors
/// Something is wrong with the file.
pub fn faults(typed: &[Fault], file: Option<&Path>) -> Result<Vec<Fault>, FilesError> {
    let mut faults = typed.to_vec();
    if let Some(file) = file {
        faults.extend(fault_list::load(file).map_err(FilesError::Invalid)?);
    }
    Ok(faults)
}

/// The same for a rehearsal, in which a failure of the power is a planned cut.
///
/// # Errors
/// Something is wrong with the file, or a failure of the power has no end.
pub fn faults_and_cuts(
    typed: &[Fault],
    file: Option<&Path>,
    cuts: &[PlannedCut],
) -> Result<InjectedFaults, FilesError> {
    let mut injected = InjectedFaults { faults: Vec::new(), cuts: cuts.to_vec() };
    for fault in faults(typed, file)? {
        match fault.kind == FaultKind::MainsCut {
            true => injected.cuts.extend(power_cuts(&fault)?),
            false => injected.faults.push(fault),
        }
    }
    injected.cuts.sort_by(|one, other| one.at_s.total_cmp(&other.at_s));
    Ok(injected)
}

/// The cuts that a failure of the power means.
fn power_cuts(fault: &Fault) -> Result<Vec<PlannedCut>, Diagnostic> {
    let refused = |message: &str, help: &str| {
        Err(Diagnostic::for_file("--fault", format!("{}: {message}", fault_text(fault)), help))
    };
    if fault.from_s < 0.0 {
        let help = "give a minute of the firing: mains-cut@45..55";
        return refused("without power no firing is started", help);
    }
    if !fault.until_s.is_finite() {
        let help = "give its end, such as mains-cut@45..55, or as --cut 45+10";
        return refused("in a rehearsal the power must come back", help);
    }
    let Some(times) = fault.intermittent else {
        let length_s = fault.until_s - fault.from_s;
        return Ok(vec![PlannedCut { at_s: fault.from_s, length_s }]);
    };
    let count = ((fault.until_s - fault.from_s) / times.every_s).ceil();
    if count > CUTS_MAX {
        let help = format!("give at most {CUTS_MAX} periods");
        return refused(&format!("that is {count} power cuts"), &help);
    }
    let cut = |nth: u32| {
        let at_s = fault.from_s + f64::from(nth) * times.every_s;
        PlannedCut { at_s, length_s: times.for_s.min(fault.until_s - at_s) }
    };
    Ok((0..count as u32).map(cut).collect())
}

/// Refuses what cannot strike on this furnace. Only a whole device has a link and a flash.
pub(super) fn check(
    faults: &[Fault],
    cuts: &[PlannedCut],
    has_device: bool,
    plan: &FiringPlan,
) -> Result<(), FilesError> {
    if let Some((earlier, later)) = first_overlap(faults)
        && let (Some(earlier), Some(later)) = (faults.get(earlier), faults.get(later))
    {
        let message = format!(
            "{} and {} are there at the same time",
            fault_text(earlier),
            fault_text(later)
        );
        let help = "a fault stays until its end: give the two times that do not overlap, or one of them";
        return Err(Diagnostic::for_file("--fault", message, help).into());
    }
    for fault in faults {
        check_part(fault, has_device, plan)?;
    }
    check_cuts(cuts)
}

/// Refuses a fault of a part that is not there.
fn check_part(fault: &Fault, has_device: bool, plan: &FiringPlan) -> Result<(), FilesError> {
    let Some(part) = fault.kind.needs() else { return Ok(()) };
    let (name, part_name) = (fault.kind.name(), part.name());
    if part.needs_a_device() && !has_device {
        let message = format!("a rehearsal has no {part_name}, so {name} cannot strike");
        let help = "leave that fault out, or try it on a stand-in: saggar standin --fault";
        return Err(Diagnostic::for_file("--fault", message, help).into());
    }
    if !part.is_part_of(&plan.profile.spec) {
        let furnace = &plan.profile.name;
        let path = display_path(&plan.profile_path);
        let message = format!("{furnace} has no {part_name}, so {name} cannot happen");
        let help = format!(
            "leave that fault out, or give a furnace with a {part_name} with --furnace"
        );
        return Err(Diagnostic::for_file(&path, message, help).into());
    }
    Ok(())
}

/// Refuses a power cut that begins before the power is back from the one before.
fn check_cuts(cuts: &[PlannedCut]) -> Result<(), FilesError> {
    for (cut, next) in cuts.iter().zip(cuts.iter().skip(1)) {
        if next.at_s < cut.at_s + cut.length_s {
            let minute = |cut: &PlannedCut| one_decimal(cut.at_s / 60.0);
            let message = format!(
                "the power is cut at minute {}, and is off then since minute {}, for {}",
                minute(next),
                minute(cut),
                duration(cut.length_s)
            );
            let help = "make one power cut of the two, or move one of them";
            return Err(Diagnostic::for_file("--cut", message, help).into());
        }
    }
    Ok(())
}
