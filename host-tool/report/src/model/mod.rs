//! The content of the chart: panels with curves, stages and marks. The drawing and the page's script
//! both work from this.

pub(super) mod curve;
mod panel;
mod panels;

use saggar_core::events::EventKind;
use serde::Serialize;

pub(super) use panel::{ChartPanel, ChartPoint, Threshold};

use crate::Report;
use crate::StageBand;
use crate::axis::{self, TickLevel};
use crate::event_text;
use crate::layout::{ChartFrame, StageSpan};

/// The chart.
#[derive(Clone, Debug, Serialize)]
pub(super) struct ChartModel {
    /// Sizes.
    pub(super) frame: ChartFrame,
    /// Length of the time axis (s), more than 0.
    pub(super) end_s: f64,
    /// Ticks of the time axis.
    pub(super) levels: Vec<TickLevel>,
    /// Panels from top to bottom; a panel without data is left out.
    pub(super) panels: Vec<ChartPanel>,
    /// Stages.
    pub(super) bands: Vec<ChartBand>,
    /// Events, faults and trips.
    pub(super) marks: Vec<ChartMark>,
}

/// A stage.
#[derive(Clone, Debug, Serialize)]
pub(super) struct ChartBand {
    /// Number of the stage in its file.
    pub(super) number: usize,
    /// Name.
    pub(super) name: String,
    /// What it does, its kind first.
    #[serde(skip)]
    pub(super) what: String,
    /// Beginning (s).
    pub(super) from_s: f64,
    /// End (s).
    pub(super) to_s: f64,
    /// Number and name.
    pub(super) label: String,
}

impl ChartBand {
    fn of(band: &StageBand) -> Self {
        let name = event_text::legible(&band.title()).into_owned();
        let what = format!("{} {}", band.kind, band.what);
        Self {
            number: band.number,
            label: format!("{} {name}", band.number),
            name,
            what: event_text::legible(&what).trim().to_owned(),
            from_s: band.from_s,
            to_s: band.to_s,
        }
    }

    /// The stage in one line: "2 dry the coat: soak 15 min within 10 K".
    pub(super) fn description(&self) -> String {
        let is_named = !self.what.to_lowercase().starts_with(&self.name.to_lowercase());
        let name = if is_named { format!("{}: ", self.name) } else { String::new() };
        format!("{} {name}{}", self.number, self.what)
    }
}

/// Something that happened at one moment, drawn as a line down the chart.
#[derive(Clone, Debug, Serialize)]
pub(super) struct ChartMark {
    /// When (s).
    pub(super) at_s: f64,
    /// What, in two or three words.
    pub(super) name: String,
    /// Class of its line in the style sheet: `event`, `fault` or `trip`.
    pub(super) class: &'static str,
}

/// The chart of a report.
pub(super) fn model(report: &Report<'_>) -> ChartModel {
    let trace_s = report.trace_s();
    let end_s = if trace_s > 0.0 { trace_s } else { 1.0 };
    let within = |at_s: f64| (0.0..=end_s + 1.0).contains(&at_s);
    let mut panels = panels::panels(report);
    let stages = report.stages.iter().filter(|b| b.from_s.is_finite() && b.to_s > b.from_s);
    let bands =
        stages.map(ChartBand::of).filter(|band| within(band.from_s)).collect::<Vec<_>>();
    let mut marks = marks(report);
    marks.retain(|mark| within(mark.at_s));
    let (frame, tops) = ChartFrame::of(
        &spans(&bands, end_s),
        marks.len(),
        panels.iter().map(|panel| panel.height),
    );
    panels.iter_mut().zip(tops).for_each(|(panel, top)| panel.top = top);
    ChartModel { frame, end_s, levels: axis::clock_levels(), panels, bands, marks }
}

/// The stages as their labels need them.
pub(super) fn spans<'b>(bands: &'b [ChartBand], end_s: f64) -> Vec<StageSpan<'b>> {
    let span = |band: &'b ChartBand| StageSpan {
        label: &band.label,
        number: band.number.to_string(),
        from: band.from_s / end_s,
        to: band.to_s / end_s,
    };
    bands.iter().map(span).collect()
}

/// Faults, trips and other events in the order of time.
fn marks(report: &Report<'_>) -> Vec<ChartMark> {
    let faults = report.faults.iter().map(|fault| ChartMark {
        at_s: fault.at_s,
        name: format!("▼ fault: {}", event_text::legible(&fault.name)),
        class: "fault",
    });
    let events = report.trace.events.iter().filter_map(|event| {
        let name = event_text::event_label(event.kind)?;
        let is_trip = matches!(event.kind, EventKind::Tripped(_));
        let (name, class) =
            if is_trip { (format!("✗ {name}"), "trip") } else { (name, "event") };
        Some(ChartMark { at_s: event_text::at_s(event), name, class })
    });
    let mut marks: Vec<_> = faults.chain(events).collect();
    marks.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
    marks
}
