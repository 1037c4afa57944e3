//! One number that depends on every bit of a mixed set of runs.
//!
//! It proves nothing about truth. It proves that a run gives the same bits on
//! every target and with every optimisation, and it shows every change of them.

use tidewright::coupled::{Coupled, GasPlan, GasSettings};
use tidewright::drive::Drive;
use tidewright::exchange::{Apparatus, Capnograph, Conditions, Exchange, Fractions, GasBreath};
use tidewright::gases::{Mixture, STANDARD_PRESSURE_PA};
use tidewright::prelude::*;
use tidewright::species::{Animal, Species};
use tidewright::tube::SmoothTube;

/// The hash that every target must give. A change that alters results on purpose
/// alters this number too, in the same commit, with its reason.
pub const GOLDEN: u64 = 0x6fff8371c580448e;

/// FNV-1a (64 bits) over the runs.
#[must_use]
pub fn hash() -> u64 {
    let mut hash = Fnv::default();
    for protocol in runs() {
        let simulation = Simulation::new(&protocol).expect("the golden setups can run");
        let trace = simulation.trace().expect("the golden runs go on");
        for stretch in &trace.stretches {
            hash.stretch(stretch);
        }
        for breath in trace.breaths() {
            hash.breath(&breath);
        }
    }
    for (protocol, plan) in [own_breaths(), ventilated()] {
        let simulation = Simulation::new(&protocol).expect("the golden setups can run");
        for together in Coupled::new(&simulation, Some(&plan)).expect("a golden plan") {
            let together = together.expect("the golden runs go on");
            let gas = together.gas.expect("gas is followed");
            gas.breaths.iter().for_each(|breath| hash.gas(breath));
        }
    }
    hash.0
}

/// What a program on wasm32 offers to its host: see `golden_wasm.mjs`.
#[cfg(target_family = "wasm")]
mod exports {
    #[allow(unsafe_code, reason = "an exported name is the only way to be called from outside")]
    #[unsafe(no_mangle)]
    extern "C" fn golden_hash() -> u64 {
        super::hash()
    }

    #[allow(unsafe_code, reason = "an exported name is the only way to be called from outside")]
    #[unsafe(no_mangle)]
    extern "C" fn golden_expected() -> u64 {
        super::GOLDEN
    }
}

/// FNV-1a, 64 bits.
pub(crate) struct Fnv(pub u64);

impl Default for Fnv {
    fn default() -> Self {
        Self(0xcbf2_9ce4_8422_2325)
    }
}

impl Fnv {
    pub fn text(&mut self, text: &str) {
        text.bytes().for_each(|byte| self.byte(byte));
    }

    fn number(&mut self, value: f64) {
        value.to_bits().to_le_bytes().into_iter().for_each(|byte| self.byte(byte));
    }

    fn byte(&mut self, byte: u8) {
        self.0 = (self.0 ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3);
    }

    fn stretch(&mut self, stretch: &Stretch<'_>) {
        let piece = &stretch.piece;
        self.number(piece.start_s);
        self.number(piece.duration_s);
        for signal in Signal::ALL {
            let (low, high) = piece.range(signal);
            let middle = piece.at(signal, 0.375 * piece.duration_s).unwrap_or(f64::NAN);
            let ends = [piece.first(signal), piece.last(signal)];
            let others = [low, high, middle, piece.integral(signal)];
            ends.into_iter().chain(others).for_each(|value| self.number(value));
        }
    }

    fn breath(&mut self, breath: &Breath) {
        self.number(breath.inspiratory_time.as_s());
        self.number(breath.expiratory_time.as_s());
        self.number(breath.inspired_tidal_volume.as_ml());
        self.number(breath.expired_tidal_volume.as_ml());
        self.number(breath.peak_pressure.as_cmh2o());
        self.number(breath.mean_pressure.as_cmh2o());
        self.number(breath.end_expiratory_alveolar_pressure.as_cmh2o());
        self.number(breath.leaked.as_ml());
    }

    fn gas(&mut self, breath: &GasBreath) {
        self.number(breath.start.as_s());
        self.number(breath.inspired.as_ml());
        self.number(breath.expired.as_ml());
        self.number(breath.end_tidal_carbon_dioxide.as_mmhg());
        self.number(breath.mean_inspired_carbon_dioxide.as_mmhg());
        self.number(breath.mixed_expired_carbon_dioxide.as_mmhg());
        self.number(breath.inspired_oxygen.unwrap_or(-1.0));
        self.number(breath.arterial_carbon_dioxide.as_mmhg());
        self.number(breath.arterial_oxygen.as_mmhg());
        self.number(breath.arterial_saturation);
    }
}

/// A dog that breathes by itself from a T-piece with too little fresh gas.
fn own_breaths() -> (Protocol, GasPlan) {
    let dog = Animal::typical(Species::Dog, Mass::kg(20.0));
    let mut start = Setup { lung: dog.lung(), ..Setup::default() };
    start.ventilator.mode = Mode::Standby;
    start.ventilator.fresh_gas_flow = Flow::l_per_min(1.5);
    let plan = gas_plan(dog, &start, Some(0.4));
    (Protocol { start, changes: vec![], duration: Seconds::s(90.0) }, plan)
}

/// A ventilated cat whose circuit leaks through a hole from the middle on.
fn ventilated() -> (Protocol, GasPlan) {
    let start = crate::two_node::cat();
    let mut setup = start.clone();
    setup.circuit.leak = Some(Leak::orifice(Flow::ml_s(5.0), Pressure::cmh2o(30.0)));
    let plan = gas_plan(Animal::typical(Species::Cat, Mass::kg(4.0)), &start, None);
    let changes = vec![Change { at: Seconds::s(31.0), setup }];
    (Protocol { start, changes, duration: Seconds::s(60.0) }, plan)
}

fn gas_plan(animal: Animal, start: &Setup, depth: Option<f64>) -> GasPlan {
    let exchange = Exchange::new(&animal, &start.lung, Apparatus::default());
    GasPlan {
        exchange: exchange.expect("an animal's own lung"),
        arterial_carbon_dioxide: PartialPressure::mmhg(45.0),
        capnograph: Capnograph::new(Seconds::s(1.5), Seconds::s(0.2)),
        start: GasSettings {
            conditions: Conditions::of(&animal, 38.0, Fractions::OXYGEN),
            drive: depth.map(|depth| Drive::of(&animal, depth)),
        },
        changes: vec![],
        animal,
    }
}

/// A cat whose circuit leaks from the middle on, a dog's three compartments with
/// a delayed valve, a rat on a rigid circuit, a horse that outgrows its flow, a sized tube
/// beside a hole, and a port that is blocked and then open.
fn runs() -> Vec<Protocol> {
    let cat = crate::two_node::cat();
    let mut leaking = cat.clone();
    leaking.circuit.leak = Some(Leak::linear(Flow::ml_s(15.0), Pressure::cmh2o(30.0)));

    let mut dog = Setup::default();
    dog.lung.compartments = [(9.0, 18.0), (6.0, 60.0), (1.5, 300.0)].map(part).to_vec();
    dog.lung.tube = Tube::Linear(Resistance::cmh2o_s_per_l(7.0));
    dog.ventilator.fresh_gas_flow = Flow::l_per_min(6.0);
    dog.ventilator.cycling_pressure = Pressure::cmh2o(14.0);
    dog.ventilator.valve_delay = Seconds::s(0.03);
    dog.ventilator.end_expiratory_pressure = Pressure::cmh2o(4.0);
    dog.ventilator.inspiratory_time_limit = Seconds::s(3.0);
    dog.ventilator.expiratory_time = Seconds::s(1.2);

    let mut rat = Setup::default();
    rat.lung.compartments = vec![part((0.3, 250.0))];
    rat.circuit.compliance = Compliance::ZERO;
    rat.ventilator.fresh_gas_flow = Flow::l_per_min(0.3);
    rat.ventilator.cycling_pressure = Pressure::cmh2o(10.0);
    rat.ventilator.inspiratory_time_limit = Seconds::s(3.0);
    rat.ventilator.expiratory_time = Seconds::s(0.4);

    let mut horse = Setup::default();
    horse.lung.compartments = vec![part((700.0, 0.6)), part((300.0, 1.1))];
    horse.circuit.compliance = Compliance::ml_per_cmh2o(4.0);
    horse.ventilator.fresh_gas_flow = Flow::l_per_min(15.0);
    horse.ventilator.cycling_pressure = Pressure::cmh2o(10.0);
    horse.ventilator.inspiratory_time_limit = Seconds::s(2.5);
    horse.ventilator.expiratory_time = Seconds::s(1.2);

    let mut curved = cat.clone();
    let gas = Mixture::OXYGEN.properties(37.0, STANDARD_PRESSURE_PA);
    curved.lung.tube = Tube::Sized(SmoothTube::new(3.5, 16.0, gas));
    curved.circuit.leak = Some(Leak::orifice(Flow::ml_s(5.0), Pressure::cmh2o(30.0)));

    let mut blocked = leaking.clone();
    blocked.circuit.patient_port = PatientPort::Blocked;
    let mut open = cat.clone();
    open.circuit.patient_port = PatientPort::Open;
    let mut standby = cat.clone();
    standby.ventilator.mode = Mode::Standby;

    let run = |start: &Setup, changes: &[(f64, &Setup)], duration| Protocol {
        start: start.clone(),
        changes: changes
            .iter()
            .map(|&(at, setup)| Change { at: Seconds::s(at), setup: setup.clone() })
            .collect(),
        duration: Seconds::s(duration),
    };
    vec![
        run(&cat, &[(31.0, &leaking)], 60.0),
        run(&dog, &[], 60.0),
        run(&rat, &[], 20.0),
        run(&horse, &[], 60.0),
        run(&curved, &[], 20.0),
        run(&cat, &[(7.7, &blocked), (9.1, &open), (12.3, &standby), (14.0, &cat)], 20.0),
    ]
}

fn part((compliance, resistance): (f64, f64)) -> Compartment {
    Compartment::new(Compliance::ml_per_cmh2o(compliance), Resistance::cmh2o_s_per_l(resistance))
}
