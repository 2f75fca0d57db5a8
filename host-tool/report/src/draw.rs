//! Draws the chart as SVG: one time axis, panels below each other, stages as bands, events, faults and
//! trips as lines down all panels. Lines and texts carry classes; the colours are in the style sheet.

use std::fmt::Write;

use maud::{Markup, html};

use crate::axis::{self, Axis};
use crate::layout::{self, CHARACTER, LEFT, MarkLabelSpot, RIGHT, StageLabelSpot, WIDTH};
use crate::model::curve::Curve;
use crate::model::{ChartMark, ChartModel, ChartPanel, ChartPoint, Threshold, spans};
use crate::thin::thin;
use saggar_verdict::format::clock;

/// A deviation that the eye cannot see (px).
const INVISIBLE: f64 = 0.3;

/// Least distance between a point's label and a line above it (px).
const LABEL_HEIGHT: f64 = 16.0;

/// A panel with its axis.
struct PlacedPanel<'m> {
    panel: &'m ChartPanel,
    axis: Axis,
}

/// The drawing, without the element around it.
pub(super) fn body(model: &ChartModel) -> Markup {
    let chart = ChartSvg { model };
    let stages = model.frame.place_stages(&spans(&model.bands, model.end_s));
    let marks = model.marks.iter().map(|mark| (mark.name.as_str(), chart.x(mark.at_s)));
    let mark_labels = model.frame.place_marks(marks);
    html! {
        @for (index, label) in stages.into_iter().enumerate() { (chart.band(index, label)) }
        @for panel in &model.panels {
            (chart.panel(&PlacedPanel { panel, axis: axis_of(panel) }))
        }
        (chart.time_axis())
        @for (mark, label) in model.marks.iter().zip(mark_labels) { (chart.mark(mark, label)) }
    }
}

/// The drawing of a model.
struct ChartSvg<'m> {
    model: &'m ChartModel,
}

impl ChartSvg<'_> {
    fn x(&self, at_s: f64) -> f64 {
        layout::x(at_s, self.model.end_s)
    }

    fn band(&self, index: usize, label: Option<StageLabelSpot>) -> Markup {
        let Some(band) = self.model.bands.get(index) else { return html! {} };
        let (from, to) = (self.x(band.from_s), self.x(band.to_s));
        let shade = if index.is_multiple_of(2) { "band" } else { "band other" };
        html! {
            rect class=(shade) x=(px(from)) y="0" width=(px(to - from)) height=(px(self.model.frame.bottom)) {
                title { (band.number) " " (band.name) ": " (band.what) }
            }
            @if let Some(label) = label {
                text class="stage" x=(px(label.x)) y=(px(label.y)) text-anchor="middle" {
                    (label.text)
                }
            }
        }
    }

    fn panel(&self, placed: &PlacedPanel<'_>) -> Markup {
        let (low, high) = (placed.panel.top + placed.panel.height, placed.panel.top);
        let right = WIDTH - RIGHT;
        html! {
            text class="title" x=(px(LEFT)) y=(px(high - 9.0)) { (placed.panel.title) }
            (legend(placed))
            @for tick in &placed.axis.ticks {
                @let y = placed.y(*tick);
                line class="grid" x1=(px(LEFT)) x2=(px(right)) y1=(px(y)) y2=(px(y)) {}
                text class="tick" x=(px(LEFT - 7.0)) y=(px(y + 4.0)) text-anchor="end" {
                    (number(*tick))
                }
            }
            line class="edge" x1=(px(LEFT)) x2=(px(right)) y1=(px(low)) y2=(px(low)) {}
            @for threshold in &placed.panel.thresholds { (placed.threshold(threshold)) }
            @for curve in placed.panel.curves.iter().rev().filter(|curve| curve.shown) {
                path class=(line_class(curve)) d=(self.path(curve, placed)) {}
            }
            @for point in &placed.panel.points { (placed.point(point, self.x(point.at_s))) }
        }
    }

    /// The curve, thinned to the resolution of the drawing.
    fn path(&self, curve: &Curve, placed: &PlacedPanel<'_>) -> String {
        let mut path = String::new();
        for run in &curve.runs {
            let at = |(at_s, value): &(f64, f64)| (self.x(*at_s), placed.y(*value));
            let points: Vec<(f64, f64)> = run.iter().map(at).collect();
            for (nth, index) in thin(&points, INVISIBLE).into_iter().enumerate() {
                let Some((x, y)) = points.get(index) else { continue };
                let letter = if nth == 0 { 'M' } else { 'L' };
                let _ = write!(path, "{letter}{} {}", px(*x), px(*y));
            }
            if run.len() == 1 {
                path.push_str("h0");
            }
        }
        path
    }

    fn time_axis(&self) -> Markup {
        let y = self.model.frame.bottom;
        html! {
            @for at_s in axis::time_ticks(self.model.end_s, layout::time_ticks_max()) {
                @let x = px(self.x(at_s));
                line class="edge" x1=(x) x2=(x) y1=(px(y)) y2=(px(y + 5.0)) {}
                text class="tick" x=(x) y=(px(y + 18.0)) text-anchor="middle" {
                    (clock(at_s))
                }
            }
            text class="title" x=(px((LEFT + WIDTH - RIGHT) / 2.0)) y=(px(y + 36.0))
                text-anchor="middle" { "Time since the start, h:min" }
        }
    }

    fn mark(&self, mark: &ChartMark, label: Option<MarkLabelSpot>) -> Markup {
        let x = px(self.x(mark.at_s));
        let (top, bottom) = (self.model.frame.below_stages(), self.model.frame.bottom);
        html! {
            line class={ "mark " (mark.class) } x1=(x) x2=(x) y1=(px(top)) y2=(px(bottom)) {
                title { (mark.name) }
            }
            @if let Some(label) = label {
                text class={ "mark-label " (mark.class) } x=(px(label.x)) y=(px(label.y))
                    text-anchor=(if label.to_left { "end" } else { "start" }) {
                    (mark.name)
                }
            }
        }
    }
}

impl PlacedPanel<'_> {
    fn y(&self, value: f64) -> f64 {
        self.panel.top + (1.0 - self.axis.share_of(value)) * self.panel.height
    }

    /// A line across the panel with its label at the left, unless it is out of view.
    fn threshold(&self, threshold: &Threshold) -> Markup {
        if !(0.0..=1.0).contains(&self.axis.share_of(threshold.value)) {
            return html! {};
        }
        let y = self.y(threshold.value);
        // On the other side of the line than the labels of the points, which reach it on a narrow page.
        let points = &self.panel.points;
        let above = points.is_empty() || points.iter().any(|point| self.is_crowded(point));
        let label_y = if above { y - 5.0 } else { y + LABEL_HEIGHT };
        html! {
            line class="threshold" x1=(px(LEFT)) x2=(px(WIDTH - RIGHT)) y1=(px(y)) y2=(px(y)) {}
            text class="threshold-label" x=(px(LEFT + 6.0)) y=(px(label_y)) { (threshold.label) }
        }
    }

    /// Whether a line is so close above a point that its label has to stand below it.
    fn is_crowded(&self, point: &ChartPoint) -> bool {
        let y = self.y(point.value);
        let gaps = self.panel.thresholds.iter().map(|threshold| y - self.y(threshold.value));
        gaps.into_iter().any(|gap| gap > 1.0 && gap < LABEL_HEIGHT + 4.0)
    }

    fn point(&self, point: &ChartPoint, x: f64) -> Markup {
        let y = self.y(point.value);
        // The label stands above the point, unless the line above it is too close.
        let crowded = self.is_crowded(point);
        let wide = CHARACTER * point.label.chars().count() as f64;
        let to_left = x + wide > WIDTH - RIGHT;
        html! {
            circle class={ "point " (point.class) } cx=(px(x)) cy=(px(y)) r="4.5" {
                title { (point.label) }
            }
            text class={ "point-label " (point.class) } x=(px(if to_left { x + 4.0 } else { x - 4.0 }))
                y=(px(if crowded { y + LABEL_HEIGHT } else { y - 8.0 }))
                text-anchor=(if to_left { "end" } else { "start" }) { (point.label) }
        }
    }
}

/// The axis for the curves that are shown.
fn axis_of(panel: &ChartPanel) -> Axis {
    let shown = panel.curves.iter().filter(|curve| curve.shown);
    let values = shown.flat_map(|curve| curve.runs.iter().flatten()).map(|(_, value)| *value);
    let whole = panel.range.unwrap_or((f64::INFINITY, f64::NEG_INFINITY));
    let (low, high) =
        values.fold(whole, |(low, high), value| (low.min(value), high.max(value)));
    let known = low <= high;
    let (low, high) = if known { (low, high) } else { (1.0, 10.0) };
    Axis::over(panel.scale, low, high, panel.ticks_max)
}

/// Samples of the lines with their names, at the right above a panel.
fn legend(placed: &PlacedPanel<'_>) -> Markup {
    let shown: Vec<&Curve> = placed.panel.curves.iter().filter(|curve| curve.shown).collect();
    let mut right = WIDTH - RIGHT;
    let mut entries = Vec::new();
    for curve in shown.iter().rev() {
        let text = right - 1.06 * CHARACTER * curve.name.chars().count() as f64;
        entries.push((*curve, text));
        right = text - 46.0;
    }
    let y = placed.panel.top - 9.0;
    html! {
        @for (curve, x) in entries.into_iter().rev() {
            line class=(line_class(curve)) x1=(px(x - 32.0)) x2=(px(x - 6.0)) y1=(px(y - 4.0))
                y2=(px(y - 4.0)) {}
            text class="name" x=(px(x)) y=(px(y)) { (curve.name) }
        }
    }
}

fn line_class(curve: &Curve) -> String {
    format!("curve {}", curve.class)
}

/// A coordinate, rounded to a tenth.
fn px(value: f64) -> String {
    ((value * 10.0).round() / 10.0).to_string()
}

/// A label of an axis, with no more digits than it needs.
fn number(value: f64) -> String {
    if value.abs() < 1e-3 && value.abs() > 0.0 {
        return format!("{value:e}");
    }
    let rounded = (value * 1e4).round() / 1e4 + 0.0;
    rounded.to_string().replace('-', "−")
}
