//! How time passes in a session: step by step, each the same however the caller
//! chops his clock.

use tidewright::coupled::GasPoint;
use tidewright::instrument::Reading;
use tidewright::live::{Gone, LiveRun};
use tidewright::quantity::Seconds;
use tidewright::run::Stretch;

use super::{Began, Session, SessionError};
use crate::bedside::{Bedside, State};

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

/// What becomes of a step that the clock cuts short.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Cut {
    /// The next one goes on from there.
    Stays,
    /// It is gone anew.
    IsUndone,
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
        self.look_to(until_s, &mut |_| {})
    }

    /// As [`Session::play`]; `each` gets everything that passes.
    pub(crate) fn look_to(
        &mut self,
        until_s: f64,
        each: &mut dyn FnMut(&Passing<'_>),
    ) -> Result<(), SessionError> {
        self.go_on(until_s, false, each)
    }

    fn go_on(
        &mut self,
        until_s: f64,
        waits: bool,
        each: &mut dyn FnMut(&Passing<'_>),
    ) -> Result<(), SessionError> {
        let stands =
            |session: &Self| session.ended().is_some() || waits && session.waits_for().is_some();
        if until_s.is_nan() || until_s <= self.now_s() || stands(self) {
            return Ok(());
        }
        // What is there at the very start is new as well.
        let told_s = if self.now_s() > 0.0 { self.now_s() } else { f64::NEG_INFINITY };
        let mut told = |passing: &Passing<'_>| {
            if passing.stretch.piece.end_s() > told_s {
                each(&passing.since(told_s));
            }
        };
        let stood = self.step_began.take().map(|began| {
            let state = self.state.clone();
            (state, self.take_up(&began), began.length)
        });
        let mut was_cut = false;
        while self.now_s() < until_s && !stands(self) {
            let end = self.step(until_s, Cut::IsUndone, &mut told);
            if let Err(error) = end.and_then(|end| self.take_end(end, &mut was_cut, &mut |_| {})) {
                // The clock does not go back, whatever cannot go on.
                if let Some((state, notes, length)) = stood {
                    self.bedside.state = state;
                    drop(self.bedside.log.split(length));
                    self.bedside.log.append(notes);
                    self.step_began = None;
                }
                return Err(error);
            }
        }
        Ok(())
    }

    /// Plays to a time once and for all: what is played next goes on from there.
    pub(crate) fn play_to(&mut self, until_s: f64) -> Result<(), SessionError> {
        self.play_watched(until_s, &mut |_| {}, &mut |_| {})
    }

    /// As [`Session::play_to`]; `each` gets everything that passes, `at_turn` the
    /// session just before something changes by itself.
    pub(crate) fn play_watched(
        &mut self,
        until_s: f64,
        each: &mut dyn FnMut(&Passing<'_>),
        at_turn: &mut dyn FnMut(&Self),
    ) -> Result<(), SessionError> {
        self.step_began = None;
        let mut was_cut = false;
        while self.now_s() < until_s && self.ended().is_none() {
            let end = self.step(until_s, Cut::Stays, each)?;
            self.take_end(end, &mut was_cut, at_turn)?;
        }
        Ok(())
    }

    /// Plays one step, as long as it is.
    pub(crate) fn play_step(
        &mut self,
        each: &mut dyn FnMut(&Passing<'_>),
    ) -> Result<(), SessionError> {
        self.step_began = None;
        let end = self.step(f64::INFINITY, Cut::Stays, each)?;
        self.take_end(end, &mut false, &mut |_| {})
    }

    /// Does what is due where a step ends: after one that the clock cut short nothing,
    /// so that it does not matter how often somebody looks.
    fn take_end(
        &mut self,
        end: StepEnd,
        was_cut: &mut bool,
        at_turn: &mut dyn FnMut(&Self),
    ) -> Result<(), SessionError> {
        *was_cut |= end == StepEnd::Clock;
        if *was_cut {
            return Ok(());
        }
        self.end_if_due();
        if end == StepEnd::Change {
            at_turn(self);
            self.changes_due()?;
        }
        Ok(())
    }

    fn step(
        &mut self,
        until_s: f64,
        cut: Cut,
        each: &mut dyn FnMut(&Passing<'_>),
    ) -> Result<StepEnd, SessionError> {
        let change_s = self.next_change_s();
        let stop_s = change_s.min(self.handed_over_s(self.now_s())).min(self.prepare_gas()?);
        let length = (cut == Cut::IsUndone && self.step_began.is_none()).then(|| self.log.length());
        let leak_percent = self.leak_percent(self.now_s());
        let State { live, world, gas, meter, last_breath_s, longest_apnoea_s, ended } =
            &mut self.bedside.state;
        let mut before = None;
        let keep = |run: &LiveRun| before = length.map(|length| (run.clone(), length));
        let gone = live.step(Seconds::s(stop_s), Seconds::s(until_s), keep)?;
        let Gone { stretch, gas: along, was_cut } = gone;
        if let Some((live, length)) = before {
            let (world, gas, meter) = (world.clone(), gas.clone(), meter.clone());
            let (last_breath_s, longest_apnoea_s) = (*last_breath_s, *longest_apnoea_s);
            let ended = *ended;
            let state = State { live, world, gas, meter, last_breath_s, longest_apnoea_s, ended };
            self.step_began = Some(Box::new(Began { state, length }));
        }
        let row = meter.take(&stretch);
        if let (Some(gas), Some(along)) = (gas.as_mut(), along) {
            let log = &mut self.bedside.log;
            log.gas_breaths.extend(gas.take(along, leak_percent));
            if let Some(numbers) = gas.numbers() {
                log.chart.enter(&gas.points, numbers);
            }
        }
        let points = gas.as_ref().map_or(&[][..], |gas| &gas.points);
        let (readings, since_s) = (meter.readings(), stretch.piece.start_s);
        each(&Passing { stretch: &stretch, since_s, readings, gas: points });
        let effort = self.state.live.gas_so_far().and_then(|gas| gas.last_effort());
        if effort != self.log.own.last().copied() {
            self.bedside.log.own.extend(effort);
        }
        self.note(row);
        Ok(match () {
            () if was_cut => StepEnd::Clock,
            () if self.now_s() == change_s => StepEnd::Change,
            () => StepEnd::Itself,
        })
    }

    /// Readies the gas for a step from here; when that must end at the latest, s.
    fn prepare_gas(&mut self) -> Result<f64, SessionError> {
        let Bedside { lesson, case, state, .. } = &mut self.bedside;
        let State { live, world, gas, .. } = state;
        let (Some(base), Some(gas)) = (&lesson.gas, gas) else { return Ok(f64::INFINITY) };
        Ok(base.prepare(gas, live, world, case)?)
    }
}
