//! Totals, means and extremes of a run.

use serde::Serialize;
use tidewright::breath::{Breath, EndedBy};
use tidewright::coupled::{GasRun, GasStretch};
use tidewright::machine::Signal;
use tidewright::run::Stretch;

use super::{BreathRow, GasSummary};
use crate::format::Scenario;

/// Totals, means and extremes of a run: `summary` in the JSON report.
///
/// Means are over finished breaths; gas is counted over the whole run.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Summary {
    /// Finished breaths.
    pub breaths: u64,
    /// Of these, ended by reaching the cycling pressure.
    pub ended_by_pressure: u64,
    /// Of these, ended by the inspiratory time limit.
    pub ended_by_time: u64,
    /// Of these, ended by standby.
    pub ended_by_standby: u64,
    /// Breaths per minute, over the time that finished breaths took.
    pub mean_rate_per_min: Option<f64>,
    /// Mean change of lung volume over expiration, mL.
    pub mean_expired_tidal_volume_ml: Option<f64>,
    /// The same for each kg of body weight.
    pub mean_expired_tidal_volume_ml_kg: Option<f64>,
    /// Gas breathed out in a minute, mL/min.
    pub expired_minute_volume_ml_min: Option<f64>,
    /// Highest airway pressure, cmH2O.
    pub highest_peak_pressure_cmh2o: Option<f64>,
    /// Largest change of lung volume over an inspiration, mL for each kg.
    pub largest_inspired_tidal_volume_ml_kg: Option<f64>,
    /// Shortest and longest inspiration, s.
    pub shortest_inspiratory_time_s: Option<f64>,
    /// Longest inspiration, s.
    pub longest_inspiratory_time_s: Option<f64>,
    /// Gas lost through the leak, past the cuff and out of the lung in the whole run, mL.
    pub leaked_ml: f64,
    /// Fresh gas used in the whole run, L.
    pub fresh_gas_used_l: f64,
    /// The last finished breath.
    pub last_breath: Option<BreathRow>,
    /// Carbon dioxide and oxygen; absent without gas exchange.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub gas: Option<GasSummary>,
    #[serde(skip)]
    weight_kg: f64,
    #[serde(skip)]
    expired_ml: f64,
    #[serde(skip)]
    time_s: f64,
}

impl Summary {
    pub(super) fn new(scenario: &Scenario) -> Self {
        Self {
            breaths: 0,
            ended_by_pressure: 0,
            ended_by_time: 0,
            ended_by_standby: 0,
            mean_rate_per_min: None,
            mean_expired_tidal_volume_ml: None,
            mean_expired_tidal_volume_ml_kg: None,
            expired_minute_volume_ml_min: None,
            highest_peak_pressure_cmh2o: None,
            largest_inspired_tidal_volume_ml_kg: None,
            shortest_inspiratory_time_s: None,
            longest_inspiratory_time_s: None,
            leaked_ml: 0.0,
            fresh_gas_used_l: 0.0,
            last_breath: None,
            gas: scenario.gas.as_ref().map(GasSummary::new),
            weight_kg: scenario.patient.weight_kg,
            expired_ml: 0.0,
            time_s: 0.0,
        }
    }

    pub(super) fn stretch(&mut self, stretch: &Stretch<'_>) {
        let (machine, piece) = (stretch.machine, &stretch.piece);
        let flow = machine.setup().ventilator.fresh_gas_flow;
        self.leaked_ml += piece.integral(Signal::LeakFlow);
        self.fresh_gas_used_l += flow.as_ml_s() * piece.duration_s / 1000.0;
    }

    pub(super) fn gas(&mut self, stretch: &Stretch<'_>, gas: &GasStretch, run: &GasRun) {
        if let Some(summary) = &mut self.gas {
            summary.take(stretch, gas, run);
        }
    }

    pub(super) fn breath(&mut self, breath: &Breath) {
        let count = match breath.ended_by {
            EndedBy::Pressure => &mut self.ended_by_pressure,
            EndedBy::Time => &mut self.ended_by_time,
            EndedBy::Standby => &mut self.ended_by_standby,
        };
        *count += 1;
        self.breaths += 1;
        self.expired_ml += breath.expired_tidal_volume.as_ml();
        self.time_s += (breath.inspiratory_time + breath.expiratory_time).as_s();
        let breaths = self.breaths as f64;
        self.mean_rate_per_min = Some(60.0 * breaths / self.time_s);
        self.mean_expired_tidal_volume_ml = Some(self.expired_ml / breaths);
        self.mean_expired_tidal_volume_ml_kg = Some(self.expired_ml / breaths / self.weight_kg);
        self.expired_minute_volume_ml_min = Some(60.0 * self.expired_ml / self.time_s);
        let inspired = breath.inspired_tidal_volume.as_ml() / self.weight_kg;
        let inspiratory_time = breath.inspiratory_time.as_s();
        keep(&mut self.highest_peak_pressure_cmh2o, breath.peak_pressure.as_cmh2o(), f64::max);
        keep(&mut self.largest_inspired_tidal_volume_ml_kg, inspired, f64::max);
        keep(&mut self.shortest_inspiratory_time_s, inspiratory_time, f64::min);
        keep(&mut self.longest_inspiratory_time_s, inspiratory_time, f64::max);
        self.last_breath = Some(BreathRow::of(breath));
    }
}

fn keep(kept: &mut Option<f64>, new: f64, better: fn(f64, f64) -> f64) {
    *kept = Some(kept.map_or(new, |old| better(old, new)));
}
