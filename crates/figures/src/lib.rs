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

mod axis;
#[cfg(feature = "png")]
mod bank;
mod chart;
mod checks;
mod curve;
mod data;
mod describe;
mod draw;
mod error;
mod event;
mod figure;
pub mod file;
mod flags;
mod font;
mod frame;
mod from_run;
mod gallery;
mod grid;
mod handout;
#[cfg(any(feature = "pdf", feature = "png"))]
mod ink;
mod key;
mod labels;
mod language;
mod layout;
mod marks;
mod note;
mod page;
mod paint;
mod panel;
mod pattern;
#[cfg(feature = "pdf")]
mod pdf;
#[cfg(feature = "png")]
mod png;
mod read;
mod reference;
mod role;
mod run_figure;
mod shading;
mod signs_chart;
mod stack;
mod svg;
mod theme;
mod ticks;
mod waveform;
mod words;

#[cfg(feature = "png")]
pub use bank::{Bank, BankPaper};
pub use chart::{Chart, ChartCurve, ChartPanel, Heading, Line, Map, Measure};
pub use curve::Piece;
pub use draw::{DrawFileError, draw_circuit};
pub use error::FigureError;
pub use event::{BreathEnd, Event, Phase};
pub use figure::{Figure, FlowUnit, Look};
pub use file::{Figure as FigureFile, Version};
pub use gallery::gallery;
pub use handout::{Choice, Handout, OwnQuestion, Paper, Sheets, Test};
pub use reference::reference;
pub use run_figure::{RunFigure, RunFigureError, part_of_run};
pub use signs_chart::{ChartPaper, SignsChart};
pub use waveform::{Ghost, Waveforms};
pub use words::CAUTION;
