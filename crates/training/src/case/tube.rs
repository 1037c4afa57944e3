//! Tube and cuff in the student's hands: what moving a tube or turning a patient does,
//! in the right order and in the wrong one.

use tidewright::fault::Fault;
use tidewright_scenario::format::{Act, ActName, TimedAct, Training};

use crate::words::text::said;

/// At or below this pressure a cuff is let down, cmH2O (a teaching choice).
const LET_DOWN_CMH2O: f64 = 2.0;
/// Pressures at which a cuff seals and leaves the wall its blood, cmH2O (common practice,
/// no source).
pub(crate) const SEALS_CMH2O: [f64; 2] = [20.0, 30.0];
/// What a kink leaves shut of a tube that was dragged along by the circuit (a teaching
/// choice).
const KINK: f64 = 0.7;
/// Within this time, acts belong to one handling of the tube, s (a teaching choice).
const ONE_HANDLING_S: f64 = 120.0;

/// What hands did to the tube. Plain data.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Handling {
    /// Whether the cuff is the student's to let down and fill, where a lesson offers it;
    /// else whoever moves a tube does the whole sequence.
    pub cuff_in_hand: bool,
    /// Every time that the tube was moved by itself or with the patient.
    pub moved: Vec<Moved>,
    /// What a turn on the circuit did to the tube, until it is put right.
    pub dragged: Option<Dragged>,
}

/// One time that a tube was moved.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moved {
    /// When, s.
    pub at_s: f64,
    /// How.
    pub how: How,
    /// Pressure in the cuff, cmH2O.
    pub cuff_cmh2o: f64,
    /// Whether it hung on the circuit or on a bag.
    pub connected: bool,
}

/// How a tube was moved.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum How {
    /// It was drawn back.
    DrawnBack,
    /// Another was put in.
    Changed,
    /// The patient was turned.
    Turned,
}

/// What a turn on the circuit does to a tube.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Dragged {
    /// Held by its cuff it twists and kinks.
    Kinked,
    /// With the cuff down it slips out.
    Out,
}

impl Moved {
    /// Whether a filled cuff was dragged along the wall of the trachea.
    #[must_use]
    pub fn strained(&self) -> bool {
        let drags = self.how != How::Turned || self.connected;
        drags && self.cuff_cmh2o > LET_DOWN_CMH2O
    }

    /// Whether the patient was turned without being taken off first.
    #[must_use]
    pub fn turned_on_the_circuit(&self) -> bool {
        self.how == How::Turned && self.connected
    }
}

impl Handling {
    pub(crate) fn of(training: &Training) -> Self {
        let cuff_in_hand = training.offers.contains(&ActName::DeflateCuff);
        Self { cuff_in_hand, ..Self::default() }
    }

    /// Notes what an act does to the tube.
    pub(crate) fn act(&mut self, act: &Act, at_s: f64, connected: bool, cuff_cmh2o: f64) {
        let how = match act {
            Act::WithdrawTube if self.cuff_in_hand => How::DrawnBack,
            Act::ChangeTube | Act::Extubate if self.cuff_in_hand => How::Changed,
            Act::TurnPatient => How::Turned,
            _ => return,
        };
        let moved = Moved { at_s, how, cuff_cmh2o, connected };
        self.moved.push(moved);
        if moved.turned_on_the_circuit() && self.dragged != Some(Dragged::Out) {
            let held = cuff_cmh2o > LET_DOWN_CMH2O;
            self.dragged = Some(if held { Dragged::Kinked } else { Dragged::Out });
        }
    }

    /// Whether an act puts right what a turn did to the tube.
    pub(crate) fn is_mended_by(&self, act: &Act) -> bool {
        match self.dragged {
            Some(Dragged::Kinked) => matches!(act, Act::WithdrawTube | Act::ChangeTube),
            Some(Dragged::Out) => matches!(act, Act::ChangeTube),
            None => false,
        }
    }

    /// The faults that hands have made, as bad as they are.
    pub(crate) fn faults(&self, cuff_cmh2o: f64, full_cmh2o: f64) -> Vec<(Fault, f64)> {
        let mut faults = Vec::new();
        if self.cuff_in_hand && cuff_cmh2o < SEALS_CMH2O[0] {
            faults.push((Fault::CuffLeak, 1.0 - cuff_cmh2o / full_cmh2o));
        }
        match self.dragged {
            Some(Dragged::Kinked) => faults.push((Fault::KinkedTube, KINK)),
            Some(Dragged::Out) => faults.push((Fault::PatientDisconnected, 1.0)),
            None => {}
        }
        faults
    }
}

/// Whether an act belongs to moving a tube or turning a patient with care: the cuff let
/// down before and filled after, the patient taken off before.
pub(crate) fn belongs_to_a_move(acts: &[TimedAct], index: usize) -> bool {
    let timed = &acts[index];
    let near = |one: &&TimedAct| (one.at_s - timed.at_s).abs() <= ONE_HANDLING_S;
    let moves =
        |one: &TimedAct| matches!(one.act, Act::WithdrawTube | Act::ChangeTube | Act::TurnPatient);
    match &timed.act {
        Act::DeflateCuff | Act::Disconnect | Act::HandVentilate => {
            acts[index..].iter().take_while(near).any(moves)
        }
        Act::InflateCuff(_) => {
            let before = acts[..index].iter().rev().take_while(near);
            before.into_iter().any(|one| moves(one) || one.act == Act::DeflateCuff)
        }
        _ => false,
    }
}

/// What was not done with care when a tube was moved, and what would have been, a
/// sentence each; `cuff_cmh2o` is how the cuff was left.
pub(crate) fn cautions(handling: &Handling, training: &Training, acts: &[TimedAct]) -> Vec<String> {
    let offers = |name| training.offers.contains(&name);
    let mut found = Vec::new();
    for moved in &handling.moved {
        let at = said(moved.at_s);
        if moved.turned_on_the_circuit() {
            found.push(format!(
                "At {at} s the patient was turned with its tube on the circuit, which drags the \
                 tube along. Take it off the circuit, turn head and body together, and put it \
                 back on."
            ));
        }
        if moved.strained() {
            let how = match moved.how {
                How::DrawnBack => "drawn back",
                How::Changed => "drawn out",
                How::Turned => "dragged",
            };
            found.push(format!(
                "At {at} s the tube was {how} with {} cmH2O in its cuff: a filled cuff that moves \
                 can tear the trachea, a cat's most easily. Let the cuff down first.",
                said(moved.cuff_cmh2o)
            ));
        }
    }
    let moves =
        |one: &&TimedAct| matches!(one.act, Act::WithdrawTube | Act::ChangeTube | Act::TurnPatient);
    if let Some(last) = acts.iter().rfind(moves) {
        let after =
            |done: fn(&Act) -> bool| acts.iter().any(|one| one.at_s > last.at_s && done(&one.act));
        let at = said(last.at_s);
        if offers(ActName::Listen) && !after(|act| matches!(act, Act::Listen)) {
            found.push(format!(
                "After the tube was moved at {at} s nobody listened again: a tube that moved may \
                 lie in one bronchus or in none. Listen to both sides."
            ));
        }
        let by_gauge = |act: &Act| matches!(act, Act::MeasureCuff | Act::InflateCuff(_));
        if handling.cuff_in_hand && !after(by_gauge) {
            found.push(format!(
                "After the tube was moved at {at} s nobody read the cuff's gauge: a cuff that was \
                 right before may leak or press now."
            ));
        }
    }
    let fills = acts.iter().filter_map(|one| match &one.act {
        Act::InflateCuff(to) => Some((one.at_s, to.cmh2o)),
        _ => None,
    });
    for (at_s, cmh2o) in fills.filter(|(_, cmh2o)| *cmh2o > SEALS_CMH2O[1]) {
        found.push(format!(
            "At {} s the cuff was filled to {} cmH2O. {} to {} by gauge seal; more presses the \
             blood out of the trachea's wall.",
            said(at_s),
            said(cmh2o),
            said(SEALS_CMH2O[0]),
            said(SEALS_CMH2O[1])
        ));
    }
    found
}
