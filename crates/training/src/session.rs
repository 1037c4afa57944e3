//! A session: one student, one scenario, one seed, one clock that only the
//! caller moves. It knows no screen, no file and no time of day.

use std::sync::Arc;

use serde::Serialize;
use tidewright::fault::{Fault, TimedFault};
use tidewright::machine::Machine;
use tidewright::run::{self, Protocol};
use tidewright::setup::Setup;
use tidewright::step::Moment;
use tidewright_scenario::Scenario;
use tidewright_scenario::format::{
    Act, ActName, Attempt, Dealt, Id, Prediction, TimedAct, Training,
};

mod clock;
mod course;
mod dealt;
mod end;
mod error;
mod gas;
mod reading;

pub use clock::Passing;
use course::ready;
pub use error::{NotOpen, SessionError};
pub(crate) use gas::GasCourse;
pub use gas::{HAND_OVER_ARREST_S, HAND_OVER_SATURATION, OwnEffort};

use crate::draw::Drawn;
use crate::limits::alveolar_limits;
use crate::meter::{Meter, Row};
use crate::observe;
use crate::world::{Busy, On, World, busy_for};

/// Alveolar pressure at which a session is handed to the surgeon, cmH2O: no
/// lesson goes on until an animal dies (common practice, no source).
pub const HAND_OVER_CMH2O: f64 = 50.0;
/// Time without a breath at which a session is handed to the surgeon, s
/// (common practice, no source).
pub const HAND_OVER_APNOEA_S: f64 = 180.0;
/// Smallest breath that counts, mL/kg (common practice, no source).
pub const SMALLEST_BREATH_ML_KG: f64 = 2.0;
/// Time that the surgeon needs to put right what only a surgeon can, s
/// (common practice, no source).
pub const SURGEON_TAKES_S: f64 = 30.0;

/// A session under way. Cloning it is saving it.
#[derive(Clone, Debug)]
pub struct Session {
    scenario: Arc<Scenario>,
    protocol: Arc<Protocol>,
    seed: u32,
    /// What a class was dealt; the scenario is already so.
    dealt: Option<Dealt>,
    drawn: Option<Drawn>,
    /// The stages of the drawn case.
    faults: Vec<TimedFault>,
    /// Every fault of the pool: what any of them needs is there from the start, so
    /// that the machine does not tell which was drawn.
    possible: Vec<Fault>,
    world: World,
    start: Setup,
    machine: Machine,
    moment: Moment,
    /// Carbon dioxide, oxygen and own breaths, where the scenario follows them.
    gas: Option<GasCourse>,
    /// Every machine so far, from its time on.
    setups: Vec<run::Change>,
    meter: Meter,
    rows: Vec<Row>,
    acts: Vec<TimedAct>,
    seen: Vec<Seen>,
    last_breath_s: f64,
    longest_apnoea_s: f64,
    ended: Option<End>,
    /// The session before the clock cut a step short: see [`Session::advance`].
    step_began: Option<Box<Session>>,
}

/// Something that was seen, heard, read or told.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Seen {
    /// When, s.
    pub at_s: f64,
    /// What.
    pub text: String,
}

/// Why a session is over.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum End {
    /// The scenario's time is over.
    Time,
    /// The lungs were in danger: the surgeon has taken over.
    HandedOverForPressure,
    /// The patient did not breathe for too long: the surgeon has taken over.
    HandedOverForApnoea,
    /// The blood had too little oxygen for too long: the surgeon has taken over.
    HandedOverForSaturation,
    /// The heart did not pump for too long: the surgeon has taken over.
    HandedOverForCirculation,
}

impl Session {
    /// Begins a session.
    ///
    /// # Errors
    /// [`SessionError`]: no lesson, or a setup that cannot be run.
    pub fn new(scenario: Arc<Scenario>, seed: u32) -> Result<Self, SessionError> {
        Self::dealt(&scenario, seed, None)
    }

    /// Begins a session with a case of one's choice, or with none.
    ///
    /// # Errors
    /// As [`Session::new`].
    pub fn with_case(
        scenario: Arc<Scenario>,
        seed: u32,
        drawn: Option<Drawn>,
    ) -> Result<Self, SessionError> {
        let mut session = Self::built(scenario, seed, drawn)?;
        session.changes_due()?;
        Ok(session)
    }

    fn built(
        scenario: Arc<Scenario>,
        seed: u32,
        drawn: Option<Drawn>,
    ) -> Result<Self, SessionError> {
        let training = lesson(&scenario)?;
        let protocol = Arc::new(scenario.protocol());
        let world = World { cuff_cmh2o: training.cuff_cmh2o, ..World::default() };
        let stages = training.pool.iter().flat_map(|case| &case.course);
        let possible: Vec<Fault> = stages.map(|stage| stage.is.to_core().0).collect();
        let start = ready(&protocol.start, &possible);
        let machine = Machine::new(start.clone())
            .map_err(|source| SessionError::Setup { at_s: 0.0, source })?;
        let moment = Moment::at_rest(&machine);
        let instruments = scenario.instruments.as_ref().map(|all| all.to_core());
        let meter = Meter::new(&alveolar_limits(training), instruments)?;
        let faults = drawn.as_ref().map(Drawn::faults).unwrap_or_default();
        let changes = drawn.as_ref().map(Drawn::changes).unwrap_or_default();
        Ok(Self {
            gas: GasCourse::new(&scenario, changes)?,
            scenario,
            protocol,
            seed,
            dealt: None,
            drawn,
            faults,
            possible,
            world,
            start,
            machine,
            moment,
            setups: Vec::new(),
            meter,
            rows: Vec::new(),
            acts: Vec::new(),
            seen: Vec::new(),
            last_breath_s: 0.0,
            longest_apnoea_s: 0.0,
            ended: None,
            step_began: None,
        })
    }

    /// The prediction that must be made before the clock goes on.
    #[must_use]
    pub fn waits_for(&self) -> Option<&Prediction> {
        let due = |one: &&Prediction| one.from_s <= self.now_s() && !self.has_guessed(&one.id);
        self.training().predictions.iter().filter(|one| one.to_s > self.now_s()).find(due)
    }

    /// Whether an act is open now.
    ///
    /// # Errors
    /// [`NotOpen`] says why it is not.
    pub fn open(&self, act: &Act) -> Result<(), NotOpen> {
        if self.ended.is_some() {
            return Err(NotOpen::Ended);
        }
        let training = self.training();
        match act {
            Act::Predict(guess) => {
                let known = training.predictions.iter().find(|one| one.id == guess.prediction);
                let known = known.ok_or_else(|| NotOpen::Unknown(guess.prediction.clone()))?;
                if self.has_guessed(&known.id) {
                    return Err(NotOpen::Again(known.id.clone()));
                }
                // At the reveal itself the clock stands still.
                if self.now_s() > known.from_s {
                    return Err(NotOpen::TooLate(known.id.clone()));
                }
                return Ok(());
            }
            Act::Answer(answer) => {
                let known = training.questions.iter().find(|one| one.id == answer.question);
                let known = known.ok_or_else(|| NotOpen::Unknown(answer.question.clone()))?;
                if self.has_answered(&known.id) {
                    return Err(NotOpen::Again(known.id.clone()));
                }
                if answer.choice as usize > known.answers.len() {
                    let (question, answers) = (known.id.clone(), known.answers.len());
                    return Err(NotOpen::NoSuchAnswer { question, answers });
                }
                return Ok(());
            }
            _ => {}
        }
        if !training.offers.contains(&act.name()) {
            return Err(NotOpen::NotOffered);
        }
        let talk = matches!(act.name(), ActName::CallSurgeon | ActName::Record);
        if let Some(busy) = self.world.busy.filter(|_| !talk) {
            return Err(NotOpen::Busy { until_s: busy.until_s });
        }
        let peep = self.machine.setup().ventilator.end_expiratory_pressure.as_cmh2o();
        if matches!(act, Act::CyclingPressure(new) if new.cmh2o <= peep) {
            return Err(NotOpen::BelowPeep(peep));
        }
        Ok(())
    }

    /// Until when hands are busy with an act that takes time, s.
    #[must_use]
    pub fn busy_until_s(&self) -> Option<f64> {
        self.world.busy.map(|busy| busy.until_s)
    }

    /// Does an act now.
    ///
    /// # Errors
    /// [`NotOpen`] says why it cannot be done; nothing has changed then.
    pub fn act(&mut self, act: Act) -> Result<(), NotOpen> {
        self.open(&act)?;
        let before = self.world.clone();
        let at_s = self.now_s();
        self.world.set(&act);
        match act.name() {
            ActName::Disconnect => self.world.on = On::Nothing,
            ActName::HandVentilate => self.world.on = On::Bag,
            ActName::Reconnect => self.world.on = On::Ventilator,
            _ => {}
        }
        if let Some((for_s, port_shut)) = busy_for(&act) {
            self.world.busy = Some(Busy { until_s: at_s + for_s, port_shut });
        }
        let text = observe::seen(self, &act);
        self.care_for(&act);
        if let Err(SessionError::Setup { source, .. }) = self.rebuild() {
            self.world = before;
            return Err(NotOpen::Setup(source));
        }
        self.step_began = None;
        self.seen.extend(text.map(|text| Seen { at_s, text }));
        self.acts.push(TimedAct { at_s, act });
        Ok(())
    }

    /// The log of this session so far.
    #[must_use]
    pub fn attempt(&self, pseudonym: Id) -> Attempt {
        Attempt {
            format: 1,
            scenario: self.scenario.id.clone(),
            seed: self.seed,
            engine: env!("CARGO_PKG_VERSION").to_owned(),
            pseudonym,
            dealt: self.dealt.clone(),
            ended_at_s: self.now_s(),
            acts: self.acts.clone(),
        }
    }

    fn has_guessed(&self, id: &Id) -> bool {
        self.acts.iter().any(|timed| matches!(&timed.act, Act::Predict(g) if g.prediction == *id))
    }

    fn has_answered(&self, id: &Id) -> bool {
        self.acts.iter().any(|timed| matches!(&timed.act, Act::Answer(a) if a.question == *id))
    }
}

fn lesson(scenario: &Scenario) -> Result<&Training, SessionError> {
    scenario.training.as_ref().ok_or_else(|| SessionError::NoLesson(scenario.id.clone()))
}
