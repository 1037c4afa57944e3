//! What is measured in an attempt: the open list of measures, each a function of
//! the replayed session.

mod alarmed;
mod answers;
mod circuit;
mod controls;
mod gas;
mod helped;
mod steps;
mod words;

use tidewright::breath::EndedBy;
use tidewright_scenario::format::{
    Act, ActName, Arrow, Measure, Next, Often, Prediction, Quantity, TimedAct,
};

use crate::bedside::meter::Row;
use crate::case::world::On;
use crate::session::Session;
use crate::session::replay::Played;
use crate::words::text::said;

pub(crate) use answers::given;
use controls::{controls, raised, shotgun_changes};
pub(crate) use gas::own_tidal_volume_ml_kg;
pub(crate) use helped::{mean as mean_of_breaths, name as name_of, unit as unit_of};
pub(crate) use words::in_words;

/// How a criterion was met or not.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Verdict {
    pub met: bool,
    pub found: String,
    pub wanted: String,
}

/// What the marking knows besides the session itself.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Clues {
    /// The onset, or 0 where nothing goes wrong.
    pub onset_s: f64,
    pub sign_s: Option<f64>,
    /// When a case without a sign can be known for one: a while after its onset.
    pub latest_s: f64,
    /// When the patient was first safe after the onset.
    pub safe_s: Option<f64>,
}

/// Measures and judges.
pub(crate) fn judge(measure: &Measure, played: &Played, clues: &Clues) -> Verdict {
    let session = &played.session;
    let totals = session.totals();
    let rows = session.rows();
    let weight_kg = session.scenario().patient.weight_kg;
    let onset_s = clues.onset_s;
    match measure {
        Measure::HighestAlveolarPressure(most) => {
            at_most(Some(totals.highest_alveolar_cmh2o), most.at_most_cmh2o, "cmH2O")
        }
        Measure::HighestAirwayPressure(most) => {
            at_most(Some(totals.highest_airway_cmh2o), most.at_most_cmh2o, "cmH2O")
        }
        Measure::AlveolarPressureAbove(above) => {
            let sum = totals.alveolar_above.iter().find(|(limit, _)| *limit == above.limit_cmh2o);
            at_most(sum.map(|(_, sum)| *sum), above.at_most_cmh2o_s, "cmH2O·s")
        }
        Measure::TidalVolumeAbove(above) => {
            let excess = |row: &Row| {
                let per_kg = row.breath.inspired_tidal_volume.as_ml() / weight_kg;
                (per_kg - above.limit_ml_kg).max(0.0)
            };
            at_most(Some(rows.iter().map(excess).sum()), above.at_most_ml_kg, "mL/kg")
        }
        Measure::TidalVolumeBelow(below) => {
            let shortfall = |row: &Row| {
                let per_kg = row.breath.expired_tidal_volume.as_ml() / weight_kg;
                (below.limit_ml_kg - per_kg).max(0.0)
            };
            at_most(Some(rows.iter().map(shortfall).sum()), below.at_most_ml_kg, "mL/kg")
        }
        Measure::FinalTidalVolume(range) => {
            let mean =
                mean_of_last(rows, |row| row.breath.expired_tidal_volume.as_ml() / weight_kg);
            within(mean, range.at_least_ml_kg, range.at_most_ml_kg, "mL/kg")
        }
        Measure::FinalBaseline(most) => {
            let last = rows.last().map(|row| row.breath.baseline_pressure.as_cmh2o());
            at_most(last, most.at_most_cmh2o, "cmH2O")
        }
        Measure::FinalIntrinsicPeep(most) => {
            let trapped = |row: &Row| {
                let breath = &row.breath;
                (breath.end_expiratory_alveolar_pressure - breath.baseline_pressure).as_cmh2o()
            };
            at_most(rows.last().map(trapped), most.at_most_cmh2o, "cmH2O")
        }
        Measure::FinalLimitedVolume(most) => {
            let set = &session.machine().setup().ventilator;
            let volume = (set.fresh_gas_flow * set.inspiratory_time_limit).as_ml() / weight_kg;
            // With the flow off it is no merit that little comes through.
            at_most((volume > 0.0).then_some(volume), most.at_most_ml_kg, "mL/kg")
        }
        Measure::FinalEndedByPressure(least) => {
            let by_pressure = |row: &Row| f64::from(row.breath.ended_by == EndedBy::Pressure);
            let share = mean_of_last(rows, by_pressure).map(|share| 100.0 * share);
            at_least(share, least.at_least_percent, "%")
        }
        Measure::LongestApnoea(most) => {
            at_most(Some(session.longest_apnoea_s()), most.at_most_s, "s")
        }
        Measure::HighestCuffPressure(most) => {
            let inflated = session.acts().iter().filter_map(|timed| match &timed.act {
                Act::InflateCuff(to) => Some(to.cmh2o),
                _ => None,
            });
            at_most(Some(inflated.fold(0.0, f64::max)), most.at_most_cmh2o, "cmH2O")
        }
        Measure::Acted(acts) => {
            at_most(first_after(session, &acts.any_of, onset_s), acts.within_s, "s after the onset")
        }
        Measure::LargestStep(step) => at_most(
            Some(controls::largest_step_percent(session, step.of)),
            step.at_most_percent,
            "%",
        ),
        Measure::Helped(help) => helped::helped(help, played, onset_s),
        Measure::Repeated(often) => {
            let done = often_done(session, often);
            Verdict {
                met: done as f64 >= often.at_least,
                found: times(done as f64),
                wanted: format!("at least {}", times(often.at_least)),
            }
        }
        Measure::Recognised(acts) => {
            let from_s = clues.sign_s.unwrap_or(onset_s);
            // An act between onset and sign was no worse for being early.
            let acted = first_after(session, &acts.any_of, onset_s);
            let since = acted.map(|after_s| (onset_s + after_s - from_s).max(0.0));
            at_most(since, acts.within_s, "s after the first sign")
        }
        Measure::Mended(time) => {
            let mended = session.all_mended_at_s().map(|at_s| at_s - onset_s);
            at_most(mended, time.within_s, "s after the onset")
        }
        Measure::MadeSafe(time) => {
            let safe = clues.safe_s.map(|at_s| at_s - onset_s);
            at_most(safe, time.within_s, "s after the onset")
        }
        Measure::Order(order) => {
            let first = first_after(session, &order.first, onset_s);
            let second = first_after(session, &order.before, onset_s);
            let met = first.is_some_and(|first| second.is_none_or(|second| first <= second));
            let wanted = format!("{} before {}", list(&order.first), list(&order.before));
            let when = |after_s| shown(after_s, "s after the onset");
            let found = match (first, second) {
                (None, None) => "neither was done".to_owned(),
                _ => format!("{} {}, the others {}", list(&order.first), when(first), when(second)),
            };
            Verdict { met, found, wanted }
        }
        Measure::Followed(next) => followed(session, next),
        Measure::NotDone(acts) => {
            let done = first_after(session, &acts.acts, onset_s);
            let wanted = format!("no {} after the onset", list(&acts.acts));
            Verdict { met: done.is_none(), found: shown(done, "s after the onset"), wanted }
        }
        Measure::CyclingPressureNotRaised => {
            let raised = raised(session, onset_s);
            let at = |after_s| format!("raised {} s after the onset", said(after_s));
            let found = raised.map_or_else(|| "never raised".to_owned(), at);
            Verdict { met: raised.is_none(), found, wanted: "never raised".to_owned() }
        }
        Measure::ExpiratoryTimeNeverBelow(least) => {
            let set = session.acts().iter().filter_map(|timed| match &timed.act {
                Act::ExpiratoryTime(time) => Some(time.s),
                _ => None,
            });
            let start = session.scenario().ventilator.expiratory_time_s;
            at_least(Some(set.fold(start, f64::min)), least.at_least_s, "s")
        }
        Measure::ControlChanges(most) => {
            let changes = controls(session).count();
            at_most(Some(changes as f64), most.at_most, "changes")
        }
        Measure::ShotgunChanges(most) => {
            at_most(Some(shotgun_changes(session) as f64), most.at_most, "times")
        }
        Measure::Answered(which) => answers::answered(which, session, clues),
        Measure::Predicted(least) => {
            let asked = &session.training().predictions;
            let right = asked.iter().filter(|one| is_right(session, one)).count();
            let share = (!asked.is_empty()).then(|| 100.0 * right as f64 / asked.len() as f64);
            at_least(share, least.at_least_percent, "%")
        }
        Measure::AlarmSet(range) => alarmed::alarm_set(session, range, onset_s),
        Measure::Circuit(limits) => circuit::circuit(session, limits),
        Measure::InOrder(done) => steps::in_order(session, done),
        Measure::RecordGap(most) => {
            let entries = session.acts().iter().filter(|timed| timed.act.name() == ActName::Record);
            let times = entries.map(|timed| timed.at_s).chain([session.now_s()]);
            let gap =
                times.fold((0.0, 0.0_f64), |(last, gap), at_s| (at_s, gap.max(at_s - last))).1;
            at_most(Some(gap), most.at_most_s, "s")
        }
        Measure::EndTidalOutside(time) => gas::end_tidal_outside(session, time),
        Measure::EndTidalWithin(share) => gas::end_tidal_within(session, share),
        Measure::HighestEndTidal(most) => {
            let highest = session.gas().and_then(|gas| gas.totals().highest_end_tidal_mmhg);
            at_most(highest, most.at_most_mmhg, "mmHg")
        }
        Measure::FinalEndTidal(range) => {
            let mean = gas::mean_of_last(session, |breath| breath.end_tidal_carbon_dioxide);
            within(mean, range.at_least_mmhg, range.at_most_mmhg, "mmHg")
        }
        Measure::FinalInspiredCarbonDioxide(most) => {
            let mean = gas::mean_of_last(session, |breath| breath.mean_inspired_carbon_dioxide);
            at_most(mean, most.at_most_mmhg, "mmHg")
        }
        Measure::SaturationBelow(below) => {
            let sum_s = session.gas().and_then(|gas| gas.saturation_below_s(below.limit_percent));
            at_most(sum_s.map(|sum_s| sum_s / 60.0), below.at_most_min, "min")
        }
        Measure::FinalOwnTidalVolume(range) => {
            let mean = own_tidal_volume_ml_kg(session);
            within(mean, range.at_least_ml_kg, range.at_most_ml_kg, "mL/kg")
        }
    }
}

/// How often an act was done, each some time after the one that counted before.
fn often_done(session: &Session, often: &Often) -> usize {
    let mut last_s = f64::NEG_INFINITY;
    let mut count = 0;
    for timed in session.acts().iter().filter(|timed| timed.act.name() == often.act) {
        if timed.at_s - last_s >= often.apart_s {
            (count, last_s) = (count + 1, timed.at_s);
        }
    }
    count
}

/// How long after the last of some acts another came.
fn followed(session: &Session, next: &Next) -> Verdict {
    let of = |timed: &&TimedAct| next.acts.contains(&timed.act.name());
    let wanted =
        format!("{} at most {} s after {}", list(&next.by), said(next.within_s), list(&next.acts));
    let Some(last) = session.acts().iter().rfind(of) else {
        return Verdict { met: false, found: format!("{}: never", list(&next.acts)), wanted };
    };
    let after = session.acts().iter().skip_while(|timed| !std::ptr::eq(*timed, last)).skip(1);
    let mut after = after.filter(|timed| next.by.contains(&timed.act.name()));
    let after_s = after.next().map(|timed| timed.at_s - last.at_s);
    let met = after_s.is_some_and(|after_s| after_s <= next.within_s);
    Verdict { met, found: shown(after_s, "s after it"), wanted }
}

/// When the patient first was safe after the onset: fault mended, off the
/// ventilator, or ventilated by hand. At once where nothing is wrong, or where the
/// patient was off the ventilator already.
pub(crate) fn made_safe_s(played: &Played, onset_s: f64) -> Option<f64> {
    let session = &played.session;
    let was_off = played.at_onset.as_ref().is_some_and(|then| then.world().on != On::Ventilator);
    if was_off || session.drawn().is_none_or(|drawn| !drawn.is_wrong()) {
        return Some(onset_s);
    }
    let off = |timed: &&TimedAct| {
        matches!(timed.act.name(), ActName::Disconnect | ActName::HandVentilate)
            && timed.at_s >= onset_s
    };
    let off = session.acts().iter().find(off).map(|timed| timed.at_s);
    let mended = session.all_mended_at_s();
    [off, mended].into_iter().flatten().reduce(f64::min)
}

/// Where a predicted number went in this session, as instruments showed it: that is
/// what the student reads off when the clock goes on. `None` where no breath tells.
pub(crate) fn went(session: &Session, asked: &Prediction) -> Option<Arrow> {
    let at = |by_s: f64| {
        let row = session.rows().iter().take_while(|row| row.end_s <= by_s).last()?;
        let breath = &row.breath;
        Some(match asked.of {
            Quantity::InspiratoryTime => breath.inspiratory_time.as_s(),
            Quantity::Rate => breath.rate_per_min(),
            Quantity::TidalVolume => row.shown_expired_ml,
            Quantity::PeakPressure => row.shown_peak_cmh2o,
            Quantity::BaselinePressure => row.shown_baseline_cmh2o,
            Quantity::EndTidalCarbonDioxide => {
                let drawn = session.drawn_share(row.end_s);
                drawn * row.gas?.end_tidal_carbon_dioxide.as_mmhg()
            }
            // No instrument shows the mean of all that is breathed in.
            Quantity::InspiredCarbonDioxide => row.gas?.mean_inspired_carbon_dioxide.as_mmhg(),
            Quantity::MinuteVolume => row.shown_expired_ml * breath.rate_per_min(),
            Quantity::IntrinsicPeep => {
                (breath.end_expiratory_alveolar_pressure - breath.baseline_pressure).as_cmh2o()
            }
            Quantity::AlveolarPressure => row.alveolar_peak_cmh2o,
        })
    };
    let (before, after) = (at(asked.from_s)?, at(asked.to_s)?);
    let least = match asked.of {
        Quantity::PeakPressure
        | Quantity::BaselinePressure
        | Quantity::IntrinsicPeep
        | Quantity::AlveolarPressure => (0.1 * before.abs()).max(0.5),
        Quantity::EndTidalCarbonDioxide | Quantity::InspiredCarbonDioxide => {
            (0.1 * before.abs()).max(1.0)
        }
        _ => 0.1 * before.abs(),
    };
    Some(match after - before {
        change if change > least => Arrow::Up,
        change if change < -least => Arrow::Down,
        _ => Arrow::Same,
    })
}

fn is_right(session: &Session, asked: &Prediction) -> bool {
    let guess = session.acts().iter().find_map(|timed| match &timed.act {
        Act::Predict(guess) if guess.prediction == asked.id => Some(guess.goes),
        _ => None,
    });
    guess.is_some() && guess == went(session, asked)
}

/// Time from the onset to the first of these acts after it.
fn first_after(session: &Session, names: &[ActName], onset_s: f64) -> Option<f64> {
    let mut acts = session.acts().iter().filter(|timed| timed.at_s >= onset_s);
    acts.find(|timed| names.contains(&timed.act.name())).map(|timed| timed.at_s - onset_s)
}

fn mean_of_last(rows: &[Row], value: impl Fn(&Row) -> f64) -> Option<f64> {
    let last = &rows[rows.len().saturating_sub(5)..];
    (!last.is_empty()).then(|| last.iter().map(value).sum::<f64>() / last.len() as f64)
}

fn at_most(value: Option<f64>, most: f64, unit: &str) -> Verdict {
    let met = value.is_some_and(|value| value <= most);
    Verdict { met, found: shown(value, unit), wanted: format!("at most {} {unit}", said(most)) }
}

fn within(value: Option<f64>, low: f64, high: f64, unit: &str) -> Verdict {
    let met = value.is_some_and(|value| (low..=high).contains(&value));
    let wanted = format!("{} to {} {unit}", said(low), said(high));
    Verdict { met, found: shown(value, unit), wanted }
}

fn at_least(value: Option<f64>, least: f64, unit: &str) -> Verdict {
    let met = value.is_some_and(|value| value >= least);
    Verdict { met, found: shown(value, unit), wanted: format!("at least {} {unit}", said(least)) }
}

/// `never`, `once`, `2 times`.
pub(crate) fn times(count: f64) -> String {
    match count {
        0.0 => "never".to_owned(),
        1.0 => "once".to_owned(),
        count => format!("{} times", said(count)),
    }
}

fn shown(value: Option<f64>, unit: &str) -> String {
    value.map_or_else(|| "never".to_owned(), |value| format!("{} {unit}", said(value)))
}

fn list(names: &[ActName]) -> String {
    names.iter().map(|name| crate::words::command::words_of(*name)).collect::<Vec<_>>().join(" or ")
}
