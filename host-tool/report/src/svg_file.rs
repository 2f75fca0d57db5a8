//! The chart as a file of its own.

use maud::html;

use crate::Report;
use crate::draw;
use crate::event_text;
use crate::layout;
use crate::model;
use crate::palette;

/// Room for the heading (px).
const HEADING: f64 = 44.0;

/// The style sheet of the chart.
pub(super) const STYLE: &str = include_str!("chart.css");

/// The drawing.
pub(super) fn svg(report: &Report<'_>) -> String {
    let model = model::model(report);
    let (width, height) = (layout::WIDTH, model.frame.height + HEADING);
    let verdict = if report.verdict.passed { "PASS" } else { "FAIL" };
    let heading = format!("{}: {verdict}", event_text::legible(report.title));
    let style = palette::literal(STYLE);
    html! {
        svg xmlns="http://www.w3.org/2000/svg" viewBox=(format!("0 0 {width} {height}"))
            width=(width) height=(height) role="img" class="chart" {
            title { (heading) }
            style { (style) }
            rect class="paper" width=(width) height=(height) {}
            text class="heading" x="14" y="27" { (heading) }
            g transform=(format!("translate(0 {HEADING})")) { (draw::body(&model)) }
        }
    }
    .into_string()
}
