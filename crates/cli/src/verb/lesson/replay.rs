//! `tidewright replay`: what was done and seen in an attempt.

use std::path::PathBuf;

use clap::Args;
use tidewright::breath::EndedBy;
use tidewright_training::debrief::{debrief, said_act};
use tidewright_training::desk::came_of;
use tidewright_training::{BANNER, Row, Session, replay};

use crate::exit::Exit;
use crate::files::output;
use crate::files::problem::Problem;
use crate::lesson;

/// Changes of a breath that are told: of a time or volume, as a share; of a pressure,
/// cmH2O.
const TOLD_SHARE: f64 = 0.1;
const TOLD_CMH2O: f64 = 1.0;
/// The same of carbon dioxide, mmHg, and of saturation, %.
const TOLD_MMHG: f64 = 3.0;
const TOLD_PERCENT: f64 = 2.0;

/// Play an attempt again and tell what was done and seen
///
/// Breaths are told where they have changed since the last one that was told; the
/// onset of the case and its first sign stand among them. The same scenario, log and
/// revision of the model always give the same lines.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  tidewright replay juno attempt.ron\n  tidewright replay juno attempt.ron --all"
)]
pub struct Replay {
    /// Lesson: a name, a number, or a scenario file with a training block
    #[arg(value_name = "SCENARIO")]
    scenario: PathBuf,

    /// Log of the attempt
    #[arg(value_name = "ATTEMPT")]
    attempt: PathBuf,

    /// Tell every breath
    #[arg(long)]
    all: bool,
}

impl Replay {
    /// Plays it.
    pub fn perform(self) -> Result<Exit, Problem> {
        let scenario = lesson::scenario(&self.scenario)?;
        let attempt = lesson::attempt(&self.attempt)?;
        let waiting = output::waiting("playing it again");
        let session = replay(&scenario, &attempt).map_err(lesson::mismatch)?;
        let marking = debrief(&scenario, &attempt, None).map_err(lesson::mismatch)?.marking;
        let acts = session.acts().iter().map(|timed| (timed.at_s, said_act(&timed.act)));
        let mut lines: Vec<(f64, String)> = acts.collect();
        lines.extend(session.seen().iter().map(|seen| (seen.at_s, format!("  {}", seen.text))));
        lines.extend(attempt.asked.iter().map(|one| (one.at_s, format!("  {}", came_of(one)))));
        let now_s = session.now_s();
        let onset = marking.onset_s.filter(|&at_s| at_s <= now_s);
        let case = marking.case.as_deref().unwrap_or("nothing");
        lines.extend(onset.map(|at_s| (at_s, format!("ONSET: {case}"))));
        let sign = marking.sign_s.filter(|&at_s| at_s <= now_s).zip(marking.sign);
        lines.extend(sign.map(|(at_s, sign)| (at_s, format!("FIRST SIGN, left alone: {sign}"))));
        lines.extend(self.breaths(&session));
        lines.extend(self.gases(&session));
        lines.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut page = format!("{BANNER}\n\n");
        for (at_s, line) in lines {
            page += &format!("{at_s:>7.1} s  {line}\n");
        }
        drop(waiting);
        output::print(&page)?;
        Ok(Exit::Done)
    }

    /// Every breath, or those that differ from the last one told, with how many were like it.
    fn breaths(&self, session: &Session) -> Vec<(f64, String)> {
        let mut told: Option<&Row> = None;
        let mut lines = Vec::new();
        for row in session.rows() {
            if self.all || told.is_none_or(|last| has_changed(row, last)) {
                told = Some(row);
                lines.push((row.end_s, breath(row)));
            }
        }
        lines
    }

    fn gases(&self, session: &Session) -> Vec<(f64, String)> {
        let mut told: Option<[f64; 3]> = None;
        let mut lines = Vec::new();
        for breath in session.gas_breaths() {
            let now = [
                breath.end_tidal_carbon_dioxide.as_mmhg() / TOLD_MMHG,
                breath.mean_inspired_carbon_dioxide.as_mmhg() / TOLD_MMHG,
                100.0 * breath.arterial_saturation / TOLD_PERCENT,
            ];
            let moved = |last: [f64; 3]| now.iter().zip(last).any(|(a, b)| (a - b).abs() >= 1.0);
            if !self.all && told.is_some_and(|last| !moved(last)) {
                continue;
            }
            told = Some(now);
            let line = format!(
                "    {}: EtCO2 {:.1} mmHg, carbon dioxide breathed in {:.1} mmHg, SpO2 {:.0} %, volume back {:.1} mL",
                if breath.own { "own breath" } else { "gases" },
                breath.end_tidal_carbon_dioxide.as_mmhg(),
                breath.mean_inspired_carbon_dioxide.as_mmhg(),
                100.0 * breath.arterial_saturation,
                breath.expired.as_ml()
            );
            lines.push(((breath.start + breath.duration).as_s(), line));
        }
        lines
    }
}

fn breath(row: &Row) -> String {
    let breath = &row.breath;
    let by = match breath.ended_by {
        EndedBy::Pressure => "pressure",
        EndedBy::Time => "the time limit",
        EndedBy::Standby => "standby",
    };
    format!(
        "    breath {}: ended by {by}, inspiratory time {:.2} s, volume out {:.1} mL, peak {:.1}, baseline {:.1} cmH2O",
        breath.number,
        breath.inspiratory_time.as_s(),
        breath.expired_tidal_volume.as_ml(),
        row.shown_peak_cmh2o,
        row.shown_baseline_cmh2o
    )
}

fn has_changed(now: &Row, last: &Row) -> bool {
    let (new, old) = (&now.breath, &last.breath);
    let share = |new: f64, old: f64| (new - old).abs() > TOLD_SHARE * old.abs();
    let pressure = |new: f64, old: f64| (new - old).abs() > TOLD_CMH2O;
    new.ended_by != old.ended_by
        || share(new.inspiratory_time.as_s(), old.inspiratory_time.as_s())
        || share(new.expired_tidal_volume.as_ml(), old.expired_tidal_volume.as_ml())
        || pressure(now.shown_peak_cmh2o, last.shown_peak_cmh2o)
        || pressure(now.shown_baseline_cmh2o, last.shown_baseline_cmh2o)
}
