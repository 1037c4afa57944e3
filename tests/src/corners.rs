//! Odd machines: every number at a corner of what a file may say, or at a plain value,
//! and every element there or not. Machine k has a generator of its own, so a find is
//! told by its number.

use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use tidewright::coupled::{GasPlan, GasSettings};
use tidewright::exchange::{Apparatus, Capnograph, Conditions, Exchange, Fractions};
use tidewright::gases::{Mixture, STANDARD_PRESSURE_PA};
use tidewright::math::ln;
use tidewright::prelude::*;
use tidewright::setup::UserLaw;
use tidewright::species::{Animal, Species};
use tidewright::tube::SmoothTube;

/// Machine number `k`.
#[must_use]
pub fn machine(k: u64) -> Setup {
    let mut dice = Dice(k.wrapping_mul(0x9e37_79b9_7f4a_7c15) ^ 0x5851_f42d_4c95_7f2d);
    let mut setup = Setup { lung: lung(&mut dice), ..Setup::default() };
    circuit(&mut dice, &mut setup.circuit);
    let ventilator = &mut setup.ventilator;
    ventilator.fresh_gas_flow = Flow::l_per_min(dice.of(&[0.0, 0.05, 1.3, 8.0, 100.0]));
    ventilator.cycling_pressure = Pressure::cmh2o(dice.of(&[0.5, 3.0, 12.0, 35.0, 100.0]));
    ventilator.end_expiratory_pressure = Pressure::cmh2o(dice.of(&[0.0, 0.0, 4.0, 30.0]));
    ventilator.inspiratory_time_limit = Seconds::s(dice.of(&[0.02, 0.4, 3.0, 60.0]));
    ventilator.expiratory_time = Seconds::s(dice.of(&[0.02, 0.3, 1.5, 2.0, 600.0]));
    ventilator.valve_delay = Seconds::s(dice.of(&[0.0, 0.0, 0.05, 5.0]));
    if dice.once_in(10) {
        ventilator.mode = Mode::Standby;
    }
    setup.effort = effort(&mut dice);
    setup
}

/// Machine `k` whose first compartment counts how often its law is asked, which is how often
/// the network is worked out. A sigmoid ends in straight lines sooner there, as the slope of
/// a law from outside is checked at a few places; a table is made straight.
#[must_use]
pub fn counted(k: u64) -> (Setup, Arc<AtomicU64>) {
    let mut setup = machine(k);
    let part = &mut setup.lung.compartments[0];
    let (compliance, law) = (part.compliance.as_ml_per_cmh2o(), part.law.clone());
    let asked = Arc::new(AtomicU64::new(0));
    let count = Arc::clone(&asked);
    part.law = PressureVolume::User(UserLaw::new(move |volume: f64| {
        count.fetch_add(1, Ordering::Relaxed);
        let PressureVolume::Sigmoid { lower, span, middle, width } = &law else {
            return (volume / compliance, 1.0 / compliance);
        };
        let (span, width) = (span.as_ml(), width.as_cmh2o());
        let share = (volume - lower.as_ml()) / span;
        let inside = share.clamp(0.1, 0.9);
        let slope = width / (span * inside * (1.0 - inside));
        let at = middle.as_cmh2o() + width * ln(inside / (1.0 - inside));
        (at + slope * (share - inside) * span, slope)
    }));
    (setup, asked)
}

/// A plan for the gas of a cat that has the lung of a machine.
///
/// # Panics
/// Never: any lung can have gas.
#[must_use]
pub fn gas(setup: &Setup) -> GasPlan {
    let cat = Animal::typical(Species::Cat, Mass::kg(4.0));
    let exchange =
        Exchange::new(&cat, &setup.lung, Apparatus::default()).expect("gas for any lung");
    GasPlan {
        exchange,
        arterial_carbon_dioxide: PartialPressure::mmhg(40.0),
        capnograph: Capnograph::new(Seconds::s(1.5), Seconds::s(0.2)),
        start: GasSettings {
            conditions: Conditions::of(&cat, 38.0, Fractions::OXYGEN),
            drive: None,
        },
        changes: vec![],
        animal: cat,
    }
}

struct Dice(u64);

impl Dice {
    /// The generator of Steele, Lea and Flood (2014), from memory.
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    fn below(&mut self, count: usize) -> usize {
        (self.next() % count as u64) as usize
    }

    fn of(&mut self, values: &[f64]) -> f64 {
        values[self.below(values.len())]
    }

    fn once_in(&mut self, count: usize) -> bool {
        self.below(count) == 0
    }

    fn some<T>(&mut self, count: usize, make: impl FnOnce(&mut Self) -> T) -> Option<T> {
        self.once_in(count).then(|| make(self))
    }

    fn resistance(&mut self) -> Resistance {
        Resistance::cmh2o_s_per_l(self.of(&[0.01, 1.0, 20.0, 20.0, 300.0, 100_000.0]))
    }

    fn compliance(&mut self) -> Compliance {
        Compliance::ml_per_cmh2o(self.of(&[0.001, 0.1, 5.0, 5.0, 60.0, 10_000.0]))
    }
}

fn lung(dice: &mut Dice) -> Lung {
    let count = [1, 1, 1, 2, 3, 6][dice.below(6)];
    let wall = dice.some(4, |dice| ChestWall {
        compliance: dice.compliance(),
        pressed_by: Pressure::cmh2o(dice.of(&[0.0, 3.0, 50.0])),
        open_wound: dice.some(4, Dice::resistance),
    });
    let viscoelastic = dice.some(5, |dice| Viscoelastic {
        compliance: dice.compliance(),
        resistance: dice.resistance(),
    });
    let cuff = dice.some(4, |dice| Cuff {
        seals_to: Pressure::cmh2o(dice.of(&[0.0, 8.0, 100.0])),
        conductance_ml_s_cmh2o: dice.of(&[0.0, 0.5, 1000.0]),
    });
    let compartments = (0..count).map(|_| compartment(dice, wall.is_some())).collect();
    Lung { compartments, tube: tube(dice), cuff, chest_wall: wall, viscoelastic }
}

fn compartment(dice: &mut Dice, has_pleura: bool) -> Compartment {
    let mut part = Compartment::new(dice.compliance(), dice.resistance());
    part.expiratory_resistance = dice.some(3, Dice::resistance);
    part.shut = dice.once_in(15);
    part.law = match dice.below(5) {
        0 => PressureVolume::Sigmoid {
            lower: Volume::ml(dice.of(&[-100_000.0, -20.0, 0.0, 1000.0])),
            span: Volume::ml(dice.of(&[0.01, 10.0, 200.0, 100_000.0])),
            middle: Pressure::cmh2o(dice.of(&[-50.0, 0.0, 8.0, 100.0])),
            width: Pressure::cmh2o(dice.of(&[0.1, 4.0, 100.0])),
        },
        1 | 2 => table(dice),
        _ => PressureVolume::Linear,
    };
    part.air_leak = dice.some(6, |dice| AirLeak {
        resistance: dice.resistance(),
        to: match dice.below(3) {
            0 if has_pleura => LeaksTo::Pleura,
            1 if has_pleura => LeaksTo::PleuraOneWay,
            _ => LeaksTo::Room,
        },
    });
    part
}

/// Points close together or far apart in either direction.
fn table(dice: &mut Dice) -> PressureVolume {
    let mut at = (dice.of(&[-100.0, 0.0, 5.0]), dice.of(&[-1000.0, 0.0, 0.0, 100.0]));
    let points = (0..2 + dice.below(4)).map(|_| {
        let point = (Pressure::cmh2o(at.0), Volume::ml(at.1));
        at.0 += dice.of(&[0.001, 1.0, 10.0, 60.0]);
        at.1 += dice.of(&[1e-3, 0.1, 20.0, 1000.0]);
        point
    });
    PressureVolume::Table(points.collect())
}

fn tube(dice: &mut Dice) -> Tube {
    match dice.below(8) {
        0 | 1 => Tube::None,
        2 => Tube::Linear(dice.resistance()),
        3 => Tube::Quadratic {
            k1: dice.resistance().as_cmh2o_s_per_l(),
            k2: dice.of(&[0.0, 100.0, 1e6]),
        },
        4 | 5 => {
            let gas = Mixture::OXYGEN.properties(37.0, STANDARD_PRESSURE_PA);
            let (bore, length) = (dice.of(&[0.5, 3.5, 9.0, 60.0]), dice.of(&[0.5, 16.0, 300.0]));
            Tube::Sized(SmoothTube::new(bore, length, gas))
        }
        6 => Tube::OneWay {
            inward: dice.some(2, Dice::resistance),
            outward: dice.some(2, Dice::resistance),
        },
        _ => [Tube::Shut, Tube::None][dice.below(2)],
    }
}

fn circuit(dice: &mut Dice, circuit: &mut Circuit) {
    circuit.compliance = Compliance::ml_per_cmh2o(dice.of(&[0.0, 1e-6, 0.15, 0.15, 100.0]));
    circuit.valve_resistance = dice.resistance();
    circuit.outlet_k2 = dice.of(&[0.0, 0.0, 0.0, 40.0, 1e6]);
    circuit.valve =
        [Valve::Working, Valve::Working, Valve::Working, Valve::StuckOpen, Valve::StuckShut]
            [dice.below(5)];
    circuit.backflow_check = dice.once_in(3);
    circuit.water_in_limb = Pressure::cmh2o(dice.of(&[0.0, 0.0, 0.0, 3.0, 50.0]));
    circuit.limb = dice.some(4, |dice| Limb {
        compliance: Compliance::ml_per_cmh2o(dice.of(&[0.0, 1e-6, 0.5, 100.0])),
        resistance: dice.resistance(),
        disconnected: dice.once_in(4),
    });
    circuit.leak = dice.some(2, |dice| Leak {
        flow: Flow::ml_s(dice.of(&[0.0, 1.0, 16_666.0])),
        at: Pressure::cmh2o(dice.of(&[0.1, 30.0, 200.0])),
        law: [LeakLaw::Linear, LeakLaw::Orifice][dice.below(2)],
    });
    circuit.relief = dice.some(5, |dice| Relief {
        opens_at: Pressure::cmh2o(dice.of(&[0.0, 15.0, 200.0])),
        resistance: dice.resistance(),
    });
    circuit.patient_port = match dice.below(12) {
        0 => PatientPort::Open,
        1 => PatientPort::Blocked,
        _ => PatientPort::Connected,
    };
    circuit.sensor.offset = Pressure::cmh2o(dice.of(&[0.0, 0.0, 0.0, -50.0, 50.0]));
    circuit.sensor.place = match dice.below(10) {
        0 => SensorPlace::ValveEnd,
        1 => SensorPlace::Cut(Pressure::cmh2o(dice.of(&[-50.0, 0.0, 200.0]))),
        _ => SensorPlace::PatientConnection,
    };
}

fn effort(dice: &mut Dice) -> Effort {
    let period = Seconds::s(dice.of(&[0.2, 0.5, 3.0, 600.0]));
    let strength = Pressure::cmh2o(dice.of(&[0.0, 5.0, 100.0, 200.0]));
    match dice.below(8) {
        0 => Effort::breaths(strength, Seconds::s(dice.of(&[0.05, 0.8, 10.0])), period),
        1 => Effort::coughs(strength, period),
        2 => Effort::bracing(strength),
        _ => Effort::none(),
    }
}
