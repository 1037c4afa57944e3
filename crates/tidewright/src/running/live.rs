//! A run that one owns: it goes on as far as it is told, can be changed, saved,
//! restored and branched, and refuses what it cannot do.
//!
//! Breath, gas and the patient's own drive meet in it and nowhere else:
//! [`crate::run::Simulation`] and [`crate::coupled::Coupled`] tell it when to go on
//! and when to change. The engine ([`mod@crate::step`]) moves gas without knowing what
//! it is; [`crate::exchange`] follows what it is; [`crate::drive`] says when a patient
//! wants to breathe, which is decided when a breath begins, from the arterial carbon
//! dioxide of that moment.
//!
//! # How often one looks does not matter
//! A run goes in whole steps. A look in the middle of one reads it where it is and
//! leaves it as it is; only a change ends it there. So the same changes at the same
//! times give the same bits, in however many parts the run is told to go on.
//!
//! ```
//! use tidewright::live::LiveRun;
//! use tidewright::prelude::*;
//! let mut run = LiveRun::new(Setup::default())?;
//! let mut meter = BreathMeter::default();
//! let mut breaths = Vec::new();
//! for look in 1..=600 {
//!     run.advance(Seconds::s(f64::from(look) / 100.0), |passing| {
//!         breaths.extend(passing.finished().and_then(|stretch| meter.take(stretch)));
//!     })?;
//!     if look == 250 {
//!         let mut setup = run.machine().setup().clone();
//!         setup.ventilator.fresh_gas_flow = Flow::l_per_min(4.0);
//!         run.change(setup)?;
//!     }
//! }
//! let (first, last) = (breaths[0], breaths[breaths.len() - 1]);
//! assert!(last.inspiratory_time < first.inspiratory_time);
//! // A branch: what would come of a limit of half a second?
//! let saved = run.snapshot();
//! let mut setup = run.machine().setup().clone();
//! setup.ventilator.inspiratory_time_limit = Seconds::s(0.5);
//! run.change(setup)?;
//! run.advance(Seconds::s(60.0), |_| {})?;
//! run.restore(&saved);
//! assert_eq!(run.now(), Seconds::s(6.0));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

#[cfg(feature = "serde")]
mod bytes;
mod course;
mod error;
mod scope;

#[cfg(feature = "serde")]
pub use bytes::BytesError;
pub(crate) use course::Course;
pub use error::LiveError;
pub use scope::{Dials, Sample, Scope};

use std::borrow::Cow;
use std::sync::Arc;

use course::Ahead;

use crate::exchange::GasError;
use crate::machine::{Machine, Signal};
use crate::piece::{Piece, Stretch};
use crate::quantity::{Pressure, Seconds, Volume};
use crate::running::gas::{GasPlan, GasPoint, GasRun, GasSettings, GasStretch};
use crate::setup::Setup;
use crate::step::{Place, StepError};

/// A run under way, with all that it needs. See the [module](self).
#[derive(Clone, Debug)]
pub struct LiveRun {
    at: Snapshot,
    /// The step under way, where a look ended in the middle of it: worked out from
    /// `at`, and only kept to spare that work.
    ahead: Option<Box<UnderWay>>,
}

/// A live run at one moment: plain data, quickly copied; with the feature `serde` also
/// to and from bytes. A branch is a restore.
#[derive(Clone, Debug)]
pub struct Snapshot {
    /// Where the step under way began.
    pub(crate) course: Course,
    /// Where in that step the run is, s.
    pub(crate) now_s: f64,
    /// Up to where it was told what passes, s.
    pub(crate) told_s: f64,
    /// What a change has ended and nobody was told yet.
    pub(crate) ended: Vec<Ended>,
}

/// A piece that is over.
#[derive(Clone, Debug)]
pub(crate) struct Ended {
    pub machine: Arc<Machine>,
    pub piece: Piece,
    pub gas: Option<GasStretch>,
}

#[derive(Clone, Debug)]
struct UnderWay {
    step: Ahead,
    /// Whether it goes as far as it would without a look.
    whole: bool,
    /// The gas at its end, and along it.
    gas: Option<(Box<GasRun>, GasStretch)>,
}

/// A step that ends by nothing else ends after so long, s.
const LONGEST_S: f64 = 60.0;

/// What passes when a run goes on: a piece that is over, or as much of it as there was
/// time for.
#[derive(Clone, Copy, Debug)]
pub struct Passing<'a> {
    stretch: &'a Stretch<'a>,
    gas: Option<&'a GasStretch>,
    since_s: f64,
    until_s: f64,
    over: bool,
}

/// A step that is gone.
#[derive(Clone, Debug)]
pub struct Gone<'a> {
    /// The breath.
    pub stretch: Stretch<'a>,
    /// The gas along it; `None` for a run without.
    pub gas: Option<GasStretch>,
    /// Whether the clock cut it short.
    pub was_cut: bool,
}

impl LiveRun {
    /// A run at the start of an inspiration (or of standby), with all gas at the
    /// pressure of the end-expiratory pressure device.
    ///
    /// # Errors
    /// [`LiveError::Setup`]: a setup that cannot be run.
    pub fn new(setup: Setup) -> Result<Self, LiveError> {
        Ok(Self::of(Arc::new(Machine::new(setup)?)))
    }

    /// As [`LiveRun::new`], of a machine that is there, shared and not copied.
    #[must_use]
    pub fn of(machine: Arc<Machine>) -> Self {
        Self::from_course(Course::at_rest(machine))
    }

    /// A run that follows gas as well.
    ///
    /// # Errors
    /// [`LiveError::Gas`]: a plan that cannot be, or one for another lung. Its changes
    /// are not those of this run, which is changed while it goes on: there must be none.
    ///
    /// ```
    /// use std::sync::Arc;
    /// use tidewright::coupled::{GasPlan, GasSettings};
    /// use tidewright::exchange::{Apparatus, Capnograph, Conditions, Exchange, Fractions};
    /// use tidewright::live::LiveRun;
    /// use tidewright::prelude::*;
    /// use tidewright::species::{Animal, Species};
    /// let ferret = Animal::typical(Species::Ferret, Mass::kg(1.2));
    /// let setup = Setup { lung: ferret.lung(), ..Setup::default() };
    /// let plan = GasPlan {
    ///     exchange: Exchange::new(&ferret, &setup.lung, Apparatus::default())?,
    ///     arterial_carbon_dioxide: PartialPressure::mmhg(45.0),
    ///     capnograph: Capnograph::new(Seconds::s(1.5), Seconds::s(0.2)),
    ///     start: GasSettings {
    ///         conditions: Conditions::of(&ferret, 38.0, Fractions::OXYGEN),
    ///         drive: None,
    ///     },
    ///     changes: vec![],
    ///     animal: ferret,
    /// };
    /// let mut run = LiveRun::with_gas(Arc::new(Machine::new(setup)?), &plan)?;
    /// run.advance(Seconds::s(60.0), |_| {})?;
    /// let gas = run.gas().unwrap();
    /// assert!(gas.last_breath().unwrap().end_tidal_carbon_dioxide.as_mmhg() > 20.0);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn with_gas(machine: Arc<Machine>, plan: &GasPlan) -> Result<Self, LiveError> {
        if let Some(change) = plan.changes.first() {
            return Err(GasError::NotItsOwn { at_s: change.at.as_s() }.into());
        }
        let mut run = Self::of(machine);
        run.at.course.gas = Some(Box::new(GasRun::begin(plan, &run.at.course.machine)?));
        Ok(run)
    }

    pub(crate) fn from_course(course: Course) -> Self {
        let now_s = course.moment.at_s;
        let told_s = f64::NEG_INFINITY;
        Self { at: Snapshot { course, now_s, told_s, ended: Vec::new() }, ahead: None }
    }

    /// Time since the start of the run.
    #[must_use]
    pub fn now(&self) -> Seconds {
        Seconds::s(self.at.now_s)
    }

    /// The machine as it is now.
    #[must_use]
    pub fn machine(&self) -> &Machine {
        &self.at.course.machine
    }

    /// The same, to be shared.
    #[must_use]
    pub fn shared_machine(&self) -> Arc<Machine> {
        Arc::clone(&self.at.course.machine)
    }

    /// A signal as it truly is now; at an event, the value after it.
    ///
    /// # Errors
    /// [`StepError`]: a run that cannot go on.
    pub fn read(&self, signal: Signal) -> Result<f64, StepError> {
        let Course { machine, moment, .. } = &self.at.course;
        let local_s = self.at.now_s - moment.at_s;
        if let Some(ahead) = &self.ahead {
            return Ok(ahead.step.piece.at(machine, signal, local_s));
        }
        if local_s == 0.0 {
            return Ok(self.at.course.look_ahead(self.at.now_s)?.piece.first(machine, signal));
        }
        // The step that a look found here before the run was saved.
        let (step, _) = self.step_from_here(self.at.now_s)?;
        Ok(step.piece.at(machine, signal, local_s))
    }

    /// The gas as it is now; `None` in a run without.
    pub fn gas(&self) -> Option<Cow<'_, GasRun>> {
        let gas = self.at.course.gas.as_deref()?;
        if self.at.now_s == self.at.course.moment.at_s {
            return Some(Cow::Borrowed(gas));
        }
        let (course, _) = self.cut().ok()?;
        course.gas.map(|gas| Cow::Owned(*gas))
    }

    /// Lets time pass until `to`. `each` is told everything that passes, piece by
    /// piece, the last as far as it goes: see [`Passing`].
    ///
    /// # Errors
    /// [`LiveError::NotAhead`] for a time that is past, endless or no number;
    /// [`LiveError::Step`] for a run that cannot go on, which stands then where it last
    /// could.
    pub fn advance(
        &mut self,
        to: Seconds,
        mut each: impl FnMut(&Passing<'_>),
    ) -> Result<(), LiveError> {
        let (now_s, to_s) = (self.at.now_s, to.as_s());
        if !(to_s.is_finite() && to_s >= now_s) {
            return Err(LiveError::NotAhead { now_s, to_s });
        }
        for Ended { machine, piece, gas } in std::mem::take(&mut self.at.ended) {
            let stretch = Stretch { machine: &machine, piece };
            let until_s = stretch.piece.end_s();
            let since_s = self.at.told_s;
            let gas = gas.as_ref();
            each(&Passing { stretch: &stretch, gas, since_s, until_s, over: true });
        }
        while self.at.now_s < to_s {
            self.go_on(to_s, &mut each)?;
        }
        Ok(())
    }

    /// Goes the step under way to its end, or as much of it as there is time for.
    fn go_on(&mut self, to_s: f64, each: &mut impl FnMut(&Passing<'_>)) -> Result<(), StepError> {
        let under_way = match self.ahead.take().filter(|ahead| ahead.whole) {
            Some(under_way) => under_way,
            None => Box::new(self.foresee(to_s)?),
        };
        let Snapshot { course, now_s, told_s, .. } = &mut self.at;
        let over = under_way.whole && under_way.step.end_s() <= to_s;
        let until_s = if over { under_way.step.end_s() } else { to_s };
        let since_s = std::mem::replace(told_s, until_s);
        *now_s = until_s;
        if over {
            let UnderWay { step, gas, .. } = *under_way;
            let (stretch, gas) = match gas {
                Some((gas, along)) => (course.go_as_foreseen(step, gas), Some(along)),
                None => course.go(step),
            };
            each(&Passing { stretch: &stretch, gas: gas.as_ref(), since_s, until_s, over });
            return Ok(());
        }
        let mut under_way = under_way;
        if let (None, Some(gas)) = (&under_way.gas, &course.gas) {
            let mut gas = gas.clone();
            let stretch = Stretch { machine: &course.machine, piece: under_way.step.piece };
            let along = gas.take(&stretch);
            under_way.step.piece = stretch.piece;
            under_way.gas = Some((gas, along));
        }
        let UnderWay { step, gas, whole } = *under_way;
        let stretch = Stretch { machine: &course.machine, piece: step.piece };
        let along = gas.as_ref().map(|(_, along)| along);
        each(&Passing { stretch: &stretch, gas: along, since_s, until_s, over });
        let step = Ahead { piece: stretch.piece, next: step.next };
        self.ahead = Some(Box::new(UnderWay { step, whole, gas }));
        Ok(())
    }

    /// Works out the step from where the last one ended.
    fn foresee(&mut self, to_s: f64) -> Result<UnderWay, StepError> {
        self.at.course.prepare(f64::INFINITY);
        let (step, whole) = self.step_from_here(to_s)?;
        Ok(UnderWay { step, whole, gas: None })
    }

    /// The step from where the last one ended, which was got ready, and whether it is as
    /// long as it would be without a look.
    fn step_from_here(&self, to_s: f64) -> Result<(Ahead, bool), StepError> {
        let course = &self.at.course;
        let stop_s = course.stop_s(course.moment.at_s + LONGEST_S);
        match course.look_ahead(stop_s) {
            Ok(step) => Ok((step, true)),
            // A step that ends before it goes wrong does not feel that it would.
            Err(_) if to_s < stop_s => {
                let step = course.look_ahead(to_s)?;
                let ended = step.end_s() < to_s;
                Ok((step, ended))
            }
            Err(error) => Err(error),
        }
    }

    /// The run with the step under way ended here, and what that ended.
    fn cut(&self) -> Result<(Course, Vec<Ended>), StepError> {
        let mut course = self.at.course.clone();
        let mut ended = Vec::new();
        while course.moment.at_s < self.at.now_s {
            let stop_s = course.prepare(self.at.now_s);
            let step = course.look_ahead(stop_s)?;
            let machine = Arc::clone(&course.machine);
            let (Stretch { piece, .. }, gas) = course.go(step);
            ended.push(Ended { machine, piece, gas });
        }
        Ok((course, ended))
    }

    /// Ends the step under way here and goes on with what `change` makes of the run;
    /// where that is refused, nothing has changed.
    fn change_by(
        &mut self,
        change: impl FnOnce(&mut Course) -> Result<(), LiveError>,
    ) -> Result<(), LiveError> {
        if self.at.course.moment.at_s == self.at.now_s {
            // What changes a run checks first and changes then.
            return change(&mut self.at.course);
        }
        let (mut course, mut ended) = self.cut()?;
        change(&mut course)?;
        self.at.course = course;
        self.at.ended.append(&mut ended);
        self.ahead = None;
        Ok(())
    }

    /// Lets another setup hold from now on. Gas stays where it is, the phase goes on
    /// unless the mode changed, and a new pattern of effort starts from its beginning.
    ///
    /// # Errors
    /// [`LiveError::Setup`]: a setup that cannot be run; [`LiveError::Structure`]: a
    /// place that holds gas would come or go. The run is as it was then.
    ///
    /// ```
    /// use tidewright::live::{LiveError, LiveRun};
    /// use tidewright::prelude::*;
    /// let mut run = LiveRun::new(Setup::default())?;
    /// run.advance(Seconds::s(0.5), |_| {})?;
    /// let before = run.read(Signal::LungVolume)?;
    /// let mut rigid = run.machine().setup().clone();
    /// rigid.circuit.compliance = Compliance::ZERO;
    /// assert!(matches!(run.change(rigid), Err(LiveError::Structure(_))));
    /// assert_eq!(run.read(Signal::LungVolume)?, before);
    /// # Ok::<(), LiveError>(())
    /// ```
    pub fn change(&mut self, setup: Setup) -> Result<(), LiveError> {
        let machine = Machine::with_solver(setup, self.machine().solver())?;
        self.change_to(Arc::new(machine))
    }

    /// As [`LiveRun::change`], with a machine that is there, shared and not copied.
    ///
    /// # Errors
    /// As [`LiveRun::change`].
    pub fn change_to(&mut self, machine: Arc<Machine>) -> Result<(), LiveError> {
        self.at.course.machine.check_successor(&machine)?;
        self.change_by(|course| {
            course.moment = course.moment.under(&machine, &course.machine)?;
            course.machine = machine;
            Ok(())
        })
    }

    /// Puts gas in at a place, at once; takes it out where `gas` is negative. What the
    /// gas is, where that is followed, comes by way of the airway.
    ///
    /// # Errors
    /// [`LiveError::NoSuchPlace`], or a volume that is no number.
    ///
    /// ```
    /// use tidewright::live::LiveRun;
    /// use tidewright::prelude::*;
    /// use tidewright::step::Place;
    /// let mut setup = Setup::default();
    /// setup.circuit.patient_port = PatientPort::Blocked;
    /// setup.ventilator.fresh_gas_flow = Flow::ZERO;
    /// let mut run = LiveRun::new(setup)?;
    /// // 1.5 mL squeezed into a sealed circuit of 0.15 mL/cmH2O.
    /// run.put_gas(Place::TPiece, Volume::ml(1.5))?;
    /// assert!((run.read(Signal::AirwayPressure)? - 10.0).abs() < 1e-9);
    /// assert!(run.put_gas(Place::ValveEnd, Volume::ml(1.0)).is_err());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn put_gas(&mut self, place: Place, gas: Volume) -> Result<(), LiveError> {
        if !self.machine().holds_gas(place) {
            return Err(LiveError::NoSuchPlace { place });
        }
        finite("the gas put in, in mL,", gas.as_ml())?;
        self.change_by(|course| {
            let held = course.moment.gas(place);
            course.moment = course.moment.with_gas(place, held + gas);
            // A road that steps starts with care.
            course.moment.step_s = 0.0;
            Ok(())
        })
    }

    /// Lets the patient draw a breath now: a half-sine of muscle pressure of a height
    /// and a length. A breath of its own that is under way gives way to it.
    ///
    /// # Errors
    /// [`LiveError::EffortIsAPattern`], or numbers that cannot be.
    pub fn breathe_in(&mut self, amplitude: Pressure, lasts: Seconds) -> Result<(), LiveError> {
        if !self.machine().setup().effort.segments.is_empty() {
            return Err(LiveError::EffortIsAPattern);
        }
        finite("the height of the breath, in cmH2O,", amplitude.as_cmh2o())?;
        if !(1e-6..=1e6).contains(&lasts.as_s()) {
            let (what, value) = ("the length of the breath, in s,", lasts.as_s());
            return Err(LiveError::OutOfRange { what, value, expected: "from 1e-6 to 1e6" });
        }
        self.change_by(|course| {
            course.moment = course.moment.breathing_in(amplitude, lasts);
            course.moment.step_s = 0.0;
            Ok(())
        })
    }

    /// Lets other settings of the gas hold from now on.
    ///
    /// # Errors
    /// [`LiveError::NoGas`], or settings that cannot be.
    pub fn set_gas(&mut self, settings: GasSettings) -> Result<(), LiveError> {
        self.change_gas(|gas| gas.set(settings))
    }

    /// Puts another adapter between tube and T-piece: see
    /// [`crate::exchange::Exchange::change_adapter`].
    ///
    /// # Errors
    /// [`LiveError::NoGas`], or an adapter that cannot be.
    pub fn change_adapter(&mut self, adapter_ml: f64) -> Result<(), LiveError> {
        self.change_gas(|gas| gas.change_adapter(adapter_ml))
    }

    /// Follows the gas in other steps than the usual from now on, such as finer ones
    /// where single breaths are looked at.
    ///
    /// # Errors
    /// [`LiveError::NoGas`].
    pub fn follow_in(&mut self, steps: crate::exchange::Steps) -> Result<(), LiveError> {
        self.change_gas(|gas| {
            gas.follow_in(steps);
            Ok(())
        })
    }

    fn change_gas(
        &mut self,
        change: impl FnOnce(&mut GasRun) -> Result<(), GasError>,
    ) -> Result<(), LiveError> {
        self.change_by(|course| {
            let gas = course.gas.as_deref_mut().ok_or(LiveError::NoGas)?;
            Ok(change(gas)?)
        })
    }

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
        self.ahead = None;
        let (now_s, clock_s) = (self.at.now_s, clock.as_s());
        let stop_s = if stop.as_s().is_finite() { stop.as_s() } else { now_s + LONGEST_S };
        let stop_s = self.at.course.prepare(stop_s);
        let mut step = self.at.course.look_ahead(stop_s);
        let ends_later = |step: &Ahead| clock_s < now_s + step.piece.duration_s;
        let was_cut = clock_s < stop_s && step.as_ref().map_or(true, ends_later);
        if was_cut {
            before_cut(self);
            step = self.at.course.look_ahead(clock_s);
        }
        let step = step?;
        self.at.now_s = step.end_s();
        self.at.told_s = self.at.now_s;
        let (stretch, gas) = self.at.course.go(step);
        Ok(Gone { stretch, gas, was_cut })
    }

    /// The run as it is now, to be saved or to branch from.
    #[must_use]
    pub fn snapshot(&self) -> Snapshot {
        self.at.clone()
    }

    /// Goes back, or over, to a saved run.
    pub fn restore(&mut self, saved: &Snapshot) {
        self.at.clone_from(saved);
        self.ahead = None;
    }
}

impl From<Snapshot> for LiveRun {
    fn from(saved: Snapshot) -> Self {
        Self { at: saved, ahead: None }
    }
}

impl<'a> Passing<'a> {
    /// What is new of the piece is later than this, s.
    #[must_use]
    pub fn since_s(&self) -> f64 {
        self.since_s
    }

    /// How far it has gone, s since the start of the run.
    #[must_use]
    pub fn until_s(&self) -> f64 {
        self.until_s
    }

    /// The piece, once it is over: for who measures breaths.
    #[must_use]
    pub fn finished(&self) -> Option<&'a Stretch<'a>> {
        self.over.then_some(self.stretch)
    }

    /// A signal at a time that has passed in this piece, s since the start of the run;
    /// `None` outside.
    #[must_use]
    pub fn at(&self, time_s: f64, signal: Signal) -> Option<f64> {
        let Stretch { machine, piece } = self.stretch;
        let inside = time_s >= piece.start_s && time_s <= self.until_s;
        inside.then(|| piece.at(machine, signal, (time_s - piece.start_s).min(piece.duration_s)))
    }

    /// What is new of the gas, point after point.
    #[must_use]
    pub fn gas_points(&self) -> &'a [GasPoint] {
        let Some(gas) = self.gas else { return &[] };
        let from = gas.points.partition_point(|point| point.at_s <= self.since_s);
        let to = gas.points.partition_point(|point| point.at_s <= self.until_s);
        &gas.points[from.min(to)..to]
    }

    /// All that the gas did along the piece, once it is over.
    #[must_use]
    pub fn finished_gas(&self) -> Option<&'a GasStretch> {
        self.gas.filter(|_| self.over)
    }
}

fn finite(what: &'static str, value: f64) -> Result<(), LiveError> {
    if value.abs() <= 1e9 {
        return Ok(());
    }
    Err(LiveError::OutOfRange { what, value, expected: "a number from -1e9 to 1e9" })
}
