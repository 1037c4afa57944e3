//! Breaths, measured from the pieces of a run as they pass: never simulated,
//! never sampled. Every number comes from closed forms.

use crate::base::quantity::{Flow, Pressure, Seconds, Volume};
use crate::stepping::machine::Signal;
use crate::stepping::phase::{Cause, PhaseKind};
use crate::stepping::piece::{Piece, Stretch};

/// What ended an inspiration.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum EndedBy {
    /// The cycling pressure was reached.
    Pressure,
    /// The inspiratory time limit ran out.
    Time,
    /// The ventilator was put in standby.
    Standby,
}

/// One breath: from the start of an inspiration to the start of the next.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Breath {
    /// Its number in the run, from 1.
    pub number: u64,
    /// When its inspiration began.
    pub start: Seconds,
    /// From the start of inspiration to the opening of the outlet valve.
    pub inspiratory_time: Seconds,
    /// From the opening of the outlet valve to the next inspiration.
    pub expiratory_time: Seconds,
    /// What ended its inspiration.
    pub ended_by: EndedBy,
    /// Change of lung volume over inspiration.
    pub inspired_tidal_volume: Volume,
    /// Change of lung volume over expiration.
    pub expired_tidal_volume: Volume,
    /// Net gas into the patient at the patient connection over inspiration: what
    /// a spirometer there counts. More than the lung takes up where gas escapes
    /// past the cuff or through a hole in the lung.
    pub inspired_at_airway: Volume,
    /// Net gas out of the patient at the patient connection over expiration.
    pub expired_at_airway: Volume,
    /// Flow out of the patient at the patient connection at the end of
    /// expiration; above 0 the lung was still emptying.
    pub end_expiratory_flow: Flow,
    /// Highest airway pressure.
    pub peak_pressure: Pressure,
    /// Highest alveolar pressure, each compartment weighted by its compliance.
    pub peak_alveolar_pressure: Pressure,
    /// Mean airway pressure over the whole breath.
    pub mean_pressure: Pressure,
    /// Airway pressure at the end of expiration.
    pub baseline_pressure: Pressure,
    /// Alveolar pressure at the end of expiration, each compartment weighted by
    /// its compliance; above the baseline it is intrinsic PEEP.
    pub end_expiratory_alveolar_pressure: Pressure,
    /// Gas lost through the leak.
    pub leaked: Volume,
}

impl Breath {
    /// Breaths per minute if every breath were like this one.
    #[must_use]
    pub fn rate_per_min(&self) -> f64 {
        60.0 / (self.inspiratory_time + self.expiratory_time).as_s()
    }
}

/// The breath that had begun when the run ended.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BreathUnderWay {
    /// Its number in the run.
    pub number: u64,
    /// When its inspiration began.
    pub start: Seconds,
    /// Time since then.
    pub elapsed: Seconds,
    /// What ended its inspiration, or `None` while that lasts.
    pub ended_by: Option<EndedBy>,
    /// Change of lung volume over inspiration so far.
    pub inspired_tidal_volume: Volume,
    /// Highest airway pressure so far.
    pub peak_pressure: Pressure,
}

/// Measures breaths from the stretches of a run, taken in order.
///
/// ```
/// use tidewright::prelude::*;
/// let protocol = Protocol { start: Setup::default(), changes: vec![], duration: Seconds::s(10.0) };
/// let simulation = Simulation::new(&protocol)?;
/// let mut meter = BreathMeter::default();
/// for stretch in simulation.steps() {
///     if let Some(breath) = meter.take(&stretch?) {
///         println!("{} {}", breath.number, breath.inspired_tidal_volume);
///     }
/// }
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Copy, Debug, Default)]
pub struct BreathMeter {
    finished: u64,
    current: Option<Tally>,
}

#[derive(Clone, Copy, Debug)]
struct Tally {
    start_s: f64,
    inspiratory_s: f64,
    expiratory_s: f64,
    ended_by: Option<EndedBy>,
    expiring: bool,
    volume_at_start: f64,
    volume_at_turn: f64,
    volume_now: f64,
    pressure_integral: f64,
    inspired_at_airway: f64,
    expired_at_airway: f64,
    airway_flow: f64,
    peak: f64,
    peak_alveolar: f64,
    baseline: f64,
    alveolar: f64,
    leaked: f64,
}

impl BreathMeter {
    /// Takes the next stretch; returns the breath that it finished, if any.
    #[inline]
    pub fn take(&mut self, stretch: &Stretch<'_>) -> Option<Breath> {
        self.take_piece(&stretch.piece)
    }

    #[inline]
    pub(crate) fn take_piece(&mut self, piece: &Piece<'_>) -> Option<Breath> {
        let inspiring = piece.phase.is_inspiration();
        let mut done = None;
        if inspiring && self.current.as_ref().is_none_or(|tally| tally.expiring) {
            // Only after standby is there still a breath to finish here.
            done = self.finish();
            self.current = Some(Tally::new(piece));
        }
        if let Some(tally) = &mut self.current {
            tally.add(piece);
        }
        if piece.ended_by == Some(Cause::ExpiratoryTimeOver) {
            done = self.finish();
        }
        done
    }

    /// Counts breaths that were measured elsewhere.
    pub(crate) fn skip(&mut self, breaths: u64) {
        self.finished += breaths;
    }

    /// The breath under way, if its inspiration or expiration still lasts.
    #[must_use]
    pub fn under_way(&self) -> Option<BreathUnderWay> {
        let tally = self.current?;
        let turn = if tally.expiring { tally.volume_at_turn } else { tally.volume_now };
        Some(BreathUnderWay {
            number: self.finished + 1,
            start: Seconds::s(tally.start_s),
            elapsed: Seconds::s(tally.inspiratory_s + tally.expiratory_s),
            ended_by: tally.ended_by,
            inspired_tidal_volume: Volume::ml(turn - tally.volume_at_start),
            peak_pressure: Pressure::cmh2o(tally.peak),
        })
    }

    fn finish(&mut self) -> Option<Breath> {
        let tally = self.current.take()?;
        self.finished += 1;
        let total_s = tally.inspiratory_s + tally.expiratory_s;
        let mean = if total_s > 0.0 { tally.pressure_integral / total_s } else { tally.baseline };
        Some(Breath {
            number: self.finished,
            start: Seconds::s(tally.start_s),
            inspiratory_time: Seconds::s(tally.inspiratory_s),
            expiratory_time: Seconds::s(tally.expiratory_s),
            ended_by: tally.ended_by.unwrap_or(EndedBy::Standby),
            inspired_tidal_volume: Volume::ml(tally.volume_at_turn - tally.volume_at_start),
            expired_tidal_volume: Volume::ml(tally.volume_at_turn - tally.volume_now),
            inspired_at_airway: Volume::ml(tally.inspired_at_airway),
            expired_at_airway: Volume::ml(tally.expired_at_airway),
            end_expiratory_flow: Flow::ml_s(-tally.airway_flow),
            peak_pressure: Pressure::cmh2o(tally.peak),
            peak_alveolar_pressure: Pressure::cmh2o(tally.peak_alveolar),
            mean_pressure: Pressure::cmh2o(mean),
            baseline_pressure: Pressure::cmh2o(tally.baseline),
            end_expiratory_alveolar_pressure: Pressure::cmh2o(tally.alveolar),
            leaked: Volume::ml(tally.leaked),
        })
    }
}

impl Tally {
    fn new(piece: &Piece<'_>) -> Self {
        let volume = piece.first(Signal::LungVolume);
        Self {
            start_s: piece.start_s,
            inspiratory_s: 0.0,
            expiratory_s: 0.0,
            ended_by: None,
            expiring: false,
            volume_at_start: volume,
            volume_at_turn: volume,
            volume_now: volume,
            pressure_integral: 0.0,
            inspired_at_airway: 0.0,
            expired_at_airway: 0.0,
            airway_flow: 0.0,
            peak: f64::NEG_INFINITY,
            peak_alveolar: f64::NEG_INFINITY,
            baseline: 0.0,
            alveolar: 0.0,
            leaked: 0.0,
        }
    }

    #[inline]
    fn add(&mut self, piece: &Piece<'_>) {
        let flow = piece.reading(Signal::AirwayFlow);
        if piece.phase.is_inspiration() {
            self.inspiratory_s += piece.duration_s;
            self.inspired_at_airway += flow.integral;
            match piece.ended_by {
                Some(Cause::PressureReached) => self.ended_by = Some(EndedBy::Pressure),
                Some(Cause::TimeLimit) => self.ended_by = Some(EndedBy::Time),
                _ => {}
            }
        } else {
            if !self.expiring {
                self.expiring = true;
                self.volume_at_turn = self.volume_now;
                if piece.phase == PhaseKind::Standby {
                    self.ended_by.get_or_insert(EndedBy::Standby);
                }
            }
            self.expiratory_s += piece.duration_s;
            self.expired_at_airway -= flow.integral;
        }
        let pressure = piece.reading(Signal::AirwayPressure);
        let alveolar = piece.reading(Signal::AlveolarPressure);
        let (airway, lung) = (Signal::AirwayPressure, Signal::AlveolarPressure);
        self.peak = piece.highest(airway, &pressure, self.peak);
        self.peak_alveolar = piece.highest(lung, &alveolar, self.peak_alveolar);
        self.airway_flow = flow.last;
        self.pressure_integral += pressure.integral;
        self.leaked += piece.integral(Signal::LeakFlow);
        self.volume_now = piece.last(Signal::LungVolume);
        self.baseline = pressure.last;
        self.alveolar = alveolar.last;
    }
}
