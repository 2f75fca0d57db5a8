//! Positions of the parts of the chart. The still drawing is made from this; the page's script gets the
//! same numbers with the model, and places labels by the same rules at other widths.

use serde::Serialize;

/// Width of the drawing (px).
pub(super) const WIDTH: f64 = 1040.0;
pub(super) const LEFT: f64 = 62.0;
pub(super) const RIGHT: f64 = 18.0;
/// Height of a row of labels above the panels (px).
pub(super) const ROW: f64 = 18.0;
/// Space above a panel for its title and its legend (px).
const TITLE: f64 = 30.0;
const PANEL_HEIGHT_MAX: f64 = 270.0;
/// Space below the panels for the time axis (px).
const TIME_AXIS: f64 = 44.0;
/// Width that a character of small text needs at most (px).
pub(super) const CHARACTER: f64 = 7.0;
/// Distance between labels along a panel's axis and along the time axis (px).
const TICK_DISTANCE: f64 = 40.0;
const TIME_TICK_DISTANCE: f64 = 80.0;
/// Most rows for the labels of events, faults and trips.
const MARK_ROWS_MAX: usize = 4;
/// Width of the drawing on a narrow phone (px).
const NARROW: f64 = 360.0;

/// The size of the chart and of its parts. The page's script reads it.
#[derive(Clone, Copy, Debug, Serialize)]
pub(super) struct ChartFrame {
    left: f64,
    right: f64,
    row: f64,
    /// Rows of labels for the stages.
    stage_rows: usize,
    /// Rows of labels for events, faults and trips.
    mark_rows: usize,
    /// Lower end of the lowest panel (px).
    pub(super) bottom: f64,
    /// Height of the whole drawing (px).
    pub(super) height: f64,
    character: f64,
    time_tick_distance: f64,
}

impl ChartFrame {
    /// The frame for these labels and for panels of these heights, and the top of each panel.
    pub(super) fn of(
        stages: &[StageSpan<'_>],
        marks: usize,
        heights: impl Iterator<Item = f64>,
    ) -> (Self, Vec<f64>) {
        // A second row is kept only where a phone needs it.
        let narrow = place_stage_labels(stages, 1, NARROW);
        let stage_rows = if narrow.iter().all(Option::is_some) { 1 } else { 2 };
        let mark_rows = marks.clamp(1, MARK_ROWS_MAX);
        let mut bottom = ROW * (stage_rows + mark_rows) as f64 + 4.0;
        let place = |height: f64| {
            let top = bottom + TITLE;
            bottom = top + height;
            top
        };
        let tops = heights.map(place).collect();
        let frame = Self {
            left: LEFT,
            right: RIGHT,
            row: ROW,
            stage_rows,
            mark_rows,
            bottom,
            height: bottom + TIME_AXIS,
            character: CHARACTER,
            time_tick_distance: TIME_TICK_DISTANCE,
        };
        (frame, tops)
    }

    /// Lower edge of the rows of stage labels (px).
    pub(super) fn below_stages(&self) -> f64 {
        ROW * self.stage_rows as f64
    }

    /// Places the labels of stages in this frame's rows.
    pub(super) fn place_stages(&self, stages: &[StageSpan<'_>]) -> Vec<Option<StageLabelSpot>> {
        place_stage_labels(stages, self.stage_rows, WIDTH)
    }

    /// Places the labels of marks in this frame's rows. `names` are the labels and the
    /// positions of their lines (px).
    pub(super) fn place_marks<'n>(
        &self,
        names: impl Iterator<Item = (&'n str, f64)>,
    ) -> Vec<Option<MarkLabelSpot>> {
        let mut ends = vec![0.0_f64; self.mark_rows];
        let place = |(name, line): (&str, f64)| {
            let wide = CHARACTER * (name.chars().count() + 2) as f64;
            let to_left = line + wide > WIDTH;
            let (from, to) = if to_left { (line - wide, line) } else { (line, line + wide) };
            let row = ends.iter().position(|end| *end <= from)?;
            *ends.get_mut(row)? = to + 4.0;
            let y = self.below_stages() + ROW * (row + 1) as f64 - 4.0;
            Some(MarkLabelSpot { y, x: if to_left { line - 5.0 } else { line + 5.0 }, to_left })
        };
        names.map(place).collect()
    }
}

/// Height of a panel (px), from its share of the tallest, and about how many labels fit its axis.
pub(super) fn panel_height(share: f64) -> (f64, f64) {
    let height = PANEL_HEIGHT_MAX * share;
    (height, (height / TICK_DISTANCE).max(4.0))
}

/// About how many labels fit the time axis.
pub(super) fn time_ticks_max() -> f64 {
    (WIDTH - LEFT - RIGHT) / TIME_TICK_DISTANCE
}

/// Position of a time on an axis that ends at `end_s` (px).
pub(super) fn x(at_s: f64, end_s: f64) -> f64 {
    x_within(WIDTH, at_s / end_s)
}

fn x_within(width: f64, share: f64) -> f64 {
    LEFT + share.clamp(0.0, 1.0) * (width - LEFT - RIGHT)
}

/// The data of a stage that its label needs: name, number, and beginning and end as shares of the time
/// axis.
#[derive(Clone, Debug)]
pub(super) struct StageSpan<'n> {
    pub(super) label: &'n str,
    pub(super) number: String,
    pub(super) from: f64,
    pub(super) to: f64,
}

/// Text and position of a stage label, centred on `x`.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct StageLabelSpot {
    pub(super) text: String,
    pub(super) x: f64,
    pub(super) y: f64,
}

/// Position of the label of a mark; it ends at `x` if `to_left`, otherwise it begins there.
#[derive(Clone, Copy, Debug)]
pub(super) struct MarkLabelSpot {
    pub(super) x: f64,
    pub(super) y: f64,
    pub(super) to_left: bool,
}

/// Each stage gets its whole label where it fits, or else its number, never a part of a name. A
/// number may be wider than its stage; it goes to the next row rather than over its neighbour.
pub(super) fn place_stage_labels(
    stages: &[StageSpan<'_>],
    rows: usize,
    width: f64,
) -> Vec<Option<StageLabelSpot>> {
    let mut ends = vec![f64::NEG_INFINITY; rows];
    let place = |stage: &StageSpan<'_>| {
        let (from, to) = (x_within(width, stage.from), x_within(width, stage.to));
        let wide = |text: &str| CHARACTER * text.chars().count() as f64;
        let fits = wide(stage.label) <= to - from - 4.0;
        let text = if fits { stage.label } else { &stage.number };
        let (x, half) = (f64::midpoint(from, to), wide(text) / 2.0);
        let row = ends.iter().position(|end| *end <= x - half)?;
        *ends.get_mut(row)? = x + half + 1.0;
        Some(StageLabelSpot { text: text.to_owned(), x, y: ROW * (row + 1) as f64 - 5.0 })
    };
    stages.iter().map(place).collect()
}
