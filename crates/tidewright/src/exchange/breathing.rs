//! One step of gas on its way: alveoli, airway, T-piece, limb, outlet.

use super::stores::airway::Airway;
use super::stores::alveoli::{MAX_SPACES, Space, SpaceState};
use super::stores::apparatus::{Apparatus, FreshGasInlet, Outside};
use super::stores::limb::{Flow, Limb};
use super::stores::parcel::{Fractions, Parcel};
use crate::setup::MAX_COMPARTMENTS;
use crate::setup::PatientPort;

/// What the breath does to the gas in one step. The engine of breaths gives it,
/// or anyone else: see [`super::Exchange::step`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moved {
    /// How long the step lasts, s.
    pub step_s: f64,
    /// Fresh gas that entered, mL.
    pub fresh_ml: f64,
    /// Gas lost through a leak at the T-piece, mL; negative when the leak lets
    /// room air in.
    pub leak_ml: f64,
    /// Gas that left through the outlet, mL; used only while the patient port is
    /// open to the room, since else it follows from the rest.
    pub outlet_ml: f64,
    /// Each compartment's volume above its relaxed volume at the end of the step,
    /// mL.
    pub compartments_ml: [f64; MAX_COMPARTMENTS],
    /// Whether each compartment is reached by gas: not one whose airway is shut,
    /// and none behind a shut tube. Gas that is absorbed there is not replaced.
    pub reached: [bool; MAX_COMPARTMENTS],
    /// Gas held by the circuit above atmospheric pressure at the end, mL.
    pub circuit_ml: f64,
    /// Whether the outlet is open.
    pub outlet_is_open: bool,
    /// What the patient port is connected to.
    pub port: PatientPort,
}

/// What passed the patient connection in a step.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Passed {
    /// Gas that went toward the patient, mL; negative when it came back.
    pub volume_ml: f64,
    /// What it was a mixture of; what stood there when nothing passed.
    pub mixture: Fractions,
    /// Gas that went into the patient, from the connection or, where that is open, from
    /// the room: volume, carbon dioxide and oxygen, mL; negative when it came out.
    pub breathed: Parcel,
}

/// The gas on its way, which changes.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(super) struct Way {
    pub spaces: [SpaceState; MAX_SPACES],
    /// Adapter, tube and airway.
    pub airway: Airway,
    pub limb: Limb,
    pub outside: Outside,
    /// Fresh gas that entered so far, mL.
    pub fresh: Parcel,
}

/// What each space must take in, negative where it gives out, mL.
struct Wanted {
    each: [f64; MAX_SPACES],
    /// Of those that fill.
    filling: f64,
    /// All together: what comes in through the airway.
    inward: f64,
}

/// What the gas moves through, which does not change.
#[derive(Clone, Copy, Debug)]
pub(super) struct Course<'a> {
    pub spaces: &'a [Space],
    /// Gas of each compartment at its relaxed volume, mL.
    pub relaxed_ml: &'a [f64; MAX_COMPARTMENTS],
    pub apparatus: &'a Apparatus,
}

impl Way {
    /// Moves the gas by a step.
    pub fn step(&mut self, course: &Course<'_>, moved: &Moved, fresh: Fractions) -> Passed {
        let fresh = Parcel::of(fresh, moved.fresh_ml);
        self.fresh += fresh;
        match moved.port {
            PatientPort::Connected => self.connected(course, moved, fresh),
            PatientPort::Blocked => {
                self.circuit(course, moved, fresh, Parcel::default(), 0.0);
                self.standing(fresh)
            }
            PatientPort::Open => self.apart(course, moved, fresh),
        }
    }

    /// The patient breathes from the T-piece.
    fn connected(&mut self, course: &Course<'_>, moved: &Moved, fresh: Parcel) -> Passed {
        let wanted = self.wanted(course, moved);
        let inward = wanted.inward;
        if inward > 0.0 {
            let inspired = self.circuit(course, moved, fresh, Parcel::default(), inward);
            self.inspire(course, &wanted, inspired);
            Passed { volume_ml: inward, mixture: inspired.fractions(), breathed: inspired }
        } else if inward < 0.0 {
            let expired = self.expire(course, &wanted);
            self.circuit(course, moved, fresh, expired, 0.0);
            let breathed = Parcel::default() - expired;
            Passed { volume_ml: inward, mixture: expired.fractions(), breathed }
        } else {
            self.circuit(course, moved, fresh, Parcel::default(), 0.0);
            self.standing(fresh)
        }
    }

    /// The patient is off: the circuit is open to the room, and so is the tube.
    fn apart(&mut self, course: &Course<'_>, moved: &Moved, fresh: Parcel) -> Passed {
        let wanted = self.wanted(course, moved);
        let inward = wanted.inward;
        let mut breathed = Parcel::default();
        if inward > 0.0 {
            breathed = self.outside.room_air(inward);
            self.inspire(course, &wanted, breathed);
        } else if inward < 0.0 {
            let expired = self.expire(course, &wanted);
            self.outside.vented += expired;
            breathed = breathed - expired;
        }
        let tee = self.open_circuit(course, moved, fresh);
        Passed { volume_ml: 0.0, mixture: tee.fractions(), breathed }
    }

    /// A step in which the patient breathes gas of one mixture, whatever the circuit
    /// does. Returns what went in, negative where it came out.
    pub fn alone(&mut self, course: &Course<'_>, moved: &Moved, inspired: Fractions) -> Parcel {
        let wanted = self.wanted(course, moved);
        let inward = wanted.inward;
        if inward > 0.0 {
            let gas = Parcel::of(inspired, inward);
            self.inspire(course, &wanted, gas);
            gas
        } else if inward < 0.0 {
            Parcel::default() - self.expire(course, &wanted)
        } else {
            Parcel::default()
        }
    }

    /// What stands at the patient connection when nothing passes it.
    fn standing(&self, fresh: Parcel) -> Passed {
        let mixture = self.airway.at_the_t_piece().unwrap_or(fresh.fractions());
        Passed { volume_ml: 0.0, mixture, breathed: Parcel::default() }
    }

    /// What each space must take in to have the volume that the breath gives it.
    fn wanted(&self, course: &Course<'_>, moved: &Moved) -> Wanted {
        let arriving = self.airway.at_the_alveoli().unwrap_or_default();
        let mut wanted = Wanted { each: [0.0; MAX_SPACES], filling: 0.0, inward: 0.0 };
        let all = wanted.each.iter_mut().zip(course.spaces).zip(&self.spaces);
        for ((wants, space), gas) in all {
            let c = space.compartment;
            if !moved.reached[c] {
                continue;
            }
            let volume = space.share * (course.relaxed_ml[c] + moved.compartments_ml[c]);
            *wants = gas.wants(space, volume.max(space.residue_ml), arriving);
            wanted.filling += wants.max(0.0);
            wanted.inward += *wants;
        }
        wanted
    }

    /// Inspired gas enters the airway; what it pushes on, and gas from spaces
    /// that empty meanwhile, goes to those that fill.
    fn inspire(&mut self, course: &Course<'_>, wanted: &Wanted, inspired: Parcel) {
        let mut carina = self.airway.inward(inspired);
        carina += self.emptied(course, wanted);
        self.fill(course, wanted, carina);
    }

    /// Gas from spaces that empty goes to those that fill meanwhile, and out;
    /// returns what comes out of the airway.
    fn expire(&mut self, course: &Course<'_>, wanted: &Wanted) -> Parcel {
        let mut carina = self.emptied(course, wanted);
        let swung = carina.take(wanted.filling);
        self.fill(course, wanted, swung);
        self.airway.outward(carina)
    }

    fn emptied(&mut self, course: &Course<'_>, wanted: &Wanted) -> Parcel {
        let mut gas = Parcel::default();
        for ((from, space), wants) in self.spaces.iter_mut().zip(course.spaces).zip(wanted.each) {
            if wants < 0.0 {
                gas += from.take(space, -wants);
            }
        }
        gas
    }

    fn fill(&mut self, course: &Course<'_>, wanted: &Wanted, gas: Parcel) {
        if wanted.filling <= 0.0 {
            return;
        }
        let each = 1.0 / wanted.filling;
        for ((to, _), wants) in self.spaces.iter_mut().zip(course.spaces).zip(wanted.each) {
            if wants > 0.0 {
                to.add(gas.part(wants * each));
            }
        }
    }

    /// A step of the circuit with the patient on it: fresh gas and expired gas
    /// enter, `inspired_ml` goes to the patient and is returned.
    fn circuit(
        &mut self,
        course: &Course<'_>,
        moved: &Moved,
        fresh: Parcel,
        expired: Parcel,
        inspired_ml: f64,
    ) -> Parcel {
        let (mut tee, at_machine) = inlets(course.apparatus, fresh);
        tee += expired;
        let lost_ml =
            moved.leak_ml.max(0.0) + course.apparatus.sampling_ml_min / 60.0 * moved.step_s;
        if moved.leak_ml < 0.0 {
            tee += self.outside.room_air(-moved.leak_ml);
        }
        let into_limb = tee.volume - inspired_ml - lost_ml;
        let out = if moved.outlet_is_open {
            self.limb.volume() + into_limb - course.apparatus.limb_ml - moved.circuit_ml
        } else {
            -at_machine.volume
        };
        if into_limb < 0.0 {
            tee += self.limb_step(Flow::Out(-into_limb), out, at_machine);
        }
        let inspired = tee.take(inspired_ml);
        self.outside.vented += tee.take(lost_ml);
        if into_limb >= 0.0 {
            self.limb_step(Flow::In(tee), out, at_machine);
        }
        inspired
    }

    /// A step of the circuit whose patient port is open to the room; returns the
    /// gas that met at the T-piece.
    fn open_circuit(&mut self, course: &Course<'_>, moved: &Moved, fresh: Parcel) -> Parcel {
        let (mut tee, at_machine) = inlets(course.apparatus, fresh);
        let out = if moved.outlet_is_open {
            moved.outlet_ml - at_machine.volume
        } else {
            -at_machine.volume
        };
        let into_limb = out + course.apparatus.limb_ml + moved.circuit_ml - self.limb.volume();
        if into_limb < 0.0 {
            tee += self.limb_step(Flow::Out(-into_limb), out, at_machine);
        }
        let leak_ml = moved.leak_ml.max(0.0);
        let missing = leak_ml + into_limb.max(0.0) - tee.volume;
        if missing > 0.0 {
            tee += self.outside.room_air(missing);
        }
        let met = tee;
        self.outside.vented += tee.take(leak_ml);
        if into_limb >= 0.0 {
            let pushed = tee.take(into_limb);
            self.limb_step(Flow::In(pushed), out, at_machine);
        }
        self.outside.vented += tee;
        met
    }

    /// A step of the limb: what happens at its near end, and a volume that leaves it at its
    /// far end (or enters, when negative), where the gas of a machine-end inlet joins it.
    /// Returns what came out at the near end; what the limb has not comes from outside.
    fn limb_step(&mut self, near: Flow, out_ml: f64, mut at_machine: Parcel) -> Parcel {
        let far = if out_ml < 0.0 {
            let mut entering = at_machine.take(-out_ml);
            let missing = -out_ml - entering.volume;
            if missing > 0.0 {
                entering += self.outside.give(missing);
            }
            Flow::In(entering)
        } else {
            Flow::Out(out_ml)
        };
        let (mut drawn, gone) = self.limb.stream(near, far);
        at_machine += gone;
        self.outside.take(at_machine);
        if let Flow::Out(wanted) = near
            && wanted > drawn.volume
        {
            drawn += self.outside.give(wanted - drawn.volume);
        }
        drawn
    }
}

/// Fresh gas at the T-piece, and at the machine end of the limb.
fn inlets(apparatus: &Apparatus, fresh: Parcel) -> (Parcel, Parcel) {
    match apparatus.inlet {
        FreshGasInlet::Patient => (fresh, Parcel::default()),
        FreshGasInlet::Machine => (Parcel::default(), fresh),
    }
}
