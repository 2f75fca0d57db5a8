//! The parts of the page below the chart.

use maud::{Markup, html};

use crate::Report;
use crate::ReportKind;
use crate::StageBand;
use crate::axis::AxisScale;
use crate::event_text::{at_s, event_phrase, legible};
use crate::model::ChartPanel;
use crate::report::TOOL;
use saggar_verdict::format::{clock, energy, padded_duration, with_nonbreaking_units};

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
                (with_nonbreaking_units(&legible(what)))
            }
            td class="n" { (clock(band.from_s)) }
            td class="n end" { (clock(band.to_s)) }
            td class="n" { (padded_duration(band.to_s - band.from_s)) }
        }
    }
}

/// Events and faults in the order of time.
pub(super) fn events(report: &Report<'_>) -> Markup {
    let events = report.trace.events.iter();
    let faults = report.faults.iter().map(|fault| {
        (fault.at_s, format!("A fault of the simulation struck: {}", legible(&fault.name)))
    });
    let mut all: Vec<(f64, String)> = events
        .map(|event| (at_s(event), event_phrase(event.kind, &report.stages)))
        .chain(faults)
        .collect();
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    html! {
        section {
            h2 { "Events" }
            @if all.is_empty() { p { "None." } }
            ol class="events" {
                @for (at_s, what) in &all {
                    li { span class="n" { (clock(*at_s)) } " " (what) "." }
                }
            }
        }
    }
}

/// The inputs of the rehearsal, so that it can be identified and repeated.
pub(super) fn facts(report: &Report<'_>) -> Markup {
    let digests = &report.digests;
    html! {
        section {
            h2 { "Facts" }
            dl class="facts" {
                (fact("Schedule", report.schedule_name))
                (fact("Furnace", report.furnace_name))
                (fact("Duration", &padded_duration(report.trace.duration_s())))
                (fact("Energy from the mains", &energy(report.trace.energy_j)))
                @for (label, value) in &report.facts { (fact(label, value)) }
                (fact("Seed", &report.seed.to_string()))
                @if let Some(made_at) = &report.made_at { (fact("Rehearsed", made_at)) }
                (fact("Tool", TOOL))
                (digest("Programme, SHA-256", &digests.programme))
                (digest("Schedule, SHA-256", &digests.schedule))
                (digest("Furnace profile, SHA-256", &digests.profile))
                (digest("Furnace data, SHA-256", &digests.furnace))
            }
        }
    }
}

fn digest(label: &str, hex: &str) -> Markup {
    html! { dt { (label) } dd { code { (legible(hex)) } } }
}

fn fact(label: &str, value: &str) -> Markup {
    html! { dt { (legible(label)) } dd { (with_nonbreaking_units(&legible(value))) } }
}

/// The limits of a rehearsal or a record, and the safety cautions.
pub(super) fn safety(kind: ReportKind) -> Markup {
    html! {
        section class="safety" {
            h2 { "Before you fire" }
            ul {
                @match kind {
                    ReportKind::Rehearsal => li {
                        b { "This is a simulation." }
                        " It shows how a model of the furnace and of the piece behaved, not how the "
                        "real ones will. Fire a test piece first."
                    },
                    ReportKind::Recording => li {
                        b { "The piece was not measured." }
                        " Its temperature and the glass in it are those of a model that the recorded "
                        "outputs drive. Look at the piece itself."
                    },
                }
                li {
                    b { "Nothing here is certified:" }
                    " not the controller, not the rehearsal, not the ware."
                }
                li {
                    b { "A furnace needs an independent over-temperature cut-out in hardware" }
                    " that cuts the power to the heater without any software."
                }
                li {
                    b { "Local codes come first:" }
                    " electrical, gas, fire and workplace rules of the place where it stands."
                }
            }
        }
    }
}

/// Largest distance of a panel's thinned curves from the trace: "0.2 K (temperature)".
pub(super) fn thinning_bound(panel: &ChartPanel) -> String {
    // The points are rounded, too.
    let largest = panel.curves.iter().map(|curve| curve.deviation_max).fold(0.001, f64::max);
    let unit = panel.curves.first().map_or("", |curve| curve.unit);
    let (bound, unit) = match panel.scale {
        // A distance between temperatures is in kelvin.
        AxisScale::Linear => (largest, if unit == "°C" { "K" } else { unit }),
        AxisScale::Log => ((10_f64.powf(largest) - 1.0) * 100.0, "%"),
    };
    // Two digits, rounded up so that it stays a bound.
    let digit = 10_f64.powf(bound.log10().floor() - 1.0);
    let digits = format!("{:.4}", (bound / digit - 1e-9).ceil() * digit);
    let bound = digits.trim_end_matches('0').trim_end_matches('.');
    let subject = panel.title.split(',').next().unwrap_or_default().to_lowercase();
    format!("{bound} {unit} ({subject})")
}
