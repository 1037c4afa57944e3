//! Acts as a log holds them: answers by the numbers of the file.

use tidewright_scenario::format::TimedAct;

use super::{NotOpen, Session};

impl Session {
    /// An act of this session as its log holds it.
    #[must_use]
    pub fn logged(&self, timed: &TimedAct) -> TimedAct {
        let act = self.lesson.orders.to_log(&timed.act);
        TimedAct { at_s: timed.at_s, act }
    }

    /// Does an act of a log.
    ///
    /// # Errors
    /// [`NotOpen`], as [`Session::act`].
    pub fn act_logged(&mut self, timed: &TimedAct) -> Result<(), NotOpen> {
        let act = self.lesson.orders.act_of_log(&timed.act);
        self.act(act)
    }
}
