//! What the gas did along a run, point by point.

use crate::animal::blood::Tensions;
use crate::animal::circulation::Pulse;
use crate::base::quantity::{PartialPressure, Pressure, Seconds};
use crate::exchange::{Capnograph, Exchange, GasBreath, GasState, Sample};

/// A breath that the patient drew by itself: a half-sine of muscle pressure.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct OwnEffort {
    /// When it began, s.
    pub at_s: f64,
    /// Its height.
    pub amplitude: Pressure,
    /// Its length.
    pub lasts: Seconds,
}

/// The gas at the end of a small step of time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GasPoint {
    /// When, s since the start of the run.
    pub at_s: f64,
    /// Length of the step that ends there, s.
    pub step_s: f64,
    /// Gas that went to the patient in the step, mL; negative when it came back.
    pub volume_ml: f64,
    /// Carbon dioxide at the patient connection over the step, mmHg.
    pub carbon_dioxide_mmhg: f64,
    /// What the capnograph shows, mmHg: later, and rounded.
    pub shown_carbon_dioxide_mmhg: f64,
    /// Share of oxygen at the patient connection, 0 to 1.
    pub oxygen: f64,
    /// Carbon dioxide of alveolar gas that meets blood, mmHg.
    pub alveolar_carbon_dioxide_mmhg: f64,
    /// Arterial carbon dioxide, mmHg; read once a second.
    pub arterial_carbon_dioxide_mmhg: f64,
    /// Arterial oxygen, mmHg; read once a second.
    pub arterial_oxygen_mmhg: f64,
    /// Oxygen saturation of arterial haemoglobin, 0 to 1; read once a second.
    pub saturation: f64,
    /// Heart rate, arterial pressure and output over what is usual; looked after once
    /// for each stretch of a run.
    pub pulse: Pulse,
}

impl GasPoint {
    /// What a pulse oximeter shows, 0 to 1; `None` without a pulse.
    #[must_use]
    pub fn oximeter(&self) -> Option<f64> {
        self.pulse.is_there().then_some(self.saturation)
    }
}

/// What the gas did along a stretch of a run.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct GasStretch {
    /// Point after point, the last at the end of the stretch.
    pub points: Vec<GasPoint>,
    /// The breaths that ended in it: those of the ventilator, and the patient's
    /// own while it stands by ([`GasBreath::own`]).
    pub breaths: Vec<GasBreath>,
    /// Start of the last breath that had reached the lung by its end, s since the start
    /// of the run; the start of the run before the first.
    pub breath_since_s: f64,
}

pub(super) fn at(
    exchange: &Exchange,
    state: &GasState,
    sample: &Sample,
    capnograph: &mut Capnograph,
    blood: &Tensions,
    pulse: Pulse,
) -> GasPoint {
    let mixture = sample.passed.mixture;
    let at_patient = PartialPressure::mmhg(mixture.carbon_dioxide * exchange.dry_mmhg());
    let shown = capnograph.show(Seconds::s(sample.at_s), at_patient);
    GasPoint {
        at_s: sample.at_s,
        step_s: sample.step_s,
        volume_ml: sample.passed.volume_ml,
        carbon_dioxide_mmhg: at_patient.as_mmhg(),
        shown_carbon_dioxide_mmhg: shown.as_mmhg(),
        oxygen: mixture.oxygen,
        alveolar_carbon_dioxide_mmhg: exchange.mean_alveolar(state).carbon_dioxide
            * exchange.dry_mmhg(),
        arterial_carbon_dioxide_mmhg: blood.carbon_dioxide.as_mmhg(),
        arterial_oxygen_mmhg: blood.oxygen.as_mmhg(),
        saturation: blood.saturation,
        pulse,
    }
}
