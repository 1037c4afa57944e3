//! The look of every figure: colours, line styles and sizes, all in one place.
//!
//! Lines and fills are safe for the common forms of colour blindness, and each
//! quantity has a line style of its own, so no figure needs colour to be read.
//! Contrast against paper and against the shading is tested.

use plotters::style::RGBColor;

/// Text, marks and axes.
pub(crate) const INK: RGBColor = RGBColor(0x1a, 0x1a, 0x1a);
/// Text of less weight: ticks, second labels, the footer.
pub(crate) const SOFT_INK: RGBColor = RGBColor(0x50, 0x50, 0x50);
/// The page.
pub(crate) const PAPER: RGBColor = RGBColor(0xff, 0xff, 0xff);
/// Behind every inspiration.
pub(crate) const SHADE: RGBColor = RGBColor(0xf1, 0xf1, 0xf1);
/// Behind a value that differs from the usual one.
pub(crate) const TINTED: RGBColor = RGBColor(0xe4, 0xe4, 0xe4);
/// The edge of a shaded phase.
pub(crate) const SHADE_EDGE: RGBColor = RGBColor(0xc4, 0xc4, 0xc4);
/// Grid lines at the ticks.
pub(crate) const GRID_LINE: RGBColor = RGBColor(0xd4, 0xd4, 0xd4);
/// The line through zero.
pub(crate) const ZERO_LINE: RGBColor = RGBColor(0x6e, 0x6e, 0x6e);

/// Opacity of the colour inside a band.
pub(crate) const TINT: f64 = 0.25;

/// How a line is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Pen {
    pub colour: RGBColor,
    pub width_px: f64,
    /// Lengths drawn and left out in turn, px; empty for a solid line.
    pub dashes_px: &'static [f64],
    /// Width of a thin solid line under the dashes, so that no corner of the curve
    /// falls into a gap; 0 for none.
    pub core_px: f64,
}

impl Pen {
    /// The same pen for a curve that has its panel to itself: there is nothing to tell it
    /// from, and dashes break a narrow breath into pieces.
    pub const fn alone(self) -> Self {
        Self { dashes_px: &[], core_px: 0.0, ..self }
    }

    /// The same pen where lines stand close together.
    pub const fn fine(self) -> Self {
        Self { width_px: 0.6 * self.width_px, dashes_px: &[], core_px: 0.0, ..self }
    }
}

/// Airway pressure: blue, solid.
pub(crate) const PRESSURE: Pen =
    Pen { colour: RGBColor(0x00, 0x72, 0xb2), width_px: 2.2, dashes_px: &[], core_px: 0.0 };
/// Airway flow: vermillion, dashed.
pub(crate) const FLOW: Pen = Pen {
    colour: RGBColor(0xd5, 0x5e, 0x00),
    width_px: 2.2,
    dashes_px: &[10.0, 5.0],
    core_px: 0.6,
};
/// Lung volume: green, dash and dot.
pub(crate) const VOLUME: Pen = Pen {
    colour: RGBColor(0x00, 0x9e, 0x73),
    width_px: 2.2,
    dashes_px: &[13.0, 4.5, 2.5, 4.5],
    core_px: 0.6,
};
/// Alveolar pressure: ink, short dashes.
pub(crate) const ALVEOLAR: Pen =
    Pen { colour: INK, width_px: 1.8, dashes_px: &[3.0, 3.0], core_px: 0.0 };
/// Pleural and muscle pressure: ink, dash and two dots.
pub(crate) const MUSCLE: Pen =
    Pen { colour: INK, width_px: 1.8, dashes_px: &[9.0, 3.0, 2.0, 3.0, 2.0, 3.0], core_px: 0.0 };
/// Gas that leaves past the patient: purple, dotted.
pub(crate) const LOST: Pen =
    Pen { colour: RGBColor(0x8c, 0x3f, 0x76), width_px: 2.2, dashes_px: &[2.5, 3.5], core_px: 0.6 };
/// Carbon dioxide where gas passes the patient connection: purple, solid.
pub(crate) const AT_PATIENT: Pen =
    Pen { colour: RGBColor(0x8c, 0x3f, 0x76), width_px: 1.9, dashes_px: &[], core_px: 0.0 };
/// Carbon dioxide as a monitor shows it: purple, close dots.
pub(crate) const CARBON_DIOXIDE: Pen =
    Pen { colour: RGBColor(0x8c, 0x3f, 0x76), width_px: 2.4, dashes_px: &[2.0, 2.0], core_px: 1.0 };
/// Carbon dioxide in arterial blood: ink, solid.
pub(crate) const ARTERIAL: Pen = Pen { colour: INK, width_px: 1.8, dashes_px: &[], core_px: 0.0 };
/// Oxygen: blue, long dashes.
pub(crate) const OXYGEN: Pen = Pen {
    colour: RGBColor(0x00, 0x72, 0xb2),
    width_px: 2.2,
    dashes_px: &[16.0, 4.0],
    core_px: 0.6,
};
/// What others have measured: ink, wide gaps.
pub(crate) const PUBLISHED: Pen =
    Pen { colour: INK, width_px: 1.6, dashes_px: &[7.0, 5.0], core_px: 0.0 };
/// Curves of one quantity that differ by a setting.
pub(crate) const FAMILY: [Pen; 4] = [PRESSURE, FLOW, VOLUME, LOST];
/// A curve to compare with, behind the others.
pub(crate) const GHOST: Pen =
    Pen { colour: RGBColor(0x8a, 0x8a, 0x8a), width_px: 1.5, dashes_px: &[], core_px: 0.0 };
/// A level that the reader compares a curve with.
pub(crate) const REFERENCE: Pen =
    Pen { colour: SOFT_INK, width_px: 1.0, dashes_px: &[4.0, 3.0], core_px: 0.0 };
/// An area between curves: the pieces are its outlines, and the key shows a patch.
pub(crate) const AREA: Pen =
    Pen { colour: RGBColor(0xb8, 0xb8, 0xb8), width_px: 11.0, dashes_px: &[], core_px: 0.0 };
/// The moment at which something was changed.
pub(crate) const EVENT: Pen =
    Pen { colour: INK, width_px: 1.2, dashes_px: &[1.5, 2.5], core_px: 0.0 };

/// Sizes of text, px at the figure's own width.
///
/// A figure 600 px wide stays readable at half the width of an A4 page: its
/// ticks are then 6 pt high.
pub(crate) const TITLE_PX: f64 = 20.0;
pub(crate) const BODY_PX: f64 = 15.5;
pub(crate) const TICK_PX: f64 = 15.0;
pub(crate) const FOOT_PX: f64 = 11.5;

/// Line height as a multiple of the size of the text.
pub(crate) const LEADING: f64 = 1.25;

/// Free space around the figure, px.
pub(crate) const MARGIN_PX: f64 = 14.0;
/// Between two panels, px.
pub(crate) const GAP_PX: f64 = 20.0;
/// From the end of a curve to its label, px.
pub(crate) const LEADER_PX: f64 = 18.0;
/// The same where a sample of the line stands there.
pub(crate) const SAMPLE_PX: f64 = 46.0;
/// Widest direct label before it is broken into lines, px, on the narrowest and
/// on the widest page.
pub(crate) const LABEL_PX: (f64, f64) = (88.0, 130.0);
/// Height of a mark at the end of a breath, px.
pub(crate) const MARK_PX: f64 = 11.0;
/// Width of a patch of shading in the key, px.
pub(crate) const SWATCH_PX: f64 = 22.0;
/// Below this width of a breath, px, single breaths can no longer be told apart
/// and a curve is drawn as the band between its lowest and highest values.
pub(crate) const LEAST_BREATH_PX: f64 = 10.0;
/// Below this width of a breath, px, dashes would merge and lines are solid.
pub(crate) const AMPLE_BREATH_PX: f64 = 24.0;
/// Lowest panel that can still be read, px.
pub(crate) const LEAST_PANEL_PX: f64 = 70.0;
/// Narrowest panel that can still be read, px.
pub(crate) const LEAST_PLOT_PX: f64 = 160.0;

/// A colour as SVG and CSS write it.
pub(crate) fn css(RGBColor(red, green, blue): RGBColor) -> String {
    format!("#{red:02x}{green:02x}{blue:02x}")
}

#[cfg(test)]
mod tests {
    use tidewright::math::pow;

    use super::*;

    /// Contrast of two colours as WCAG 2.2 defines it (relative luminance with its
    /// threshold of 0.04045, and 0.05 of flare).
    fn contrast(a: RGBColor, b: RGBColor) -> f64 {
        let luminance = |RGBColor(red, green, blue): RGBColor| {
            let linear = |byte: u8| match f64::from(byte) / 255.0 {
                value if value <= 0.04045 => value / 12.92,
                value => pow((value + 0.055) / 1.055, 2.4),
            };
            0.2126 * linear(red) + 0.7152 * linear(green) + 0.0722 * linear(blue)
        };
        let (a, b) = (luminance(a) + 0.05, luminance(b) + 0.05);
        a.max(b) / a.min(b)
    }

    fn pens() -> [Pen; 14] {
        [
            PRESSURE,
            FLOW,
            VOLUME,
            ALVEOLAR,
            MUSCLE,
            LOST,
            CARBON_DIOXIDE,
            AT_PATIENT,
            ARTERIAL,
            OXYGEN,
            PUBLISHED,
            GHOST,
            REFERENCE,
            EVENT,
        ]
    }

    #[test]
    fn lines_stand_out_three_to_one_and_text_four_and_a_half() {
        assert!((contrast(RGBColor(0, 0, 0), PAPER) - 21.0).abs() < 1e-9);
        for ground in [PAPER, SHADE] {
            for pen in pens() {
                let found = contrast(pen.colour, ground);
                assert!(found >= 3.0, "{pen:?} on {ground:?}: {found}");
            }
            for ink in [INK, SOFT_INK] {
                let found = contrast(ink, ground);
                assert!(found >= 4.5, "{ink:?} on {ground:?}: {found}");
            }
        }
    }

    #[test]
    fn no_two_lines_differ_by_colour_alone() {
        let pens = pens();
        for (i, a) in pens.iter().enumerate() {
            for b in &pens[..i] {
                assert!(a.dashes_px != b.dashes_px || a.width_px != b.width_px, "{a:?} {b:?}");
            }
        }
    }
}
