//! The reference road: Dormand and Prince's method of order 5(4) from the
//! general-purpose library `ode_solvers`, at tight tolerance. It shares the
//! network's right-hand side with the numeric road and nothing else: no modes,
//! no exponentials, its own event search.

use ode_solvers::{DVector, Dopri5, System};

use super::gas;
use super::numeric::{Answer, Retaken};
use super::track::{Advance, NotFinite, Part, Stepped};
use crate::plant::network::{MAX_NODES, MAX_PATHS, NodeVec};
use crate::plant::plan::Plan;
use crate::plant::signal::Signal;
use crate::setup::Drive;

type Gas = gas::Gas<MAX_NODES, MAX_PATHS>;

const TOLERANCE: f64 = 1e-11;
/// The method has no interpolant here that is as good as its steps, so stretches
/// are kept short and events are found by integrating again to a shorter end.
const LONGEST_STRETCH_S: f64 = 0.02;

/// Stored gas, then the integral of each pressure, flow and volume.
struct Network<'a> {
    plan: &'a Plan,
    drive: Drive,
}

impl System<f64, DVector<f64>> for Network<'_> {
    fn system(&self, t: f64, y: &DVector<f64>, dy: &mut DVector<f64>) {
        let gas = gas_of(self.plan, y, self.drive.at(t));
        let inflows = self.plan.by_place(&gas.inflows);
        for (rate, value) in dy.iter_mut().zip(inflows.into_iter().chain(parts(self.plan, &gas))) {
            *rate = value;
        }
    }
}

fn gas_of(plan: &Plan, y: &DVector<f64>, muscle: f64) -> Gas {
    Gas::new(plan, &plan.by_node(&gas_at_places(y)), muscle)
}

/// What a track remembers, in its order.
fn parts(plan: &Plan, gas: &Gas) -> impl Iterator<Item = f64> {
    in_order(plan, gas.pressures, gas.flows, gas.volumes)
}

fn in_order(
    plan: &Plan,
    pressures: [f64; MAX_NODES],
    flows: [f64; MAX_PATHS],
    volumes: [f64; MAX_NODES],
) -> impl Iterator<Item = f64> {
    let (nodes, paths) = (plan.network.nodes.len(), plan.network.paths.len());
    let (pressures, volumes) = (pressures.into_iter(), volumes.into_iter());
    pressures.take(nodes).chain(flows.into_iter().take(paths)).chain(volumes.take(nodes))
}

fn size(plan: &Plan) -> usize {
    MAX_NODES + 2 * plan.network.nodes.len() + plan.network.paths.len()
}

/// To the horizon or a short stretch of it, or to where the sensed pressure
/// reaches the level.
pub(crate) fn advance(
    plan: &Plan,
    stored: &mut NodeVec,
    drive: &Drive,
    level: Option<f64>,
    horizon_s: f64,
    track: &mut Stepped,
) -> Result<Advance, NotFinite> {
    let from = &*stored;
    let sensed = plan.probe_of(Signal::SensedPressure);
    let above = |y: &DVector<f64>, t: f64| {
        level.is_some_and(|level| gas_of(plan, y, drive.at(t)).read(sensed) >= level)
    };
    let start = integrate(plan, from, drive, 0.0)?;
    let mut t = horizon_s.min(LONGEST_STRETCH_S);
    if above(&start, 0.0) {
        *track = arrive(plan, from, drive, 0.0, &start)?;
        return Ok(Advance { duration_s: 0.0, reached: true, next_step_s: 0.0, work: 1 });
    }
    // Looked at in 16 places, so that a pressure that rises above the level and
    // falls back within 20 ms is still seen.
    let mut reached = false;
    for i in 1..=16 {
        let look = t * f64::from(i) / 16.0;
        if above(&integrate(plan, from, drive, look)?, look) {
            let (mut low, mut high) = (look - t / 16.0, look);
            while high - low > 1e-13 * high.max(1e-3) {
                let middle = 0.5 * (low + high);
                if above(&integrate(plan, from, drive, middle)?, middle) {
                    high = middle;
                } else {
                    low = middle;
                }
            }
            (t, reached) = (high, true);
            break;
        }
    }
    let end = integrate(plan, from, drive, t)?;
    *track = arrive(plan, from, drive, t, &end)?;
    *stored = gas_at_places(&end);
    Ok(Advance { duration_s: t, reached, next_step_s: 0.0, work: 1 })
}

/// A signal `t` after the start of a track.
pub(crate) fn at(plan: &Plan, track: &Stepped, signal: Signal, t: f64) -> f64 {
    integrate(plan, &track.stored, &track.drive, t)
        .map_or(f64::NAN, |y| gas_of(plan, &y, track.drive.at(t)).read(plan.probe_of(signal)))
}

/// A track, to be integrated again to any time within it.
pub(crate) struct Again<'a> {
    pub plan: &'a Plan,
    pub track: &'a Stepped,
}

impl Retaken for Again<'_> {
    fn at(&self, t: f64, tell: &mut Answer<'_>) {
        let Self { plan, track } = *self;
        let stored = integrate(plan, &track.stored, &track.drive, t)
            .map_or([f64::NAN; MAX_NODES], |y| gas_at_places(&y));
        tell(&stored, &|signal| at(plan, track, signal, t));
    }
}

fn gas_at_places(y: &DVector<f64>) -> NodeVec {
    let mut stored = [0.0; MAX_NODES];
    stored.copy_from_slice(&y.as_slice()[..MAX_NODES]);
    stored
}

fn integrate(
    plan: &Plan,
    from: &NodeVec,
    drive: &Drive,
    t: f64,
) -> Result<DVector<f64>, NotFinite> {
    let mut y = DVector::zeros(size(plan));
    y.as_mut_slice()[..MAX_NODES].copy_from_slice(from);
    if t <= 0.0 {
        return Ok(y);
    }
    let system = Network { plan, drive: *drive };
    let mut solver = Dopri5::from_param(
        system,
        0.0,
        t,
        t,
        y,
        TOLERANCE,
        TOLERANCE,
        0.9,
        0.04,
        0.2,
        10.0,
        t,
        0.0,
        1_000_000,
        1_000_000,
        ode_solvers::dop_shared::OutputType::Sparse,
    );
    solver.integrate().map_err(|_| NotFinite)?;
    let end = solver.y_out().last().ok_or(NotFinite)?;
    if end.iter().all(|x| x.is_finite()) { Ok(end.clone()) } else { Err(NotFinite) }
}

fn arrive(
    plan: &Plan,
    from: &NodeVec,
    drive: &Drive,
    t: f64,
    end: &DVector<f64>,
) -> Result<Stepped, NotFinite> {
    let start = integrate(plan, from, drive, 0.0)?;
    let (first, last) = (gas_of(plan, &start, drive.at(0.0)), gas_of(plan, end, drive.at(t)));
    let integrals = end.iter().skip(MAX_NODES);
    let ends = parts(plan, &first).zip(parts(plan, &last)).zip(integrals);
    let paces = |gas: &Gas, muscle_pace| {
        let gas::Paces { pressures, flows, volumes } = gas.paces(plan, muscle_pace);
        in_order(plan, pressures, flows, volumes)
    };
    let paces = paces(&first, drive.pace(0.0)).zip(paces(&last, drive.pace(t)));
    Ok(Stepped {
        stored: *from,
        stored_end: gas_at_places(end),
        drive: *drive,
        parts: ends
            .zip(paces)
            .map(|(((first, last), &integral), (start, end))| {
                // Inside, the stretch is taken to be like its ends.
                Part { first, last, integral, pace: [start, start, end, end] }
            })
            .collect(),
    })
}
