//! `rehearse`: fire a schedule on the simulated furnace, with the real control core in the loop.

use std::convert::Infallible;
use std::ops::ControlFlow;
use std::path::Path;
use std::time::{SystemTime, UNIX_EPOCH};

use saggar_bench::trace::{StepSpan, Trace};
use saggar_bench::{self as bench, RehearsalSetup};
use saggar_plant::faults::Fault;
use saggar_plant::spec::FurnaceSpec;
use saggar_plant::vacuum::ValvesAtRest;
use saggar_verdict::format::Scale;
use saggar_verdict::{StageLabel, Subject, VerdictResult, Wording};

use super::conditions::{self, MAINS, OperatorBehaviour, RehearsalOptions};
use super::fault_outcomes::{self, FaultOutcome};
use super::start_condition;
use crate::error::CliError;
use saggar_files::hex;
use saggar_report::{
    self, Digests, FaultMark, Report, ReportError, ReportKind, SavedReport, StageBand,
};
use saggar_schedule::clearance::Clearance;
use saggar_schedule::fault_list::name_text;
use saggar_schedule::firing_plan::FiringPlan;
use saggar_schedule::reason::Reason;

/// The result of a rehearsal.
#[derive(Debug)]
pub struct RehearsalResult {
    /// The schedule and its furnace.
    pub plan: FiringPlan,
    /// The firing and its verdict.
    pub fired: bench::FiringResult,
    /// The verdict for programs.
    pub json: String,
    /// How the conditions differ from the defaults: "with mains at 70 %".
    pub conditions: Option<String>,
    /// For each fault that did not strike or changed nothing, a sentence that says why.
    pub fault_remarks: Vec<String>,
    /// Why the programme is not cleared for an upload; empty if it is, with a report.
    pub obstacles: Vec<&'static str>,
    /// The reason that lets it go on, although its verdict is not known.
    pub reason: Option<Reason>,
    /// A reason was given that lets nothing go on.
    pub reason_unused: bool,
    /// The files of the report, with the clearance unless there is an obstacle; or why they were not
    /// written; `None` if no report was asked for.
    pub saved: Option<Result<SavedReport, ReportError>>,
}

/// Rehearses a schedule and writes the report. `watch` is called with the share of the shortest
/// possible firing that has passed; a firing may take longer.
///
/// # Errors
/// The schedule or its profile is invalid, or the report's folder cannot be written: nothing was
/// fired. FAIL is not an error, nor is a report that could not be written after the firing: there is
/// a verdict all the same.
pub fn rehearse(
    rehearsal: &RehearsalOptions<'_>,
    mut watch: impl FnMut(f64),
) -> Result<RehearsalResult, CliError> {
    let plan = rehearsal.load()?;
    let mut furnace = plan.profile.spec.clone();
    furnace.mains.actual_v *= rehearsal.mains;
    let mut bench = bench_of(rehearsal, &plan, &furnace)?;
    let folder = rehearsal.report_folder()?;
    let shortest_s = plan.summary.shortest_seconds.max(1.0);
    // Until the first fault strikes, all firings with this seed are the same.
    let mut cuts = rehearsal.cuts.to_vec();
    cuts.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
    let strikes = rehearsal.faults.iter().map(|fault| fault.from_s);
    let first_s = strikes.chain(cuts.first().map(|cut| cut.at_s)).reduce(f64::min);
    first_s.inspect(|first_s| bench.run_until(*first_s));
    let with = |faults| {
        let mut bench = bench.fork(faults);
        bench.run_through_cuts(&cuts, ValvesAtRest::default());
        bench
    };
    let progress = |now_s| {
        watch(now_s / shortest_s);
        ControlFlow::<Infallible>::Continue(())
    };
    let ControlFlow::Continue(fired) =
        with(rehearsal.faults.to_vec()).run_with_progress(&plan.work, progress);
    let again = |faults| with(faults).run_to_end(&plan.work);
    let fates = fault_outcomes::outcomes_by_comparison(rehearsal.faults, &fired, again);
    report_on(rehearsal, plan, fired, &fates, folder.as_deref())
}

/// A bench without faults.
fn bench_of(
    rehearsal: &RehearsalOptions<'_>,
    plan: &FiringPlan,
    furnace: &FurnaceSpec,
) -> Result<bench::Rehearsal, CliError> {
    let setup = RehearsalSetup {
        furnace,
        device: &plan.profile.furnace,
        work: &plan.work,
        programme: &plan.image,
        seed: rehearsal.seed,
        faults: Vec::new(),
        operator_delay_s: match rehearsal.operator {
            OperatorBehaviour::Answers(after_s) => Some(after_s),
            OperatorBehaviour::NeverAnswers | OperatorBehaviour::Pressed(_) => None,
        },
        start: start_condition::furnace_state(rehearsal.start, rehearsal.schedule, plan)?,
    };
    let schedule = rehearsal.schedule.to_path_buf();
    setup.bench(Trace::default()).map_err(|why| CliError::Rehearsal { schedule, why })
}

/// Writes the report of a firing into the folder, if there is one, with the clearance if there is no
/// obstacle.
pub(super) fn report_on(
    rehearsal: &RehearsalOptions<'_>,
    plan: FiringPlan,
    fired: bench::FiringResult,
    fates: &[FaultOutcome],
    folder: Option<&Path>,
) -> Result<RehearsalResult, CliError> {
    let stages = plan.map.verdict_stages();
    let obstacles = clearance_obstacles(rehearsal, &fired);
    let mut report = report_of(rehearsal, &plan, &stages, &fired, fates);
    report.obstacles.clone_from(&obstacles);
    let is_unknown = fired.verdict.result() == VerdictResult::NotKnown;
    let used = rehearsal.reason.filter(|_| is_unknown && obstacles.is_empty());
    report.reason = used.map(Reason::as_str);
    let json = report.json()?;
    let clearance = obstacles.is_empty().then(|| Clearance::for_plan(&plan, used));
    let save = |folder| saggar_report::save(folder, &report, rehearsal.png, clearance.as_ref());
    let saved = folder.map(save);
    drop(report);
    let conditions = conditions::deviation_phrase(rehearsal);
    let fault_remarks = fault_outcomes::explanations(rehearsal.faults, fates, &fired);
    let (reason, reason_unused) = (used.cloned(), rehearsal.reason.is_some() && !is_unknown);
    Ok(RehearsalResult {
        plan,
        fired,
        json,
        conditions,
        fault_remarks,
        obstacles,
        reason,
        reason_unused,
        saved,
    })
}

/// Why a rehearsal does not clear its programme for an upload, in phrases; empty if it does.
fn clearance_obstacles(
    rehearsal: &RehearsalOptions<'_>,
    fired: &bench::FiringResult,
) -> Vec<&'static str> {
    let by_operator = match rehearsal.operator {
        OperatorBehaviour::Answers(_) => None,
        OperatorBehaviour::NeverAnswers => Some("--no-operator was given"),
        OperatorBehaviour::Pressed(_) => {
            Some("a stand-in clears nothing, only `saggar rehearse` does")
        }
    };
    let is_nominal = (rehearsal.mains - MAINS).abs() < 1e-9;
    [
        match fired.verdict.result() {
            VerdictResult::Pass => None,
            VerdictResult::Fail => Some("the verdict is FAIL"),
            VerdictResult::NotKnown => unknown_obstacle(rehearsal),
        },
        (!rehearsal.faults.is_empty()).then_some("a fault was injected"),
        rehearsal.start.obstacle(),
        (!rehearsal.cuts.is_empty()).then_some("the power was cut"),
        (!is_nominal).then_some("--mains was not 100 %"),
        by_operator,
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// The obstacle of a verdict that is not known, unless a reason was given.
fn unknown_obstacle(rehearsal: &RehearsalOptions<'_>) -> Option<&'static str> {
    match (rehearsal.operator, rehearsal.reason) {
        (OperatorBehaviour::Pressed(_), _) => Some("the verdict is NOT KNOWN"),
        (_, Some(_)) => None,
        (_, None) => Some(
            "the verdict is NOT KNOWN. Rehearse with --reason TEXT to let it go on all the same",
        ),
    }
}

fn report_of<'a>(
    rehearsal: &RehearsalOptions<'_>,
    plan: &'a FiringPlan,
    stages: &'a [StageLabel],
    fired: &'a bench::FiringResult,
    fates: &[FaultOutcome],
) -> Report<'a> {
    Report {
        kind: ReportKind::Rehearsal,
        title: &plan.schedule.name,
        schedule_name: plan.source.name(),
        furnace_name: &plan.profile.name,
        conditions: conditions::deviation_phrase(rehearsal),
        made_at: Some(saggar_report::utc_timestamp(now_s())),
        digests: Digests {
            programme: plan.summary.digest.clone(),
            schedule: plan.source.digest(),
            profile: plan.profile.digest.clone(),
            furnace: hex(&plan.profile.furnace.digest()),
        },
        seed: rehearsal.seed,
        furnace_at_start: fired.furnace_at_start,
        furnace_at_end: fired.furnace_at_end,
        trace: &fired.trace,
        stages: bands(rehearsal.scale, plan, fired),
        faults: marks(rehearsal.faults, fates, fired),
        channels_differ_max_k: Some(f64::from(plan.profile.furnace.limits.disagree_max_k)),
        verdict: &fired.verdict,
        obstacles: Vec::new(),
        reason: None,
        facts: facts(rehearsal, plan, fired, fates),
        terms: Wording { scale: rehearsal.scale, stages },
    }
}

/// When the faults struck and were mended, and the power cuts, for the chart.
fn marks(
    faults: &[Fault],
    fates: &[FaultOutcome],
    fired: &bench::FiringResult,
) -> Vec<FaultMark> {
    let mark = |(fault, fate): (&Fault, &FaultOutcome)| {
        let name = name_text(fault);
        let comes = if fault.intermittent.is_some() { ", comes and goes" } else { "" };
        let effect = match fate {
            FaultOutcome::Missed => return Vec::new(),
            FaultOutcome::Struck => "",
            FaultOutcome::Hidden | FaultOutcome::Masked => ", no effect",
        };
        let mended = FaultMark { at_s: fault.until_s, name: format!("{name} mended") };
        let struck =
            FaultMark { at_s: fault.from_s.max(0.0), name: format!("{name}{comes}{effect}") };
        let end = (fault.until_s <= fired.trace.duration_s()).then_some(mended);
        std::iter::once(struck).chain(end).collect()
    };
    let cuts = fired.verdict.findings.iter().filter_map(|finding| {
        let Subject::Interruption(cut) = &finding.subject else { return None };
        Some(FaultMark { at_s: cut.at_s, name: "power cut".to_owned() })
    });
    faults.iter().zip(fates).flat_map(mark).chain(cuts).collect()
}

/// Seconds since 1970: of `SOURCE_DATE_EPOCH` if it is set, so that a report can be made again byte
/// for byte, or else of the clock.
fn now_s() -> u64 {
    let fixed = std::env::var("SOURCE_DATE_EPOCH").ok().and_then(|text| text.parse().ok());
    fixed.unwrap_or_else(|| {
        SystemTime::now().duration_since(UNIX_EPOCH).map_or(0, |since| since.as_secs())
    })
}

/// The stages that ran, named as the schedule names them.
pub(super) fn bands(
    scale: Scale,
    plan: &FiringPlan,
    fired: &bench::FiringResult,
) -> Vec<StageBand> {
    let band = |span: StepSpan| {
        let place = plan.map.origin(span.step)?;
        let kind = &place.stage.kind;
        let vacuum = place.vacuum.map(|(_, vacuum)| vacuum.phrase(scale));
        let parts = std::iter::once(kind.phrase(scale)).chain(vacuum);
        Some(StageBand {
            number: place.number,
            step: span.step,
            name: place.stage.name.clone().unwrap_or_default(),
            kind: kind.word().to_owned(),
            what: parts.collect::<Vec<_>>().join(", "),
            from_s: span.from_s,
            to_s: span.to_s,
        })
    };
    fired.trace.spans().into_iter().filter_map(band).collect()
}

fn facts(
    rehearsal: &RehearsalOptions<'_>,
    plan: &FiringPlan,
    fired: &bench::FiringResult,
    fates: &[FaultOutcome],
) -> Vec<(String, String)> {
    let mut facts = saggar_report::work_facts(&plan.work);
    facts.extend(conditions::facts(rehearsal, plan, fired));
    facts.extend(conditions::fault_facts(rehearsal, fates, fired));
    facts
}
