//! `tidewright replay`: what was done and seen in an attempt.

use std::path::PathBuf;

use clap::Args;
use tidewright_training::debrief::said_act;
use tidewright_training::{BANNER, replay};

use crate::exit::Exit;
use crate::problem::Problem;
use crate::{lesson, output};

/// Play an attempt again and tell what was done and seen
///
/// The same scenario, log and revision of the model always give the same lines.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  tidewright replay scenarios/training/juno-the-loose-joint.ron attempt.ron"
)]
pub struct Replay {
    /// Lesson: a scenario file with a training block
    #[arg(value_name = "SCENARIO")]
    scenario: PathBuf,

    /// Log of the attempt
    #[arg(value_name = "ATTEMPT")]
    attempt: PathBuf,
}

impl Replay {
    /// Plays it.
    pub fn perform(self) -> Result<Exit, Problem> {
        let scenario = lesson::scenario(&self.scenario)?;
        let attempt = lesson::attempt(&self.attempt)?;
        let session = replay(&scenario, &attempt).map_err(lesson::mismatch)?;
        let acts = session.acts().iter().map(|timed| (timed.at_s, said_act(&timed.act)));
        let seen = session.seen().iter().map(|seen| (seen.at_s, format!("  {}", seen.text)));
        let breaths = session.rows().iter().map(|row| {
            let breath = &row.breath;
            let line = format!(
                "    breath {}: ended by {:?}, inspiratory time {:.2} s, volume out {:.1} mL, peak {:.1}, baseline {:.1} cmH2O",
                breath.number,
                breath.ended_by,
                breath.inspiratory_time.as_s(),
                breath.expired_tidal_volume.as_ml(),
                row.shown_peak_cmh2o,
                row.shown_baseline_cmh2o
            );
            (row.end_s, line)
        });
        let gases = session.gas_breaths().iter().map(|breath| {
            let line = format!(
                "    {}: EtCO2 {:.1} mmHg, carbon dioxide breathed in {:.1} mmHg, SpO2 {:.0} %, volume back {:.1} mL",
                if breath.own { "own breath" } else { "gases" },
                breath.end_tidal_carbon_dioxide.as_mmhg(),
                breath.mean_inspired_carbon_dioxide.as_mmhg(),
                100.0 * breath.arterial_saturation,
                breath.expired.as_ml()
            );
            ((breath.start + breath.duration).as_s(), line)
        });
        let mut lines: Vec<(f64, String)> = acts.chain(seen).chain(breaths).chain(gases).collect();
        lines.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut page = format!("{BANNER}\n\n");
        for (at_s, line) in lines {
            page += &format!("{at_s:>7.1} s  {line}\n");
        }
        output::print(&page)?;
        Ok(Exit::Done)
    }
}
