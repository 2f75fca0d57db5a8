//! The same firing as a rehearsal, which draws it and gives a verdict.

use saggar_plant::faults::Fault;

use super::reference::{OPERATOR_S, ReferenceFiring};

/// A fault as the command line takes it: `control-drift=60@45.5`.
pub(super) fn fault_text(fault: &Fault) -> String {
    let usual = fault.kind.severity().map(|severity| severity.default);
    let differs = usual.is_some_and(|usual| (usual - fault.severity).abs() > 0.0);
    let severity = if differs { format!("={}", fault.severity) } else { String::new() };
    let from = match fault.from_s < 0.0 {
        true => "before".to_owned(),
        false => minutes(fault.from_s),
    };
    let until = match fault.until_s.is_finite() {
        true => format!("..{}", minutes(fault.until_s)),
        false => String::new(),
    };
    let times = fault
        .intermittent
        .map_or(String::new(), |times| format!(",every={},for={}", times.every_s, times.for_s));
    format!("{}{severity}@{from}{until}{times}", fault.kind.name())
}

/// A time in minutes that loses nothing of a tick.
fn minutes(seconds: f64) -> String {
    let text = format!("{:.6}", seconds / 60.0);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// Arguments of `saggar rehearse`, from the top of the tree.
pub(super) fn rehearse_arguments(firing: &ReferenceFiring, faults: &[Fault]) -> String {
    let mut arguments = firing.schedule.rehearse_arguments();
    for fault in faults {
        arguments += &format!(" --fault {}", fault_text(fault));
    }
    format!("{arguments} --operator {OPERATOR_S} --seed {}", firing.seed)
}

#[cfg(test)]
mod tests {
    use saggar_plant::faults::FaultKind;

    use super::fault_text;

    #[test]
    fn faults_are_written_as_the_command_line_takes_them() {
        let drift = FaultKind::ControlDrift;
        assert_eq!(fault_text(&drift.before_start()), "control-drift@before");
        let odd = drift.at(2730.1).severity(-60.0).until(3000.0).intermittent(2.0, 0.3);
        assert_eq!(fault_text(&odd), "control-drift=-60@45.501667..50,every=2,for=0.3");
    }
}
