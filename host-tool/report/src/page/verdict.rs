//! The verdict on the page: heading, confidence, margins and findings.

use maud::{Markup, html};
use saggar_verdict::format::{confidence, percent, with_nonbreaking_units};
use saggar_verdict::{Finding, Outcome, Subject};

use crate::Report;
use crate::ReportKind;
use crate::event_text::legible;
use crate::report::TOOL;
use crate::result;

/// What the verdict on a recorded firing rests on.
const BASIS_OF_RECORD: &str = "the sensors' readings are recorded; what sensors cannot know (piece, depth, \
                               water) is computed by the simulated furnace from the recorded outputs";

/// Heading, verdict, confidence and narrowest margin.
pub(super) fn head(report: &Report<'_>) -> Markup {
    let (class, mark, word) = result::look(report.verdict.result());
    html! {
        header {
            p class="small" {
                @match report.kind {
                    ReportKind::Rehearsal => { "Rehearsal report, a simulation" }
                    ReportKind::Recording => { "Record of a firing" }
                }
                @if let Some(made_at) = &report.made_at { " · " (legible(made_at)) }
                " · " (TOOL)
            }
            h1 {
                (legible(report.title)) " "
                span class="circumstances" {
                    (with_nonbreaking_units(&legible(&report.circumstances())))
                }
            }
            div class={ "verdict " (class) } {
                p { strong { (mark) " " (word) } " " span { (report.verdict.headline()) } }
                dl {
                    @if let Some(probability) = infiltration_probability(report) {
                        dt { "Confidence" }
                        dd { (confidence(probability)) " that the front gets through every piece, given this glass and this fit" }
                    }
                    @if let Some(finding) = decisive_check(report) {
                        @let (subject, share) =
                            (finding.subject.title(), percent(finding.margin.abs()));
                        @if finding.margin < 0.0 {
                            dt { "Worst check" }
                            dd { (subject) " misses its limit by " (share) }
                        } @else {
                            dt { "Narrowest margin" }
                            dd { (share) ", " (subject) }
                        }
                    }
                    @match report.kind {
                        ReportKind::Rehearsal => { dt { "Upload" } dd { (upload(report)) } }
                        ReportKind::Recording => { dt { "Basis" } dd { (BASIS_OF_RECORD) } }
                    }
                    @if let Some(reason) = report.reason {
                        dt { "Cleared because" }
                        dd { (legible(reason)) }
                    }
                }
            }
        }
    }
}

/// Whether the programme is cleared for an upload, and if not, why.
fn upload(report: &Report<'_>) -> String {
    match report.obstacles.join("; ") {
        none if none.is_empty() && report.reason.is_some() => {
            "cleared although the verdict is not known (clearance.json)".into()
        }
        none if none.is_empty() => "cleared (clearance.json)".into(),
        obstacles => format!("not cleared: {obstacles}"),
    }
}

/// Probability that the front gets through every piece, for work that is infiltrated.
fn infiltration_probability(report: &Report<'_>) -> Option<f64> {
    let is_infiltration = |subject: &Subject| matches!(subject, Subject::Infiltration { .. });
    let finding = report.verdict.find(is_infiltration)?;
    // What is not known has no confidence.
    if finding.outcome == Outcome::NotKnown {
        return None;
    }
    if let Subject::Infiltration { probability, .. } = finding.subject {
        return Some(probability);
    }
    None
}

/// The check that is closest to its limit, or furthest beyond it.
fn decisive_check<'r>(report: &'r Report<'_>) -> Option<&'r Finding> {
    let checks = report
        .verdict
        .findings
        .iter()
        .filter(|finding| matches!(finding.outcome, Outcome::Pass | Outcome::Fail))
        .filter(|finding| finding.margin.is_finite());
    checks.min_by(|a, b| a.margin.total_cmp(&b.margin))
}

/// The findings: failures and what is not known in full, checks that passed and notes folded.
pub(super) fn findings(report: &Report<'_>) -> Markup {
    let of = |outcome: Outcome| -> Vec<&Finding> {
        report.verdict.findings.iter().filter(|finding| finding.outcome == outcome).collect()
    };
    let (failed, unknown) = (of(Outcome::Fail), of(Outcome::NotKnown));
    let (passed, notes) = (of(Outcome::Pass), of(Outcome::Note));
    let checks = match passed.len() {
        1 => "1 check passed".to_owned(),
        count => format!("{count} checks passed"),
    };
    html! {
        section aria-label="Findings" {
            @if !failed.is_empty() {
                (list(report, &failed))
            }
            @if !unknown.is_empty() {
                (list(report, &unknown))
            }
            (folded(report, &passed, "pass", &checks))
            (folded(report, &notes, "note", "Notes"))
        }
    }
}

/// Findings behind a line that names them all.
fn folded(report: &Report<'_>, findings: &[&Finding], class: &str, title: &str) -> Markup {
    if findings.is_empty() {
        return html! {};
    }
    let titles: Vec<&str> = findings.iter().map(|finding| finding.subject.title()).collect();
    html! {
        details class=(class) {
            summary {
                span class="word" { @if class == "pass" { "✓ " } (title) ":" }
                " " (titles.join(", "))
            }
            (list(report, findings))
        }
    }
}

fn list(report: &Report<'_>, findings: &[&Finding]) -> Markup {
    html! {
        ul class="findings" {
            @for finding in findings {
                @let (class, word) = result::finding_look(finding.outcome);
                li class=(class) {
                    span class="word" { (word) }
                    span class="said" {
                        b { (finding.subject.title()) ":" } " "
                        (with_nonbreaking_units(&legible(&finding.sentence(report.terms))))
                    }
                }
            }
        }
    }
}
