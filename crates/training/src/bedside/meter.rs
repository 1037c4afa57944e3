//! What a session measures: breaths, what the instruments show of them, and the
//! integrals that marking asks for.

use tidewright::breath::{Breath, BreathMeter};
use tidewright::exchange::GasBreath;
use tidewright::instrument::{InstrumentError, Instruments, Reading, Recorder};
use tidewright::machine::Signal;
use tidewright::run::Stretch;

/// A breath and what belongs to it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Row {
    /// The breath.
    pub breath: Breath,
    /// When it was over, s.
    pub end_s: f64,
    /// Highest pressure on the ventilator's gauge, cmH2O.
    pub shown_peak_cmh2o: f64,
    /// Pressure on the gauge at its end, cmH2O.
    pub shown_baseline_cmh2o: f64,
    /// Tidal volume in, as the spirometer shows it, mL.
    pub shown_inspired_ml: f64,
    /// Tidal volume out, as the spirometer shows it, mL.
    pub shown_expired_ml: f64,
    /// Highest alveolar pressure, cmH2O.
    pub alveolar_peak_cmh2o: f64,
    /// Flow at its end, mL/s; below 0 where gas still flows out.
    pub end_flow_ml_s: f64,
    /// The last breath as a carbon dioxide monitor knows it; `None` without gas.
    pub gas: Option<GasBreath>,
}

/// Extremes and integrals of a session so far.
#[derive(Clone, Debug, PartialEq)]
pub struct Totals {
    /// Highest alveolar pressure, cmH2O.
    pub highest_alveolar_cmh2o: f64,
    /// Highest airway pressure, cmH2O.
    pub highest_airway_cmh2o: f64,
    /// For each limit asked for: the integral of alveolar pressure above it, cmH2O·s.
    pub alveolar_above: Vec<(f64, f64)>,
}

/// Measures a session as its pieces pass.
#[derive(Clone, Debug)]
pub(crate) struct Meter {
    breaths: BreathMeter,
    instruments: Option<Shown>,
    shown_peak: f64,
    alveolar_peak: f64,
    pub totals: Totals,
}

/// What the scenario's instruments show.
#[derive(Clone, Debug)]
struct Shown {
    recorder: Recorder,
    /// Readings of the latest stretch.
    readings: Vec<Reading>,
    latest: Option<Reading>,
    /// Largest volume in the breath under way, mL.
    volume: f64,
}

impl Meter {
    pub fn new(
        limits_cmh2o: &[f64],
        instruments: Option<Instruments>,
    ) -> Result<Self, InstrumentError> {
        let shown = |recorder| Shown { recorder, readings: Vec::new(), latest: None, volume: 0.0 };
        let totals = Totals {
            highest_alveolar_cmh2o: 0.0,
            highest_airway_cmh2o: 0.0,
            alveolar_above: limits_cmh2o.iter().map(|&limit| (limit, 0.0)).collect(),
        };
        Ok(Self {
            breaths: BreathMeter::default(),
            instruments: instruments.map(Recorder::new).transpose()?.map(shown),
            shown_peak: f64::NEG_INFINITY,
            alveolar_peak: f64::NEG_INFINITY,
            totals,
        })
    }

    /// What the instruments showed during the latest stretch; nothing where the
    /// truth is shown.
    pub fn readings(&self) -> &[Reading] {
        self.instruments.as_ref().map_or(&[], |shown| &shown.readings)
    }

    /// The latest reading of the instruments.
    pub fn latest(&self) -> Option<Reading> {
        self.instruments.as_ref().and_then(|shown| shown.latest)
    }

    /// Highest pressure on the gauge in the breath under way.
    pub fn shown_so_far(&self) -> f64 {
        self.shown_peak
    }

    pub fn take(&mut self, stretch: &Stretch<'_>) -> Option<Row> {
        let piece = &stretch.piece;
        let shown = match &mut self.instruments {
            Some(shown) => shown.take(stretch),
            None => piece.maximum_or(Signal::SensedPressure, self.shown_peak),
        };
        let totals = &mut self.totals;
        let limits = totals.alveolar_above.iter().map(|(limit, _)| *limit);
        let floor = limits.fold(self.alveolar_peak, f64::min);
        let alveolar = piece.maximum_or(Signal::AlveolarPressure, floor);
        self.shown_peak = self.shown_peak.max(shown);
        self.alveolar_peak = self.alveolar_peak.max(alveolar);
        totals.highest_alveolar_cmh2o = totals.highest_alveolar_cmh2o.max(alveolar);
        let airway = &mut totals.highest_airway_cmh2o;
        *airway = piece.maximum_or(Signal::AirwayPressure, *airway);
        for (limit, sum) in &mut totals.alveolar_above {
            if alveolar > *limit {
                *sum += excess(stretch, *limit);
            }
        }
        let breath = self.breaths.take(stretch)?;
        let mut row = Row {
            breath,
            end_s: piece.end_s(),
            shown_peak_cmh2o: self.shown_peak,
            shown_baseline_cmh2o: piece.last(Signal::SensedPressure),
            shown_inspired_ml: breath.inspired_tidal_volume.as_ml(),
            shown_expired_ml: breath.expired_tidal_volume.as_ml(),
            alveolar_peak_cmh2o: self.alveolar_peak,
            end_flow_ml_s: piece.last(Signal::AirwayFlow),
            gas: None,
        };
        if let Some(shown) = &mut self.instruments
            && let Some(last) = shown.latest
        {
            row.shown_baseline_cmh2o = last.pressure.as_cmh2o();
            row.shown_inspired_ml = shown.volume;
            row.shown_expired_ml = shown.volume - last.volume.as_ml();
            row.shown_peak_cmh2o = row.shown_peak_cmh2o.max(row.shown_baseline_cmh2o);
            shown.volume = 0.0;
        }
        self.shown_peak = f64::NEG_INFINITY;
        self.alveolar_peak = f64::NEG_INFINITY;
        Some(row)
    }
}

impl Shown {
    /// Reads along a stretch; the highest pressure shown in it.
    fn take(&mut self, stretch: &Stretch<'_>) -> f64 {
        let Self { recorder, readings, latest, volume } = self;
        readings.clear();
        let mut highest = f64::NEG_INFINITY;
        recorder.take(stretch, |reading| {
            readings.push(reading);
            *latest = Some(reading);
            highest = highest.max(reading.pressure.as_cmh2o());
            *volume = volume.max(reading.volume.as_ml());
        });
        highest
    }
}

/// The integral of alveolar pressure above a limit over a piece, by Simpson's
/// rule over 64 parts: the clipped pressure has a kink, so about 1e-4 of it.
fn excess(stretch: &Stretch<'_>, limit: f64) -> f64 {
    const PARTS: u32 = 64;
    let piece = &stretch.piece;
    let step = piece.duration_s / f64::from(PARTS);
    let sum: f64 = (0..=PARTS)
        .map(|k| {
            let weight = match k {
                0 | PARTS => 1.0,
                k if k % 2 == 1 => 4.0,
                _ => 2.0,
            };
            let pressure = piece.nearest(Signal::AlveolarPressure, f64::from(k) * step);
            weight * (pressure - limit).max(0.0)
        })
        .sum();
    sum * step / 3.0
}
