//! The first sign that tells a fault from health: the session's own course up to
//! the onset, played on with and without the fault, compared breath by breath by
//! what the student's monitor shows.

use tidewright::breath::EndedBy;
use tidewright::machine::Signal;
use tidewright_scenario::format::Monitor;

use crate::bedside::meter::Row;
use crate::session::{Passing, Session, SessionError};
use crate::words::text::said;

/// Smallest change of a time or volume that is seen, as a share (common
/// practice, no source).
const SEEN_SHARE: f64 = 0.1;
/// Smallest change of a pressure that is seen, cmH2O (common practice, no source).
const SEEN_CMH2O: f64 = 1.0;
/// How often a rising needle is looked at, s.
const LOOK_EVERY_S: f64 = 0.05;
/// A healthy breath that ends this much later is the same breath, s.
const SAME_BREATH_S: f64 = 0.25;
/// Smallest change of end-tidal carbon dioxide that is seen, mmHg; of saturation, %;
/// of the patient's own breaths, per minute (common practice, no source).
const SEEN_MMHG: f64 = 4.0;
const SEEN_PERCENT: f64 = 3.0;
/// Smallest change of mean arterial pressure that is seen, mmHg (common practice, no
/// source).
const SEEN_ARTERIAL_MMHG: f64 = 10.0;
const SEEN_OWN_BREATHS: f64 = 1.0;

/// The first sign of a fault.
#[derive(Clone, Debug, PartialEq)]
pub struct Sign {
    /// When it could be seen, s.
    pub at_s: f64,
    /// What it was.
    pub text: String,
}

/// Finds the first sign in a session whose case is about to begin, and hands back the
/// two sessions that were compared: with the fault and without, each at the end of a
/// step about that time.
pub(crate) fn first_sign(
    at_onset: &Session,
) -> Result<Option<(Sign, Session, Session)>, SessionError> {
    // Nothing tells health from health.
    if at_onset.drawn().is_none_or(|drawn| !drawn.is_wrong()) {
        return Ok(None);
    }
    let (mut faulty, mut healthy) = (at_onset.with_its_case()?, at_onset.without_case()?);
    let monitor = faulty.training().monitor;
    let by_instruments = faulty.scenario().instruments.is_some();
    let highest = |rows: &[Row]| rows.iter().map(|row| row.shown_peak_cmh2o).fold(0.0, f64::max);
    let (mut usual_cmh2o, mut counted) = (0.0, 0);
    while faulty.ended().is_none() {
        usual_cmh2o = highest(&healthy.rows()[counted..]).max(usual_cmh2o);
        counted = healthy.rows().len();
        let too_high = if counted > 0 { usual_cmh2o + 2.0 * SEEN_CMH2O } else { f64::INFINITY };
        let breaths = |session: &Session| session.rows().len() + session.gas_breaths().len();
        let count = breaths(&faulty);
        let mut passed = None;
        while breaths(&faulty) == count && faulty.ended().is_none() && passed.is_none() {
            faulty.play_step(&mut |passing| {
                passed = first_above(passing, by_instruments, too_high)
            })?;
        }
        if let Some((at_s, shown)) = passed {
            healthy.play_to(at_s)?;
            let text = format!("the pressure passed {} cmH2O", said(shown));
            return Ok(Some((Sign { at_s, text }, faulty, healthy)));
        }
        healthy.play_to(faulty.now_s())?;
        let latest_s = faulty.now_s() + SAME_BREATH_S;
        while breaths(&healthy) < breaths(&faulty)
            && healthy.now_s() < latest_s
            && healthy.ended().is_none()
        {
            healthy.play_step(&mut |_| {})?;
        }
        if let Some(text) = gas_difference(&faulty, &healthy) {
            let at_s = faulty.now_s();
            return Ok(Some((Sign { at_s, text }, faulty, healthy)));
        }
        let (Some(now), Some(usual)) = (faulty.rows().last(), healthy.rows().last()) else {
            continue;
        };
        if let Some(text) = difference(monitor, now, usual) {
            let at_s = now.end_s;
            return Ok(Some((Sign { at_s, text }, faulty, healthy)));
        }
    }
    Ok(None)
}

/// When the gauge first shows more than a pressure (cmH2O), and how much.
fn first_above(
    passing: &Passing<'_>,
    by_instruments: bool,
    limit_cmh2o: f64,
) -> Option<(f64, f64)> {
    let piece = &passing.stretch.piece;
    if by_instruments {
        let shown = passing.readings.iter().map(|one| (one.at.as_s(), one.pressure.as_cmh2o()));
        return shown.into_iter().find(|&(_, shown)| shown > limit_cmh2o);
    }
    let maximum = piece.maximum_or(Signal::SensedPressure, limit_cmh2o);
    if maximum <= limit_cmh2o {
        return None;
    }
    let looks = (0..).map(|look| f64::from(look) * LOOK_EVERY_S);
    let looks = looks.take_while(|&t| t < piece.duration_s);
    let shown = looks.map(|t| (piece.start_s + t, piece.nearest(Signal::SensedPressure, t)));
    shown.chain([(piece.end_s(), maximum)]).find(|&(_, shown)| shown > limit_cmh2o)
}

/// What the monitors of carbon dioxide and oxygen show otherwise than in health.
fn gas_difference(now: &Session, usual: &Session) -> Option<String> {
    let (new, old) = (now.gas_breaths().last()?, usual.gas_breaths().last()?);
    let drawn = now.drawn_share(now.now_s());
    let new_mmhg = drawn * new.end_tidal_carbon_dioxide.as_mmhg();
    let old_mmhg = old.end_tidal_carbon_dioxide.as_mmhg();
    if (new_mmhg - old_mmhg).abs() > SEEN_MMHG {
        return Some(format!("EtCO2 {} mmHg, in health {} mmHg", said(new_mmhg), said(old_mmhg)));
    }
    if now.training().monitor == Monitor::Gauge {
        return None;
    }
    let (vitals, in_health) = (now.vitals_now()?, usual.vitals_now()?);
    let Some(shown) = vitals.oximeter() else {
        return Some("the pulse oximeter has no reading: no pulse reaches it".to_owned());
    };
    let (spo2, usual_spo2) = (100.0 * shown, 100.0 * in_health.saturation);
    if usual_spo2 - spo2 > SEEN_PERCENT {
        return Some(format!("SpO2 {spo2:.0} %, in health {usual_spo2:.0} %"));
    }
    let (arterial, usual_arterial) = (vitals.pulse.arterial_mmhg, in_health.pulse.arterial_mmhg);
    if (arterial - usual_arterial).abs() > SEEN_ARTERIAL_MMHG {
        return Some(format!(
            "mean arterial pressure {arterial:.0} mmHg, in health {usual_arterial:.0} mmHg"
        ));
    }
    let own = |session: &Session| session.own_breaths_per_min().unwrap_or_default();
    if own(now) - own(usual) > SEEN_OWN_BREATHS {
        return Some("it draws breaths of its own".to_owned());
    }
    None
}

/// What of a breath differs visibly from a healthy one.
fn difference(monitor: Monitor, now: &Row, usual: &Row) -> Option<String> {
    // The needle of a gauge shows pressure, and neither times nor volumes.
    if monitor != Monitor::Gauge
        && let Some(text) = other_breath(monitor, now, usual)
    {
        return Some(text);
    }
    let pressures = [
        ("peak pressure", now.shown_peak_cmh2o, usual.shown_peak_cmh2o),
        ("baseline pressure", now.shown_baseline_cmh2o, usual.shown_baseline_cmh2o),
    ];
    let moved = pressures.into_iter().find(|(_, new, old)| (new - old).abs() > SEEN_CMH2O);
    moved.map(|(name, new, old)| {
        format!("{name} {} cmH2O, in health {} cmH2O", said(new), said(old))
    })
}

/// What of times, endings and volumes differs visibly.
fn other_breath(monitor: Monitor, now: &Row, usual: &Row) -> Option<String> {
    let (new, old) = (&now.breath, &usual.breath);
    if new.ended_by != old.ended_by {
        return Some(
            match new.ended_by {
                EndedBy::Time => "the breath was ended by the time limit, no longer by pressure",
                EndedBy::Pressure => {
                    "the breath was ended by pressure, no longer by the time limit"
                }
                EndedBy::Standby => "the ventilator stands by",
            }
            .to_owned(),
        );
    }
    let share = |new: f64, old: f64| (new - old).abs() > SEEN_SHARE * old.abs();
    let (ti, usual_ti) = (new.inspiratory_time.as_s(), old.inspiratory_time.as_s());
    if share(ti, usual_ti) {
        return Some(format!("inspiratory time {} s, in health {} s", said(ti), said(usual_ti)));
    }
    let (volume, usual_volume) = (now.shown_expired_ml, usual.shown_expired_ml);
    if monitor == Monitor::Full && share(volume, usual_volume) {
        return Some(format!(
            "expired tidal volume {} mL, in health {} mL",
            said(volume),
            said(usual_volume)
        ));
    }
    None
}
