//! A lesson under way: thin hands for a [`Desk`].

use std::sync::Arc;

use serde_json::{Value, json};
use tidewright::coupled::GasPoint;
use tidewright::run::Simulation;
use tidewright_figures::RunFigure;
use tidewright_scenario::format::{ActName, Attempt, Guidance, Id, Training};
use tidewright_scenario::report::BANNER;
use tidewright_scenario::{Scenario, parse_attempt};
use tidewright_training::command::{ALARMS, WORDS, pseudonym};
use tidewright_training::debrief::{Debrief, debrief};
use tidewright_training::desk::{Desk, WINDOW_S, status};
use tidewright_training::review::{Past, Step, plan};
use tidewright_training::{Scene, Session, page, replay_watched};

use crate::exam::Sat;
use crate::texts::Which;
use crate::wrong::Wrong;

/// What came of letting time pass.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Passed {
    /// The clock stands.
    Nothing,
    /// Time.
    Time,
    /// Something was told.
    Told,
    /// It stopped by itself: for a prediction, at the end, or as it cannot go on.
    Stopped,
}

/// Longest wait for the end of a breath, s, and how closely it is looked for, s.
const LONGEST_BREATH_S: f64 = 60.0;
const LOOK_S: f64 = 0.05;

/// A lesson under way.
#[derive(Debug)]
pub struct Practice {
    scenario: Arc<Scenario>,
    desk: Desk,
    pseudonym: Id,
    /// What an exam keeps; nothing where it is practice.
    exam: Option<Sat>,
    /// Why it cannot go on, if it cannot.
    failed: Option<String>,
}

impl Practice {
    /// Begins a lesson, or takes it up from its log; the log of a hand that was dealt
    /// is one in which nothing is done yet.
    pub fn begin(
        lesson: &Which,
        seed: u32,
        name: Option<&str>,
        log: Option<&str>,
    ) -> Result<Self, Wrong> {
        let scenario = lesson.lesson()?;
        let (desk, pseudonym) = match log {
            Some(log) => {
                let attempt = parse_attempt("attempt.ron", log)?;
                let desk = Desk::taken_up(&scenario, &attempt);
                let mend = "take the lesson that the log is of";
                (desk.map_err(|error| Wrong::told(error, mend))?, attempt.pseudonym)
            }
            None => {
                let wrong = |error| Wrong::told(error, "choose another");
                let name = pseudonym(name.unwrap_or("student")).map_err(wrong)?;
                let session = Session::new(Arc::clone(&scenario), seed);
                let session = session.map_err(|error| Wrong::told(error, "check the lesson"))?;
                (Desk::new(session), name)
            }
        };
        Ok(Self::of(scenario, desk, pseudonym, None))
    }

    pub(crate) fn of(
        scenario: Arc<Scenario>,
        desk: Desk,
        pseudonym: Id,
        exam: Option<Sat>,
    ) -> Self {
        Self { scenario, desk, pseudonym, exam, failed: None }
    }

    /// Starts the clock, or lets it go on.
    pub fn go(&mut self) {
        if self.failed.is_none() {
            self.desk.start();
        }
    }

    /// Stops the clock.
    pub fn pause(&mut self) {
        self.desk.pause();
    }

    /// Lets the clock run so many times as fast as a watch, as far as it can.
    pub fn run_at(&mut self, times: f64) {
        self.desk.set_speed(times);
    }

    pub fn pass(&mut self, passed_s: f64) -> Passed {
        if !self.desk.is_running() || self.failed.is_some() {
            return Passed::Nothing;
        }
        let before = self.desk.told().len();
        if let Err(error) = self.desk.pass(passed_s) {
            self.failed = Some(error.to_string());
            return Passed::Stopped;
        }
        match self.desk.is_running() {
            false => Passed::Stopped,
            true if self.desk.told().len() > before => Passed::Told,
            true => Passed::Time,
        }
    }

    /// Lets time pass to the end of the next breath; the clock goes on only for that.
    pub fn next_breath(&mut self) {
        let count = |session: &Session| {
            let own = session.gas_breaths().iter().filter(|breath| breath.own).count();
            session.rows().len() + own
        };
        self.go();
        let breaths = count(self.desk.session());
        let most_s = self.desk.session().now_s() + LONGEST_BREATH_S;
        while self.desk.session().now_s() < most_s
            && count(self.desk.session()) == breaths
            && !matches!(self.pass(LOOK_S / self.desk.speed()), Passed::Nothing | Passed::Stopped)
        {
        }
        self.pause();
    }

    /// Carries out a typed line.
    pub fn enter(&mut self, line: &str) -> Value {
        // An empty line is the terminal's way to stop the clock: a page has a button.
        if line.trim().is_empty() {
            return json!({"reply": "nothing"});
        }
        json!(self.desk.enter(line))
    }

    pub fn points(&self, into: &mut Vec<f64>) {
        let curves = self.desk.traces().iter().count();
        into.extend([self.desk.session().now_s(), WINDOW_S, curves as f64]);
        for curve in self.desk.traces().iter() {
            into.push(curve.points.len() as f64);
            into.extend(curve.points.iter().flat_map(|&(t, value)| [t, value]));
        }
    }

    /// What never changes in a lesson: its acts, questions and predictions.
    pub fn lesson(&self) -> Value {
        let session = self.desk.session();
        let training = session.training();
        let id = self.scenario.id.as_str();
        json!({
            "id": id,
            "title": self.scenario.title.as_deref().unwrap_or(id),
            "seed": session.seed(),
            "exam": self.exam.as_ref().map(|sat| sat.number),
            "hints": training.guidance != Guidance::None,
            "alarms": ALARMS.iter()
                .map(|(_, word, unit, above)| json!({"word": word, "unit": unit, "above": above}))
                .collect::<Vec<_>>(),
            "acts": acts(training),
            "predictions": training.predictions.iter()
                .map(|one| json!({"id": one.id, "asks": one.asks})).collect::<Vec<_>>(),
            "curves": self.desk.traces().iter().map(|curve| curve.name).collect::<Vec<_>>(),
            "view": self.view(),
        })
    }

    /// What a screen shows now, but for the curves, which pass as plain numbers.
    pub fn view(&self) -> Value {
        let session = self.desk.session();
        let mut view = self.desk.view();
        view.curves.clear();
        let asked = session
            .open_questions()
            .map(|one| json!({"id": one.id, "asks": one.asks, "answers": one.answers}));
        json!({
            "view": view,
            "questions": asked.collect::<Vec<_>>(),
            "status": status(session),
            "failed": self.failed,
        })
    }

    fn attempt(&mut self) -> Attempt {
        let session = self.desk.session();
        let log = session.attempt(self.pseudonym.clone());
        match &mut self.exam {
            Some(exam) => exam.chained(session, log),
            None => log,
        }
    }

    /// The log so far: what a page keeps, and what is handed in.
    pub fn log(&mut self) -> Value {
        let attempt = self.attempt();
        let name = match &attempt.exam {
            Some(_) => attempt.scenario.to_string(),
            None => {
                let word = tidewright_shelf::shown(attempt.scenario.as_str());
                format!("{word}-{}", attempt.seed)
            }
        };
        json!({
            "log": attempt.to_json(),
            "record": format!("// {BANNER}\n{}", attempt.to_ron()),
            "file": format!("{name}.attempt.ron"),
        })
    }

    /// The debrief of the session so far.
    pub fn debrief(&mut self) -> Result<Value, Wrong> {
        if self.exam.is_some() {
            return Err(Wrong::told(
                "this is an exam: your teacher marks it",
                "save the record, and hand it in as it is",
            ));
        }
        let attempt = self.attempt();
        marked(&self.scenario, &attempt, None)
    }
}

/// An attempt marked and explained: as data, and as the page that the program writes.
pub fn marked(
    scenario: &Arc<Scenario>,
    attempt: &Attempt,
    pass_percent: Option<f64>,
) -> Result<Value, Wrong> {
    let mismatch = |error| Wrong::told(error, "mark an attempt with the lesson it was made with");
    let debrief = debrief(scenario, attempt, pass_percent).map_err(mismatch)?;
    let mut gas = Vec::new();
    let session = replay_watched(scenario, attempt, &mut |passing| {
        gas.extend_from_slice(passing.gas);
    });
    let svg = scene(&session.map_err(mismatch)?, &gas, &debrief)?;
    Ok(json!({
        "passed": debrief.marking.passed,
        "points": debrief.marking.points,
        "points_of": debrief.marking.points_of,
        "missed": debrief.marking.missed(),
        "title": debrief.title,
        "json": debrief.to_json(),
        "page": page(&debrief, &svg),
        "file": format!("{}-{}.html", attempt.scenario, attempt.seed),
    }))
}

/// The figure of a session; nothing where it was too short to show anything.
fn scene(session: &Session, gas: &[GasPoint], debrief: &Debrief) -> Result<String, Wrong> {
    let Some(Scene { window_s, events }) = Scene::of(session, debrief) else {
        return Ok(String::new());
    };
    const CHECK: &str = "check the lesson";
    let wrong = |error: String| Wrong::told(error, CHECK);
    let simulation = Simulation::new(&session.protocol()).map_err(|e| wrong(e.to_string()))?;
    let mut figure = RunFigure::of(window_s);
    for stretch in session.stretches(&simulation) {
        figure.take(&stretch.map_err(|e| wrong(e.to_string()))?, &[]);
    }
    figure.take_gas(gas);
    let figure = figure.draw_session(session.scenario(), events);
    Ok(figure.map_err(|e| wrong(e.to_string()))?.to_svg())
}

/// The acts that a lesson offers, with the words that they are typed with.
fn acts(training: &Training) -> Vec<Value> {
    let offered = WORDS.iter().filter(|(name, ..)| {
        training.offers.contains(name) && !matches!(name, ActName::Answer | ActName::Predict)
    });
    let offered = offered
        .map(|(_, word, after, meaning)| json!({"word": word, "after": after, "meaning": meaning}));
    offered.collect()
}

/// What to do next: what was tried before and when it is due, and the new lesson that
/// comes next; days counted from any day.
pub fn next(past: Vec<(String, u32, bool)>, today: u32) -> Value {
    let steps = tidewright_shelf::LESSONS.iter().map(|lesson| Step {
        scenario: lesson.id.to_owned(),
        needs: lesson.needs.iter().map(|&id| id.to_owned()).collect(),
    });
    let past = past.into_iter().map(|(scenario, day, passed)| Past { scenario, day, passed });
    json!(plan(&steps.collect::<Vec<_>>(), &past.collect::<Vec<_>>(), today))
}
