//! The few shapes that our SVG backend writes, drawn on a page of a PDF.

use krilla::color::rgb;
use krilla::geom::{PathBuilder, Point, Rect, Transform};
use krilla::num::NormalizedF32;
use krilla::paint::{Fill, FillRule, LineJoin, Stroke, StrokeDash};
use krilla::surface::Surface;
use krilla::text::{GlyphId, KrillaGlyph};
use roxmltree::Node;

use super::{face, number};
use crate::error::FigureError;
use crate::font::{self, Weight};

type Done = Result<(), FigureError>;

/// Control points of a Bézier quarter of a circle, as part of its radius: error
/// below 0.03 %.
const QUARTER: f32 = 0.552_285;
/// SVG's own limit for the tips of corners.
const MITER_LIMIT: f32 = 4.0;

/// Draws one element.
pub(super) fn draw(node: &Node<'_, '_>, surface: &mut Surface<'_>) -> Done {
    match node.tag_name().name() {
        "title" | "desc" | "style" => Ok(()),
        "text" => text(node, surface),
        "path" => shape(node, surface, path(node.attribute("d").unwrap_or_default())?),
        "rect" => {
            let origin = |name| node.attribute(name).map_or(Ok(0.0), |_| number(node, name));
            let (x, y) = (origin("x")?, origin("y")?);
            let rect = Rect::from_xywh(x, y, number(node, "width")?, number(node, "height")?);
            let mut path = PathBuilder::new();
            if let Some(rect) = rect {
                path.push_rect(rect);
            }
            shape(node, surface, path)
        }
        "circle" => {
            let centre = (number(node, "cx")?, number(node, "cy")?);
            shape(node, surface, circle(centre, number(node, "r")?))
        }
        other => Err(FigureError::Page(format!("no ink for an element <{other}>"))),
    }
}

fn shape(node: &Node<'_, '_>, surface: &mut Surface<'_>, path: PathBuilder) -> Done {
    surface.set_fill(fill(node)?);
    surface.set_stroke(stroke(node)?);
    if let Some(path) = path.finish() {
        surface.draw_path(&path);
    }
    Ok(())
}

/// `M x y x y … Z`, the only kind of path that the backend writes.
fn path(d: &str) -> Result<PathBuilder, FigureError> {
    let mut path = PathBuilder::new();
    for part in d.split_inclusive('Z').flat_map(|part| part.split('M')).filter(|p| !p.is_empty()) {
        let numbers = part.trim_end_matches('Z').split_whitespace().map(str::parse::<f32>);
        let numbers = numbers.collect::<Result<Vec<f32>, _>>();
        let numbers = numbers.map_err(|_| FigureError::Page(format!("a path holds {part:?}")))?;
        for (i, point) in numbers.chunks_exact(2).enumerate() {
            match i {
                0 => path.move_to(point[0], point[1]),
                _ => path.line_to(point[0], point[1]),
            }
        }
        if part.ends_with('Z') {
            path.close();
        }
    }
    Ok(path)
}

fn circle((x, y): (f32, f32), r: f32) -> PathBuilder {
    let k = QUARTER * r;
    let mut path = PathBuilder::new();
    path.move_to(x + r, y);
    path.cubic_to(x + r, y + k, x + k, y + r, x, y + r);
    path.cubic_to(x - k, y + r, x - r, y + k, x - r, y);
    path.cubic_to(x - r, y - k, x - k, y - r, x, y - r);
    path.cubic_to(x + k, y - r, x + r, y - k, x + r, y);
    path.close();
    path
}

fn text(node: &Node<'_, '_>, surface: &mut Surface<'_>) -> Done {
    let text = node.text().unwrap_or_default();
    let size = number(node, "font-size")?;
    let weight = match node.attribute("font-weight") {
        Some(_) => Weight::SemiBold,
        None => Weight::Regular,
    };
    let glyphs: Vec<KrillaGlyph> = font::glyphs(text, weight)
        .map(|(range, glyph, advance)| {
            let glyph = GlyphId::new(u32::from(glyph));
            KrillaGlyph::new(glyph, advance as f32, 0.0, 0.0, 0.0, range, None)
        })
        .collect();
    let width = glyphs.iter().map(|glyph| glyph.x_advance).sum::<f32>() * size;
    let back = match node.attribute("text-anchor") {
        Some("middle") => width / 2.0,
        Some("end") => width,
        _ => 0.0,
    };
    let (x, y) = (number(node, "x")?, number(node, "y")?);
    surface.set_fill(fill(node)?);
    surface.set_stroke(None);
    let turned = node.attribute("transform");
    if let Some(turn) = turned {
        surface.push_transform(&rotation(turn)?);
    }
    let start = Point::from_xy(x - back, y);
    surface.draw_glyphs(start, &glyphs, face(weight), text, size, false);
    if turned.is_some() {
        surface.pop();
    }
    Ok(())
}

/// `rotate(degrees x y)`.
fn rotation(text: &str) -> Result<Transform, FigureError> {
    let inside = text.strip_prefix("rotate(").and_then(|rest| rest.strip_suffix(')'));
    let numbers = inside.map(|inside| inside.split(' ').filter_map(|n| n.parse().ok()));
    let numbers: Vec<f32> = numbers.into_iter().flatten().collect();
    match numbers[..] {
        [degrees, x, y] => Ok(Transform::from_rotate_at(degrees, x, y)),
        _ => Err(FigureError::Page(format!("a text is turned by {text:?}"))),
    }
}

fn fill(node: &Node<'_, '_>) -> Result<Option<Fill>, FigureError> {
    let Some(colour) = colour(node, "fill")? else {
        return Ok(None);
    };
    let opacity = opacity(node, "fill-opacity")?;
    Ok(Some(Fill { paint: colour.into(), opacity, rule: FillRule::NonZero }))
}

fn stroke(node: &Node<'_, '_>) -> Result<Option<Stroke>, FigureError> {
    let Some(colour) = colour(node, "stroke")? else {
        return Ok(None);
    };
    let dashes = node.attribute("stroke-dasharray").map(|lengths| {
        let array = lengths.split(' ').filter_map(|length| length.parse().ok()).collect();
        StrokeDash { array, offset: 0.0 }
    });
    Ok(Some(Stroke {
        paint: colour.into(),
        width: number(node, "stroke-width")?,
        miter_limit: MITER_LIMIT,
        line_join: match node.attribute("stroke-linejoin") {
            Some("round") => LineJoin::Round,
            _ => LineJoin::Miter,
        },
        opacity: opacity(node, "stroke-opacity")?,
        dash: dashes,
        ..Stroke::default()
    }))
}

fn opacity(node: &Node<'_, '_>, name: &str) -> Result<NormalizedF32, FigureError> {
    let value = node.attribute(name).map_or(Ok(1.0), |_| number(node, name))?;
    NormalizedF32::new(value)
        .ok_or_else(|| FigureError::Page(format!("`{name}` is {value}, not within 0 and 1")))
}

/// `#rrggbb`, or nothing for `none` and where none is given.
fn colour(node: &Node<'_, '_>, name: &str) -> Result<Option<rgb::Color>, FigureError> {
    let Some(text) = node.attribute(name).filter(|&text| text != "none") else {
        return Ok(None);
    };
    let hex = text.strip_prefix('#').filter(|hex| hex.len() == 6);
    let value = hex.and_then(|hex| u32::from_str_radix(hex, 16).ok());
    let value = value.ok_or_else(|| FigureError::Page(format!("`{name}` is {text:?}")))?;
    let [_, red, green, blue] = value.to_be_bytes();
    Ok(Some(rgb::Color::new(red, green, blue)))
}
