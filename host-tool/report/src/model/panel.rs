//! One panel of the chart.

use serde::Serialize;

use super::curve::Curve;
use crate::axis::{AxisScale, TickLevel};

/// One panel.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct ChartPanel {
    /// Title with the unit.
    pub(crate) title: String,
    /// Whether its axis is linear or logarithmic.
    pub(crate) scale: AxisScale,
    /// A range that is always in view.
    pub(crate) range: Option<(f64, f64)>,
    /// Upper end (px).
    pub(crate) top: f64,
    /// Height (px).
    pub(crate) height: f64,
    /// About how many labels fit its axis.
    pub(crate) ticks_max: f64,
    /// Ticks of its axis.
    pub(crate) levels: Vec<TickLevel>,
    /// Least distance of its curves from both ends of the axis, in axis units.
    pub(crate) margin: f64,
    /// Curves.
    pub(crate) curves: Vec<Curve>,
    /// Important values, drawn as lines across the panel.
    pub(crate) thresholds: Vec<Threshold>,
    /// Important moments, drawn as points.
    pub(crate) points: Vec<ChartPoint>,
}

/// An important value, such as the wall that the glass has to get through.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct Threshold {
    /// The value.
    pub(crate) value: f64,
    /// Its label, with the value.
    pub(crate) label: String,
}

/// An important point, such as where the glass came through the wall.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct ChartPoint {
    /// When (s).
    pub(crate) at_s: f64,
    /// The value there.
    pub(crate) value: f64,
    /// Its label.
    pub(crate) label: String,
    /// Class of the point in the style sheet: `good`, `bad` or `unknown`.
    pub(crate) class: &'static str,
}
