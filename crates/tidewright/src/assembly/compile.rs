//! From an assembly to a setup and a breathing system.

use super::error::AssemblyError;
use super::hole;
use super::line::{Leg, Line};
use super::part::{Part, Port};
use super::{Assembly, At};
use crate::base::quantity::{Compliance, Flow, Resistance};
use crate::exchange::Apparatus;
use crate::setup::{
    Circuit, Effort, FreshGasInlet, Leak, Limb, Lung, PatientPort, SensorPlace, Setup, SetupError,
    Tube, Valve,
};
use crate::stepping::machine::Machine;

mod check;
mod lines;
mod waste;

/// What an assembly makes.
#[derive(Clone, Debug, PartialEq)]
pub struct Assembled {
    /// Pressures and volumes follow from this.
    pub setup: Setup,
    /// And gases from this.
    pub apparatus: Apparatus,
}

/// From this time constant on a limb has its own place in the network, s.
const LIMB_COUNTS_FROM_S: f64 = 1e-3;
/// The least resistance of a way, for parts that state none.
const LEAST: Resistance = Resistance::cmh2o_s_per_l(0.01);

/// Which parts have places of their own in the network.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Places {
    /// Those that are seen in the numbers.
    AsNeeded,
    /// Those that any circuit of these parts may need.
    Lasting,
}

/// What the place of a limb that is off still takes up: next to nothing, but a place.
const PLACE_KEPT: Compliance = Compliance::ml_per_cmh2o(1e-3);

/// Sums along a part of the way.
#[derive(Clone, Copy, Debug, Default)]
struct Sum {
    volume_ml: f64,
    compliance: Compliance,
    resistance: Resistance,
}

impl Assembly {
    /// The machine that this assembly makes of a patient and controls: `base` gives lung,
    /// effort and ventilator controls, its circuit is left out of account.
    ///
    /// A limb has a place of its own in the network where something is at its far end, or
    /// where resistance × compliance is more than 1 ms; else it is part of the outlet
    /// path. What stands between T-piece and patient resists like a part of the tube.
    /// All holes count together as one at the T-piece: where their laws differ, the
    /// larger at 10 cmH2O gives the law.
    ///
    /// # Errors
    /// [`AssemblyError`]: the port that stands in the way.
    pub fn assemble(&self, base: &Setup) -> Result<Assembled, AssemblyError> {
        self.assembled(base, Places::AsNeeded)
    }

    /// As [`Assembly::assemble`], but the limb always has a place of its own, and so has a
    /// bag where one lies on the table, joined or not: a run can go on from one assembly
    /// of these parts to the next. The place of a bag that is not joined is as open as the
    /// room.
    ///
    /// # Errors
    /// As [`Assembly::assemble`].
    ///
    /// ```
    /// use tidewright::assembly::Assembly;
    /// use tidewright::live::LiveRun;
    /// use tidewright::prelude::*;
    /// let mut circuit = Assembly::ready_made();
    /// let base = Setup::default();
    /// let mut run = LiveRun::new(circuit.assemble_to_change(&base)?.setup)?;
    /// run.advance(Seconds::s(10.0), |_| {})?;
    /// // Somebody takes the limb off; the run goes on.
    /// circuit.separate("limb.near")?;
    /// run.change(circuit.assemble_to_change(&base)?.setup)?;
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn assemble_to_change(&self, base: &Setup) -> Result<Assembled, AssemblyError> {
        self.assembled(base, Places::Lasting)
    }

    fn assembled(&self, base: &Setup, places: Places) -> Result<Assembled, AssemblyError> {
        self.check_numbers()?;
        let line = self.line()?;
        let mut setup = Setup { circuit: Circuit::default(), ..base.clone() };
        let mut apparatus = Apparatus::default();
        self.patient(&line, &mut setup, &mut apparatus)?;
        self.fresh_gas(&line, &mut setup)?;
        apparatus.inlet = setup.circuit.inlet;
        setup.circuit.sensor = self.sensor(&line)?;
        self.limb(&line, &mut setup, &mut apparatus, places)?;
        if let Part::Bag(bag) = &self.pieces[line.waste_end.part].part {
            apparatus.bag_ml = bag.bag.holds.as_ml();
        }
        let holes = hole::all(self, &self.before_the_valve(&line));
        setup.circuit.leak = holes.into_iter().reduce(Leak::beside);
        apparatus.sampling_ml_min = self.sampling(&line)?;
        if places == Places::Lasting {
            self.give_the_bag_a_place(&mut setup.circuit);
        }
        self.check_made(&line, &setup, &apparatus)?;
        Ok(Assembled { setup, apparatus })
    }

    fn patient(
        &self,
        line: &Line,
        setup: &mut Setup,
        apparatus: &mut Apparatus,
    ) -> Result<(), AssemblyError> {
        setup.circuit.patient_port = match &self.pieces[line.patient_end.part].part {
            Part::Patient => PatientPort::Connected,
            Part::TestLung(lung) => {
                setup.lung = Lung::single(lung.compliance, lung.resistance);
                setup.effort = Effort::none();
                PatientPort::Connected
            }
            Part::Plug | Part::Thumb => PatientPort::Blocked,
            _ => PatientPort::Open,
        };
        let sum = self.sum(&line.to_patient);
        apparatus.adapter_ml = self.leg_ml(&line.t_piece, true) + sum.volume_ml;
        if sum.resistance > Resistance::ZERO && !resist(&mut setup.lung, sum.resistance) {
            let what = "a part that resists, before a tube that is given by its size";
            let mend = "give the tube by its resistance";
            return Err(self.misplaced(line.patient_end, what, mend));
        }
        Ok(())
    }

    fn fresh_gas(&self, line: &Line, setup: &mut Setup) -> Result<(), AssemblyError> {
        let near = self.brings_gas(line.t_piece.part);
        let far = line.second.as_ref().map(|(tee, _)| tee.part).filter(|&tee| self.brings_gas(tee));
        setup.circuit.inlet = match (near, far) {
            (true, Some(tee)) => {
                let at = At { part: tee, port: Port::FreshGas };
                return Err(self.misplaced(at, "a second hose with gas", "put a plug there"));
            }
            (false, Some(_)) => FreshGasInlet::Machine,
            (brings, None) => {
                if !brings {
                    setup.ventilator.fresh_gas_flow = Flow::ZERO;
                }
                FreshGasInlet::Patient
            }
        };
        Ok(())
    }

    /// Whether gas supply, flowmeter and hose are joined up to a T-piece.
    #[must_use]
    pub fn brings_gas(&self, tee: usize) -> bool {
        let next = |from: At, port: Port| {
            self.joined_to(from).map(|on| (&self.pieces[on.part].part, on, At { port, ..on }))
        };
        let Some((Part::Hose, on, _)) = next(At { part: tee, port: Port::FreshGas }, Port::End)
        else {
            return false;
        };
        let other = if on.port == Port::MachineEnd { Port::PatientEnd } else { Port::MachineEnd };
        let Some((Part::Flowmeter, _, inlet)) = next(At { port: other, ..on }, Port::GasIn) else {
            return false;
        };
        matches!(next(inlet, Port::End), Some((Part::GasSupply, ..)))
    }

    fn limb(
        &self,
        line: &Line,
        setup: &mut Setup,
        apparatus: &mut Apparatus,
        places: Places,
    ) -> Result<(), AssemblyError> {
        let circuit = &mut setup.circuit;
        let mut limb = self.sum(&line.limb);
        let mut beyond = Resistance::ZERO;
        if let Some((tee, legs)) = &line.second {
            let at_tee = self.sum(std::slice::from_ref(tee));
            let rest = self.sum(legs);
            limb.volume_ml += at_tee.volume_ml + rest.volume_ml;
            limb.compliance = limb.compliance + at_tee.compliance + rest.compliance;
            if circuit.inlet == FreshGasInlet::Machine {
                let is_tube = |leg: &&Leg| matches!(self.pieces[leg.part].part, Part::Tubing(_));
                if let Some(leg) = legs.iter().find(is_tube) {
                    let at = At { part: leg.part, port: leg.inner };
                    let mend = "take it out";
                    return Err(self.misplaced(at, "a second tube beyond the fresh gas", mend));
                }
                beyond = rest.resistance;
            } else {
                limb.resistance = limb.resistance + rest.resistance;
            }
        }
        let waste = self.waste(line)?;
        let valve = match &self.pieces[line.machine_end.part].part {
            Part::Ventilator(body) if line.through_ventilator => {
                limb.volume_ml += body.volume.as_ml();
                limb.compliance = limb.compliance + body.compliance;
                circuit.relief = body.relief;
                body.valve_resistance
            }
            _ => LEAST,
        };
        circuit.valve = match (line.through_ventilator, waste.is_room_at_the_limb) {
            (true, _) => Valve::Working,
            (false, true) => Valve::StuckShut,
            (false, false) => Valve::StuckOpen,
        };
        circuit.tail = waste.tail;
        if places == Places::Lasting && limb.compliance < PLACE_KEPT {
            limb.compliance = PLACE_KEPT;
        }
        let t_piece = self.sum(std::slice::from_ref(&line.t_piece)).compliance;
        let near = t_piece + self.sum(&line.to_patient).compliance;
        let valve = valve + beyond + waste.before_bag;
        let slow = (limb.resistance * limb.compliance).as_s() > LIMB_COUNTS_FROM_S;
        let at_its_end = places == Places::Lasting
            || circuit.inlet == FreshGasInlet::Machine
            || circuit.sensor.place == SensorPlace::ValveEnd
            || waste.is_room_at_the_limb;
        if slow || at_its_end {
            circuit.compliance = near;
            circuit.valve_resistance = valve;
            circuit.limb = Some(Limb {
                compliance: limb.compliance,
                resistance: at_least(limb.resistance),
                disconnected: waste.is_room_at_the_limb,
            });
        } else {
            circuit.compliance = near + limb.compliance;
            circuit.valve_resistance = valve + limb.resistance;
        }
        apparatus.limb_ml = self.leg_ml(&line.t_piece, false) + limb.volume_ml;
        Ok(())
    }

    /// The parts whose holes are felt: all of the wide way before the valve.
    fn before_the_valve(&self, line: &Line) -> Vec<usize> {
        let second = line.second.iter().flat_map(|(tee, legs)| std::iter::once(tee).chain(legs));
        let legs = line.to_patient.iter().chain(std::iter::once(&line.t_piece));
        let legs = legs.chain(&line.limb).chain(second);
        let mut parts: Vec<usize> = legs.map(|leg| leg.part).collect();
        if line.through_ventilator {
            parts.push(line.machine_end.part);
        }
        parts
    }

    /// Sums over parts.
    fn sum(&self, legs: &[Leg]) -> Sum {
        let mut sum = Sum::default();
        for leg in legs {
            let part = match &self.pieces[leg.part].part {
                Part::Tubing(tubing) => Sum {
                    volume_ml: tubing.volume.as_ml(),
                    compliance: tubing.compliance,
                    resistance: tubing.resistance,
                },
                Part::Adapter(short) | Part::Filter(short) => Sum {
                    volume_ml: short.volume.as_ml(),
                    resistance: short.resistance,
                    ..Sum::default()
                },
                Part::TPiece(tee) => Sum {
                    volume_ml: tee.patient_leg.as_ml() + tee.limb_leg.as_ml(),
                    compliance: tee.compliance,
                    ..Sum::default()
                },
                _ => Sum::default(),
            };
            sum.volume_ml += part.volume_ml;
            sum.compliance = sum.compliance + part.compliance;
            sum.resistance = sum.resistance + part.resistance;
        }
        sum
    }

    /// Gas in a T-piece's leg toward the patient, or away from it, however it is turned.
    fn leg_ml(&self, leg: &Leg, toward_patient: bool) -> f64 {
        let Part::TPiece(tee) = &self.pieces[leg.part].part else { return 0.0 };
        let meant_for_patient = (leg.inner == Port::Patient) == toward_patient;
        if meant_for_patient { tee.patient_leg.as_ml() } else { tee.limb_leg.as_ml() }
    }

    fn check_made(
        &self,
        line: &Line,
        setup: &Setup,
        apparatus: &Apparatus,
    ) -> Result<(), AssemblyError> {
        let inlet = match (&line.second, setup.circuit.inlet) {
            (Some((tee, _)), FreshGasInlet::Machine) => tee.part,
            _ => line.t_piece.part,
        };
        if apparatus.limb_ml == 0.0 {
            return Err(AssemblyError::Part {
                port: self.name_of(At { part: line.t_piece.part, port: line.t_piece.outer }),
                what: "the gas from there to the valve in mL",
                value: 0.0,
                expected: "more than 0",
            });
        }
        Machine::check(setup).map_err(|error| match error {
            SetupError::NowhereToGo => AssemblyError::NoWayOut {
                port: self.name_of(At { part: inlet, port: Port::FreshGas }),
            },
            error => AssemblyError::Setup { port: self.name_of(line.patient_end), error },
        })
    }
}

fn at_least(resistance: Resistance) -> Resistance {
    if resistance < LEAST { LEAST } else { resistance }
}

/// Puts a resistance before a lung's tube; whether the model can.
fn resist(lung: &mut Lung, more: Resistance) -> bool {
    let whole = lung.cuff.is_none() && lung.compartments.len() == 1;
    match &mut lung.tube {
        Tube::Shut => {}
        Tube::None => lung.tube = Tube::Linear(more),
        Tube::Linear(own) => *own = *own + more,
        Tube::Quadratic { k1, .. } => *k1 += more.as_cmh2o_s_per_l(),
        Tube::OneWay { inward, outward } => {
            for own in [inward, outward].into_iter().flatten() {
                *own = *own + more;
            }
        }
        // Behind the tube it does the same, where nothing branches off between.
        Tube::Sized(_) if whole => {
            for part in &mut lung.compartments {
                part.resistance = part.resistance + more;
                part.expiratory_resistance = part.expiratory_resistance.map(|own| own + more);
            }
        }
        Tube::Sized(_) => return false,
    }
    true
}
