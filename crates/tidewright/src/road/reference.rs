//! The reference road: Dormand and Prince's method of order 5(4) from the
//! general-purpose library `ode_solvers`, at tight tolerance. It shares the
//! network's right-hand side with the numeric road and nothing else: no modes,
//! no exponentials, its own event search.

use ode_solvers::{DVector, Dopri5, System};

use super::rosenbrock::{NotFinite, Track};
use super::{Advance, Track as RoadTrack, gas::Gas};
use crate::network::{MAX_NODES, NodeVec};
use crate::plan::Plan;
use crate::setup::Drive;
use crate::signal::Signal;

const SIGNALS: usize = Signal::ALL.len();
const TOLERANCE: f64 = 1e-11;
/// The method has no interpolant here that is as good as its steps, so stretches
/// are kept short and events are found by integrating again to a shorter end.
const LONGEST_STRETCH_S: f64 = 0.02;

/// Stored gas, then the integral of each signal.
struct Network<'a> {
    plan: &'a Plan,
    drive: Drive,
}

impl System<f64, DVector<f64>> for Network<'_> {
    fn system(&self, t: f64, y: &DVector<f64>, dy: &mut DVector<f64>) {
        let gas = Gas::new(self.plan, &stored(y), self.drive.at(t));
        for i in 0..MAX_NODES {
            dy[i] = gas.inflows[i];
        }
        for (i, signal) in Signal::ALL.into_iter().enumerate() {
            dy[MAX_NODES + i] = gas.read(self.plan.probe_of(signal));
        }
    }
}

/// To the horizon or a short stretch of it, or to where the sensed pressure
/// reaches the level.
pub(crate) fn advance(
    plan: &Plan,
    from: &NodeVec,
    drive: &Drive,
    level: Option<f64>,
    horizon_s: f64,
) -> Result<Advance, NotFinite> {
    let sensed = plan.probe_of(Signal::SensedPressure);
    let above = |y: &DVector<f64>, t: f64| {
        level.is_some_and(|level| Gas::new(plan, &stored(y), drive.at(t)).read(sensed) >= level)
    };
    let start = integrate(plan, from, drive, 0.0)?;
    let mut t = horizon_s.min(LONGEST_STRETCH_S);
    if above(&start, 0.0) {
        return arrive(plan, from, drive, 0.0, &start, true);
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
    arrive(plan, from, drive, t, &end, reached)
}

/// A signal `t` after the start of a track.
pub(crate) fn at(plan: &Plan, track: &Track, signal: Signal, t: f64) -> f64 {
    integrate(plan, &track.stored, &track.drive, t).map_or(f64::NAN, |y| {
        Gas::new(plan, &stored(&y), track.drive.at(t)).read(plan.probe_of(signal))
    })
}

/// Gas at each node `t` after the start of a track.
pub(crate) fn stored_at(plan: &Plan, track: &Track, t: f64) -> NodeVec {
    integrate(plan, &track.stored, &track.drive, t).map_or([f64::NAN; MAX_NODES], |y| stored(&y))
}

fn stored(y: &DVector<f64>) -> NodeVec {
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
    let mut y = DVector::zeros(MAX_NODES + SIGNALS);
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
    reached: bool,
) -> Result<Advance, NotFinite> {
    let (first, last) =
        (Gas::new(plan, from, drive.at(0.0)), Gas::new(plan, &stored(end), drive.at(t)));
    let read = |gas: &Gas| Signal::ALL.map(|signal| gas.read(plan.probe_of(signal)));
    let mut integral = [0.0; SIGNALS];
    integral.copy_from_slice(&end.as_slice()[MAX_NODES..]);
    let (at_start, at_end) = (read(&first), read(&last));
    let track = Track {
        stored: *from,
        stored_end: stored(end),
        drive: *drive,
        first: at_start,
        last: at_end,
        integral,
        pace: pace(plan, from, drive, t)?,
    };
    Ok(Advance {
        duration_s: t,
        reached,
        stored: stored(end),
        track: RoadTrack::Stepped(Box::new(track)),
        next_step_s: 0.0,
    })
}

/// Rates of change at both ends, by differences over a thousandth of the stretch.
fn pace(
    plan: &Plan,
    from: &NodeVec,
    drive: &Drive,
    t: f64,
) -> Result<[[f64; SIGNALS]; 2], NotFinite> {
    let mut pace = [[0.0; SIGNALS]; 2];
    let h = 1e-3 * t;
    if h <= 0.0 {
        return Ok(pace);
    }
    let read = |time: f64| -> Result<[f64; SIGNALS], NotFinite> {
        let y = integrate(plan, from, drive, time)?;
        let gas = Gas::new(plan, &stored(&y), drive.at(time));
        Ok(Signal::ALL.map(|signal| gas.read(plan.probe_of(signal))))
    };
    for (pace, (a, b)) in pace.iter_mut().zip([(0.0, h), (t - h, t)]) {
        let (before, after) = (read(a)?, read(b)?);
        for i in 0..SIGNALS {
            pace[i] = (after[i] - before[i]) / h;
        }
    }
    Ok(pace)
}
