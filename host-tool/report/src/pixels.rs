//! The chart as a PNG.

use std::sync::Arc;

use png::{BitDepth, ColorType, DeflateCompression, Encoder, Filter};
use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Options, Tree, fontdb};

use crate::Report;
use crate::ReportError;
use crate::svg_file;

/// Pixels per unit of the drawing; two print well.
const SHARPNESS: f32 = 2.0;

/// The font family, which is built in, so that the picture is the same on any machine.
const FAMILY: &str = "DejaVu Sans";

/// The pixels.
pub(super) fn png(report: &Report<'_>) -> Result<Vec<u8>, ReportError> {
    let mut fonts = fontdb::Database::new();
    fonts.load_font_data(dejavu::sans::regular().to_vec());
    fonts.load_font_data(dejavu::sans::bold().to_vec());
    fonts.set_sans_serif_family(FAMILY);
    let options =
        Options { font_family: FAMILY.into(), fontdb: Arc::new(fonts), ..Options::default() };
    let tree = Tree::from_str(&svg_file::svg(report), &options)
        .map_err(|error| ReportError::Pixels(error.to_string()))?;
    let size = tree.size();
    let (width, height) = (size.width() * SHARPNESS, size.height() * SHARPNESS);
    let no_pixels =
        || ReportError::Pixels(format!("{width} x {height} is no size for a picture"));
    let mut pixels = Pixmap::new(width as u32, height as u32).ok_or_else(no_pixels)?;
    resvg::render(&tree, Transform::from_scale(SHARPNESS, SHARPNESS), &mut pixels.as_mut());
    encoded(&pixels).map_err(|error| ReportError::Pixels(error.to_string()))
}

/// Encodes the file. With default settings the encoder takes longer than the rest of a rehearsal, for a
/// file that is a quarter smaller.
fn encoded(pixels: &Pixmap) -> Result<Vec<u8>, png::EncodingError> {
    let mut file = Vec::new();
    let mut encoder = Encoder::new(&mut file, pixels.width(), pixels.height());
    encoder.set_color(ColorType::Rgb);
    encoder.set_depth(BitDepth::Eight);
    encoder.set_deflate_compression(DeflateCompression::Level(1));
    // Most pixel rows of a chart equal the row above.
    encoder.set_filter(Filter::Up);
    // The drawing has a background, so no pixel is transparent.
    let (rgba, _) = pixels.data().as_chunks::<4>();
    let opaque: Vec<[u8; 3]> =
        rgba.iter().map(|&[red, green, blue, _]| [red, green, blue]).collect();
    let mut writer = encoder.write_header()?;
    writer.write_image_data(opaque.as_flattened())?;
    writer.finish()?;
    Ok(file)
}
