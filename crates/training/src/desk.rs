//! What every screen shares: a session, what was typed and told at it, the curves of the
//! last seconds. A terminal and a page differ only in how they draw a [`View`].
//!
//! ```
//! use std::sync::Arc;
//! use tidewright_training::Session;
//! use tidewright_training::desk::{Desk, Reply};
//! let text = tidewright_shelf::lesson("juno")?.text;
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

mod hint;
mod lines;
mod reply;
mod says;
mod shown;
mod taken_up;
mod traces;
pub(crate) mod typed;
pub mod view;

pub use lines::{TIME_WORDS, beginning, next_breath, told_since, waited};
pub use reply::{Refusal, Reply, Why, heed};
pub use says::{
    came_of, ending, help, opening, patient, questions, short_help, status, to_predict,
};
pub use shown::{Asked, Told, View};
pub use traces::{POINTS_PER_S, Trace, Traces, WINDOW_S};

use crate::alarms::alarms;
use crate::session::{Session, SessionError};

/// The slowest and the fastest that a clock may run, times a watch's.
pub const SPEEDS: (f64, f64) = (0.1, 20.0);

/// How closely the end of a breath is looked for, s.
const LOOK_S: f64 = 0.05;

/// A session at a screen whose clock runs by itself.
#[derive(Clone, Debug)]
pub struct Desk {
    session: Session,
    traces: Traces,
    told: Vec<Told>,
    clock: Clock,
    speed: f64,
    /// How many breaths there were when only the next was to pass.
    until_next: Option<usize>,
    /// The alarms that sound.
    sounding: Vec<&'static str>,
    /// Alarms that began to sound and that no screen has rung for yet.
    rings: bool,
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
        Self {
            session,
            traces,
            told,
            clock: Clock::NotStarted,
            speed: 1.0,
            until_next: None,
            sounding: Vec::new(),
            rings: false,
        }
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

    /// How many times faster than a watch the clock runs.
    #[must_use]
    pub fn speed(&self) -> f64 {
        self.speed
    }

    /// Sets how fast the clock runs, times a watch, within [`SPEEDS`].
    pub fn set_speed(&mut self, speed: f64) {
        if speed.is_finite() {
            self.speed = speed.clamp(SPEEDS.0, SPEEDS.1);
        }
    }

    /// Whether an alarm has begun to sound since this was asked last: for a bell.
    pub fn rings(&mut self) -> bool {
        std::mem::take(&mut self.rings)
    }

    /// Starts the clock, or lets it go on.
    pub fn start(&mut self) {
        if self.session.ended().is_none() {
            self.clock = Clock::Running;
        }
    }

    /// Stops the clock, if it was ever started.
    pub fn pause(&mut self) {
        if self.is_started() {
            self.clock = Clock::Paused;
        }
    }

    /// Carries out a typed line; an empty one stops the clock or lets it go on.
    pub fn enter(&mut self, line: &str) -> Reply {
        if self.session.ended().is_some() {
            return Reply::End;
        }
        let at_s = self.session.now_s();
        if let Some(says) = self.turned(line) {
            self.told.push(Told { at_s, says: says.clone() });
            return Reply::Told { says };
        }
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
            Reply::Done { says } | Reply::Waits { says, .. } => {
                let says = format!("{at_s:.0} s {line}: {says}");
                self.told.push(Told { at_s, says });
            }
            reply => {
                self.told.extend(reply.says().map(|says| Told { at_s, says: says.to_owned() }))
            }
        }
        reply
    }

    /// Turns the clock, where a line asks for that; and what is told of it.
    fn turned(&mut self, line: &str) -> Option<String> {
        let runs = |desk: &Self| format!("The clock runs {} times as fast as a watch.", desk.speed);
        Some(match &*line.trim().to_ascii_lowercase() {
            "slower" => {
                self.set_speed(0.5 * self.speed);
                runs(self)
            }
            "faster" => {
                self.set_speed(2.0 * self.speed);
                runs(self)
            }
            "pause" => {
                self.pause();
                "Paused.".to_owned()
            }
            "go" => {
                self.start();
                "The clock runs.".to_owned()
            }
            "breath" => {
                self.until_next = Some(self.breaths());
                self.start();
                "One breath.".to_owned()
            }
            _ => return None,
        })
    }

    fn breaths(&self) -> usize {
        // In standby the patient's own breaths are all there are.
        let own = self.session.gas_breaths().iter().filter(|breath| breath.own).count();
        self.session.rows().len() + own
    }

    /// Lets time pass, s of a watch, if the clock runs; it stops for a prediction and at
    /// the end, and after a breath where only one was to pass.
    ///
    /// # Errors
    /// [`SessionError`]: a run that cannot go on.
    pub fn pass(&mut self, passed_s: f64) -> Result<(), SessionError> {
        if !self.is_running() {
            return Ok(());
        }
        let before = self.session.seen().len();
        let asked = self.session.asked().len();
        let until_s = self.session.now_s() + self.speed * passed_s;
        self.go_until(until_s)?;
        let now_s = self.session.now_s();
        self.traces.forget_before(now_s - WINDOW_S);
        for one in &self.session.asked()[asked..] {
            self.told.push(Told { at_s: now_s, says: came_of(one) });
        }
        self.sound(now_s);
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

    fn go_until(&mut self, until_s: f64) -> Result<(), SessionError> {
        let traces = &mut self.traces;
        let Some(breaths) = self.until_next else {
            return self.session.advance(until_s, &mut |passing| traces.take(passing));
        };
        let mut now_s = self.session.now_s();
        while now_s < until_s {
            let next_s = (now_s + LOOK_S).min(until_s);
            let traces = &mut self.traces;
            self.session.advance(next_s, &mut |passing| traces.take(passing))?;
            if self.breaths() > breaths {
                self.until_next = None;
                self.clock = Clock::Paused;
                break;
            }
            if self.session.now_s() < next_s {
                break;
            }
            now_s = next_s;
        }
        Ok(())
    }

    /// Tells which alarms begin and which cease to sound.
    fn sound(&mut self, at_s: f64) {
        let all = alarms(&self.session);
        for alarm in &all {
            let sounded = self.sounding.contains(&alarm.name);
            if alarm.sounds.is_some() && !sounded {
                self.told.push(Told { at_s, says: format!("{at_s:.0} s {}.", alarm.in_words()) });
                self.rings = true;
            } else if alarm.sounds.is_none() && sounded {
                let says = format!("{at_s:.0} s alarm {}: within its limit again.", alarm.name);
                self.told.push(Told { at_s, says });
            }
        }
        let sounds = all.iter().filter(|alarm| alarm.sounds.is_some());
        self.sounding = sounds.map(|alarm| alarm.name).collect();
    }

    /// Everything that a screen shows now.
    #[must_use]
    pub fn view(&self) -> View<'_> {
        View::of(self)
    }
}
