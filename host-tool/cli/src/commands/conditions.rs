//! The conditions of a rehearsal, and how they differ from the defaults: nominal mains, seed 1, the
//! schedule's own furnace, cold, an operator who answers, no faults.

use std::path::{Path, PathBuf};

use saggar_bench::{self as bench, PlannedCut};
use saggar_plant::faults::Fault;
use saggar_verdict::format::{Scale, duration, one_decimal};

use super::fault_outcomes::{self, FaultOutcome};
use super::injected;
use super::start_condition::StartCondition;
use crate::error::CliError;
use saggar_files::feature::Feature;
use saggar_files::{Diagnostic, display_path, short};
use saggar_schedule::fault_list::fault_text;
use saggar_schedule::firing_plan::FiringPlan;
use saggar_schedule::reason::Reason;
use saggar_standin::presses::PressLog;

/// Default seed.
pub const SEED: u64 = 1;

/// Default mains voltage, as a share of nominal.
pub const MAINS: f64 = 1.0;

/// Default time until the operator answers a hold (s).
pub const OPERATOR_S: f64 = 30.0;

/// What to rehearse, and under which conditions.
#[derive(Clone, Debug)]
pub struct RehearsalOptions<'a> {
    /// The schedule.
    pub schedule: &'a Path,
    /// The profile to use instead of the one that the schedule names.
    pub furnace: Option<&'a Path>,
    /// Seed of the noise.
    pub seed: u64,
    /// Mains voltage as a share of nominal.
    pub mains: f64,
    /// Injected faults.
    pub faults: &'a [Fault],
    /// Power cuts.
    pub cuts: &'a [PlannedCut],
    /// The furnace before the work is put in.
    pub start: StartCondition<'a>,
    /// Behaviour of the operator.
    pub operator: OperatorBehaviour<'a>,
    /// Why the programme may go on if its verdict is not known.
    pub reason: Option<&'a Reason>,
    /// Where the report goes.
    pub target: ReportTarget,
    /// Also draw the chart as pixels.
    pub png: bool,
    /// Scale of the page and the chart.
    pub scale: Scale,
}

/// What the operator does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum OperatorBehaviour<'a> {
    /// Starts the firing, and answers a hold after this time (s).
    Answers(f64),
    /// Starts the firing, and never answers a hold.
    NeverAnswers,
    /// Pressed these buttons at the panel of a stand-in.
    Pressed(&'a PressLog),
}

/// Where a report goes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ReportTarget {
    /// No report is written.
    NoReport,
    /// Into its default folder, [`RehearsalOptions::default_folder`].
    DefaultFolder,
    /// Into this folder.
    Folder(PathBuf),
}

impl<'a> RehearsalOptions<'a> {
    /// A rehearsal under the default conditions.
    pub const fn default_conditions(schedule: &'a Path, furnace: Option<&'a Path>) -> Self {
        Self {
            schedule,
            furnace,
            seed: SEED,
            mains: MAINS,
            faults: &[],
            cuts: &[],
            start: StartCondition::Cold,
            operator: OperatorBehaviour::Answers(OPERATOR_S),
            reason: None,
            target: ReportTarget::DefaultFolder,
            png: false,
            scale: Scale::Celsius,
        }
    }

    /// Reads the schedule and its furnace.
    ///
    /// # Errors
    /// The schedule or its profile is invalid, a fault cannot strike, or this build
    /// cannot draw pixels.
    pub(super) fn load(&self) -> Result<FiringPlan, CliError> {
        if self.png {
            Feature::Png.require(saggar_report::DRAWS_PNG)?;
        }
        let plan = FiringPlan::load(self.schedule, self.furnace)?;
        let has_device = matches!(self.operator, OperatorBehaviour::Pressed(_));
        injected::check(self.faults, self.cuts, has_device, &plan)?;
        Ok(plan)
    }

    /// The folder of the report, created and tested; `None` without a report.
    ///
    /// # Errors
    /// The folder cannot be written.
    pub(super) fn report_folder(&self) -> Result<Option<PathBuf>, CliError> {
        let folder = match &self.target {
            ReportTarget::NoReport => return Ok(None),
            ReportTarget::DefaultFolder => self.default_folder()?,
            ReportTarget::Folder(folder) => folder.clone(),
        };
        saggar_report::prepare_folder(&folder)?;
        Ok(Some(folder))
    }

    /// The default folder of the report: named after the schedule's file and the conditions that
    /// differ from the defaults, so that reports of other conditions are not replaced.
    ///
    /// # Errors
    /// No folder name can be made from the schedule's.
    pub(super) fn default_folder(&self) -> Result<PathBuf, Diagnostic> {
        let stem = self.schedule.file_stem().unwrap_or_default();
        let all: Vec<String> =
            changed_conditions(self).into_iter().map(|one| one.short).collect();
        let name = saggar_report::folder_name(stem, &all.join("+")).ok_or_else(|| {
            let message = "no folder for the report can be named after this file";
            let help = "rename it; or name the folder with --out to `rehearse`, and with \
                        --clearance to `device upload`";
            Diagnostic::for_file(self.schedule, message, help)
        })?;
        Ok(Path::new("rehearsals").join(name))
    }
}

/// A condition that differs from the default.
struct ChangedCondition {
    /// In a phrase: "mains at 70 %".
    said: String,
    /// For the name of a folder: "mains70".
    short: String,
}

fn changed_conditions(rehearsal: &RehearsalOptions<'_>) -> Vec<ChangedCondition> {
    let mut all = Vec::new();
    let mut add = |said: String, short: String| all.push(ChangedCondition { said, short });
    let percent = one_decimal(rehearsal.mains * 100.0);
    if (rehearsal.mains - MAINS).abs() > 1e-9 {
        add(format!("mains at {percent} %"), format!("mains{percent}"));
    }
    if let Some((said, short)) = rehearsal.start.differs(rehearsal.scale) {
        add(said, short);
    }
    for fault in rehearsal.faults {
        add(fault_text(fault), fault_text(fault));
    }
    for PlannedCut { at_s, length_s } in rehearsal.cuts {
        let minute = one_decimal(at_s / 60.0);
        let length = duration(*length_s);
        let short = format!("cut@{minute}-{}s", one_decimal(*length_s));
        add(format!("a power cut of {length} at minute {minute}"), short);
    }
    match rehearsal.operator {
        OperatorBehaviour::Answers(seconds) if (seconds - OPERATOR_S).abs() > 1e-9 => {
            let seconds = one_decimal(seconds);
            add(format!("an answer after {seconds} s"), format!("operator{seconds}"));
        }
        OperatorBehaviour::Answers(_) | OperatorBehaviour::Pressed(_) => {}
        OperatorBehaviour::NeverAnswers => {
            add("no answer to a hold".to_owned(), "no-operator".to_owned());
        }
    }
    if rehearsal.seed != SEED {
        add(format!("seed {}", rehearsal.seed), format!("seed{}", rehearsal.seed));
    }
    if let Some(profile) = rehearsal.furnace {
        let stem = profile.file_stem().unwrap_or(profile.as_os_str()).to_string_lossy();
        add(format!("profile {}", display_path(profile)), stem.into_owned());
    }
    all
}

/// "with mains at 70 %, seed 3"; `None` under the default conditions.
pub(super) fn deviation_phrase(rehearsal: &RehearsalOptions<'_>) -> Option<String> {
    let all: Vec<String> =
        changed_conditions(rehearsal).into_iter().map(|one| one.said).collect();
    (!all.is_empty()).then(|| format!("with {}", all.join(", ")))
}

/// The conditions as facts of a report, label and value.
pub(super) fn facts(
    rehearsal: &RehearsalOptions<'_>,
    plan: &FiringPlan,
    fired: &bench::FiringResult,
) -> Vec<(String, String)> {
    let profile = &plan.profile;
    let digest = short(&profile.digest);
    let file = display_path(&plan.profile_path);
    // The profile itself may name another voltage than the nominal one.
    let mains = &profile.spec.mains;
    let volt = mains.actual_v * rehearsal.mains;
    let percent = one_decimal(volt / mains.nominal_v * 100.0);
    let mut facts = vec![
        ("Furnace profile", format!("{file}, SHA-256 {digest}")),
        ("Rated power", format!("{} W", one_decimal(profile.spec.heater.rated_w))),
        ("Mains", format!("{percent} % of nominal, {} V", one_decimal(volt))),
        ("Start", start_fact(rehearsal.scale, fired)),
    ];
    let asked = plan.summary.holds > 0;
    match rehearsal.operator {
        OperatorBehaviour::Pressed(presses) => facts.push(("Buttons", presses.summary())),
        OperatorBehaviour::Answers(seconds) if asked => {
            facts.push(("Operator", format!("answers after {} s", one_decimal(seconds))));
        }
        OperatorBehaviour::NeverAnswers if asked => {
            facts.push(("Operator", "never answers".to_owned()));
        }
        OperatorBehaviour::Answers(_) | OperatorBehaviour::NeverAnswers => {}
    }
    facts.into_iter().map(|(label, value)| (label.to_owned(), value)).collect()
}

/// How warm furnace and work were when start was pressed.
fn start_fact(scale: Scale, fired: &bench::FiringResult) -> String {
    let found = &fired.furnace_at_start.temperatures;
    let piece_c = found.piece_c.iter().sum::<f64>() / found.piece_c.len() as f64;
    let sensor = scale.whole_degrees(found.control_sensor_c);
    format!("furnace at {sensor} at the sensor, piece at {}", scale.whole_degrees(piece_c))
}

/// The faults as facts of a report, with the reason for each that had no effect.
pub(super) fn fault_facts(
    rehearsal: &RehearsalOptions<'_>,
    fates: &[FaultOutcome],
    fired: &bench::FiringResult,
) -> Vec<(String, String)> {
    let each = |(fault, fate): (&Fault, &FaultOutcome)| {
        let fault_text = fault_text(fault);
        let what = match fault_outcomes::explanation(fault, *fate, fired) {
            None => fault_text,
            Some((what, why)) => format!("{fault_text}: {what}, {why}"),
        };
        ("Fault".to_owned(), what)
    };
    rehearsal.faults.iter().zip(fates).map(each).collect()
}
