//! Under which conditions a rehearsal ran, where they differ from the plain run: nominal mains,
//! seed 1, the schedule's own furnace, an operator who answers, nothing broken.

use std::path::{Path, PathBuf};

use saggar_bench as bench;
use saggar_plant::faults::Scheduled;

use super::fates::{self, Fate};
use super::folder_name::folder_name;
use super::{Operator, Rehearsal};
use saggar_files::{Finding, shown};
use saggar_plant::say::tidy;
use saggar_schedule::firing::Firing;

/// Seed of the plain run.
pub const SEED: u64 = 1;

/// Time that the operator of the plain run takes (s).
pub const OPERATOR_S: f64 = 30.0;

/// One thing that differs from the plain run.
struct Difference {
    /// In a phrase: "mains at 70 %".
    said: String,
    /// For the name of a folder: "mains70".
    short: String,
}

fn differences(rehearsal: &Rehearsal<'_>) -> Vec<Difference> {
    let mut all = Vec::new();
    let mut add = |said: String, short: String| all.push(Difference { said, short });
    let percent = tidy(rehearsal.mains * 100.0);
    if (rehearsal.mains - 1.0).abs() > 1e-9 {
        add(format!("mains at {percent} %"), format!("mains{percent}"));
    }
    for Scheduled { at_s, fault } in rehearsal.faults {
        let minute = tidy(at_s / 60.0);
        let name = fault.name();
        add(format!("{name} at minute {minute}"), format!("{name}@{minute}"));
    }
    match rehearsal.operator {
        Operator::Answers(seconds) if (seconds - OPERATOR_S).abs() > 1e-9 => {
            let seconds = tidy(seconds);
            add(format!("an answer after {seconds} s"), format!("operator{seconds}"));
        }
        Operator::Answers(_) | Operator::Pressed(_) => {}
        Operator::NeverAnswers => {
            add("nobody to answer".to_owned(), "no-operator".to_owned());
        }
    }
    if rehearsal.seed != SEED {
        add(format!("seed {}", rehearsal.seed), format!("seed{}", rehearsal.seed));
    }
    if let Some(profile) = rehearsal.furnace {
        let stem = profile.file_stem().unwrap_or(profile.as_os_str()).to_string_lossy();
        add(format!("profile {}", path_shown(profile)), stem.into_owned());
    }
    all
}

/// "with mains at 70 %, seed 3"; `None` for the plain run.
pub(super) fn said(rehearsal: &Rehearsal<'_>) -> Option<String> {
    let all: Vec<String> = differences(rehearsal).into_iter().map(|one| one.said).collect();
    (!all.is_empty()).then(|| format!("with {}", all.join(", ")))
}

/// Where the report goes if nobody says: a folder named as the schedule's file and, behind it,
/// what differs from the plain run, so that none replaces another.
///
/// # Errors
/// The file's name makes none for a folder.
pub fn folder_of(rehearsal: &Rehearsal<'_>) -> Result<PathBuf, Finding> {
    let schedule = rehearsal.schedule;
    let stem = schedule.file_stem().unwrap_or_default();
    let all: Vec<String> = differences(rehearsal).into_iter().map(|one| one.short).collect();
    let name = folder_name(stem, &all.join("+")).ok_or_else(|| {
        let message = "its name makes none for the folder of a report";
        let help = "rename it; or name the folder with --out to `rehearse`, and with --clearance \
                    to `device upload`";
        Finding::on_file(&schedule.display().to_string(), message, help)
    })?;
    Ok(Path::new("rehearsals").join(name))
}

/// What stands among the facts of a report, label and value.
pub(super) fn facts(rehearsal: &Rehearsal<'_>, plan: &Firing) -> Vec<(String, String)> {
    let profile = &plan.profile;
    let digest = profile.digest.get(..8).unwrap_or(&profile.digest);
    let file = path_shown(&plan.profile_path);
    // The profile itself may name another voltage than the nominal one.
    let mains = &profile.spec.mains;
    let volt = mains.actual_v * rehearsal.mains;
    let percent = tidy(volt / mains.nominal_v * 100.0);
    let mut facts = vec![
        ("Furnace profile", format!("{file}, SHA-256 {digest}")),
        ("Rated power", format!("{} W", tidy(profile.spec.heater.rated_w))),
        ("Mains", format!("{percent} % of nominal, {} V", tidy(volt))),
    ];
    let asked = plan.summary.holds > 0;
    match rehearsal.operator {
        Operator::Pressed(presses) => facts.push(("Buttons", presses.words())),
        Operator::Answers(seconds) if asked => {
            facts.push(("Operator", format!("answers after {} s", tidy(seconds))));
        }
        Operator::NeverAnswers if asked => {
            facts.push(("Operator", "never answers".to_owned()));
        }
        Operator::Answers(_) | Operator::NeverAnswers => {}
    }
    facts.into_iter().map(|(label, value)| (label.to_owned(), value)).collect()
}

/// The faults among the facts, with what became of those that did not show.
pub(super) fn faults(
    rehearsal: &Rehearsal<'_>,
    fates: &[Fate],
    fired: &bench::Firing,
) -> Vec<(String, String)> {
    let each = |(fault, fate): (&Scheduled, &Fate)| {
        let when = format!("{} at minute {}", fault.fault.name(), tidy(fault.at_s / 60.0));
        let what = match fates::excuse(fault, *fate, fired) {
            None => when,
            Some((what, why)) => format!("{when}: {what}, {why}"),
        };
        ("Fault".to_owned(), what)
    };
    rehearsal.faults.iter().zip(fates).map(each).collect()
}

fn path_shown(path: &Path) -> String {
    shown(&path.display().to_string(), 200)
}
