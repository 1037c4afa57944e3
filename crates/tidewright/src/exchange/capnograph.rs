//! The carbon dioxide monitor, and dead space read off its curve.

use std::collections::VecDeque;

use crate::base::math::exp;
use crate::base::quantity::{PartialPressure, Seconds};

/// A monitor of carbon dioxide: it shows late what it draws through a line, and
/// rounded by its rise time.
///
/// ```
/// use tidewright::exchange::Capnograph;
/// use tidewright::prelude::*;
/// let mut monitor = Capnograph::new(Seconds::s(1.0), Seconds::s(0.2));
/// let mut shown = PartialPressure::ZERO;
/// for step in 1..=40 {
///     let now = Seconds::s(0.1 * f64::from(step));
///     shown = monitor.show(now, PartialPressure::mmhg(40.0));
///     if now.as_s() <= 1.0 {
///         assert_eq!(shown, PartialPressure::ZERO);
///     }
/// }
/// assert!((shown.as_mmhg() - 40.0).abs() < 0.01);
/// ```
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Capnograph {
    delay_s: f64,
    /// Time constant of the cell, s.
    lag_s: f64,
    /// Gas in the line: when it entered, and its pressure, mmHg.
    line: VecDeque<(f64, f64)>,
    in_cell: f64,
    cell_at_s: f64,
    shown: f64,
}

impl Capnograph {
    /// A monitor with a transport delay and a rise time from 10 to 90 % (0 for
    /// none); for a mainstream cell the delay is 0.
    #[must_use]
    pub fn new(delay: Seconds, rise_time: Seconds) -> Self {
        Self {
            delay_s: delay.as_s(),
            // A first-order cell rises from 10 to 90 % in ln 9 time constants.
            lag_s: rise_time.as_s() / crate::base::math::ln(9.0),
            line: VecDeque::new(),
            in_cell: 0.0,
            cell_at_s: 0.0,
            shown: 0.0,
        }
    }

    /// What it shows at a time, given the pressure at the patient connection
    /// since the time before. Times must not fall.
    pub fn show(&mut self, now: Seconds, at_patient: PartialPressure) -> PartialPressure {
        let now = now.as_s();
        self.line.push_back((now, at_patient.as_mmhg()));
        // Gas that entered until `now − delay` has reached the cell.
        while let Some(&(entered, pressure)) = self.line.front() {
            if entered + self.delay_s > now {
                break;
            }
            self.settle(entered + self.delay_s);
            self.in_cell = pressure;
            self.line.pop_front();
        }
        self.settle(now);
        PartialPressure::mmhg(self.shown)
    }

    /// The cell goes on toward what is in it.
    fn settle(&mut self, until_s: f64) {
        if self.shown == self.in_cell {
            self.cell_at_s = until_s;
            return;
        }
        let passed = (until_s - self.cell_at_s).max(0.0);
        let left = if self.lag_s > 0.0 { exp(-passed / self.lag_s) } else { 0.0 };
        let off = (self.shown - self.in_cell) * left;
        // What no monitor could tell apart is not followed into the smallest numbers.
        self.shown = if off.abs() < 1e-6 { self.in_cell } else { self.in_cell + off };
        self.cell_at_s = until_s;
    }
}

/// An expiration as Fowler's method reads it: the straight line through its
/// plateau, and the volume at which the front stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fowler {
    /// Airway dead space: where the front stands, mL from the start of expiration.
    pub dead_space_ml: f64,
    /// The plateau's line at the start of expiration, in the unit of the curve.
    pub intercept: f64,
    /// Its slope, in that unit for each mL.
    pub slope_per_ml: f64,
}

impl Fowler {
    /// Reads an expiration by equal areas.
    ///
    /// `expired` holds, in order, volumes that came back (mL) and the carbon dioxide
    /// fraction or pressure of each. A straight line is laid through the plateau, the
    /// part between 40 and 80 % of what comes after the upstroke's middle (where the
    /// curve is first halfway from its start to its highest), so that no dead space,
    /// however large, puts the front into it; the front is put where the areas between
    /// curve and line before it and after it are equal. Inspired carbon dioxide counts
    /// as the curve's foot. `None` when there is no plateau above zero.
    ///
    /// Source: Fowler WS, Am J Physiol 1948;154:405-416 (from memory); the stretch of the
    /// line is a choice.
    ///
    /// ```
    /// use tidewright::exchange::Fowler;
    /// // 10 mL of gas without carbon dioxide, then alveolar gas of 38 mmHg.
    /// let gas = |i| (1.0, if i < 10 { 0.0 } else { 38.0 });
    /// let breath: Vec<(f64, f64)> = (0..40).map(gas).collect();
    /// let read = Fowler::of(&breath).unwrap();
    /// assert!((read.dead_space_ml - 10.0).abs() < 1e-9);
    /// assert!((read.plateau_at(20.0) - 38.0).abs() < 1e-9);
    /// ```
    #[must_use]
    pub fn of(expired: &[(f64, f64)]) -> Option<Self> {
        let total: f64 = expired.iter().map(|&(volume, _)| volume).sum();
        let (intercept, slope_per_ml) = plateau(expired, total)?;
        // Area under the curve equals area under the line from the front on:
        // ∫ curve = intercept·(total − v) + slope·(total² − v²)/2.
        let curve: f64 = expired.iter().map(|&(volume, level)| volume * level).sum();
        let area_from =
            |v: f64| intercept * (total - v) + slope_per_ml * (total * total - v * v) / 2.0;
        let read = |dead_space_ml| Some(Self { dead_space_ml, intercept, slope_per_ml });
        let (mut low, mut high) = (0.0, total);
        if area_from(low) < curve {
            return read(0.0);
        }
        for _ in 0..100 {
            let middle = (low + high) / 2.0;
            if area_from(middle) > curve {
                low = middle;
            } else {
                high = middle;
            }
        }
        read(low)
    }

    /// The plateau's line at a volume from the start of expiration (mL).
    #[must_use]
    pub fn plateau_at(&self, expired_ml: f64) -> f64 {
        self.intercept + self.slope_per_ml * expired_ml
    }
}

/// Airway dead space from an expiration, mL: that of [`Fowler::of`].
///
/// ```
/// use tidewright::exchange::fowler_dead_space_ml;
/// // 10 mL of gas without carbon dioxide, then alveolar gas.
/// let breath: Vec<(f64, f64)> = (0..40).map(|i| (1.0, if i < 10 { 0.0 } else { 38.0 })).collect();
/// assert!((fowler_dead_space_ml(&breath).unwrap() - 10.0).abs() < 1e-9);
/// ```
#[must_use]
pub fn fowler_dead_space_ml(expired: &[(f64, f64)]) -> Option<f64> {
    Fowler::of(expired).map(|read| read.dead_space_ml)
}

/// Least-squares line through the plateau, weighted by volume.
fn plateau(expired: &[(f64, f64)], total: f64) -> Option<(f64, f64)> {
    let foot = expired.first()?.1;
    let highest = expired.iter().map(|&(_, level)| level).fold(foot, f64::max);
    let rises = expired.iter().position(|&(_, level)| level >= (foot + highest) / 2.0)?;
    let risen_ml: f64 = expired[..rises].iter().map(|&(volume, _)| volume).sum();
    let after = |share: f64| risen_ml + share * (total - risen_ml);
    let (mut w, mut x, mut y, mut xx, mut xy) = (0.0, 0.0, 0.0, 0.0, 0.0);
    let mut before = 0.0;
    for &(volume, level) in expired {
        let middle = before + volume / 2.0;
        before += volume;
        if (after(0.4)..=after(0.8)).contains(&middle) {
            w += volume;
            x += volume * middle;
            y += volume * level;
            xx += volume * middle * middle;
            xy += volume * middle * level;
        }
    }
    let spread = w * xx - x * x;
    if w <= 0.0 || spread <= 0.0 || y <= 0.0 {
        return None;
    }
    let slope = (w * xy - x * y) / spread;
    Some(((y - slope * x) / w, slope))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::math::expm1;

    /// Gas that rises along a + s·v, through d mL of plug and a mixing chamber of m mL:
    /// dF/dv = (a + s·v − F)/m ends in the line b + s·v with b = a − s·m, of which
    /// (b + s·d)·m is lost in the upstroke. The front stands at f where ∫ b + s·v from d to f
    /// is as much; f = d + m where s is 0. Dead space is from a twentieth to three
    /// quarters of the breath.
    #[test]
    fn closed_form_dead_space_of_a_plug_and_a_mixing_chamber() {
        let (dv, total, m) = (0.01, 60.0, 1.0);
        for d in [2.0, 6.0, 20.0, 30.0, 42.0] {
            for s in [0.0, 0.05, 0.2] {
                let a = 38.0;
                let mut breath = Vec::new();
                for i in 0..(total / dv) as u32 {
                    let v = dv * (f64::from(i) + 0.5);
                    let level = if v < d {
                        0.0
                    } else {
                        a + s * (v - m) - (a + s * (d - m)) * (1.0 + expm1(-(v - d) / m))
                    };
                    breath.push((dv, level));
                }
                let read = Fowler::of(&breath).unwrap();
                let (b, name) = (a - s * m, format!("{d} mL, slope {s}: {read:?}"));
                assert!((read.slope_per_ml - s).abs() < 0.01, "{name}");
                let before = (b + s * d) * m + b * d + s * d * d / 2.0;
                let front = 2.0 * before / (b + (b * b + 2.0 * s * before).sqrt());
                assert!((read.dead_space_ml - front).abs() < 0.03, "{name}, not {front}");
            }
        }
    }

    #[test]
    fn no_expiration_has_no_dead_space() {
        assert_eq!(fowler_dead_space_ml(&[]), None);
        assert_eq!(fowler_dead_space_ml(&[(1.0, 0.0), (1.0, 0.0), (1.0, 0.0)]), None);
    }

    #[test]
    fn closed_form_rise_time_is_from_a_tenth_to_nine_tenths() {
        let mut monitor = Capnograph::new(Seconds::ZERO, Seconds::s(0.25));
        let (mut tenth, mut nine_tenths) = (None, None);
        for step in 0..2000 {
            let now = 0.001 * f64::from(step);
            let shown = monitor.show(Seconds::s(now), PartialPressure::mmhg(1.0)).as_mmhg();
            if shown >= 0.1 {
                tenth.get_or_insert(now);
            }
            if shown >= 0.9 {
                nine_tenths.get_or_insert(now);
            }
        }
        let rise = nine_tenths.unwrap() - tenth.unwrap();
        assert!((rise - 0.25).abs() < 0.002, "{rise}");
    }
}
