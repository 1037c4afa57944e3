//! Pixels from the SVG, with the shipped font and no other.

mod draw;

use ::png::{BitDepth, ColorType, Compression, Encoder, PixelDimensions, Unit};
use roxmltree::Document as Xml;
use tiny_skia::{Pixmap, Transform};

use crate::paper::error::FigureError;

const CSS_DPI: f64 = 96.0;
const LEAST_DPI: f64 = 24.0;
const MOST_PIXELS: f64 = 64e6;

/// A PNG of an SVG whose size is given in CSS pixels, with texts (keyword, text)
/// in the file.
pub(crate) fn encode(
    svg: &str,
    (width_px, height_px): (u32, u32),
    dpi: f64,
    texts: &[(&str, &str)],
) -> Result<Vec<u8>, FigureError> {
    let area = f64::from(width_px) * f64::from(height_px);
    let most = (CSS_DPI * (MOST_PIXELS / area).sqrt()).floor();
    if !(LEAST_DPI..=most).contains(&dpi) {
        let least = LEAST_DPI;
        return Err(FigureError::Dpi { dpi, least, most });
    }
    let scale = dpi / CSS_DPI;
    let pixels = |px: u32| (f64::from(px) * scale).round().max(1.0) as u32;
    let (width, height) = (pixels(width_px), pixels(height_px));

    let svg = Xml::parse(svg).map_err(|error| FigureError::Page(error.to_string()))?;
    let mut pixmap = Pixmap::new(width, height).expect("the size was checked above");
    let transform =
        Transform::from_scale(width as f32 / width_px as f32, height as f32 / height_px as f32);
    draw::draw(&svg.root_element(), transform, &mut pixmap.as_mut())?;

    // The page is opaque, so the alpha channel says nothing.
    let rgb: Vec<u8> =
        pixmap.data().chunks_exact(4).flat_map(|pixel| [pixel[0], pixel[1], pixel[2]]).collect();
    let mut bytes = Vec::new();
    let mut encoder = Encoder::new(&mut bytes, width, height);
    encoder.set_color(ColorType::Rgb);
    encoder.set_depth(BitDepth::Eight);
    encoder.set_compression(Compression::Balanced);
    let per_metre = (dpi / 0.0254).round() as u32;
    encoder.set_pixel_dims(Some(PixelDimensions {
        xppu: per_metre,
        yppu: per_metre,
        unit: Unit::Meter,
    }));
    for (keyword, text) in texts {
        encoder.add_itxt_chunk((*keyword).to_owned(), (*text).to_owned())?;
    }
    let mut writer = encoder.write_header()?;
    writer.write_image_data(&rgb)?;
    writer.finish()?;
    Ok(bytes)
}
