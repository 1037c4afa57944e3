//! What the patient's muscles do: a repeated pattern of holds, ramps and
//! half-sines of muscle pressure.

use crate::base::math::{cos, sin};
use crate::base::quantity::{Pressure, Seconds};

/// The muscle pressure of a patient over time.
///
/// Positive muscle pressure breathes in: it lowers the pressure around the
/// lung. Negative muscle pressure presses out, as in coughing and bracing.
/// A pattern of segments repeats for ever; it starts when the run starts, or
/// when a change of the setup brings a new pattern.
///
/// ```
/// use tidewright::prelude::*;
/// let effort = Effort::breaths(Pressure::cmh2o(5.0), Seconds::s(1.0), Seconds::s(3.0));
/// assert_eq!(effort.at(Seconds::s(0.5)), Pressure::cmh2o(5.0));
/// assert_eq!(effort.at(Seconds::s(2.0)), Pressure::ZERO);
/// ```
#[derive(Clone, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Effort {
    /// The segments of one repeat, in order; none for a patient at rest.
    pub segments: Vec<Segment>,
}

/// A part of a pattern of effort.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Segment {
    /// How long it lasts; above 0.
    pub duration: Seconds,
    /// Its course.
    pub course: Course,
}

/// The course of muscle pressure over a segment.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum Course {
    /// Constant pressure.
    Hold(Pressure),
    /// From one pressure to another at a constant pace.
    Ramp(Pressure, Pressure),
    /// Half a sine wave from zero to the given pressure and back.
    HalfSine(Pressure),
}

impl Effort {
    /// A patient who makes no effort.
    #[must_use]
    pub fn none() -> Self {
        Self::default()
    }

    /// Breaths: a half-sine of the given amplitude and duration, then rest, in
    /// each `period`. A period that is not longer than the duration leaves no rest.
    #[must_use]
    pub fn breaths(amplitude: Pressure, duration: Seconds, period: Seconds) -> Self {
        Self::with_rest(vec![Segment { duration, course: Course::HalfSine(amplitude) }], period)
    }

    /// Breaths that start after a first rest of `delay`; otherwise as [`Effort::breaths`].
    #[must_use]
    pub fn delayed(mut self, delay: Seconds) -> Self {
        let rest =
            self.segments.last_mut().filter(|last| last.course == Course::Hold(Pressure::ZERO));
        if let Some(rest) = rest {
            rest.duration = rest.duration - delay;
        }
        let course = Course::Hold(Pressure::ZERO);
        self.segments.insert(0, Segment { duration: delay, course });
        self
    }

    /// Coughs: the abdomen presses out, rising in 60 ms to `strength`, held for
    /// 100 ms and falling in 200 ms, in each `period`.
    #[must_use]
    pub fn coughs(strength: Pressure, period: Seconds) -> Self {
        let out = strength * -1.0;
        let segment = |s: f64, course| Segment { duration: Seconds::s(s), course };
        let segments = vec![
            segment(0.06, Course::Ramp(Pressure::ZERO, out)),
            segment(0.1, Course::Hold(out)),
            segment(0.2, Course::Ramp(out, Pressure::ZERO)),
        ];
        Self::with_rest(segments, period)
    }

    /// Bracing: the chest wall is held tight by `strength` without rest.
    #[must_use]
    pub fn bracing(strength: Pressure) -> Self {
        let course = Course::Hold(strength * -1.0);
        Self { segments: vec![Segment { duration: Seconds::s(1.0), course }] }
    }

    /// Muscle pressure at a time since the pattern began.
    #[must_use]
    pub fn at(&self, time: Seconds) -> Pressure {
        let mut clock = EffortClock::default();
        clock.advance(self, time.as_s());
        let (drive, _) = clock.drive(self);
        Pressure::cmh2o(drive.at(0.0))
    }

    fn with_rest(mut segments: Vec<Segment>, period: Seconds) -> Self {
        let busy = segments.iter().map(|segment| segment.duration.as_s()).sum::<f64>();
        let duration = Seconds::s(period.as_s() - busy);
        if duration > Seconds::ZERO {
            segments.push(Segment { duration, course: Course::Hold(Pressure::ZERO) });
        }
        Self { segments }
    }
}

/// Where in its pattern an effort is. Plain data, part of a run's moment.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(crate) struct EffortClock {
    segment: usize,
    elapsed: f64,
    /// A breath that was decided on while the run goes on.
    own: Option<OwnEffort>,
}

/// One half-sine of muscle pressure under way.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
struct OwnEffort {
    amplitude: f64,
    duration: f64,
    elapsed: f64,
}

/// A muscle pressure in closed form: offset + slope·t + amplitude·sin(ω·t + θ).
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Drive {
    pub offset: f64,
    pub slope: f64,
    pub amplitude: f64,
    pub omega: f64,
    pub theta: f64,
}

impl OwnEffort {
    /// What is left of it, s; nothing when only rounding is.
    fn left(&self) -> f64 {
        let left = self.duration - self.elapsed;
        if left > 1e-12 * self.duration { left } else { 0.0 }
    }
}

impl Drive {
    fn half_sine(amplitude: f64, duration: f64, elapsed: f64) -> Self {
        let omega = std::f64::consts::PI / duration;
        Self { amplitude, omega, theta: omega * elapsed, ..Self::default() }
    }

    pub fn at(&self, t: f64) -> f64 {
        let mut value = self.offset + self.slope * t;
        if self.amplitude != 0.0 {
            value += self.amplitude * sin(self.omega * t + self.theta);
        }
        value
    }

    /// Rate of change at time `t`.
    pub fn pace(&self, t: f64) -> f64 {
        let mut pace = self.slope;
        if self.amplitude != 0.0 {
            pace += self.amplitude * self.omega * cos(self.omega * t + self.theta);
        }
        pace
    }

    /// Integral from 0 to `t`.
    pub fn integral(&self, t: f64) -> f64 {
        let mut sum = self.offset * t + 0.5 * self.slope * t * t;
        if self.amplitude != 0.0 {
            let turned = cos(self.theta) - cos(self.omega * t + self.theta);
            sum += self.amplitude / self.omega * turned;
        }
        sum
    }
}

impl EffortClock {
    /// Whether it stands at a place that the pattern has.
    #[cfg(feature = "serde")]
    pub fn fits(&self, effort: &Effort) -> bool {
        let own = self.own.is_none_or(|own| own.duration > 0.0 && own.elapsed >= 0.0);
        own && self.elapsed >= 0.0 && self.segment < effort.segments.len().max(1)
    }

    /// Begins a half-sine of muscle pressure; it shows only where no pattern does.
    pub fn breathe(&mut self, amplitude: Pressure, duration: Seconds) {
        let (amplitude, duration) = (amplitude.as_cmh2o(), duration.as_s());
        self.own = (duration > 0.0).then_some(OwnEffort { amplitude, duration, elapsed: 0.0 });
    }

    /// The drive from now on, and how long it holds.
    #[inline]
    pub fn drive(&self, effort: &Effort) -> (Drive, f64) {
        let Some(segment) = effort.segments.get(self.segment) else {
            return self.own.map_or((Drive::default(), f64::INFINITY), |own| {
                (Drive::half_sine(own.amplitude, own.duration, own.elapsed), own.left())
            });
        };
        let duration = segment.duration.as_s();
        let drive = match segment.course {
            Course::Hold(pressure) => Drive { offset: pressure.as_cmh2o(), ..Drive::default() },
            Course::Ramp(from, to) => {
                let slope = (to - from).as_cmh2o() / duration;
                Drive { offset: from.as_cmh2o() + slope * self.elapsed, slope, ..Drive::default() }
            }
            Course::HalfSine(amplitude) => {
                Drive::half_sine(amplitude.as_cmh2o(), duration, self.elapsed)
            }
        };
        (drive, (duration - self.elapsed).max(0.0))
    }

    /// Moves on by `time`, through as many segments as that takes.
    pub fn advance(&mut self, effort: &Effort, mut time: f64) {
        let whole: f64 = effort.segments.iter().map(|segment| segment.duration.as_s()).sum();
        if effort.segments.is_empty() || whole <= 0.0 {
            let own = self.own.map(|own| OwnEffort { elapsed: own.elapsed + time, ..own });
            *self = Self { own: own.filter(|own| own.left() > 0.0), ..Self::default() };
            return;
        }
        if time > whole {
            time -= whole * (time / whole).floor();
        }
        loop {
            let left = effort.segments[self.segment].duration.as_s() - self.elapsed;
            if time < left {
                self.elapsed += time;
                return;
            }
            time -= left.max(0.0);
            self.segment = (self.segment + 1) % effort.segments.len();
            self.elapsed = 0.0;
        }
    }
}
