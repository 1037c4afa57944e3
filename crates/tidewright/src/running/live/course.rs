//! Where breath, gas and drive meet: one step of a run.

use crate::base::quantity::Seconds;
use crate::running::gas::{GasRun, GasStretch};
use crate::stepping::machine::Machine;
use crate::stepping::piece::{Piece, Stretch};
use crate::stepping::step::{Moment, StepError, step_on};

/// A step that ends by nothing else ends after so long, s.
pub(crate) const LONGEST_S: f64 = 60.0;
/// With gas no step is longer, s, so that none holds too many points.
const LONGEST_WITH_GAS_S: f64 = 10.0;

/// All of a run but its machine, at the end of a step. Cloning it is saving it.
#[derive(Clone, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(crate) struct Course {
    pub moment: Moment,
    pub gas: Option<Box<GasRun>>,
}

/// A step that was worked out and is not yet gone.
#[derive(Debug)]
pub(crate) struct Ahead<'m> {
    pub piece: Piece<'m>,
    pub next: Moment,
}

impl Ahead<'_> {
    /// When the step ends, s.
    pub fn end_s(&self) -> f64 {
        self.next.at_s
    }
}

impl Course {
    pub fn at_rest(machine: &Machine) -> Self {
        Self { moment: Moment::at_rest(machine), gas: None }
    }

    /// Gets ready for a step: a patient with a drive decides whether to breathe, once
    /// for each time that it is due. Where the step must end at the latest, s.
    pub fn prepare(&mut self, stop_s: f64) -> f64 {
        if let Some(gas) = &mut self.gas
            && let Some((amplitude, lasts)) = gas.decide(Seconds::s(self.moment.at_s))
        {
            self.moment = self.moment.breathing_in(amplitude, lasts);
        }
        self.stop_s(stop_s)
    }

    /// Where a step that has been got ready must end at the latest, s.
    fn stop_s(&self, stop_s: f64) -> f64 {
        let Some(gas) = &self.gas else { return stop_s };
        stop_s.min(gas.next_decision().as_s()).min(self.moment.at_s + LONGEST_WITH_GAS_S)
    }

    /// The mechanics of a step, in the place of the one before. After an error
    /// neither moment nor piece means anything.
    #[inline]
    pub fn breathe<'m>(
        machine: &'m Machine,
        moment: &mut Moment,
        stop_s: f64,
        piece: &mut Piece<'m>,
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
    pub fn look_ahead<'m>(
        &self,
        machine: &'m Machine,
        stop_s: f64,
    ) -> Result<Ahead<'m>, StepError> {
        let (mut piece, mut next) = (Piece::none(machine, &self.moment), self.moment);
        Self::breathe(machine, &mut next, stop_s, &mut piece)?;
        Ok(Ahead { piece, next })
    }

    /// The step from here, which was got ready, and whether it is as long as it would be
    /// without a look at a time in it.
    pub fn look_until<'m>(
        &self,
        machine: &'m Machine,
        to_s: f64,
    ) -> Result<(Ahead<'m>, bool), StepError> {
        let stop_s = self.stop_s(self.moment.at_s + LONGEST_S);
        match self.look_ahead(machine, stop_s) {
            Ok(step) => Ok((step, true)),
            // A step that ends before it goes wrong does not feel that it would.
            Err(_) if to_s < stop_s => {
                let step = self.look_ahead(machine, to_s)?;
                let ended = step.end_s() < to_s;
                Ok((step, ended))
            }
            Err(error) => Err(error),
        }
    }

    /// The gas at the end of a stretch from here, and along it.
    pub fn foresee(&self, stretch: &Stretch<'_>) -> Option<(Box<GasRun>, GasStretch)> {
        let mut gas = self.gas.clone()?;
        let along = gas.take(stretch);
        Some((gas, along))
    }

    /// Goes the step, gas and all.
    pub fn go<'m>(&mut self, ahead: Ahead<'m>) -> (Stretch<'m>, Option<GasStretch>) {
        self.moment = ahead.next;
        let stretch = Stretch::from(ahead.piece);
        let gas = self.gas.as_mut().map(|gas| gas.take(&stretch));
        (stretch, gas)
    }

    /// Goes a step whose gas was worked out as well.
    pub fn go_as_foreseen<'m>(&mut self, ahead: Ahead<'m>, gas: Box<GasRun>) -> Stretch<'m> {
        (self.moment, self.gas) = (ahead.next, Some(gas));
        Stretch::from(ahead.piece)
    }
}
