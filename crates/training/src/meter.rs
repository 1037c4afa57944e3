//! What a session measures: breaths, what the ventilator's own sensor shows of
//! them, and the integrals that marking asks for.

use tidewright::breath::{Breath, BreathMeter};
use tidewright::machine::Signal;
use tidewright::run::Stretch;

/// A breath and what belongs to it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Row {
    /// The breath.
    pub breath: Breath,
    /// When it was over, s.
    pub end_s: f64,
    /// Highest pressure on the ventilator's gauge, cmH2O.
    pub shown_peak_cmh2o: f64,
    /// Pressure on the gauge at its end, cmH2O.
    pub shown_baseline_cmh2o: f64,
    /// Highest alveolar pressure, cmH2O.
    pub alveolar_peak_cmh2o: f64,
    /// Flow at its end, mL/s; below 0 where gas still flows out.
    pub end_flow_ml_s: f64,
}

/// Extremes and integrals of a session so far.
#[derive(Clone, Debug, PartialEq)]
pub struct Totals {
    /// Highest alveolar pressure, cmH2O.
    pub highest_alveolar_cmh2o: f64,
    /// Highest airway pressure, cmH2O.
    pub highest_airway_cmh2o: f64,
    /// For each limit asked for: the integral of alveolar pressure above it, cmH2O·s.
    pub alveolar_above: Vec<(f64, f64)>,
}

/// Measures a session as its pieces pass.
#[derive(Clone, Debug)]
pub(crate) struct Meter {
    breaths: BreathMeter,
    shown_peak: f64,
    alveolar_peak: f64,
    pub totals: Totals,
}

impl Meter {
    pub fn new(limits_cmh2o: &[f64]) -> Self {
        let totals = Totals {
            highest_alveolar_cmh2o: 0.0,
            highest_airway_cmh2o: 0.0,
            alveolar_above: limits_cmh2o.iter().map(|&limit| (limit, 0.0)).collect(),
        };
        Self {
            breaths: BreathMeter::default(),
            shown_peak: f64::NEG_INFINITY,
            alveolar_peak: f64::NEG_INFINITY,
            totals,
        }
    }

    /// Highest pressure on the gauge in the breath under way.
    pub fn shown_so_far(&self) -> f64 {
        self.shown_peak
    }

    pub fn take(&mut self, stretch: &Stretch<'_>) -> Option<Row> {
        let (machine, piece) = (stretch.machine, &stretch.piece);
        let shown = piece.range(machine, Signal::SensedPressure).1;
        let alveolar = piece.range(machine, Signal::AlveolarPressure).1;
        let airway = piece.range(machine, Signal::AirwayPressure).1;
        self.shown_peak = self.shown_peak.max(shown);
        self.alveolar_peak = self.alveolar_peak.max(alveolar);
        let totals = &mut self.totals;
        totals.highest_alveolar_cmh2o = totals.highest_alveolar_cmh2o.max(alveolar);
        totals.highest_airway_cmh2o = totals.highest_airway_cmh2o.max(airway);
        for (limit, sum) in &mut totals.alveolar_above {
            if alveolar > *limit {
                *sum += excess(stretch, *limit);
            }
        }
        let breath = self.breaths.take(stretch)?;
        let row = Row {
            breath,
            end_s: piece.end_s(),
            shown_peak_cmh2o: self.shown_peak,
            shown_baseline_cmh2o: piece.last(machine, Signal::SensedPressure),
            alveolar_peak_cmh2o: self.alveolar_peak,
            end_flow_ml_s: piece.last(machine, Signal::AirwayFlow),
        };
        self.shown_peak = f64::NEG_INFINITY;
        self.alveolar_peak = f64::NEG_INFINITY;
        Some(row)
    }
}

/// The integral of alveolar pressure above a limit over a piece, by Simpson's
/// rule over 64 parts: the clipped pressure has a kink, so about 1e-4 of it.
fn excess(stretch: &Stretch<'_>, limit: f64) -> f64 {
    const PARTS: u32 = 64;
    let (machine, piece) = (stretch.machine, &stretch.piece);
    let step = piece.duration_s / f64::from(PARTS);
    let sum: f64 = (0..=PARTS)
        .map(|k| {
            let weight = match k {
                0 | PARTS => 1.0,
                k if k % 2 == 1 => 4.0,
                _ => 2.0,
            };
            let pressure = piece.at(machine, Signal::AlveolarPressure, f64::from(k) * step);
            weight * (pressure - limit).max(0.0)
        })
        .sum();
    sum * step / 3.0
}
