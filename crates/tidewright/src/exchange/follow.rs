//! Gas exchange along a run of the engine.

use super::breathing::{Moved, Passed};
use super::{Conditions, Exchange, GasState};
use crate::phase::PhaseKind;
use crate::plan::Plan;
use crate::run::Stretch;
use crate::setup::{PatientPort, Valve};
use crate::signal::Signal;

/// The longest step that follows a breath closely enough: halving it changes
/// pressures by less than 0.1 %.
pub const USUAL_STEP_S: f64 = 0.05;

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

/// Takes the gas along a stretch of a run, in steps of `longest_s` at most, and
/// tells `each` what passed the patient connection.
///
/// Gas lost past a cuff or out of a lung is counted as lost at the T-piece; the
/// gas of a chest wall or a limb described apart is that of the setup.
///
/// ```
/// use tidewright::exchange::{Apparatus, Conditions, Exchange, Fractions, USUAL_STEP_S, follow};
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
///     follow(&exchange, &mut gas, &stretch?, &now, USUAL_STEP_S, |_, sample| {
///         let fraction = sample.passed.mixture.carbon_dioxide;
///         highest = highest.max(fraction * exchange.dry_mmhg());
///     });
/// }
/// assert!((25.0..45.0).contains(&highest));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn follow(
    exchange: &Exchange,
    state: &mut GasState,
    stretch: &Stretch<'_>,
    now: &Conditions,
    longest_s: f64,
    mut each: impl FnMut(&GasState, &Sample),
) {
    let (machine, piece) = (stretch.machine, &stretch.piece);
    if piece.duration_s <= 0.0 {
        return;
    }
    let setup = machine.setup();
    let steps = (piece.duration_s / longest_s).ceil().max(1.0);
    let step_s = piece.duration_s / steps;
    let outlet_is_open = match setup.circuit.valve {
        Valve::Working => piece.phase.valve_is_open(),
        Valve::StuckOpen => true,
        Valve::StuckShut => false,
    } || setup.circuit.limb.is_some_and(|limb| limb.disconnected);
    let leaks = setup.circuit.leak.is_some()
        || setup.circuit.relief.is_some()
        || setup.lung.cuff.is_some()
        || setup.lung.compartments.iter().any(|part| part.air_leak.is_some());
    let lost_at = |t: f64| {
        let flow = |signal| piece.at(machine, signal, t);
        if leaks { flow(Signal::LeakFlow) + flow(Signal::ReliefFlow) } else { 0.0 }
    };
    let port = setup.circuit.patient_port;
    let outlet_at = |t: f64| match port {
        PatientPort::Open => piece.at(machine, Signal::OutletFlow, t),
        PatientPort::Connected | PatientPort::Blocked => 0.0,
    };
    let (mut lost, mut outlet) = (lost_at(0.0), outlet_at(0.0));
    let mut step = 0.0;
    while step < steps {
        step += 1.0;
        let t = if step == steps { piece.duration_s } else { step_s * step };
        let (lost_before, outlet_before) = (lost, outlet);
        (lost, outlet) = (lost_at(t), outlet_at(t));
        let (circuit_ml, compartments_ml) = Plan::volumes(&piece.stored_at(machine, t));
        let moved = Moved {
            step_s,
            fresh_ml: setup.ventilator.fresh_gas_flow.as_ml_s() * step_s,
            leak_ml: (lost_before + lost) / 2.0 * step_s,
            outlet_ml: (outlet_before + outlet) / 2.0 * step_s,
            compartments_ml,
            circuit_ml,
            outlet_is_open,
            port,
        };
        let passed = exchange.step(state, &moved, now);
        let sample = Sample { at_s: piece.start_s + t, step_s, passed, phase: piece.phase };
        each(state, &sample);
    }
}
