//! The chart as a standalone SVG file.

use maud::{Markup, html};

use crate::Report;
use crate::draw;
use crate::event_text::legible;
use crate::layout;
use crate::model::{self, ChartBand};
use crate::palette;
use crate::result;

/// Height of the heading above the chart (px).
const HEADING: f64 = 62.0;

/// Height of a line of the list of stages, and of its title (px).
const LIST_LINE: f64 = 18.0;

/// Most characters of a line in that list, which has two columns.
const LIST_CHARACTERS: usize = 78;

/// The style sheet of the chart.
pub(super) const STYLE: &str = include_str!("chart.css");

/// The drawing: heading, chart, list of stages.
pub(super) fn svg(report: &Report<'_>) -> String {
    let model = model::model(report);
    let chart_end = HEADING + model.frame.height;
    let lines = model.bands.len().div_ceil(2);
    let list = if lines == 0 { 0.0 } else { LIST_LINE * (lines as f64 + 2.0) };
    let (width, height) = (layout::WIDTH, chart_end + list);
    let result = report.verdict.result();
    let (class, mark, _) = result::look(result);
    let word = result.heading();
    let heading = format!("{mark} {word}: {}", legible(report.title));
    let outcome = format!("{}; {}", report.circumstances(), report.verdict.headline());
    html! {
        svg xmlns="http://www.w3.org/2000/svg" viewBox=(format!("0 0 {width} {height}"))
            width=(width) height=(height) role="img" class="chart" {
            title { (heading) " " (legible(&outcome)) }
            style { (palette::literal(STYLE)) }
            rect class="paper" width=(width) height=(height) {}
            text class={ "heading " (chart_class(class)) } x="14" y="27" { (heading) }
            text class="circumstances" x="14" y="47" { (legible(&outcome)) }
            g transform=(format!("translate(0 {HEADING})")) { (draw::body(&model)) }
            @if lines > 0 { (stage_list(&model.bands, lines, chart_end)) }
        }
    }
    .into_string()
}

/// The class of a heading in the chart's style sheet, which has marks of its own.
fn chart_class(class: &str) -> &str {
    match class {
        "pass" => "good",
        "fail" => "bad",
        other => other,
    }
}

/// Names the stages whose numbers are above the chart.
fn stage_list(bands: &[ChartBand], lines: usize, top: f64) -> Markup {
    let column = (layout::WIDTH - layout::LEFT) / 2.0;
    let place = |index: usize| {
        let (column_number, line) = (index / lines, index % lines);
        let x = layout::LEFT + column * column_number as f64;
        (x.round(), top + LIST_LINE * (line + 2) as f64 - 4.0)
    };
    html! {
        text class="title" x=(layout::LEFT) y=(top + LIST_LINE - 4.0) { "Stages" }
        @for (index, band) in bands.iter().enumerate() {
            @let (x, y) = place(index);
            text class="stage-line" x=(x) y=(y) { (shortened(&band.description())) }
        }
    }
}

/// A line that fits its column, cut at the end of a word.
fn shortened(line: &str) -> String {
    if line.chars().count() <= LIST_CHARACTERS {
        return line.to_owned();
    }
    let head: String = line.chars().take(LIST_CHARACTERS - 2).collect();
    let words = head.rsplit_once(' ').map_or(head.as_str(), |(words, _)| words);
    format!("{words} …")
}
