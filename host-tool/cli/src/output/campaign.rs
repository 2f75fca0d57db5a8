//! Prints what a campaign found, and the story of one case.

use std::io;

use serde_json::{Value, json};

use crate::commands::CampaignRun;
use saggar_core::events::{Event, EventKind};
use saggar_files::display_path;
use saggar_report::{ending_phrase, plain_event_phrase};
use saggar_studies::campaign::{CampaignKind, CaseReport, Coverage, SummaryRow};
use saggar_terminal::DisplayOptions;
use saggar_terminal::{BAD, GOOD, Printer, STRONG, StyledLine};
use saggar_terminal::{plural, print_answer};
use saggar_verdict::format::clock_with_seconds;

/// Maximum number of failing cases that are listed; JSON has all.
const FAILED_LISTED: usize = 20;

/// Prints what a campaign found.
///
/// # Errors
/// The output cannot be written.
pub fn campaign(ran: &CampaignRun, display: &DisplayOptions) -> io::Result<()> {
    print_answer(display, || for_programs(ran), |out| for_people(out, ran))
}

/// Prints how one case went.
///
/// # Errors
/// The output cannot be written.
pub fn campaign_case(
    kind: CampaignKind,
    seed: u64,
    report: &CaseReport,
    display: &DisplayOptions,
) -> io::Result<()> {
    print_answer(
        display,
        || {
            let mut value = case_for_programs(kind, seed, report);
            value["ok"] = json!(report.findings.is_empty());
            value["events"] = report.events.iter().map(event_for_programs).collect();
            value
        },
        |out| story(out, kind, seed, report),
    )
}

/// The command that fires a case again.
fn again(kind: CampaignKind, seed: u64, id: &str) -> String {
    format!("saggar campaign {} --case {id} --seed {seed}", kind.name())
}

fn for_programs(ran: &CampaignRun) -> Value {
    let (result, seed) = (&ran.result, ran.sample.seed);
    let coverage = ran.kind.rows_are_modes().then(|| {
        let coverage = ran.summary.coverage();
        json!({
            "dangerous": coverage.dangerous,
            "detected": coverage.detected,
            "percent": coverage.percent(),
            "missed": coverage.missed,
            "known_gap_firings": coverage.gaps,
        })
    });
    let failed = result.failed().map(|report| case_for_programs(ran.kind, seed, report));
    json!({
        "ok": result.is_clean() && !result.is_cut_short(),
        "campaign": ran.kind.name(),
        "seed": seed,
        "shard": format!("{}/{}", ran.sample.shard.index + 1, ran.sample.shard.of),
        "every": ran.sample.every,
        "cases": result.cases,
        "chosen": result.chosen,
        "fired": result.reports.len(),
        "seconds": result.took.as_secs_f64(),
        "rows": ran.summary.rows.iter().map(row_for_programs).collect::<Vec<_>>(),
        "coverage": coverage,
        "conclusions": result.conclusions,
        "failed": failed.collect::<Vec<_>>(),
        "table": ran.table,
    })
}

fn row_for_programs(row: &SummaryRow) -> Value {
    json!({
        "row": row.group,
        "variants": row.variants,
        "firings": row.firings,
        "completed": row.completed,
        "tripped": row.tripped,
        "refused": row.refused,
        "other": row.other,
        "ends": row.ends,
        "slowest": row.slowest_s.map(|(exposed_s, bound_s)| {
            json!({ "exposed_seconds": exposed_s, "bound_seconds": bound_s })
        }),
        "above_asked_kelvin": row.above_asked_k.is_finite().then_some(row.above_asked_k),
        "findings": row.findings,
    })
}

fn case_for_programs(kind: CampaignKind, seed: u64, report: &CaseReport) -> Value {
    let (above_k, at_s) = report.above_asked_k;
    json!({
        "id": report.id,
        "again": again(kind, seed, &report.id),
        "struck": report.struck,
        "end": report.end.words(),
        "tripped_at_seconds": report.tripped_at_s,
        "above_asked_kelvin": above_k.is_finite().then_some(above_k),
        "above_asked_at_seconds": above_k.is_finite().then_some(at_s),
        "findings": report.findings,
        "notes": report.notes,
        "rehearse": report.rehearse,
    })
}

fn event_for_programs(event: &Event) -> Value {
    json!({ "at_seconds": event.at.millis() as f64 / 1e3, "event": phrase(event.kind) })
}

fn for_people(out: &mut Printer<'_>, ran: &CampaignRun) -> io::Result<()> {
    let (result, seed) = (&ran.result, ran.sample.seed);
    let seconds = result.took.as_secs_f64();
    let fired = result.reports.len();
    let head = format!(
        "Campaign {}, seed {seed}: {fired} of {} cases in {seconds:.0} s, {:.0} a second",
        ran.kind.name(),
        result.cases,
        fired as f64 / seconds.max(0.001),
    );
    out.wrapped(StyledLine::default().styled(STRONG, &head), "", "  ")?;
    table(out, ran)?;
    if ran.kind.rows_are_modes() {
        out.wrapped(coverage_text(&ran.summary.coverage()), "", "  ")?;
    }
    for report in result.failed().take(FAILED_LISTED) {
        out.wrapped(format!("{}: {}", report.id, report.findings.join("; ")), "", "    ")?;
        out.line(format!("    {}", again(ran.kind, seed, &report.id)))?;
    }
    let failed = result.failed().count();
    if let Some(more) = failed.checked_sub(FAILED_LISTED).filter(|more| *more > 0) {
        out.wrapped(format!("and {more} more; --json lists them all"), "", "  ")?;
    }
    for conclusion in &result.conclusions {
        out.wrapped(conclusion.as_str(), "", "    ")?;
    }
    if let Some(page) = &ran.table {
        out.wrapped(format!("Table written into {}", display_path(page)), "", "  ")?;
    }
    if result.is_cut_short() {
        let text = format!("Ended before its last case: {fired} of {}", result.chosen);
        out.wrapped(text, "", "  ")?;
    }
    let wrong = failed + result.conclusions.len();
    let verdict = match wrong {
        0 => StyledLine::default().styled(GOOD, "Nothing wrong was found"),
        some => StyledLine::default()
            .styled(BAD, &plural(some as u64, "thing is wrong", "things are wrong")),
    };
    out.line(verdict)
}

/// The rows with their counts, in columns.
fn table(out: &mut Printer<'_>, ran: &CampaignRun) -> io::Result<()> {
    let width = ran.summary.rows.iter().map(|row| row.group.chars().count()).max();
    let width = width.unwrap_or(0).max("all".len());
    out.line(format!(
        "{:width$} {:>8} {:>9} {:>7} {:>7} {:>6} {:>7} {:>8}",
        "", "firings", "completed", "tripped", "refused", "other", "above K", "findings"
    ))?;
    for row in ran.summary.rows.iter().chain([&ran.summary.total]) {
        let SummaryRow { group, firings, completed, tripped, refused, other, .. } = row;
        let findings = row.findings;
        let above = match row.above_asked_k.is_finite() {
            true => format!("{:.1}", row.above_asked_k),
            false => String::new(),
        };
        out.line(format!(
            "{group:width$} {firings:>8} {completed:>9} {tripped:>7} {refused:>7} {other:>6} {above:>7} {findings:>8}"
        ))?;
    }
    Ok(())
}

fn coverage_text(coverage: &Coverage) -> String {
    let Coverage { dangerous, detected, missed, gaps } = coverage;
    let rest = match missed.is_empty() {
        true => String::new(),
        false => format!("; not in every firing: {}", missed.join(", ")),
    };
    let gaps = match gaps {
        0 => String::new(),
        gaps => format!("; {gaps} firings of the known gap"),
    };
    format!(
        "Diagnostic coverage {:.1} %: {detected} of {dangerous} dangerous modes{rest}{gaps}",
        coverage.percent()
    )
}

/// One case: what struck, what followed, what was measured, what was wrong.
fn story(
    out: &mut Printer<'_>,
    kind: CampaignKind,
    seed: u64,
    report: &CaseReport,
) -> io::Result<()> {
    let head = format!("{} {}, seed {seed}", kind.name(), report.id);
    out.wrapped(StyledLine::default().styled(STRONG, &head), "", "  ")?;
    let mut line = |text: String| out.wrapped(text, "  ", "    ");
    for struck in &report.struck {
        line(format!("injected: {struck}"))?;
    }
    for event in &report.events {
        let at = clock_with_seconds(event.at.millis() as f64 / 1e3);
        line(format!("{at} {}", phrase(event.kind)))?;
    }
    line(format!("end: {}", report.end.words()))?;
    if let Some((exposed_s, bound_s)) = report.reaction_s {
        line(format!(
            "time with the fault in sight: {exposed_s:.1} s, {bound_s:.1} s allowed"
        ))?;
    }
    let (above_k, at_s) = report.above_asked_k;
    if above_k.is_finite() {
        let at = clock_with_seconds(at_s.max(0.0));
        line(format!("muffle at most {above_k:.1} K above what was asked, at {at}"))?;
    }
    for note in &report.notes {
        line(note.clone())?;
    }
    if let Some(rehearse) = &report.rehearse {
        line(format!("as a rehearsal: saggar rehearse {rehearse}"))?;
    }
    for finding in &report.findings {
        out.wrapped(StyledLine::default().styled(BAD, finding), "  ", "    ")?;
    }
    if report.findings.is_empty() {
        out.wrapped(
            StyledLine::default().styled(GOOD, "Nothing wrong was found"),
            "  ",
            "    ",
        )?;
    }
    Ok(())
}

/// An event in a few words.
fn phrase(kind: EventKind) -> String {
    match kind {
        EventKind::FiringStarted => "the firing started".to_owned(),
        EventKind::StepStarted(step) => format!("step {step} began"),
        EventKind::VacuumReached => "the vacuum was reached".to_owned(),
        EventKind::HoldStarted => "the operator was asked".to_owned(),
        EventKind::FiringEnded(ending) => {
            format!("the firing ended: {}", ending_phrase(ending))
        }
        EventKind::Tripped(cause) => format!("tripped: {}", cause.name()),
        EventKind::TripAccepted => "the trip was accepted".to_owned(),
        EventKind::FiringResumed(_) => "the firing went on".to_owned(),
        EventKind::ChannelFailed(_)
        | EventKind::WaitIsLong(_)
        | EventKind::HeaterWeak
        | EventKind::ContactChecked
        | EventKind::FiringDiscarded => plain_event_phrase(kind).unwrap_or_default(),
    }
}
