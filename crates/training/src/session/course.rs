//! What changes by itself in a session: timeline, hidden fault, hands that are done,
//! help that comes; and the machine that follows.

use tidewright::fault::{Fault, TimedFault};
use tidewright::machine::Machine;
use tidewright::quantity::Seconds;
use tidewright::run;
use tidewright::setup::Setup;
use tidewright_scenario::format::Act;

use super::{GasCourse, SURGEON_TAKES_S, Seen, Session, SessionError};
use crate::care::{Change, Kind};
use crate::mends::{Mends, mends};
use crate::observe;
use crate::world::leaves_a_drain;

impl Session {
    /// The fault that is there now, and how bad it is.
    #[must_use]
    pub fn fault(&self) -> Option<(Fault, f64)> {
        if self.world.mended_at_s.is_some() {
            return None;
        }
        let now = Seconds::s(self.now_s());
        let mut there = self.faults.iter().map(|timed| (timed.fault, timed.severity_at(now)));
        there.rfind(|(_, severity)| *severity > 0.0)
    }

    /// What an act may put right: the fault that is there, or the end of a cylinder
    /// that is to come and can be forestalled.
    pub(super) fn mendable(&self) -> Option<Fault> {
        let drawn = self.drawn.as_ref().filter(|_| self.world.mended_at_s.is_none())?;
        if drawn.is_on_purpose() {
            return None;
        }
        let supply =
            |fault: &Fault| matches!(fault, Fault::FreshGasFailing | Fault::CylinderEmptying);
        self.fault().map(|(fault, _)| fault).or_else(|| drawn.first().filter(supply))
    }

    /// Whether the vaporiser has run empty.
    #[must_use]
    pub fn vaporiser_is_empty(&self) -> bool {
        self.ails().iter().any(|change| change.kind == Kind::Depth)
    }

    /// The hidden changes of patient and gas that are there now.
    pub(crate) fn ails(&self) -> Vec<Change> {
        let gas = self.gas.as_ref();
        gas.iter().flat_map(|gas| gas.active(&self.world.care, self.now_s())).copied().collect()
    }

    /// What an act does for the patient and against what is wrong.
    pub(super) fn care_for(&mut self, act: &Act) {
        let at_s = self.now_s();
        let empty = self.vaporiser_is_empty();
        self.world.care.act(act, at_s, empty);
        let fault = self.mendable().map_or(Mends::No, |fault| mends(fault, act));
        if fault == Mends::Yes {
            self.world.mended_at_s = Some(at_s);
        }
        let mut surgeon = fault == Mends::Surgeon;
        for change in self.ails() {
            match self.mends_change(&change, act) {
                Mends::Yes => self.world.care.put_right(change.kind, at_s),
                Mends::Surgeon => surgeon = true,
                Mends::No => {}
            }
        }
        if surgeon {
            self.world.help_at_s.get_or_insert(at_s + SURGEON_TAKES_S);
        }
    }

    fn mends_change(&self, change: &Change, act: &Act) -> Mends {
        self.gas.as_ref().map_or(Mends::No, |gas| change.mends(gas.away_from(change), act))
    }

    /// The surgeon puts right what only a surgeon can.
    fn help(&mut self) {
        let at_s = self.now_s();
        self.world.help_at_s = None;
        let surgeons = |fault| mends(fault, &Act::CallSurgeon) == Mends::Surgeon;
        if self.mendable().is_some_and(surgeons) {
            self.world.drained = self.fault().is_some_and(|(fault, _)| leaves_a_drain(fault));
            self.world.mended_at_s = Some(at_s);
        }
        for change in self.ails() {
            if self.mends_change(&change, &Act::CallSurgeon) == Mends::Surgeon {
                self.world.care.put_right(change.kind, at_s);
            }
        }
        self.seen.push(Seen { at_s, text: "The surgeon has dealt with it.".to_owned() });
    }

    /// When everything that went wrong was put right, s: faults of the machine and
    /// what changed in patient and gas.
    #[must_use]
    pub fn all_mended_at_s(&self) -> Option<f64> {
        let fault = (!self.faults.is_empty()).then_some(self.world.mended_at_s);
        let changes = self.gas.iter().flat_map(GasCourse::wrong);
        let right = changes.map(|change| self.world.care.put_right_s(change.kind));
        let all = fault.into_iter().chain(right).collect::<Option<Vec<f64>>>()?;
        all.into_iter().reduce(f64::max)
    }

    /// When something next changes by itself, s.
    pub(super) fn next_change_s(&self) -> f64 {
        let now_s = self.now_s();
        let timeline = self.protocol.changes.iter().map(|change| change.at.as_s());
        let course = self.faults.iter().flat_map(TimedFault::turns).map(Seconds::as_s);
        let predictions = self.training().predictions.iter().map(|one| one.from_s);
        let hands = self.world.busy.map(|busy| busy.until_s).into_iter();
        let help = self.world.help_at_s.into_iter();
        let changes = self.gas.iter().flat_map(|gas| gas.changes.iter().map(|one| one.at_s));
        let onset = self.drawn.iter().map(|drawn| drawn.onset_s);
        let course = course.chain(changes).chain(onset);
        let all = timeline.chain(course).chain(predictions).chain(hands).chain(help);
        all.filter(|&at_s| at_s > now_s).fold(self.scenario.duration_s, f64::min)
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
        healthy.drawn = None;
        healthy.faults.clear();
        if let Some(gas) = &mut healthy.gas {
            gas.changes.clear();
        }
        healthy.changes_due()?;
        Ok(healthy)
    }

    /// Lets everything take effect that is due now.
    pub(crate) fn changes_due(&mut self) -> Result<(), SessionError> {
        let at_s = self.now_s();
        if self.world.busy.is_some_and(|busy| busy.until_s <= at_s) {
            if let Some(text) = observe::when_done(self) {
                self.seen.push(Seen { at_s, text });
            }
            self.world.busy = None;
        }
        if self.world.help_at_s.is_some_and(|help_s| help_s <= at_s) {
            self.help();
        }
        let turns = |timed: &TimedFault| timed.turns().any(|turn| turn.as_s() == at_s);
        if let Some((Fault::CuffLeak, severity)) = self.fault()
            && self.faults.iter().any(turns)
        {
            self.world.deflate(severity);
        }
        self.rebuild()
    }

    /// What the file sets now, before hands and fault.
    pub(super) fn base(&self) -> &Setup {
        let now_s = self.now_s();
        let changes = self.protocol.changes.iter().take_while(|change| change.at.as_s() <= now_s);
        changes.last().map_or(&self.protocol.start, |change| &change.setup)
    }

    /// The machine that follows from timeline, hands and fault.
    pub(super) fn rebuild(&mut self) -> Result<(), SessionError> {
        let at_s = self.now_s();
        let base = ready(self.base(), &self.possible);
        let setup = self.world.setup(&base, self.fault(), self.scenario.patient.weight_kg);
        if setup != *self.machine.setup() {
            let machine =
                Machine::new(setup).map_err(|source| SessionError::Setup { at_s, source })?;
            self.moment = self.moment.under(&machine, &self.machine);
            self.setups.retain(|change| change.at.as_s() < at_s);
            self.setups.push(run::Change { at: Seconds::s(at_s), setup: machine.setup().clone() });
            self.machine = machine;
        }
        Ok(())
    }
}

/// A setup with the structure that any of these faults needs.
pub(super) fn ready(setup: &Setup, possible: &[Fault]) -> Setup {
    possible.iter().fold(setup.clone(), |setup, fault| fault.prepare(&setup))
}
