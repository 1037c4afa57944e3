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
mod faults;
mod gas;
mod gas_story;
mod happenings;
mod json;
mod labels;
mod no_breath;
mod page;
mod story;
mod summary;
mod table;
mod words;

use std::io;

pub use cautions::{BANNER, CSV_CAUTION, MODEL_LIMITS, MODEL_LIMITS_WITH_GAS};
pub use csv::{BadRate, CsvWaveform, FASTEST_SAMPLING_PER_S};
pub use gas::{GasBalance, GasRow, GasSummary, OwnBreathRow};
use gas_story::GasStory;
pub use happenings::{Happening, happenings};
pub use json::{BreathRow, JsonReport, UnfinishedRow};
pub use labels::{patient, settings};
pub use page::{Part, page};
use story::Story;
pub use summary::Summary;
pub use table::{Fitted, Table};
use thiserror::Error;
use tidewright::breath::{Breath, BreathMeter, BreathUnderWay};
use tidewright::coupled::{GasStretch, Together};
use tidewright::exchange::{GasBreath, GasError};
use tidewright::run::{ProtocolError, Simulation, Stretch};
use tidewright::step::StepError;

use crate::format::Scenario;

/// What is known when a run has ended.
#[derive(Clone, Debug)]
pub struct Ending {
    /// The breath that was under way.
    pub unfinished: Option<BreathUnderWay>,
    /// Totals, means and extremes.
    pub summary: Summary,
    /// What happened, in a few sentences of plain words, every number from the
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
    /// The gas cannot be; [`crate::parse`] accepts none such.
    #[error(transparent)]
    Gas(#[from] GasError),
}

/// What a run has come to.
#[derive(Clone, Copy, Debug)]
pub struct Progress<'r, 'a> {
    /// The stretch of time that is over.
    pub stretch: &'r Stretch<'a>,
    /// The breath of the ventilator that it finished.
    pub breath: Option<&'r Breath>,
    /// The gases of that breath, with gas exchange.
    pub breath_gas: Option<&'r GasBreath>,
    /// The gas along the stretch, with gas exchange.
    pub gas: Option<&'r GasStretch>,
}

impl Progress<'_, '_> {
    /// The patient's own breaths that ended in the stretch while the ventilator
    /// stood by.
    pub fn own_breaths(&self) -> impl Iterator<Item = &GasBreath> {
        self.gas.into_iter().flat_map(|gas| &gas.breaths).filter(|breath| breath.own)
    }
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
    watch(scenario, simulation, |progress| each(progress.stretch, progress.breath))
}

/// As [`follow`], but `each` is told of the gas too.
///
/// # Errors
/// [`RunError`]; an error of `each` ends the run.
///
/// ```
/// use tidewright::run::Simulation;
/// use tidewright_scenario::{DEMO, parse, report};
/// let mut scenario = parse("demo.ron", DEMO)?;
/// scenario = parse("gas.ron", &DEMO.replace("duration_s", "gas: (), duration_s"))?;
/// let simulation = Simulation::new(&scenario.protocol())?;
/// let (mut capnogram, mut end_tidal) = (Vec::new(), 0.0);
/// report::watch(&scenario, &simulation, |progress| {
///     let points = progress.gas.into_iter().flat_map(|gas| &gas.points);
///     capnogram.extend(points.map(|point| (point.at_s, point.shown_carbon_dioxide_mmhg)));
///     if let Some(gas) = progress.breath_gas {
///         end_tidal = gas.end_tidal_carbon_dioxide.as_mmhg();
///     }
///     Ok(())
/// })?;
/// assert!(end_tidal > 20.0);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn watch<'a>(
    scenario: &Scenario,
    simulation: &'a Simulation,
    mut each: impl FnMut(&Progress<'_, 'a>) -> io::Result<()>,
) -> Result<Ending, RunError> {
    let mut meter = BreathMeter::default();
    let mut summary = Summary::new(scenario);
    let mut story = Story::new(scenario);
    let mut inflation: Option<GasBreath> = None;
    let mut coupled = scenario.coupled(simulation)?;
    let mut gas_story = GasStory::new(scenario, coupled.gas());
    while let Some(together) = coupled.next() {
        let Together { stretch, gas } = together?;
        let breath = meter.take(&stretch);
        summary.stretch(&stretch);
        if let (Some(gas), Some(run)) = (&gas, coupled.gas()) {
            summary.gas(&stretch, gas, run);
            gas_story.take(&stretch, gas);
            inflation = gas.breaths.iter().rfind(|breath| !breath.own).copied().or(inflation);
        }
        if let Some(breath) = &breath {
            summary.breath(breath);
            story.breath(breath);
        }
        let of_this = |gas: &&GasBreath| {
            breath.is_some_and(|breath| (gas.start - breath.start).as_s().abs() < 1e-6)
        };
        each(&Progress {
            stretch: &stretch,
            breath: breath.as_ref(),
            breath_gas: inflation.as_ref().filter(of_this),
            gas: gas.as_ref(),
        })?;
    }
    let story = gas_story.told(story.told(&summary), &story, &summary);
    let cautions = cautions::cautions(scenario, &summary);
    Ok(Ending { unfinished: meter.under_way(), summary, story, cautions })
}
