//! What the seed draws: the case and its onset.

use rand::RngExt;
use tidewright::fault::{Fault, TimedFault};
use tidewright::quantity::Seconds;
use tidewright::random::generator;
use tidewright_scenario::format::{self, Case, Training};

use crate::case::care::Change;

/// How many seeds are tried until one draws a case.
pub(crate) const MOST_SEEDS: u32 = 4000;

/// What goes wrong in one session, and when.
#[derive(Clone, Debug, PartialEq)]
pub struct Drawn {
    /// The case of the pool.
    pub case: Case,
    /// When it begins, s.
    pub onset_s: f64,
}

/// Draws a case and its onset; nothing from an empty pool.
#[must_use]
pub fn draw(training: &Training, seed: u32) -> Option<Drawn> {
    let mut generator = generator(u64::from(seed));
    let (which, when) = (generator.random::<f64>(), generator.random::<f64>());
    let case = training.pool.get((which * training.pool.len() as f64) as usize)?;
    let onset_s = case.onset_from_s + when * (case.onset_to_s - case.onset_from_s);
    Some(Drawn { case: case.clone(), onset_s })
}

/// The first seed from 1 on that draws a case, and what it draws.
pub(crate) fn first_seed(training: &Training, case: &format::Id) -> Option<(u32, Drawn)> {
    let mut all = (1..=MOST_SEEDS).filter_map(|seed| Some((seed, draw(training, seed)?)));
    all.find(|(_, drawn)| drawn.case.id == *case)
}

impl Drawn {
    /// The stages of the case as faults of the engine, each until the next begins.
    #[must_use]
    pub fn faults(&self) -> Vec<TimedFault> {
        let from_s = |stage: &format::Stage| self.onset_s + stage.after_s;
        let course = &self.case.course;
        let ends = course.iter().skip(1).map(|next| Some(Seconds::s(from_s(next)))).chain([None]);
        let stage = |(stage, until): (&format::Stage, Option<Seconds>)| TimedFault {
            until,
            ..format::TimedFault {
                at_s: from_s(stage),
                fault: stage.is.clone(),
                onset: stage.onset.clone(),
                until_s: None,
            }
            .to_core()
        };
        course.iter().zip(ends).map(stage).collect()
    }

    /// What of patient and gas changes by itself.
    pub(crate) fn changes(&self) -> Vec<Change> {
        self.case.changes.iter().map(|change| Change::of(change, self.onset_s)).collect()
    }

    /// The fault that the case begins with.
    #[must_use]
    pub fn first(&self) -> Option<Fault> {
        self.case.course.first().map(|stage| stage.is.to_core().0)
    }

    /// Whether anything is wrong in it: a pool may hold a healthy patient and sound
    /// equipment.
    #[must_use]
    pub fn is_wrong(&self) -> bool {
        self.case.is_wrong()
    }

    /// Whether the surgeon does it on purpose: a chest or abdomen that is pressed
    /// and in the end free again.
    #[must_use]
    pub fn is_on_purpose(&self) -> bool {
        let last = self.case.course.last().map(|stage| stage.is.to_core());
        let pressed = |fault| matches!(fault, Fault::CompressedChest | Fault::CompressedAbdomen);
        last.is_some_and(|(fault, severity)| pressed(fault) && severity == 0.0)
    }
}
