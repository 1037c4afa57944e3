//! What a run reports: a JSON object, a sampled waveform, a table and a story.
//!
//! [`run`] lets a scenario run once and hands on every stretch and every breath
//! as it comes, so that a run of a day needs no more memory than one of a
//! minute. The writers take them from there:
//!
//! ```
//! use tidewright_scenario::{DEMO, parse, report};
//! let scenario = parse("demo.ron", DEMO)?;
//! let mut text = Vec::new();
//! let mut json = report::JsonReport::begin(&mut text, &scenario)?;
//! let mut table = report::Table::new(&scenario);
//! let ending = report::run(&scenario, |_stretch, breath| {
//!     if let Some(breath) = breath {
//!         table.take(breath);
//!         json.breath(breath)?;
//!     }
//!     Ok(())
//! })?;
//! json.end(&ending)?;
//! assert!(table.to_string().contains("ended by"));
//! let report: serde_json::Value = serde_json::from_slice(&text)?;
//! assert_eq!(report["breaths"][0]["ended_by"], "pressure");
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod cautions;
mod csv;
mod json;
mod labels;
mod story;
mod summary;
mod table;
mod words;

use std::io;

pub use cautions::{BANNER, MODEL_LIMITS};
pub use csv::{BadRate, CsvWaveform, FASTEST_SAMPLING_PER_S};
pub use json::{BreathRow, JsonReport, UnfinishedRow};
pub use labels::{label, patient, settings};
use story::Story;
pub use summary::Summary;
pub use table::{Fitted, Table};
use thiserror::Error;
use tidewright::breath::{Breath, BreathMeter, BreathUnderWay};
use tidewright::run::{ProtocolError, Simulation, Stretch};
use tidewright::step::StepError;
pub use words::change;

use crate::format::Scenario;

/// What is known when a run has ended.
#[derive(Clone, Debug)]
pub struct Ending {
    /// The breath that was under way.
    pub unfinished: Option<BreathUnderWay>,
    /// Totals, means and extremes.
    pub summary: Summary,
    /// What happened, in three sentences of plain words, every number from the
    /// run.
    pub story: String,
    /// What a reader must keep in mind: the general caution first, then those
    /// that this run gives reason for.
    pub cautions: Vec<String>,
}

/// A run that could not be carried through.
#[derive(Debug, Error)]
pub enum RunError {
    /// The engine does not accept the settings. [`crate::parse`] accepts only
    /// what it does, so this concerns scenarios that were made or changed in code.
    #[error(transparent)]
    Protocol(#[from] ProtocolError),
    /// The run could not go on.
    #[error(transparent)]
    Step(#[from] StepError),
    /// What `each` wrote could not be written.
    #[error("the report cannot be written: {0}")]
    Write(#[from] io::Error),
}

/// Runs a scenario from start to end and calls `each` with every stretch of
/// time, and with the breath that it finished, if it finished one.
///
/// # Errors
/// [`RunError`]; an error of `each` ends the run.
pub fn run(
    scenario: &Scenario,
    each: impl FnMut(&Stretch<'_>, Option<&Breath>) -> io::Result<()>,
) -> Result<Ending, RunError> {
    follow(scenario, &Simulation::new(&scenario.protocol())?, each)
}

/// As [`run`], with the scenario's simulation made by the caller: on another
/// road, or to keep some of its stretches.
///
/// # Errors
/// [`RunError`]; an error of `each` ends the run.
pub fn follow<'a>(
    scenario: &Scenario,
    simulation: &'a Simulation,
    mut each: impl FnMut(&Stretch<'a>, Option<&Breath>) -> io::Result<()>,
) -> Result<Ending, RunError> {
    let mut meter = BreathMeter::default();
    let mut summary = Summary::new(scenario);
    let mut story = Story::new(scenario);
    for stretch in simulation.steps() {
        let stretch = stretch?;
        let breath = meter.take(&stretch);
        summary.stretch(&stretch);
        if let Some(breath) = &breath {
            summary.breath(breath);
            story.breath(breath);
        }
        each(&stretch, breath.as_ref())?;
    }
    let story = story.told(&summary);
    let cautions = cautions::cautions(scenario, &summary);
    Ok(Ending { unfinished: meter.under_way(), summary, story, cautions })
}
