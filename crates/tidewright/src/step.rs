//! One step of a run: from a moment to the end of a phase, or to a horizon.
//!
//! # The laws of time
//! 1. A piece covers (start, end]; an event ends it.
//! 2. Stored gas is continuous across events; the pressures of nodes that store
//!    none, and flows, may jump. A piece's end holds the values before the
//!    event, the next piece's start the values after.
//! 3. Of two guards met at the same instant, the one listed first wins; limits
//!    are listed before cycling. A guard met at the horizon wins over it.
//! 4. A guard already met when a phase begins ends it at once. This is the fast
//!    clicking of a blocked circuit; the expiratory time guarantees progress.
//! 5. Every change of the setup ends a piece.
//! 6. Phase changes take no time; more than [`MAX_CHANGES_AT_ONE_INSTANT`] at
//!    one instant is an error that names the settings.
//! 7. Each piece counts time from its own start; absolute time is added only
//!    for reporting.
//! 8. Gas is conserved: in every piece, the gas that flowed in is the change of
//!    stored gas plus every outflow.
//!
//! Each law has a test of its number.

use thiserror::Error;

use crate::curve::Curve;
use crate::machine::{Machine, Signal};
use crate::modes::{MAX_MODES, ModeVec};
use crate::phase::{self, PhaseKind, Watched};
use crate::piece::Piece;

/// The most phase changes that may happen at one instant.
pub const MAX_CHANGES_AT_ONE_INSTANT: u32 = 16;

/// All that changes during a run. Plain data: cloning it is saving it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moment {
    /// Time since the start of the run, s; for reporting only.
    pub at_s: f64,
    /// The phase under way.
    pub phase: PhaseKind,
    /// Time since that phase began, s.
    pub phase_elapsed_s: f64,
    /// Phase changes so far at this instant.
    pub changes_at_this_instant: u32,
    pub(crate) stored: ModeVec,
}

/// What a step leaves behind: the piece covered and the moment after it.
#[derive(Clone, Copy, Debug)]
pub struct Step {
    /// The piece of time covered, and what ended it.
    pub piece: Piece,
    /// The moment after the event, from which the next step goes on.
    pub next: Moment,
}

/// A run that cannot go on.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum StepError {
    /// Phases end as soon as they begin and time stands still.
    #[error(
        "at {at_s} s the phases end as fast as they begin: with an expiratory time of \
         {expiratory_time_s} s and inspiration ending at once (time limit \
         {inspiratory_time_limit_s} s, cycling pressure {cycling_pressure_cmh2o} cmH2O) no time \
         passes; lengthen the expiratory time"
    )]
    Chatter {
        /// When, s.
        at_s: f64,
        /// The setting, s.
        expiratory_time_s: f64,
        /// The setting, s.
        inspiratory_time_limit_s: f64,
        /// The setting, cmH2O.
        cycling_pressure_cmh2o: f64,
    },
}

impl Moment {
    /// The start of a run: the beginning of an inspiration (or of standby) with
    /// all gas at the pressure of the end-expiratory pressure device.
    #[must_use]
    pub fn at_rest(machine: &Machine) -> Self {
        let ventilator = &machine.setup().ventilator;
        Self {
            at_s: 0.0,
            phase: phase::first(ventilator),
            phase_elapsed_s: 0.0,
            changes_at_this_instant: 0,
            stored: machine.stored_at_rest(ventilator.end_expiratory_pressure),
        }
    }

    /// The same moment under a changed setup: gas stays where it is, and the
    /// phase goes on unless the mode changed.
    #[must_use]
    pub fn under(mut self, machine: &Machine) -> Self {
        let phase = phase::after_change(&machine.setup().ventilator, self.phase);
        if phase != self.phase {
            self.phase = phase;
            self.phase_elapsed_s = 0.0;
        }
        self
    }
}

/// Goes from `moment` to the end of its phase, or `horizon_s` further if that
/// comes first. Pure: the same arguments give the same bits.
///
/// # Errors
/// [`StepError::Chatter`] when phases change without time passing.
///
/// ```
/// use tidewright::prelude::*;
/// let machine = Machine::new(Setup::default())?;
/// let step = step(&machine, &Moment::at_rest(&machine), 60.0)?;
/// // 20 mL/s against 6 mL/cmH2O behind 20 cmH2O·s/L, and 0.15 mL/cmH2O of circuit.
/// let expected = (6.0 * (10.0 - 0.4) + 0.15 * 10.0) / 20.0;
/// assert!((step.piece.duration_s - expected).abs() < 0.01);
/// assert_eq!(step.piece.ended_by, Some(Cause::PressureReached));
/// assert_eq!(step.next.phase, PhaseKind::Expiration);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn step(machine: &Machine, moment: &Moment, horizon_s: f64) -> Result<Step, StepError> {
    let settings = &machine.setup().ventilator;
    let shape = machine.shape(moment.phase);
    let modes = &shape.modes;
    let z = modes.coordinates(&moment.stored);
    let mut velocity = [0.0; MAX_MODES];
    for k in 0..modes.n {
        velocity[k] = modes.inputs[k] - modes.rates[k] * z[k];
    }

    let mut duration = horizon_s;
    let mut ended_by = None;
    for guard in phase::guards(settings, moment.phase).into_iter().flatten() {
        let due = match guard.watched {
            Watched::Clock => Some((guard.level - moment.phase_elapsed_s).max(0.0)),
            Watched::SensedPressure => {
                let pressure = shape.signal(Signal::AirwayPressure);
                Curve::new(modes, pressure, &z, &velocity).first_at_or_above(guard.level, duration)
            }
        };
        let Some(due) = due else { continue };
        if due < duration || (ended_by.is_none() && due <= duration) {
            duration = due;
            ended_by = Some(guard.cause);
        }
    }

    let piece = Piece::new(moment, duration, ended_by, modes, z, velocity);
    let next = after(moment, &piece, modes.stored(&piece.z_end), settings);
    if next.changes_at_this_instant > MAX_CHANGES_AT_ONE_INSTANT {
        return Err(StepError::Chatter {
            at_s: next.at_s,
            expiratory_time_s: settings.expiratory_time.as_s(),
            inspiratory_time_limit_s: settings.inspiratory_time_limit.as_s(),
            cycling_pressure_cmh2o: settings.cycling_pressure.as_cmh2o(),
        });
    }
    Ok(Step { piece, next })
}

fn after(
    moment: &Moment,
    piece: &Piece,
    stored: ModeVec,
    settings: &crate::setup::Ventilator,
) -> Moment {
    let at_s = moment.at_s + piece.duration_s;
    // A duration below the resolution of the clock moves nothing either.
    let earlier = if at_s > moment.at_s { 0 } else { moment.changes_at_this_instant };
    match piece.ended_by {
        Some(cause) => Moment {
            at_s,
            phase: phase::next(settings, cause),
            phase_elapsed_s: 0.0,
            changes_at_this_instant: earlier + 1,
            stored,
        },
        None => Moment {
            at_s,
            phase: moment.phase,
            phase_elapsed_s: moment.phase_elapsed_s + piece.duration_s,
            changes_at_this_instant: earlier,
            stored,
        },
    }
}
