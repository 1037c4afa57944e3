//! What a measure measures, in words.

use tidewright_scenario::format::{ActName, Measure};

use super::alarmed::name as alarm_name;
use super::name_of;
use crate::words::command::words_of;
use crate::words::text::said;

/// What a measure measures, in words. Measures of carbon dioxide say `true` because
/// they judge the patient, not the monitor.
pub(crate) fn in_words(measure: &Measure) -> String {
    match measure {
        Measure::HighestAlveolarPressure(_) => "highest alveolar pressure".to_owned(),
        Measure::HighestAirwayPressure(_) => "highest airway pressure".to_owned(),
        Measure::AlveolarPressureAbove(above) => {
            format!("alveolar pressure above {} cmH2O × time", said(above.limit_cmh2o))
        }
        Measure::TidalVolumeAbove(above) => {
            format!("tidal volume above {} mL/kg, summed", said(above.limit_ml_kg))
        }
        Measure::TidalVolumeBelow(below) => {
            format!("tidal volume below {} mL/kg, summed", said(below.limit_ml_kg))
        }
        Measure::FinalTidalVolume(_) => "tidal volume of the last five breaths".to_owned(),
        Measure::FinalBaseline(_) => "baseline pressure at the end".to_owned(),
        Measure::FinalIntrinsicPeep(_) => "intrinsic PEEP at the end".to_owned(),
        Measure::FinalLimitedVolume(_) => {
            "volume that the time limit lets through, at the end".to_owned()
        }
        Measure::FinalEndedByPressure(_) => "last five breaths ended by pressure".to_owned(),
        Measure::HighestCuffPressure(_) => "highest cuff pressure".to_owned(),
        Measure::LongestApnoea(_) => "longest time without a breath".to_owned(),
        Measure::Acted(acts) => format!("first {}", any_of(&acts.any_of)),
        Measure::LargestStep(step) => {
            format!("largest change of {} at once", words_of(step.of))
        }
        Measure::Helped(help) => {
            format!("what {} did to {}", any_of(&help.acts), name_of(help.of))
        }
        Measure::Repeated(often) => {
            format!("how often {}", words_of(often.act))
        }
        Measure::Recognised(acts) => format!("after the first sign: {}", any_of(&acts.any_of)),
        Measure::Mended(_) => "fault put right".to_owned(),
        Measure::MadeSafe(_) => "patient safe: mended, off, or ventilated by hand".to_owned(),
        Measure::Order(_) => "order of acts".to_owned(),
        Measure::Followed(next) => format!("{} after {}", any_of(&next.by), any_of(&next.acts)),
        Measure::NotDone(acts) => format!("without {}", any_of(&acts.acts)),
        Measure::CyclingPressureNotRaised => "cycling pressure left alone".to_owned(),
        Measure::ExpiratoryTimeNeverBelow(_) => "shortest expiratory time set".to_owned(),
        Measure::ControlChanges(_) => "changes of controls".to_owned(),
        Measure::ShotgunChanges(_) => "more than two controls changed within one breath".to_owned(),
        Measure::Answered(which) => format!("answer to {}", which.question),
        Measure::Predicted(_) => "predictions right".to_owned(),
        Measure::AlarmSet(range) => format!("alarm of {}", alarm_name(range.of).0),
        Measure::Circuit(_) => "what the joined circuit does".to_owned(),
        Measure::InOrder(done) => match &done.steps[..] {
            [] => "steps of the work in an order that holds".to_owned(),
            steps => {
                let steps = steps.iter().map(ToString::to_string).collect::<Vec<_>>();
                format!("step: {}", steps.join(", "))
            }
        },
        Measure::RecordGap(_) => "longest gap in the record".to_owned(),
        Measure::EndTidalOutside(time) => format!(
            "time with true EtCO2 outside {} to {} mmHg",
            said(time.lowest_mmhg),
            said(time.highest_mmhg)
        ),
        Measure::EndTidalWithin(share) => format!(
            "share of time with true EtCO2 of {} to {} mmHg",
            said(share.lowest_mmhg),
            said(share.highest_mmhg)
        ),
        Measure::HighestEndTidal(_) => "highest true EtCO2".to_owned(),
        Measure::FinalEndTidal(_) => "true EtCO2 of the last five breaths".to_owned(),
        Measure::FinalInspiredCarbonDioxide(_) => {
            "carbon dioxide breathed in, last five breaths".to_owned()
        }
        Measure::SaturationBelow(below) => {
            format!("time with SpO2 below {} %", said(below.limit_percent))
        }
        Measure::FinalOwnTidalVolume(_) => {
            "tidal volume of the last five breaths of its own".to_owned()
        }
    }
}

fn any_of(names: &[ActName]) -> String {
    names.iter().map(|name| words_of(*name)).collect::<Vec<_>>().join(", ")
}
