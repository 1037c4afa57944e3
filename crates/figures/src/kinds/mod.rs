//! Figures that are made in code.

pub(crate) mod chart;
pub(crate) mod from_run;
pub(crate) mod run_figure;
pub(crate) mod waveform;
