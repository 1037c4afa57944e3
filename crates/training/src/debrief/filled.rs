//! The values of a run in the texts of a debrief.

use super::courses::{highest_end_tidal, lowest_spo2};
use crate::bedside::meter::Row;
use crate::judge::mark::Marking;
use crate::judge::measure::own_tidal_volume_ml_kg;
use crate::session::Session;
use crate::words::text::said;

/// A text with the values of this run in the place of `{names}`.
pub(super) fn filled(
    text: &str,
    session: &Session,
    marking: &Marking,
    pair: Option<&(Row, Row)>,
) -> String {
    let scenario = session.scenario();
    let weight_kg = scenario.patient.weight_kg;
    let protocol = scenario.protocol_without_faults();
    let lung = &protocol.start.lung;
    let set = &session.machine().setup().ventilator;
    let last = session.rows().last();
    let or_dash = |value: Option<f64>| value.map_or_else(|| "–".to_owned(), said);
    let after = pair.map(|(faulty, _)| faulty).or(last);
    let before = pair.map(|(_, healthy)| healthy).or(session.rows().first());
    let value = |name: &str| -> String {
        let row = if name.contains("_before_") { before } else { after };
        let breath = row.map(|row| row.breath);
        let gas = row.and_then(|row| row.gas);
        match name {
            "patient" => scenario.patient.name.clone().unwrap_or_else(|| "the patient".to_owned()),
            "weight_kg" => said(weight_kg),
            "case" => marking.case.clone().unwrap_or_else(|| "no fault".to_owned()),
            "onset_s" => or_dash(marking.onset_s),
            "sign" => marking.sign.clone().unwrap_or_else(|| "no sign".to_owned()),
            "sign_s" => or_dash(marking.sign_s),
            "acted_s" => or_dash(marking.acted_s),
            "compliance_ml_cmh2o" => said(lung.total_compliance().as_ml_per_cmh2o()),
            "resistance_cmh2o_s_l" => {
                or_dash(lung.compartments.first().map(|part| part.resistance.as_cmh2o_s_per_l()))
            }
            "highest_end_tidal_mmhg" => or_dash(highest_end_tidal(session)),
            "lowest_spo2_percent" => or_dash(lowest_spo2(session)),
            "final_end_tidal_mmhg" => {
                let last = session.gas_breaths().last();
                or_dash(last.map(|breath| breath.end_tidal_carbon_dioxide.as_mmhg()))
            }
            "own_tidal_volume_ml_kg" => or_dash(own_tidal_volume_ml_kg(session)),
            "fresh_gas_flow_l_min" => said(set.fresh_gas_flow.as_l_per_min()),
            "cycling_pressure_cmh2o" => said(set.cycling_pressure.as_cmh2o()),
            "limited_volume_ml_kg" => {
                said((set.fresh_gas_flow * set.inspiratory_time_limit).as_ml() / weight_kg)
            }
            name if name.starts_with("inspiratory_time") => {
                or_dash(breath.map(|breath| breath.inspiratory_time.as_s()))
            }
            name if name.starts_with("tidal_volume") => {
                or_dash(breath.map(|breath| breath.expired_tidal_volume.as_ml() / weight_kg))
            }
            name if name.starts_with("peak") => {
                or_dash(breath.map(|breath| breath.peak_pressure.as_cmh2o()))
            }
            name if name.starts_with("end_tidal") => {
                or_dash(gas.map(|gas| gas.end_tidal_carbon_dioxide.as_mmhg()))
            }
            name if name.starts_with("inspired_co2") => {
                or_dash(gas.map(|gas| gas.mean_inspired_carbon_dioxide.as_mmhg()))
            }
            _ => or_dash(breath.map(|breath| breath.baseline_pressure.as_cmh2o())),
        }
    };
    let mut parts = text.split('{');
    let mut filled = parts.next().unwrap_or_default().to_owned();
    for part in parts {
        match part.split_once('}') {
            Some((name, rest)) => {
                filled.push_str(&value(name));
                filled.push_str(rest);
            }
            None => filled.push_str(part),
        }
    }
    filled
}
