//! The numeric road: steps of [`super::rosenbrock`], adaptive, that end exactly
//! on events and just beyond the kinks of the path laws.

use std::f64::consts::FRAC_PI_2;

use super::gas::Gas;
use super::rosenbrock::{Linearised, StepTaken};
use super::track::{Advance, NotFinite, Stepped};
use crate::plant::network::NodeVec;
use crate::plant::plan::Plan;
use crate::plant::signal::{Probe, Signal};
use crate::road::curve::Curve;
use crate::setup::Drive;

/// No step is longer than this, s, so that a law may have features at that scale.
const LONGEST_STEP_S: f64 = 0.25;
/// A step as short as this, s, is taken whatever its error: the kink of a law
/// lies within it and the solution is continuous across.
const SHORTEST_STEP_S: f64 = 1e-9;
/// As near as a level can be met for sure, for pressures up to about 1 cmH2O in
/// the machine and in proportion above.
const ROUNDING: f64 = 1e-13;
/// A few times the last bit of a number, as a share of it.
const LAST_BITS: f64 = 8.0 * f64::EPSILON;
/// How far beyond a kink a step may end, as a part of its length.
const KINK_SLACK: f64 = 1e-6;

/// To the horizon or less: to the end of one step that is accurate enough, or
/// to where the sensed pressure reaches the level.
pub(crate) fn advance<const N: usize, const P: usize>(
    plan: &Plan,
    stored: &mut NodeVec,
    drive: &Drive,
    level: Option<f64>,
    horizon_s: f64,
    step_s: f64,
    track: &mut Stepped,
) -> Result<Advance, NotFinite> {
    let from = Linearised::<N, P>::new(plan, &plan.by_node(stored), drive);
    let mut arrive = |step: &StepTaken<N, P>, reached, next_step_s| {
        from.arrive(step, track)?;
        *stored = plan.by_place(step.stored());
        let work = work_of(plan, from.tries.get());
        Ok(Advance { duration_s: step.h, reached, next_step_s, work })
    };
    let reached = level.is_some_and(|level| from.sensed_now() >= level);
    if horizon_s <= 0.0 || reached {
        return arrive(&from.step(0.0), reached, step_s);
    }
    let mut wish = if step_s > 0.0 { step_s } else { from.cautious_step() };
    // However well it is followed, a wave of effort is not passed over in one step:
    // a signal may turn with it.
    let quarter_wave = FRAC_PI_2 / drive.omega;
    let longest = if drive.amplitude == 0.0 { LONGEST_STEP_S } else { quarter_wave };
    let mut h = wish.min(longest).min(LONGEST_STEP_S);
    if h >= horizon_s {
        h = horizon_s;
    } else if 2.0 * h > horizon_s {
        // Two even steps instead of one long and one sliver.
        h = 0.5 * horizon_s;
    }
    let (step, spare) = (&mut StepTaken::none(), &mut StepTaken::none());
    loop {
        from.take(h, step);
        if let Some(kink) = from.first_kink(step) {
            from.land(&|gas| kink.beyond(plan, gas), step, spare, KINK_SLACK, 0.0);
            if step.h < SHORTEST_STEP_S.min(h) {
                // Too near a kink to be told from it, a step would get nowhere.
                from.take(SHORTEST_STEP_S.min(h), step);
            }
            h = step.h;
        }
        if !step.error.is_finite() && h <= SHORTEST_STEP_S {
            return Err(NotFinite);
        }
        if step.error > 1.0 && h > SHORTEST_STEP_S || !step.error.is_finite() {
            h = (h * growth(step.error).max(0.2)).max(0.5 * SHORTEST_STEP_S);
            wish = h;
            continue;
        }
        // A step cut short may have seen too little to speak for a longer one.
        let grown = h * growth(step.error);
        let grown = grown.min(if h < 0.5 * wish { wish } else { 4.0 * h });
        let Some(level) = level else {
            return arrive(step, false, grown);
        };
        match from.first_crossing(step, level) {
            Crossing::None => return arrive(step, false, grown),
            Crossing::Once => {
                let probe = plan.probe_of(Signal::SensedPressure);
                let near = from.rounding(level);
                from.land(&|gas| gas.read(probe) - level, step, spare, 0.0, near);
                return arrive(step, true, grown);
            }
            // A step too short to change anything would be taken for ever.
            Crossing::Within(time) => h = time.max(SHORTEST_STEP_S),
        }
    }
}

/// The work of a piece that took so many tries, in steps of a machine of three nodes; what
/// is read of it afterwards counts for two.
fn work_of(plan: &Plan, tries: u32) -> u32 {
    let nodes = plan.network.nodes.len() as u32;
    (tries + 2) * (nodes * nodes / 9).max(1)
}

/// Factor for the next step from a relative error. Errors grow with the fifth
/// power of the step; a power of 3/16 is near 1/5 and needs square roots alone.
fn growth(error: f64) -> f64 {
    if !error.is_finite() {
        return 0.0;
    }
    let share = (0.55 / error.max(1e-16)).sqrt();
    (share * share.sqrt()).sqrt().sqrt()
}

enum Crossing {
    None,
    /// There is one, and the step has no other.
    Once,
    /// Look again at a step that ends at this time, before which there is none, or
    /// by which there is one.
    Within(f64),
}

/// What is asked of a signal that can be read at any time within a step.
pub(crate) type Question<'a> = dyn FnMut(&dyn Fn(f64) -> f64) + 'a;

/// What is told of one time: gas at each place, and how a signal is read.
pub(crate) type Answer<'a> = dyn FnMut(&NodeVec, &dyn Fn(Signal) -> f64) + 'a;

/// A signal `t` after the start of a track: the step taken anew to that time.
pub(crate) fn at(plan: &Plan, track: &Stepped, signal: Signal, t: f64) -> f64 {
    let mut answer = f64::NAN;
    along(plan, track, signal, &mut |value| answer = value(t));
    answer
}

/// As [`at`], for all the times that `ask` looks at.
pub(crate) fn along(plan: &Plan, track: &Stepped, signal: Signal, ask: &mut Question<'_>) {
    in_size_of!(plan, along_step, plan, track, signal, ask);
}

/// More than a signal comes to anywhere in a step of `h` s: where a mode is so stiff that
/// its pace at a look tells little of the way to the next, the linearisation still does.
pub(crate) fn most(plan: &Plan, track: &Stepped, signal: Signal, h: f64) -> f64 {
    in_size_of!(plan, most_in_step, plan, track, signal, h)
}

fn most_in_step<const N: usize, const P: usize>(
    plan: &Plan,
    track: &Stepped,
    signal: Signal,
    h: f64,
) -> f64 {
    let from = Linearised::<N, P>::new(plan, &plan.by_node(&track.stored), &track.drive);
    let (probe, step) = (plan.probe_of(signal), from.step(h));
    let curve = from.curve(probe);
    curve.highest(h, curve.at(h), f64::NEG_INFINITY) + from.missed(&step, probe, &curve)
}

/// A step that can be taken anew to any time within it.
pub(crate) trait Retaken {
    /// Tells what is to be known `t` after its start.
    fn at(&self, t: f64, tell: &mut Answer<'_>);
}

/// For who reads several signals at many times: the step is linearised once.
pub(crate) fn retaken<'a>(plan: &'a Plan, track: &Stepped) -> Box<dyn Retaken + 'a> {
    in_size_of!(plan, retaken_step, plan, track)
}

fn retaken_step<'a, const N: usize, const P: usize>(
    plan: &'a Plan,
    track: &Stepped,
) -> Box<dyn Retaken + 'a> {
    Box::new(Linearised::<N, P>::new(plan, &plan.by_node(&track.stored), &track.drive))
}

impl<const N: usize, const P: usize> Retaken for Linearised<'_, N, P> {
    fn at(&self, t: f64, tell: &mut Answer<'_>) {
        let step = self.step(t);
        let read = |signal| step.end().read(self.plan.probe_of(signal));
        tell(&self.plan.by_place(step.stored()), &read);
    }
}

fn along_step<const N: usize, const P: usize>(
    plan: &Plan,
    track: &Stepped,
    signal: Signal,
    ask: &mut Question<'_>,
) {
    let from = Linearised::<N, P>::new(plan, &plan.by_node(&track.stored), &track.drive);
    ask(&|t| from.step(t).end().read(plan.probe_of(signal)));
}

impl<const N: usize, const P: usize> Linearised<'_, N, P> {
    /// The first time in the step at which the sensed pressure reaches `level`.
    ///
    /// The linearised pressure is a curve whose bounds are known. What it misses
    /// starts from nothing, smoothly, and is known at three places of the step;
    /// twice the largest bounds it all along. Below level minus that bound there is
    /// no crossing.
    fn first_crossing(&self, step: &StepTaken<N, P>, level: f64) -> Crossing {
        let probe = self.plan.probe_of(Signal::SensedPressure);
        let curve = self.curve(probe);
        let (h, end) = (step.h, step.end().read(probe));
        let rounding = self.rounding(level);
        let missed = self.missed(step, probe, &curve) + 0.1 * rounding;
        let earliest = curve.first_at_or_above(level - missed, h).unwrap_or(h);
        let once = end >= level && curve.rises_within(earliest, h);
        let settled = earliest >= h * (1.0 - 1e-12) || h <= SHORTEST_STEP_S;
        // Where the curve is the pressure to rounding, it says itself whether it
        // rises above the level and falls back, or only keeps close to it: such a
        // pressure is not met by looking closer.
        let falls_back = || curve.first_at_or_above(level + missed, h);
        match () {
            () if end >= level && (once || settled) => Crossing::Once,
            () if settled => Crossing::None,
            () if missed <= rounding && end < level => {
                falls_back().map_or(Crossing::None, Crossing::Within)
            }
            () if earliest > 1e-3 * h => Crossing::Within(earliest),
            () if missed <= rounding => Crossing::Once,
            () => Crossing::Within(0.25 * h),
        }
    }

    /// More than the linearised `curve` misses of a signal anywhere in the step.
    fn missed(&self, step: &StepTaken<N, P>, probe: &Probe, curve: &Curve<'_, N>) -> f64 {
        let [_, seen @ ..] = step.seen(&self.gas);
        let missed = seen.map(|(t, gas)| (gas.read(probe) - curve.at(t)).abs());
        2.0 * missed.into_iter().fold(0.0, f64::max)
    }

    /// What rounding leaves unknown of a pressure near `level`: of the number itself, or
    /// of the gas that it follows from, where a store is so stiff that the last bit of its
    /// volume counts for more.
    fn rounding(&self, level: f64) -> f64 {
        let gas = &self.gas;
        let largest = gas.pressures.iter().fold(level.abs(), |most, p| most.max(p.abs()));
        let held = gas.volumes.iter().zip(&gas.elastances);
        let stiffest = held.fold(0.0, |most: f64, (volume, e)| most.max((volume * e).abs()));
        (ROUNDING * (1.0 + largest)).max(LAST_BITS * stiffest)
    }

    /// A first step after an event: short beside the fastest mode.
    fn cautious_step(&self) -> f64 {
        let fastest = self.modes.rates[..self.modes.n()].last().copied().unwrap_or(0.0);
        0.3 / fastest.max(0.6)
    }

    /// Of the kinks of path laws that a step passes, the one passed first.
    fn first_kink(&self, step: &StepTaken<N, P>) -> Option<Kink> {
        let mut first: Option<(f64, Kink)> = None;
        for (path, described) in self.plan.network.paths.iter().enumerate() {
            for at in described.law.kinks().into_iter().flatten() {
                let start = self.gas.across(self.plan, path) - at;
                let end = step.end().across(self.plan, path) - at;
                if start * end >= 0.0 {
                    continue;
                }
                let share = start / (start - end);
                // A path at rest on its kink goes to and fro within rounding.
                if first.as_ref().is_none_or(|(earlier, _)| share < *earlier)
                    && start.abs().max(end.abs()) > self.rounding(0.0)
                {
                    first = Some((share, Kink { path, at, rising: end > 0.0 }));
                }
            }
        }
        first.map(|(_, kink)| kink)
    }

    /// Shortens the step `best` to where `miss`, below zero at its start and not at
    /// its end, is zero or just above: at most `near`, or at most `slack` times the
    /// step's length too late.
    fn land(
        &self,
        miss: &dyn Fn(&Gas<N, P>) -> f64,
        best: &mut StepTaken<N, P>,
        spare: &mut StepTaken<N, P>,
        slack: f64,
        near: f64,
    ) {
        let seen = best.seen(&self.gas).map(|(t, gas)| (t, miss(gas)));
        let (mut low, mut last, mut wide) = (0.0, seen[3], best.h);
        let mut t = place_of_zero(&seen);
        for round in 1..60 {
            let high = best.h;
            if !(t > low && t < high) {
                t = 0.5 * (low + high);
            }
            if t <= low || t >= high || high - low <= slack.max(1e-15) * high {
                return;
            }
            self.take(t, spare);
            let now = (t, miss(spare.end()));
            let slope = (now.1 - last.1) / (now.0 - last.0);
            if now.1 >= 0.0 {
                std::mem::swap(best, spare);
                if now.1 <= near.max(slack * t * slope) {
                    return;
                }
            } else {
                low = t;
            }
            // A secant that aims just beyond; three rounds must halve the bracket.
            let aim = 0.5 * near.max(slack * t * slope);
            (t, last) = (t - (now.1 - aim) / slope, now);
            if round % 3 == 0 {
                if best.h - low > 0.5 * wide {
                    t = 0.5 * (low + best.h);
                }
                wide = best.h - low;
            }
        }
    }
}

/// Where a quantity passes zero that was seen at four times, below zero first and
/// not last: by inverse interpolation where it only rises, else by a straight line.
fn place_of_zero(seen: &[(f64, f64); 4]) -> f64 {
    if seen.windows(2).all(|pair| pair[0].1 < pair[1].1) {
        let share = |i: usize| -> f64 {
            let others = (0..4).filter(|&j| j != i);
            others.map(|j| seen[j].1 / (seen[j].1 - seen[i].1)).product()
        };
        return (0..4).map(|i| seen[i].0 * share(i)).sum();
    }
    let after = (1..4).find(|&i| seen[i].1 >= 0.0).unwrap_or(3);
    let ((a, at_a), (b, at_b)) = (seen[after - 1], seen[after]);
    a - at_a * (b - a) / (at_b - at_a)
}

/// A kink of a path's law, passed in one direction.
struct Kink {
    path: usize,
    at: f64,
    rising: bool,
}

impl Kink {
    /// How far the path is beyond the kink, cmH2O.
    fn beyond<const N: usize, const P: usize>(&self, plan: &Plan, gas: &Gas<N, P>) -> f64 {
        let over = gas.across(plan, self.path) - self.at;
        if self.rising { over } else { -over }
    }
}
