//! The waveform of a run at regular times, as rows of numbers.

use std::error::Error;
use std::io::{self, Write};

use thiserror::Error;
use tidewright::coupled::GasPoint;
use tidewright::instrument::{Reading, Recorder};
use tidewright::machine::Signal;
use tidewright::phase::PhaseKind;
use tidewright::run::Stretch;
use tidewright::trace::Sampler;

use super::{CSV_CAUTION, Progress};
use crate::format::Scenario;

/// Fastest sampling, samples per second.
pub const FASTEST_SAMPLING_PER_S: f64 = 10_000.0;

/// A sampling rate that cannot be used.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
#[error("{0} samples per second: write a rate above 0 and at most {FASTEST_SAMPLING_PER_S}")]
pub struct BadRate(pub f64);

const SHOWN: [&str; 3] = ["shown_pressure_cmh2o", "shown_flow_ml_s", "shown_volume_ml"];

const COLUMNS: [(&str, Signal); 8] = [
    ("airway_pressure_cmh2o", Signal::AirwayPressure),
    ("airway_flow_ml_s", Signal::AirwayFlow),
    ("lung_volume_ml", Signal::LungVolume),
    ("alveolar_pressure_cmh2o", Signal::AlveolarPressure),
    ("leak_flow_ml_s", Signal::LeakFlow),
    ("outlet_flow_ml_s", Signal::OutletFlow),
    ("muscle_pressure_cmh2o", Signal::MusclePressure),
    ("pleural_pressure_cmh2o", Signal::PleuralPressure),
];

type GasColumn = (&'static str, fn(&GasPoint) -> f64);

/// With gas exchange, behind the others.
const GAS_COLUMNS: [GasColumn; 7] = [
    ("co2_mmhg", |point| point.carbon_dioxide_mmhg),
    ("shown_co2_mmhg", |point| point.shown_carbon_dioxide_mmhg),
    ("oxygen_percent", |point| 100.0 * point.oxygen),
    ("alveolar_co2_mmhg", |point| point.alveolar_carbon_dioxide_mmhg),
    ("arterial_co2_mmhg", |point| point.arterial_carbon_dioxide_mmhg),
    ("arterial_o2_mmhg", |point| point.arterial_oxygen_mmhg),
    ("spo2_percent", |point| 100.0 * point.saturation),
];

/// Writes the waveform of a run as comma-separated values: `t_s`, the signals
/// with their units in their names, what instruments show (`shown_…`, where the
/// scenario has them), with gas exchange carbon dioxide and oxygen
/// (at the patient connection, as the capnograph shows it, in the alveoli, in
/// arterial blood), `phase`, and last the caution: an empty column of that name. A value of gas is that of the small step of
/// time in which the row falls; where no time passed, its cell is empty.
///
/// Row k is at exactly k divided by the rate. A row at the time of an event
/// shows the values before it. Numbers are written in full precision. Between two
/// readings an instrument goes on showing the one before.
#[derive(Debug)]
pub struct CsvWaveform<W: Write> {
    out: W,
    sampler: Sampler,
    gas: bool,
    shown: Option<Shown>,
}

/// The instruments, and their readings from the latest before a stretch on.
#[derive(Debug)]
struct Shown {
    recorder: Recorder,
    readings: Vec<Reading>,
}

impl<W: Write> CsvWaveform<W> {
    /// Checks the rate and writes the header.
    ///
    /// # Errors
    /// [`BadRate`] or [`tidewright::instrument::InstrumentError`] within an
    /// [`io::Error`] of kind `InvalidInput`, or when `out` cannot be written.
    pub fn begin(mut out: W, scenario: &Scenario, samples_per_s: f64) -> io::Result<Self> {
        let invalid = |error: Box<dyn Error + Send + Sync>| {
            io::Error::new(io::ErrorKind::InvalidInput, error)
        };
        if !(samples_per_s > 0.0 && samples_per_s <= FASTEST_SAMPLING_PER_S) {
            return Err(invalid(BadRate(samples_per_s).into()));
        }
        let recorder = scenario.instruments.as_ref().map(|all| Recorder::new(all.to_core()));
        let recorder = recorder.transpose().map_err(|error| invalid(error.into()))?;
        let shown = recorder.map(|recorder| Shown { recorder, readings: Vec::new() });
        write!(out, "t_s")?;
        let columns = COLUMNS.iter().map(|(name, _)| name);
        for name in columns.chain(SHOWN.iter().filter(|_| shown.is_some())) {
            write!(out, ",{name}")?;
        }
        let gas = scenario.gas.is_some();
        for (name, _) in GAS_COLUMNS.iter().filter(|_| gas) {
            write!(out, ",{name}")?;
        }
        writeln!(out, ",phase,{CSV_CAUTION}")?;
        Ok(Self { out, sampler: Sampler::per_second(samples_per_s), gas, shown })
    }

    /// Writes the rows that fall in a stretch; stretches come in order.
    ///
    /// # Errors
    /// When the rows cannot be written.
    pub fn stretch(&mut self, stretch: &Stretch<'_>) -> io::Result<()> {
        self.rows(stretch, &[])
    }

    /// As [`CsvWaveform::stretch`], with the gas along it.
    ///
    /// # Errors
    /// When the rows cannot be written.
    pub fn progress(&mut self, progress: &Progress<'_, '_>) -> io::Result<()> {
        self.rows(progress.stretch, progress.gas.map_or(&[], |gas| &gas.points))
    }

    fn rows(&mut self, stretch: &Stretch<'_>, points: &[GasPoint]) -> io::Result<()> {
        let mut written = Ok(());
        let Self { out, sampler, gas, shown } = self;
        if let Some(Shown { recorder, readings }) = shown {
            readings.drain(..readings.len().saturating_sub(1));
            recorder.take(stretch, |reading| readings.push(reading));
        }
        let latest = |time_s: f64| {
            let readings = &shown.as_ref()?.readings;
            let past = readings.partition_point(|reading| reading.at.as_s() <= time_s);
            readings.get(past.saturating_sub(1)).copied()
        };
        sampler.take(stretch, |time_s, stretch, local_s| {
            if written.is_ok() {
                // Rounding may put the last row behind the last point.
                let next = points.partition_point(|point| point.at_s < time_s);
                let point = points.get(next).or(points.last());
                let gas = gas.then_some(point);
                written = row(out, time_s, stretch, local_s, latest(time_s), gas);
            }
        });
        written
    }

    /// Writes what is still held back.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn end(mut self) -> io::Result<()> {
        self.out.flush()
    }
}

/// A row; `gas` is the point of gas for a report that has such columns.
fn row(
    out: &mut impl Write,
    time_s: f64,
    stretch: &Stretch<'_>,
    local_s: f64,
    shown: Option<Reading>,
    gas: Option<Option<&GasPoint>>,
) -> io::Result<()> {
    write!(out, "{time_s}")?;
    for (_, signal) in COLUMNS {
        write!(out, ",")?;
        number(out, stretch.piece.nearest(signal, local_s))?;
    }
    if let Some(Reading { pressure, flow, volume, .. }) = shown {
        for value in [pressure.as_cmh2o(), flow.as_ml_s(), volume.as_ml()] {
            write!(out, ",")?;
            number(out, value)?;
        }
    }
    if let Some(point) = gas {
        for (_, value) in GAS_COLUMNS {
            write!(out, ",")?;
            point.map_or(Ok(()), |point| number(out, value(point)))?;
        }
    }
    let phase = match stretch.piece.phase {
        PhaseKind::Inspiration | PhaseKind::ValveDelay => "inspiration",
        PhaseKind::Expiration => "expiration",
        PhaseKind::Standby => "standby",
    };
    writeln!(out, ",{phase},")
}

/// The shortest digits that read back as the same number.
fn number(out: &mut impl Write, value: f64) -> io::Result<()> {
    if value != 0.0 && value.abs() < 1e-4 {
        write!(out, "{value:e}")
    } else {
        write!(out, "{value}")
    }
}

#[cfg(test)]
mod tests {
    use tidewright::circulation::{Feel, Pulse};

    use super::*;

    /// A column whose name ends in `percent` holds a hundred times the engine's share.
    #[test]
    fn closed_form_shares_are_written_in_percent() {
        let point = GasPoint {
            at_s: 1.0,
            step_s: 0.01,
            volume_ml: 0.0,
            carbon_dioxide_mmhg: 0.0,
            shown_carbon_dioxide_mmhg: 38.0,
            oxygen: 0.21,
            alveolar_carbon_dioxide_mmhg: 40.0,
            arterial_carbon_dioxide_mmhg: 41.0,
            arterial_oxygen_mmhg: 95.0,
            saturation: 0.97,
            pulse: Pulse {
                rate_per_min: 140.0,
                arterial_mmhg: 70.0,
                output_share: 1.0,
                feels: Feel::Full,
            },
        };
        let written = |name| GAS_COLUMNS.iter().find(|(of, _)| *of == name).map(|of| of.1(&point));
        assert_eq!(written("spo2_percent"), Some(97.0));
        assert_eq!(written("oxygen_percent"), Some(21.0));
        assert_eq!(written("shown_co2_mmhg"), Some(38.0));
    }
}
