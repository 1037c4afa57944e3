//! What the gas needs to know of a stretch of a run, at any instant within it.

use std::cell::OnceCell;

use super::breathing::Moved;
use crate::plant::plan::{FIRST_COMPARTMENT, Plan, T_PIECE, VALVE_END};
use crate::plant::signal::Signal;
use crate::road::Solver;
use crate::road::exact::Exact;
use crate::road::numeric::{Retaken, retaken};
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
    /// The flows that gas is lost by.
    lost: &'static [Signal],
    outlet_is_open: bool,
    reached: [bool; MAX_COMPARTMENTS],
    port: PatientPort,
}

/// How the stretch can be read.
enum Road<'a> {
    Exact(&'a Exact, &'a ExactTrack),
    Stepped(&'a Shape, &'a Stepped, OnceCell<Told<'a>>),
    Anew,
}

/// How a step of the numeric road tells what is within it.
enum Told<'a> {
    ByItsRates(Box<Inside>),
    TakenAnew(Box<dyn Retaken + 'a>),
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
        let lost: &[Signal] = match (leaks, circuit.relief.is_some()) {
            (false, false) => &[],
            (true, false) => &[Signal::LeakFlow],
            (false, true) => &[Signal::ReliefFlow],
            (true, true) => &[Signal::LeakFlow, Signal::ReliefFlow],
        };
        let passes = setup.lung.tube != Tube::Shut;
        let is_reached = |part: Option<&Compartment>| part.is_some_and(|part| !part.shut);
        let road = match &stretch.piece.track {
            Track::Exact(track, exact) => Road::Exact(exact, track),
            Track::Stepped(track, shape) if stretch.machine.solver() != Solver::Reference => {
                Road::Stepped(shape, track, OnceCell::new())
            }
            Track::Stepped(..) => Road::Anew,
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
            outlet_is_open: obeys || circuit.limb.is_some_and(|limb| limb.disconnected),
            port: circuit.patient_port,
        }
    }

    /// At `t_s` after its start.
    pub fn at(&self, t_s: f64) -> Reading {
        match &self.road {
            Road::Exact(exact, track) => {
                let state = match t_s {
                    t if t == self.stretch.piece.duration_s => exact.state_end(track),
                    t => exact.state_at(track, t),
                };
                self.reading(Plan::volumes(&exact.stored_in(&state)), |signal| {
                    exact.read(&state, signal)
                })
            }
            Road::Stepped(shape, track, inside) => {
                let h = self.stretch.piece.duration_s;
                let part = |signal| track.of(&shape.plan, signal, h);
                if t_s <= 0.0 {
                    return self.reading(Plan::volumes(&track.stored), |s| part(s).first);
                }
                if t_s >= h {
                    return self.reading(Plan::volumes(&track.stored_end), |s| part(s).last);
                }
                let told = inside.get_or_init(|| match self.inside(shape, track) {
                    Some(inside) => Told::ByItsRates(Box::new(inside)),
                    None => Told::TakenAnew(retaken(&shape.plan, track)),
                });
                match told {
                    Told::ByItsRates(inside) => inside.at(t_s),
                    Told::TakenAnew(step) => {
                        let mut reading = Reading::default();
                        step.at(t_s, &mut |stored, read| {
                            reading = self.reading(Plan::volumes(stored), read);
                        });
                        reading
                    }
                }
            }
            Road::Anew => self.anew(t_s),
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

    /// The flows where one that turns changes what is breathed: into the patient, from the
    /// T-piece into the limb, and fresh gas from the limb's end to the outlet.
    pub fn turning(&self, at: &Reading) -> [f64; 3] {
        let gone = at.lost_ml_s + at.airway_ml_s;
        [at.airway_ml_s, self.fresh_at_tee_ml_s - gone, self.fresh_ml_s - gone]
    }

    /// By the road itself.
    fn anew(&self, t_s: f64) -> Reading {
        let piece = &self.stretch.piece;
        let volumes = Plan::volumes(&piece.stored_at(t_s));
        self.reading(volumes, |signal| piece.nearest(signal, t_s))
    }

    fn reading(
        &self,
        (circuit_ml, compartments_ml): (f64, [f64; MAX_COMPARTMENTS]),
        flow: impl Fn(Signal) -> f64,
    ) -> Reading {
        let lost_ml_s = self.lost.iter().map(|&signal| flow(signal)).sum();
        let outlet_ml_s =
            if self.port == PatientPort::Open { flow(Signal::OutletFlow) } else { 0.0 };
        let airway_ml_s = flow(Signal::AirwayFlow);
        Reading { circuit_ml, compartments_ml, airway_ml_s, lost_ml_s, outlet_ml_s }
    }

    /// What a step went through, where its rates tell it.
    fn inside(&self, shape: &Shape, track: &Stepped) -> Option<Inside> {
        let (plan, h) = (&shape.plan, self.stretch.piece.duration_s);
        let held = |place: usize| track.held(plan, place).unwrap_or_default();
        let circuit = held(T_PIECE).and(&held(VALVE_END));
        let compartments: [Part; MAX_COMPARTMENTS] =
            std::array::from_fn(|i| held(FIRST_COMPARTMENT + i));
        let all = |signals: &[Signal]| {
            let none = Part::default();
            signals.iter().fold(none, |sum, &signal| sum.and(&track.of(plan, signal, h)))
        };
        let outlet: &[Signal] =
            if self.port == PatientPort::Open { &[Signal::OutletFlow] } else { &[] };
        let inside = Inside {
            circuit: Within::of(&circuit, h),
            compartments: compartments.map(|part| Within::of(&part, h)),
            airway: Within::of(&all(&[Signal::AirwayFlow]), h),
            lost: Within::of(&all(self.lost), h),
            outlet: Within::of(&all(outlet), h),
        };
        let size = compartments.iter().map(|part| part.last.abs() + part.first.abs());
        let allowed_ml = TOLD * size.sum::<f64>();
        let bent = inside.compartments.iter().map(|within| within.bent.abs());
        let bent = bent.fold(inside.circuit.bent.abs(), f64::max);
        let flows = h * inside.lost.bent.abs().max(inside.outlet.bent.abs());
        (bent.max(flows) <= allowed_ml).then_some(inside)
    }
}

impl Inside {
    fn at(&self, t_s: f64) -> Reading {
        Reading {
            circuit_ml: self.circuit.at(t_s),
            compartments_ml: self.compartments.each_ref().map(|within| within.at(t_s)),
            airway_ml_s: self.airway.at(t_s),
            lost_ml_s: self.lost.at(t_s),
            outlet_ml_s: self.outlet.at(t_s),
        }
    }
}

impl Reading {
    /// Gas that moved to or from any compartment.
    pub fn moved_ml(&self, next: &Self) -> f64 {
        self.compartments_ml.iter().zip(next.compartments_ml).map(|(a, b)| (b - a).abs()).sum()
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
}
