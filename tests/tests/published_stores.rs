//! What the body stores of carbon dioxide and oxygen, and how fast ventilation
//! moves it, against published measurements.
#![expect(clippy::unwrap_used, reason = "a test stops where the setup is wrong")]

use tidewright::alveolar::alveolar_carbon_dioxide;
use tidewright::exchange::{Apparatus, Conditions, Exchange, Fractions, GasState};
use tidewright::prelude::*;
use tidewright::species::{Animal, Parameter, Species, State};

const STEP_S: f64 = 0.05;

/// An animal that breathes evenly.
struct Even {
    exchange: Exchange,
    now: Conditions,
    state: GasState,
}

impl Even {
    /// In the steady state that gives an alveolar carbon dioxide of 40 mmHg, and
    /// the ventilation (mL/s) that holds it.
    fn at_40_mmhg(animal: &Animal, inspired: Fractions) -> (Self, f64) {
        let exchange = Exchange::new(animal, &animal.lung(), Apparatus::default()).unwrap();
        let now = Conditions::of(animal, animal.value(Parameter::Temperature), inspired);
        let state = exchange.steady(PartialPressure::mmhg(40.0), &now);
        let made_ml_min = now.demand.carbon_dioxide_ml_s * 60.0;
        let needed_l_min = alveolar_carbon_dioxide(made_ml_min, 1.0).as_mmhg() / 40.0;
        let met = 1.0 - animal.value(Parameter::AlveolarDeadSpace);
        let mut even = Self { exchange, now, state };
        let ventilation = needed_l_min * 1000.0 / 60.0 / met;
        even.go(ventilation, inspired, 3.0 * 3600.0);
        (even, ventilation)
    }

    fn go(&mut self, ventilation_ml_s: f64, inspired: Fractions, duration_s: f64) {
        for _ in 0..(duration_s / STEP_S).round() as u32 {
            let state = &mut self.state;
            self.exchange.breathe_evenly(state, ventilation_ml_s, inspired, &self.now, STEP_S);
        }
    }

    fn arterial_mmhg(&self) -> f64 {
        self.exchange.body.arterial_gases(&self.state.body).carbon_dioxide.as_mmhg()
    }

    /// Minutes until the arterial pressure has gone halfway to its new end.
    fn half_time_min(&mut self, ventilation_ml_s: f64, end_mmhg: f64) -> f64 {
        let start = self.arterial_mmhg();
        let mut seconds = 0.0_f64;
        while (self.arterial_mmhg() - start).abs() < 0.5 * (end_mmhg - start).abs() {
            self.go(ventilation_ml_s, self.now.fresh_gas, 1.0);
            seconds += 1.0;
            assert!(seconds < 36_000.0);
        }
        seconds / 60.0
    }

    /// Rise of arterial carbon dioxide after each time of apnoea (s), with fresh
    /// gas at the airway.
    fn apnoea(&mut self, times_s: &[f64]) -> Vec<f64> {
        let start = self.arterial_mmhg();
        let mut before = 0.0;
        times_s
            .iter()
            .map(|&time| {
                self.go(0.0, self.now.fresh_gas, time - before);
                before = time;
                self.arterial_mmhg() - start
            })
            .collect()
    }
}

fn asleep(species: Species, kg: f64) -> Animal {
    Animal::typical(species, Mass::kg(kg))
}

/// Gas stores of the body and the unsteady state (Farhi & Rahn 1955, abstract,
/// anaesthetised dogs): the body takes up 1.5 mL/kg/mmHg, tissue without blood
/// 1.02; stores move with a half-time of 4 min.
#[test]
fn published_carbon_dioxide_stores_of_dogs() {
    let (mut dog, ventilation) = Even::at_40_mmhg(&asleep(Species::Dog, 20.0), Fractions::OXYGEN);
    let body = &dog.exchange.body;
    let stored = |mmhg| body.stored(&body.steady(mmhg, 500.0, &dog.now.demand)).carbon_dioxide;
    let per_kg = (stored(45.0) - stored(35.0)) / 10.0 / 20.0;
    assert!((per_kg - 1.5).abs() < 0.2, "{per_kg} mL/kg/mmHg");

    let end = dog.arterial_mmhg() / 2.0;
    let half_time = dog.half_time_min(2.0 * ventilation, end);
    assert!((half_time - 4.0).abs() < 0.5, "{half_time} min");
}

/// Tissue carbon dioxide stores: magnitude of acute change in the dog (abstract):
/// slow tissue follows at 0.062/min, 98 % (computed 97.6 %) in an hour.
#[test]
fn published_rate_of_the_slow_store() {
    let animal = asleep(Species::Dog, 20.0);
    let exchange = Exchange::new(&animal, &animal.lung(), Apparatus::default()).unwrap();
    let now = Conditions::of(&animal, 38.7, Fractions::OXYGEN);
    let body = &exchange.body;
    // Arterial blood is held at 25 mmHg for an hour, starting from 40.
    let held = body.steady(25.0, 500.0, &now.demand);
    let start = body.steady(40.0, 500.0, &now.demand);
    let mut state = start;
    for _ in 0..(3600.0 / STEP_S) as u32 {
        state.arterial = held.arterial;
        let passage = tidewright::exchange::Passage { came: held.venous, returned: held.arterial };
        body.advance(&mut state, &passage, &now.demand, STEP_S);
        state.venous.oxygen = held.venous.oxygen;
    }
    let slow = |state: &tidewright::exchange::BodyState| state.tissue_mmhg[1];
    let done = (slow(&start) - slow(&state)) / (slow(&start) - slow(&held));
    assert!((done - 0.976).abs() < 0.015, "{done}");
}

/// Arterial carbon dioxide in apnoea with oxygen at the airway.
///
/// Horse, halothane: 5.5 mmHg/min over the first ten minutes (Blaze & Robinson
/// 1987, as a later abstract cites it). Man, anaesthetised: 12 mmHg in the first
/// minute, then 3 to 3.5 mmHg/min (Eger & Severinghaus 1961, from memory: a wide
/// band). Man, awake: 7 mmHg in 10 s and 2 more by 20 s, then 6 mmHg/min (Stock
/// et al. 1988, abstract).
#[test]
fn published_rise_in_apnoea() {
    let (mut horse, _) = Even::at_40_mmhg(&asleep(Species::Horse, 500.0), Fractions::OXYGEN);
    let horse = horse.apnoea(&[600.0])[0] / 10.0;
    assert!((horse / 5.5 - 1.0).abs() < 0.15, "{horse} mmHg/min");

    let (mut man, _) = Even::at_40_mmhg(&asleep(Species::Other, 70.0), Fractions::OXYGEN);
    let rise = man.apnoea(&[60.0, 300.0]);
    assert!((6.0..16.0).contains(&rise[0]), "{} mmHg in the first minute", rise[0]);
    let later = (rise[1] - rise[0]) / 4.0;
    assert!((2.4..4.2).contains(&later), "{later} mmHg/min");

    let mut animal = asleep(Species::Other, 70.0);
    animal.condition.state = State::Awake;
    let (mut man, _) = Even::at_40_mmhg(&animal, Fractions::OXYGEN);
    let rise = man.apnoea(&[20.0, 60.0]);
    assert!((rise[0] / 9.0 - 1.0).abs() < 0.4, "{} mmHg by 20 s", rise[0]);
    let later = (rise[1] - rise[0]) * 60.0 / 40.0;
    assert!((later / 6.0 - 1.0).abs() < 0.3, "{later} mmHg/min");
}

/// Ivanov & Nunn 1969 (from memory, so a wide band): half-time about 3 min after
/// a rise of ventilation and 16 min after a fall, anaesthetised man. The ratio is
/// plain physics: the body is emptied through the ventilation that is left.
#[test]
fn published_fall_is_faster_than_rise() {
    let animal = asleep(Species::Other, 70.0);
    let (mut man, ventilation) = Even::at_40_mmhg(&animal, Fractions::OXYGEN);
    let start = man.arterial_mmhg();
    let up = man.half_time_min(2.0 * ventilation, start / 2.0);
    let (mut man, _) = Even::at_40_mmhg(&animal, Fractions::OXYGEN);
    let down = man.half_time_min(ventilation / 2.0, 2.0 * start);
    assert!((2.0..8.0).contains(&up), "{up} min");
    assert!((3.0..8.0).contains(&(down / up)), "{down} min against {up} min");
}

/// McNally et al., Am J Vet Res 2009;70:1333-1338 (abstract): sedated dogs,
/// apnoeic after induction and open to room air. After air, arterial oxygen was
/// 62 ± 6.3 mmHg and saturation 82.3 ± 4 % (SEM, ten dogs) at 30 s; after oxygen
/// by mask the pulse oximeter took 297.8 ± 42 s to read 90 %. The bands after air
/// are one standard deviation between dogs, √10 times the SEM. Three minutes of
/// mask leave nitrogen in a lung; this dog has none left and may only last longer.
#[test]
fn published_fall_of_oxygen_in_apnoea() {
    let (mut dog, _) = Even::at_40_mmhg(&asleep(Species::Dog, 20.0), Fractions::AIR);
    dog.go(0.0, Fractions::AIR, 30.0);
    let gases = dog.exchange.body.arterial_gases(&dog.state.body);
    assert!((gases.oxygen.as_mmhg() - 62.0).abs() < 6.3 * 10_f64.sqrt(), "{gases:?}");
    assert!((gases.saturation - 0.823).abs() < 0.04 * 10_f64.sqrt(), "{gases:?}");

    let (mut dog, _) = Even::at_40_mmhg(&asleep(Species::Dog, 20.0), Fractions::OXYGEN);
    let mut seconds = 0.0_f64;
    while dog.exchange.body.arterial_gases(&dog.state.body).saturation > 0.9 {
        dog.go(0.0, Fractions::AIR, 1.0);
        seconds += 1.0;
        assert!(seconds < 3600.0);
    }
    assert!((297.8 - 42.0..900.0).contains(&seconds), "{seconds} s");
}

/// Farhi & Rahn 1955 (abstract): oxygen stores move with a half-time of 0.5 min.
/// Here the lung's and the blood's together, after air gives way to oxygen.
#[test]
fn published_half_time_of_oxygen_stores() {
    let (mut dog, ventilation) = Even::at_40_mmhg(&asleep(Species::Dog, 20.0), Fractions::AIR);
    let arterial = |dog: &Even| dog.exchange.body.arterial_gases(&dog.state.body).oxygen.as_mmhg();
    let mut settled =
        Even { exchange: dog.exchange.clone(), now: dog.now, state: dog.state.clone() };
    settled.go(ventilation, Fractions::OXYGEN, 3600.0);
    let halfway = (arterial(&dog) + arterial(&settled)) / 2.0;
    let mut seconds = 0.0;
    while arterial(&dog) < halfway {
        dog.go(ventilation, Fractions::OXYGEN, 1.0);
        seconds += 1.0;
        assert!(seconds < 600.0);
    }
    assert!((seconds / 60.0 - 0.5_f64).abs() < 0.2, "{seconds} s");
}
