//! A live run step by step, for who decides at the end of each what comes next.

use super::course::{Ahead, LONGEST_S};
use super::{Gone, LiveRun};
use crate::base::quantity::Seconds;
use crate::stepping::step::StepError;

impl LiveRun {
    /// Goes one step: to the end of a phase, to `stop`, or as far as one step of the
    /// numeric road carries. For who decides at the end of each step what comes next.
    ///
    /// A step that would end after `clock` is cut short there; `before_cut` is told
    /// the run before it, so that who looks again later can go the step anew.
    ///
    /// # Errors
    /// [`StepError`]: a run that cannot go on, and has not.
    pub fn step(
        &mut self,
        stop: Seconds,
        clock: Seconds,
        before_cut: impl FnOnce(&Self),
    ) -> Result<Gone<'_>, StepError> {
        if self.at.course.moment.at_s < self.at.now_s {
            let (course, mut ended) = self.cut()?;
            self.at.course = course;
            self.at.ended.append(&mut ended);
        }
        self.foreseen = None;
        let (now_s, clock_s) = (self.at.now_s, clock.as_s());
        let stop_s = if stop.as_s().is_finite() { stop.as_s() } else { now_s + LONGEST_S };
        let stop_s = self.at.course.prepare(stop_s);
        let mut step = self.at.course.look_ahead(&self.at.machine, stop_s);
        let ends_later = |step: &Ahead<'_>| clock_s < now_s + step.piece.duration_s;
        let was_cut = clock_s < stop_s && step.as_ref().map_or(true, ends_later);
        if was_cut {
            before_cut(self);
            step = self.at.course.look_ahead(&self.at.machine, clock_s);
        }
        let step = step?;
        self.at.now_s = step.end_s();
        self.at.told_s = self.at.now_s;
        let (stretch, gas) = self.at.course.go(step);
        Ok(Gone { stretch, gas, was_cut })
    }
}
