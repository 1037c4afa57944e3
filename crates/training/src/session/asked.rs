//! Acts that come while hands are busy wait, and are done as soon as hands are free.

use tidewright_scenario::format::{Act, Asked, Attempt, Moment, Note, Then, TimedAct};

use super::{NotOpen, Session};

/// Most acts that wait at a time.
pub const MOST_WAITING: usize = 6;
/// Most acts that were not done at once and are kept in a log.
const MOST_KEPT: usize = 1000;

/// What came of an act that was asked for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Came {
    /// It is done.
    Done,
    /// It waits until hands are free.
    Waits {
        /// When that is at the earliest, s.
        until_s: f64,
    },
}

impl Session {
    /// Asks for an act: it is done now, or as soon as hands are free. What is refused is
    /// noted.
    ///
    /// # Errors
    /// [`NotOpen`] says why it can be done neither now nor then.
    pub fn ask(&mut self, act: Act) -> Result<Came, NotOpen> {
        let at_s = self.now_s();
        let asked = act.clone();
        let came = match self.act(act) {
            Ok(()) => Ok(Came::Done),
            Err(NotOpen::Busy { until_s }) if self.waiting().len() < MOST_WAITING => {
                let timed = TimedAct { at_s, act: asked.clone() };
                self.bedside.hands.waiting.push(timed);
                Ok(Came::Waits { until_s })
            }
            Err(reason) => Err(reason),
        };
        if let Err(reason) = &came {
            self.note_asked(Asked { at_s, act: asked, then: refused(reason) });
        }
        came
    }

    /// Takes back the act that was asked for last and still waits.
    pub fn take_back(&mut self) -> Option<Act> {
        let TimedAct { at_s, act } = self.bedside.hands.waiting.pop()?;
        let then = Then::TakenBack(Moment { at_s: self.now_s() });
        self.note_asked(Asked { at_s, act: act.clone(), then });
        Some(act)
    }

    /// Does what waited, as far as hands are free.
    pub(super) fn do_waiting(&mut self) {
        while self.state.world.busy.is_none()
            && self.ended().is_none()
            && !self.waiting().is_empty()
        {
            let TimedAct { at_s, act } = self.bedside.hands.waiting.remove(0);
            let then = match self.act(act.clone()) {
                Ok(()) => Then::Done(Moment { at_s: self.now_s() }),
                Err(reason) => refused(&reason),
            };
            self.note_asked(Asked { at_s, act, then });
        }
    }

    /// Lets wait again what waited when a log was kept.
    pub(crate) fn wait_again(&mut self, attempt: &Attempt) {
        self.bedside.hands.asked.clone_from(&attempt.asked);
        self.bedside.hands.waiting.clone_from(&attempt.waits);
    }

    fn note_asked(&mut self, asked: Asked) {
        let log = &mut self.bedside.hands.asked;
        if log.len() < MOST_KEPT {
            log.push(asked);
        }
    }
}

fn refused(reason: &NotOpen) -> Then {
    Then::Refused(Note { text: reason.to_string() })
}
