//! From a setup to its network: which element becomes which node, store and
//! path, and which of them each signal reads.

mod rest;
mod tail;

use crate::base::quantity::Resistance;
use crate::laws::law::{PathLaw, StoreLaw};
use crate::laws::series::Series;
use crate::plant::network::{End, MAX_NODES, MAX_PATHS, Network, Node, NodeVec, Path, ROOM, Store};
use crate::plant::signal::{Probe, Signal};
use crate::setup::{
    Circuit, Compartment, FreshGasInlet, LeakLaw, LeaksTo, Lung, MAX_COMPARTMENTS,
    OPEN_PORT_RESISTANCE, PatientPort, SensorPlace, Setup, Tube, Valve,
};

// Places keep their numbers from one setup to the next, so that gas stays where it
// is when a setup changes. A parent's number is below its children's. A finished
// plan numbers the nodes of its network anew, without gaps and in the same order.
/// The T-piece: patient connection and fresh gas inlet.
pub(crate) const T_PIECE: usize = 0;
pub(crate) const VALVE_END: usize = 1;
const TRACHEA: usize = 2;
pub(crate) const PLEURA: usize = 3;
pub(crate) const VISCOELASTIC: usize = 4;
pub(crate) const FIRST_COMPARTMENT: usize = 5;
/// The bag behind the outlet.
pub(crate) const BAG: usize = FIRST_COMPARTMENT + MAX_COMPARTMENTS;
const _: () = assert!(BAG < MAX_NODES);

/// The network of a setup with its outlet valve in one position, and where to
/// read each signal.
#[derive(Clone, Debug)]
pub(crate) struct Plan {
    pub network: Network,
    /// The place of each node.
    pub places: Vec<usize>,
    /// The nodes that hold no gas.
    pub rigid: Vec<usize>,
    probes: Vec<Probe>,
}

impl Plan {
    pub fn new(setup: &Setup, valve_told_to_open: bool) -> Self {
        let mut plan = Self {
            network: Network {
                nodes: vec![Node::default(); MAX_NODES],
                outlet_pressure: setup.ventilator.end_expiratory_pressure.as_cmh2o(),
                ..Network::default()
            },
            places: vec![],
            rigid: vec![],
            probes: vec![Probe::default(); Signal::ALL.len()],
        };
        plan.use_place(T_PIECE);
        plan.store(T_PIECE, setup.circuit.compliance.as_ml_per_cmh2o());
        plan.probe(Signal::AirwayPressure).pressures.push((T_PIECE, 1.0));
        let valve_end = plan.limb(&setup.circuit);
        let inlet = match setup.circuit.inlet {
            FreshGasInlet::Patient => T_PIECE,
            FreshGasInlet::Machine => valve_end,
        };
        plan.network.nodes[inlet].source = setup.ventilator.fresh_gas_flow.as_ml_s();
        plan.outlet(&setup.circuit, valve_end, valve_told_to_open);
        plan.sensor(&setup.circuit, valve_end);
        plan.leaks(&setup.circuit);
        plan.patient(setup);
        plan.close_gaps();
        plan.rigid = plan.network.rigid().collect();
        debug_assert!(plan.network.paths.len() <= MAX_PATHS);
        plan
    }

    /// Of the gas at each place, what each node holds.
    #[inline]
    pub fn by_node<const N: usize>(&self, by_place: &NodeVec) -> [f64; N] {
        let mut by_node = [0.0; N];
        for (gas, &place) in by_node.iter_mut().zip(&self.places) {
            *gas = by_place[place];
        }
        by_node
    }

    /// The reverse of [`Plan::by_node`].
    #[inline]
    pub fn by_place<const N: usize>(&self, by_node: &[f64; N]) -> NodeVec {
        let mut by_place = [0.0; MAX_NODES];
        for (&gas, &place) in by_node.iter().zip(&self.places) {
            by_place[place] = gas;
        }
        by_place
    }

    /// Of the gas at each place: what the circuit and the limb hold, and each
    /// compartment.
    pub fn volumes(stored: &NodeVec) -> (f64, [f64; MAX_COMPARTMENTS]) {
        let compartments = std::array::from_fn(|i| stored[FIRST_COMPARTMENT + i]);
        (stored[T_PIECE] + stored[VALVE_END], compartments)
    }

    pub fn probe_of(&self, signal: Signal) -> &Probe {
        &self.probes[signal as usize]
    }

    fn limb(&mut self, circuit: &Circuit) -> usize {
        let Some(limb) = &circuit.limb else {
            return T_PIECE;
        };
        let valve_end = VALVE_END;
        self.use_place(valve_end);
        self.store(valve_end, limb.compliance.as_ml_per_cmh2o());
        self.path(End::node(T_PIECE), End::node(valve_end), linear(limb.resistance));
        if limb.disconnected {
            let out = self.path(End::node(valve_end), ROOM, linear(OPEN_PORT_RESISTANCE));
            self.probe(Signal::RoomFlow).flows.push((out, 1.0));
        }
        valve_end
    }

    fn outlet(&mut self, circuit: &Circuit, valve_end: usize, told_to_open: bool) {
        let open = match circuit.valve {
            Valve::Working => told_to_open,
            Valve::StuckOpen => true,
            Valve::StuckShut => false,
        };
        let behind = self.tail(circuit.tail.as_ref());
        let conductance = conductance(circuit.valve_resistance + behind.resistance);
        let opens_at = circuit.water_in_limb.as_cmh2o() + behind.opens_at;
        let (k1, k2) = (1.0 / conductance, circuit.outlet_k2 * 1e-6);
        let law = if !open || behind.shut {
            PathLaw::Linear(0.0)
        } else if k2 > 0.0 && (opens_at > 0.0 || circuit.backflow_check) {
            PathLaw::CurvedAbove { opens_at: opens_at.max(0.0), k1, k2 }
        } else if k2 > 0.0 {
            PathLaw::Quadratic { k1, k2 }
        } else if opens_at > 0.0 {
            PathLaw::OpensAt { conductance, opens_at }
        } else if circuit.backflow_check {
            PathLaw::TwoWay { forward: conductance, backward: 0.0 }
        } else {
            PathLaw::Linear(conductance)
        };
        let outlet = self.path(End::node(valve_end), behind.end, law);
        self.probe(Signal::OutletFlow).flows.push((outlet, 1.0));
    }

    fn sensor(&mut self, circuit: &Circuit, valve_end: usize) {
        let share = circuit.sensor.share;
        let probe = self.probe(Signal::SensedPressure);
        probe.offset = circuit.sensor.offset.as_cmh2o();
        match circuit.sensor.place {
            SensorPlace::PatientConnection => probe.pressures.push((T_PIECE, share)),
            SensorPlace::ValveEnd => probe.pressures.push((valve_end, share)),
            SensorPlace::Cut(stays_at) => probe.offset += stays_at.as_cmh2o(),
        }
    }

    fn leaks(&mut self, circuit: &Circuit) {
        if let Some(leak) = &circuit.leak {
            let law = match leak.law {
                LeakLaw::Linear => PathLaw::Linear(leak.conductance_ml_s_per_cmh2o()),
                LeakLaw::Orifice => {
                    PathLaw::Orifice(leak.flow.as_ml_s() / leak.at.as_cmh2o().sqrt())
                }
            };
            let path = self.path(End::node(T_PIECE), ROOM, law);
            self.probe(Signal::LeakFlow).flows.push((path, 1.0));
        }
        if let Some(relief) = &circuit.relief {
            let conductance = conductance(relief.resistance);
            let opens_at = relief.opens_at.as_cmh2o();
            let law = PathLaw::OpensAt { conductance, opens_at };
            let path = self.path(End::node(T_PIECE), ROOM, law);
            self.probe(Signal::ReliefFlow).flows.push((path, 1.0));
        }
    }

    fn patient(&mut self, setup: &Setup) {
        let lung = &setup.lung;
        // Where the patient's tube ends: at the T-piece, in the room, or nowhere.
        let mouth = match setup.circuit.patient_port {
            PatientPort::Connected => Some(End::node(T_PIECE)),
            PatientPort::Blocked => None,
            PatientPort::Open => {
                let port = self.path(End::node(T_PIECE), ROOM, linear(OPEN_PORT_RESISTANCE));
                self.probe(Signal::RoomFlow).flows.push((port, 1.0));
                Some(ROOM)
            }
        };
        let trachea = self.trachea(lung, mouth);
        if let (Some(cuff), Some(trachea)) = (&lung.cuff, trachea) {
            let law = PathLaw::OpensAt {
                conductance: cuff.conductance_ml_s_cmh2o,
                opens_at: cuff.seals_to.as_cmh2o(),
            };
            let path = self.path(trachea, ROOM, law);
            self.probe(Signal::LeakFlow).flows.push((path, 1.0));
        }
        let tissue = self.tissue(lung);
        for (part, alveoli) in lung.compartments.iter().zip(FIRST_COMPARTMENT..) {
            self.compartment(lung, part, alveoli, trachea, &tissue);
        }
        self.network.pressed_by = lung.chest_wall.map_or(0.0, |wall| wall.pressed_by.as_cmh2o());
        self.probe(Signal::MusclePressure).muscle = 1.0;
    }

    /// The patient's side of the breathing tube, if gas can reach it.
    fn trachea(&mut self, lung: &Lung, mouth: Option<End>) -> Option<End> {
        let one_way = |resistance: Option<Resistance>| resistance.map_or(0.0, conductance);
        let law = match lung.tube {
            Tube::None if lung.cuff.is_none() => return mouth,
            // A cuff needs a place beyond the tube, so the tube is given one.
            Tube::None => linear(OPEN_PORT_RESISTANCE),
            Tube::Linear(resistance) => linear(resistance),
            Tube::Quadratic { k1, k2 } => PathLaw::Quadratic { k1: k1 * 1e-3, k2: k2 * 1e-6 },
            Tube::Sized(tube) => PathLaw::Smooth(Series::new(tube, 0.0)),
            Tube::OneWay { inward, outward } => {
                PathLaw::TwoWay { forward: one_way(inward), backward: one_way(outward) }
            }
            Tube::Shut => PathLaw::Linear(0.0),
        };
        if let (Some(mouth), Some(airway)) = (mouth, lone_airway(lung))
            && let Some(law) = law.in_series(airway)
        {
            // Tube and airway are one path; the place between them has no say.
            let path = self.path(mouth, End::node(FIRST_COMPARTMENT), law);
            self.count_as_airway(path, mouth);
            return None;
        }
        let trachea = End::node(TRACHEA);
        self.use_place(TRACHEA);
        if let Some(mouth) = mouth {
            let tube = self.path(mouth, trachea, law);
            self.count_as_airway(tube, mouth);
        }
        Some(trachea)
    }

    /// What the compartments stand against: the room, the pleural space, and a
    /// viscoelastic branch before either.
    fn tissue(&mut self, lung: &Lung) -> Tissue {
        let mut tissue = Tissue { parent: None, pleura: None, moved: true };
        if let Some(wall) = &lung.chest_wall {
            let pleura = PLEURA;
            let law = StoreLaw::Linear(wall.compliance.as_ml_per_cmh2o());
            self.hold_gas(pleura, Store { law, parent: None, moved: true });
            if let Some(resistance) = wall.open_wound {
                let path = self.path(End::node(pleura), ROOM, linear(resistance));
                self.probe(Signal::RoomFlow).flows.push((path, 1.0));
            }
            self.probe(Signal::PleuralPressure).pressures.push((pleura, 1.0));
            tissue = Tissue { parent: Some(pleura), pleura: Some(pleura), moved: false };
        } else {
            // Without a chest wall of its own, all recoil is the lung's: what is
            // left around it is the muscle pressure alone.
            self.probe(Signal::PleuralPressure).muscle = -1.0;
        }
        if let Some(branch) = &lung.viscoelastic {
            let law = StoreLaw::Linear(branch.compliance.as_ml_per_cmh2o());
            let parent = tissue.parent;
            self.hold_gas(VISCOELASTIC, Store { law, parent, moved: false });
            let against = parent.map_or(ROOM, End::node);
            self.path(End::node(VISCOELASTIC), against, linear(branch.resistance));
            tissue.parent = Some(VISCOELASTIC);
        }
        tissue
    }

    fn compartment(
        &mut self,
        lung: &Lung,
        part: &Compartment,
        alveoli: usize,
        trachea: Option<End>,
        tissue: &Tissue,
    ) {
        let store = Store { law: part.store_law(), parent: tissue.parent, moved: tissue.moved };
        self.hold_gas(alveoli, store);
        let share = part.compliance.as_ml_per_cmh2o() / lung.total_compliance().as_ml_per_cmh2o();
        self.probe(Signal::LungVolume).volumes.push((alveoli, 1.0));
        self.probe(Signal::AlveolarPressure).pressures.push((alveoli, share));
        if let Some(trachea) = trachea
            && !part.shut
        {
            let forward = conductance(part.resistance);
            let law = match part.expiratory_resistance {
                None => PathLaw::Linear(forward),
                Some(out) => PathLaw::TwoWay { forward, backward: conductance(out) },
            };
            let airway = self.path(trachea, End::node(alveoli), law);
            if trachea.as_node().is_none_or(|node| node == T_PIECE) {
                self.count_as_airway(airway, trachea);
            }
        }
        if let Some(hole) = &part.air_leak {
            let conductance = conductance(hole.resistance);
            let (to, law) = match (hole.to, tissue.pleura) {
                (LeaksTo::Pleura, Some(pleura)) => {
                    (End::node(pleura), PathLaw::Linear(conductance))
                }
                (LeaksTo::PleuraOneWay, Some(pleura)) => {
                    (End::node(pleura), PathLaw::TwoWay { forward: conductance, backward: 0.0 })
                }
                _ => (ROOM, PathLaw::Linear(conductance)),
            };
            let path = self.path(End::node(alveoli), to, law);
            if to == ROOM {
                self.probe(Signal::LeakFlow).flows.push((path, 1.0));
            }
        }
    }

    /// Counts a path as the one by which the patient breathes at the mouth.
    fn count_as_airway(&mut self, path: usize, mouth: End) {
        self.probe(Signal::AirwayFlow).flows.push((path, 1.0));
        if mouth == ROOM {
            // What leaves the patient goes to the room and not into the circuit.
            self.probe(Signal::RoomFlow).flows.push((path, -1.0));
        }
    }

    fn probe(&mut self, signal: Signal) -> &mut Probe {
        &mut self.probes[signal as usize]
    }

    fn use_place(&mut self, place: usize) {
        if !self.places.contains(&place) {
            self.places.push(place);
        }
    }

    /// Leaves out the nodes that the setup has no use for.
    fn close_gaps(&mut self) {
        self.places.sort_unstable();
        let places = &self.places;
        let number = |place: usize| places.iter().position(|&p| p == place).unwrap_or_default();
        let end = |end: End| end.as_node().map_or(end, |place| End::node(number(place)));
        self.network.nodes =
            places.iter().map(|&place| self.network.nodes[place].clone()).collect();
        for store in self.network.nodes.iter_mut().filter_map(|node| node.store.as_mut()) {
            store.parent = store.parent.map(number);
        }
        for path in &mut self.network.paths {
            (path.from, path.to) = (end(path.from), end(path.to));
        }
        for probe in &mut self.probes {
            for (node, _) in probe.pressures.iter_mut().chain(&mut probe.volumes) {
                *node = number(*node);
            }
        }
    }

    fn hold_gas(&mut self, node: usize, store: Store) {
        self.use_place(node);
        self.network.nodes[node].store = Some(store);
    }

    fn store(&mut self, node: usize, compliance: f64) {
        if compliance > 0.0 {
            let law = StoreLaw::Linear(compliance);
            self.hold_gas(node, Store { law, parent: None, moved: false });
            self.probe(Signal::CircuitVolume).volumes.push((node, 1.0));
        }
    }

    fn path(&mut self, from: End, to: End, law: PathLaw) -> usize {
        self.network.paths.push(Path { from, to, law });
        self.network.paths.len() - 1
    }
}

/// What the compartments stand against.
struct Tissue {
    parent: Option<usize>,
    pleura: Option<usize>,
    moved: bool,
}

/// Resistance of the airway, cmH2O·s/mL, of a lung with one compartment and
/// nothing that branches off before it.
fn lone_airway(lung: &Lung) -> Option<f64> {
    let [part] = lung.compartments.as_slice() else { return None };
    let plain = lung.cuff.is_none() && !part.shut && part.expiratory_resistance.is_none();
    plain.then(|| 1.0 / conductance(part.resistance))
}

fn conductance(resistance: Resistance) -> f64 {
    1000.0 / resistance.as_cmh2o_s_per_l()
}

fn linear(resistance: Resistance) -> PathLaw {
    PathLaw::Linear(conductance(resistance))
}
