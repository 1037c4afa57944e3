//! A hint: what of the monitor is no longer as it was, in the monitor's own words.

use tidewright_scenario::format::{Guidance, Monitor};

use crate::bedside::meter::Row;
use crate::session::Session;
use crate::words::text::said;

/// How many of the first breaths say what was usual; a test may be among them.
const FIRST: usize = 5;
/// Smallest changes that a hint tells: of a time or volume, as a share; of a pressure,
/// cmH2O (teaching choices).
const TOLD_SHARE: f64 = 0.1;
const TOLD_CMH2O: f64 = 1.0;

/// What has changed most since the first breaths, or why there is no hint.
pub(super) fn hint(session: &Session) -> String {
    if session.training().guidance == Guidance::None {
        return "This lesson gives no hints.".to_owned();
    }
    let rows = session.rows();
    let Some(now) = rows.last().filter(|_| rows.len() > FIRST) else {
        return "Too few breaths yet to compare: watch the monitor.".to_owned();
    };
    let monitor = session.training().monitor;
    let changed = shown(monitor).into_iter().filter_map(|(name, unit, of, least)| {
        let mut first: Vec<f64> = rows[..FIRST].iter().map(of).collect();
        first.sort_by(f64::total_cmp);
        let (old, new) = (first[FIRST / 2], of(now));
        let size = (new - old).abs() / least(old);
        (size > 1.0).then_some((size, name, unit, old, new))
    });
    match changed.max_by(|a, b| a.0.total_cmp(&b.0)) {
        Some((_, name, unit, old, new)) => {
            let goes = if new > old { "up" } else { "down" };
            format!(
                "The {name} has gone {goes}: {} {unit}, among the first breaths {} {unit}.",
                said(new),
                said(old)
            )
        }
        None => "The numbers of the breath are as at the start: look, listen, check.".to_owned(),
    }
}

type Of = fn(&Row) -> f64;
type Least = fn(f64) -> f64;

/// What a monitor shows of a breath, with the words that it has there.
fn shown(monitor: Monitor) -> Vec<(&'static str, &'static str, Of, Least)> {
    let share: Least = |old| TOLD_SHARE * old.abs().max(f64::MIN_POSITIVE);
    let pressure: Least = |_| TOLD_CMH2O;
    let mut all: Vec<(&str, &str, Of, Least)> = vec![
        ("peak", "cmH2O", |row| row.shown_peak_cmh2o, pressure),
        ("baseline", "cmH2O", |row| row.shown_baseline_cmh2o, pressure),
    ];
    if monitor != Monitor::Gauge {
        all.push(("inspiratory time", "s", |row| row.breath.inspiratory_time.as_s(), share));
    }
    if monitor == Monitor::Full {
        all.push(("tidal volume out", "mL", |row| row.shown_expired_ml, share));
    }
    all
}
