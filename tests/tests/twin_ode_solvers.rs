//! Two roads to one answer: the same machines stated as differential equations
//! (`plant.rs`) and stepped by the explicit Runge-Kutta methods of the library
//! `ode_solvers`.
//!
//! That library stops after the step in which a condition is met and has no
//! search inside it, so the event is closed in on by stepping again from the
//! start of that step. Its stiffness counter would end the run, so it is raised.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

mod common;

use common::machines::{cases, plain_frame, setup};
use ode_solvers::dop_shared::OutputType;
use ode_solvers::{DVector, Dop853, Dopri5, System};
use proptest::prelude::*;
use tidewright::prelude::*;
use tidewright_tests::plant::Plant;

const RTOL: f64 = 1e-11;
const ATOL: f64 = 1e-12;
/// What the solver's tolerance lets its pressures be off by, for each unit of
/// the largest pressure around: a hundred steps' worth of errors.
const PRESSURE_ERROR: f64 = 1e-9;
/// Explicit steps are as short as the fastest time constant; a stiff machine is
/// followed for as long as this many of them carry.
const MOST_STEPS: f64 = 2e4;

#[derive(Clone, Copy, Debug)]
enum Method {
    Dopri5,
    Dop853,
}

struct Equations<'a> {
    plant: &'a Plant,
    stop_at: f64,
}

impl System<f64, DVector<f64>> for Equations<'_> {
    fn system(&self, _t: f64, state: &DVector<f64>, rates: &mut DVector<f64>) {
        self.plant.rates(state.as_slice(), rates.as_mut_slice());
    }

    fn solout(&mut self, _t: f64, state: &DVector<f64>, _rates: &DVector<f64>) -> bool {
        self.plant.airway_pressure(state.as_slice()) >= self.stop_at
    }
}

/// All steps, as (time, state), to `end` or to the first at or above `stop_at`.
fn steps(
    method: Method,
    plant: &Plant,
    start: &DVector<f64>,
    end: f64,
    stop_at: f64,
) -> Vec<(f64, DVector<f64>)> {
    let equations = Equations { plant, stop_at };
    let (y, most, kind) = (start.clone(), u32::MAX, OutputType::Sparse);
    // Steps stay short beside a breath, so that a crossing shows at their ends.
    let longest = 0.02_f64.min(end);
    let (times, states) = match method {
        Method::Dopri5 => {
            let mut solver = Dopri5::from_param(
                equations, 0.0, end, end, y, RTOL, ATOL, 0.9, 0.04, 0.2, 10.0, longest, 0.0, most,
                most, kind,
            );
            solver.integrate().unwrap();
            (solver.x_out().clone(), solver.y_out().clone())
        }
        Method::Dop853 => {
            let mut solver = Dop853::from_param(
                equations, 0.0, end, end, y, RTOL, ATOL, 0.9, 0.0, 0.333, 6.0, longest, 0.0, most,
                most, kind,
            );
            solver.integrate().unwrap();
            (solver.x_out().clone(), solver.y_out().clone())
        }
    };
    times.into_iter().zip(states).collect()
}

/// Time and state at the first crossing of `level`, or at `end`.
fn phase(
    method: Method,
    plant: &Plant,
    start: &DVector<f64>,
    end: f64,
    level: f64,
) -> (f64, DVector<f64>, bool) {
    let pressure = |state: &DVector<f64>| plant.airway_pressure(state.as_slice());
    if end == 0.0 || pressure(start) >= level {
        // Of two met at once the limit wins.
        return (0.0, start.clone(), end > 0.0);
    }
    let all = steps(method, plant, start, end, level);
    let (t, state) = all.last().unwrap().clone();
    if pressure(&state) < level {
        return (t, state, false);
    }
    let (from, before) = all[all.len() - 2].clone();
    let restep =
        |time: f64| steps(method, plant, &before, time, f64::INFINITY).last().unwrap().1.clone();
    // False position on the pressure at the end of one more step.
    let (mut low, mut high, mut state) = (0.0, t - from, state);
    let (mut miss_low, mut miss_high) = (pressure(&before) - level, pressure(&state) - level);
    while high - low > 1e-13 && miss_high > 0.0 {
        let mut time = high - miss_high * (high - low) / (miss_high - miss_low);
        if !(time > low && time < high) {
            time = 0.5 * (low + high);
        }
        let next = restep(time);
        let miss = pressure(&next) - level;
        if miss < 0.0 {
            (low, miss_low, miss_high) = (time, miss, 0.5 * miss_high);
        } else {
            (high, miss_high, miss_low, state) = (time, miss, 0.5 * miss_low, next);
        }
        if miss.abs() < 1e-14 * (1.0 + level.abs()) {
            return (from + time, restep(time), true);
        }
    }
    (from + high, state, true)
}

/// The fastest rate that the equations can have, 1/s.
fn fastest_rate(plant: &Plant) -> f64 {
    let n = plant.size();
    let at = |state: &[f64]| {
        let mut rates = vec![0.0; n];
        plant.rates(state, &mut rates);
        rates
    };
    let none = at(&vec![0.0; n]);
    let row_sums = (0..n).map(|i| {
        let column = |j: usize| {
            let mut state = vec![0.0; n];
            state[j] = 1.0;
            (at(&state)[i] - none[i]).abs()
        };
        (0..n).map(column).sum::<f64>()
    });
    row_sums.fold(1.0, f64::max)
}

/// Follows both roads from rest, phase by phase.
fn compare(setup: &Setup, method: Method) -> Result<(), TestCaseError> {
    let machine = Machine::new(setup.clone()).unwrap();
    let plants = [false, true].map(|open| Plant::new(setup, open));
    let horizon = 6.0_f64.min(MOST_STEPS / plants.each_ref().map(fastest_rate)[1]);
    let ventilator = &setup.ventilator;
    let mut moment = Moment::at_rest(&machine);
    let mut state = DVector::from_vec(plants[0].at_rest());
    let (mut left, mut late) = (horizon, 0.0);
    for _ in 0..12 {
        let plant = &plants[usize::from(moment.phase.valve_is_open())];
        let level = match moment.phase {
            PhaseKind::Inspiration => ventilator.cycling_pressure.as_cmh2o(),
            _ => f64::INFINITY,
        };
        let limit = match moment.phase {
            PhaseKind::Inspiration => ventilator.inspiratory_time_limit.as_s(),
            PhaseKind::ValveDelay => ventilator.valve_delay.as_s(),
            PhaseKind::Expiration => ventilator.expiratory_time.as_s(),
            PhaseKind::Standby => f64::INFINITY,
        };
        let Ok(done) = step(&machine, &moment, left) else { return Ok(()) };
        let (time, after, reached) = phase(method, plant, &state, limit.min(left), level);
        let size = 1.0
            + state.amax().max(after.amax())
            + ventilator.end_expiratory_pressure.as_cmh2o().abs()
            + plant.airway_pressure(after.as_slice()).abs();
        let error = PRESSURE_ERROR * size;

        // How fast the pressure rises where it meets the level tells how late the
        // solver's pressure error makes it.
        let mut rates = DVector::zeros(plant.size());
        plant.rates(after.as_slice(), rates.as_mut_slice());
        let moved = &after + &rates;
        let rise =
            plant.airway_pressure(moved.as_slice()) - plant.airway_pressure(after.as_slice());
        let by_pressure = done.piece.ended_by == Some(Cause::PressureReached);
        if by_pressure != reached {
            // Only a pressure that just touches the level may be seen on one road alone.
            let top = done.piece.range(Signal::AirwayPressure).1;
            prop_assert!((top - level).abs() < 10.0 * error, "{top} and {level}");
            return Ok(());
        }
        let may_be_late = late + if reached && time > 0.0 { error / rise.max(1e-300) } else { 0.0 };
        if may_be_late > 1e-3 {
            return Ok(());
        }
        let miss = (done.piece.duration_s - time).abs();
        prop_assert!(miss <= may_be_late + 1e-12, "{miss:e} s off {time} s in {:?}", moment.phase);
        let volume = plant.lung_volume(after.as_slice());
        let shown = done.piece.last(Signal::LungVolume);
        let capacity = setup.lung.total_compliance().as_ml_per_cmh2o();
        let flow = done.piece.last(Signal::AirwayFlow).abs();
        prop_assert!(
            (shown - volume).abs() <= capacity * error + flow * may_be_late,
            "{shown} mL, {volume} mL after {time} s of {:?}",
            moment.phase
        );
        left -= time;
        late = may_be_late;
        if done.piece.ended_by.is_none() || left <= 0.0 {
            return Ok(());
        }
        (moment, state) = (done.next, after);
    }
    Ok(())
}

proptest! {
    #![proptest_config(cases(200))]

    #[test]
    fn twin_dopri5_tells_the_same_story(setup in plain_frame().prop_flat_map(setup)) {
        compare(&setup, Method::Dopri5)?;
    }

    #[test]
    fn twin_dop853_tells_the_same_story(setup in plain_frame().prop_flat_map(setup)) {
        compare(&setup, Method::Dop853)?;
    }
}

#[test]
fn twin_the_cat_of_the_speed_table_breath_by_breath() {
    // Rates are bounded by 50,000/s here; two breaths are enough.
    let mut setup = tidewright_tests::two_node::cat();
    setup.circuit.compliance = Compliance::ml_per_cmh2o(1.5);
    for method in [Method::Dopri5, Method::Dop853] {
        compare(&setup, method).unwrap();
    }
}
