//! A sized tube and a linear resistance behind it as one path: no place without a
//! store lies between them, whose pressure would have to be sought.

use crate::base::math::{exp, ln};
use crate::base::quantity::Flow;
use crate::laws::tube::SmoothTube;

/// Δp = tube(Q) + R·Q, solved for Q.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Series {
    tube: SmoothTube,
    /// R, cmH2O·s/mL; 0 for the tube alone.
    behind: f64,
    /// Flow and pressure where turbulence begins, and where it is full.
    flows: [f64; 2],
    pressures: [f64; 2],
    ln_pressures: [f64; 2],
}

/// A Newton step as small as this, as a share, leaves an error of its square.
const LAST_STEP: f64 = 1e-8;

/// So many times the pressure at which turbulence is full, a tangent there is no guess.
const FAR: f64 = 16.0;

impl Series {
    pub fn new(tube: SmoothTube, behind: f64) -> Self {
        let flows = tube.ln_flows().map(exp);
        let pressure = |q: f64| tube.pressure_drop(Flow::ml_s(q)).as_cmh2o() + behind * q;
        let pressures = flows.map(pressure);
        Self { tube, behind, flows, pressures, ln_pressures: pressures.map(ln) }
    }

    /// The same with more resistance behind it.
    pub fn with(&self, resistance: f64) -> Self {
        Self::new(self.tube, self.behind + resistance)
    }

    /// Slope where the flow is laminar.
    pub fn widest(&self) -> f64 {
        1.0 / (self.tube.laminar() + self.behind)
    }

    /// Flow and its slope at a pressure difference.
    #[inline]
    pub fn flow(&self, across: f64) -> (f64, f64) {
        let p = across.abs();
        if p <= self.pressures[0] {
            let conductance = self.widest();
            return (conductance * across, conductance);
        }
        let (flow, slope) =
            if p >= self.pressures[1] { self.turbulent(p) } else { self.between(p) };
        (flow.copysign(across), 1.0 / slope)
    }

    /// Flow, and the slope of pressure there, where turbulence is full. The law bends
    /// upward, so Newton's method comes down to its answer from a tangent.
    fn turbulent(&self, p: f64) -> (f64, f64) {
        let k = self.tube.turbulent();
        let slope_at = |q: f64| {
            let part = k * three_quarters(q);
            (part, self.behind + 1.75 * part)
        };
        let mut q = self.flows[1] + (p - self.pressures[1]) / slope_at(self.flows[1]).1;
        if p > FAR * self.pressures[1] {
            // That tangent leads far astray; the tube alone, by a root near 4/7, does not.
            let times = p / (k * self.flows[1] * three_quarters(self.flows[1]));
            q = q.min(self.flows[1] * times.sqrt() * times.sqrt().sqrt().sqrt().sqrt());
        }
        for _ in 0..60 {
            let (part, slope) = slope_at(q);
            let step = (q * (self.behind + part) - p) / slope;
            q -= step;
            if step.abs() <= LAST_STEP * q || !step.is_finite() {
                break;
            }
        }
        (q, slope_at(q).1)
    }

    /// The same in the transition: in logarithms the law is all but a straight line.
    fn between(&self, p: f64) -> (f64, f64) {
        let (from, to) = (self.tube.ln_flows(), self.ln_pressures);
        let (width, wanted) = (from[1] - from[0], ln(p));
        let mut u = (wanted - to[0]) / (to[1] - to[0]);
        let (mut low, mut high) = (0.0, 1.0);
        let (mut flow, mut slope) = (self.flows[0], self.behind);
        for _ in 0..60 {
            let (ln_tube, steep) = self.tube.transition(u);
            let tube = exp(ln_tube);
            flow = exp(from[0] + u * width);
            slope = steep * tube / flow + self.behind;
            let all = tube + self.behind * flow;
            let step = (ln(all) - wanted) * all / (slope * flow * width);
            (low, high) = if step > 0.0 { (low, u) } else { (u, high) };
            let next = u - step;
            if step.abs() <= LAST_STEP {
                return (flow * (1.0 - step * width), slope);
            }
            u = if next > low && next < high { next } else { 0.5 * (low + high) };
        }
        (flow, slope)
    }
}

/// q^¾ by roots, which are exact in every last bit and quicker than a power.
#[inline]
pub(crate) fn three_quarters(q: f64) -> f64 {
    let root = q.sqrt();
    root * root.sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::quantity::Pressure;
    use crate::laws::gases::{Mixture, STANDARD_PRESSURE_PA};

    fn tube() -> SmoothTube {
        SmoothTube::new(4.0, 19.0, Mixture::OXYGEN.properties(37.0, STANDARD_PRESSURE_PA))
    }

    /// From trickles to storms, in both directions, through all three regimes.
    #[test]
    fn closed_form_tube_and_resistance_add_up_to_the_pressure() {
        for behind in [0.0, 1e-4, 0.02, 1.0] {
            let series = Series::new(tube(), behind);
            let mut regimes = [0; 3];
            for step in 0..4000 {
                let p = 1e-4 * exp(f64::from(step) * 0.005);
                let (flow, _) = series.flow(p);
                let sum = tube().pressure_drop(Flow::ml_s(flow)).as_cmh2o() + behind * flow;
                assert!((sum / p - 1.0).abs() < 2e-13, "{behind} {p}: {sum}");
                assert_eq!(series.flow(-p).0, -flow);
                regimes[series.pressures.iter().filter(|&&end| p > end).count()] += 1;
            }
            assert!(regimes.iter().all(|&count| count > 20), "{regimes:?}");
        }
    }

    #[test]
    fn closed_form_without_resistance_it_is_the_tube() {
        let series = Series::new(tube(), 0.0);
        for step in 1..4000 {
            let p = 0.01 * f64::from(step);
            let alone = tube().flow(Pressure::cmh2o(p)).as_ml_s();
            assert!((series.flow(p).0 / alone - 1.0).abs() < 2e-13, "{p}");
        }
    }

    #[test]
    fn closed_form_slope_is_the_derivative() {
        let series = Series::new(tube(), 0.02);
        for step in 1..2000 {
            let p = 0.01 * f64::from(step);
            let by = 1e-6 * p;
            let difference = (series.flow(p + by).0 - series.flow(p - by).0) / (2.0 * by);
            let (_, slope) = series.flow(p);
            assert!((slope / difference - 1.0).abs() < 1e-5, "{p}: {slope} or {difference}");
        }
    }
}
