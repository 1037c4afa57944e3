//! What there is to see after the change that mattered most.

use tidewright::breath::{Breath, EndedBy};
use tidewright::quantity::{Flow, Pressure};
use tidewright::setup::{PatientPort, Sensor, Setup, Tube, Valve};

use super::{Chapter, Story};
use crate::report::Summary;
use crate::report::words::{flow, said};

impl Story<'_> {
    /// What there is to see after the turn, the most telling sign first.
    pub(super) fn sign(
        &self,
        seen: Option<usize>,
        turn: Option<usize>,
        summary: &Summary,
    ) -> String {
        let chapter = seen.map(|seen| &self.chapters[seen]);
        let Some(Chapter { breaths: Some((_, breath)), setup, .. }) = chapter else {
            return "There is no breath to read.".to_owned();
        };
        // Before and after are compared across the turn alone.
        let before = turn.filter(|_| seen == turn).map(|turn| &self.chapters[turn - 1]);
        let before = before.and_then(|before| Some((&before.setup, before.breaths?.1)));
        let (ventilator, circuit) = (&setup.ventilator, &setup.circuit);
        let cycling = ventilator.cycling_pressure.as_cmh2o();
        let time_limit = ventilator.inspiratory_time_limit.as_s();
        let inspired = breath.inspired_tidal_volume.as_ml();
        let baseline = breath.baseline_pressure.as_cmh2o();
        let trapped = breath.end_expiratory_alveolar_pressure.as_cmh2o() - baseline;
        let above = baseline - ventilator.end_expiratory_pressure.as_cmh2o();
        if circuit.valve == Valve::StuckShut {
            return format!(
                "The outlet valve does not open: {} mL come out, and the pressure at the end of the \
                 breath is still {} cmH2O.",
                said(breath.expired_tidal_volume.as_ml()),
                said(baseline)
            );
        }
        let peak = breath.peak_pressure.as_cmh2o();
        if breath.ended_by == EndedBy::Time && ventilator.fresh_gas_flow == Flow::ZERO {
            return format!(
                "No fresh gas comes in, so nothing raises the pressure to {} cmH2O: the time limit of \
                 {} s alone ends an inspiration.",
                said(cycling),
                said(time_limit)
            );
        }
        if breath.ended_by == EndedBy::Time
            && circuit.sensor != Sensor::default()
            && peak >= cycling
        {
            return format!(
                "The pressure rose to {} cmH2O, but the sensor did not tell it: only the time limit \
                 of {} s ended the inspiration.",
                said(peak),
                said(time_limit)
            );
        }
        if breath.ended_by == EndedBy::Time {
            return format!(
                "The time limit ended {} of {} breaths: the pressure could not reach {} cmH2O in {} s, \
                 and the time limit alone kept each inspiration from going on.",
                summary.ended_by_time,
                summary.breaths,
                said(cycling),
                said(time_limit)
            );
        }
        // Gas behind a shut airway is not waiting for time.
        let cut_off = setup.lung.compartments.iter().any(|part| part.shut);
        // Where more is trapped than the outflow holds back, that is the sign.
        if above > 0.5 && (trapped <= above || cut_off) {
            return format!(
                "The baseline pressure is {} cmH2O, {} more than set: the fresh gas flow meets \
                 {} on its way out.",
                said(baseline),
                said(above),
                if circuit.water_in_limb > Pressure::ZERO { "water" } else { "resistance" }
            );
        }
        let works = !setup.effort.segments.is_empty();
        let shut = setup.lung.tube == Tube::Shut || circuit.patient_port == PatientPort::Blocked;
        if works && !shut {
            return format!(
                "The patient's own muscles share in the breath, and the ventilator only sees the \
                 pressure: the peak is {} cmH2O, with {} mL in.",
                said(peak),
                said(inspired)
            );
        }
        if inspired < 1.0 * self.scenario.patient.weight_kg {
            // What the lung would take at that pressure, if gas had the way and the time.
            let room = setup.lung.total_compliance().as_ml_per_cmh2o() * (peak - baseline);
            let why = if cut_off || shut || inspired < 0.3 * room {
                "a very short inspiration is the sign that the way to the lung is shut"
            } else if trapped > above.max(0.5) {
                "the lung is still full of the breath before"
            } else {
                "at this pressure the lung takes no more"
            };
            return format!(
                "The pressure reaches {} cmH2O, but only {} mL go in within {} s: {why}.",
                said(peak),
                said(inspired),
                said(breath.inspiratory_time.as_s())
            );
        }
        if trapped > 0.5 && !cut_off {
            return format!(
                "At the end of expiration the lung is still at {} cmH2O while the airway shows {}: \
                 {} s are too short for it to empty.",
                said(baseline + trapped),
                said(baseline),
                said(ventilator.expiratory_time.as_s())
            );
        }
        if let Some(leak) = leak_sign(before, setup, breath) {
            return leak;
        }
        if let Some((_, before)) = before
            && (before.peak_pressure - breath.peak_pressure).as_cmh2o().abs() < 0.05
            && differ(&before, breath, 0.1, |breath| breath.expired_tidal_volume.as_ml())
        {
            let time = differ(&before, breath, 0.05, |breath| breath.inspiratory_time.as_s());
            return format!(
                "The peak pressure is {} cmH2O before and after: it cannot show the change, but the \
                 {}.",
                said(peak),
                if time { "inspiratory time and the volume do" } else { "volume does" }
            );
        }
        format!(
            "Of {} of fresh gas {} L/min are breathed, the part that flows during inspiration; inspiration \
             lasted {} to {} s.",
            flow(ventilator.fresh_gas_flow),
            said(breath.expired_tidal_volume.as_ml() * breath.rate_per_min() / 1000.0),
            said(summary.shortest_inspiratory_time_s.unwrap_or_default()),
            said(summary.longest_inspiratory_time_s.unwrap_or_default())
        )
    }
}

/// What a leak shows where the pressure still ends the breath; what is longer or
/// as before is so in the breaths.
fn leak_sign(before: Option<(&Setup, Breath)>, setup: &Setup, breath: &Breath) -> Option<String> {
    let share = |breath: &Breath, setup: &Setup| {
        let flowed = (setup.ventilator.fresh_gas_flow * breath.inspiratory_time).as_ml();
        breath.leaked.as_ml() / flowed.max(f64::MIN_POSITIVE)
    };
    let now = share(breath, setup);
    if now <= 0.02 {
        return None;
    }
    let peak = said(breath.peak_pressure.as_cmh2o());
    let lost = format!("Of each breath {} mL leak away", said(breath.leaked.as_ml()));
    let time_s = breath.inspiratory_time.as_s();
    let Some((_, before)) = before.filter(|(set, before)| {
        // Only what nothing but the leak has changed is its sign.
        set.ventilator == setup.ventilator
            && set.lung == setup.lung
            && share(before, set) < 0.7 * now
            && before.inspiratory_time.as_s() < 0.98 * time_s
            && (before.peak_pressure - breath.peak_pressure).as_cmh2o().abs() < 0.05
    }) else {
        return Some(format!(
            "{lost}, and the pressure still reaches {peak} cmH2O: the peak does not show a leak."
        ));
    };
    let volume = differ(&before, breath, 0.05, |breath| breath.expired_tidal_volume.as_ml());
    let only = if volume { "the volume and the" } else { "only the" };
    let shows = if volume { "show" } else { "shows" };
    Some(format!(
        "{lost}, and the peak pressure is still {peak} cmH2O: {only} longer inspiration of {} s \
         (before: {} s) {shows} it.",
        said(time_s),
        said(before.inspiratory_time.as_s())
    ))
}

/// Whether two breaths differ by more than a share of the larger.
fn differ(a: &Breath, b: &Breath, share: f64, of: fn(&Breath) -> f64) -> bool {
    let (a, b) = (of(a), of(b));
    (a - b).abs() > share * a.abs().max(b.abs())
}
