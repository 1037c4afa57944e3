//! Harm: what no lesson may do to a patient, judged by the model over the whole
//! session and by the state in which the patient is left.

mod signs;

use tidewright::math::pow;
use tidewright_scenario::format::{ActName, Whom};

use crate::case::tube::Moved;
use crate::session::{SMALLEST_BREATH_ML_KG, Session};
use crate::words::text::said;
use signs::Sums;

/// A minute volume below which a patient of 10 kg gets too little, mL/kg/min: a third
/// of the usual; smaller animals need more by the fourth root of their weight (common
/// practice, no source).
const TOO_LITTLE_ML_KG_MIN: f64 = 50.0;
/// A time without the end of a breath that is no pause between two breaths, s.
const NO_PAUSE_S: f64 = 15.0;
/// Volume that does no harm to a healthy lung, mL/kg (R406).
const FULL_ML_KG: f64 = 15.0;

/// One limit of harm, as it was kept or not.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Limit {
    pub measure: &'static str,
    pub found: f64,
    pub most: f64,
    pub unit: &'static str,
}

impl Limit {
    pub fn is_kept(&self) -> bool {
        self.found <= self.most
    }

    pub fn found(&self) -> String {
        format!("{} {}", said(self.found), self.unit)
    }

    pub fn wanted(&self) -> String {
        format!("at most {} {}", said(self.most), self.unit)
    }
}

/// Every limit that can be judged in this session; none on a bench.
pub(crate) fn limits(session: &Session) -> Vec<Limit> {
    let harm = &session.training().harm;
    if harm.to == Whom::TestLung {
        return Vec::new();
    }
    let limit = |measure, found, most, unit| Limit { measure, found, most, unit };
    let volumes = Volumes::of(session);
    let mut all = vec![
        limit("longest time without a breath", session.longest_apnoea_s(), harm.no_breath_s, "s"),
        limit("time with too little breath", volumes.too_little_s, harm.too_little_s, "s"),
        limit(
            "highest pressure in the lung",
            session.totals().highest_alveolar_cmh2o,
            harm.pressure_cmh2o,
            "cmH2O",
        ),
        limit(
            "breaths beyond 15 mL/kg, summed",
            volumes.overfilled_ml_kg,
            harm.overfilled_ml_kg,
            "mL/kg",
        ),
        limit("left at the end without a breath for", volumes.left_s, harm.left_s, "s"),
        limit(
            "cycling pressure that is left set",
            session.set().cycling_pressure.as_cmh2o(),
            harm.left_set_cmh2o,
            "cmH2O",
        ),
    ];
    let tube = &session.world().tube;
    let times = |is: fn(&Moved) -> bool| tube.moved.iter().filter(|one| is(one)).count() as f64;
    if tube.cuff_in_hand {
        let strained = times(Moved::strained);
        all.push(limit("tube moved against a filled cuff", strained, 0.0, "times"));
    }
    if session.training().offers.contains(&ActName::TurnPatient) {
        let turned = times(Moved::turned_on_the_circuit);
        all.push(limit("patient turned on the circuit", turned, 0.0, "times"));
    }
    if session.gas().is_some() {
        let sums = Sums::of(session);
        let time = |measure, found, most| limit(measure, found, most, "s");
        all.extend([
            time("time with SpO2 below 90 %", sums.low_oxygen_s, harm.low_oxygen_s),
            time(
                "time with arterial carbon dioxide above 80 mmHg",
                sums.high_carbon_dioxide_s,
                harm.high_carbon_dioxide_s,
            ),
            time(
                "time with a mean arterial pressure below 40 mmHg",
                sums.low_pressure_s,
                harm.low_pressure_s,
            ),
            time("time below 33 °C or above 42 °C", sums.cold_or_hot_s, harm.cold_or_hot_s),
            time("time too deep to breathe", sums.too_deep_s, harm.too_deep_s),
            time("time nearly awake", sums.awake_s, harm.awake_s),
        ]);
    }
    all
}

/// What the breaths add up to.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Volumes {
    too_little_s: f64,
    overfilled_ml_kg: f64,
    left_s: f64,
}

impl Volumes {
    fn of(session: &Session) -> Self {
        let weight_kg = session.scenario().patient.weight_kg;
        let least = TOO_LITTLE_ML_KG_MIN * pow(weight_kg / 10.0, -0.25);
        let mut sums = Self::default();
        let (mut before_s, mut effective_s) = (0.0, 0.0);
        for (end_s, expired_ml) in breaths(session) {
            let per_kg = expired_ml / weight_kg;
            let lasted_s = end_s - before_s;
            if per_kg * 60.0 < least * lasted_s {
                sums.too_little_s += lasted_s;
            }
            sums.overfilled_ml_kg += (per_kg - FULL_ML_KG).max(0.0);
            before_s = end_s;
            if per_kg >= SMALLEST_BREATH_ML_KG {
                effective_s = end_s;
            }
        }
        let rest_s = session.now_s() - before_s;
        if rest_s > NO_PAUSE_S {
            sums.too_little_s += rest_s;
        }
        sums.left_s = session.now_s() - effective_s;
        sums
    }
}

/// End (s) and expired volume (mL) of every breath: with gas the patient's own in
/// standby as well.
fn breaths(session: &Session) -> Vec<(f64, f64)> {
    if session.gas().is_some() {
        let breaths = session.gas_breaths().iter();
        let told = breaths.map(|one| ((one.start + one.duration).as_s(), one.expired.as_ml()));
        return told.collect();
    }
    let rows = session.rows().iter();
    rows.map(|row| (row.end_s, row.breath.expired_tidal_volume.as_ml())).collect()
}
