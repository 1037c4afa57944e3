//! What the gas needs to know of a stretch of a run, at any instant within it.

use std::cell::{OnceCell, RefCell};

use super::breathing::Moved;
use crate::plant::network::{MAX_NODES, NodeVec};
use crate::plant::plan::{FIRST_COMPARTMENT, Plan, T_PIECE, VALVE_END};
use crate::plant::signal::Signal;
use crate::road::exact::{Exact, Stand, State};
use crate::road::numeric::Retaken;
use crate::road::readout::Affine;
use crate::road::shape::{Shape, Track};
use crate::road::track::{ExactTrack, Part, Stepped};
use crate::road::within::Within;
use crate::setup::{Compartment, FreshGasInlet, MAX_COMPARTMENTS, PatientPort, Tube, Valve};
use crate::stepping::piece::Stretch;

/// A step that is not told by its rates to this share of the gas that moves or stands in
/// it is taken anew for every look.
const TOLD: f64 = 1e-4;

/// Reads off a stretch what the gas needs to know.
pub(super) struct Reader<'a> {
    stretch: &'a Stretch<'a>,
    road: Road<'a>,
    fresh_ml_s: f64,
    /// Of it, what enters at the T-piece.
    fresh_at_tee_ml_s: f64,
    /// The flows that gas is lost by, and that by the outlet where it is asked for.
    lost: &'static [Signal],
    outlet: &'static [Signal],
    /// Number of compartments.
    count: usize,
    outlet_is_open: bool,
    reached: [bool; MAX_COMPARTMENTS],
    port: PatientPort,
}

/// How the stretch can be read.
#[expect(clippy::large_enum_variant, reason = "the exact road must not allocate")]
enum Road<'a> {
    Exact(&'a Exact, &'a ExactTrack, InModes, RefCell<Stand>),
    /// With how it tells what is within it, once that was asked for.
    Stepped(&'a Shape, &'a Stepped, Ends, OnceCell<Told<'a>>),
}

/// How a step tells what is within it.
enum Told<'a> {
    ByItsRates(Box<Inside>),
    TakenAnew(Box<dyn Retaken + 'a>),
}

/// What is read of the exact road, as sums over its modes.
struct InModes {
    /// What each number of a reading is without the modes, with each mode, and with the
    /// muscle pressure.
    offsets: Numbers,
    weights: [Numbers; MAX_NODES],
    muscle: Numbers,
}

/// Gas of the circuit, the flows of airway, losses and outlet, and gas of the compartments.
type Numbers = [f64; FLOWS + MAX_COMPARTMENTS];
const FLOWS: usize = 4;

/// The flows of a step of the numeric road.
struct Ends {
    airway: Part,
    lost: Part,
    outlet: Part,
}

/// What a step of the numeric road went through.
struct Inside {
    circuit: Within,
    compartments: [Within; MAX_COMPARTMENTS],
    airway: Within,
    lost: Within,
    outlet: Within,
}

/// What a stretch says at one instant.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Reading {
    circuit_ml: f64,
    compartments_ml: [f64; MAX_COMPARTMENTS],
    airway_ml_s: f64,
    lost_ml_s: f64,
    outlet_ml_s: f64,
}

impl<'a> Reader<'a> {
    pub fn new(stretch: &'a Stretch<'a>) -> Self {
        let setup = stretch.machine.setup();
        let circuit = &setup.circuit;
        let obeys = match circuit.valve {
            Valve::Working => stretch.piece.phase.valve_is_open(),
            Valve::StuckOpen => true,
            Valve::StuckShut => false,
        };
        let leaks = circuit.leak.is_some()
            || setup.lung.cuff.is_some()
            || setup.lung.compartments.iter().any(|part| part.air_leak.is_some());
        let lost: &'static [Signal] = match (leaks, circuit.relief.is_some()) {
            (false, false) => &[],
            (true, false) => &[Signal::LeakFlow],
            (false, true) => &[Signal::ReliefFlow],
            (true, true) => &[Signal::LeakFlow, Signal::ReliefFlow],
        };
        let passes = setup.lung.tube != Tube::Shut;
        let is_reached = |part: Option<&Compartment>| part.is_some_and(|part| !part.shut);
        let outlet: &'static [Signal] = match circuit.patient_port {
            PatientPort::Open => &[Signal::OutletFlow],
            PatientPort::Connected | PatientPort::Blocked => &[],
        };
        let count = setup.lung.compartments.len();
        let road = match &stretch.piece.track {
            Track::Exact(track, exact) => {
                let stand = RefCell::new(Stand::of(track));
                Road::Exact(exact, track, InModes::of(exact, count, lost, outlet), stand)
            }
            Track::Stepped(track, shape) => {
                let of = |signals| all(signals, shape, track, stretch.piece.duration_s);
                let ends =
                    Ends { airway: of(&[Signal::AirwayFlow]), lost: of(lost), outlet: of(outlet) };
                Road::Stepped(shape, track, ends, OnceCell::new())
            }
        };
        Self {
            stretch,
            road,
            reached: std::array::from_fn(|i| passes && is_reached(setup.lung.compartments.get(i))),
            fresh_ml_s: setup.ventilator.fresh_gas_flow.as_ml_s(),
            fresh_at_tee_ml_s: match circuit.inlet {
                FreshGasInlet::Patient => setup.ventilator.fresh_gas_flow.as_ml_s(),
                FreshGasInlet::Machine => 0.0,
            },
            lost,
            outlet,
            count,
            outlet_is_open: obeys || circuit.limb.is_some_and(|limb| limb.disconnected),
            port: circuit.patient_port,
        }
    }

    /// At `t_s` after its start.
    pub fn at(&self, t_s: f64) -> Reading {
        let h = self.stretch.piece.duration_s;
        match &self.road {
            Road::Exact(exact, track, in_modes, stand) => {
                let state = match t_s == h {
                    true => exact.state_end(track),
                    false => exact.state_on(track, t_s, &mut stand.borrow_mut()),
                };
                in_modes.at(exact, &state)
            }
            Road::Stepped(_, track, ends, _) if t_s <= 0.0 => {
                self.reading(&track.stored, ends, |part| part.first)
            }
            Road::Stepped(_, track, ends, _) if t_s >= h => {
                self.reading(&track.stored_end, ends, |part| part.last)
            }
            Road::Stepped(shape, track, ends, inside) => {
                match inside.get_or_init(|| self.told(shape, track, ends)) {
                    Told::ByItsRates(inside) => inside.at(self.count, t_s),
                    Told::TakenAnew(step) => self.anew(step.as_ref(), t_s),
                }
            }
        }
    }

    /// What happens from one reading to the next.
    pub fn between(&self, before: &Reading, after: &Reading, step_s: f64) -> Moved {
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

    /// Gas that moved to or from any compartment.
    pub fn moved_ml(&self, before: &Reading, after: &Reading) -> f64 {
        let all = before.compartments_ml.iter().zip(&after.compartments_ml).take(self.count);
        all.map(|(a, b)| (b - a).abs()).sum()
    }

    /// The flows where one that turns changes what is breathed: into the patient, from the
    /// T-piece into the limb, and fresh gas from the limb's end to the outlet.
    pub fn turning(&self, at: &Reading) -> [f64; 3] {
        let gone = at.lost_ml_s + at.airway_ml_s;
        [at.airway_ml_s, self.fresh_at_tee_ml_s - gone, self.fresh_ml_s - gone]
    }

    fn told(&self, shape: &'a Shape, track: &'a Stepped, ends: &Ends) -> Told<'a> {
        match shape.tells_rates().then(|| self.inside(shape, track, ends)).flatten() {
            Some(inside) => Told::ByItsRates(Box::new(inside)),
            None => Told::TakenAnew(shape.retaken(track)),
        }
    }

    fn anew(&self, step: &dyn Retaken, t_s: f64) -> Reading {
        let mut reading = Reading::default();
        step.at(t_s, &mut |stored, flow| {
            let sum = |signals: &[Signal]| signals.iter().map(|&signal| flow(signal)).sum();
            let (circuit_ml, compartments_ml) = Plan::volumes(stored);
            let [airway_ml_s, lost_ml_s, outlet_ml_s] =
                [&[Signal::AirwayFlow], self.lost, self.outlet].map(sum);
            reading = Reading { circuit_ml, compartments_ml, airway_ml_s, lost_ml_s, outlet_ml_s };
        });
        reading
    }

    /// At an end of a step.
    fn reading(&self, stored: &NodeVec, ends: &Ends, of: impl Fn(&Part) -> f64) -> Reading {
        let (circuit_ml, compartments_ml) = Plan::volumes(stored);
        let [airway_ml_s, lost_ml_s, outlet_ml_s] =
            [&ends.airway, &ends.lost, &ends.outlet].map(of);
        Reading { circuit_ml, compartments_ml, airway_ml_s, lost_ml_s, outlet_ml_s }
    }

    /// What a step went through, where its rates tell it.
    fn inside(&self, shape: &Shape, track: &Stepped, ends: &Ends) -> Option<Inside> {
        let (plan, h) = (&shape.plan, self.stretch.piece.duration_s);
        let held = |place: usize| track.held(plan, place).unwrap_or_default();
        let circuit = held(T_PIECE).and(&held(VALVE_END));
        let mut inside = Inside {
            circuit: Within::of(&circuit, h),
            compartments: [Within::default(); MAX_COMPARTMENTS],
            airway: Within::of(&ends.airway, h),
            lost: Within::of(&ends.lost, h),
            outlet: Within::of(&ends.outlet, h),
        };
        let (mut size_ml, mut bent) = (0.0, inside.circuit.bent.abs());
        for (i, within) in inside.compartments.iter_mut().take(self.count).enumerate() {
            let part = held(FIRST_COMPARTMENT + i);
            *within = Within::of(&part, h);
            size_ml += part.last.abs() + part.first.abs();
            bent = bent.max(within.bent.abs());
        }
        let flows = h * inside.lost.bent.abs().max(inside.outlet.bent.abs());
        (bent.max(flows) <= TOLD * size_ml).then_some(inside)
    }
}

/// The sum of signals over a step.
fn all(signals: &[Signal], shape: &Shape, track: &Stepped, h: f64) -> Part {
    let mut parts = signals.iter().map(|&signal| track.of(&shape.plan, signal, h));
    let first = parts.next().unwrap_or_default();
    parts.fold(first, |sum, part| sum.and(&part))
}

impl InModes {
    fn of(exact: &Exact, count: usize, lost: &[Signal], outlet: &[Signal]) -> Self {
        let none = [0.0; FLOWS + MAX_COMPARTMENTS];
        let mut of = Self { offsets: none, weights: [none; MAX_NODES], muscle: none };
        let mut add = |place: usize, affine: &Affine<MAX_NODES>| {
            of.offsets[place] += affine.offset;
            of.muscle[place] += affine.muscle;
            for (weights, weight) in of.weights.iter_mut().zip(affine.weights) {
                weights[place] += weight;
            }
        };
        add(0, &exact.held(T_PIECE));
        add(0, &exact.held(VALVE_END));
        for (place, signals) in [(1, &[Signal::AirwayFlow][..]), (2, lost), (3, outlet)] {
            for &signal in signals {
                add(place, exact.signal(signal));
            }
        }
        for i in 0..count {
            add(FLOWS + i, &exact.held(FIRST_COMPARTMENT + i));
        }
        of
    }

    fn at(&self, exact: &Exact, state: &State) -> Reading {
        let mut numbers = self.offsets;
        let mut add = |weights: &Numbers, times: f64| {
            for (number, weight) in numbers.iter_mut().zip(weights) {
                *number += weight * times;
            }
        };
        for (weights, &y) in self.weights.iter().zip(exact.modes_in(state)) {
            add(weights, y);
        }
        add(&self.muscle, state.muscle);
        let [circuit_ml, airway_ml_s, lost_ml_s, outlet_ml_s, compartments_ml @ ..] = numbers;
        Reading { circuit_ml, compartments_ml, airway_ml_s, lost_ml_s, outlet_ml_s }
    }
}

impl Inside {
    fn at(&self, count: usize, t_s: f64) -> Reading {
        let mut compartments_ml = [0.0; MAX_COMPARTMENTS];
        for (ml, within) in compartments_ml.iter_mut().zip(&self.compartments).take(count) {
            *ml = within.at(t_s);
        }
        Reading {
            circuit_ml: self.circuit.at(t_s),
            compartments_ml,
            airway_ml_s: self.airway.at(t_s),
            lost_ml_s: self.lost.at(t_s),
            outlet_ml_s: self.outlet.at(t_s),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::prelude::*;

    /// What readings on the way say was lost adds up to the integral that the road gives,
    /// to second order of the step and to what a look within one is told to.
    #[test]
    fn twin_gas_lost_between_readings_is_the_roads_integral() {
        for leak in [Leak::linear, Leak::orifice] {
            let mut setup = Setup::default();
            setup.circuit.leak = Some(leak(Flow::ml_s(5.0), Pressure::cmh2o(10.0)));
            let protocol = Protocol { start: setup, changes: vec![], duration: Seconds::s(1.0) };
            let simulation = Simulation::new(&protocol).unwrap();
            let trace = simulation.trace().unwrap();
            for stretch in &trace.stretches {
                let lasts_s = stretch.piece.duration_s;
                let (reader, step_s) = (Reader::new(stretch), lasts_s / 100.0);
                let moved = (0..100).map(|k| {
                    let at = |k: u32| reader.at(step_s * f64::from(k));
                    reader.between(&at(k), &at(k + 1), step_s).leak_ml
                });
                let (lost, expected) =
                    (moved.sum::<f64>(), stretch.piece.integral(Signal::LeakFlow));
                assert!((lost - expected).abs() <= 2e-3 * expected.abs(), "{lost} {expected}");
            }
        }
    }

    /// A reader that has gone on step by step tells what one that comes from the start does.
    #[test]
    fn twin_steps_on_the_way_do_not_matter() {
        let protocol =
            Protocol { start: Setup::default(), changes: vec![], duration: Seconds::s(4.0) };
        let simulation = Simulation::new(&protocol).unwrap();
        for stretch in &simulation.trace().unwrap().stretches {
            let walking = Reader::new(stretch);
            let step_s = stretch.piece.duration_s / 60.0;
            for k in 1..60 {
                let t_s = step_s * f64::from(k);
                let (here, there) = (walking.at(t_s), Reader::new(stretch).at(t_s));
                let off_ml = walking.moved_ml(&here, &there);
                assert!(off_ml < 1e-11, "{t_s}: {off_ml}");
                assert!((here.airway_ml_s - there.airway_ml_s).abs() < 1e-10, "{t_s}");
            }
        }
    }
}
