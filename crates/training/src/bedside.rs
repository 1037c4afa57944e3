//! All that a session is, and all that can be read off it: by a screen, by an eye or a
//! hand, by whoever marks.
//!
//! What never changes is shared. What changes is small. What is noted of it only ever
//! grows; so going back is taking up an earlier state and forgetting the notes since.

mod gas;
pub(crate) mod limits;
pub(crate) mod meter;
mod reading;
pub(crate) mod vitals;

use std::sync::Arc;

use serde::Serialize;
use tidewright::fault::{Fault, TimedFault};
use tidewright::live::LiveRun;
use tidewright::quantity::Seconds;
use tidewright::run;
use tidewright::setup::Setup;
use tidewright_scenario::Scenario;
use tidewright_scenario::format::{Act, Amiss, Asked, Dealt, Id, TimedAct};

pub(crate) use gas::{GasBase, GasState};
pub use gas::{HAND_OVER_ARREST_S, HAND_OVER_SATURATION};

use crate::bedside::meter::{Meter, Row};
use crate::bedside::vitals::Chart;
use crate::case::care::{Change, Kind};
use crate::case::choices::Orders;
use crate::case::draw::Drawn;
use crate::case::world::World;

/// What a session is and what was noted of it. A session reads as
/// its bedside.
#[derive(Clone, Debug)]
pub struct Bedside {
    pub(crate) lesson: Arc<Lesson>,
    pub(crate) case: Arc<DrawnCase>,
    pub(crate) state: State,
    pub(crate) log: Log,
    pub(crate) hands: Hands,
}

/// What was asked of hands that were busy. A step that is gone anew asks for nothing, so
/// this is neither state nor log.
#[derive(Clone, Debug, Default)]
pub(crate) struct Hands {
    /// What was asked for and not done at once, as it came out.
    pub asked: Vec<Asked>,
    /// What waits, each with when it was asked for.
    pub waiting: Vec<TimedAct>,
}

/// What never changes in a session.
#[derive(Debug)]
pub(crate) struct Lesson {
    pub scenario: Arc<Scenario>,
    pub protocol: run::Protocol,
    pub seed: u32,
    /// What a class was dealt; the scenario is already so.
    pub dealt: Option<Dealt>,
    /// Every fault of the pool: what any of them needs is there from the start, so
    /// that the machine does not tell which was drawn.
    pub possible: Vec<Fault>,
    pub start: Setup,
    /// What the file says of the gas, where the scenario follows it.
    pub gas: Option<GasBase>,
    /// In which order the answers of each question are shown.
    pub orders: Orders,
}

/// What goes wrong by itself.
#[derive(Debug, Default)]
pub(crate) struct DrawnCase {
    pub drawn: Option<Drawn>,
    /// Its stages.
    pub faults: Vec<TimedFault>,
    /// Hidden changes of patient and gas.
    pub changes: Vec<Change>,
}

/// What changes.
#[derive(Clone, Debug)]
pub(crate) struct State {
    /// Breath, gas and drive.
    pub live: LiveRun,
    pub world: World,
    pub gas: Option<GasState>,
    pub meter: Meter,
    pub last_breath_s: f64,
    pub longest_apnoea_s: f64,
    pub ended: Option<End>,
}

/// What was noted; it only grows.
#[derive(Clone, Debug, Default)]
pub(crate) struct Log {
    /// Every machine after the first, from its time on; of several at one time the last
    /// counts.
    pub setups: Vec<run::Change>,
    pub rows: Vec<Row>,
    pub acts: Vec<TimedAct>,
    pub seen: Vec<Seen>,
    /// Breaths as a carbon dioxide monitor knows them.
    pub gas_breaths: Vec<tidewright::exchange::GasBreath>,
    /// Breaths that the patient drew by itself.
    pub own: Vec<OwnEffort>,
    /// The patient's vital signs.
    pub chart: Chart,
}

/// How long each list of a [`Log`] was.
#[derive(Clone, Copy, Debug)]
pub(crate) struct LogLength([usize; 7]);

pub use tidewright::coupled::OwnEffort;

/// Something that was seen, heard, read or told.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Seen {
    /// When, s.
    pub at_s: f64,
    /// What.
    pub text: String,
}

/// Why a session is over.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum End {
    /// The scenario's time is over.
    Time,
    /// The lungs were in danger: the surgeon has taken over.
    HandedOverForPressure,
    /// The patient did not breathe for too long: the surgeon has taken over.
    HandedOverForApnoea,
    /// The blood had too little oxygen for too long: the surgeon has taken over.
    HandedOverForSaturation,
    /// The heart did not pump for too long: the surgeon has taken over.
    HandedOverForCirculation,
}

impl Log {
    pub fn length(&self) -> LogLength {
        let Self { setups, rows, acts, seen, gas_breaths, own, chart } = self;
        let gas = [gas_breaths.len(), own.len(), chart.entries.len()];
        LogLength([setups.len(), rows.len(), acts.len(), seen.len(), gas[0], gas[1], gas[2]])
    }

    /// Takes out what was noted since.
    pub fn split(&mut self, since: LogLength) -> Self {
        let LogLength([setups, rows, acts, seen, gas_breaths, own, chart]) = since;
        Self {
            setups: split(&mut self.setups, setups),
            rows: split(&mut self.rows, rows),
            acts: split(&mut self.acts, acts),
            seen: split(&mut self.seen, seen),
            gas_breaths: split(&mut self.gas_breaths, gas_breaths),
            own: split(&mut self.own, own),
            chart: Chart { entries: split(&mut self.chart.entries, chart) },
        }
    }

    /// Notes again what was taken out.
    pub fn append(&mut self, mut taken: Self) {
        self.setups.append(&mut taken.setups);
        self.rows.append(&mut taken.rows);
        self.acts.append(&mut taken.acts);
        self.seen.append(&mut taken.seen);
        self.gas_breaths.append(&mut taken.gas_breaths);
        self.own.append(&mut taken.own);
        self.chart.entries.append(&mut taken.chart.entries);
    }
}

fn split<T>(list: &mut Vec<T>, at: usize) -> Vec<T> {
    list.split_off(at.min(list.len()))
}

impl Bedside {
    /// The fault that is there now, and how bad it is.
    #[must_use]
    pub fn fault(&self) -> Option<(Fault, f64)> {
        if self.state.world.mended_at_s.is_some() {
            return None;
        }
        let now = Seconds::s(self.now_s());
        let mut there = self.case.faults.iter().map(|timed| (timed.fault, timed.severity_at(now)));
        there.rfind(|(_, severity)| *severity > 0.0)
    }

    /// What an act may put right: the fault that is there, or the end of a cylinder
    /// that is to come and can be forestalled.
    pub(crate) fn mendable(&self) -> Option<Fault> {
        let mended = self.state.world.mended_at_s.is_some();
        let drawn = self.case.drawn.as_ref().filter(|_| !mended)?;
        if drawn.is_on_purpose() {
            return None;
        }
        let foretold = |fault: &Fault| *fault == Fault::CylinderEmptying;
        self.fault().map(|(fault, _)| fault).or_else(|| drawn.first().filter(foretold))
    }

    /// Whether the vaporiser has run empty.
    #[must_use]
    pub fn vaporiser_is_empty(&self) -> bool {
        self.ails().iter().any(|change| change.kind == Kind::Depth)
    }

    /// The hidden changes of patient and gas that are there now.
    pub(crate) fn ails(&self) -> Vec<Change> {
        self.gas().map_or_else(Vec::new, |gas| {
            gas.active(&self.state.world.care, self.now_s()).copied().collect()
        })
    }

    /// When everything that went wrong was put right, s: faults of the machine and
    /// what changed in patient and gas.
    #[must_use]
    pub fn all_mended_at_s(&self) -> Option<f64> {
        let World { mended_at_s, care, .. } = &self.state.world;
        let fault = (!self.case.faults.is_empty()).then_some(*mended_at_s);
        let gas = self.gas();
        let changes = gas.iter().flat_map(|gas| gas.wrong());
        let right = changes.map(|change| care.put_right_s(change.kind));
        let amiss = self.case.drawn.iter().flat_map(|drawn| &drawn.case.amiss);
        let amiss = amiss.map(|amiss| self.state.world.put_right_s(&amiss.check));
        let all = fault.into_iter().chain(right).chain(amiss).collect::<Option<Vec<f64>>>()?;
        all.into_iter().reduce(f64::max)
    }

    /// What a check finds, or what putting right is to mend, where it is amiss still.
    pub(crate) fn amiss(&self, act: &Act) -> Option<&Amiss> {
        let (Act::Check(one) | Act::PutRight(one)) = act else { return None };
        let case = &self.case.drawn.as_ref()?.case;
        let amiss = case.amiss.iter().find(|amiss| amiss.check == one.check)?;
        self.state.world.put_right_s(&one.check).is_none().then_some(amiss)
    }

    pub(crate) fn has_guessed(&self, id: &Id) -> bool {
        let guessed =
            |timed: &TimedAct| matches!(&timed.act, Act::Predict(g) if g.prediction == *id);
        self.log.acts.iter().any(guessed)
    }

    pub(crate) fn has_answered(&self, id: &Id) -> bool {
        let answered = |timed: &TimedAct| matches!(&timed.act, Act::Answer(a) if a.question == *id);
        self.log.acts.iter().any(answered)
    }

    /// What the file sets now, before hands and fault.
    pub(crate) fn base(&self) -> &Setup {
        let (now_s, protocol) = (self.now_s(), &self.lesson.protocol);
        let changes = protocol.changes.iter().take_while(|change| change.at.as_s() <= now_s);
        changes.last().map_or(&protocol.start, |change| &change.setup)
    }
}
