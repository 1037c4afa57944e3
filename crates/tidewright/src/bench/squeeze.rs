//! The leak test with a thumb: a little gas is pressed out of a small sealed volume.

use crate::base::math::exp;
use crate::base::quantity::{Compliance, Flow, Pressure, Seconds, Volume};
use crate::setup::{Circuit, Leak};

/// One standard atmosphere (101325 Pa at 98.0665 Pa for each cmH2O).
pub const ATMOSPHERE: Pressure = Pressure::cmh2o(101_325.0 / 98.0665);

/// The squeeze that raises a tight sealed volume by a pressure: Boyle's law,
/// ΔV = V·P/(atmosphere + P). `sealed` above 0, `by` 0 or more.
///
/// ```
/// use tidewright::bench::squeeze_needed;
/// use tidewright::prelude::*;
/// let needed = squeeze_needed(Volume::ml(16.0), Pressure::cmh2o(10.0));
/// assert!((needed.as_ml() - 0.153).abs() < 0.001);
/// ```
#[must_use]
pub fn squeeze_needed(sealed: Volume, by: Pressure) -> Volume {
    sealed * (by.as_cmh2o() / (ATMOSPHERE + by).as_cmh2o())
}

/// A thumb that presses gas out of a sealed volume at an even pace.
///
/// With k the compliance of the sealed gas (volume over one atmosphere, and its walls),
/// s the pace of the thumb and g the conductance of a leak, pressure obeys
/// k·dP/dt = s − g·P, so that P = s/g·(1 − e^(−g·t/k)). It holds for squeezes that are
/// small beside the volume: within P over one atmosphere, 1 % at 10 cmH2O.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Squeeze {
    /// Gas between outlet valve, port and sensor; above 0.
    pub sealed: Volume,
    /// What walls and hoses take up beside it; 0 for rigid ones.
    pub walls: Compliance,
    /// What the thumb presses out; above 0.
    pub squeezed: Volume,
    /// How long it presses; above 0.
    pub over: Seconds,
}

impl Squeeze {
    /// The squeeze of all that takes up gas in a circuit up to its shut valve, its limb
    /// with it: the port is shut, and the thumb at the T-piece.
    ///
    /// ```
    /// use tidewright::bench::Squeeze;
    /// use tidewright::prelude::*;
    /// let circuit = Circuit::default();
    /// let squeeze = Squeeze::of(&circuit, Volume::ml(0.2), Seconds::s(0.5));
    /// let off = squeeze.compliance() - circuit.compliance;
    /// assert!(off.as_ml_per_cmh2o().abs() < 1e-12);
    /// ```
    #[must_use]
    pub fn of(circuit: &Circuit, squeezed: Volume, over: Seconds) -> Self {
        let limb = circuit.limb.map_or(Compliance::ZERO, |limb| limb.compliance);
        let takes_up = (circuit.compliance + limb).as_ml_per_cmh2o();
        let sealed = Volume::ml(takes_up * ATMOSPHERE.as_cmh2o());
        Self { sealed, walls: Compliance::ZERO, squeezed, over }
    }

    /// Compliance of the sealed gas and its walls.
    ///
    /// ```
    /// use tidewright::bench::Squeeze;
    /// use tidewright::prelude::*;
    /// let squeeze = Squeeze {
    ///     sealed: Volume::ml(16.0),
    ///     walls: Compliance::ZERO,
    ///     squeezed: Volume::ml(0.2),
    ///     over: Seconds::s(0.5),
    /// };
    /// assert!((squeeze.compliance().as_ml_per_cmh2o() - 0.0155).abs() < 1e-4);
    /// ```
    #[must_use]
    pub fn compliance(&self) -> Compliance {
        Compliance::ml_per_cmh2o(self.sealed.as_ml() / ATMOSPHERE.as_cmh2o()) + self.walls
    }

    /// Pressure at the end of the squeeze, which is its highest, with a leak in
    /// proportion to pressure of so many mL/s for each cmH2O (0 or more).
    ///
    /// ```
    /// use tidewright::bench::Squeeze;
    /// use tidewright::prelude::*;
    /// let squeeze = Squeeze {
    ///     sealed: Volume::ml(16.0),
    ///     walls: Compliance::ZERO,
    ///     squeezed: Volume::ml(0.2),
    ///     over: Seconds::s(0.5),
    /// };
    /// assert!((squeeze.pressure(0.0).as_cmh2o() - 12.9).abs() < 0.1);
    /// assert!(squeeze.pressure(0.02) < squeeze.pressure(0.0));
    /// ```
    #[must_use]
    pub fn pressure(&self, leak_ml_s_cmh2o: f64) -> Pressure {
        let k = self.compliance().as_ml_per_cmh2o();
        let (g, t) = (leak_ml_s_cmh2o, self.over.as_s());
        let tight = self.squeezed.as_ml() / k;
        let lost = g * t / k;
        // (1 − e^(−x))/x, whose limit is 1.
        let kept = if lost < 1e-9 { 1.0 - 0.5 * lost } else { (1.0 - exp(-lost)) / lost };
        Pressure::cmh2o(tight * kept)
    }

    /// Whether the ventilator cycles: whether the squeeze reaches its cycling pressure.
    #[must_use]
    pub fn cycles(&self, cycling: Pressure, leak_ml_s_cmh2o: f64) -> bool {
        self.pressure(leak_ml_s_cmh2o) >= cycling
    }

    /// The smallest leak that shows: with any larger one the ventilator does not cycle.
    /// `None` where the squeeze is too small for it to cycle at all. A faster thumb hides
    /// larger leaks.
    ///
    /// ```
    /// use tidewright::bench::Squeeze;
    /// use tidewright::prelude::*;
    /// let shows = |ml: f64, s: f64| {
    ///     let sealed = Volume::ml(16.0);
    ///     let (squeezed, over) = (Volume::ml(ml), Seconds::s(s));
    ///     let squeeze = Squeeze { sealed, walls: Compliance::ZERO, squeezed, over };
    ///     squeeze.smallest_leak(Pressure::cmh2o(10.0)).map(|leak| leak.flow.as_ml_s() * 60.0)
    /// };
    /// assert_eq!(shows(0.1, 1.0), None); // too small a squeeze
    /// assert!(shows(0.2, 0.2) > shows(0.2, 2.0)); // a quick thumb hides more
    /// ```
    #[must_use]
    pub fn smallest_leak(&self, cycling: Pressure) -> Option<Leak> {
        if !self.cycles(cycling, 0.0) {
            return None;
        }
        // The pressure falls as the leak grows, and is below s/g.
        let pace = self.squeezed.as_ml() / self.over.as_s();
        let (mut low, mut high) = (0.0, pace / cycling.as_cmh2o());
        loop {
            let middle = 0.5 * (low + high);
            if middle <= low || middle >= high {
                break;
            }
            if self.cycles(cycling, middle) {
                low = middle;
            } else {
                high = middle;
            }
        }
        Some(Leak::linear(Flow::ml_s(low * cycling.as_cmh2o()), cycling))
    }
}
