//! Everything that a screen shows, as plain data.

use serde::Serialize;
use tidewright_scenario::format::Prediction;
use tidewright_scenario::report::BANNER;

use super::Desk;
use super::says::{ending, opening, patient};
use super::traces::{Trace, WINDOW_S};
use crate::alarms::{Alarm, alarms};
use crate::desk::view::{self, Shown};
use crate::session::{End, Session};
use crate::words::text::said_act;

/// Something that was told at the desk.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Told {
    /// When, s.
    pub at_s: f64,
    /// What.
    pub says: String,
}

impl Told {
    pub(super) fn now(session: &Session, says: String) -> Self {
        Self { at_s: session.now_s(), says }
    }
}

/// A prediction that must be made before the clock goes on.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Asked {
    /// Its name.
    pub id: String,
    /// What is asked.
    pub asks: String,
}

impl From<&Prediction> for Asked {
    fn from(asked: &Prediction) -> Self {
        Self { id: asked.id.to_string(), asks: asked.asks.clone() }
    }
}

/// Everything that a screen shows of a session. It holds nothing that the student may
/// not see.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct View<'a> {
    /// The general caution.
    pub caution: &'static str,
    /// The title of the lesson.
    pub title: &'a str,
    /// What is told before the clock starts.
    pub opening: String,
    /// Time since the start, s.
    pub now_s: f64,
    /// Time that the lesson takes at most, s.
    pub duration_s: f64,
    /// Whether the clock was ever started.
    pub started: bool,
    /// Whether time passes by itself.
    pub running: bool,
    /// Time that the curves show, s.
    pub window_s: f64,
    /// The curves.
    pub curves: Vec<&'a Trace>,
    /// The numbers of the monitor.
    pub numbers: Vec<Shown>,
    /// The controls as they stand.
    pub controls: Vec<Shown>,
    /// What was told, the newest last.
    pub told: &'a [Told],
    /// Whom it is about: name, kind and weight.
    pub patient: String,
    /// How many times faster than a watch the clock runs.
    pub speed: f64,
    /// The acts that wait until hands are free, the next first.
    pub waiting: Vec<String>,
    /// The alarms that are set.
    pub alarms: Vec<Alarm>,
    /// Until when hands are busy, s.
    pub busy_until_s: Option<f64>,
    /// The prediction that must be made before the clock goes on.
    pub waits_for: Option<Asked>,
    /// Why it is over, if it is.
    pub ended: Option<End>,
    /// The same in words.
    pub ending: Option<&'static str>,
}

impl<'a> View<'a> {
    pub(super) fn of(desk: &'a Desk) -> Self {
        let session = &desk.session;
        let scenario = session.scenario();
        Self {
            caution: BANNER,
            title: scenario.title.as_deref().unwrap_or(scenario.id.as_str()),
            opening: opening(session),
            now_s: session.now_s(),
            duration_s: scenario.duration_s,
            started: desk.is_started(),
            running: desk.is_running(),
            window_s: WINDOW_S,
            curves: desk.traces.iter().collect(),
            numbers: view::numbers(session).unwrap_or_default(),
            controls: view::controls(session),
            told: &desk.told,
            patient: patient(session),
            speed: desk.speed,
            waiting: session.waiting().iter().map(|one| said_act(&one.act)).collect(),
            alarms: alarms(session),
            busy_until_s: session.busy_until_s(),
            waits_for: session.waits_for().map(Asked::from),
            ended: session.ended(),
            ending: session.ended().map(|_| ending(session)),
        }
    }
}
