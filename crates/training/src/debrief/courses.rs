//! What might have been: other courses of the same session.

use serde::Serialize;
use tidewright::fault::Fault;
use tidewright_scenario::format::{Act, ActName, CuffPressure};

use crate::bedside::meter::Row;
use crate::case::mends::{Mends, mends};
use crate::session::{Session, SessionError};
use crate::words::text::{said, said_act};

/// How long after the first sign the right act comes in what might have been, s.
pub const ACT_AFTER_S: f64 = 30.0;

/// What a cuff is filled to by gauge, cmH2O.
const FILLED_CMH2O: f64 = 25.0;

/// One course of events.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Course {
    /// Which.
    pub name: String,
    /// Highest alveolar pressure, cmH2O.
    pub highest_alveolar_pressure_cmh2o: f64,
    /// Longest time without a breath, s.
    pub longest_apnoea_s: f64,
    /// Expired tidal volume of the last breath, mL/kg.
    pub last_tidal_volume_ml_kg: Option<f64>,
    /// Highest end-tidal carbon dioxide, mmHg; null without gas.
    pub highest_end_tidal_co2_mmhg: Option<f64>,
    /// Lowest saturation, %; null without gas.
    pub lowest_spo2_percent: Option<f64>,
}

impl Course {
    /// The course in words.
    #[must_use]
    pub fn in_words(&self) -> String {
        let mut text = format!(
            "{}: highest alveolar pressure {} cmH2O, longest time without a breath {} s, \
             last breath {} mL/kg",
            self.name,
            said(self.highest_alveolar_pressure_cmh2o),
            said(self.longest_apnoea_s),
            self.last_tidal_volume_ml_kg.map_or_else(|| "–".to_owned(), said)
        );
        if let Some(end_tidal) = self.highest_end_tidal_co2_mmhg {
            text += &format!(", highest EtCO2 {end_tidal:.0} mmHg");
        }
        if let Some(spo2) = self.lowest_spo2_percent {
            text += &format!(", lowest SpO2 {spo2:.0} %");
        }
        text
    }
}

/// The same seed without the fault, and with the right act in time, each as long as
/// the attempt: extremes of a longer course do not compare. And why one is left out.
pub(super) fn counterfactuals(
    session: &Session,
    at_onset: Option<&Session>,
    sign_s: Option<f64>,
) -> Result<(Vec<Course>, Option<String>), SessionError> {
    let mut courses = vec![course("as it was", session)];
    let (Some(at_onset), Some(drawn)) = (at_onset, session.drawn()) else {
        return Ok((courses, None));
    };
    let end_s = session.now_s();
    // Who ended before the case began had what he had without it.
    // Where the circuit is joined by hand, nobody would have joined it.
    if !session.case_has_begun() || session.world().table.is_some() {
        return Ok((courses, None));
    }
    let mut healthy = at_onset.without_case()?;
    healthy.play_to(end_s)?;
    courses.push(course("the same without the fault", &healthy));
    let offers = &session.training().offers;
    let mended = drawn.first().filter(|_| !drawn.is_on_purpose());
    let act = mended.and_then(|fault| right_act(fault, offers));
    let act = act.or_else(|| right_act_for_change(session, offers));
    let (Some(sign_s), Some(act)) = (sign_s, act) else { return Ok((courses, None)) };
    let act_s = sign_s + ACT_AFTER_S;
    if act_s >= end_s {
        let (after, act, end) = (said(ACT_AFTER_S), said(act_s), said(end_s));
        return Ok((
            courses,
            Some(format!(
                "what the right act {after} s after the first sign would have changed is left \
                 out: it would have come at {act} s, and this session was over at {end} s"
            )),
        ));
    }
    let mut righted = at_onset.with_its_case()?;
    righted.play_to(act_s)?;
    let name = format!("{} at {} s", said_act(&act), said(act_s));
    let name = match handled(act, &righted).into_iter().try_for_each(|act| righted.act(act)) {
        Ok(()) => name,
        Err(reason) => format!("{name}: too late, {reason}"),
    };
    righted.play_to(end_s)?;
    courses.push(course(&name, &righted));
    Ok((courses, None))
}

/// The right act with what belongs to it where the cuff is the student's: let down before
/// a tube is moved, and filled after.
fn handled(act: Act, session: &Session) -> Vec<Act> {
    let moves = matches!(act, Act::WithdrawTube | Act::ChangeTube);
    if !moves || !session.world().tube.cuff_in_hand {
        return vec![act];
    }
    // Another tube comes with its cuff filled.
    let fill =
        act == Act::WithdrawTube && session.training().offers.contains(&ActName::InflateCuff);
    let fill = fill.then_some(Act::InflateCuff(CuffPressure { cmh2o: FILLED_CMH2O }));
    [Act::DeflateCuff, act].into_iter().chain(fill).collect()
}

/// Highest end-tidal carbon dioxide so far, mmHg.
pub(super) fn highest_end_tidal(session: &Session) -> Option<f64> {
    session.gas().and_then(|gas| gas.totals().highest_end_tidal_mmhg)
}

/// Lowest saturation so far, %.
pub(super) fn lowest_spo2(session: &Session) -> Option<f64> {
    session.gas().and_then(|gas| gas.totals().lowest_saturation).map(|share| 100.0 * share)
}

fn course(name: &str, session: &Session) -> Course {
    let weight_kg = session.scenario().patient.weight_kg;
    // Where more went in than came out, nothing came back.
    let volume = |row: &Row| (row.breath.expired_tidal_volume.as_ml() / weight_kg).max(0.0);
    Course {
        name: name.to_owned(),
        highest_alveolar_pressure_cmh2o: session.totals().highest_alveolar_cmh2o,
        longest_apnoea_s: session.longest_apnoea_s(),
        last_tidal_volume_ml_kg: session.rows().last().map(volume),
        highest_end_tidal_co2_mmhg: highest_end_tidal(session),
        lowest_spo2_percent: lowest_spo2(session),
    }
}

/// The first act on offer that puts the first hidden change of patient or gas right.
fn right_act_for_change(session: &Session, offers: &[ActName]) -> Option<Act> {
    let acts = [
        Act::ChangeAdapter,
        Act::FillVaporiser,
        Act::ReseatJoint,
        Act::SwapCylinder,
        Act::Warm,
        Act::Cool,
        Act::CallSurgeon,
    ];
    let gas = session.gas()?;
    let first = gas.changes.first()?;
    let mends = |act: &Act| first.mends(gas.away_from(first), act) != Mends::No;
    acts.into_iter().find(|act| offers.contains(&act.name()) && mends(act))
}

/// The first act on offer that puts a fault right.
#[must_use]
pub fn right_act(fault: Fault, offers: &[ActName]) -> Option<Act> {
    let acts = [
        Act::ReseatJoint,
        Act::InflateCuff(CuffPressure { cmh2o: FILLED_CMH2O }),
        Act::WithdrawTube,
        Act::Suction,
        Act::ChangeTube,
        Act::ChangeLimb,
        Act::SwapCylinder,
        Act::ChangeVentilator,
        Act::CallSurgeon,
    ];
    let open = |act: &Act| offers.contains(&act.name()) && mends(fault, act) != Mends::No;
    acts.into_iter().find(open)
}
