//! Waveform figures that an educator can print, project or put on a page.
//!
//! [`Waveforms`] is plain data: curves, phases, what ended each breath. Its
//! [`figure`](Waveforms::figure) is drawn once, as structured SVG; PNG and
//! PDF are made from that very SVG. Plotters lays out the axes, our own backend draws them on
//! a fine grid, and the font is part of the program, so the same data give the
//! same bytes on every machine.
//!
//! PNG and PDF are the features `png` and `pdf`: what only needs SVG does without them.
//!
//! This room has no files and no printing: it returns text and bytes.

#[cfg(feature = "png")]
mod bank;
mod draw;
pub mod file;
mod gallery;
mod handout;
mod kinds;
mod paper;
mod plot;
mod signs_chart;

#[cfg(feature = "png")]
pub use bank::{Bank, BankPaper};
pub use draw::{DrawFileError, draw_circuit};
pub use file::reference::reference;
pub use file::{Figure as FigureFile, Version};
pub use gallery::gallery;
pub use handout::{Choice, Handout, OwnQuestion, Paper, Sheets, Test};
pub use kinds::chart::{Chart, ChartCurve, ChartPanel, Heading, Line, Map, Measure};
pub use kinds::run_figure::{RunFigure, RunFigureError, part_of_run};
pub use kinds::waveform::{Ghost, Waveforms};
pub use paper::curve::Piece;
pub use paper::error::FigureError;
pub use paper::figure::{Figure, FlowUnit, Look};
pub use paper::words::CAUTION;
pub use plot::event::{BreathEnd, Event, Phase};
pub use signs_chart::{ChartPaper, SignsChart};
