//! Marks on a page of a PDF.

use krilla::color::rgb;
use krilla::geom::{PathBuilder, Point, Transform};
use krilla::num::NormalizedF32;
use krilla::paint::{Fill, FillRule, LineJoin, Stroke, StrokeDash};
use krilla::surface::Surface;
use krilla::text::{GlyphId, KrillaGlyph};
use roxmltree::Node;

use super::face;
use crate::paper::error::FigureError;
use crate::paper::font;
use crate::paper::ink::{Ink, MITER_LIMIT, Mark, Pen, Step, Words};

/// Draws one element.
pub(super) fn draw(node: &Node<'_, '_>, surface: &mut Surface<'_>) -> Result<(), FigureError> {
    match Mark::of(node)? {
        Mark::Nothing => {}
        Mark::Words(words) => write(&words, surface),
        Mark::Shape { outline, fill, pen } => {
            surface.set_fill(fill.map(filled));
            surface.set_stroke(pen.map(stroke));
            if let Some(path) = path(&outline).finish() {
                surface.draw_path(&path);
            }
        }
    }
    Ok(())
}

fn path(outline: &[Step]) -> PathBuilder {
    let mut path = PathBuilder::new();
    for step in outline {
        match *step {
            Step::Move([x, y]) => path.move_to(x, y),
            Step::Line([x, y]) => path.line_to(x, y),
            Step::Curve([[a, b], [c, d], [x, y]]) => path.cubic_to(a, b, c, d, x, y),
            Step::Close => path.close(),
        }
    }
    path
}

fn write(words: &Words<'_>, surface: &mut Surface<'_>) {
    let glyphs: Vec<KrillaGlyph> = font::glyphs(words.text, words.weight)
        .map(|(range, glyph, advance)| {
            let glyph = GlyphId::new(u32::from(glyph.0));
            KrillaGlyph::new(glyph, advance as f32, 0.0, 0.0, 0.0, range, None)
        })
        .collect();
    let width = glyphs.iter().map(|glyph| glyph.x_advance).sum::<f32>() * words.size;
    let [x, y] = words.at;
    surface.set_fill(words.fill.map(filled));
    surface.set_stroke(None);
    if let Some(turn) = words.turn {
        let [x, y] = turn.about;
        surface.push_transform(&Transform::from_rotate_at(turn.degrees, x, y));
    }
    let start = Point::from_xy(x - width * words.before, y);
    surface.draw_glyphs(start, &glyphs, face(words.weight), words.text, words.size, false);
    if words.turn.is_some() {
        surface.pop();
    }
}

fn filled(ink: Ink) -> Fill {
    Fill { paint: colour(ink).into(), opacity: opacity(ink), rule: FillRule::NonZero }
}

fn stroke(pen: Pen) -> Stroke {
    Stroke {
        paint: colour(pen.ink).into(),
        width: pen.width,
        miter_limit: MITER_LIMIT,
        line_join: if pen.round_joins { LineJoin::Round } else { LineJoin::Miter },
        opacity: opacity(pen.ink),
        dash: (!pen.dashes.is_empty()).then_some(StrokeDash { array: pen.dashes, offset: 0.0 }),
        ..Stroke::default()
    }
}

fn colour(ink: Ink) -> rgb::Color {
    let [red, green, blue] = ink.rgb;
    rgb::Color::new(red, green, blue)
}

fn opacity(ink: Ink) -> NormalizedF32 {
    NormalizedF32::new(ink.opacity).unwrap_or(NormalizedF32::ONE)
}
