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
//!    rapid short cycles of a blocked circuit; the expiratory time guarantees progress.
//! 5. Every change of the setup ends a piece.
//! 6. Phase changes take no time; more than [`MAX_CHANGES_AT_ONE_INSTANT`] at
//!    one instant, or [`MAX_CHANGES_IN_ONE_SECOND`] within a second, are an error
//!    that names the settings.
//! 7. Each piece counts time from its own start; absolute time is added only
//!    for reporting.
//! 8. Gas is conserved: in every piece, the gas that flowed in is the change of
//!    stored gas plus every outflow.
//!
//! Each law has a test of its number.

use crate::base::quantity::{Pressure, Seconds, Volume};
use crate::plant::network::NodeVec;
use crate::road::shape::Track;
use crate::setup::{EffortClock, Ventilator};
pub use crate::stepping::error::{Mend, StepError};
use crate::stepping::machine::Machine;
use crate::stepping::phase::{self, PhaseKind, Watched};
use crate::stepping::piece::Piece;
pub use crate::stepping::place::{Misplaced, Place};

/// The most phase changes that may happen at one instant.
pub const MAX_CHANGES_AT_ONE_INSTANT: u32 = 16;
/// The most phase changes that may happen within one second of a run. No outlet
/// valve follows a fifth of them, and a run of such phases would never come back.
pub const MAX_CHANGES_IN_ONE_SECOND: u32 = 500;
/// The most steps within ten seconds of a run, tried ones included; those of a machine with
/// many nodes count for several. Animals and equipment ask for a fiftieth of it. It holds a
/// second of a run to a hundredth of a second of work.
pub const MAX_STEPS_IN_TEN_SECONDS: u32 = 40_000;

/// All that changes during a run. Plain data: cloning it is saving it.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Moment {
    /// Time since the start of the run, s; for reporting only.
    pub at_s: f64,
    /// The phase under way.
    pub phase: PhaseKind,
    /// Time since that phase began, s.
    pub phase_elapsed_s: f64,
    /// Phase changes so far at this instant.
    pub changes_at_this_instant: u32,
    /// A time in the last second, s, the phase changes since then, and the steps of ten
    /// seconds.
    pub(crate) counting_from_s: f64,
    pub(crate) changes_counted: u32,
    pub(crate) steps_counted: u32,
    pub(crate) stored: NodeVec,
    pub(crate) effort: EffortClock,
    /// Length of the last step of a road that steps, s: where the next one starts.
    pub(crate) step_s: f64,
}

/// What a step leaves behind: the piece covered and the moment after it.
#[derive(Clone, Debug)]
pub struct Step<'m> {
    /// The piece of time covered, and what ended it.
    pub piece: Piece<'m>,
    /// The moment after the event, from which the next step goes on.
    pub next: Moment,
}

impl<'m> Piece<'m> {
    /// Nothing yet, from a moment of a machine on.
    #[inline]
    pub(crate) fn none(machine: &'m Machine, moment: &Moment) -> Self {
        Self {
            start_s: moment.at_s,
            duration_s: 0.0,
            phase: moment.phase,
            phase_elapsed_s: moment.phase_elapsed_s,
            ended_by: None,
            machine,
            track: Track::none(machine.shape(moment.phase)),
        }
    }
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
            counting_from_s: 0.0,
            changes_counted: 0,
            steps_counted: 0,
            stored: machine.stored_at_rest(ventilator.end_expiratory_pressure),
            effort: EffortClock::default(),
            step_s: 0.0,
        }
    }

    /// The gas held at a place; zero where the machine holds none there.
    #[must_use]
    pub fn gas(&self, place: Place) -> Volume {
        place.node().map_or(Volume::ZERO, |node| Volume::ml(self.stored[node]))
    }

    /// The same moment with other gas at a place, which must be one that holds gas.
    ///
    /// ```
    /// use tidewright::prelude::*;
    /// use tidewright::step::Place;
    /// // A lung of 6 mL/cmH2O that begins with 30 mL above its relaxed volume.
    /// let machine = Machine::new(Setup::default())?;
    /// let full = Moment::at_rest(&machine).with_gas(Place::Compartment(0), Volume::ml(30.0));
    /// let piece = step(&machine, &full, 0.0)?.piece;
    /// assert!((piece.first(Signal::AlveolarPressure) - 5.0).abs() < 1e-12);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn with_gas(mut self, place: Place, gas: Volume) -> Self {
        if let Some(node) = place.node() {
            self.stored[node] = gas.as_ml();
        }
        self
    }

    /// The same moment with a breath of the patient's own that begins now: a
    /// half-sine of muscle pressure that nobody knew before. It shows where the
    /// setup has no pattern of effort; see [`crate::coupled`] for who decides on it.
    ///
    /// ```
    /// use tidewright::prelude::*;
    /// let mut setup = Setup::default();
    /// setup.ventilator.mode = Mode::Standby;
    /// let machine = Machine::new(setup)?;
    /// let moment = Moment::at_rest(&machine).breathing_in(Pressure::cmh2o(5.0), Seconds::s(1.0));
    /// let piece = step(&machine, &moment, 60.0)?.piece;
    /// assert_eq!(piece.duration_s, 1.0);
    /// assert!((piece.at(Signal::MusclePressure, 0.5)? - 5.0).abs() < 1e-12);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn breathing_in(mut self, amplitude: Pressure, lasts: Seconds) -> Self {
        self.effort.breathe(amplitude, lasts);
        self
    }

    /// The same moment when `before` gives way to `machine`: gas stays where it
    /// is, the phase goes on unless the mode changed, and a new pattern of effort
    /// starts from its beginning.
    ///
    /// # Errors
    /// [`Misplaced`]: a place that holds gas would come or go.
    pub fn under(self, machine: &Machine, before: &Machine) -> Result<Self, Misplaced> {
        before.check_successor(machine)?;
        Ok(self.passed_on(machine, before))
    }

    /// As [`Moment::under`], where the two machines were held against each other.
    #[must_use]
    pub(crate) fn passed_on(mut self, machine: &Machine, before: &Machine) -> Self {
        if machine.setup().effort != before.setup().effort {
            self.effort = EffortClock::default();
        }
        let phase = phase::after_change(&machine.setup().ventilator, self.phase);
        if phase != self.phase {
            self.phase = phase;
            self.phase_elapsed_s = 0.0;
        }
        self
    }

    /// Whether all that shapes the run from here on is the same, bit for bit. The
    /// time of day is not part of it.
    pub(crate) fn goes_on_as(&self, other: &Self) -> bool {
        let bits = |stored: &NodeVec| stored.map(f64::to_bits);
        self.phase == other.phase
            && self.phase_elapsed_s.to_bits() == other.phase_elapsed_s.to_bits()
            && self.changes_at_this_instant == other.changes_at_this_instant
            && self.step_s.to_bits() == other.step_s.to_bits()
            && self.effort == other.effort
            && bits(&self.stored) == bits(&other.stored)
    }

    /// Sets the clocks and the phase to those after a piece.
    fn pass(&mut self, piece: &Piece, settings: &Ventilator, work: u32) {
        self.at_s += piece.duration_s;
        // A duration below the resolution of the clock moves nothing either.
        if self.at_s > piece.start_s {
            self.changes_at_this_instant = 0;
        }
        let counted_s = self.at_s - self.counting_from_s;
        if counted_s >= 1.0 {
            self.counting_from_s = self.at_s;
            self.changes_counted = 0;
            // Of ten seconds so many are over.
            self.steps_counted = (f64::from(self.steps_counted) * (1.0 - counted_s / 10.0)) as u32;
        }
        self.steps_counted = self.steps_counted.saturating_add(work);
        match piece.ended_by {
            Some(cause) => {
                self.phase = phase::next(settings, cause);
                self.phase_elapsed_s = 0.0;
                self.changes_at_this_instant += 1;
                self.changes_counted += 1;
            }
            None => self.phase_elapsed_s += piece.duration_s,
        }
    }
}

/// Goes from `moment` to the end of its phase, or less: to the horizon, to a kink
/// of the patient's effort, or as far as one step of the numeric road carries.
/// Pure: the same arguments give the same bits. The horizon is in s from `moment`
/// on; one below 0 or that is no number counts as 0, and no time passes.
///
/// # Errors
/// [`StepError::Chatter`] when phases change without time passing,
/// [`StepError::StandsStill`] when steps become too short to get anywhere,
/// [`StepError::NotFinite`] when a law gives no finite number.
///
/// ```
/// use tidewright::prelude::*;
/// let machine = Machine::new(Setup::default())?;
/// let step = step(&machine, &Moment::at_rest(&machine), 60.0)?;
/// // 2.2 L/min against 6 mL/cmH2O behind 20 cmH2O·s/L, and 0.15 mL/cmH2O of circuit.
/// let flow_ml_s = 2200.0 / 60.0;
/// let expected = (6.0 * (8.0 - 0.02 * flow_ml_s) + 0.15 * 8.0) / flow_ml_s;
/// assert!((step.piece.duration_s - expected).abs() < 0.01);
/// assert_eq!(step.piece.ended_by, Some(Cause::PressureReached));
/// assert_eq!(step.next.phase, PhaseKind::Expiration);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[inline]
pub fn step<'m>(
    machine: &'m Machine,
    moment: &Moment,
    horizon_s: f64,
) -> Result<Step<'m>, StepError> {
    let mut step = Step { piece: Piece::none(machine, moment), next: *moment };
    step_on(machine, &mut step.next, horizon_s.max(0.0), &mut step.piece)?;
    Ok(step)
}

/// As [`step`], with the moment and the piece before it giving way to those that
/// follow. After an error neither means anything.
#[inline]
pub(crate) fn step_on<'m>(
    machine: &'m Machine,
    moment: &mut Moment,
    horizon_s: f64,
    piece: &mut Piece<'m>,
) -> Result<(), StepError> {
    let setup = machine.setup();
    let shape = machine.shape(moment.phase);
    let (drive, drive_holds_s) = moment.effort.drive(&setup.effort);

    let mut horizon_s = horizon_s.min(drive_holds_s);
    let (mut by_clock, mut by_pressure) = (None, None);
    for guard in phase::guards(&setup.ventilator, moment.phase).into_iter().flatten() {
        match guard.watched {
            Watched::Clock => {
                let due = (guard.level - moment.phase_elapsed_s).max(0.0);
                if due <= horizon_s {
                    horizon_s = due;
                    by_clock = Some(guard.cause);
                }
            }
            Watched::SensedPressure => by_pressure = Some(guard),
        }
    }
    let level = by_pressure.map(|guard| guard.level);
    let (stored, step_s) = (&mut moment.stored, moment.step_s);
    let advance = shape
        .advance(stored, &drive, level, horizon_s, step_s, &mut piece.track)
        .map_err(|_| StepError::NotFinite { at_s: moment.at_s })?;
    piece.machine = machine;
    piece.start_s = moment.at_s;
    piece.duration_s = advance.duration_s;
    piece.phase = moment.phase;
    piece.phase_elapsed_s = moment.phase_elapsed_s;
    // A limit met at the same instant is listed first and wins.
    piece.ended_by = match (advance.duration_s >= horizon_s, advance.reached) {
        (true, reached) => by_clock.or(by_pressure.filter(|_| reached).map(|guard| guard.cause)),
        (false, true) => by_pressure.map(|guard| guard.cause),
        (false, false) => None,
    };
    moment.pass(piece, &setup.ventilator, advance.work);
    // Where the phase or the effort changes, a road that steps starts with care.
    let kink = piece.ended_by.is_some() || piece.duration_s >= drive_holds_s;
    moment.step_s = if kink { 0.0 } else { advance.next_step_s };
    moment.effort.advance(&setup.effort, advance.duration_s);
    let chatters = moment.changes_at_this_instant > MAX_CHANGES_AT_ONE_INSTANT
        || moment.changes_counted > MAX_CHANGES_IN_ONE_SECOND;
    if chatters {
        return Err(chatter(moment.at_s, &setup.ventilator));
    }
    if moment.steps_counted > MAX_STEPS_IN_TEN_SECONDS {
        let by_effort = shape.exact.is_some() || advance.duration_s >= drive_holds_s;
        let mend = if by_effort {
            Mend::Effort
        } else {
            Mend::of(&shape.plan, &moment.stored, drive.at(0.0))
        };
        return Err(StepError::StandsStill { at_s: moment.at_s, mend });
    }
    Ok(())
}

fn chatter(at_s: f64, settings: &Ventilator) -> StepError {
    StepError::Chatter {
        at_s,
        expiratory_time_s: settings.expiratory_time.as_s(),
        inspiratory_time_limit_s: settings.inspiratory_time_limit.as_s(),
        cycling_pressure_cmh2o: settings.cycling_pressure.as_cmh2o(),
    }
}
