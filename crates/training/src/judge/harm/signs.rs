//! Time that a patient spent where none should be, as its vital signs tell.

use tidewright::setup::Mode;

use crate::bedside::vitals::Vitals;
use crate::session::Session;

/// Saturation below which oxygen is low, 0 to 1 (common practice, no source).
const LOW_SATURATION: f64 = 0.9;
/// Arterial carbon dioxide that is high, mmHg (R333: cardiac output had changed).
const HIGH_CO2_MMHG: f64 = 80.0;
/// Mean arterial pressure at which organs are in danger, mmHg (common practice, no
/// source; anaesthetised cats had 67 to 113, R316, rabbits 53, R327).
const LOW_ARTERIAL_MMHG: f64 = 40.0;
/// Core temperatures beyond which a patient is in danger, °C (below 34 is severe, R383;
/// common practice, no source).
const BORNE_C: std::ops::RangeInclusive<f64> = 33.0..=42.0;
/// Depth at which no breath is left, and below which a patient is nearly awake (the
/// scale of depth itself).
const TOO_DEEP: f64 = 0.98;
const NEARLY_AWAKE: f64 = 0.2;

/// Sums of such times, s.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Sums {
    pub low_oxygen_s: f64,
    pub high_carbon_dioxide_s: f64,
    pub low_pressure_s: f64,
    pub cold_or_hot_s: f64,
    pub too_deep_s: f64,
    pub awake_s: f64,
}

impl Sums {
    pub fn of(session: &Session) -> Self {
        let protocol = session.protocol();
        let is_ventilated = |at_s: f64| {
            let before = protocol.changes.iter().take_while(|change| change.at.as_s() <= at_s);
            let setup = before.last().map_or(&protocol.start, |change| &change.setup);
            setup.ventilator.mode == Mode::Ventilating
        };
        let entries = session.vitals();
        let ends = entries.iter().skip(1).map(|next| next.at_s).chain([session.now_s()]);
        let mut sums = Self::default();
        for (now, end_s) in entries.iter().zip(ends) {
            sums.add(now, end_s - now.at_s, &is_ventilated);
        }
        sums
    }

    fn add(&mut self, now: &Vitals, lasted_s: f64, is_ventilated: &dyn Fn(f64) -> bool) {
        let count = |sum: &mut f64, so: bool| *sum += if so { lasted_s } else { 0.0 };
        count(&mut self.low_oxygen_s, now.saturation < LOW_SATURATION);
        count(&mut self.high_carbon_dioxide_s, now.arterial_carbon_dioxide_mmhg > HIGH_CO2_MMHG);
        count(&mut self.low_pressure_s, now.pulse.arterial_mmhg < LOW_ARTERIAL_MMHG);
        count(&mut self.cold_or_hot_s, !BORNE_C.contains(&now.temperature_c));
        count(&mut self.too_deep_s, now.depth.is_some_and(|depth| depth >= TOO_DEEP));
        let is_awake = now.depth.is_some_and(|depth| depth < NEARLY_AWAKE);
        count(&mut self.awake_s, is_awake && is_ventilated(now.at_s));
    }
}
