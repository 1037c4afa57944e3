//! The cat by `diffsol`: variable-order BDF with root finding. Its step is capped,
//! since at its own steps it passes over the pressure event of a short breath.

use diffsol::{NalgebraLU, NalgebraMat, OdeBuilder, OdeSolverMethod, OdeSolverStopReason};

use crate::cat::{AIRWAY, CIRCUIT, CYCLING, DURATION_S, EXPIRATION_S, FLOW, LUNG, PEEP, VALVE};

type M = NalgebraMat<f64>;

/// Runs one phase from `from`: until the pressure or the time; time and state then.
fn phase(from: [f64; 2], open: bool, until: f64, tolerance: f64) -> (f64, [f64; 2]) {
    let outlet = if open { 1.0 / VALVE } else { 0.0 };
    let rhs = move |x: &[f64], _: &[f64], _: f64, y: &mut [f64]| {
        let airway = (x[0] - x[1]) / AIRWAY;
        y[0] = (FLOW - airway - outlet * (x[0] - PEEP)) / CIRCUIT;
        y[1] = airway / LUNG;
    };
    let jacobian = move |_: &[f64], _: &[f64], _: f64, v: &[f64], y: &mut [f64]| {
        let airway = (v[0] - v[1]) / AIRWAY;
        y[0] = (-airway - outlet * v[0]) / CIRCUIT;
        y[1] = airway / LUNG;
    };
    let start = move |_: &[f64], _: f64, y: &mut [f64]| y.copy_from_slice(&from);
    let level = if open { 1e9 } else { CYCLING };
    let root = move |x: &[f64], _: &[f64], _: f64, y: &mut [f64]| y[0] = x[0] - level;
    let problem = OdeBuilder::<M>::new()
        .rtol(tolerance)
        .atol([tolerance])
        .rhs_implicit(rhs, jacobian)
        .init(start, 2)
        .root(root, 1)
        .build()
        .expect("a problem that builds");
    let mut solver = problem.bdf::<NalgebraLU<f64>>().expect("a solver");
    solver.set_stop_time(until).expect("a stop time ahead");
    loop {
        match solver.step().expect("a step that succeeds") {
            OdeSolverStopReason::InternalTimestep => {}
            OdeSolverStopReason::RootFound(t, _) => {
                let at = solver.interpolate(t).expect("a time within the step");
                return (t, [at.batch_as_slice(0)[0], at.batch_as_slice(0)[1]]);
            }
            OdeSolverStopReason::TstopReached => {
                let state = solver.state();
                return (until, [state.y.batch_as_slice(0)[0], state.y.batch_as_slice(0)[1]]);
            }
        }
    }
}

/// Inspiratory times of the breaths of ten minutes, s.
///
/// # Panics
/// If an integration fails, which would make the measurement void.
#[must_use]
pub fn inspiratory_times(tolerance: f64) -> Vec<f64> {
    let (mut y, mut now, mut times) = ([PEEP, PEEP], 0.0, Vec::new());
    loop {
        let (inspiration, turn) = phase(y, false, 5.0, tolerance);
        (_, y) = phase(turn, true, EXPIRATION_S, tolerance);
        now += inspiration + EXPIRATION_S;
        if now > DURATION_S {
            return times;
        }
        times.push(inspiration);
    }
}
