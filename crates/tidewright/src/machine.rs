//! A setup made ready to run: checked, turned into a network for each position
//! of the outlet valve, and split into modes once.

use crate::modes::{Affine, ModeVec, Modes};
use crate::network::{End, Network, NowhereToGo, Path, Store};
use crate::phase::PhaseKind;
use crate::quantity::{Pressure, Resistance};
use crate::setup::{PatientPort, Setup};
use crate::setup_error::{self, SetupError};

/// Resistance of a patient port that is open to the room: wide, but not nothing.
pub const OPEN_PORT_RESISTANCE: Resistance = Resistance::cmh2o_s_per_l(0.5);

/// What can be read off a running machine, at any instant, as an integral over
/// time, or as its extremes.
///
/// Flows are in mL/s, volumes in mL, pressures in cmH2O.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Signal {
    /// Pressure at the patient connection, which is also what the ventilator senses.
    AirwayPressure,
    /// Flow into the patient's airway; negative while the patient breathes out.
    AirwayFlow,
    /// Gas in the lung above its relaxed volume.
    LungVolume,
    /// Alveolar pressure, each compartment weighted by its compliance.
    AlveolarPressure,
    /// Flow lost through the leak.
    LeakFlow,
    /// Flow out through the outlet valve; zero while it is shut.
    OutletFlow,
    /// Flow out of an open patient port, or out of a patient who is off.
    RoomFlow,
    /// Gas held by the compressible circuit above atmospheric pressure.
    CircuitVolume,
}

impl Signal {
    /// Every signal, in the order of their declaration.
    pub const ALL: [Self; 8] = [
        Self::AirwayPressure,
        Self::AirwayFlow,
        Self::LungVolume,
        Self::AlveolarPressure,
        Self::LeakFlow,
        Self::OutletFlow,
        Self::RoomFlow,
        Self::CircuitVolume,
    ];
}

/// A setup made ready to run.
///
/// ```
/// use tidewright::prelude::*;
/// let machine = Machine::new(Setup::default())?;
/// // The slowest mode of a sealed circuit does not decay; with the valve open
/// // the lung empties with about (airway + valve resistance) × compliance.
/// assert!(machine.time_constants_s(PhaseKind::Inspiration)[0] > 1e9);
/// let slowest = machine.time_constants_s(PhaseKind::Expiration)[0];
/// assert!((slowest - 0.15).abs() < 0.001);
/// # Ok::<(), SetupError>(())
/// ```
#[derive(Clone, Debug)]
pub struct Machine {
    setup: Setup,
    shut: Shape,
    open: Shape,
}

/// The machine with its outlet valve in one position.
#[derive(Clone, Debug)]
pub(crate) struct Shape {
    pub modes: Modes,
    signals: [Affine; Signal::ALL.len()],
}

impl Machine {
    /// Checks a setup and makes it ready to run.
    ///
    /// # Errors
    /// A value that is out of its range, or a rigid circuit from which the fresh
    /// gas has no way out.
    pub fn new(setup: Setup) -> Result<Self, SetupError> {
        setup_error::check(&setup)?;
        Ok(Self { shut: Shape::new(&setup, false)?, open: Shape::new(&setup, true)?, setup })
    }

    /// The setup it was made from.
    #[must_use]
    pub fn setup(&self) -> &Setup {
        &self.setup
    }

    /// Time constants of the modes in a phase, slowest first, s; infinite (or
    /// beyond any run) for a mode that does not decay.
    #[must_use]
    pub fn time_constants_s(&self, phase: PhaseKind) -> Vec<f64> {
        let modes = &self.shape(phase).modes;
        modes.rates[..modes.n].iter().map(|rate| 1.0 / rate).collect()
    }

    pub(crate) fn shape(&self, phase: PhaseKind) -> &Shape {
        if phase.valve_is_open() { &self.open } else { &self.shut }
    }

    /// Gas stored at each node when everything stands at one pressure.
    pub(crate) fn stored_at_rest(&self, pressure: Pressure) -> ModeVec {
        let plan = Plan::new(&self.setup, false);
        let mut stored = [0.0; crate::modes::MAX_MODES];
        for store in &plan.network.stores {
            stored[store.node] += store.compliance * pressure.as_cmh2o();
        }
        stored
    }
}

impl Shape {
    pub fn signal(&self, signal: Signal) -> &Affine {
        &self.signals[signal as usize]
    }

    fn new(setup: &Setup, valve_is_open: bool) -> Result<Self, SetupError> {
        let plan = Plan::new(setup, valve_is_open);
        let modes = Modes::of(&plan.network).map_err(|NowhereToGo| SetupError::NowhereToGo)?;
        let zero = Affine::default();
        let sum_of_flows = |paths: &[usize]| {
            paths.iter().fold(zero, |sum, &path| sum.plus(&modes.flows[path], 1.0))
        };
        let airway_pressure = modes.pressures[CIRCUIT];
        let circuit = setup.circuit.compliance.as_ml_per_cmh2o();
        let total = setup.lung.total_compliance().as_ml_per_cmh2o();
        let lung_volume = plan
            .compartments
            .iter()
            .fold(zero, |sum, &(node, compliance)| sum.plus(&modes.pressures[node], compliance));
        let signals = Signal::ALL.map(|signal| match signal {
            Signal::AirwayPressure => airway_pressure,
            Signal::AirwayFlow => sum_of_flows(&plan.airway),
            Signal::LungVolume => lung_volume,
            Signal::AlveolarPressure => zero.plus(&lung_volume, 1.0 / total),
            Signal::LeakFlow => sum_of_flows(&plan.leak),
            Signal::OutletFlow => sum_of_flows(&plan.outlet),
            Signal::RoomFlow if plan.room.is_empty() => zero,
            // What leaves a patient who is off goes to the room, not into the circuit.
            Signal::RoomFlow => sum_of_flows(&plan.room).plus(&sum_of_flows(&plan.airway), -1.0),
            Signal::CircuitVolume => zero.plus(&airway_pressure, circuit),
        });
        Ok(Self { modes, signals })
    }
}

/// The node of the T-piece: patient connection, fresh gas inlet and sensor.
const CIRCUIT: usize = 0;

/// The network of a setup, and which of its paths mean what.
struct Plan {
    network: Network,
    compartments: Vec<(usize, f64)>,
    airway: Vec<usize>,
    leak: Vec<usize>,
    outlet: Vec<usize>,
    room: Vec<usize>,
}

impl Plan {
    fn new(setup: &Setup, valve_is_open: bool) -> Self {
        const ROOM: End = End::Boundary(0);
        const OUTLET: End = End::Boundary(1);
        let circuit = End::Node(CIRCUIT);
        let ventilator = &setup.ventilator;
        let mut plan = Self {
            network: Network {
                nodes: 1,
                boundaries: vec![0.0, ventilator.end_expiratory_pressure.as_cmh2o()],
                paths: vec![],
                stores: vec![],
                sources: vec![ventilator.fresh_gas_flow.as_ml_s()],
            },
            compartments: vec![],
            airway: vec![],
            leak: vec![],
            outlet: vec![],
            room: vec![],
        };
        plan.store(CIRCUIT, setup.circuit.compliance.as_ml_per_cmh2o());
        plan.outlet = vec![plan.path(circuit, OUTLET, conductance(setup.circuit.valve_resistance))];
        if !valve_is_open {
            plan.network.paths[plan.outlet[0]].conductance = 0.0;
        }
        if let Some(leak) = setup.circuit.leak {
            plan.leak = vec![plan.path(circuit, ROOM, leak.conductance_ml_s_per_cmh2o())];
        }
        // Where the patient's tube ends: at the T-piece, in the room, or nowhere.
        let mouth = match setup.circuit.patient_port {
            PatientPort::Connected => Some(circuit),
            PatientPort::Blocked => None,
            PatientPort::Open => {
                plan.room = vec![plan.path(circuit, ROOM, conductance(OPEN_PORT_RESISTANCE))];
                Some(ROOM)
            }
        };
        plan.add_lung(setup, mouth);
        plan
    }

    fn add_lung(&mut self, setup: &Setup, mouth: Option<End>) {
        // The compartments take the same numbers in every setup, whatever its port
        // and tube, so that gas stays where it is when the setup changes.
        for part in &setup.lung.compartments {
            let alveoli = self.node();
            let compliance = part.compliance.as_ml_per_cmh2o();
            self.store(alveoli, compliance);
            self.compartments.push((alveoli, compliance));
        }
        let Some(mouth) = mouth else { return };
        let tube = setup.lung.tube_resistance;
        let has_tube = tube > Resistance::ZERO;
        let carina = if has_tube { End::Node(self.node()) } else { mouth };
        if has_tube {
            self.airway = vec![self.path(mouth, carina, conductance(tube))];
        }
        for (part, index) in setup.lung.compartments.iter().zip(0..) {
            let alveoli = End::Node(self.compartments[index].0);
            let path = self.path(carina, alveoli, conductance(part.resistance));
            if !has_tube {
                self.airway.push(path);
            }
        }
    }

    fn node(&mut self) -> usize {
        self.network.nodes += 1;
        self.network.sources.push(0.0);
        self.network.nodes - 1
    }

    fn store(&mut self, node: usize, compliance: f64) {
        let against = End::Boundary(0);
        self.network.stores.push(Store { node, against, compliance });
    }

    fn path(&mut self, from: End, to: End, conductance: f64) -> usize {
        self.network.paths.push(Path { from, to, conductance });
        self.network.paths.len() - 1
    }
}

fn conductance(resistance: Resistance) -> f64 {
    1000.0 / resistance.as_cmh2o_s_per_l()
}
