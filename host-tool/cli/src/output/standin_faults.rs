//! Shows the faults of a stand-in: what has struck, what was mended, and what tripped in between.

use saggar_plant::faults::{Fault, FaultEffect};
use saggar_standin::{FaultNews, fault_phrase};
use saggar_verdict::format::{clock_with_seconds, duration};

/// How faults are typed.
pub(super) const FAULT_HELP: &str =
    "Faults: type fault NAME to inject one, mend NAME or mend all, and faults for a list";

/// News in sentences, without what the display shows.
pub(super) fn fault_lines(news: &FaultNews) -> Vec<String> {
    match news {
        FaultNews::Struck(fault) => vec![struck_line(fault)],
        FaultNews::Mended(fault, stood_s) => {
            vec![format!("Fault mended after {}: {}", duration(*stood_s), fault.kind.name())]
        }
        FaultNews::Forgotten(kind) => vec![format!("{} will not come", kind.name())],
        FaultNews::Refused(why) => vec![format!("Not done: {why}")],
        FaultNews::Listed(all) if all.is_empty() => vec!["No fault is there".to_owned()],
        FaultNews::Listed(all) => all.iter().map(listed_line).collect(),
        FaultNews::TrippedDuring(all) => all
            .iter()
            .map(|(fault, since_s)| {
                format!("The trip came {} after {}", duration(*since_s), fault.kind.name())
            })
            .collect(),
        FaultNews::PowerCut => vec!["The power is cut: the device is off".to_owned()],
        FaultNews::PowerBack(off_s, ..) => {
            vec![format!("The power is back after {}: the device boots", duration(*off_s))]
        }
        FaultNews::BootFailed(off_s, why) => vec![format!(
            "The power is back after {}, but {why}. `mend flash-settings` stores its settings again",
            duration(*off_s)
        )],
        FaultNews::PressWithoutPower => {
            vec!["The button has no effect: the device is off".to_owned()]
        }
        FaultNews::SettingsStored => vec!["The settings are stored again".to_owned()],
    }
}

fn struck_line(fault: &Fault) -> String {
    let phrase = fault_phrase(fault);
    match matches!(fault.effect(), FaultEffect::Flash(_)) {
        true => {
            format!("Fault struck: {phrase}. The next boot of the device shows what that does")
        }
        false => format!("Fault struck: {phrase}"),
    }
}

fn listed_line((fault, since_s): &(Fault, f64)) -> String {
    format!("Fault since {}: {}", clock_with_seconds(*since_s), fault_phrase(fault))
}
