//! What an exam keeps beside its session: the count of its sittings and the chain of its acts.

use tidewright_scenario::format::{Attempt, CutOff, Sitting};
use tidewright_training::Session;
use tidewright_training::exam::Chain;

/// What an exam keeps beside its session.
#[derive(Debug)]
pub struct Sat {
    /// The how-manieth sitting on this machine it is.
    pub number: u32,
    pub chain: Chain,
    pub links: Vec<String>,
    pub interrupted: Vec<CutOff>,
}

impl Sat {
    /// The log with its chain, as it stands.
    pub fn chained(&mut self, session: &Session, log: Attempt) -> Attempt {
        for timed in session.acts().iter().skip(self.links.len()) {
            self.links.push(self.chain.act(&session.logged(timed)));
        }
        let (number, links) = (self.number, self.links.clone());
        let log = Attempt { interrupted: self.interrupted.clone(), ..log };
        let end = Some(self.chain.end(&log));
        Attempt { exam: Some(Sitting { number, links, end }), ..log }
    }
}
