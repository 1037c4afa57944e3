//! Which breaths are one to a person at a monitor.

use tidewright::breath::Breath;
use tidewright::exchange::GasBreath;
use tidewright::quantity::PartialPressure;

/// Numbers that lie this near, or within this share, are one (common practice, no
/// source). Times, s; volumes, mL; pressures, cmH2O; leaked, mL; rate, 1/min; carbon
/// dioxide (end-tidal, inspired, arterial), mmHg; saturation.
const ALIKE: [(f64, f64); 13] = [
    (0.05, 0.03),
    (0.05, 0.03),
    (0.5, 0.03),
    (0.5, 0.03),
    (0.3, 0.0),
    (0.3, 0.0),
    (0.3, 0.0),
    (0.5, 0.05),
    (0.5, 0.03),
    (1.5, 0.03),
    (0.75, 0.05),
    (1.5, 0.03),
    (0.01, 0.0),
];

/// What a monitor shows of a breath; no number where it shows none.
#[derive(Clone, Copy, Debug)]
pub(super) struct Shown([f64; ALIKE.len()]);

impl Shown {
    pub fn of(breath: &Breath, gas: Option<&GasBreath>) -> Self {
        let [end_tidal, inspired, arterial, saturation] = of_gas(gas);
        Self([
            breath.inspiratory_time.as_s(),
            breath.expiratory_time.as_s(),
            breath.inspired_tidal_volume.as_ml(),
            breath.expired_tidal_volume.as_ml(),
            breath.peak_pressure.as_cmh2o(),
            breath.baseline_pressure.as_cmh2o(),
            breath.end_expiratory_alveolar_pressure.as_cmh2o(),
            breath.leaked.as_ml(),
            breath.rate_per_min(),
            end_tidal,
            inspired,
            arterial,
            saturation,
        ])
    }

    /// Of a breath of the patient's own.
    pub fn of_own(breath: &GasBreath) -> Self {
        let mut numbers = [f64::NAN; ALIKE.len()];
        numbers[2] = breath.inspired.as_ml();
        numbers[3] = breath.expired.as_ml();
        numbers[8] = 60.0 / breath.duration.as_s();
        numbers[9..].copy_from_slice(&of_gas(Some(breath)));
        Self(numbers)
    }

    pub fn is_like(&self, other: &Self) -> bool {
        let pairs = self.0.iter().zip(other.0).zip(ALIKE);
        pairs.into_iter().all(|((&one, other), (near, share))| {
            let off = (one - other).abs();
            (one.is_nan() && other.is_nan()) || off <= near || off <= share * one.abs()
        })
    }
}

/// End-tidal, inspired and arterial carbon dioxide, saturation.
fn of_gas(gas: Option<&GasBreath>) -> [f64; 4] {
    let Some(gas) = gas else { return [f64::NAN; 4] };
    let of_breath = |pressure: PartialPressure| {
        if gas.reaches_lung { pressure.as_mmhg() } else { f64::NAN }
    };
    [
        of_breath(gas.end_tidal_carbon_dioxide),
        of_breath(gas.mean_inspired_carbon_dioxide),
        gas.arterial_carbon_dioxide.as_mmhg(),
        gas.arterial_saturation,
    ]
}
