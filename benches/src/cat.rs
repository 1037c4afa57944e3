//! The machine that is measured: a cat of 4 kg on a circuit with little compliance.

use tidewright::gases::{Mixture, STANDARD_PRESSURE_PA};
use tidewright::prelude::*;

/// Lung compliance, mL/cmH2O.
pub const LUNG: f64 = 6.0;
/// Airway resistance, cmH2O·s/mL.
pub const AIRWAY: f64 = 0.02;
/// Circuit compliance, mL/cmH2O.
pub const CIRCUIT: f64 = 0.15;
/// Outlet resistance, cmH2O·s/mL.
pub const VALVE: f64 = 0.005;
/// Fresh gas flow, mL/s.
pub const FLOW: f64 = 22.0;
/// Cycling pressure, cmH2O.
pub const CYCLING: f64 = 10.0;
/// End-expiratory pressure, cmH2O.
pub const PEEP: f64 = 2.0;
/// Expiratory time, s: 165 breaths in ten minutes.
pub const EXPIRATION_S: f64 = 1.45;
/// Ten minutes, s.
pub const DURATION_S: f64 = 600.0;

/// The linear machine as a protocol.
#[must_use]
pub fn linear() -> Protocol {
    let mut setup = Setup::default();
    setup.lung =
        Lung::single(Compliance::ml_per_cmh2o(LUNG), Resistance::cmh2o_s_per_l(AIRWAY * 1000.0));
    setup.circuit.compliance = Compliance::ml_per_cmh2o(CIRCUIT);
    setup.circuit.valve_resistance = Resistance::cmh2o_s_per_l(VALVE * 1000.0);
    setup.ventilator.fresh_gas_flow = Flow::ml_s(FLOW);
    setup.ventilator.cycling_pressure = Pressure::cmh2o(CYCLING);
    setup.ventilator.end_expiratory_pressure = Pressure::cmh2o(PEEP);
    setup.ventilator.expiratory_time = Seconds::s(EXPIRATION_S);
    setup.ventilator.inspiratory_time_limit = Seconds::s(5.0);
    Protocol { start: setup, changes: vec![], duration: Seconds::s(DURATION_S) }
}

/// The same with a hole for a leak and a tube whose resistance grows with flow.
#[must_use]
pub fn curved() -> Protocol {
    let mut protocol = linear();
    let setup = &mut protocol.start;
    setup.circuit.leak = Some(Leak::orifice(Flow::ml_s(5.0), Pressure::cmh2o(30.0)));
    setup.lung.tube = Tube::Quadratic { k1: 15.0, k2: 150.0 };
    setup.lung.compartments[0].resistance = Resistance::cmh2o_s_per_l(5.0);
    protocol
}

/// Conductance of the orifice leak of [`curved`], mL/s for each √cmH2O.
#[must_use]
pub fn orifice() -> f64 {
    5.0 / 30.0_f64.sqrt()
}

/// Inspiratory times of every breath of a run, s.
///
/// # Panics
/// If the protocol cannot be run, which would make the measurement void.
#[must_use]
pub fn inspiratory_times(protocol: &Protocol, solver: Solver) -> Vec<f64> {
    let simulation = Simulation::with_solver(protocol, solver).expect("a machine that runs");
    let (breaths, _) = simulation.breaths().expect("a run that goes on");
    breaths.iter().map(|breath| breath.inspiratory_time.as_s()).collect()
}

/// Largest difference between two lists of inspiratory times, s.
///
/// # Panics
/// If one has more breaths than the other.
#[must_use]
pub fn worst_error(times: &[f64], truth: &[f64]) -> f64 {
    assert_eq!(times.len(), truth.len(), "the same breaths");
    times.iter().zip(truth).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max)
}

/// Rates of change of circuit and lung pressure, cmH2O/s; linear or curved.
#[must_use]
pub fn rates(curved: bool, open: bool, [circuit, lung]: [f64; 2]) -> [f64; 2] {
    let across = circuit - lung;
    let airway = if curved {
        // k1 = 20, k2 = 150 in series: 0.02·Q + 150e-6·Q·|Q|.
        2.0 * across / (AIRWAY + (AIRWAY * AIRWAY + 6e-4 * across.abs()).sqrt())
    } else {
        across / AIRWAY
    };
    let leak = if curved { orifice() * circuit.abs().sqrt().copysign(circuit) } else { 0.0 };
    let outlet = if open { (circuit - PEEP) / VALVE } else { 0.0 };
    [(FLOW - airway - leak - outlet) / CIRCUIT, airway / LUNG]
}

/// What programs from outside need to be told of the tube's gas: density in kg/m³ and
/// viscosity in Pa·s.
#[must_use]
pub fn gas_of_the_tube() -> [f64; 2] {
    let gas = Mixture::OXYGEN.properties(37.0, STANDARD_PRESSURE_PA);
    [gas.density_kg_m3, gas.viscosity_pa_s]
}
