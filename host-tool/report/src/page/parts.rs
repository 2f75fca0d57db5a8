//! The parts of the page around the chart.

use maud::{Markup, html};
use saggar_plant::verdict::{Finding, Outcome};

use crate::Report;
use crate::StageBand;
use crate::axis::AxisScale;
use crate::event_text::{at_s, event_phrase, legible};
use crate::model::ChartPanel;
use saggar_plant::format::{clock, energy, padded_duration, with_nonbreaking_units as bind};

/// Heading and verdict.
pub(super) fn head(report: &Report<'_>) -> Markup {
    let (class, word) =
        if report.verdict.passed { ("pass", "✓ Pass") } else { ("fail", "✗ Fail") };
    html! {
        header {
            p class="small" { "Rehearsal report" }
            h1 { (legible(report.title)) }
            p class={ "verdict " (class) } {
                strong { (word) } " " span { (report.verdict.headline()) }
            }
        }
    }
}

/// The findings: failed ones first, remarks last.
pub(super) fn findings(report: &Report<'_>) -> Markup {
    let rank = |finding: &&Finding| match finding.outcome {
        Outcome::Fail => 0,
        Outcome::Pass => 1,
        Outcome::Note => 2,
    };
    let mut sorted: Vec<&Finding> = report.verdict.findings.iter().collect();
    sorted.sort_by_key(rank);
    html! {
        section {
            h2 { "Findings" }
            @if sorted.is_empty() { p { "None." } }
            ul class="findings" {
                @for finding in sorted {
                    @let (class, word) = match finding.outcome {
                        Outcome::Fail => ("fail", "✗ Fail"),
                        Outcome::Pass => ("pass", "✓ Pass"),
                        Outcome::Note => ("note", "Note"),
                    };
                    li class=(class) {
                        span class="word" { (word) }
                        span class="said" {
                            b { (finding.subject.title()) ":" } " "
                            (bind(&legible(&finding.sentence(report.terms))))
                        }
                    }
                }
            }
        }
    }
}

/// The stages with their times.
pub(super) fn stages(report: &Report<'_>) -> Markup {
    html! {
        section {
            h2 { "Stages" }
            @if report.stages.is_empty() { p { "No stage ran." } } @else {
                div class="wide" tabindex="0" role="group" aria-label="Table of stages" {
                    table {
                        thead {
                            tr {
                                th scope="col" class="n" { "No." }
                                th scope="col" { "Stage" }
                                th scope="col" { "What" }
                                th scope="col" class="n" { "Start" }
                                th scope="col" class="n end" { "End" }
                                th scope="col" class="n" { "Duration" }
                            }
                        }
                        tbody {
                            @for band in &report.stages { (stage(band)) }
                        }
                    }
                }
                p class="small" {
                    "Start and end in hours:minutes, with seconds where they count."
                    @if report.stages.windows(2).any(skips) {
                        " A vacuum stage has no row of its own: it covers stages that follow it."
                    }
                }
            }
        }
    }
}

/// A stage of the file lies between two neighbours.
fn skips(pair: &[StageBand]) -> bool {
    matches!(pair, [before, after] if after.number > before.number + 1)
}

fn stage(band: &StageBand) -> Markup {
    html! {
        tr {
            td class="n" { (band.number) }
            th scope="row" { (legible(&band.title())) }
            td {
                @let what = if band.what.is_empty() { &band.kind } else { &band.what };
                (bind(&legible(what)))
            }
            td class="n" { (clock(band.from_s)) }
            td class="n end" { (clock(band.to_s)) }
            td class="n" { (padded_duration(band.to_s - band.from_s)) }
        }
    }
}

/// What happened, in order.
pub(super) fn events(report: &Report<'_>) -> Markup {
    html! {
        section {
            h2 { "Events" }
            @if report.trace.events.is_empty() { p { "None." } }
            ol class="events" {
                @for event in &report.trace.events {
                    li {
                        span class="n" { (clock(at_s(event))) }
                        " " (event_phrase(event.kind, &report.stages)) "."
                    }
                }
            }
        }
    }
}

/// What this report is about, so that it can be told from another and made again.
pub(super) fn facts(report: &Report<'_>) -> Markup {
    let version = concat!("saggar ", env!("CARGO_PKG_VERSION"));
    html! {
        section {
            h2 { "Facts" }
            dl {
                (fact("Schedule", report.schedule_name))
                (fact("Furnace", report.furnace_name))
                (fact("Duration", &padded_duration(report.trace.duration_s())))
                (fact("Energy from the mains", &energy(report.trace.energy_j)))
                @for (label, value) in &report.facts { (fact(label, value)) }
                dt { "Programme digest" } dd { code { (legible(report.digest_hex)) } }
                (fact("Seed", &report.seed.to_string()))
                (fact("Made with", version))
            }
        }
    }
}

fn fact(label: &str, value: &str) -> Markup {
    html! { dt { (legible(label)) } dd { (bind(&legible(value))) } }
}

/// What a rehearsal is not.
pub(super) fn safety() -> Markup {
    html! {
        section class="safety" {
            h2 { "Before you fire" }
            ul {
                li {
                    b { "This is a simulation." }
                    " It shows what a model of the furnace and of the piece did, which is not a "
                    "promise of what they will do. Fire a test piece first."
                }
                li {
                    b { "Nothing here is certified:" }
                    " not the controller, not the rehearsal, not the ware."
                }
                li {
                    b { "A furnace needs an independent over-temperature cut-out in hardware" }
                    " that takes the heat away without any software."
                }
                li {
                    b { "Local codes come first:" }
                    " electrical, gas, fire and workplace rules of the place where it stands."
                }
            }
        }
    }
}

/// How far the thinned curves of a panel are from the trace at most.
pub(super) fn bound(panel: &ChartPanel) -> String {
    // Points are rounded as well.
    let largest = panel.curves.iter().map(|curve| curve.off).fold(0.001, f64::max);
    let unit = panel.curves.first().map_or("", |curve| curve.unit);
    let (bound, unit) = match panel.spread {
        // A bound is a difference.
        AxisScale::Linear => (largest, if unit == "°C" { "K" } else { unit }),
        AxisScale::Log => ((10_f64.powf(largest) - 1.0) * 100.0, "%"),
    };
    // Two digits, rounded up: it is a bound.
    let digit = 10_f64.powf(bound.log10().floor() - 1.0);
    let digits = format!("{:.4}", (bound / digit - 1e-9).ceil() * digit);
    let bound = digits.trim_end_matches('0').trim_end_matches('.');
    let subject = panel.title.split(',').next().unwrap_or_default().to_lowercase();
    format!("{bound} {unit} ({subject})")
}
