//! What a piece remembers of its road, and how far the road went.

use crate::plant::network::NodeVec;
use crate::plant::plan::Plan;
use crate::plant::signal::Signal;
use crate::setup::Drive;

/// How far a road went. The gas where it arrived and the track it took are left
/// in their places.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Advance {
    pub duration_s: f64,
    /// Whether it stopped because the sensed pressure reached the level.
    pub reached: bool,
    /// A good length for the next step of a road that steps.
    pub next_step_s: f64,
    /// What it took, in steps of the smallest machine.
    pub work: u32,
}

/// The law of a setup gave no finite number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct NotFinite;

/// A signal at both ends of a piece and integrated over it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Reading {
    pub first: f64,
    pub last: f64,
    pub integral: f64,
    /// Whether it may turn in between, and whether it may turn down there.
    pub turns: bool,
    pub peaks: bool,
}

/// The solution over one piece of the exact road.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct ExactTrack {
    pub y: NodeVec,
    pub velocity: NodeVec,
    pub y_end: NodeVec,
    pub y_integral: NodeVec,
    pub drive: Drive,
    /// Whether no muscle pulls.
    pub at_rest: bool,
    pub muscle_end: f64,
}

/// Where a step began and ended, and what was found on the way.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Stepped {
    /// Gas at each place at the start and at the end.
    pub stored: NodeVec,
    pub stored_end: NodeVec,
    pub drive: Drive,
    /// The pressures of all nodes, the flows of all paths and the volumes of all
    /// nodes, in this order: every signal is a weighted sum of them.
    pub parts: Vec<Part>,
}

/// A quantity over a step.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Part {
    pub first: f64,
    pub last: f64,
    pub integral: f64,
    /// Rates of change at [`LOOKS`].
    pub pace: [f64; 4],
}

/// The times within a step, as shares of it, at which it knows its rates of change.
pub(crate) const LOOKS: [f64; 4] = [0.0, 0.5, 0.9, 1.0];

impl Part {
    /// The sum of two.
    pub fn and(mut self, other: &Self) -> Self {
        self.add(other, 1.0);
        self
    }

    fn add(&mut self, other: &Self, weight: f64) {
        self.first += weight * other.first;
        self.last += weight * other.last;
        self.integral += weight * other.integral;
        for (pace, other) in self.pace.iter_mut().zip(other.pace) {
            *pace += weight * other;
        }
    }

    /// More than it comes to anywhere in a step of `h` s: between two looks it does not
    /// go twice as fast as at any of them.
    pub fn most(&self, h: f64) -> f64 {
        let fastest = self.pace.iter().fold(0.0, |most: f64, pace| most.max(pace.abs()));
        self.first.max(self.last) + 2.0 * fastest * h
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

impl Stepped {
    /// The gas at a place that nothing stands against, over the step.
    pub fn held(&self, plan: &Plan, place: usize) -> Option<Part> {
        let node = plan.places.iter().position(|&p| p == place)?;
        let before = plan.network.nodes.len() + plan.network.paths.len();
        self.parts.get(before + node).copied()
    }

    /// A signal at the end of the step, which lasted `h`.
    pub fn last(&self, plan: &Plan, signal: Signal, h: f64) -> f64 {
        self.sum(plan, signal, |part| part.last, |drive| drive.at(h), 1.0)
    }

    /// The integral of a signal over the step, which lasted `h`.
    pub fn integral(&self, plan: &Plan, signal: Signal, h: f64) -> f64 {
        self.sum(plan, signal, |part| part.integral, |drive| drive.integral(h), h)
    }

    /// One number of [`Stepped::of`]: that of the parts, that of the muscle pressure, and
    /// what a constant 1 comes to.
    fn sum(
        &self,
        plan: &Plan,
        signal: Signal,
        of_part: impl Fn(&Part) -> f64,
        of_muscle: impl Fn(&Drive) -> f64,
        of_one: f64,
    ) -> f64 {
        let probe = plan.probe_of(signal);
        let (nodes, paths) = (plan.network.nodes.len(), plan.network.paths.len());
        let mut sum = probe.offset * of_one;
        if probe.muscle != 0.0 {
            sum += probe.muscle * of_muscle(&self.drive);
        }
        for &(node, weight) in &probe.pressures {
            sum += weight * of_part(&self.parts[node]);
        }
        for &(path, weight) in &probe.flows {
            sum += weight * of_part(&self.parts[nodes + path]);
        }
        for &(node, weight) in &probe.volumes {
            sum += weight * of_part(&self.parts[nodes + paths + node]);
        }
        sum
    }

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
}
