//! The report of a run as one JSON object, written while the run goes on.

use std::io::{self, Write};

use serde::Serialize;
use tidewright::breath::{Breath, BreathUnderWay};

use super::{Ending, GasRow, OwnBreathRow, Progress};
use crate::format::{FORMAT, Scenario};
use crate::measure::ended_by;

/// A finished breath as it stands in a report.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct BreathRow {
    /// Its number in the run, from 1.
    pub number: u64,
    /// When its inspiration began, s since the start of the run.
    pub start_s: f64,
    /// From the start of inspiration to the opening of the outlet valve, s.
    pub inspiratory_time_s: f64,
    /// From the opening of the outlet valve to the next inspiration, s.
    pub expiratory_time_s: f64,
    /// What ended its inspiration: `pressure`, `time` or `standby`.
    pub ended_by: &'static str,
    /// Change of lung volume over inspiration, mL.
    pub inspired_tidal_volume_ml: f64,
    /// Change of lung volume over expiration, mL.
    pub expired_tidal_volume_ml: f64,
    /// Net gas into the patient at the patient connection over inspiration, mL.
    pub inspired_at_airway_ml: f64,
    /// Net gas out of the patient at the patient connection over expiration, mL.
    pub expired_at_airway_ml: f64,
    /// Flow out of the patient at the end of expiration, mL/s.
    pub end_expiratory_flow_ml_s: f64,
    /// Highest airway pressure, cmH2O.
    pub peak_pressure_cmh2o: f64,
    /// Highest alveolar pressure, weighted by the compliance of the compartments,
    /// cmH2O.
    pub peak_alveolar_pressure_cmh2o: f64,
    /// Mean airway pressure over the whole breath, cmH2O.
    pub mean_pressure_cmh2o: f64,
    /// Airway pressure at the end of expiration, cmH2O.
    pub baseline_pressure_cmh2o: f64,
    /// Alveolar pressure at the end of expiration, weighted by the compliance of
    /// the compartments, cmH2O.
    pub end_expiratory_alveolar_pressure_cmh2o: f64,
    /// Gas lost through the leak, mL.
    pub leaked_ml: f64,
    /// Breaths per minute if every breath were like this one.
    pub rate_per_min: f64,
}

impl BreathRow {
    /// The row of a breath.
    #[must_use]
    pub fn of(breath: &Breath) -> Self {
        Self {
            number: breath.number,
            start_s: breath.start.as_s(),
            inspiratory_time_s: breath.inspiratory_time.as_s(),
            expiratory_time_s: breath.expiratory_time.as_s(),
            ended_by: ended_by(breath.ended_by),
            inspired_tidal_volume_ml: breath.inspired_tidal_volume.as_ml(),
            expired_tidal_volume_ml: breath.expired_tidal_volume.as_ml(),
            inspired_at_airway_ml: breath.inspired_at_airway.as_ml(),
            expired_at_airway_ml: breath.expired_at_airway.as_ml(),
            end_expiratory_flow_ml_s: breath.end_expiratory_flow.as_ml_s(),
            peak_pressure_cmh2o: breath.peak_pressure.as_cmh2o(),
            peak_alveolar_pressure_cmh2o: breath.peak_alveolar_pressure.as_cmh2o(),
            mean_pressure_cmh2o: breath.mean_pressure.as_cmh2o(),
            baseline_pressure_cmh2o: breath.baseline_pressure.as_cmh2o(),
            end_expiratory_alveolar_pressure_cmh2o: breath
                .end_expiratory_alveolar_pressure
                .as_cmh2o(),
            leaked_ml: breath.leaked.as_ml(),
            rate_per_min: breath.rate_per_min(),
        }
    }
}

/// The breath that was under way when the run ended.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct UnfinishedRow {
    /// Its number in the run.
    pub number: u64,
    /// When its inspiration began, s since the start of the run.
    pub start_s: f64,
    /// Time since then, s.
    pub elapsed_s: f64,
    /// What ended its inspiration, or null while that lasts.
    pub ended_by: Option<&'static str>,
    /// Change of lung volume over inspiration so far, mL.
    pub inspired_tidal_volume_ml: f64,
    /// Highest airway pressure so far, cmH2O.
    pub peak_pressure_cmh2o: f64,
}

impl UnfinishedRow {
    /// The row of a breath under way.
    #[must_use]
    pub fn of(breath: &BreathUnderWay) -> Self {
        Self {
            number: breath.number,
            start_s: breath.start.as_s(),
            elapsed_s: breath.elapsed.as_s(),
            ended_by: breath.ended_by.map(ended_by),
            inspired_tidal_volume_ml: breath.inspired_tidal_volume.as_ml(),
            peak_pressure_cmh2o: breath.peak_pressure.as_cmh2o(),
        }
    }
}

/// Writes the report of a run as one JSON object.
///
/// Its keys, in this order: `format`, `engine` (version), `model` (the revision that
/// changes only when results do), `scenario` (`id`),
/// `breaths` (each a [`BreathRow`]), `unfinished` ([`UnfinishedRow`] or null),
/// `summary` ([`super::Summary`]), `criteria` (empty as long as the scenario
/// sets none), `story`, `cautions`. Numbers are written in full precision:
/// reading them gives the same bits.
///
/// With gas exchange each of `breaths` has the keys of a [`GasRow`] besides,
/// `summary` has `gas` (a [`super::GasSummary`]), and `own_breaths` follows
/// `breaths`: each an [`OwnBreathRow`], a breath that the patient took by itself
/// while the ventilator stood by.
#[derive(Debug)]
pub struct JsonReport<W: Write> {
    out: W,
    breaths: u64,
    own_breaths: Option<Vec<OwnBreathRow>>,
}

/// A breath with its gases, if they are known.
#[derive(Serialize)]
struct FullRow {
    #[serde(flatten)]
    breath: BreathRow,
    #[serde(flatten)]
    gas: Option<GasRow>,
}

impl<W: Write> JsonReport<W> {
    /// Writes the beginning.
    ///
    /// # Errors
    /// When `out` cannot be written.
    pub fn begin(mut out: W, scenario: &Scenario) -> io::Result<Self> {
        let engine = env!("CARGO_PKG_VERSION");
        let model = tidewright::MODEL_REVISION;
        write!(out, "{{\n\"format\": {FORMAT},\n\"engine\": \"{engine}\",\n\"model\": {model},\n")?;
        write!(out, "\"scenario\": ")?;
        serde_json::to_writer(&mut out, &scenario.id)?;
        write!(out, ",\n\"breaths\": [")?;
        let own_breaths = scenario.gas.is_some().then(Vec::new);
        Ok(Self { out, breaths: 0, own_breaths })
    }

    /// Writes a breath.
    ///
    /// # Errors
    /// When the report cannot be written.
    pub fn breath(&mut self, breath: &Breath) -> io::Result<()> {
        self.row(&BreathRow::of(breath))
    }

    /// Writes what a run has come to: a breath with its gases, and keeps the
    /// patient's own.
    ///
    /// # Errors
    /// When the report cannot be written.
    pub fn progress(&mut self, progress: &Progress<'_, '_>) -> io::Result<()> {
        if let Some(own) = &mut self.own_breaths {
            own.extend(progress.own_breaths().map(OwnBreathRow::of));
        }
        match (progress.breath, progress.breath_gas) {
            (Some(breath), Some(gas)) => {
                let (breath, gas) = (BreathRow::of(breath), Some(GasRow::of(gas)));
                self.row(&FullRow { breath, gas })
            }
            (Some(breath), None) => self.breath(breath),
            (None, _) => Ok(()),
        }
    }

    fn row(&mut self, row: &impl Serialize) -> io::Result<()> {
        let separator: &[u8] = if self.breaths == 0 { b"\n" } else { b",\n" };
        self.breaths += 1;
        self.out.write_all(separator)?;
        serde_json::to_writer(&mut self.out, row)?;
        Ok(())
    }

    /// Writes the end.
    ///
    /// # Errors
    /// When the report cannot be written.
    pub fn end(mut self, ending: &Ending) -> io::Result<()> {
        let unfinished = ending.unfinished.as_ref().map(UnfinishedRow::of);
        write!(self.out, "\n],\n")?;
        if let Some(own) = &self.own_breaths {
            write!(self.out, "\"own_breaths\": [")?;
            for (i, row) in own.iter().enumerate() {
                self.out.write_all(if i == 0 { b"\n" } else { b",\n" })?;
                serde_json::to_writer(&mut self.out, row)?;
            }
            write!(self.out, "\n],\n")?;
        }
        write!(self.out, "\"unfinished\": ")?;
        serde_json::to_writer(&mut self.out, &unfinished)?;
        write!(self.out, ",\n\"summary\": ")?;
        serde_json::to_writer(&mut self.out, &ending.summary)?;
        write!(self.out, ",\n\"criteria\": [],\n\"story\": ")?;
        serde_json::to_writer(&mut self.out, &ending.story)?;
        write!(self.out, ",\n\"cautions\": ")?;
        serde_json::to_writer(&mut self.out, &ending.cautions)?;
        writeln!(self.out, "\n}}")?;
        self.out.flush()
    }
}
