//! What a session notes of its breaths, and when it ends.

use super::{End, GasCourse, HAND_OVER_APNOEA_S, HAND_OVER_CMH2O, SMALLEST_BREATH_ML_KG, Session};
use crate::meter::Row;

impl Session {
    /// When the session is handed over if nobody breathes until then, s; never where
    /// that is past.
    pub(super) fn handed_over_s(&self, now_s: f64) -> f64 {
        let at_s = self.last_breath_s + HAND_OVER_APNOEA_S;
        if at_s > now_s { at_s } else { f64::INFINITY }
    }

    /// Notes a breath that is over.
    pub(super) fn note(&mut self, row: Option<Row>) {
        let weight_kg = self.scenario.patient.weight_kg;
        if let Some(mut row) = row {
            row.gas = self.gas_breaths().last().copied();
            if row.breath.expired_tidal_volume.as_ml() >= SMALLEST_BREATH_ML_KG * weight_kg {
                self.longest_apnoea_s = self.longest_apnoea_s.max(row.end_s - self.last_breath_s);
                self.last_breath_s = row.end_s;
            }
            self.rows.push(row);
        }
        let own = self.gas_breaths().last().filter(|breath| breath.own);
        if let Some(own) =
            own.filter(|own| own.expired.as_ml() >= SMALLEST_BREATH_ML_KG * weight_kg)
        {
            let end_s = (own.start + own.duration).as_s();
            if end_s > self.last_breath_s {
                self.longest_apnoea_s = self.longest_apnoea_s.max(end_s - self.last_breath_s);
                self.last_breath_s = end_s;
            }
        }
    }

    /// Ends the session if it must end.
    pub(super) fn end_if_due(&mut self) {
        if self.meter.totals.highest_alveolar_cmh2o > HAND_OVER_CMH2O {
            self.ended = Some(End::HandedOverForPressure);
        } else if self.now_s() >= self.last_breath_s + HAND_OVER_APNOEA_S {
            self.ended = Some(End::HandedOverForApnoea);
        } else if let Some(end) = self.gas.as_ref().and_then(GasCourse::hand_over) {
            self.ended = Some(end);
        } else if self.now_s() >= self.scenario.duration_s {
            self.ended = Some(End::Time);
        }
    }
}
