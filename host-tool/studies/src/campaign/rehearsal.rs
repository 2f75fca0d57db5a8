//! The same firing as a rehearsal, which draws it and gives a verdict.

use saggar_plant::faults::Fault;
pub(super) use saggar_schedule::fault_list::fault_text;

use super::reference::{OPERATOR_S, ReferenceFiring};

/// Arguments of `saggar rehearse`, from the top of the tree.
pub(super) fn rehearse_arguments(firing: &ReferenceFiring, faults: &[Fault]) -> String {
    let mut arguments = firing.schedule.rehearse_arguments();
    for fault in faults {
        arguments += &format!(" --fault {}", fault_text(fault));
    }
    format!("{arguments} --operator {OPERATOR_S} --seed {}", firing.seed)
}
