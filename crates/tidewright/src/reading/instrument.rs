//! Instruments between the truth and the person who reads them: a pressure gauge
//! and a spirometer that lag, are off, round and are noisy. The truth stays in the
//! trace. The same seed gives the same bits.
//!
//! ```
//! use tidewright::instrument::{Instruments, PressureGauge, Recorder};
//! use tidewright::prelude::*;
//! let instruments = Instruments {
//!     gauge: PressureGauge { lag: Seconds::s(0.1), ..PressureGauge::default() },
//!     ..Instruments::default()
//! };
//! let protocol = Protocol { start: Setup::default(), changes: vec![], duration: Seconds::s(4.0) };
//! let simulation = Simulation::new(&protocol)?;
//! let mut recorder = Recorder::new(instruments)?;
//! let mut highest = Pressure::ZERO;
//! for stretch in simulation.steps() {
//!     recorder.take(&stretch?, |reading| {
//!         if reading.pressure > highest {
//!             highest = reading.pressure;
//!         }
//!     });
//! }
//! // The lagging gauge never shows the 10 cmH2O that ended the inspirations.
//! assert!(highest < Pressure::cmh2o(9.9));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

use rand_pcg::Pcg64;
use thiserror::Error;

use crate::base::math::exp;
use crate::base::quantity::{Flow, Pressure, Seconds, Volume};
use crate::base::random::{generator, standard_normal};
use crate::stepping::machine::Signal;
use crate::stepping::piece::Stretch;

/// The instruments of a run.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Instruments {
    /// Readings per second; above 0.
    pub rate_per_s: f64,
    /// Seed of the noise.
    pub seed: u64,
    /// The pressure gauge.
    pub gauge: PressureGauge,
    /// The flow and volume meter.
    pub spirometer: Spirometer,
}

/// A pressure gauge. The default one is ideal.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct PressureGauge {
    /// What it is connected to.
    pub at: GaugePlace,
    /// What it adds.
    pub offset: Pressure,
    /// Time constant with which it follows the truth p: lag·ẏ = p − y; 0 for none.
    pub lag: Seconds,
    /// Standard deviation of its noise from reading to reading; 0 for none.
    pub noise: Pressure,
    /// Smallest step that it shows; 0 for any.
    pub resolution: Pressure,
}

/// What a pressure gauge is connected to.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum GaugePlace {
    /// The ventilator's sense line, with all that may be wrong with it.
    #[default]
    SenseLine,
    /// The patient connection: a second gauge.
    PatientConnection,
}

/// A flow meter, and the volume that it adds up by trapezoids from its own
/// readings since the start of the inspiration. The default one is ideal.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Spirometer {
    /// Where it is.
    pub at: SpirometerPlace,
    /// What it adds.
    pub offset: Flow,
    /// Time constant with which it follows the truth; 0 for none.
    pub lag: Seconds,
    /// Standard deviation of its noise from reading to reading; 0 for none.
    pub noise: Flow,
}

/// Where flow is measured; it counts into the patient.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum SpirometerPlace {
    /// At the patient connection.
    #[default]
    Patient,
    /// At the machine: fresh gas in, less gas out through the outlet valve. What
    /// tubing takes up and leaks lose counts as the patient's.
    Machine,
}

/// What the instruments show at a time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// Since the start of the run.
    pub at: Seconds,
    /// What the gauge shows.
    pub pressure: Pressure,
    /// What the flow meter shows.
    pub flow: Flow,
    /// The volume it has added up since the inspiration began.
    pub volume: Volume,
}

/// An instrument that cannot be.
#[derive(Clone, Debug, Error, PartialEq)]
#[error("{what} is {value} {unit}, and must be {expected}")]
pub struct InstrumentError {
    /// The value's name.
    pub what: &'static str,
    /// The value given.
    pub value: f64,
    /// Its unit.
    pub unit: &'static str,
    /// What would be in range.
    pub expected: &'static str,
}

/// Reads instruments along the stretches of a run, taken in order.
///
/// Reading k is at exactly k divided by the rate; one that falls on an event shows
/// the moment before it. A lag is followed in closed form, the truth taken to be
/// straight between readings and events.
#[derive(Clone, Debug)]
pub struct Recorder {
    instruments: Instruments,
    chance: Pcg64,
    next: u64,
    pressure: Lag,
    flow: Lag,
    last_flow: f64,
    volume: f64,
    begins: bool,
}

impl Instruments {
    /// As one finds them on a bench: 50 readings per second, a lag of 50 ms, gauge
    /// noise of 0.05 cmH2O, shown in steps of 0.1 cmH2O, flow noise of 0.5 mL/s.
    /// Assumed, no source.
    #[must_use]
    pub fn ordinary(seed: u64) -> Self {
        let lag = Seconds::s(0.05);
        Self {
            rate_per_s: 50.0,
            seed,
            gauge: PressureGauge {
                lag,
                noise: Pressure::cmh2o(0.05),
                resolution: Pressure::cmh2o(0.1),
                ..PressureGauge::default()
            },
            spirometer: Spirometer { lag, noise: Flow::ml_s(0.5), ..Spirometer::default() },
        }
    }
}

impl Default for Instruments {
    /// Ideal ones, read 100 times a second.
    fn default() -> Self {
        Self {
            rate_per_s: 100.0,
            seed: 0,
            gauge: PressureGauge::default(),
            spirometer: Spirometer::default(),
        }
    }
}

impl Recorder {
    /// A recorder at the start of a run.
    ///
    /// # Errors
    /// A value that is out of its range.
    pub fn new(instruments: Instruments) -> Result<Self, InstrumentError> {
        check(&instruments)?;
        Ok(Self {
            chance: generator(instruments.seed),
            next: 0,
            pressure: Lag::new(instruments.gauge.lag),
            flow: Lag::new(instruments.spirometer.lag),
            last_flow: 0.0,
            volume: 0.0,
            begins: true,
            instruments,
        })
    }

    /// Calls `each` with every reading that falls in the stretch.
    pub fn take(&mut self, stretch: &Stretch<'_>, each: impl FnMut(Reading)) {
        self.take_until(stretch, f64::INFINITY, each);
    }

    /// As [`Recorder::take`], but only what is read until a time; the rest of the
    /// stretch is left out then.
    pub(crate) fn take_until(
        &mut self,
        stretch: &Stretch<'_>,
        until_s: f64,
        mut each: impl FnMut(Reading),
    ) {
        let piece = &stretch.piece;
        self.begins |= piece.phase.is_inspiration() && piece.phase_elapsed_s == 0.0;
        let (mut t, mut before) = (0.0, self.truth(stretch, 0.0));
        loop {
            let at_s = self.time_of_next();
            if at_s > until_s {
                return;
            }
            let due = at_s <= piece.end_s();
            let to = if due {
                (at_s - piece.start_s).clamp(t, piece.duration_s)
            } else {
                piece.duration_s
            };
            let now = self.truth(stretch, to);
            self.pressure.follow(before[0], now[0], to - t);
            self.flow.follow(before[1], now[1], to - t);
            if !due {
                return;
            }
            each(self.read(at_s));
            (t, before) = (to, now);
        }
    }

    /// True pressure and flow at the instruments' places.
    fn truth(&self, stretch: &Stretch<'_>, t: f64) -> [f64; 2] {
        let signal = |signal| match t {
            0.0 => stretch.piece.first(signal),
            _ if t == stretch.piece.duration_s => stretch.piece.last(signal),
            _ => stretch.piece.nearest(signal, t),
        };
        let pressure = match self.instruments.gauge.at {
            GaugePlace::SenseLine => signal(Signal::SensedPressure),
            GaugePlace::PatientConnection => signal(Signal::AirwayPressure),
        };
        let fresh = stretch.machine.setup().ventilator.fresh_gas_flow.as_ml_s();
        let flow = match self.instruments.spirometer.at {
            SpirometerPlace::Patient => signal(Signal::AirwayFlow),
            SpirometerPlace::Machine => fresh - signal(Signal::OutletFlow),
        };
        [pressure, flow]
    }

    fn time_of_next(&self) -> f64 {
        #[expect(clippy::cast_precision_loss, reason = "runs are far below 2^53 readings")]
        let k = self.next as f64;
        k / self.instruments.rate_per_s
    }

    fn read(&mut self, at_s: f64) -> Reading {
        let Instruments { gauge, spirometer, rate_per_s, .. } = self.instruments;
        // Both draws are made always: one instrument's settings never shift the
        // other's noise.
        let [by_gauge, by_flow] = [(); 2].map(|()| standard_normal(&mut self.chance));
        let pressure =
            self.pressure.shown + gauge.offset.as_cmh2o() + gauge.noise.as_cmh2o() * by_gauge;
        let flow =
            self.flow.shown + spirometer.offset.as_ml_s() + spirometer.noise.as_ml_s() * by_flow;
        if self.begins {
            self.volume = 0.0;
            self.begins = false;
        } else {
            self.volume += 0.5 * (self.last_flow + flow) / rate_per_s;
        }
        self.last_flow = flow;
        self.next += 1;
        Reading {
            at: Seconds::s(at_s),
            pressure: Pressure::cmh2o(rounded(pressure, gauge.resolution.as_cmh2o())),
            flow: Flow::ml_s(flow),
            volume: Volume::ml(self.volume),
        }
    }
}

/// lag·ẏ = x − y, settled at the start.
#[derive(Clone, Copy, Debug)]
struct Lag {
    lag_s: f64,
    shown: f64,
    settled: bool,
}

impl Lag {
    fn new(lag: Seconds) -> Self {
        Self { lag_s: lag.as_s(), shown: 0.0, settled: false }
    }

    /// Follows a truth that goes straight from `from` to `to` in `dt`:
    /// y = to − s·lag + (y₀ − from + s·lag)·e^(−dt/lag) with s = (to − from)/dt.
    fn follow(&mut self, from: f64, to: f64, dt: f64) {
        if !self.settled {
            (self.shown, self.settled) = (from, true);
        }
        if self.lag_s == 0.0 {
            self.shown = to;
        } else if dt > 0.0 {
            let behind = (to - from) / dt * self.lag_s;
            let left = exp(-dt / self.lag_s);
            self.shown = to - behind + (self.shown - from + behind) * left;
        }
    }
}

fn rounded(value: f64, step: f64) -> f64 {
    if step == 0.0 {
        return value;
    }
    // Adding 0 turns -0 into 0; 78 / 10 is the 7.8 that 78 × 0.1 misses.
    let (steps, each) = ((value / step).round() + 0.0, (1.0 / step).round());
    if each * step == 1.0 { steps / each } else { steps * step }
}

fn check(instruments: &Instruments) -> Result<(), InstrumentError> {
    let Instruments { rate_per_s, gauge, spirometer, .. } = instruments;
    let fail = |what, value, unit, expected| InstrumentError { what, value, unit, expected };
    if !(rate_per_s.is_finite() && *rate_per_s > 0.0) {
        let expected = "a finite number above 0";
        return Err(fail("rate of readings", *rate_per_s, "per second", expected));
    }
    let at_least_0 = [
        ("lag of the gauge", gauge.lag.as_s(), "s"),
        ("noise of the gauge", gauge.noise.as_cmh2o(), "cmH2O"),
        ("resolution of the gauge", gauge.resolution.as_cmh2o(), "cmH2O"),
        ("lag of the spirometer", spirometer.lag.as_s(), "s"),
        ("noise of the spirometer", spirometer.noise.as_ml_s(), "mL/s"),
    ];
    for (what, value, unit) in at_least_0 {
        if !(value.is_finite() && value >= 0.0) {
            return Err(fail(what, value, unit, "a finite number, 0 or more"));
        }
    }
    let any = [
        ("offset of the gauge", gauge.offset.as_cmh2o(), "cmH2O"),
        ("offset of the spirometer", spirometer.offset.as_ml_s(), "mL/s"),
    ];
    for (what, value, unit) in any {
        if !value.is_finite() {
            return Err(fail(what, value, unit, "a finite number"));
        }
    }
    Ok(())
}
