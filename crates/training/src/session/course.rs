//! What changes by itself in a session: timeline, hidden fault, hands that are done,
//! help that comes; and the machine that follows.

use std::sync::Arc;

use tidewright::fault::{Fault, TimedFault};
use tidewright::live::LiveError;
use tidewright::quantity::Seconds;
use tidewright::run;
use tidewright::setup::Setup;
use tidewright_scenario::format::Act;

use super::{SURGEON_TAKES_S, Seen, Session, SessionError};
use crate::case::care::Change;
use crate::case::mends::{Mends, mends};
use crate::case::world::leaves_a_drain;
use crate::observe;

impl Session {
    /// What an act does for the patient and against what is wrong.
    pub(super) fn care_for(&mut self, act: &Act) {
        let at_s = self.now_s();
        let empty = self.vaporiser_is_empty();
        self.bedside.state.world.care.act(act, at_s, empty);
        let fault = self.mendable().map_or(Mends::No, |fault| mends(fault, act));
        if fault == Mends::Yes {
            self.bedside.state.world.mended_at_s = Some(at_s);
        }
        let world = &mut self.bedside.state.world;
        if world.tube.is_mended_by(act) {
            world.tube.dragged = None;
        }
        let dragged = world.tube.dragged.is_some() && matches!(act, Act::CallSurgeon);
        if let (Act::PutRight(one), Some(_)) = (act, self.amiss(act)) {
            self.bedside.state.world.put_right.push((one.check.clone(), at_s));
        }
        let mut surgeon = fault == Mends::Surgeon || dragged;
        for change in self.ails() {
            match self.mends_change(&change, act) {
                Mends::Yes => self.bedside.state.world.care.put_right(change.kind, at_s),
                Mends::Surgeon => surgeon = true,
                Mends::No => {}
            }
        }
        if surgeon {
            self.bedside.state.world.help_at_s.get_or_insert(at_s + SURGEON_TAKES_S);
        }
    }

    fn mends_change(&self, change: &Change, act: &Act) -> Mends {
        self.gas().map_or(Mends::No, |gas| change.mends(gas.away_from(change), act))
    }

    /// The surgeon puts right what only a surgeon can.
    fn help(&mut self) {
        let at_s = self.now_s();
        self.bedside.state.world.help_at_s = None;
        self.bedside.state.world.tube.dragged = None;
        let surgeons = |fault| mends(fault, &Act::CallSurgeon) == Mends::Surgeon;
        if self.mendable().is_some_and(surgeons) {
            let drained = self.fault().is_some_and(|(fault, _)| leaves_a_drain(fault));
            self.bedside.state.world.drained = drained;
            self.bedside.state.world.mended_at_s = Some(at_s);
        }
        for change in self.ails() {
            if self.mends_change(&change, &Act::CallSurgeon) == Mends::Surgeon {
                self.bedside.state.world.care.put_right(change.kind, at_s);
            }
        }
        self.bedside
            .log
            .seen
            .push(Seen { at_s, text: "The surgeon has dealt with it.".to_owned() });
    }

    /// When something next changes by itself, s.
    pub(super) fn next_change_s(&self) -> f64 {
        let now_s = self.now_s();
        let timeline = self.lesson.protocol.changes.iter().map(|change| change.at.as_s());
        let course = self.case.faults.iter().flat_map(TimedFault::turns).map(Seconds::as_s);
        let predictions = self.training().predictions.iter().map(|one| one.from_s);
        let hands = self.state.world.busy.map(|busy| busy.until_s).into_iter();
        let help = self.state.world.help_at_s.into_iter();
        let changes = self.case.changes.iter().map(|one| one.at_s);
        let onset = self.case.drawn.iter().map(|drawn| drawn.onset_s);
        let course = course.chain(changes).chain(onset);
        let all = timeline.chain(course).chain(predictions).chain(hands).chain(help);
        all.filter(|&at_s| at_s > now_s).fold(self.scenario().duration_s, f64::min)
    }

    /// Goes on from where a case is about to begin: with it.
    pub(crate) fn with_its_case(&self) -> Result<Self, SessionError> {
        let mut faulty = self.clone();
        faulty.changes_due()?;
        Ok(faulty)
    }

    /// Goes on from where a case is about to begin: without it, so that nothing goes
    /// wrong.
    pub(crate) fn without_case(&self) -> Result<Self, SessionError> {
        let mut healthy = self.clone();
        healthy.bedside.case = Arc::default();
        healthy.changes_due()?;
        Ok(healthy)
    }

    /// Lets everything take effect that is due now.
    pub(crate) fn changes_due(&mut self) -> Result<(), SessionError> {
        let at_s = self.now_s();
        if self.state.world.busy.is_some_and(|busy| busy.until_s <= at_s) {
            if let Some(text) = observe::when_done(self) {
                self.bedside.log.seen.push(Seen { at_s, text });
            }
            self.bedside.state.world.busy = None;
        }
        if self.state.world.help_at_s.is_some_and(|help_s| help_s <= at_s) {
            self.help();
        }
        let turns = |timed: &TimedFault| timed.turns().any(|turn| turn.as_s() == at_s);
        if let Some((Fault::CuffLeak, severity)) = self.fault()
            && self.case.faults.iter().any(turns)
        {
            self.bedside.state.world.deflate(severity);
        }
        self.rebuild()?;
        self.do_waiting();
        Ok(())
    }

    /// The machine that follows from timeline, hands and fault.
    pub(super) fn rebuild(&mut self) -> Result<(), SessionError> {
        let at_s = self.now_s();
        let base = ready(self.base(), &self.lesson.possible);
        let setup = self.state.world.setup(&base, self.fault(), self.scenario().patient.weight_kg);
        if setup != *self.machine().setup() {
            self.bedside.state.live.change(setup).map_err(|refused| match refused {
                LiveError::Setup(source) => SessionError::Setup { at_s, source },
                other => other.into(),
            })?;
            let setup = self.machine().setup().clone();
            self.bedside.log.setups.push(run::Change { at: Seconds::s(at_s), setup });
        }
        Ok(())
    }
}

/// A setup with the structure that any of these faults needs.
pub(super) fn ready(setup: &Setup, possible: &[Fault]) -> Setup {
    possible.iter().fold(setup.clone(), |setup, fault| fault.prepare(&setup))
}
