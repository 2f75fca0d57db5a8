//! The page: one self-contained file to open, read at a glance, zoom into and print.
//!
//! Its content security policy allows exactly one script and one style sheet, both by their digests,
//! and no connection.

mod parts;
mod verdict;

use base64::Engine;
use base64::prelude::BASE64_STANDARD;
use maud::{DOCTYPE, Markup, PreEscaped, html};
use sha2::{Digest, Sha256};

use crate::Report;
use crate::ReportError;
use crate::draw;
use crate::event_text;
use crate::layout;
use crate::model::{self, ChartModel};
use crate::palette;
use crate::result;
use crate::svg_file;

/// One module script from two files. A module is strict, keeps its names to itself, and runs once the
/// page is complete.
const SCRIPT: &str = concat!(include_str!("script/draw.js"), include_str!("script/hands.js"));
const STYLE: &str = include_str!("page.css");

/// The page.
pub(super) fn page(report: &Report<'_>) -> Result<String, ReportError> {
    let model = model::model(report);
    let style = format!("{}{}{STYLE}", palette::variables(), svg_file::STYLE);
    let title = format!(
        "{} · {} {}",
        result::look(report.verdict.result()).2,
        report.title,
        report.circumstances()
    );
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta http-equiv="Content-Security-Policy" content=(policy(&style));
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="referrer" content="no-referrer";
                title { (event_text::legible(&title)) }
                style { (PreEscaped(&style)) }
            }
            body {
                main {
                    (verdict::head(report))
                    (verdict::findings(report))
                    (chart(report, &model))
                    (parts::stages(report))
                    (parts::events(report))
                    (parts::facts(report))
                    (parts::safety(report.kind))
                }
                script type="application/json" id="model" { (PreEscaped(data(&model)?)) }
                script type="module" { (PreEscaped(SCRIPT)) }
            }
        }
    };
    Ok(page.into_string())
}

/// The content security policy: the browser may use only the script and the style of this page.
fn policy(style: &str) -> String {
    let digest = |text: &str| BASE64_STANDARD.encode(Sha256::digest(text.as_bytes()));
    format!(
        "default-src 'none'; script-src 'sha256-{}'; style-src 'sha256-{}'; base-uri 'none'; \
         form-action 'none'",
        digest(SCRIPT),
        digest(style)
    )
}

/// The chart's data. Inside a script element only `<` can do harm.
fn data(model: &ChartModel) -> Result<String, ReportError> {
    Ok(serde_json::to_string(model)?.replace('<', "\\u003c"))
}

fn chart(report: &Report<'_>, model: &ChartModel) -> Markup {
    let (width, height) = (layout::WIDTH, model.frame.height);
    html! {
        section {
            h2 class="chart-title" { "The firing" }
            @if model.panels.is_empty() {
                p { "There is nothing to draw: the trace is empty." }
            } @else {
                div id="live" hidden {
                    div id="reading" {
                        div class="bar" {
                            output id="when" {}
                            span class="buttons" {
                                button type="button" id="closer" aria-label="Zoom in" { "+" }
                                button type="button" id="wider" aria-label="Zoom out" { "−" }
                                button type="button" id="whole" { "Show all" }
                            }
                        }
                        div id="legend" {}
                    }
                    div id="plot" tabindex="0" role="group" aria-describedby="keys"
                        aria-label="Chart over time" {}
                    p id="keys" class="small" {
                        "Wheel or pinch to zoom, drag to move, double-click to show all. Keys: "
                        "← and → move the reading (with Shift in larger steps), + and − zoom, "
                        "0 shows all. A name in the legend hides or shows its curve."
                    }
                }
                div class="still" tabindex="0" role="group" aria-label="Chart" {
                    svg class="chart" role="img" viewBox=(format!("0 0 {width} {height}"))
                        aria-label="Temperatures, glass depth, differences, heater duty and pressure over time" {
                        (draw::body(model))
                    }
                }
                (stage_key(model))
                (thinning_note(report, model))
            }
        }
    }
}

/// Names the stages whose numbers are above the chart.
fn stage_key(model: &ChartModel) -> Markup {
    if model.bands.is_empty() {
        return html! {};
    }
    html! {
        p class="stage-key" {
            b { "Stages:" }
            @for band in &model.bands { " " span { b { (band.number) } " " (band.name) } }
        }
    }
}

/// States the deviation of the curves from the trace, if points were left out.
fn thinning_note(report: &Report<'_>, model: &ChartModel) -> Markup {
    let curves = || model.panels.iter().flat_map(|panel| &panel.curves);
    if curves().all(|curve| curve.points_dropped == 0) {
        return html! {};
    }
    let bounds: Vec<String> = model.panels.iter().map(parts::thinning_bound).collect();
    html! {
        p class="small" {
            "The curves of this page are thinned from the " (report.trace.rows.len())
            " rows of the trace and stay within " (bounds.join(", "))
            " of it. The file " code { "trace.csv" } " has every row."
        }
    }
}
