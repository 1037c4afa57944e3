//! The ventilator as two pure tables: which guards end a phase, and which phase
//! comes next. It knows nothing of gas; the plant knows nothing of phases.

use crate::setup::{Mode, Ventilator};

/// What the ventilator is doing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum PhaseKind {
    /// The outlet valve is shut and fresh gas fills the lung.
    Inspiration,
    /// The cycling pressure is reached and the valve has not yet opened: the
    /// valve delay. Gas still flows in; it counts as inspiration.
    ValveDelay,
    /// The outlet valve is open and the lung empties.
    Expiration,
    /// The outlet valve stays open.
    Standby,
}

impl PhaseKind {
    /// Whether the outlet valve lets gas out in this phase.
    #[must_use]
    pub fn valve_is_open(self) -> bool {
        matches!(self, Self::Expiration | Self::Standby)
    }

    /// Whether the phase counts as inspiration.
    #[must_use]
    pub fn is_inspiration(self) -> bool {
        matches!(self, Self::Inspiration | Self::ValveDelay)
    }
}

/// Why a phase ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum Cause {
    /// The inspiratory time limit ran out.
    TimeLimit,
    /// The sensed pressure reached the cycling pressure.
    PressureReached,
    /// The valve delay was over and the valve opened.
    ValveOpened,
    /// The expiratory time was over.
    ExpiratoryTimeOver,
}

/// What a guard watches.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Watched {
    /// Time since the phase began, s.
    Clock,
    /// The pressure that the ventilator senses, cmH2O.
    SensedPressure,
}

/// A condition that ends a phase: the watched value at or above a level.
///
/// A guard that is already met when the phase (or a new setup) begins ends it
/// at once.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Guard {
    /// What is watched.
    pub watched: Watched,
    /// The level, in the unit of what is watched.
    pub level: f64,
    /// What is said to have ended the phase.
    pub cause: Cause,
}

/// The guards of a phase in order of precedence: of two met at the same instant
/// the first wins. Limits come before cycling.
///
/// ```
/// use tidewright::phase::{Cause, PhaseKind, guards};
/// let guards = guards(&tidewright::setup::Ventilator::default(), PhaseKind::Inspiration);
/// assert_eq!(guards[0].unwrap().cause, Cause::TimeLimit);
/// assert_eq!(guards[1].unwrap().level, 8.0); // cmH2O
/// ```
#[inline]
#[must_use]
pub fn guards(settings: &Ventilator, phase: PhaseKind) -> [Option<Guard>; 2] {
    let clock = |level, cause| Some(Guard { watched: Watched::Clock, level, cause });
    match phase {
        PhaseKind::Inspiration => [
            clock(settings.inspiratory_time_limit.as_s(), Cause::TimeLimit),
            Some(Guard {
                watched: Watched::SensedPressure,
                level: settings.cycling_pressure.as_cmh2o(),
                cause: Cause::PressureReached,
            }),
        ],
        PhaseKind::ValveDelay => [clock(settings.valve_delay.as_s(), Cause::ValveOpened), None],
        PhaseKind::Expiration => {
            [clock(settings.expiratory_time.as_s(), Cause::ExpiratoryTimeOver), None]
        }
        PhaseKind::Standby => [None, None],
    }
}

/// The phase that a ventilator begins with.
#[must_use]
pub fn first(settings: &Ventilator) -> PhaseKind {
    match settings.mode {
        Mode::Ventilating => PhaseKind::Inspiration,
        Mode::Standby => PhaseKind::Standby,
    }
}

/// The phase that follows when `cause` ends one.
#[inline]
#[must_use]
pub fn next(settings: &Ventilator, cause: Cause) -> PhaseKind {
    match cause {
        Cause::PressureReached if settings.valve_delay.as_s() > 0.0 => PhaseKind::ValveDelay,
        Cause::PressureReached | Cause::TimeLimit | Cause::ValveOpened => PhaseKind::Expiration,
        Cause::ExpiratoryTimeOver => PhaseKind::Inspiration,
    }
}

/// The phase that goes on when the settings change in mid-phase: the same one,
/// unless the mode changed.
#[must_use]
pub fn after_change(settings: &Ventilator, phase: PhaseKind) -> PhaseKind {
    match (settings.mode, phase) {
        (Mode::Standby, _) => PhaseKind::Standby,
        (Mode::Ventilating, PhaseKind::Standby) => PhaseKind::Inspiration,
        (Mode::Ventilating, phase) => phase,
    }
}
