//! A patient that breathes by its own drive, gas exchange closing the loop.
#![expect(clippy::unwrap_used, reason = "a test stops where the setup is wrong")]

use tidewright::drive::Drive;
use tidewright::exchange::{
    Apparatus, Conditions, Exchange, Fractions, GasState, USUAL_STEPS, follow,
};
use tidewright::prelude::*;
use tidewright::species::{Animal, Parameter, Species};

/// A patient at a T-piece, breathing by itself.
struct Sleeper {
    animal: Animal,
    drive: Drive,
    exchange: Exchange,
    now: Conditions,
    gas: GasState,
    setup: Setup,
    machine: Machine,
    moment: Moment,
    breaths: u32,
}

impl Sleeper {
    fn dog(depth: f64, fresh_gas_l_min: f64) -> Self {
        let animal = Animal::typical(Species::Dog, Mass::kg(20.0));
        let mut setup = Setup { lung: animal.lung(), ..Setup::default() };
        setup.ventilator.mode = Mode::Standby;
        setup.ventilator.fresh_gas_flow = Flow::l_per_min(fresh_gas_l_min);
        let apparatus = Apparatus { limb_ml: 600.0, ..Apparatus::default() };
        let exchange = Exchange::new(&animal, &setup.lung, apparatus).unwrap();
        let usual = animal.value(Parameter::Temperature);
        let now = Conditions::of(&animal, usual, Fractions::OXYGEN);
        let gas = exchange.steady(PartialPressure::mmhg(45.0), &now);
        let machine = Machine::new(setup.clone()).unwrap();
        let moment = Moment::at_rest(&machine);
        let drive = Drive::of(&animal, depth);
        Self { animal, drive, exchange, now, gas, setup, machine, moment, breaths: 0 }
    }

    fn arterial(&self) -> PartialPressure {
        self.exchange.body.arterial_gases(&self.gas.body).carbon_dioxide
    }

    /// Breathes for a time; returns the breaths taken per minute.
    fn live(&mut self, duration_s: f64) -> f64 {
        let (start_s, breaths) = (self.moment.at_s, self.breaths);
        while self.moment.at_s < start_s + duration_s {
            let breath = self.drive.next_breath(self.arterial());
            self.setup.effort =
                breath.map_or_else(Effort::none, |breath| breath.effort(&self.animal));
            let period_s = breath.map_or(2.0, |breath| breath.period.as_s());
            self.breaths += u32::from(breath.is_some());
            let machine = Machine::new(self.setup.clone()).unwrap();
            self.moment = self.moment.under(&machine, &self.machine).unwrap();
            self.machine = machine;
            let until_s = self.moment.at_s + period_s;
            while self.moment.at_s < until_s {
                let done = step(&self.machine, &self.moment, until_s - self.moment.at_s).unwrap();
                self.moment = done.next;
                let stretch = Stretch::from(done.piece);
                follow(&self.exchange, &mut self.gas, &stretch, &self.now, USUAL_STEPS, |_, _| {})
                    .unwrap();
            }
        }
        f64::from(self.breaths - breaths) / duration_s * 60.0
    }
}

#[test]
fn deeper_anaesthesia_settles_at_a_higher_carbon_dioxide() {
    let settled = |depth: f64| {
        let mut dog = Sleeper::dog(depth, 12.0);
        dog.live(3600.0);
        dog.arterial().as_mmhg()
    };
    let (light, surgical, deep) = (settled(0.3), settled(0.5), settled(0.7));
    assert!(light < surgical && surgical < deep, "{light} {surgical} {deep}");
    // Anaesthetised dogs that breathe by themselves are usually let be at 45 to 55
    // mmHg (common practice, no source).
    assert!((40.0..60.0).contains(&surgical), "{surgical}");
}

#[test]
fn rebreathing_is_met_by_breathing_more() {
    let (mut fresh, mut stale) = (Sleeper::dog(0.5, 12.0), Sleeper::dog(0.5, 1.5));
    fresh.live(1800.0);
    stale.live(1800.0);
    assert!(stale.arterial() > fresh.arterial());
    assert!(stale.live(60.0) > fresh.live(60.0));
}

#[test]
fn a_patient_blown_down_stays_apnoeic_until_carbon_dioxide_is_back() {
    let mut dog = Sleeper::dog(0.6, 12.0);
    dog.live(1200.0);
    // An hour of too much ventilation has emptied the stores.
    dog.gas = dog.exchange.steady(PartialPressure::mmhg(22.0), &dog.now);
    assert_eq!(dog.live(30.0), 0.0);
    dog.live(900.0);
    assert!(dog.live(60.0) > 0.0);
    assert!(dog.arterial() > dog.drive.threshold);
}
