//! The waveform of a run at regular times, as rows of numbers.

use std::io::{self, Write};

use thiserror::Error;
use tidewright::machine::Signal;
use tidewright::phase::PhaseKind;
use tidewright::run::Stretch;
use tidewright::trace::Sampler;

/// Fastest sampling, samples per second.
pub const FASTEST_SAMPLING_PER_S: f64 = 10_000.0;

/// A sampling rate that cannot be used.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
#[error("{0} samples per second: write a rate above 0 and at most {FASTEST_SAMPLING_PER_S}")]
pub struct BadRate(pub f64);

const COLUMNS: [(&str, Signal); 6] = [
    ("airway_pressure_cmh2o", Signal::AirwayPressure),
    ("airway_flow_ml_s", Signal::AirwayFlow),
    ("lung_volume_ml", Signal::LungVolume),
    ("alveolar_pressure_cmh2o", Signal::AlveolarPressure),
    ("leak_flow_ml_s", Signal::LeakFlow),
    ("outlet_flow_ml_s", Signal::OutletFlow),
];

/// Writes the waveform of a run as comma-separated values: `t_s`, the signals
/// with their units in their names, and `phase`.
///
/// Row k is at exactly k divided by the rate. A row at the time of an event
/// shows the values before it. Numbers are written in full precision.
#[derive(Debug)]
pub struct CsvWaveform<W: Write> {
    out: W,
    sampler: Sampler,
}

impl<W: Write> CsvWaveform<W> {
    /// Checks the rate and writes the header.
    ///
    /// # Errors
    /// [`BadRate`] within an [`io::Error`] of kind `InvalidInput`, or when `out`
    /// cannot be written.
    pub fn begin(mut out: W, samples_per_s: f64) -> io::Result<Self> {
        if !(samples_per_s > 0.0 && samples_per_s <= FASTEST_SAMPLING_PER_S) {
            return Err(io::Error::new(io::ErrorKind::InvalidInput, BadRate(samples_per_s)));
        }
        write!(out, "t_s")?;
        for (name, _) in COLUMNS {
            write!(out, ",{name}")?;
        }
        writeln!(out, ",phase")?;
        Ok(Self { out, sampler: Sampler::per_second(samples_per_s) })
    }

    /// Writes the rows that fall in a stretch; stretches come in order.
    ///
    /// # Errors
    /// When the rows cannot be written.
    pub fn stretch(&mut self, stretch: &Stretch<'_>) -> io::Result<()> {
        let mut written = Ok(());
        let out = &mut self.out;
        self.sampler.take(stretch, |time_s, stretch, local_s| {
            if written.is_ok() {
                written = row(out, time_s, stretch, local_s);
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

fn row(out: &mut impl Write, time_s: f64, stretch: &Stretch<'_>, local_s: f64) -> io::Result<()> {
    write!(out, "{time_s}")?;
    for (_, signal) in COLUMNS {
        write!(out, ",")?;
        number(out, stretch.piece.at(stretch.machine, signal, local_s))?;
    }
    let phase = match stretch.piece.phase {
        PhaseKind::Inspiration | PhaseKind::ValveDelay => "inspiration",
        PhaseKind::Expiration => "expiration",
        PhaseKind::Standby => "standby",
    };
    writeln!(out, ",{phase}")
}

/// The shortest digits that read back as the same number.
fn number(out: &mut impl Write, value: f64) -> io::Result<()> {
    if value != 0.0 && value.abs() < 1e-4 {
        write!(out, "{value:e}")
    } else {
        write!(out, "{value}")
    }
}
