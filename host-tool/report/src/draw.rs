//! Draws the chart: one time axis, panels below each other, stages as bands, events as marks.
//! Lines and texts carry classes; the colours are in the style sheet.

use std::fmt::Write;

use maud::{Markup, html};

use crate::axis::{self, Axis};
use crate::layout::{self, CHARACTER, LEFT, LabelSpot, RIGHT, ROW, WIDTH, fitting};
use crate::model::curve::Curve;
use crate::model::{ChartMark, ChartModel, ChartPanel};
use crate::thin::thin;
use saggar_plant::format::clock;

/// What the eye cannot see (px).
const BLUR: f64 = 0.3;

/// A panel with its axis.
struct PlacedPanel<'m> {
    panel: &'m ChartPanel,
    axis: Axis,
}

/// The drawing, without the element around it.
pub(super) fn body(model: &ChartModel) -> Markup {
    let sheet = ChartSvg { model };
    html! {
        @for (index, _) in model.bands.iter().enumerate() { (sheet.band(index)) }
        @for panel in &model.panels { (sheet.panel(&PlacedPanel { panel, axis: axis_of(panel) })) }
        (sheet.time_axis())
        @for (mark, spot) in model.marks.iter().zip(sheet.spots()) { (sheet.mark(mark, spot)) }
    }
}

/// The drawing under way.
struct ChartSvg<'m> {
    model: &'m ChartModel,
}

impl ChartSvg<'_> {
    fn x(&self, at_s: f64) -> f64 {
        layout::x(at_s, self.model.end_s)
    }

    fn band(&self, index: usize) -> Markup {
        let Some(band) = self.model.bands.get(index) else { return html! {} };
        let (from, to) = (self.x(band.from_s), self.x(band.to_s));
        let shade = if index.is_multiple_of(2) { "band" } else { "band other" };
        let label = fitting(&band.label(), to - from - 4.0);
        html! {
            rect class=(shade) x=(px(from)) y="0" width=(px(to - from)) height=(px(self.model.frame.bottom)) {
                title { (band.number) " " (band.name) ": " (band.what) }
            }
            @if let Some(label) = label {
                text class="stage" x=(px((from + to) / 2.0)) y=(px(ROW - 5.0))
                    text-anchor="middle" { (label) }
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
            @for curve in placed.panel.curves.iter().rev().filter(|curve| curve.shown) {
                path class=(line_class(curve)) d=(self.path(curve, placed)) {}
            }
        }
    }

    /// The curve, thinned to what the eye can see.
    fn path(&self, curve: &Curve, placed: &PlacedPanel<'_>) -> String {
        let mut path = String::new();
        for run in &curve.runs {
            let at = |(at_s, value): &(f64, f64)| (self.x(*at_s), placed.y(*value));
            let points: Vec<(f64, f64)> = run.iter().map(at).collect();
            for (nth, index) in thin(&points, BLUR).into_iter().enumerate() {
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
            @for at_s in axis::times(self.model.end_s, layout::times_max()) {
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

    fn spots(&self) -> Vec<Option<LabelSpot>> {
        let marks = self.model.marks.iter();
        layout::spots(marks.map(|mark| (mark.name.as_str(), self.x(mark.at_s))))
    }

    fn mark(&self, mark: &ChartMark, spot: Option<LabelSpot>) -> Markup {
        let x = px(self.x(mark.at_s));
        html! {
            line class="mark" x1=(x) x2=(x) y1=(px(ROW)) y2=(px(self.model.frame.bottom)) {
                title { (mark.name) }
            }
            @if let Some(spot) = spot {
                text class="event" x=(px(spot.x)) y=(px(ROW * (spot.row + 2) as f64 - 4.0))
                    text-anchor=(if spot.to_left { "end" } else { "start" }) {
                    (mark.name)
                }
            }
        }
    }
}

impl PlacedPanel<'_> {
    fn y(&self, value: f64) -> f64 {
        self.panel.top + (1.0 - self.axis.place(value)) * self.panel.height
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
    Axis::over(panel.spread, low, high, panel.most)
}

/// Samples of the lines with their names, at the right above a panel.
fn legend(placed: &PlacedPanel<'_>) -> Markup {
    let shown: Vec<&Curve> = placed.panel.curves.iter().filter(|curve| curve.shown).collect();
    let mut right = WIDTH - RIGHT;
    let mut places = Vec::new();
    for curve in shown.iter().rev() {
        let text = right - 1.06 * CHARACTER * curve.name.chars().count() as f64;
        places.push((*curve, text));
        right = text - 46.0;
    }
    let y = placed.panel.top - 9.0;
    html! {
        @for (curve, x) in places.into_iter().rev() {
            line class=(line_class(curve)) x1=(px(x - 32.0)) x2=(px(x - 6.0)) y1=(px(y - 4.0))
                y2=(px(y - 4.0)) {}
            text class="name" x=(px(x)) y=(px(y)) { (curve.name) }
        }
    }
}

fn line_class(curve: &Curve) -> String {
    format!("curve {}", curve.class)
}

/// A place on the paper, to a tenth.
fn px(value: f64) -> String {
    ((value * 10.0).round() / 10.0).to_string()
}

/// A label of an axis: no more digits than it needs.
fn number(value: f64) -> String {
    if value.abs() < 1e-3 && value.abs() > 0.0 {
        return format!("{value:e}");
    }
    let rounded = (value * 1e4).round() / 1e4 + 0.0;
    rounded.to_string()
}
