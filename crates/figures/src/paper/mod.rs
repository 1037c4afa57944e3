//! What is drawn on: grid, font, colours, the structured SVG and the formats made from it.

pub(crate) mod curve;
pub(crate) mod error;
pub(crate) mod figure;
pub(crate) mod font;
pub(crate) mod grid;
#[cfg(any(feature = "pdf", feature = "png"))]
pub(crate) mod ink;
pub(crate) mod page;
pub(crate) mod pattern;
#[cfg(feature = "pdf")]
pub(crate) mod pdf;
#[cfg(feature = "png")]
pub(crate) mod png;
pub(crate) mod role;
pub(crate) mod svg;
pub(crate) mod theme;
pub(crate) mod words;
