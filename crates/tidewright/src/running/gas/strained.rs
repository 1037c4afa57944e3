//! The circulation along a run: what strains it, and what becomes of the blood flow.

use super::GasSettings;
use crate::animal::blood::Tensions;
use crate::animal::circulation::{self, Circulation, Pulse, Strain};
use crate::animal::species::{Animal, Parameter};
use crate::base::math::exp;
use crate::base::quantity::Pressure;
use crate::exchange::{Conditions, Exchange};
use crate::plant::signal::Signal;
use crate::stepping::piece::Stretch;

/// Time over which alveolar pressure is a mean, s: a few breaths.
const MEAN_OVER_S: f64 = 15.0;

/// The share of an earlier mean that a time (s) leaves.
pub(super) fn share_kept(lasts_s: f64) -> f64 {
    exp(-lasts_s / MEAN_OVER_S)
}

/// A circulation under what a run does to it. Plain data.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(super) struct Strained {
    circulation: Circulation,
    usual_output_ml_s: f64,
    usual_oxygen_ml_s: f64,
    usual_dead_space: f64,
    /// Fading mean of alveolar pressure and the weight that it has so far.
    alveolar_cmh2o: f64,
    weight: f64,
    heart: f64,
    pulse: Pulse,
}

impl Strained {
    pub fn new(
        animal: &Animal,
        exchange: &Exchange,
        start: &GasSettings,
        blood: &Tensions,
        mean_alveolar: Option<Pressure>,
    ) -> Self {
        let mut new = Self {
            circulation: Circulation::of(animal),
            usual_output_ml_s: animal.value(Parameter::CardiacOutput) / 60.0,
            usual_oxygen_ml_s: animal.value(Parameter::OxygenConsumption) / 60.0,
            usual_dead_space: exchange.alveolar_dead_space(),
            alveolar_cmh2o: mean_alveolar.unwrap_or(Pressure::ZERO).as_cmh2o(),
            weight: if mean_alveolar.is_some() { 1.0 } else { 0.0 },
            heart: 1.0,
            pulse: Pulse::NONE,
        };
        new.pulse = new.circulation.under(&new.strain(start, blood));
        new
    }

    pub fn pulse(&self) -> Pulse {
        self.pulse
    }

    /// The share of alveolar ventilation that meets no blood.
    pub fn alveolar_dead_space(&self) -> f64 {
        circulation::alveolar_dead_space(self.usual_dead_space, self.pulse.output_share)
    }

    /// What holds along a stretch that begins with this blood: the settings, with the
    /// output that is left.
    pub fn along(
        &mut self,
        stretch: &Stretch<'_>,
        settings: &GasSettings,
        blood: &Tensions,
    ) -> Conditions {
        let lasts_s = stretch.piece.duration_s;
        if lasts_s > 0.0 {
            let sum = stretch.piece.integral(Signal::AlveolarPressure);
            let kept = share_kept(lasts_s);
            self.alveolar_cmh2o = kept * self.alveolar_cmh2o + (1.0 - kept) * sum / lasts_s;
            self.weight = kept * self.weight + (1.0 - kept);
            self.heart = circulation::strength_after(self.heart, blood.saturation, lasts_s);
        }
        self.pulse = self.circulation.under(&self.strain(settings, blood));
        self.conditions(settings, blood)
    }

    /// The same under another mean pressure in the alveoli.
    pub fn at(&self, mean: Pressure, settings: &GasSettings, blood: &Tensions) -> Self {
        let mut new = Self { alveolar_cmh2o: mean.as_cmh2o(), weight: 1.0, ..self.clone() };
        new.pulse = new.circulation.under(&new.strain(settings, blood));
        new
    }

    /// The settings, with the output that is left as things stand.
    pub fn conditions(&self, settings: &GasSettings, blood: &Tensions) -> Conditions {
        let strain = self.strain(settings, blood);
        let mut now = settings.conditions;
        if strain.output_share > 0.0 {
            now.demand.cardiac_output_ml_s *= self.pulse.output_share / strain.output_share;
        }
        now
    }

    fn strain(&self, settings: &GasSettings, blood: &Tensions) -> Strain {
        let demand = &settings.conditions.demand;
        let metabolism = demand.oxygen_ml_s / self.usual_oxygen_ml_s;
        let usual_ml_s = self.usual_output_ml_s * metabolism;
        Strain {
            output_share: demand.cardiac_output_ml_s / usual_ml_s,
            metabolism,
            depth: settings.drive.map(|drive| drive.depth),
            alveolar_cmh2o: self.alveolar_cmh2o / self.weight.max(1e-9),
            carbon_dioxide_mmhg: blood.carbon_dioxide.as_mmhg(),
            heart: self.heart,
        }
    }
}
