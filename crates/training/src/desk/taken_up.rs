//! A session taken up again from its log, after a page was closed or a machine failed.

use std::sync::Arc;

use tidewright_scenario::Scenario;
use tidewright_scenario::format::Attempt;

use super::shown::Told;
use super::{Clock, Desk, WINDOW_S};
use crate::session::Session;
use crate::session::replay::{ReplayError, log_fits};

impl Desk {
    /// The desk as it was when the log was kept, its clock standing. What comes then is
    /// the same to the bit as if the session had never been left.
    ///
    /// # Errors
    /// [`ReplayError`]: a log of another scenario or version, or that cannot be played.
    ///
    /// ```
    /// use std::sync::Arc;
    /// use tidewright_training::desk::Desk;
    /// use tidewright_training::{Session, command};
    /// let text = tidewright_shelf::lesson("juno")?.text;
    /// let scenario = Arc::new(tidewright_scenario::parse("juno.ron", text)?);
    /// let mut desk = Desk::new(Session::new(Arc::clone(&scenario), 7)?);
    /// desk.start();
    /// desk.pass(21.7)?;
    /// let log = desk.session().attempt(command::pseudonym("heron-12")?);
    /// let mut again = Desk::taken_up(&scenario, &log)?;
    /// again.start();
    /// desk.pass(9.1)?;
    /// again.pass(9.1)?;
    /// assert_eq!(desk.traces(), again.traces());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn taken_up(scenario: &Arc<Scenario>, attempt: &Attempt) -> Result<Self, ReplayError> {
        log_fits(scenario, attempt)?;
        let mut desk = Self::new(Session::dealt(scenario, attempt.seed, attempt.dealt.clone())?);
        let traces = &mut desk.traces;
        desk.session = Session::resume_watched(scenario, attempt, &mut |passing| {
            traces.take(passing);
            traces.forget_before(passing.stretch.piece.end_s() - WINDOW_S);
        })?;
        let seen = desk.session.seen().iter();
        desk.told.extend(
            seen.map(|one| Told {
                at_s: one.at_s,
                says: format!("{:.0} s {}", one.at_s, one.text),
            }),
        );
        if attempt.ended_at_s > 0.0 || !attempt.acts.is_empty() {
            desk.clock = Clock::Paused;
        }
        Ok(desk)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::words::command::pseudonym;

    /// Cut at any moments, a session goes on as if never cut.
    #[test]
    fn law_a_session_taken_up_at_any_moments_goes_on_to_the_same_bits() {
        let mut waited = 0;
        for lesson in [
            tidewright_shelf::lesson("juno").expect("a lesson").text,
            tidewright_shelf::lesson("rowan").expect("a lesson").text,
        ] {
            let scenario = tidewright_scenario::parse("a.ron", lesson).expect("a lesson");
            let scenario = Arc::new(scenario);
            let id = || pseudonym("heron-12").expect("a pseudonym");
            let mut whole = Desk::new(Session::new(Arc::clone(&scenario), 5).expect("a session"));
            let mut cut = whole.clone();
            whole.start();
            cut.start();
            for step in 1..=40 {
                let passed_s = 0.37 + 0.29 * f64::from(step % 7);
                whole.pass(passed_s).expect("a run");
                cut.pass(passed_s).expect("a run");
                if step % 9 == 0 {
                    // The second waits until hands are free.
                    for line in [if step % 2 == 0 { "listen" } else { "occlude" }, "look"] {
                        assert_eq!(cut.enter(line), whole.enter(line));
                    }
                    waited += cut.session.waiting().len();
                }
                if step % 3 == 0 {
                    cut = Desk::taken_up(&scenario, &cut.session.attempt(id())).expect("a log");
                    cut.start();
                }
            }
            assert!(whole.session.now_s() > 40.0);
            assert_eq!(cut.session.attempt(id()), whole.session.attempt(id()));
            assert_eq!(cut.session.rows(), whole.session.rows());
            // A capnogram has a point more wherever somebody looked.
            let curves = |desk: &Desk| {
                let even = desk.traces.iter().filter(|one| !one.name.starts_with("carbon"));
                even.cloned().collect::<Vec<_>>()
            };
            assert_eq!(curves(&cut), curves(&whole));
        }
        assert!(waited > 0);
    }
}
