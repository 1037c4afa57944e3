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
//! for look in 1..=900 {
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
//! assert_eq!(run.now(), Seconds::s(9.0));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

#[cfg(feature = "serde")]
mod bytes;
mod change;
mod course;
mod error;
mod passing;
mod scope;
mod stepwise;

#[cfg(feature = "serde")]
pub use bytes::BytesError;
pub(crate) use course::Course;
pub use error::LiveError;
pub use passing::{Gone, Passing};
pub use scope::{Dials, Sample, Scope};

use std::borrow::Cow;
use std::sync::Arc;

use crate::base::quantity::Seconds;
use crate::exchange::GasError;
use crate::running::gas::{GasPlan, GasRun, GasStretch};
use crate::setup::Setup;
use crate::stepping::machine::{Machine, Signal};
use crate::stepping::piece::Stretch;
use crate::stepping::step::StepError;

/// A run under way, with all that it needs. See the [module](self).
#[derive(Clone, Debug)]
pub struct LiveRun {
    at: Snapshot,
    /// The gas at the end of the step under way and along it, where a look ended in the
    /// middle of that step: worked out from `at`, and only kept to spare that work.
    foreseen: Option<Foreseen>,
}

type Foreseen = (Box<GasRun>, GasStretch);

/// A live run at one moment: plain data, quickly copied; with the feature `serde` also
/// to and from bytes. A branch is a restore.
#[derive(Clone, Debug)]
pub struct Snapshot {
    pub(crate) machine: Arc<Machine>,
    /// Where the step under way began.
    pub(crate) course: Course,
    /// Where in that step the run is, s.
    pub(crate) now_s: f64,
    /// Up to where it was told what passes, s.
    pub(crate) told_s: f64,
    /// What a change has ended and nobody was told yet.
    pub(crate) ended: Vec<Ended>,
}

/// A step that is over, as it began: gone anew, it is the same to the last bit.
#[derive(Clone, Debug)]
pub(crate) struct Ended {
    pub machine: Arc<Machine>,
    pub course: Course,
    pub stop_s: f64,
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
        let course = Course::at_rest(&machine);
        let (now_s, told_s) = (course.moment.at_s, f64::NEG_INFINITY);
        Self::from(Snapshot { machine, course, now_s, told_s, ended: Vec::new() })
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
    /// let gas = run.gas()?.unwrap();
    /// assert!(gas.last_breath().unwrap().end_tidal_carbon_dioxide.as_mmhg() > 20.0);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn with_gas(machine: Arc<Machine>, plan: &GasPlan) -> Result<Self, LiveError> {
        if let Some(change) = plan.changes.first() {
            return Err(GasError::NotItsOwn { at_s: change.at.as_s() }.into());
        }
        let mut run = Self::of(machine);
        run.at.course.gas = Some(Box::new(GasRun::begin(plan, &run.at.machine)?));
        Ok(run)
    }

    /// Time since the start of the run.
    #[must_use]
    pub fn now(&self) -> Seconds {
        Seconds::s(self.at.now_s)
    }

    /// The machine as it is now.
    #[must_use]
    pub fn machine(&self) -> &Machine {
        &self.at.machine
    }

    /// The same, to be shared.
    #[must_use]
    pub fn shared_machine(&self) -> Arc<Machine> {
        Arc::clone(&self.at.machine)
    }

    /// A signal as it truly is now; at an event, the value after it.
    ///
    /// # Errors
    /// [`StepError`]: a run that cannot go on.
    pub fn read(&self, signal: Signal) -> Result<f64, StepError> {
        let Snapshot { machine, course, now_s, .. } = &self.at;
        let (step, _) = course.look_until(machine, *now_s)?;
        Ok(step.piece.nearest(signal, now_s - course.moment.at_s))
    }

    /// The gas as it is now; `None` in a run without.
    ///
    /// # Errors
    /// [`StepError`]: a run that cannot go on to where it is looked at.
    pub fn gas(&self) -> Result<Option<Cow<'_, GasRun>>, StepError> {
        if self.at.now_s == self.at.course.moment.at_s {
            return Ok(self.gas_so_far().map(Cow::Borrowed));
        }
        let (course, _) = self.cut()?;
        Ok(course.gas.map(|gas| Cow::Owned(*gas)))
    }

    /// The gas where the last step ended: as it is now for who goes by
    /// [`LiveRun::step`]; `None` in a run without.
    #[must_use]
    pub fn gas_so_far(&self) -> Option<&GasRun> {
        self.at.course.gas.as_deref()
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
        for Ended { machine, mut course, stop_s } in std::mem::take(&mut self.at.ended) {
            let step = course.look_ahead(&machine, stop_s)?;
            let (stretch, gas) = course.go(step);
            let (since_s, until_s) = (self.at.told_s, stretch.piece.end_s());
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
        let Snapshot { machine, course, now_s, told_s, .. } = &mut self.at;
        course.prepare(f64::INFINITY);
        let (step, whole) = course.look_until(machine, to_s)?;
        let over = whole && step.end_s() <= to_s;
        let until_s = if over { step.end_s() } else { to_s };
        let since_s = std::mem::replace(told_s, until_s);
        *now_s = until_s;
        let foreseen = self.foreseen.take().filter(|_| whole);
        if over {
            let (stretch, gas) = match foreseen {
                Some((gas, along)) => (course.go_as_foreseen(step, gas), Some(along)),
                None => course.go(step),
            };
            each(&Passing { stretch: &stretch, gas: gas.as_ref(), since_s, until_s, over });
            return Ok(());
        }
        let stretch = Stretch::from(step.piece);
        let foreseen = foreseen.or_else(|| course.foresee(&stretch));
        let gas = foreseen.as_ref().map(|(_, along)| along);
        each(&Passing { stretch: &stretch, gas, since_s, until_s, over });
        self.foreseen = foreseen.filter(|_| whole);
        Ok(())
    }

    /// The run with the step under way ended here, and what that ended.
    fn cut(&self) -> Result<(Course, Vec<Ended>), StepError> {
        let Snapshot { machine, course, now_s, .. } = &self.at;
        let (mut course, mut ended) = (course.clone(), Vec::new());
        while course.moment.at_s < *now_s {
            let stop_s = course.prepare(*now_s);
            let before = course.clone();
            let step = course.look_ahead(machine, stop_s)?;
            course.go(step);
            ended.push(Ended { machine: Arc::clone(machine), course: before, stop_s });
        }
        Ok((course, ended))
    }

    /// The run as it is now, to be saved or to branch from.
    #[must_use]
    pub fn snapshot(&self) -> Snapshot {
        self.at.clone()
    }

    /// Goes back, or over, to a saved run.
    pub fn restore(&mut self, saved: &Snapshot) {
        self.at.clone_from(saved);
        self.foreseen = None;
    }
}

impl From<Snapshot> for LiveRun {
    fn from(saved: Snapshot) -> Self {
        Self { at: saved, foreseen: None }
    }
}
