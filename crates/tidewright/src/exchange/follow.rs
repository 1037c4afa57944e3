//! Gas exchange along a run of the engine.

use super::breathing::{Moved, Passed};
use super::{Conditions, Exchange, GasError, GasState, Strides};
use crate::plant::plan::Plan;
use crate::plant::signal::Signal;
use crate::setup::{Compartment, MAX_COMPARTMENTS, PatientPort, Tube, Valve};
use crate::stepping::phase::PhaseKind;
use crate::stepping::piece::Stretch;

/// Steps that follow a breath closely enough: halving both changes pressures by
/// less than 0.1 %.
pub const USUAL_STEPS: Steps = Steps { longest_s: 0.05, most_of_airway: 0.25 };

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
    /// What the ventilator was doing.
    pub phase: PhaseKind,
}

/// Takes the gas along a stretch of a run and tells `each` what passed the
/// patient connection, step by step. The state that it is told with still owes half a
/// step of exchange with blood, until the stretch is over.
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
    let reader = Reader::new(stretch);
    let most_ml =
        steps.most_of_airway * (exchange.airway_ml + exchange.apparatus.adapter_ml).max(0.1);
    let mut t = 0.0;
    let mut last = reader.at(t);
    let mut step_s = steps.longest_s;
    let mut strides = Strides::default();
    while t < piece.duration_s {
        let left_s = piece.duration_s - t;
        // Steps of even length, the last one not a splinter.
        step_s = (step_s * 2.0).min(steps.longest_s);
        step_s = left_s / (left_s / step_s).ceil();
        let mut next_t = if step_s >= left_s { piece.duration_s } else { t + step_s };
        let mut next = reader.at(next_t);
        while last.moved_ml(&next) > most_ml && step_s > SHORTEST_STEP_S {
            step_s /= 2.0;
            next_t = t + step_s;
            next = reader.at(next_t);
        }
        let moved = reader.between(&last, &next, next_t - t);
        let passed = strides.step(exchange, state, &moved, now);
        let at_s = piece.start_s + next_t;
        each(state, &Sample { at_s, step_s: next_t - t, passed, phase: piece.phase });
        (t, last) = (next_t, next);
    }
    strides.end(exchange, state, now);
}

/// No step is shorter, however fast gas moves, s.
const SHORTEST_STEP_S: f64 = 1e-4;

/// Reads off a stretch what the gas needs to know.
struct Reader<'a> {
    stretch: &'a Stretch<'a>,
    fresh_ml_s: f64,
    leaks: bool,
    outlet_is_open: bool,
    reached: [bool; MAX_COMPARTMENTS],
    port: PatientPort,
}

/// What a stretch says at one instant.
#[derive(Clone, Copy, Debug)]
struct Reading {
    circuit_ml: f64,
    compartments_ml: [f64; MAX_COMPARTMENTS],
    lost_ml_s: f64,
    outlet_ml_s: f64,
}

impl<'a> Reader<'a> {
    fn new(stretch: &'a Stretch<'a>) -> Self {
        let setup = stretch.machine.setup();
        let circuit = &setup.circuit;
        let obeys = match circuit.valve {
            Valve::Working => stretch.piece.phase.valve_is_open(),
            Valve::StuckOpen => true,
            Valve::StuckShut => false,
        };
        let leaks = circuit.leak.is_some()
            || circuit.relief.is_some()
            || setup.lung.cuff.is_some()
            || setup.lung.compartments.iter().any(|part| part.air_leak.is_some());
        let passes = setup.lung.tube != Tube::Shut;
        let is_reached = |part: Option<&Compartment>| part.is_some_and(|part| !part.shut);
        Self {
            stretch,
            reached: std::array::from_fn(|i| passes && is_reached(setup.lung.compartments.get(i))),
            fresh_ml_s: setup.ventilator.fresh_gas_flow.as_ml_s(),
            leaks,
            outlet_is_open: obeys || circuit.limb.is_some_and(|limb| limb.disconnected),
            port: circuit.patient_port,
        }
    }

    fn at(&self, t_s: f64) -> Reading {
        let piece = &self.stretch.piece;
        let flow = |signal| piece.nearest(signal, t_s);
        let (circuit_ml, compartments_ml) = Plan::volumes(&piece.stored_at(t_s));
        Reading {
            circuit_ml,
            compartments_ml,
            lost_ml_s: if self.leaks {
                flow(Signal::LeakFlow) + flow(Signal::ReliefFlow)
            } else {
                0.0
            },
            outlet_ml_s: match self.port {
                PatientPort::Open => flow(Signal::OutletFlow),
                PatientPort::Connected | PatientPort::Blocked => 0.0,
            },
        }
    }

    fn between(&self, before: &Reading, after: &Reading, step_s: f64) -> Moved {
        Moved {
            step_s,
            fresh_ml: self.fresh_ml_s * step_s,
            leak_ml: (before.lost_ml_s + after.lost_ml_s) / 2.0 * step_s,
            outlet_ml: (before.outlet_ml_s + after.outlet_ml_s) / 2.0 * step_s,
            compartments_ml: after.compartments_ml,
            reached: self.reached,
            circuit_ml: after.circuit_ml,
            outlet_is_open: self.outlet_is_open,
            port: self.port,
        }
    }
}

impl Reading {
    /// Gas that moved to or from any compartment.
    fn moved_ml(&self, next: &Self) -> f64 {
        self.compartments_ml.iter().zip(next.compartments_ml).map(|(a, b)| (b - a).abs()).sum()
    }
}
