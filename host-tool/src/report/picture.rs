//! The chart as a file of its own: a drawing, and pixels.

use std::sync::Arc;

use maud::html;
use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Options, Tree, fontdb};

use super::{Failure, Report, draw, model, palette, words};

/// Pixels for each unit of the drawing, so that the picture prints well.
const SHARPNESS: f32 = 2.0;

/// Room for the heading (px).
const HEADING: f64 = 44.0;

/// The style sheet of the chart.
pub(super) const STYLE: &str = include_str!("chart.css");

/// The family of the picture's text, which comes with the program: a machine without fonts
/// draws the same picture.
const FAMILY: &str = "DejaVu Sans";

/// The drawing.
pub(super) fn svg(report: &Report<'_>) -> String {
    let model = model::model(report);
    let (width, height) = (draw::WIDTH, draw::height(&model) + HEADING);
    let verdict = if report.passed { "PASS" } else { "FAIL" };
    let heading = format!("{}: {verdict}", words::legible(report.title));
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

/// The pixels.
pub(super) fn png(report: &Report<'_>) -> Result<Vec<u8>, Failure> {
    let mut fonts = fontdb::Database::new();
    fonts.load_font_data(dejavu::sans::regular().to_vec());
    fonts.load_font_data(dejavu::sans::bold().to_vec());
    fonts.set_sans_serif_family(FAMILY);
    let options =
        Options { font_family: FAMILY.into(), fontdb: Arc::new(fonts), ..Options::default() };
    let tree = Tree::from_str(&svg(report), &options)?;
    let size = tree.size();
    let (width, height) = (size.width() * SHARPNESS, size.height() * SHARPNESS);
    let no_pixels = || Failure::Pixels(format!("{width} x {height} is no size for a picture"));
    let mut pixels = Pixmap::new(width as u32, height as u32).ok_or_else(no_pixels)?;
    resvg::render(&tree, Transform::from_scale(SHARPNESS, SHARPNESS), &mut pixels.as_mut());
    pixels.encode_png().map_err(|error| Failure::Pixels(error.to_string()))
}
