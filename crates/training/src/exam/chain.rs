//! A chain along the acts of a log: each link is a keyed hash of the one before and of
//! the act, so that a change of any act, time or answer shows where it is.

use std::fmt::Write as _;

use tidewright_scenario::format::{Attempt, Sitting, TimedAct};

use super::seal::keyed;

/// Letters of a link.
const LETTERS: usize = 24;

/// The chain of a log under way.
#[derive(Clone, Debug)]
pub struct Chain {
    secret: String,
    last: String,
}

/// Where a log was changed.
#[derive(Clone, Debug, PartialEq)]
pub enum Change {
    /// It is as it was kept.
    None,
    /// What stands before its acts, or their number.
    Head,
    /// An act, at its time, s.
    Act(f64),
    /// Its end.
    End,
}

impl Chain {
    /// A chain without a link: seed, pseudonym, what was dealt and the number of the
    /// sitting are its start.
    #[must_use]
    pub fn begin(secret: &str, attempt: &Attempt, sitting: u32) -> Self {
        let head = Attempt {
            ended_at_s: 0.0,
            acts: Vec::new(),
            asked: Vec::new(),
            waits: Vec::new(),
            interrupted: Vec::new(),
            cut_off: None,
            exam: None,
            ..attempt.clone()
        };
        let mut chain = Self { secret: secret.to_owned(), last: String::new() };
        chain.last = chain.link(&format!("{} {sitting}", head.to_json()));
        chain
    }

    /// The link of the next act.
    pub fn act(&mut self, timed: &TimedAct) -> String {
        let text = serde_json::to_string(timed);
        self.last = self.link(&text.expect("numbers and texts can always be written"));
        self.last.clone()
    }

    /// The link that ends it: over all that stands behind the acts.
    #[must_use]
    pub fn end(&self, attempt: &Attempt) -> String {
        let Attempt { ended_at_s, asked, waits, interrupted, cut_off, .. } = attempt;
        let behind = serde_json::to_string(&(ended_at_s, asked, waits, interrupted, cut_off));
        self.link(&behind.expect("numbers and texts can always be written"))
    }

    fn link(&self, text: &str) -> String {
        hex(&keyed(self.secret.as_bytes(), format!("{}|{text}", self.last).as_bytes()))
    }
}

/// Whether a log of an exam is as it was kept; `None` where it is no log of an exam.
#[must_use]
pub fn checked(secret: &str, attempt: &Attempt) -> Option<Change> {
    let Sitting { number, links, end } = attempt.exam.as_ref()?;
    let mut chain = Chain::begin(secret, attempt, *number);
    for (timed, link) in attempt.acts.iter().zip(links) {
        if chain.act(timed) != *link {
            return Some(Change::Act(timed.at_s));
        }
    }
    if attempt.acts.len() != links.len() {
        return Some(Change::Head);
    }
    let ended = chain.end(attempt);
    // Who was cut off has no end that was chained.
    let ends = end.as_ref().map_or(attempt.cut_off.is_some(), |end| *end == ended);
    Some(if ends { Change::None } else { Change::End })
}

/// A student's secret.
pub(super) fn secret(lesson: &str, class_seed: u32, pseudonym: &str) -> String {
    hex(&keyed(lesson.as_bytes(), format!("{class_seed} {pseudonym}").as_bytes()))
}

fn hex(bytes: &[u8]) -> String {
    let mut text = String::new();
    for byte in bytes.iter().take(LETTERS / 2) {
        // Writing to a `String` cannot fail.
        let _ = write!(text, "{byte:02x}");
    }
    text
}
