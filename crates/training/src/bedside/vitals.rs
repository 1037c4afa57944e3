//! The patient's vital signs over a session: what harm is judged by.

use tidewright::circulation::{Feel, Pulse};
use tidewright::coupled::GasPoint;
use tidewright_scenario::GasNumbers;

/// Time between two entries, s: harm goes by tens of seconds.
const EVERY_S: f64 = 2.0;

/// Vital signs at a time, as they truly are.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Vitals {
    /// When, s since the start.
    pub at_s: f64,
    /// Heart rate, mean arterial pressure, output, and how the pulse feels.
    pub pulse: Pulse,
    /// Oxygen saturation of arterial haemoglobin, 0 to 1.
    pub saturation: f64,
    /// Arterial carbon dioxide, mmHg.
    pub arterial_carbon_dioxide_mmhg: f64,
    /// Core temperature, °C.
    pub temperature_c: f64,
    /// Depth of anaesthesia, 0 to 1; `None` for a patient without a drive of its own.
    pub depth: Option<f64>,
}

impl Vitals {
    /// As they are at a point under these numbers.
    pub(crate) fn of(point: &GasPoint, numbers: &GasNumbers) -> Self {
        Self {
            at_s: point.at_s,
            pulse: point.pulse,
            saturation: point.saturation,
            arterial_carbon_dioxide_mmhg: point.arterial_carbon_dioxide_mmhg,
            temperature_c: numbers.temperature_c,
            depth: numbers.depth,
        }
    }

    /// What a pulse oximeter shows, 0 to 1; no reading without a pulse.
    #[must_use]
    pub fn oximeter(&self) -> Option<f64> {
        (self.pulse.feels != Feel::None).then_some(self.saturation)
    }
}

/// Vital signs, entry after entry.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Chart {
    pub entries: Vec<Vitals>,
}

impl Chart {
    /// Enters what is due of the points of a stretch.
    pub fn enter(&mut self, points: &[GasPoint], numbers: &GasNumbers) {
        for point in points {
            let due_s = self.entries.last().map_or(0.0, |last| last.at_s + EVERY_S);
            if point.at_s >= due_s {
                self.entries.push(Vitals::of(point, numbers));
            }
        }
    }
}
