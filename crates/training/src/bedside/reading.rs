//! What can be read off a session as it is now.

use tidewright::machine::{Machine, Signal};
use tidewright::quantity::Seconds;
use tidewright::run::{Change, Protocol};
use tidewright::setup::Ventilator;
use tidewright::step::StepError;
use tidewright_scenario::Scenario;
use tidewright_scenario::format::{Asked, Question, TimedAct, Training};

use super::{Bedside, End, Seen};
use crate::bedside::meter::{Row, Totals};
use crate::case::draw::Drawn;
use crate::case::world::World;

impl Bedside {
    /// Until when hands are busy with an act that takes time, s.
    #[must_use]
    pub fn busy_until_s(&self) -> Option<f64> {
        self.state.world.busy.map(|busy| busy.until_s)
    }

    /// The scenario.
    #[must_use]
    pub fn scenario(&self) -> &Scenario {
        &self.lesson.scenario
    }

    /// Its training block.
    #[must_use]
    pub fn training(&self) -> &Training {
        self.lesson.scenario.training.as_ref().expect("a session begins only with a lesson")
    }

    /// The questions that have no answer yet.
    pub fn open_questions(&self) -> impl Iterator<Item = &Question> {
        self.training().questions.iter().filter(|one| !self.has_answered(&one.id))
    }

    /// The case that was drawn: not for the student's eyes.
    #[must_use]
    pub fn drawn(&self) -> Option<&Drawn> {
        self.case.drawn.as_ref()
    }

    /// Whether the case that was drawn has begun; so it is where there is none.
    pub(crate) fn case_has_begun(&self) -> bool {
        self.case.drawn.as_ref().is_none_or(|drawn| drawn.onset_s <= self.now_s())
    }

    /// The seed.
    #[must_use]
    pub fn seed(&self) -> u32 {
        self.lesson.seed
    }

    /// Time since the start, s.
    #[must_use]
    pub fn now_s(&self) -> f64 {
        self.state.live.now().as_s()
    }

    /// Why it is over, if it is.
    #[must_use]
    pub fn ended(&self) -> Option<End> {
        self.state.ended
    }

    /// The machine as it is now.
    #[must_use]
    pub fn machine(&self) -> &Machine {
        self.state.live.machine()
    }

    /// The ventilator as its controls stand, whatever comes of it.
    #[must_use]
    pub fn set(&self) -> Ventilator {
        let mut ventilator = self.base().ventilator;
        self.state.world.controls.turn(&mut ventilator);
        ventilator
    }

    /// What hands have done.
    #[must_use]
    pub fn world(&self) -> &World {
        &self.state.world
    }

    /// The breaths so far.
    #[must_use]
    pub fn rows(&self) -> &[Row] {
        &self.log.rows
    }

    /// Extremes and integrals so far.
    #[must_use]
    pub fn totals(&self) -> &Totals {
        &self.state.meter.totals
    }

    /// Highest pressure on the gauge in the breath under way, cmH2O.
    #[must_use]
    pub fn shown_so_far_cmh2o(&self) -> f64 {
        self.state.meter.shown_so_far()
    }

    /// Longest time without a breath so far, s.
    #[must_use]
    pub fn longest_apnoea_s(&self) -> f64 {
        self.state.longest_apnoea_s.max(self.now_s() - self.state.last_breath_s)
    }

    /// What was done so far.
    #[must_use]
    pub fn acts(&self) -> &[TimedAct] {
        &self.log.acts
    }

    /// What was asked for so far and not done at once, as it came out.
    #[must_use]
    pub fn asked(&self) -> &[Asked] {
        &self.hands.asked
    }

    /// The acts that wait until hands are free, each with when it was asked for.
    #[must_use]
    pub fn waiting(&self) -> &[TimedAct] {
        &self.hands.waiting
    }

    /// What was seen, heard, read or told so far.
    #[must_use]
    pub fn seen(&self) -> &[Seen] {
        &self.log.seen
    }

    /// The session so far as an ordinary run, for figures and tables; without the
    /// breaths that the patient drew by itself, for which see [`Bedside::stretches`].
    #[must_use]
    pub fn protocol(&self) -> Protocol {
        let duration = Seconds::s(self.now_s());
        let mut changes: Vec<Change> = Vec::with_capacity(self.log.setups.len());
        for change in &self.log.setups {
            // Of several at one time the last holds.
            if changes.last().is_some_and(|before| before.at == change.at) {
                changes.pop();
            }
            changes.push(change.clone());
        }
        Protocol { start: self.lesson.start.clone(), changes, duration }
    }

    /// The pressure that the ventilator's gauge shows now, cmH2O.
    ///
    /// # Errors
    /// [`StepError`]: a run that cannot go on.
    pub fn gauge_cmh2o(&self) -> Result<f64, StepError> {
        match self.state.meter.latest() {
            Some(reading) => Ok(reading.pressure.as_cmh2o()),
            None => self.reading(Signal::SensedPressure),
        }
    }

    /// A signal as it truly is now.
    ///
    /// # Errors
    /// [`StepError`]: a run that cannot go on.
    pub fn reading(&self, signal: Signal) -> Result<f64, StepError> {
        self.state.live.read(signal)
    }
}
