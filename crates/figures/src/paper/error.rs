use crate::paper::svg::DrawError;

/// Why a figure could not be drawn.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum FigureError {
    /// The time axis has no length, runs backwards or is not a number.
    #[error("a figure needs at least 1 ms of time, but its window is {start_s} s to {end_s} s")]
    Window {
        /// Start of the window, s.
        start_s: f64,
        /// End of the window, s.
        end_s: f64,
    },
    /// No point of a curve lies inside the window.
    #[error("{curve} has no point between {start_s} s and {end_s} s")]
    Empty {
        /// Which curve.
        curve: &'static str,
        /// Start of the window, s.
        start_s: f64,
        /// End of the window, s.
        end_s: f64,
    },
    /// A curve or a mark holds a value that is not a number or too large for any
    /// axis.
    #[error("{curve} holds {value} at {at_s} s; an axis needs numbers within ±1e9")]
    Value {
        /// Which curve.
        curve: &'static str,
        /// When, s.
        at_s: f64,
        /// What.
        value: f64,
    },
    /// A curve runs backwards in time, or marks are not in its order.
    #[error("{curve} goes back in time, from {from_s} s to {to_s} s")]
    Backwards {
        /// Which curve.
        curve: &'static str,
        /// The later time, s.
        from_s: f64,
        /// The earlier time that follows it, s.
        to_s: f64,
    },
    /// More curves, cells or panels than a reader can tell apart.
    #[error("{count} {what}: a figure shows 1 to {most}")]
    Crowded {
        /// What of.
        what: &'static str,
        /// How many there are.
        count: usize,
        /// How many a figure shows.
        most: usize,
    },
    /// The figure has no room for its panels.
    #[error(
        "{width_px} by {height_px} px leave no room for the panels: \
         at least {least_width_px} by {least_height_px} px are needed; take a larger look, \
         fewer panels or shorter names"
    )]
    TooSmall {
        /// Width that was asked for, px.
        width_px: u32,
        /// Height that was asked for, px.
        height_px: u32,
        /// Width that would do, px.
        least_width_px: u32,
        /// Height that would do, px.
        least_height_px: u32,
    },
    /// The figure is larger than any page.
    #[error("{width_px} by {height_px} px are too large: each side may be up to 10000 px")]
    TooLarge {
        /// Width that was asked for, px.
        width_px: u32,
        /// Height that was asked for, px.
        height_px: u32,
    },
    /// The resolution of a PNG is out of range.
    #[error("{dpi} dpi is out of range: a figure can be drawn at {least} to {most} dpi")]
    Dpi {
        /// What was asked for.
        dpi: f64,
        /// Lowest resolution.
        least: f64,
        /// Highest resolution for this size of figure.
        most: f64,
    },
    /// The font lacks a letter, so a PNG would show a gap. SVG has no such limit:
    /// there, the reader's own fonts help out.
    #[error("the font of the figures has no letter '{letter}' ({text:?}): use SVG, or other words")]
    NoLetter {
        /// The letter.
        letter: char,
        /// The text it stands in.
        text: String,
    },
    /// The layout failed inside plotters.
    #[error("the chart could not be laid out: {0}")]
    Layout(#[from] DrawError),
    /// The SVG holds what neither a page of a PDF nor pixels are made from.
    #[error("the figure could not be put on a page: {0}")]
    Page(String),
    /// The PDF could not be written.
    #[cfg(feature = "pdf")]
    #[error("the PDF could not be written: {0}")]
    Pdf(#[from] krilla::error::KrillaError),
    /// The PNG could not be written.
    #[cfg(feature = "png")]
    #[error("the PNG could not be encoded: {0}")]
    Png(#[from] png::EncodingError),
}
