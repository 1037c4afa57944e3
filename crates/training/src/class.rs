//! A class: a file for every student, and every attempt marked.

mod gradebook;
mod key;
mod likeness;
mod marks;
mod roster;
mod table;

use tidewright_scenario::Scenario;
use tidewright_scenario::format::{Attempt, Dealt, Id};

pub use gradebook::{Item, Style, Telling, gradebook, items, items_to_json, telling};
pub use key::{AS_DEALT, Key, SealedKey, keys};
pub use marks::{ClassRow, Handed, mark_all, mark_while};
pub use roster::roster;
pub use table::{TableError, TableFault, to_csv};

use crate::case::varied::{seed_of, vary};
use crate::words::unbegun::unbegun;

/// What a student gets: the pseudonym, the seed that draws the case, and a patient
/// and severities of one's own. The key stays with the educator; the seed hides the
/// case, it does not lock it away.
#[derive(Clone, Debug, PartialEq)]
pub struct Hand {
    /// The student's pseudonym.
    pub pseudonym: Id,
    /// The seed of the session.
    pub seed: u32,
    /// Weight and severities, where the lesson varies them.
    pub dealt: Option<Dealt>,
}

/// Deals a hand to every student of a roster.
///
/// All of it follows from the class seed and the pseudonym, so a student who joins
/// later changes nobody else's.
#[must_use]
pub fn deal(scenario: &Scenario, roster: &[Id], class_seed: u32) -> Vec<(Hand, Key)> {
    let deal = |id: &Id| {
        let seed = seed_of(class_seed, id.as_str());
        let dealt = vary(scenario, seed);
        let key = Key::of(scenario, id, seed, dealt.as_ref());
        (Hand { pseudonym: id.clone(), seed, dealt }, key)
    };
    roster.iter().map(deal).collect()
}

impl Hand {
    /// The file that the student begins with: an attempt in which nothing is done.
    #[must_use]
    pub fn to_attempt(&self, scenario: &Scenario) -> Attempt {
        unbegun(scenario.id.clone(), self.seed, self.pseudonym.clone(), self.dealt.clone())
    }
}
