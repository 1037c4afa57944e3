//! What happened in a run, in three sentences: how it began, what the change
//! that mattered most did, and what there is to see.

use tidewright::breath::{Breath, EndedBy};
use tidewright::quantity::{Flow, Pressure};
use tidewright::setup::{Mode, PatientPort, Sensor, Setup, Tube, Valve};

use super::Summary;
use super::happenings::happenings;
use super::labels::patient;
use super::words::{flow, said};
use crate::format::Scenario;

/// Collects what the story needs while the run goes on.
#[derive(Debug)]
pub(super) struct Story<'a> {
    scenario: &'a Scenario,
    chapters: Vec<Chapter>,
}

/// The time from one happening to the next.
#[derive(Debug)]
struct Chapter {
    from_s: f64,
    until_s: f64,
    /// What happens at its start, in words.
    news: Vec<String>,
    /// What holds at its end: what comes bit by bit has come by then.
    setup: Setup,
    /// First and last breath that lie within it as a whole.
    breaths: Option<(Breath, Breath)>,
}

impl<'a> Story<'a> {
    pub fn new(scenario: &'a Scenario) -> Self {
        let mut starts: Vec<(f64, Vec<String>)> = vec![(0.0, Vec::new())];
        for news in happenings(scenario) {
            match starts.last_mut() {
                Some((at_s, together)) if *at_s == news.at_s => together.push(news.sentence),
                _ => starts.push((news.at_s, vec![news.sentence])),
            }
        }
        let protocol = scenario.protocol();
        let setup_before = |until_s: f64| {
            let past = protocol.changes.iter().take_while(|change| change.at.as_s() < until_s);
            past.last().map_or(&protocol.start, |change| &change.setup).clone()
        };
        let ends: Vec<f64> =
            starts.iter().skip(1).map(|(at_s, _)| *at_s).chain([scenario.duration_s]).collect();
        let chapters = starts
            .into_iter()
            .zip(ends)
            .map(|((from_s, news), until_s)| Chapter {
                from_s,
                until_s,
                news,
                setup: setup_before(until_s),
                breaths: None,
            })
            .collect();
        Self { scenario, chapters }
    }

    pub fn breath(&mut self, breath: &Breath) {
        let start_s = breath.start.as_s();
        let end_s = (breath.start + breath.inspiratory_time + breath.expiratory_time).as_s();
        // Rounding of sums of times; far below any time that could be set.
        let close = 1e-9;
        let after = self.chapters.partition_point(|chapter| chapter.from_s <= start_s + close);
        let chapters = self.chapters.len();
        let chapter = &mut self.chapters[after.saturating_sub(1)];
        // A breath that ends with the chapter may have been cut short by the change.
        let whole = end_s + close < chapter.until_s || after == chapters;
        if whole {
            let first = chapter.breaths.map_or(*breath, |(first, _)| first);
            chapter.breaths = Some((first, *breath));
        }
    }

    pub fn told(&self, summary: &Summary) -> String {
        let turn = self.turn();
        let middle = match turn {
            Some(turn) => self.after(turn),
            None => self.development(summary),
        };
        format!("{} {middle} {}", self.beginning(), self.sign(turn, summary))
    }

    /// The first of the changes that mattered most.
    fn turn(&self) -> Option<usize> {
        let effects: Vec<f64> =
            self.chapters.windows(2).map(|pair| effect(&pair[0], &pair[1])).collect();
        let most = effects.iter().copied().fold(0.0, f64::max);
        effects.iter().position(|&effect| effect >= 0.7 * most).map(|before| before + 1)
    }

    /// Who, with what, and what a breath is like before anything changes.
    pub fn beginning(&self) -> String {
        let named = self.scenario.patient.name.is_some();
        let who = patient(self.scenario) + if named { "," } else { "" };
        let start = &self.chapters[0];
        let setup = &start.setup;
        let gas = match setup.ventilator.fresh_gas_flow {
            Flow::ZERO => "no fresh gas".to_owned(),
            some => format!("{} of fresh gas", flow(some)),
        };
        if setup.ventilator.mode == Mode::Standby {
            return format!("{who} gets {gas} while the ventilator stands by.");
        }
        let Some((_, breath)) = &start.breaths else {
            return format!("{who} gets {gas}, and no breath is finished before a change.");
        };
        let inspiration = said(breath.inspiratory_time.as_s());
        let how = match breath.ended_by {
            EndedBy::Pressure => {
                let level = said(setup.ventilator.cycling_pressure.as_cmh2o());
                if setup.circuit.sensor == Sensor::default() {
                    format!("an inspiration reaches {level} cmH2O after {inspiration} s")
                } else {
                    format!("the sensor shows {level} cmH2O or more after {inspiration} s")
                }
            }
            _ => {
                let peak = said(breath.peak_pressure.as_cmh2o());
                format!("the time limit ends an inspiration after {inspiration} s at {peak} cmH2O")
            }
        };
        let rate = said(breath.rate_per_min());
        format!(
            "{who} gets {gas}: {how}, and {} come out, {rate} times a minute.",
            self.volume(breath)
        )
    }

    fn volume(&self, breath: &Breath) -> String {
        let ml = breath.expired_tidal_volume.as_ml();
        format!("{} mL ({} mL/kg)", said(ml), said(ml / self.scenario.patient.weight_kg))
    }

    /// What a change did.
    fn after(&self, turn: usize) -> String {
        let (before, after) = (&self.chapters[turn - 1], &self.chapters[turn]);
        let what = listed(&after.news);
        let when = said(after.from_s);
        let Some((_, now)) = &after.breaths else {
            return format!("At {when} s {what}, and no breath that begins later is finished.");
        };
        let Some((_, then)) = &before.breaths else {
            return format!(
                "At {when} s {what}, and {} come out of each breath.",
                self.volume(now)
            );
        };
        let [before_s, now_s] = [then, now].map(|breath| said(breath.inspiratory_time.as_s()));
        let inspiration = if before_s == now_s {
            format!("inspiration still lasts {now_s} s")
        } else {
            format!("inspiration then lasts {now_s} s (before: {before_s} s)")
        };
        let [before_ml, now_ml] =
            [then, now].map(|breath| said(breath.expired_tidal_volume.as_ml()));
        let volume = if before_ml == now_ml {
            format!("{} come out as before", self.volume(now))
        } else {
            format!("{} come out (before: {before_ml} mL)", self.volume(now))
        };
        let ending = match (then.ended_by, now.ended_by) {
            (EndedBy::Pressure, EndedBy::Time) => {
                ", and the time limit ends it, no longer the pressure"
            }
            (EndedBy::Time, EndedBy::Pressure) => {
                ", and the pressure ends it, no longer the time limit"
            }
            _ => "",
        };
        format!("At {when} s {what}: {inspiration}{ending}, and {volume}.")
    }

    /// How the breaths develop when nothing is changed.
    fn development(&self, summary: &Summary) -> String {
        let Some((first, last)) = &self.chapters[0].breaths else {
            return "No breath was finished.".to_owned();
        };
        let volumes = [first, last].map(|breath| breath.expired_tidal_volume.as_ml());
        let n = summary.breaths;
        if (volumes[1] - volumes[0]).abs() <= 0.01 * volumes[0].abs() {
            return match n {
                1 => "One breath was finished.".to_owned(),
                _ => format!("All {n} breaths are alike."),
            };
        }
        format!(
            "From the first breath to the last, the volume that comes out goes from {} to {} mL.",
            said(volumes[0]),
            said(volumes[1])
        )
    }

    /// What there is to see after the turn, the most telling sign first.
    fn sign(&self, turn: Option<usize>, summary: &Summary) -> String {
        let read = |chapter: &'_ Chapter| chapter.breaths.is_some();
        let chapter = turn.map(|turn| &self.chapters[turn]).filter(|chapter| read(chapter));
        let chapter = chapter.or_else(|| self.chapters.iter().rev().find(|chapter| read(chapter)));
        let Some(Chapter { breaths: Some((_, breath)), setup, .. }) = chapter else {
            return "There is no breath to read.".to_owned();
        };
        let before = turn.and_then(|turn| self.chapters[turn - 1].breaths).map(|(_, last)| last);
        let (ventilator, circuit) = (&setup.ventilator, &setup.circuit);
        let cycling = ventilator.cycling_pressure.as_cmh2o();
        let time_limit = ventilator.inspiratory_time_limit.as_s();
        let inspired = breath.inspired_tidal_volume.as_ml();
        let flow_ml_s = ventilator.fresh_gas_flow.as_ml_s();
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
            return format!(
                "The pressure reaches {} cmH2O, but only {} mL go in within {} s: a very short \
                 inspiration is the sign that the way to the lung is shut.",
                said(breath.peak_pressure.as_cmh2o()),
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
        let leaked = breath.leaked.as_ml();
        if leaked > 0.02 * flow_ml_s * breath.inspiratory_time.as_s() {
            return format!(
                "Of each breath {} mL leak away, and the peak pressure is still {} cmH2O: only the \
                 longer inspiration of {} s shows it.",
                said(leaked),
                said(breath.peak_pressure.as_cmh2o()),
                said(breath.inspiratory_time.as_s())
            );
        }
        if let Some(before) = before
            && (before.peak_pressure - breath.peak_pressure).as_cmh2o().abs() < 0.05
            && (before.expired_tidal_volume - breath.expired_tidal_volume).as_ml().abs()
                > 0.1 * before.expired_tidal_volume.as_ml()
        {
            return format!(
                "The peak pressure is {} cmH2O before and after: it cannot show the change, but the \
                 inspiratory time and the volume do.",
                said(breath.peak_pressure.as_cmh2o())
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

/// `a, b and c`.
fn listed(parts: &[String]) -> String {
    match parts {
        [start @ .., last] if !start.is_empty() => format!("{} and {last}", start.join(", ")),
        _ => parts.concat(),
    }
}

/// How much a change did to the breath, for choosing the one to tell of.
fn effect(before: &Chapter, after: &Chapter) -> f64 {
    let (Some((_, then)), Some((_, now))) = (&before.breaths, &after.breaths) else {
        return if before.breaths.is_some() != after.breaths.is_some() { 2.0 } else { 0.0 };
    };
    let relative = |of: fn(&Breath) -> f64| {
        let (a, b) = (of(then), of(now));
        (a - b).abs() / a.abs().max(b.abs()).max(1e-9)
    };
    let ending = if then.ended_by == now.ended_by { 0.0 } else { 0.5 };
    let baseline = (then.baseline_pressure.as_cmh2o() - now.baseline_pressure.as_cmh2o()).abs();
    relative(|breath| breath.inspiratory_time.as_s())
        + relative(|breath| breath.expired_tidal_volume.as_ml())
        + ending
        + baseline / 10.0
}
