//! How many times as fast as in a patient a lesson lets the body cool and warm.

use tidewright::quantity::Mass;
use tidewright::species::Parameter;
use tidewright::warmth::{WARMING_C_PER_MIN, fastest_fall_c_per_min};

use crate::format::{ActName, Hidden, Onset, Scenario};

/// Time in which an act of `Warm` or `Cool` moves a lesson's temperature by 1 °C, s: many
/// times as fast as a patient (a teaching choice).
pub const TEMPERATURE_STEP_S: f64 = 300.0;

impl Scenario {
    /// How many times as fast as in a patient a lesson's temperature moves, in a sentence;
    /// nothing where it is no faster, or does not move.
    ///
    /// Cooling is compared with the fastest fall under anaesthesia without warming, warming
    /// with forced air: see [`tidewright::warmth`].
    #[must_use]
    pub fn pace_of_warmth(&self) -> Option<String> {
        let training = self.training.as_ref()?;
        let gas = self.gas.as_ref()?;
        let usual = self.patient.animal().value(Parameter::Temperature);
        let (mut cooling, mut warming) = (0.0_f64, 0.0_f64);
        for case in &training.pool {
            let mut from = gas.temperature_c.unwrap_or(usual);
            for change in &case.changes {
                let Hidden::Temperature(to) = &change.set else { continue };
                // What comes at once was there before anybody looked.
                if let Onset::Ramp(ramp) = &change.onset
                    && ramp.s > 0.0
                {
                    let per_min = (to.c - from) * 60.0 / ramp.s;
                    cooling = cooling.max(-per_min);
                    warming = warming.max(per_min);
                }
                from = to.c;
            }
        }
        let by_hand = 60.0 / TEMPERATURE_STEP_S;
        if training.offers.contains(&ActName::Warm) {
            warming = warming.max(by_hand);
        }
        if training.offers.contains(&ActName::Cool) {
            cooling = cooling.max(by_hand);
        }
        let fastest = fastest_fall_c_per_min(Mass::kg(self.patient.weight_kg));
        let told = [("cools", cooling / fastest), ("warms", warming / WARMING_C_PER_MIN)];
        let told = told.iter().filter(|(_, times)| *times >= 1.5);
        let told: Vec<_> =
            told.map(|(word, times)| format!("{word} up to {times:.0} times as fast")).collect();
        let told = told.join(" and ");
        (!told.is_empty()).then(|| format!("In this lesson the body {told} as a real patient's."))
    }
}
