//! What a run tells as it goes on.

use crate::running::gas::{GasPoint, GasStretch};
use crate::stepping::machine::Signal;
use crate::stepping::piece::Stretch;

/// What passes when a run goes on: a piece that is over, or as much of it as there was
/// time for.
#[derive(Clone, Copy, Debug)]
pub struct Passing<'a> {
    pub(super) stretch: &'a Stretch<'a>,
    pub(super) gas: Option<&'a GasStretch>,
    pub(super) since_s: f64,
    pub(super) until_s: f64,
    pub(super) over: bool,
}

/// A step that is gone.
#[derive(Clone, Debug)]
pub struct Gone<'a> {
    /// The breath.
    pub stretch: Stretch<'a>,
    /// The gas along it; `None` for a run without.
    pub gas: Option<GasStretch>,
    /// Whether the clock cut it short.
    pub was_cut: bool,
}

impl<'a> Passing<'a> {
    /// What is new of the piece is later than this, s.
    #[must_use]
    pub fn since_s(&self) -> f64 {
        self.since_s
    }

    /// How far it has gone, s since the start of the run.
    #[must_use]
    pub fn until_s(&self) -> f64 {
        self.until_s
    }

    /// The piece, once it is over: for who measures breaths.
    #[must_use]
    pub fn finished(&self) -> Option<&'a Stretch<'a>> {
        self.over.then_some(self.stretch)
    }

    /// A signal at a time that has passed in this piece, s since the start of the run;
    /// `None` outside.
    #[must_use]
    pub fn at(&self, time_s: f64, signal: Signal) -> Option<f64> {
        let piece = &self.stretch.piece;
        let inside = time_s >= piece.start_s && time_s <= self.until_s;
        inside.then(|| piece.nearest(signal, time_s - piece.start_s))
    }

    /// What is new of the gas, point after point.
    #[must_use]
    pub fn gas_points(&self) -> &'a [GasPoint] {
        let Some(gas) = self.gas else { return &[] };
        let from = gas.points.partition_point(|point| point.at_s <= self.since_s);
        let to = gas.points.partition_point(|point| point.at_s <= self.until_s);
        &gas.points[from.min(to)..to]
    }

    /// All that the gas did along the piece, once it is over.
    #[must_use]
    pub fn finished_gas(&self) -> Option<&'a GasStretch> {
        self.gas.filter(|_| self.over)
    }
}
