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

#[cfg(test)]
mod tests {
    use tidewright_scenario::format::{Act, Asked, Note, Then};
    use tidewright_scenario::parse_attempt;

    use super::*;
    use crate::case::varied::vary;
    use crate::words::command::pseudonym;
    use crate::words::unbegun::unbegun;

    fn kept(secret: &str) -> Attempt {
        let text = tidewright_shelf::lesson("juno").expect("a lesson").text;
        let lesson = tidewright_scenario::parse("juno.ron", text).expect("a lesson");
        let id = |name: &str| pseudonym(name).expect("a name");
        let (name, acts) = (id("exam-heron-1"), [(130.5, Act::Listen), (141.0, Act::ReseatJoint)]);
        let acts = acts.map(|(at_s, act)| TimedAct { at_s, act }).to_vec();
        let then = Then::Refused(Note { text: "hands are busy".to_owned() });
        let asked = vec![Asked { at_s: 131.0, act: Act::Look, then }];
        let waits = vec![TimedAct { at_s: 299.0, act: Act::CallSurgeon }];
        let begun = unbegun(name, 4711, id("heron-1"), vary(&lesson, 4711));
        let mut log = Attempt { ended_at_s: 300.0, acts, asked, waits, ..begun };
        let mut chain = Chain::begin(secret, &log, 1);
        let links = log.acts.iter().map(|timed| chain.act(timed)).collect();
        log.exam = Some(Sitting { number: 1, links, end: Some(chain.end(&log)) });
        log
    }

    #[test]
    fn law_changing_any_one_byte_of_a_log_is_told() {
        let (secret, mut told) = ("a secret of the student's", 0);
        let log = kept(secret);
        assert_eq!(checked(secret, &log), Some(Change::None));
        assert_ne!(checked("another", &log), Some(Change::None));
        let text = log.to_ron();
        for place in 0..text.len() {
            for by in [1, 2, 4, 8, 16] {
                let mut bytes = text.clone().into_bytes();
                bytes[place] ^= by;
                // What is no text, or no log any more, cannot be marked at all.
                let changed = String::from_utf8(bytes).ok();
                let changed = changed.and_then(|text| parse_attempt("log.ron", &text).ok());
                let Some(changed) = changed.filter(|changed| *changed != log) else { continue };
                assert_ne!(checked(secret, &changed), Some(Change::None), "{place} {by}");
                told += 1;
            }
        }
        assert!(told > 100, "only {told} changes of a byte leave a log");
    }
}
