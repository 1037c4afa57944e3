//! One patient of a cohort, drawn by its number.

use tidewright::quantity::{Flow, Mass, Pressure};
use tidewright::random::generator;
use tidewright::setup::{Setup, Ventilator};
use tidewright::species::Animal;

use super::Cohort;
use super::draw::Variate;
use super::file::{Goals, Lungs, Settings};
use crate::plan;

/// A patient before the first breath.
pub(super) struct Patient {
    pub weight_kg: f64,
    pub setup: Setup,
    /// Why there are no settings, if so.
    pub problem: Option<String>,
}

/// Draws patients, and remembers what a rule said for the last weight.
pub(super) struct Drawing<'a> {
    cohort: &'a Cohort,
    ruled: Option<(f64, Result<Ventilator, String>)>,
}

impl<'a> Drawing<'a> {
    pub fn of(cohort: &'a Cohort) -> Self {
        Self { cohort, ruled: None }
    }

    /// The patient of an index from 0.
    pub fn patient(&mut self, index: u64) -> Patient {
        let cohort = self.cohort;
        let vary = &cohort.file.vary;
        let seed = mixed(mixed(u64::from(cohort.file.seed)).wrapping_add(index));
        // A generator for each thing drawn: drawing one more leaves the others alone.
        let drawn = |variate: Variate| {
            let seed = seed ^ mixed(variate as u64 + 1);
            Some(variate.of(vary)?.draw(&mut generator(seed)))
        };
        let weight_kg = drawn(Variate::Weight).unwrap_or(cohort.weight.as_kg());
        let mut setup = cohort.base.clone();
        if weight_kg <= 0.0 {
            let problem = Some(format!("the weight is {weight_kg} kg, and must be above 0"));
            return Patient { weight_kg, setup, problem };
        }
        if cohort.file.lungs == Lungs::Individual {
            cohort.give_lung(
                &mut setup,
                &Animal::individual(cohort.species, Mass::kg(weight_kg), seed),
            );
        }
        let set = |setup: &mut Setup, variates: &[Variate]| {
            for &variate in variates {
                if let Some(value) = drawn(variate) {
                    variate.set(setup, weight_kg, value);
                }
            }
        };
        set(&mut setup, &Variate::BEFORE_SETTINGS);
        let mut problem = None;
        match self.settings(weight_kg) {
            Ok(ventilator) => setup.ventilator = ventilator,
            Err(reason) => problem = Some(reason),
        }
        // The rule is for the typical patient; the device is this patient's own.
        let pressure = drawn(Variate::EndExpiratoryPressure).map(Pressure::cmh2o);
        let pressure = pressure.unwrap_or(cohort.base.ventilator.end_expiratory_pressure);
        setup.ventilator.end_expiratory_pressure = pressure;
        set(&mut setup, &Variate::SETTINGS);
        Patient { weight_kg, setup, problem }
    }

    fn settings(&mut self, weight_kg: f64) -> Result<Ventilator, String> {
        let base = &self.cohort.base.ventilator;
        match &self.cohort.file.settings {
            Settings::Fixed => Ok(*base),
            Settings::FlowByWeight(flow) => {
                let fresh_gas_flow = Flow::l_per_min(flow.l_min_for_each_kg * weight_kg);
                Ok(Ventilator { fresh_gas_flow, ..*base })
            }
            Settings::RuleOfThumb(goals) => self.remembered(weight_kg, goals, |typical, goals| {
                plan::settings_by_rule(typical, goals).map_err(|error| error.to_string())
            }),
            Settings::Plan(goals) => self.remembered(weight_kg, goals, |typical, goals| {
                let plan = plan::plan(typical, goals).map_err(|error| error.to_string())?;
                Ok(*plan.ventilator())
            }),
        }
    }

    fn remembered(
        &mut self,
        weight_kg: f64,
        goals: &Goals,
        rule: impl Fn(&Setup, &plan::Goals) -> Result<Ventilator, String>,
    ) -> Result<Ventilator, String> {
        if let Some((of, said)) = &self.ruled
            && *of == weight_kg
        {
            return said.clone();
        }
        let said = rule(&self.typical(weight_kg), &goals.for_weight(Mass::kg(weight_kg)));
        self.ruled = Some((weight_kg, said.clone()));
        said
    }

    /// The typical patient of a weight: everything drawn is at its centre.
    fn typical(&self, weight_kg: f64) -> Setup {
        let cohort = self.cohort;
        let mut setup = cohort.base.clone();
        if cohort.file.lungs == Lungs::Individual {
            cohort.give_lung(&mut setup, &Animal::typical(cohort.species, Mass::kg(weight_kg)));
        }
        for variate in Variate::BEFORE_SETTINGS {
            if let Some(from) = variate.of(&cohort.file.vary) {
                variate.set(&mut setup, weight_kg, from.centre());
            }
        }
        setup
    }
}

impl Cohort {
    /// Replaces compartments, and the tube unless the base states one.
    fn give_lung(&self, setup: &mut Setup, animal: &Animal) {
        let lung = animal.lung();
        setup.lung.compartments = lung.compartments;
        if !self.has_own_tube {
            setup.lung.tube = lung.tube;
        }
    }
}

/// A number that looks like chance, another one for each `x`: the finisher of the
/// SplitMix64 generator (Steele, Lea and Flood 2014, constants from memory).
fn mixed(x: u64) -> u64 {
    let x = x.wrapping_mul(0x9E37_79B9_7F4A_7C15).wrapping_add(0x9E37_79B9_7F4A_7C15);
    let x = (x ^ (x >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    let x = (x ^ (x >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    x ^ (x >> 31)
}
