//! Running hours, and what is to be done at them.

use thiserror::Error;

use crate::base::quantity::Seconds;
use crate::setup::Mode;

/// What the ventilator's counters show.
///
/// ```
/// use tidewright::bench::{RunningHours, Service, ServiceRule};
/// use tidewright::prelude::*;
/// let mut hours = RunningHours::new(1310.0, 499.0)?;
/// assert_eq!(ServiceRule::default().at(&hours), Service::NotYet);
/// hours.run(Mode::Ventilating, Seconds::s(5400.0));
/// assert_eq!(hours.ventilating_h(), 500.5);
/// assert_eq!(ServiceRule::default().at(&hours), Service::Near);
/// # Ok::<(), tidewright::bench::HoursError>(())
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct RunningHours {
    in_use_h: f64,
    ventilating_h: f64,
}

/// When service is near and when it is due, by hours of ventilating.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ServiceRule {
    /// From these on it is to be booked.
    pub near_h: f64,
    /// By these it must have been done.
    pub due_h: f64,
}

/// How it stands with service.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Service {
    /// Use it.
    NotYet,
    /// Use it, and book the service.
    Near,
    /// Do not use it, and tell whoever is responsible.
    Due,
}

/// Hours that cannot be.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
pub enum HoursError {
    /// A number of hours is negative or not finite.
    #[error("{what} is {hours} h, and must be a finite number, 0 or more")]
    OutOfRange {
        /// Which.
        what: &'static str,
        /// The number.
        hours: f64,
    },
    /// It ventilated for longer than it was on.
    #[error(
        "it ventilated for {ventilating_h} h and was in use for {in_use_h} h: hours in use count standby too, \
         so they are no fewer"
    )]
    MoreThanInUse {
        /// Hours ventilating.
        ventilating_h: f64,
        /// Hours in use.
        in_use_h: f64,
    },
    /// Service would be due before it is near.
    #[error("service is near at {near_h} h and due at {due_h} h: near comes first")]
    DueFirst {
        /// Near.
        near_h: f64,
        /// Due.
        due_h: f64,
    },
}

impl RunningHours {
    /// Counters that stand at these hours.
    ///
    /// # Errors
    /// [`HoursError`]: hours that cannot be.
    pub fn new(in_use_h: f64, ventilating_h: f64) -> Result<Self, HoursError> {
        check("the time in use", in_use_h)?;
        check("the time ventilating", ventilating_h)?;
        if ventilating_h > in_use_h {
            return Err(HoursError::MoreThanInUse { ventilating_h, in_use_h });
        }
        Ok(Self { in_use_h, ventilating_h })
    }

    /// Hours switched on, in standby or ventilating.
    #[must_use]
    pub fn in_use_h(&self) -> f64 {
        self.in_use_h
    }

    /// Hours ventilating.
    #[must_use]
    pub fn ventilating_h(&self) -> f64 {
        self.ventilating_h
    }

    /// Counts on while it is switched on; time below 0 or that is no number counts
    /// nothing.
    pub fn run(&mut self, mode: Mode, time: Seconds) {
        let hours = time.as_s() / 3600.0;
        if !(hours.is_finite() && hours > 0.0) {
            return;
        }
        self.in_use_h += hours;
        if mode == Mode::Ventilating {
            self.ventilating_h += hours;
        }
    }
}

impl Default for ServiceRule {
    /// Near at 500 h, due by 1000 h (common practice, no source).
    fn default() -> Self {
        Self { near_h: 500.0, due_h: 1000.0 }
    }
}

impl ServiceRule {
    /// A rule by its hours.
    ///
    /// # Errors
    /// [`HoursError`]: hours that cannot be.
    pub fn new(near_h: f64, due_h: f64) -> Result<Self, HoursError> {
        check("the time at which service is near", near_h)?;
        check("the time at which service is due", due_h)?;
        if near_h > due_h {
            return Err(HoursError::DueFirst { near_h, due_h });
        }
        Ok(Self { near_h, due_h })
    }

    /// How it stands with service at these hours.
    #[must_use]
    pub fn at(&self, hours: &RunningHours) -> Service {
        match hours.ventilating_h {
            h if h >= self.due_h => Service::Due,
            h if h >= self.near_h => Service::Near,
            _ => Service::NotYet,
        }
    }
}

fn check(what: &'static str, hours: f64) -> Result<(), HoursError> {
    if hours.is_finite() && hours >= 0.0 {
        return Ok(());
    }
    Err(HoursError::OutOfRange { what, hours })
}
