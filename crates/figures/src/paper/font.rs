//! The font that every figure is measured and drawn with.
//!
//! The font files are part of the program, so that a figure does not depend on
//! what is installed.

#[cfg(any(feature = "pdf", feature = "png"))]
use std::ops::Range;
use std::sync::LazyLock;

use ttf_parser::Face;

use crate::paper::grid::GRID;

/// The name under which the font is known.
pub(crate) const FAMILY: &str = "Inter";

/// How heavy a text is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Weight {
    Regular,
    SemiBold,
}

/// One weight of the font, in the two forms that figures need.
pub(crate) struct FontFile {
    /// The weight as CSS names it.
    pub css_weight: u16,
    /// To measure with, and to draw pixels with.
    pub ttf: &'static [u8],
    /// To embed in an SVG.
    pub woff2: &'static [u8],
}

pub(crate) const REGULAR: FontFile = FontFile {
    css_weight: 400,
    ttf: include_bytes!("../../fonts/Inter-Regular.ttf"),
    woff2: include_bytes!("../../fonts/Inter-Regular.woff2"),
};
pub(crate) const SEMI_BOLD: FontFile = FontFile {
    css_weight: 600,
    ttf: include_bytes!("../../fonts/Inter-SemiBold.ttf"),
    woff2: include_bytes!("../../fonts/Inter-SemiBold.woff2"),
};

/// Width of a text in grid units, as the sum of its advances.
///
/// A letter that the font lacks counts as one em: wider than any that it has in
/// common text, so the text that a reader's own font draws still has room.
pub(crate) fn width(text: &str, size_px: f64, weight: Weight) -> i32 {
    let face = face(weight);
    let units_per_em = i64::from(face.units_per_em());
    let units: i64 = text
        .chars()
        .map(|letter| match face.glyph_index(letter) {
            Some(glyph) => i64::from(face.glyph_hor_advance(glyph).unwrap_or(0)),
            None => units_per_em,
        })
        .sum();
    (units as f64 * size_px * f64::from(GRID) / units_per_em as f64).ceil() as i32
}

/// The glyphs of a text: the bytes that each stands for, its number in the font, and
/// its advance in em. The font has neither kerning nor ligatures. A letter that it
/// lacks is glyph 0.
#[cfg(any(feature = "pdf", feature = "png"))]
pub(crate) fn glyphs(
    text: &str,
    weight: Weight,
) -> impl Iterator<Item = (Range<usize>, ttf_parser::GlyphId, f64)> + '_ {
    let face = face(weight);
    let em = f64::from(face.units_per_em());
    text.char_indices().map(move |(at, letter)| {
        let glyph = face.glyph_index(letter).unwrap_or_default();
        let advance = f64::from(face.glyph_hor_advance(glyph).unwrap_or(0)) / em;
        (at..at + letter.len_utf8(), glyph, advance)
    })
}

/// Height of a line of text from its highest to its lowest letter, in grid units.
pub(crate) fn height(size_px: f64) -> i32 {
    ascent(size_px) + descent(size_px)
}

/// From the baseline up to the top of the highest letter, in grid units.
pub(crate) fn ascent(size_px: f64) -> i32 {
    in_grid(face(Weight::Regular).ascender(), size_px)
}

/// From the baseline down to the foot of the lowest letter, in grid units.
pub(crate) fn descent(size_px: f64) -> i32 {
    in_grid(-face(Weight::Regular).descender(), size_px)
}

/// From the baseline up to the top of a capital letter, in grid units.
pub(crate) fn cap_height(size_px: f64) -> i32 {
    in_grid(face(Weight::Regular).capital_height().unwrap_or(0), size_px)
}

/// The first letter of a text that the font cannot draw.
pub(crate) fn missing_letter(text: &str) -> Option<char> {
    text.chars().find(|&c| !c.is_control() && face(Weight::Regular).glyph_index(c).is_none())
}

/// Breaks a text at its spaces, but not at no-break spaces, into lines of at most `widest` grid units. A
/// single word that is wider keeps a line of its own.
pub(crate) fn wrap(text: &str, size_px: f64, weight: Weight, widest: i32) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split([' ', '\n', '\t']).filter(|word| !word.is_empty()) {
        match lines.last_mut() {
            Some(line) if width(&format!("{line} {word}"), size_px, weight) <= widest => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}

/// Shortens a text with an ellipsis until it is at most `widest` grid units wide.
pub(crate) fn shorten(text: &str, size_px: f64, weight: Weight, widest: i32) -> String {
    if width(text, size_px, weight) <= widest {
        return text.to_owned();
    }
    let mut letters: Vec<char> = text.chars().collect();
    loop {
        letters.pop();
        let kept: String = letters.iter().collect();
        let short = format!("{}…", kept.trim_end());
        if letters.is_empty() || width(&short, size_px, weight) <= widest {
            return short;
        }
    }
}

fn in_grid(font_units: i16, size_px: f64) -> i32 {
    let units_per_em = f64::from(face(Weight::Regular).units_per_em());
    (f64::from(font_units) * size_px * f64::from(GRID) / units_per_em).round() as i32
}

/// The font as it is read.
pub(crate) fn face(weight: Weight) -> &'static Face<'static> {
    static FACES: LazyLock<[Face<'static>; 2]> = LazyLock::new(|| {
        [&REGULAR, &SEMI_BOLD].map(|file| {
            Face::parse(file.ttf, 0).expect("the shipped font is a valid TrueType file")
        })
    });
    match weight {
        Weight::Regular => &FACES[0],
        Weight::SemiBold => &FACES[1],
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_font_has_every_sign_that_figures_use() {
        let signs = "0123456789 ·⁻−²₂₁≤≥▲■×÷→–≈ΔτλμÅßŁřéñ½…’“”°";
        assert_eq!(missing_letter(signs), None);
        assert_eq!(missing_letter("cat 猫"), Some('猫'));
    }

    #[test]
    fn lines_are_broken_at_spaces_and_hold_every_word() {
        let text = "Leak too large to cycle: every breath ends on its time limit";
        let widest = 150 * GRID;
        let lines = wrap(text, 16.0, Weight::Regular, widest);
        assert!(lines.len() > 1);
        assert!(lines.iter().all(|l| width(l, 16.0, Weight::Regular) <= widest));
        assert_eq!(lines.join(" "), text);
    }

    #[test]
    fn a_shortened_text_fits_and_shows_that_it_was_cut() {
        let short = shorten("electroencephalographically", 16.0, Weight::Regular, 80 * GRID);
        assert!(width(&short, 16.0, Weight::Regular) <= 80 * GRID);
        assert!(short.starts_with("electr") && short.ends_with('…'));
    }
}
