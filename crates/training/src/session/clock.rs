//! How time passes in a session: step by step, each the same however the caller
//! chops his clock.

use tidewright::coupled::GasPoint;
use tidewright::instrument::Reading;
use tidewright::run::Stretch;
use tidewright::step::step;

use super::{
    End, GasCourse, HAND_OVER_APNOEA_S, HAND_OVER_CMH2O, SMALLEST_BREATH_ML_KG, Session,
    SessionError,
};
use crate::meter::Row;

/// What passes when time passes: for who draws it.
#[derive(Clone, Copy, Debug)]
pub struct Passing<'a> {
    /// The breath.
    pub stretch: &'a Stretch<'a>,
    /// What is new of it is later than this, s: a stretch in which the clock stood is
    /// told again as a whole.
    pub since_s: f64,
    /// What the scenario's instruments show in that time; nothing where the truth is
    /// shown.
    pub readings: &'a [Reading],
    /// The gas, with what the carbon dioxide monitor shows; nothing without gas.
    pub gas: &'a [GasPoint],
}

/// What ended a step.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum StepEnd {
    /// Something changes by itself.
    Change,
    /// The caller's clock, which cut it short.
    Clock,
    /// A phase was over, or a step is never longer.
    Itself,
}

impl<'a> Passing<'a> {
    /// The same, of which only what is later than `told_s` is new.
    fn since(&self, told_s: f64) -> Passing<'a> {
        let readings = self.readings.partition_point(|reading| reading.at.as_s() <= told_s);
        let gas = self.gas.partition_point(|point| point.at_s <= told_s);
        Passing {
            stretch: self.stretch,
            since_s: self.since_s.max(told_s),
            readings: &self.readings[readings..],
            gas: &self.gas[gas..],
        }
    }
}

impl Session {
    /// Lets time pass until `until_s`, the end, or a prediction that is due;
    /// `each` gets everything that passes.
    ///
    /// The same acts at the same times give the same bits, however often the clock is
    /// looked at: a step that `until_s` cuts short is gone from its beginning next time.
    ///
    /// # Errors
    /// [`SessionError`]: a run that cannot go on.
    pub fn advance(
        &mut self,
        until_s: f64,
        each: &mut dyn FnMut(&Passing<'_>),
    ) -> Result<(), SessionError> {
        self.go_on(until_s, true, each)
    }

    /// As [`Session::advance`], but waits for no prediction.
    ///
    /// # Errors
    /// As [`Session::advance`].
    pub fn play(&mut self, until_s: f64) -> Result<(), SessionError> {
        self.go_on(until_s, false, &mut |_| {})
    }

    fn go_on(
        &mut self,
        until_s: f64,
        waits: bool,
        each: &mut dyn FnMut(&Passing<'_>),
    ) -> Result<(), SessionError> {
        let stands =
            |session: &Self| session.ended.is_some() || waits && session.waits_for().is_some();
        if until_s.is_nan() || until_s <= self.now_s() || stands(self) {
            return Ok(());
        }
        // What is there at the very start is new as well.
        let told_s = if self.now_s() > 0.0 { self.now_s() } else { f64::NEG_INFINITY };
        if let Some(began) = self.step_began.take() {
            *self = *began;
        }
        let mut began = None;
        while self.now_s() < until_s && !stands(self) {
            let here = began.is_none().then(|| Box::new(self.clone()));
            let ended_by = self.step(until_s, &mut |passing| {
                if passing.stretch.piece.end_s() > told_s {
                    each(&passing.since(told_s));
                }
            })?;
            match ended_by {
                StepEnd::Clock => began = began.or(here),
                StepEnd::Change => self.changes_due()?,
                StepEnd::Itself => {}
            }
        }
        self.step_began = began;
        Ok(())
    }

    /// Plays to a time once and for all: what is played next goes on from there.
    pub(crate) fn play_to(&mut self, until_s: f64) -> Result<(), SessionError> {
        self.play_watched(until_s, &mut |_| {})
    }

    /// As [`Session::play_to`], watched at each turn: just before something changes by
    /// itself.
    pub(crate) fn play_watched(
        &mut self,
        until_s: f64,
        at_turn: &mut dyn FnMut(&Self),
    ) -> Result<(), SessionError> {
        self.step_began = None;
        while self.now_s() < until_s && self.ended.is_none() {
            if self.step(until_s, &mut |_| {})? == StepEnd::Change {
                at_turn(self);
                self.changes_due()?;
            }
        }
        Ok(())
    }

    /// Plays one step, as long as it is.
    pub(crate) fn play_step(
        &mut self,
        each: &mut dyn FnMut(&Passing<'_>),
    ) -> Result<(), SessionError> {
        self.step_began = None;
        if self.step(f64::INFINITY, each)? == StepEnd::Change {
            self.changes_due()?;
        }
        Ok(())
    }

    fn step(
        &mut self,
        until_s: f64,
        each: &mut dyn FnMut(&Passing<'_>),
    ) -> Result<StepEnd, SessionError> {
        let now_s = self.now_s();
        let change_s = self.next_change_s();
        let handed_over_s = Some(self.handed_over_s()).filter(|&at_s| at_s > now_s);
        let stop_s = handed_over_s.unwrap_or(f64::INFINITY).min(self.prepare_gas()?);
        let mut goal_s = change_s.min(stop_s);
        let mut done = step(&self.machine, &self.moment, goal_s - now_s)?;
        // A step that ends before the clock stops it does not feel that it will.
        let cut = until_s < goal_s && until_s < now_s + done.piece.duration_s;
        if cut {
            goal_s = until_s;
            done = step(&self.machine, &self.moment, goal_s - now_s)?;
        }
        let stretch = Stretch { machine: &self.machine, piece: done.piece };
        let row = self.meter.take(&stretch);
        Self::take_gas(&mut self.gas, &self.world.care, &stretch);
        let (readings, gas) = (self.meter.readings(), self.gas_points());
        each(&Passing { stretch: &stretch, since_s: stretch.piece.start_s, readings, gas });
        let arrived = stretch.piece.duration_s >= goal_s - now_s;
        self.moment = done.next;
        if arrived {
            self.moment.at_s = goal_s;
        }
        self.note(row);
        Ok(match () {
            () if cut => StepEnd::Clock,
            () if arrived && goal_s == change_s => StepEnd::Change,
            () => StepEnd::Itself,
        })
    }

    /// When the session is handed over if nobody breathes until then, s.
    fn handed_over_s(&self) -> f64 {
        self.last_breath_s + HAND_OVER_APNOEA_S
    }

    fn note(&mut self, row: Option<Row>) {
        let weight_kg = self.scenario.patient.weight_kg;
        if let Some(mut row) = row {
            row.gas = self.gas_breaths().last().copied();
            if row.breath.expired_tidal_volume.as_ml() >= SMALLEST_BREATH_ML_KG * weight_kg {
                self.longest_apnoea_s = self.longest_apnoea_s.max(row.end_s - self.last_breath_s);
                self.last_breath_s = row.end_s;
            }
            self.rows.push(row);
        }
        let own = self.gas_breaths().last().filter(|breath| breath.own);
        if let Some(own) =
            own.filter(|own| own.expired.as_ml() >= SMALLEST_BREATH_ML_KG * weight_kg)
        {
            let end_s = (own.start + own.duration).as_s();
            if end_s > self.last_breath_s {
                self.longest_apnoea_s = self.longest_apnoea_s.max(end_s - self.last_breath_s);
                self.last_breath_s = end_s;
            }
        }
        if self.meter.totals.highest_alveolar_cmh2o > HAND_OVER_CMH2O {
            self.ended = Some(End::HandedOverForPressure);
        } else if self.now_s() >= self.handed_over_s() {
            self.ended = Some(End::HandedOverForApnoea);
        } else if let Some(end) = self.gas.as_ref().and_then(GasCourse::hand_over) {
            self.ended = Some(end);
        } else if self.now_s() >= self.scenario.duration_s {
            self.ended = Some(End::Time);
        }
    }
}
