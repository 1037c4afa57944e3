//! What happened in a run: how it began, what each change did, and what there is to
//! see after the one that mattered most. A direction is told only where the breaths
//! have it.

mod sign;

use tidewright::breath::{Breath, EndedBy};
use tidewright::quantity::Flow;
use tidewright::setup::{Mode, Sensor, Setup};

use super::Summary;
use super::happenings::happenings;
use super::labels::patient;
use super::words::{flow, leak, said};
use crate::format::Scenario;

/// Changes that are each told of; of more, only the one that mattered most is.
const MOST_TOLD: usize = 3;

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
    /// Smallest and largest volume that comes out of them, mL.
    volumes_ml: (f64, f64),
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
                volumes_ml: (f64::INFINITY, f64::NEG_INFINITY),
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
            let (least, most) = &mut chapter.volumes_ml;
            let volume_ml = breath.expired_tidal_volume.as_ml();
            (*least, *most) = (least.min(volume_ml), most.max(volume_ml));
        }
    }

    pub fn told(&self, summary: &Summary) -> String {
        let turn = self.turn();
        let changes = self.chapters.len() - 1;
        let mut told = vec![self.beginning()];
        told.extend(self.at_the_start());
        match turn {
            None => told.push(self.development(summary)),
            Some(_) if changes <= MOST_TOLD => {
                told.extend((1..=changes).map(|chapter| self.after(chapter)));
            }
            Some(turn) => {
                told.push(self.after(turn));
                told.push(format!("Of {changes} times of change this one shows most."));
            }
        }
        let seen = self.seen(turn);
        if let Some(seen) = seen.filter(|&seen| seen > 0 && (2..=MOST_TOLD).contains(&changes)) {
            told.push(format!("Look at the breaths after {} s.", said(self.chapters[seen].from_s)));
        }
        told.push(self.sign(seen, turn, summary));
        told.join(" ")
    }

    /// The chapter whose last breath shows what there is to see: that of the turn, or
    /// the last that has a breath.
    fn seen(&self, turn: Option<usize>) -> Option<usize> {
        let has_a_breath = |chapter: &usize| self.chapters[*chapter].breaths.is_some();
        turn.filter(has_a_breath).or_else(|| (0..self.chapters.len()).rfind(has_a_breath))
    }

    /// What ails patient or circuit from the start.
    fn at_the_start(&self) -> Option<String> {
        let mut there = self.chapters[0].news.clone();
        if let Some(start) = self.scenario.circuit.leak.as_ref().filter(|leak| leak.ml_min > 0.0) {
            there.insert(0, leak(start));
        }
        (!there.is_empty()).then(|| format!("From the start {}.", listed(&there)))
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
        let (least, most) = self.chapters[0].volumes_ml;
        let n = summary.breaths;
        if n == 1 {
            return "One breath was finished.".to_owned();
        }
        if most - least <= 0.01 * most.abs() {
            return format!("All {n} breaths are alike.");
        }
        if most - least > 2.0 * (volumes[1] - volumes[0]).abs() {
            return format!(
                "No two breaths need be alike: the volume that comes out is between {} and {} mL.",
                said(least),
                said(most)
            );
        }
        format!(
            "From the first breath to the last, the volume that comes out goes from {} to {} mL.",
            said(volumes[0]),
            said(volumes[1])
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
