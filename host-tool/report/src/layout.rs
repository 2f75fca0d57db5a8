//! Where things stand on the paper. The still drawing is made from this, and the page's script is
//! told it: it moves what is here and lays nothing out by rules of its own.

use serde::Serialize;

/// Width of the drawing (px).
pub(super) const WIDTH: f64 = 1040.0;
pub(super) const LEFT: f64 = 62.0;
pub(super) const RIGHT: f64 = 18.0;
/// Height of the row with the names of the stages, and of each row with names of events.
pub(super) const ROW: f64 = 18.0;
const MARK_ROWS: usize = 2;
/// Room above a panel for its title and its legend.
const TITLE: f64 = 30.0;
const TALLEST: f64 = 270.0;
/// Room for the labels of the time axis.
const FOOT: f64 = 44.0;
/// Width that a character of a small text needs, on the safe side.
pub(super) const CHARACTER: f64 = 7.0;
/// Distance of labels along a tall axis, and along the time axis (px).
const APART: f64 = 40.0;
const APART_TIME: f64 = 80.0;
/// The widths, in characters, to which a label may be cut.
const CUTS: [usize; 6] = [28, 20, 14, 10, 8, 6];

/// The paper (px).
#[derive(Clone, Copy, Debug, Serialize)]
pub(super) struct ChartFrame {
    /// Room at the sides.
    left: f64,
    right: f64,
    /// Height of a row of names, and how many there are for events.
    row: f64,
    rows: usize,
    /// Where the lowest panel ends.
    pub(super) bottom: f64,
    /// Height of the whole drawing.
    pub(super) height: f64,
    /// Room that a character takes.
    character: f64,
    /// Distance of labels along the time axis.
    apart: f64,
}

impl ChartFrame {
    /// The paper for panels of these heights, and where each of them begins.
    pub(super) fn of(heights: impl Iterator<Item = f64>) -> (Self, Vec<f64>) {
        let mut bottom = ROW * (1 + MARK_ROWS) as f64 + 4.0;
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
            rows: MARK_ROWS,
            bottom,
            height: bottom + FOOT,
            character: CHARACTER,
            apart: APART_TIME,
        };
        (frame, tops)
    }
}

/// Height of a panel (px), from its share of the tallest, and about how many labels it has room for.
pub(super) fn tall(share: f64) -> (f64, f64) {
    let height = TALLEST * share;
    (height, (height / APART).max(4.0))
}

/// About how many labels the time axis has room for.
pub(super) fn times_max() -> f64 {
    (WIDTH - LEFT - RIGHT) / APART_TIME
}

/// Where a time stands on an axis that ends at `end_s`.
pub(super) fn x(at_s: f64, end_s: f64) -> f64 {
    LEFT + (at_s / end_s).clamp(0.0, 1.0) * (WIDTH - LEFT - RIGHT)
}

/// Where the name of an event goes.
#[derive(Clone, Copy, Debug)]
pub(super) struct LabelSpot {
    pub(super) row: usize,
    pub(super) x: f64,
    /// The name ends there.
    pub(super) to_left: bool,
}

/// A place for each name that has one without running into another. `names` are names and where
/// their lines are.
pub(super) fn spots<'n>(names: impl Iterator<Item = (&'n str, f64)>) -> Vec<Option<LabelSpot>> {
    let mut ends = [0.0_f64; MARK_ROWS];
    let spot = |(name, line): (&str, f64)| {
        let wide = CHARACTER * (name.chars().count() + 2) as f64;
        let to_left = line + wide > WIDTH;
        let (from, to) = if to_left { (line - wide, line) } else { (line, line + wide) };
        let row = ends.iter().position(|end| *end <= from)?;
        *ends.get_mut(row)? = to + 4.0;
        Some(LabelSpot { row, x: if to_left { line - 5.0 } else { line + 5.0 }, to_left })
    };
    names.map(spot).collect()
}

/// As much of a label as fits a width (px); `None` if not even a digit does.
pub(super) fn fitting(label: &str, width: f64) -> Option<String> {
    cut(label, (width / CHARACTER).max(0.0) as usize)
}

/// The forms of a label, the longest first.
pub(super) fn forms(label: &str) -> Vec<String> {
    let number = label.split(' ').next().unwrap_or_default().len();
    let rooms = [label.chars().count()].into_iter().chain(CUTS).chain([number]);
    let mut forms: Vec<String> = rooms.filter_map(|room| cut(label, room)).collect();
    forms.dedup();
    forms
}

/// A label in so many characters: cut, or else its number alone.
fn cut(label: &str, room: usize) -> Option<String> {
    if label.chars().count() <= room {
        return Some(label.to_owned());
    }
    let number = label.split(' ').next().unwrap_or_default();
    if room < number.len() + 4 {
        return (room >= number.len()).then(|| number.to_owned());
    }
    let cut: String = label.chars().take(room - 1).collect();
    Some(format!("{}…", cut.trim_end()))
}
