//! What a session notes of its breaths, and when it ends.

use tidewright::exchange::GasBreath;

use super::{HAND_OVER_APNOEA_S, HAND_OVER_CMH2O, SMALLEST_BREATH_ML_KG, Session};
use crate::bedside::meter::Row;
use crate::bedside::{End, GasState};

impl Session {
    /// When the session is handed over if nobody breathes until then, s; never where
    /// that is past.
    pub(super) fn handed_over_s(&self, now_s: f64) -> f64 {
        let at_s = self.state.last_breath_s + HAND_OVER_APNOEA_S;
        if at_s > now_s { at_s } else { f64::INFINITY }
    }

    /// Notes a breath that is over.
    pub(super) fn note(&mut self, row: Option<Row>) {
        let smallest_ml = SMALLEST_BREATH_ML_KG * self.scenario().patient.weight_kg;
        let last = self.gas_breaths().last().copied();
        if let Some(mut row) = row {
            row.gas = last;
            if row.breath.expired_tidal_volume.as_ml() >= smallest_ml {
                self.breathed(row.end_s);
            }
            self.bedside.log.rows.push(row);
        }
        // A patient that breathes by itself off a ventilator that cycles does so between and
        // across its cycles: what came back from the lung tells, not what a cycle gave.
        let from_lung =
            |breath: &GasBreath| breath.reaches_lung && breath.expired.as_ml() >= smallest_ml;
        if let Some(breath) = last.filter(from_lung) {
            let end_s = (breath.start + breath.duration).as_s();
            if end_s > self.state.last_breath_s {
                self.breathed(end_s);
            }
        }
    }

    fn breathed(&mut self, end_s: f64) {
        let state = &mut self.bedside.state;
        state.longest_apnoea_s = state.longest_apnoea_s.max(end_s - state.last_breath_s);
        state.last_breath_s = end_s;
    }

    /// Ends the session if it must end.
    pub(super) fn end_if_due(&mut self) {
        let end = if self.state.meter.totals.highest_alveolar_cmh2o > HAND_OVER_CMH2O {
            Some(End::HandedOverForPressure)
        } else if self.now_s() >= self.state.last_breath_s + HAND_OVER_APNOEA_S {
            Some(End::HandedOverForApnoea)
        } else if let Some(end) = self.state.gas.as_ref().and_then(GasState::hand_over) {
            Some(end)
        } else {
            (self.now_s() >= self.scenario().duration_s).then_some(End::Time)
        };
        if end.is_some() {
            self.bedside.state.ended = end;
        }
    }
}
