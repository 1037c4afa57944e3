//! Marks as pixels.

use roxmltree::Node;
use tiny_skia::{
    FillRule, LineJoin, Paint, Path, PathBuilder, PixmapMut, Stroke, StrokeDash, Transform,
};
use ttf_parser::OutlineBuilder;

use crate::paper::error::FigureError;
use crate::paper::font;
use crate::paper::ink::{self, Ink, MITER_LIMIT, Mark, Pen, Step, Words};

/// Draws all that stands in an element.
pub(super) fn draw(
    node: &Node<'_, '_>,
    transform: Transform,
    pixels: &mut PixmapMut<'_>,
) -> Result<(), FigureError> {
    for child in node.children().filter(Node::is_element) {
        if child.has_tag_name("g") {
            let own = ink::moved(&child)?.map_or(Transform::identity(), |([x, y], scale)| {
                Transform::from_row(scale, 0.0, 0.0, scale, x, y)
            });
            draw(&child, transform.pre_concat(own), pixels)?;
            continue;
        }
        match Mark::of(&child)? {
            Mark::Nothing => {}
            Mark::Words(words) => write(&words, transform, pixels),
            Mark::Shape { outline, fill, pen } => {
                let Some(path) = path(&outline) else { continue };
                if let Some(ink) = fill {
                    filled(&path, ink, transform, pixels);
                }
                if let Some(pen) = pen {
                    let paint = paint(pen.ink);
                    pixels.stroke_path(&path, &paint, &stroke(pen), transform, None);
                }
            }
        }
    }
    Ok(())
}

fn path(outline: &[Step]) -> Option<Path> {
    let mut path = PathBuilder::new();
    for step in outline {
        match *step {
            Step::Move([x, y]) => path.move_to(x, y),
            Step::Line([x, y]) => path.line_to(x, y),
            Step::Curve([[a, b], [c, d], [x, y]]) => path.cubic_to(a, b, c, d, x, y),
            Step::Close => path.close(),
        }
    }
    path.finish()
}

fn write(words: &Words<'_>, transform: Transform, pixels: &mut PixmapMut<'_>) {
    let Some(ink) = words.fill else { return };
    let face = font::face(words.weight);
    let glyphs: Vec<_> = font::glyphs(words.text, words.weight).collect();
    let width: f64 = glyphs.iter().map(|(_, _, advance)| advance).sum();
    let size = f64::from(words.size);
    let mut written = Letters {
        path: PathBuilder::new(),
        scale: words.size / f32::from(face.units_per_em()),
        start: [0.0, words.at[1]],
    };
    let mut x = f64::from(words.at[0]) - width * size * f64::from(words.before);
    for (_, glyph, advance) in glyphs {
        written.start[0] = x as f32;
        // A space has no outline.
        let _ = face.outline_glyph(glyph, &mut written);
        x += advance * size;
    }
    let turn = words.turn.map_or(Transform::identity(), |turn| {
        Transform::from_rotate_at(turn.degrees, turn.about[0], turn.about[1])
    });
    if let Some(path) = written.path.finish() {
        filled(&path, ink, transform.pre_concat(turn), pixels);
    }
}

fn filled(path: &Path, ink: Ink, transform: Transform, pixels: &mut PixmapMut<'_>) {
    let bounds = path.bounds();
    // What has no area cannot be filled.
    if bounds.width() > 0.0 && bounds.height() > 0.0 {
        pixels.fill_path(path, &paint(ink), FillRule::Winding, transform, None);
    }
}

fn paint(ink: Ink) -> Paint<'static> {
    let mut paint = Paint::default();
    let [red, green, blue] = ink.rgb;
    paint.set_color_rgba8(red, green, blue, (ink.opacity * 255.0).round() as u8);
    paint
}

fn stroke(mut pen: Pen) -> Stroke {
    if pen.dashes.len() % 2 == 1 {
        // Of an odd number each is a dash and a gap in turn.
        pen.dashes.extend_from_within(..);
    }
    Stroke {
        width: pen.width,
        miter_limit: MITER_LIMIT,
        line_join: if pen.round_joins { LineJoin::Round } else { LineJoin::Miter },
        dash: StrokeDash::new(pen.dashes, 0.0),
        ..Stroke::default()
    }
}

/// Letters of a line, one after the other; a font's y points upward.
struct Letters {
    path: PathBuilder,
    scale: f32,
    /// Where the letter's own origin lies.
    start: [f32; 2],
}

impl Letters {
    fn at(&self, x: f32, y: f32) -> (f32, f32) {
        (self.start[0] + self.scale * x, self.start[1] - self.scale * y)
    }
}

impl OutlineBuilder for Letters {
    fn move_to(&mut self, x: f32, y: f32) {
        let (x, y) = self.at(x, y);
        self.path.move_to(x, y);
    }

    fn line_to(&mut self, x: f32, y: f32) {
        let (x, y) = self.at(x, y);
        self.path.line_to(x, y);
    }

    fn quad_to(&mut self, x1: f32, y1: f32, x: f32, y: f32) {
        let ((x1, y1), (x, y)) = (self.at(x1, y1), self.at(x, y));
        self.path.quad_to(x1, y1, x, y);
    }

    fn curve_to(&mut self, x1: f32, y1: f32, x2: f32, y2: f32, x: f32, y: f32) {
        let ((x1, y1), (x2, y2), (x, y)) = (self.at(x1, y1), self.at(x2, y2), self.at(x, y));
        self.path.cubic_to(x1, y1, x2, y2, x, y);
    }

    fn close(&mut self) {
        self.path.close();
    }
}
