//! Under which conditions a rehearsal ran, where they differ from the plain run: nominal mains,
//! seed 1, the schedule's own furnace, an operator who answers, nothing broken.

use std::path::{Path, PathBuf};

use saggar_bench as bench;
use saggar_plant::faults::Scheduled;
use saggar_plant::say::{Scale, tidy};

use super::fates::{self, Fate};
use super::folder_name::folder_name;
use crate::error::Error;
use saggar_files::feature::Feature;
use saggar_files::{Finding, short, shown_path};
use saggar_schedule::firing::Firing;
use saggar_standin::presses::Presses;

/// Seed of the plain run.
pub const SEED: u64 = 1;

/// Mains voltage of the plain run, as a share of the nominal one.
pub const MAINS: f64 = 1.0;

/// Time that the operator of the plain run takes (s).
pub const OPERATOR_S: f64 = 30.0;

/// What to rehearse, and how.
#[derive(Clone, Debug)]
pub struct Rehearsal<'a> {
    /// The schedule.
    pub schedule: &'a Path,
    /// The furnace, instead of the one that the schedule names.
    pub furnace: Option<&'a Path>,
    /// Seed of all noise.
    pub seed: u64,
    /// Mains voltage as a share of the nominal one.
    pub mains: f64,
    /// What goes wrong, and when.
    pub faults: &'a [Scheduled],
    /// Who presses the buttons.
    pub operator: Operator<'a>,
    /// Where the report goes.
    pub target: Target,
    /// The report has the chart as pixels, too.
    pub png: bool,
    /// Scale of the page and the chart.
    pub scale: Scale,
}

/// Who presses the buttons of a firing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Operator<'a> {
    /// Somebody who starts it, and answers a hold after so long (s).
    Answers(f64),
    /// Somebody who starts it, and never answers.
    NeverAnswers,
    /// Whoever pressed these at the panel of a stand-in.
    Pressed(&'a Presses),
}

/// Where a report goes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Target {
    /// None is written.
    Nowhere,
    /// Into the folder that it has by itself, [`Rehearsal::usual_folder`].
    Usual,
    /// Into this folder.
    Folder(PathBuf),
}

impl<'a> Rehearsal<'a> {
    /// The plain run, which may clear a programme for an upload.
    pub const fn plain(schedule: &'a Path, furnace: Option<&'a Path>) -> Self {
        Self {
            schedule,
            furnace,
            seed: SEED,
            mains: MAINS,
            faults: &[],
            operator: Operator::Answers(OPERATOR_S),
            target: Target::Usual,
            png: false,
            scale: Scale::Celsius,
        }
    }

    /// What is fired.
    ///
    /// # Errors
    /// Everything that is wrong with the schedule or its furnace, and what this furnace or this
    /// build cannot have.
    pub(super) fn plan(&self) -> Result<Firing, Error> {
        if self.png {
            Feature::Png.require(saggar_report::DRAWS_PNG)?;
        }
        let plan = Firing::load(self.schedule, self.furnace)?;
        fates::allowed(self.faults, &plan)?;
        Ok(plan)
    }

    /// The folder of the report, if there is to be one.
    ///
    /// # Errors
    /// Why it takes none.
    pub(super) fn folder(&self) -> Result<Option<PathBuf>, Error> {
        let folder = match &self.target {
            Target::Nowhere => return Ok(None),
            Target::Usual => self.usual_folder()?,
            Target::Folder(folder) => folder.clone(),
        };
        saggar_report::try_folder(&folder)?;
        Ok(Some(folder))
    }

    /// Where the report goes if nobody says: a folder named as the schedule's file and, behind it,
    /// what differs from the plain run, so that none replaces another.
    ///
    /// # Errors
    /// The file's name makes none for a folder.
    pub(super) fn usual_folder(&self) -> Result<PathBuf, Finding> {
        let stem = self.schedule.file_stem().unwrap_or_default();
        let all: Vec<String> = differences(self).into_iter().map(|one| one.short).collect();
        let name = folder_name(stem, &all.join("+")).ok_or_else(|| {
            let message = "its name makes none for the folder of a report";
            let help = "rename it; or name the folder with --out to `rehearse`, and with \
                        --clearance to `device upload`";
            Finding::on_file(self.schedule, message, help)
        })?;
        Ok(Path::new("rehearsals").join(name))
    }
}

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
    if (rehearsal.mains - MAINS).abs() > 1e-9 {
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
        add(format!("profile {}", shown_path(profile)), stem.into_owned());
    }
    all
}

/// "with mains at 70 %, seed 3"; `None` for the plain run.
pub(super) fn said(rehearsal: &Rehearsal<'_>) -> Option<String> {
    let all: Vec<String> = differences(rehearsal).into_iter().map(|one| one.said).collect();
    (!all.is_empty()).then(|| format!("with {}", all.join(", ")))
}

/// What stands among the facts of a report, label and value.
pub(super) fn facts(rehearsal: &Rehearsal<'_>, plan: &Firing) -> Vec<(String, String)> {
    let profile = &plan.profile;
    let digest = short(&profile.digest);
    let file = shown_path(&plan.profile_path);
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
