//! What a piece of a road that steps remembers.

use super::numeric;
use crate::network::NodeVec;
use crate::plan::Plan;
use crate::setup::Drive;
use crate::signal::Signal;

/// Where a step began and ended, and what was found on the way.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Track {
    /// Gas at each place at the start and at the end.
    pub stored: NodeVec,
    pub stored_end: NodeVec,
    pub drive: Drive,
    /// The pressures of all nodes, the flows of all paths and the volumes of all
    /// nodes, in this order: every signal is a weighted sum of them.
    pub parts: Vec<Part>,
}

/// A quantity over a step.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Part {
    pub first: f64,
    pub last: f64,
    pub integral: f64,
    /// Rates of change at [`LOOKS`].
    pub pace: [f64; 4],
}

/// The times within a step, as shares of it, at which it knows its rates of change.
pub(crate) const LOOKS: [f64; 4] = [0.0, 0.5, 0.9, 1.0];

/// What is asked of a signal that can be read at any time within a step.
pub(crate) type Question<'a> = dyn FnMut(&dyn Fn(f64) -> f64) + 'a;

impl Part {
    fn add(&mut self, other: &Self, weight: f64) {
        self.first += weight * other.first;
        self.last += weight * other.last;
        self.integral += weight * other.integral;
        for (pace, other) in self.pace.iter_mut().zip(other.pace) {
            *pace += weight * other;
        }
    }

    /// Whether it turns somewhere in the step, and whether it turns down.
    pub fn turns(&self) -> (bool, bool) {
        let pairs = self.pace.windows(2);
        let mut turns = (false, false);
        for pair in pairs.filter(|pair| pair[0] * pair[1] < 0.0) {
            turns = (true, turns.1 || pair[0] > 0.0);
        }
        turns
    }
}

impl Track {
    /// A signal over the step, which lasted `h`.
    pub fn of(&self, plan: &Plan, signal: Signal, h: f64) -> Part {
        let probe = plan.probe_of(signal);
        let (nodes, paths) = (plan.network.nodes.len(), plan.network.paths.len());
        let mut sum = Part {
            first: probe.offset,
            last: probe.offset,
            integral: probe.offset * h,
            pace: [0.0; 4],
        };
        if probe.muscle != 0.0 {
            let drive = &self.drive;
            let muscle = Part {
                first: drive.at(0.0),
                last: drive.at(h),
                integral: drive.integral(h),
                pace: LOOKS.map(|share| drive.pace(share * h)),
            };
            sum.add(&muscle, probe.muscle);
        }
        for &(node, weight) in &probe.pressures {
            sum.add(&self.parts[node], weight);
        }
        for &(path, weight) in &probe.flows {
            sum.add(&self.parts[nodes + path], weight);
        }
        for &(node, weight) in &probe.volumes {
            sum.add(&self.parts[nodes + paths + node], weight);
        }
        sum
    }

    /// A signal of the numeric road `t` after the start: the step taken anew to
    /// that time.
    pub fn at(&self, plan: &Plan, signal: Signal, t: f64) -> f64 {
        let mut answer = f64::NAN;
        self.along(plan, signal, &mut |value| answer = value(t));
        answer
    }

    /// As [`Track::at`], for several times.
    pub fn along(&self, plan: &Plan, signal: Signal, ask: &mut Question<'_>) {
        in_size_of!(plan, numeric::along, plan, &self.stored, &self.drive, signal, ask);
    }

    /// Gas at each place `t` after the start, on the numeric road.
    pub fn stored_at(&self, plan: &Plan, t: f64) -> NodeVec {
        in_size_of!(plan, numeric::stored_at, plan, &self.stored, &self.drive, t)
    }
}
