//! A session: one student, one scenario, one seed, one clock that only the
//! caller moves. It knows no screen, no file and no time of day.

use std::sync::Arc;

use tidewright::fault::Fault;
use tidewright::live::LiveRun;
use tidewright::machine::Machine;
use tidewright::setup;
use tidewright::step::Place;
use tidewright_scenario::Scenario;
use tidewright_scenario::format::{
    Act, ActName, Attempt, Begun, Dealt, Id, Prediction, TimedAct, Training,
};

mod asked;
mod clock;
mod course;
mod dealt;
mod end;
mod error;
mod logged;
pub(crate) mod replay;

pub use asked::{Came, MOST_WAITING};
pub use clock::Passing;
use course::ready;
pub use error::{NotOpen, SessionError};

use crate::alarms;
pub(crate) use crate::bedside::End;
use crate::bedside::limits::alveolar_limits;
use crate::bedside::meter::Meter;
use crate::bedside::{
    Bedside, DrawnCase, GasBase, GasState, Hands, Lesson, Log, LogLength, Seen, State,
};
use crate::case::choices::Orders;
use crate::case::draw::Drawn;
use crate::case::table::Table;
use crate::case::tube::Handling;
use crate::case::world::{Busy, On, World, busy_for};
use crate::observe;
use crate::words::unbegun::begun;

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

/// A session under way. Cloning it is saving it; [`Session::save`] is quicker, and costs
/// the same after an hour as after a second.
///
/// All that can be read off it is its [`Bedside`].
#[derive(Clone, Debug)]
pub struct Session {
    bedside: Bedside,
    /// What it was before the clock cut a step short: see [`Session::advance`].
    step_began: Option<Box<Began>>,
}

/// A session at one moment, to go back to.
#[derive(Clone, Debug)]
pub struct Saved {
    now: Began,
    hands: Hands,
    step_began: Option<Box<Began>>,
}

/// What a session was, and how much was noted of it.
#[derive(Clone, Debug)]
struct Began {
    state: State,
    length: LogLength,
}

impl std::ops::Deref for Session {
    type Target = Bedside;

    fn deref(&self) -> &Bedside {
        &self.bedside
    }
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
        let mut session = Self::built(scenario, seed, None, drawn, Orders::default())?;
        session.changes_due()?;
        Ok(session)
    }

    fn built(
        scenario: Arc<Scenario>,
        seed: u32,
        dealt: Option<Dealt>,
        drawn: Option<Drawn>,
        orders: Orders,
    ) -> Result<Self, SessionError> {
        let training = lesson(&scenario)?;
        let protocol = scenario.protocol();
        let tube = Handling::of(training);
        let table = Table::of(training, drawn.as_ref(), &protocol.start);
        let off = table.as_ref().is_some_and(Table::patient_is_off);
        let on = if off { On::Nothing } else { On::Ventilator };
        let cuff_cmh2o = training.cuff_cmh2o;
        let world = World { cuff_cmh2o, tube, on, table, ..World::default() };
        let stages = training.pool.iter().flat_map(|case| &case.course);
        let possible: Vec<Fault> = stages.map(|stage| stage.is.to_core().0).collect();
        let start = ready(&protocol.start, &possible);
        let start = world.table.as_ref().map_or_else(|| start.clone(), |table| table.setup(&start));
        let machine = Machine::new(start.clone())
            .map_err(|source| SessionError::Setup { at_s: 0.0, source })?;
        let machine = Arc::new(machine);
        let gas = GasBase::of(&scenario, world.table.as_ref())?;
        let live = match &gas {
            Some(gas) => gas.begin(machine)?,
            None => LiveRun::of(machine),
        };
        let instruments = scenario.instruments.as_ref().map(|all| all.to_core());
        let state = State {
            live,
            world,
            gas: gas.as_ref().map(|_| GasState::new(&scenario)),
            meter: Meter::new(&alveolar_limits(training), instruments)?,
            last_breath_s: 0.0,
            longest_apnoea_s: 0.0,
            ended: None,
        };
        let case = DrawnCase {
            faults: drawn.as_ref().map(Drawn::faults).unwrap_or_default(),
            changes: drawn.as_ref().map(Drawn::changes).unwrap_or_default(),
            drawn,
        };
        let lesson = Lesson { scenario, protocol, seed, dealt, possible, start, gas, orders };
        let (lesson, case) = (Arc::new(lesson), Arc::new(case));
        let bedside = Bedside { lesson, case, state, log: Log::default(), hands: Hands::default() };
        Ok(Self { bedside, step_began: None })
    }

    /// The session as it is now, to go back to.
    ///
    /// ```
    /// use std::sync::Arc;
    /// use tidewright_training::Session;
    /// let text = tidewright_shelf::lesson("juno")?.text;
    /// let scenario = Arc::new(tidewright_scenario::parse("juno.ron", text)?);
    /// let mut session = Session::new(scenario, 7)?;
    /// session.play(60.0)?;
    /// let saved = session.save();
    /// session.play(120.0)?;
    /// session.go_back(&saved);
    /// assert_eq!(session.now_s(), 60.0);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn save(&self) -> Saved {
        let hands = self.hands.clone();
        Saved { now: self.began(), hands, step_began: self.step_began.clone() }
    }

    /// Goes back to an earlier moment of this session; what was noted since is
    /// forgotten.
    pub fn go_back(&mut self, saved: &Saved) {
        drop(self.take_up(&saved.now));
        self.bedside.hands.clone_from(&saved.hands);
        self.step_began.clone_from(&saved.step_began);
    }

    fn began(&self) -> Began {
        Began { state: self.state.clone(), length: self.log.length() }
    }

    /// Goes back to what it was; hands back what was noted since.
    fn take_up(&mut self, began: &Began) -> Log {
        self.bedside.state.clone_from(&began.state);
        self.bedside.log.split(began.length)
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
        if self.ended().is_some() {
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
            Act::SetAlarm(limit) if alarms::shows(self, limit.of) => return Ok(()),
            Act::SetAlarm(_) => return Err(NotOpen::NotShown),
            _ => {}
        }
        if !training.offers.contains(&act.name()) {
            return Err(NotOpen::NotOffered);
        }
        if let Act::Check(one) | Act::PutRight(one) = act {
            let checks = &training.checks;
            if !checks.iter().any(|known| known.id == one.check) {
                let known = checks.iter().map(|known| format!("`{}`", known.id));
                let known = known.collect::<Vec<_>>().join(", ");
                return Err(NotOpen::NoSuchCheck { found: one.check.clone(), known });
            }
        }
        let on_the_tube =
            [ActName::Reconnect, ActName::HandVentilate, ActName::Extubate, ActName::Suction];
        if self.state.world.extubated && on_the_tube.contains(&act.name()) {
            return Err(NotOpen::Extubated);
        }
        let talk = matches!(act.name(), ActName::CallSurgeon | ActName::Record);
        if let Some(busy) = self.state.world.busy.filter(|_| !talk) {
            return Err(NotOpen::Busy { until_s: busy.until_s });
        }
        let peep = self.machine().setup().ventilator.end_expiratory_pressure.as_cmh2o();
        if matches!(act, Act::CyclingPressure(new) if new.cmh2o <= peep) {
            return Err(NotOpen::BelowPeep(peep));
        }
        Ok(())
    }

    /// Does an act now.
    ///
    /// # Errors
    /// [`NotOpen`] says why it cannot be done; nothing has changed then.
    pub fn act(&mut self, act: Act) -> Result<(), NotOpen> {
        self.open(&act)?;
        let before = self.state.world.clone();
        let at_s = self.now_s();
        if let Some(mut table) = before.table.clone() {
            table.act(&act, self.base())?;
            self.bedside.state.world.table = Some(table);
        }
        let world = &mut self.bedside.state.world;
        world.tube.act(&act, at_s, world.on != On::Nothing, world.cuff_cmh2o);
        world.set(&act);
        match act.name() {
            ActName::Disconnect => world.on = On::Nothing,
            ActName::Extubate => (world.on, world.extubated) = (On::Nothing, true),
            ActName::ChangeTube => world.extubated = false,
            ActName::HandVentilate => world.on = On::Bag,
            ActName::Reconnect => world.on = On::Ventilator,
            _ => {}
        }
        let stands_by = before.on == On::Nothing && self.set().mode == setup::Mode::Standby;
        let world = &mut self.bedside.state.world;
        if let Some((for_s, port_shut)) = busy_for(&act, stands_by) {
            // A patient who lies beside the circuit goes on breathing.
            let port_shut = port_shut && world.on != On::Nothing;
            world.busy = Some(Busy { until_s: at_s + for_s, port_shut });
        }
        let text = observe::seen(self, &act);
        self.care_for(&act);
        if let Err(refused) = self.rebuild() {
            self.bedside.state.world = before;
            return Err(match refused {
                SessionError::Setup { source, .. } => NotOpen::Setup(source),
                other => NotOpen::Refused(Box::new(other)),
            });
        }
        if matches!(act, Act::Join(_) | Act::Part(_)) {
            // What stood under pressure there has gone when a joint is open.
            for place in [Place::TPiece, Place::ValveEnd] {
                let out = self.bedside.state.live.let_out(place);
                debug_assert!(out.is_ok());
            }
        }
        self.step_began = None;
        let log = &mut self.bedside.log;
        log.seen.extend(text.map(|text| Seen { at_s, text }));
        log.acts.push(TimedAct { at_s, act });
        Ok(())
    }

    /// Whose session it is, as its journal begins: practice, no sitting of an exam.
    #[must_use]
    pub fn begun(&self, pseudonym: Id) -> Begun {
        let Lesson { scenario, seed, dealt, .. } = &*self.lesson;
        begun(scenario.id.clone(), *seed, pseudonym, dealt.clone())
    }

    /// The log of this session so far.
    #[must_use]
    pub fn attempt(&self, pseudonym: Id) -> Attempt {
        Attempt {
            ended_at_s: self.now_s(),
            acts: self.log.acts.iter().map(|timed| self.logged(timed)).collect(),
            asked: self.hands.asked.clone(),
            waits: self.hands.waiting.clone(),
            ..self.begun(pseudonym).into()
        }
    }
}

fn lesson(scenario: &Scenario) -> Result<&Training, SessionError> {
    scenario.training.as_ref().ok_or_else(|| SessionError::NoLesson(scenario.id.clone()))
}
