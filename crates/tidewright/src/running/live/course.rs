//! Where breath, gas and drive meet: one step of a run.

use std::sync::Arc;

use crate::machine::Machine;
use crate::piece::{Piece, Stretch};
use crate::quantity::Seconds;
use crate::running::gas::{GasRun, GasStretch};
use crate::step::{Moment, StepError, step_on};

/// With gas no step is longer, s, so that none holds too many points.
const LONGEST_WITH_GAS_S: f64 = 10.0;

/// All that a run is at the end of a step. Cloning it is saving it.
#[derive(Clone, Debug)]
pub(crate) struct Course {
    pub machine: Arc<Machine>,
    pub moment: Moment,
    pub gas: Option<Box<GasRun>>,
}

/// A step that was worked out and is not yet gone.
#[derive(Clone, Debug)]
pub(crate) struct Ahead {
    pub piece: Piece,
    pub next: Moment,
}

impl Ahead {
    /// When the step ends, s.
    pub fn end_s(&self) -> f64 {
        self.next.at_s
    }
}

impl Course {
    pub fn at_rest(machine: Arc<Machine>) -> Self {
        Self { moment: Moment::at_rest(&machine), machine, gas: None }
    }

    /// Gets ready for a step: a patient with a drive decides whether to breathe. Where
    /// the step must end at the latest, s.
    pub fn prepare(&mut self, stop_s: f64) -> f64 {
        if let Some(gas) = &mut self.gas
            && let Some((amplitude, lasts)) = gas.decide(Seconds::s(self.moment.at_s))
        {
            self.moment = self.moment.breathing_in(amplitude, lasts);
        }
        self.stop_s(stop_s)
    }

    /// Where a step that has been got ready must end at the latest, s.
    pub fn stop_s(&self, stop_s: f64) -> f64 {
        let Some(gas) = &self.gas else { return stop_s };
        stop_s.min(gas.next_decision().as_s()).min(self.moment.at_s + LONGEST_WITH_GAS_S)
    }

    /// The mechanics of a step, in the place of the one before. After an error
    /// neither moment nor piece means anything.
    #[inline]
    pub fn breathe(
        machine: &Machine,
        moment: &mut Moment,
        stop_s: f64,
        piece: &mut Piece,
    ) -> Result<(), StepError> {
        let left_s = stop_s - moment.at_s;
        step_on(machine, moment, left_s.max(0.0), piece)?;
        // The sum of durations may miss the stop by a rounding error.
        if piece.duration_s >= left_s || moment.at_s >= stop_s {
            moment.at_s = stop_s;
        }
        Ok(())
    }

    /// The step from here to a time at the latest, for which [`Course::prepare`] was
    /// called; nothing has changed yet.
    pub fn look_ahead(&self, stop_s: f64) -> Result<Ahead, StepError> {
        let mut ahead = Ahead { piece: Piece::from(&self.moment), next: self.moment };
        Self::breathe(&self.machine, &mut ahead.next, stop_s, &mut ahead.piece)?;
        Ok(ahead)
    }

    /// Goes the step, gas and all.
    pub fn go(&mut self, ahead: Ahead) -> (Stretch<'_>, Option<GasStretch>) {
        self.moment = ahead.next;
        let stretch = Stretch { machine: &self.machine, piece: ahead.piece };
        let gas = self.gas.as_mut().map(|gas| gas.take(&stretch));
        (stretch, gas)
    }

    /// Goes a step whose gas was worked out as well.
    pub fn go_as_foreseen(&mut self, ahead: Ahead, gas: Box<GasRun>) -> Stretch<'_> {
        (self.moment, self.gas) = (ahead.next, Some(gas));
        Stretch { machine: &self.machine, piece: ahead.piece }
    }
}
