//! What every screen shares: a session, what was typed and told at it, the curves of the
//! last seconds. A terminal and a page differ only in how they draw a [`View`].
//!
//! ```
//! use std::sync::Arc;
//! use tidewright_training::Session;
//! use tidewright_training::desk::{Desk, Reply};
//! let text = include_str!("../../../scenarios/training/juno-the-loose-joint.ron");
//! let scenario = Arc::new(tidewright_scenario::parse("juno.ron", text)?);
//! let mut desk = Desk::new(Session::new(scenario, 7)?);
//! desk.start();
//! desk.pass(2.0)?;
//! assert!(matches!(desk.enter("listen"), Reply::Done { .. }));
//! assert!(matches!(desk.enter("flow 5000"), Reply::Refused(_)));
//! let view = serde_json::to_value(desk.view())?;
//! assert_eq!(view["now_s"], 2.0);
//! assert!(view["curves"][0]["points"].as_array().is_some_and(|points| points.len() > 40));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod lines;
mod reply;
mod says;
mod shown;
mod taken_up;
mod traces;

pub use lines::{TIME_WORDS, beginning, next_breath, told_since, waited};
pub use reply::{Refusal, Reply, Why, heed};
pub use says::{ending, help, opening, questions, short_help, status, to_predict};
pub use shown::{Asked, Told, View};
pub use traces::{POINTS_PER_S, Trace, Traces, WINDOW_S};

use crate::session::{Session, SessionError};

/// A session at a screen whose clock runs by itself.
#[derive(Clone, Debug)]
pub struct Desk {
    session: Session,
    traces: Traces,
    told: Vec<Told>,
    clock: Clock,
}

/// Whether time passes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Clock {
    NotStarted,
    Paused,
    Running,
}

impl Desk {
    /// A session about to begin.
    #[must_use]
    pub fn new(session: Session) -> Self {
        let traces = Traces::of(&session);
        let told = vec![Told::now(&session, short_help(session.training()))];
        Self { session, traces, told, clock: Clock::NotStarted }
    }

    /// The session.
    #[must_use]
    pub fn session(&self) -> &Session {
        &self.session
    }

    /// The session, when it is left.
    #[must_use]
    pub fn into_session(self) -> Session {
        self.session
    }

    /// The curves of the last seconds.
    #[must_use]
    pub fn traces(&self) -> &Traces {
        &self.traces
    }

    /// What was told so far, and what was typed.
    #[must_use]
    pub fn told(&self) -> &[Told] {
        &self.told
    }

    /// Tells something that is not of the session itself.
    pub fn tell(&mut self, says: impl Into<String>) {
        self.told.push(Told::now(&self.session, says.into()));
    }

    /// Whether the clock was ever started.
    #[must_use]
    pub fn is_started(&self) -> bool {
        self.clock != Clock::NotStarted
    }

    /// Whether time passes by itself now.
    #[must_use]
    pub fn is_running(&self) -> bool {
        self.clock == Clock::Running
    }

    /// Starts the clock, or lets it go on.
    pub fn start(&mut self) {
        if self.session.ended().is_none() {
            self.clock = Clock::Running;
        }
    }

    /// Carries out a typed line; an empty one stops the clock or lets it go on.
    pub fn enter(&mut self, line: &str) -> Reply {
        if self.session.ended().is_some() {
            return Reply::End;
        }
        let at_s = self.session.now_s();
        let reply = match heed(&mut self.session, line) {
            // The list of acts has no room on a screen.
            Reply::Help { .. } => Reply::Help { says: short_help(self.session.training()) },
            Reply::Nothing => {
                let runs = self.clock != Clock::Running;
                self.clock = if runs { Clock::Running } else { Clock::Paused };
                Reply::Told { says: if runs { "The clock runs." } else { "Paused." }.to_owned() }
            }
            Reply::Wait { .. } => Reply::Told { says: "Here the clock runs by itself.".to_owned() },
            reply => reply,
        };
        match &reply {
            Reply::Done { says } => {
                let says = format!("{at_s:.0} s {line}: {says}");
                self.told.push(Told { at_s, says });
            }
            reply => {
                self.told.extend(reply.says().map(|says| Told { at_s, says: says.to_owned() }))
            }
        }
        reply
    }

    /// Lets time pass, s, if the clock runs; it stops for a prediction and at the end.
    ///
    /// # Errors
    /// [`SessionError`]: a run that cannot go on.
    pub fn pass(&mut self, passed_s: f64) -> Result<(), SessionError> {
        if !self.is_running() {
            return Ok(());
        }
        let before = self.session.seen().len();
        let until_s = self.session.now_s() + passed_s;
        let traces = &mut self.traces;
        self.session.advance(until_s, &mut |passing| traces.take(passing))?;
        let now_s = self.session.now_s();
        self.traces.forget_before(now_s - WINDOW_S);
        for seen in &self.session.seen()[before..] {
            let says = format!("{:.0} s {}", seen.at_s, seen.text);
            self.told.push(Told { at_s: seen.at_s, says });
        }
        if let Some(asked) = self.session.waits_for() {
            let says = to_predict(asked);
            self.told.push(Told { at_s: now_s, says });
            self.clock = Clock::Paused;
        }
        if self.session.ended().is_some() {
            let says = format!("{} Press Enter for your debrief.", ending(&self.session));
            self.told.push(Told { at_s: now_s, says });
            self.clock = Clock::Paused;
        }
        Ok(())
    }

    /// Everything that a screen shows now.
    #[must_use]
    pub fn view(&self) -> View<'_> {
        View::of(self)
    }
}
