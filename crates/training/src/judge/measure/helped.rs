//! What acts did to the patient: the session as it was, beside the same without them.

use tidewright_scenario::format::{Arrow, Help, Quantity, TimedAct};

use super::{Verdict, list};
use crate::bedside::meter::Row;
use crate::session::Session;
use crate::session::replay::Played;
use crate::words::text::said;

/// Breaths of which the mean is compared.
const LAST: usize = 3;
/// Pressures below which a share says nothing, cmH2O.
const LEAST_CMH2O: f64 = 1.0;

pub(super) fn helped(help: &Help, played: &Played, onset_s: f64) -> Verdict {
    let wanted = format!(
        "{} {}, by {} within {} s",
        name(help.of),
        match help.goes {
            Arrow::Up => format!("up by at least {} %", said(help.at_least_percent)),
            Arrow::Down => format!("down by at least {} %", said(help.at_least_percent)),
            Arrow::Same => format!("not moved by {} %", said(help.at_least_percent)),
        },
        list(&help.acts),
        said(help.within_s)
    );
    let told = |met, found| Verdict { met, found, wanted };
    let session = &played.session;
    let in_time = onset_s..=onset_s + help.within_s;
    let is_meant =
        |timed: &TimedAct| in_time.contains(&timed.at_s) && help.acts.contains(&timed.act.name());
    let mut meant = session.acts().iter().filter(|timed| is_meant(timed));
    let Some(first) = meant.next() else { return told(false, "never".to_owned()) };
    let last_s = meant.next_back().unwrap_or(first).at_s;
    let done_by_them =
        |at_s: f64| session.acts().iter().any(|one| is_meant(one) && one.at_s == at_s);
    let rescued_s =
        session.all_mended_at_s().filter(|&at_s| at_s > first.at_s && !done_by_them(at_s));
    let until_s =
        (last_s + help.after_s).min(session.now_s()).min(rescued_s.unwrap_or(f64::INFINITY));
    let without = played.without(&is_meant, until_s);
    let values = without.ok().and_then(|without| {
        Some((mean(&without, help.of, until_s)?, mean(session, help.of, until_s)?))
    });
    let Some((without, with)) = values else {
        return told(false, "no breath tells".to_owned());
    };
    let change = 100.0 * (with - without) / without.abs().max(least(help.of));
    let moved = match help.goes {
        Arrow::Up => change >= help.at_least_percent,
        Arrow::Down => change <= -help.at_least_percent,
        Arrow::Same => change.abs() < help.at_least_percent,
    };
    let found = format!(
        "{}, first {} s after the onset",
        compared(help.of, with, without),
        said(first.at_s - onset_s)
    );
    told(moved, found)
}

/// A number beside what it would have been, in words.
pub(crate) fn compared(of: Quantity, with: f64, without: f64) -> String {
    let (name, unit, with, without) = (name(of), unit(of), said(with), said(without));
    if with == without {
        return format!("{name} {with} {unit}, as without");
    }
    format!("{name} {with} {unit} instead of {without} {unit}")
}

/// Mean of a number over the last breaths that ended by a time.
pub(crate) fn mean(session: &Session, of: Quantity, by_s: f64) -> Option<f64> {
    let rows = session.rows();
    let rows = &rows[..rows.partition_point(|row| row.end_s <= by_s)];
    let last = &rows[rows.len().saturating_sub(LAST)..];
    let weight_kg = session.scenario().patient.weight_kg;
    let values = last.iter().map(|row| number(row, of, weight_kg)).collect::<Option<Vec<_>>>()?;
    (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64)
}

/// A number of a breath, as it truly was; volumes for each kg.
fn number(row: &Row, of: Quantity, weight_kg: f64) -> Option<f64> {
    let breath = &row.breath;
    // Where more went in than came out, nothing came back.
    let volume = (breath.expired_tidal_volume.as_ml() / weight_kg).max(0.0);
    Some(match of {
        Quantity::InspiratoryTime => breath.inspiratory_time.as_s(),
        Quantity::Rate => breath.rate_per_min(),
        Quantity::TidalVolume => volume,
        Quantity::MinuteVolume => volume * breath.rate_per_min(),
        Quantity::PeakPressure => breath.peak_pressure.as_cmh2o(),
        Quantity::BaselinePressure => breath.baseline_pressure.as_cmh2o(),
        Quantity::AlveolarPressure => row.alveolar_peak_cmh2o,
        Quantity::IntrinsicPeep => {
            (breath.end_expiratory_alveolar_pressure - breath.baseline_pressure).as_cmh2o()
        }
        Quantity::EndTidalCarbonDioxide => row.gas?.end_tidal_carbon_dioxide.as_mmhg(),
        Quantity::InspiredCarbonDioxide => row.gas?.mean_inspired_carbon_dioxide.as_mmhg(),
    })
}

fn least(of: Quantity) -> f64 {
    match of {
        Quantity::PeakPressure
        | Quantity::BaselinePressure
        | Quantity::AlveolarPressure
        | Quantity::IntrinsicPeep
        | Quantity::EndTidalCarbonDioxide
        | Quantity::InspiredCarbonDioxide => LEAST_CMH2O,
        _ => f64::MIN_POSITIVE,
    }
}

/// A number of a breath in words.
pub(crate) fn name(of: Quantity) -> &'static str {
    match of {
        Quantity::InspiratoryTime => "inspiratory time",
        Quantity::Rate => "rate",
        Quantity::TidalVolume => "tidal volume",
        Quantity::MinuteVolume => "minute volume",
        Quantity::PeakPressure => "peak pressure",
        Quantity::BaselinePressure => "baseline pressure",
        Quantity::AlveolarPressure => "highest pressure in the lung",
        Quantity::IntrinsicPeep => "intrinsic PEEP",
        Quantity::EndTidalCarbonDioxide => "EtCO2",
        Quantity::InspiredCarbonDioxide => "carbon dioxide breathed in",
    }
}

/// Its unit, volumes for each kg.
pub(crate) fn unit(of: Quantity) -> &'static str {
    match of {
        Quantity::InspiratoryTime => "s",
        Quantity::Rate => "/min",
        Quantity::TidalVolume => "mL/kg",
        Quantity::MinuteVolume => "mL/kg/min",
        Quantity::PeakPressure
        | Quantity::BaselinePressure
        | Quantity::AlveolarPressure
        | Quantity::IntrinsicPeep => "cmH2O",
        Quantity::EndTidalCarbonDioxide | Quantity::InspiredCarbonDioxide => "mmHg",
    }
}
