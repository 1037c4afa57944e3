//! The fine grid that everything is placed on.

/// Grid units in one CSS pixel.
pub(crate) const GRID: i32 = 20;

/// A length in CSS pixels as grid units.
pub(crate) fn grid(px: f64) -> i32 {
    (px * f64::from(GRID)).round() as i32
}
