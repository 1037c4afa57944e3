//! How a live run is changed while it goes on: each change is checked first and is
//! whole or not at all.

use std::sync::Arc;

use super::{Course, LiveError, LiveRun};
use crate::base::quantity::{Pressure, Seconds, Volume};
use crate::exchange::{Apparatus, GasError};
use crate::running::gas::{GasRun, GasSettings};
use crate::setup::Setup;
use crate::stepping::machine::Machine;
use crate::stepping::step::Place;

impl LiveRun {
    /// Ends the step under way here and goes on with what `change` makes of the run;
    /// where that is refused, nothing has changed.
    fn change_by(
        &mut self,
        change: impl FnOnce(&mut Course) -> Result<(), LiveError>,
    ) -> Result<(), LiveError> {
        self.foreseen = None;
        if self.at.course.moment.at_s == self.at.now_s {
            // What changes a run checks first and changes then.
            return change(&mut self.at.course);
        }
        let (mut course, mut ended) = self.cut()?;
        change(&mut course)?;
        self.at.course = course;
        self.at.ended.append(&mut ended);
        Ok(())
    }

    /// Lets another setup hold from now on. Gas stays where it is, the phase goes on
    /// unless the mode changed, and a new pattern of effort starts from its beginning.
    /// A setup that is the one that holds changes nothing, to the last bit.
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
        let before = self.shared_machine();
        if before.setup() == machine.setup() && before.solver() == machine.solver() {
            return Ok(());
        }
        before.check_successor(&machine)?;
        self.change_by(|course| {
            course.moment = course.moment.under(&machine, &before)?;
            Ok(())
        })?;
        self.at.machine = machine;
        Ok(())
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

    /// Lets the gas out that stands above the room's pressure in a place, at once: a joint
    /// is opened there. Where no gas is held nothing happens.
    ///
    /// # Errors
    /// As [`LiveRun::change`].
    ///
    /// ```
    /// use tidewright::live::LiveRun;
    /// use tidewright::prelude::*;
    /// use tidewright::step::Place;
    /// let mut run = LiveRun::new(Setup::default())?;
    /// run.advance(Seconds::s(0.5), |_| {})?;
    /// assert!(run.read(Signal::AirwayPressure)? > 1.0);
    /// run.let_out(Place::TPiece)?;
    /// assert_eq!(run.read(Signal::AirwayPressure)?, 0.0);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn let_out(&mut self, place: Place) -> Result<(), LiveError> {
        if !self.machine().holds_gas(place) {
            return Ok(());
        }
        self.change_by(|course| {
            course.moment = course.moment.with_gas(place, Volume::ZERO);
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

    /// Lets other settings of the gas hold from now on; those that hold change nothing.
    ///
    /// # Errors
    /// [`LiveError::NoGas`], or settings that cannot be.
    pub fn set_gas(&mut self, settings: GasSettings) -> Result<(), LiveError> {
        if self.at.course.gas.as_ref().is_some_and(|gas| gas.settings() == settings) {
            return Ok(());
        }
        self.change_gas(|gas| gas.set(settings))
    }

    /// Puts another adapter between tube and T-piece: see
    /// [`crate::exchange::Exchange::change_adapter`].
    ///
    /// # Errors
    /// [`LiveError::NoGas`], or an adapter that cannot be.
    pub fn change_adapter(&mut self, adapter_ml: f64) -> Result<(), LiveError> {
        self.change_gas(|gas| {
            let now = gas.exchange().apparatus;
            gas.change_apparatus(Apparatus { adapter_ml, ..now })
        })
    }

    /// Puts another breathing system in the place of this one: see
    /// [`crate::exchange::Exchange::change_apparatus`].
    ///
    /// # Errors
    /// [`LiveError::NoGas`], or one that cannot be.
    pub fn change_apparatus(&mut self, to: Apparatus) -> Result<(), LiveError> {
        self.change_gas(|gas| gas.change_apparatus(to))
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
}

fn finite(what: &'static str, value: f64) -> Result<(), LiveError> {
    if value.abs() <= 1e9 {
        return Ok(());
    }
    Err(LiveError::OutOfRange { what, value, expected: "a number from -1e9 to 1e9" })
}
