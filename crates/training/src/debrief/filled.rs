//! The values of a run in the texts of a debrief.

use tidewright::exchange::GasBreath;
use tidewright::quantity::{Mass, PartialPressure};
use tidewright_scenario::format::DebriefValue;
use tidewright_scenario::measure::BreathMeasure;

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
    let measured = |row: Option<&Row>, measure: BreathMeasure| {
        or_dash(row.map(|row| measure.of(&row.breath, Mass::kg(weight_kg))))
    };
    let volume = |row: Option<&Row>| {
        or_dash(row.map(|row| row.breath.expired_tidal_volume.as_ml() / weight_kg))
    };
    let of_gas = |row: Option<&Row>, value: fn(&GasBreath) -> PartialPressure| {
        or_dash(row.and_then(|row| row.gas.as_ref()).map(|gas| value(gas).as_mmhg()))
    };
    let end_tidal: fn(&GasBreath) -> PartialPressure = |gas| gas.end_tidal_carbon_dioxide;
    let inspired: fn(&GasBreath) -> PartialPressure = |gas| gas.mean_inspired_carbon_dioxide;
    let value = |value: DebriefValue| match value {
        DebriefValue::Patient => {
            scenario.patient.name.clone().unwrap_or_else(|| "the patient".to_owned())
        }
        DebriefValue::Weight => said(weight_kg),
        DebriefValue::Case => marking.case.clone().unwrap_or_else(|| "no fault".to_owned()),
        DebriefValue::OnsetTime => or_dash(marking.onset_s),
        DebriefValue::Sign => marking.sign.clone().unwrap_or_else(|| "no sign".to_owned()),
        DebriefValue::SignTime => or_dash(marking.sign_s),
        DebriefValue::ActedTime => or_dash(marking.acted_s),
        DebriefValue::Compliance => said(lung.total_compliance().as_ml_per_cmh2o()),
        DebriefValue::Resistance => {
            or_dash(lung.compartments.first().map(|part| part.resistance.as_cmh2o_s_per_l()))
        }
        DebriefValue::FreshGasFlow => said(set.fresh_gas_flow.as_l_per_min()),
        DebriefValue::CyclingPressure => said(set.cycling_pressure.as_cmh2o()),
        DebriefValue::LimitedVolume => {
            said((set.fresh_gas_flow * set.inspiratory_time_limit).as_ml() / weight_kg)
        }
        DebriefValue::InspiratoryTimeBefore => measured(before, BreathMeasure::InspiratoryTime),
        DebriefValue::InspiratoryTimeAfter => measured(after, BreathMeasure::InspiratoryTime),
        DebriefValue::TidalVolumeBefore => volume(before),
        DebriefValue::TidalVolumeAfter => volume(after),
        DebriefValue::PeakPressureBefore => measured(before, BreathMeasure::PeakPressure),
        DebriefValue::PeakPressureAfter => measured(after, BreathMeasure::PeakPressure),
        DebriefValue::BaselineBefore => measured(before, BreathMeasure::BaselinePressure),
        DebriefValue::BaselineAfter => measured(after, BreathMeasure::BaselinePressure),
        DebriefValue::EndTidalBefore => of_gas(before, end_tidal),
        DebriefValue::EndTidalAfter => of_gas(after, end_tidal),
        DebriefValue::InspiredCo2Before => of_gas(before, inspired),
        DebriefValue::InspiredCo2After => of_gas(after, inspired),
        DebriefValue::HighestEndTidal => or_dash(highest_end_tidal(session)),
        DebriefValue::LowestSpo2 => or_dash(lowest_spo2(session)),
        DebriefValue::OwnTidalVolume => or_dash(own_tidal_volume_ml_kg(session)),
        DebriefValue::FinalEndTidal => {
            let last = session.gas_breaths().last();
            or_dash(last.map(|breath| breath.end_tidal_carbon_dioxide.as_mmhg()))
        }
    };
    let mut parts = text.split('{');
    let mut filled = parts.next().unwrap_or_default().to_owned();
    for part in parts {
        let named = part
            .split_once('}')
            .and_then(|(name, rest)| DebriefValue::named(name).map(|known| (known, rest)));
        match named {
            Some((known, rest)) => filled.extend([value(known).as_str(), rest]),
            // No value: it stands as it was written.
            None => filled.extend(["{", part]),
        }
    }
    filled
}
