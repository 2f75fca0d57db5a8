//! Axes: positions of values, and the values that get a label.

/// Whether an axis is linear or logarithmic.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "lowercase")]
pub(super) enum AxisScale {
    /// Linear.
    Linear,
    /// Logarithmic.
    Log,
}

impl AxisScale {
    /// A value in axis units, which are evenly spaced; not finite where the axis cannot show it.
    pub(super) fn to_axis(self, value: f64) -> f64 {
        match self {
            Self::Linear => value,
            Self::Log => value.log10(),
        }
    }

    /// Least distance of a curve from both ends of the axis, in axis units. On a logarithmic axis
    /// it is wide enough that a 1, 2 or 5 is in view, however flat the curve is.
    pub(super) const fn margin(self) -> f64 {
        match self {
            Self::Linear => 0.0,
            Self::Log => 0.2,
        }
    }
}

/// With more labels than this, a logarithmic axis has one a decade.
const LOG_TICKS_MAX: usize = 7;

/// An axis.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Axis {
    scale: AxisScale,
    low: f64,
    high: f64,
    /// The values that get a label.
    pub(super) ticks: Vec<f64>,
}

impl Axis {
    /// An axis over at least `low..=high`, ending on labels, with about `parts` of them.
    pub(super) fn over(scale: AxisScale, low: f64, high: f64, parts: f64) -> Self {
        match scale {
            AxisScale::Linear => Self::linear(low, high, parts),
            AxisScale::Log => Self::log(low, high),
        }
    }

    fn linear(low: f64, high: f64, parts: f64) -> Self {
        let (low, high) = if high > low { (low, high) } else { (low - 0.5, low + 0.5) };
        let step = nice((high - low) / parts);
        let (first, last) = ((low / step).floor(), (high / step).ceil());
        let ticks = (0..=(last - first) as usize).map(|i| (first + i as f64) * step).collect();
        Self { scale: AxisScale::Linear, low: first * step, high: last * step, ticks }
    }

    fn log(low: f64, high: f64) -> Self {
        let (first, last) = (low.log10().floor() as i32, high.log10().ceil() as i32 + 1);
        let decades = (first..=last).map(|power| 10_f64.powi(power));
        let round: Vec<f64> =
            decades.flat_map(|decade| [1.0, 2.0, 5.0].map(|digit| digit * decade)).collect();
        let from = round.iter().rposition(|value| *value <= low * 1.001).unwrap_or(0);
        let to = round.iter().position(|value| *value >= high * 0.999).unwrap_or(from);
        let mut ticks = round.get(from..=to.max(from + 1)).unwrap_or_default().to_vec();
        let ends = ticks.first().copied().zip(ticks.last().copied());
        let (low, high) = ends.unwrap_or((low, high));
        if ticks.len() > LOG_TICKS_MAX {
            ticks.retain(|value| (value.log10() - value.log10().round()).abs() < 1e-9);
        }
        Self { scale: AxisScale::Log, low, high, ticks }
    }

    /// Position of a value along the axis: 0 at the low end, 1 at the high end.
    pub(super) fn share_of(&self, value: f64) -> f64 {
        let units = |value| self.scale.to_axis(value);
        (units(value) - units(self.low)) / (units(self.high) - units(self.low))
    }
}

/// The smallest of 1, 2, 5 times a power of ten that is at least `rough`.
fn nice(rough: f64) -> f64 {
    let power = 10_f64.powf(rough.log10().floor());
    let step = [1.0, 2.0, 5.0].into_iter().find(|step| step * power >= rough * 0.999);
    step.unwrap_or(10.0) * power
}

/// Ticks for any part of an axis, in axis units: at each of `at` beyond every multiple of `step`. The
/// page's script takes the finest level whose labels fit.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub(super) struct TickLevel {
    step: f64,
    at: Vec<f64>,
}

impl TickLevel {
    fn every(step: f64) -> Self {
        Self { step, at: vec![0.0] }
    }

    /// At these numbers in each decade.
    fn decade(numbers: impl Iterator<Item = f64>) -> Self {
        Self { step: 1.0, at: numbers.map(f64::log10).collect() }
    }
}

/// Most levels of an axis, whatever its values.
const LEVELS_MAX: usize = 40;

/// The levels of an axis, coarse ones first: from one for all of its `span` to one with a digit more
/// than its values have decimals.
pub(super) fn levels(scale: AxisScale, span: f64, decimals: usize) -> Vec<TickLevel> {
    match scale {
        AxisScale::Linear => {
            let finest = 10_f64.powi(-1 - decimals as i32);
            let coarsest = if span > finest && span.is_finite() { nice(span) } else { finest };
            let finer = |step: &f64| Some(nice(step / 2.5));
            let steps = std::iter::successors(Some(coarsest), finer);
            steps
                .take_while(|step| *step > finest * 0.999)
                .take(LEVELS_MAX)
                .map(TickLevel::every)
                .collect()
        }
        AxisScale::Log => vec![
            TickLevel::decade([1.0].into_iter()),
            TickLevel::decade([1.0, 2.0, 5.0].into_iter()),
            TickLevel::decade((1..10).map(f64::from)),
            TickLevel::decade((10..100).map(|tenths| f64::from(tenths) / 10.0)),
        ],
    }
}

/// The levels of a time axis: those of a clock, and whole days.
pub(super) fn clock_levels() -> Vec<TickLevel> {
    let days = [8.0, 4.0, 2.0, 1.0].map(|days| days * 86400.0);
    days.into_iter().chain(CLOCK_STEPS.into_iter().rev()).map(TickLevel::every).collect()
}

/// Steps that suit a clock (s).
const CLOCK_STEPS: [f64; 14] = [
    1.0, 5.0, 10.0, 30.0, 60.0, 120.0, 300.0, 600.0, 900.0, 1800.0, 3600.0, 7200.0, 14400.0,
    28800.0,
];

/// The times to label on `0..=to_s`, at most about `ticks_max` of them.
pub(super) fn time_ticks(to_s: f64, ticks_max: f64) -> Vec<f64> {
    let rough = to_s / ticks_max;
    let step = CLOCK_STEPS.into_iter().find(|step| *step >= rough);
    let step = step.unwrap_or_else(|| (rough / 86400.0).ceil() * 86400.0);
    (0..=(to_s / step) as usize).map(|i| i as f64 * step).collect()
}
