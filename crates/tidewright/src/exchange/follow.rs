//! Gas exchange along a run of the engine.

use super::breathing::{Moved, Passed};
use super::check::GasError;
use super::reader::{Reader, Reading};
use super::strides::Within;
use super::system::{Conditions, Exchange, GasState};
use crate::base::bracket::Bracket;
use crate::stepping::phase::PhaseKind;
use crate::stepping::piece::Stretch;

/// Steps that follow a breath closely enough: halving both changes pressures by
/// less than 0.1 %.
pub const USUAL_STEPS: Steps = Steps { longest_s: 0.05, most_of_airway: 0.3 };

/// How finely a breath is followed.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Steps {
    longest_s: f64,
    most_of_airway: f64,
}

impl Steps {
    /// Steps no longer than `longest_s` (s, above 0), in each of which no more gas
    /// moves than `most_of_airway`, a share (above 0) of the volume of adapter, tube and
    /// airway.
    ///
    /// # Errors
    /// [`GasError::OutOfRange`]: steps that lead nowhere.
    ///
    /// ```
    /// use tidewright::exchange::Steps;
    /// assert!(Steps::new(0.01, 0.1).is_ok());
    /// assert!(Steps::new(0.0, 0.1).is_err());
    /// ```
    pub const fn new(longest_s: f64, most_of_airway: f64) -> Result<Self, GasError> {
        let expected = "a finite number above 0";
        if !(longest_s.is_finite() && longest_s > 0.0) {
            let what = "the longest gas step in s";
            return Err(GasError::OutOfRange { what, value: longest_s, expected });
        }
        if !(most_of_airway.is_finite() && most_of_airway > 0.0) {
            let what = "the share of the airway that moves in a gas step";
            return Err(GasError::OutOfRange { what, value: most_of_airway, expected });
        }
        Ok(Self { longest_s, most_of_airway })
    }
}

/// What passed the patient connection, and when.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sample {
    /// End of the step, s since the start of the run.
    pub at_s: f64,
    /// Length of the step, s.
    pub step_s: f64,
    /// What passed.
    pub passed: Passed,
    /// Gas that the breath moved to or from any compartment, mL: less than what passed
    /// where blood takes gas up.
    pub moved_ml: f64,
    /// What the ventilator was doing.
    pub phase: PhaseKind,
}

/// Takes the gas along a stretch of a run and tells `each` what passed the
/// patient connection, step by step. Blood may be up to four of the longest steps late or
/// ahead in the state that it is told with, until a stretch ends by an event.
///
/// Gas lost past a cuff or out of a lung is counted as lost at the T-piece; the
/// gas of a chest wall or a limb described apart is that of the setup.
///
/// # Errors
/// [`GasError`]: an exchange that cannot be or is for another lung than the machine's,
/// or conditions that cannot be.
///
/// ```
/// use tidewright::exchange::{Apparatus, Conditions, Exchange, Fractions, USUAL_STEPS, follow};
/// use tidewright::prelude::*;
/// use tidewright::species::{Animal, Species};
/// let cat = Animal::typical(Species::Cat, Mass::kg(4.0));
/// let start = Setup { lung: cat.lung(), ..Setup::default() };
/// let exchange = Exchange::new(&cat, &start.lung, Apparatus::default())?;
/// let now = Conditions::of(&cat, 38.5, Fractions::OXYGEN);
/// let mut gas = exchange.steady(PartialPressure::mmhg(35.0), &now);
/// let run = Protocol { start, changes: vec![], duration: Seconds::s(30.0) };
/// let mut highest = 0.0_f64;
/// for stretch in Simulation::new(&run)?.steps() {
///     follow(&exchange, &mut gas, &stretch?, &now, USUAL_STEPS, |_, sample| {
///         let fraction = sample.passed.mixture.carbon_dioxide;
///         highest = highest.max(fraction * exchange.dry_mmhg());
///     })?;
/// }
/// assert!((25.0..45.0).contains(&highest));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn follow(
    exchange: &Exchange,
    state: &mut GasState,
    stretch: &Stretch<'_>,
    now: &Conditions,
    steps: Steps,
    each: impl FnMut(&GasState, &Sample),
) -> Result<(), GasError> {
    exchange.check(stretch.machine)?;
    now.check()?;
    follow_checked(exchange, state, stretch, now, steps, each);
    Ok(())
}

/// As [`follow`], where gas and machine were held against each other.
pub(crate) fn follow_checked(
    exchange: &Exchange,
    state: &mut GasState,
    stretch: &Stretch<'_>,
    now: &Conditions,
    steps: Steps,
    mut each: impl FnMut(&GasState, &Sample),
) {
    let piece = &stretch.piece;
    let mut strides = state.strides;
    walk(exchange, stretch, steps, |moved, moves_ml, planned_s, next_t| {
        let left_s = piece.duration_s - next_t + moved.step_s;
        let within = Within { left_s, moves_ml, planned_s, longest_s: steps.longest_s };
        let passed = strides.stride(exchange, state, moved, now, &within);
        let at_s = piece.start_s + next_t;
        each(
            state,
            &Sample { at_s, step_s: moved.step_s, passed, moved_ml: moves_ml, phase: piece.phase },
        );
    });
    // A stretch that no event ended is gone on with.
    if piece.ended_by.is_some() {
        strides.end(exchange, state, now);
    }
    state.strides = strides;
}

/// What moves along a stretch, step by step, how much of it to or from the lung (mL), how
/// long the step was planned (s), and when it ends (s from the start of the stretch).
pub(crate) fn walk(
    exchange: &Exchange,
    stretch: &Stretch<'_>,
    steps: Steps,
    mut each: impl FnMut(&Moved, f64, f64, f64),
) {
    let piece = &stretch.piece;
    let reader = Reader::new(stretch);
    let most_ml =
        steps.most_of_airway * (exchange.airway_ml + exchange.apparatus.adapter_ml).max(0.1);
    let mut t = 0.0;
    let mut last = reader.at(t);
    let mut step_s = steps.longest_s;
    while t < piece.duration_s {
        let left_s = piece.duration_s - t;
        // Steps of even length, the last one not a splinter.
        step_s = step_s.min(steps.longest_s);
        step_s = left_s / (left_s / step_s).ceil();
        let mut next_t = if step_s >= left_s { piece.duration_s } else { t + step_s };
        let mut next = reader.at(next_t);
        let mut moved_ml = reader.moved_ml(&last, &next);
        while moved_ml > most_ml && step_s > SHORTEST_STEP_S {
            step_s = (step_s * (most_ml / moved_ml).clamp(0.1, 0.9)).max(SHORTEST_STEP_S);
            next_t = t + step_s;
            next = reader.at(next_t);
            moved_ml = reader.moved_ml(&last, &next);
        }
        if let Some(turn) = first_turn(&reader, (t, &last), (next_t, &next)) {
            (next_t, next) = turn;
            moved_ml = reader.moved_ml(&last, &next);
        }
        let moved = reader.between(&last, &next, next_t - t);
        each(&moved, moved_ml, step_s, next_t);
        (t, last) = (next_t, next);
        // As far as gas goes on as it did.
        step_s *= (most_ml / moved_ml).clamp(1.0, 2.0);
    }
}

/// No step is shorter, however fast gas moves, s: one in which several volumes of the airway
/// pass does no harm, and a second has a bounded number of them.
const SHORTEST_STEP_S: f64 = 1e-3;

/// So near an end of a step a flow that turns is taken to turn there, s; and that well its
/// turn is found.
const NEAR_S: f64 = 1e-4;

/// Where the first flow turns between two times, if one does, and what is read there.
fn first_turn(
    reader: &Reader<'_>,
    from: (f64, &Reading),
    to: (f64, &Reading),
) -> Option<(f64, Reading)> {
    let (before, after) = (reader.turning(from.1), reader.turning(to.1));
    let mut first: Option<(f64, Reading)> = None;
    for flow in 0..before.len() {
        if before[flow] * after[flow] >= 0.0 {
            continue;
        }
        let end = first.as_ref().map_or(to.0, |found| found.0);
        let turn = turn_of(reader, flow, (from.0, before[flow]), (to.0, after[flow]));
        if let Some(turn) = turn.filter(|turn| turn.0 < end) {
            first = Some(turn);
        }
    }
    first
}

/// Where one flow turns; nothing near an end.
fn turn_of(
    reader: &Reader<'_>,
    flow: usize,
    from: (f64, f64),
    to: (f64, f64),
) -> Option<(f64, Reading)> {
    let mut bracket = Bracket::new(from, to);
    let mut found = None;
    for _ in 0..MOST_LOOKS {
        let x = bracket.guess();
        let here = reader.at(x);
        let value = reader.turning(&here)[flow];
        found = Some((x, here));
        let is_before = value * from.1 > 0.0;
        let moved_s = if is_before { x - bracket.low } else { bracket.high - x };
        if value == 0.0 || moved_s < NEAR_S {
            break;
        }
        if is_before {
            bracket.raise_low(x, value);
        } else {
            bracket.lower_high(x, value);
        }
    }
    found.filter(|found| found.0 > from.0 + NEAR_S && found.0 < to.0 - NEAR_S)
}

/// Looks for a turn within a step; more are not needed where flows are smooth.
const MOST_LOOKS: u32 = 12;
