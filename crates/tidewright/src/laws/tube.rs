//! Pressure lost along a tube at a flow, and the flow at a pressure.
//!
//! ```
//! use tidewright::gases::{Mixture, STANDARD_PRESSURE_PA};
//! use tidewright::prelude::*;
//! use tidewright::tube::SmoothTube;
//! let gas = Mixture::OXYGEN.properties(37.0, STANDARD_PRESSURE_PA);
//! let tube = SmoothTube::new(4.0, 19.0, gas);
//! let lost = tube.pressure_drop(Flow::ml_s(40.0));
//! assert!((tube.flow(lost).as_ml_s() - 40.0).abs() < 1e-9);
//! ```

use crate::base::math::{exp, ln, pow};
use crate::base::quantity::{Flow, Pressure, Resistance};
use crate::laws::gases::Properties;

const PA_PER_CMH2O: f64 = 98.0665;
/// Reynolds number up to which flow is laminar.
pub const LAMINAR_UP_TO: f64 = 2000.0;
/// Reynolds number from which flow is turbulent.
pub const TURBULENT_FROM: f64 = 4000.0;
const BLASIUS_EXPONENT: f64 = 1.75;

/// A straight smooth round tube.
///
/// With Re = 4·ρ·Q/(π·µ·D):
///
/// - Re ≤ 2000, Poiseuille: Δp = 128·µ·L·Q/(π·D⁴);
/// - Re ≥ 4000, Blasius (f = 0.3164·Re^−¼):
///   Δp = 0.2414·ρ^¾·µ^¼·L·Q^1.75/D^4.75;
/// - between, a cubic in (ln Q, ln Δp) that meets both with their slopes.
///
/// SI units in the formulae. Losses at the ends, in the connector and by the
/// bend of the tube are not counted: a real tube resists more, small curved
/// tubes by a factor that Ito's law gives (Jarreau et al., J Appl Physiol
/// 1999;87:36-46, abstract).
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct SmoothTube {
    /// cmH2O·s/mL.
    laminar: f64,
    /// cmH2O/(mL/s)^1.75.
    turbulent: f64,
    /// ln of the flow in mL/s where the transition begins, and where it ends.
    ln_flow: [f64; 2],
    /// ln of the pressure in cmH2O at the same flows.
    ln_pressure: [f64; 2],
}

impl SmoothTube {
    /// A tube by internal diameter and length (both above 0), filled with a gas.
    #[must_use]
    pub fn new(diameter_mm: f64, length_cm: f64, gas: Properties) -> Self {
        use std::f64::consts::PI;
        let (d, l) = (diameter_mm / 1000.0, length_cm / 100.0);
        let (rho, mu) = (gas.density_kg_m3, gas.viscosity_pa_s);
        // Flows in mL/s: 1 mL/s is 1e-6 m³/s.
        let laminar = 128.0 * mu * l / (PI * d * d * d * d) * 1e-6 / PA_PER_CMH2O;
        // Darcy-Weisbach with f = 0.3164·(4·ρ/(π·µ·D))^−¼·Q^−¼.
        let turbulent = 0.3164 * 8.0 * rho * l / (PI * PI * pow(d, 5.0))
            * pow(4.0 * rho / (PI * mu * d), -0.25)
            * pow(1e-6, BLASIUS_EXPONENT)
            / PA_PER_CMH2O;
        let flow_at = |reynolds: f64| reynolds * PI * mu * d / (4.0 * rho) * 1e6;
        let ends = [flow_at(LAMINAR_UP_TO), flow_at(TURBULENT_FROM)];
        Self {
            laminar,
            turbulent,
            ln_flow: ends.map(ln),
            ln_pressure: [ln(laminar * ends[0]), ln(turbulent * pow(ends[1], BLASIUS_EXPONENT))],
        }
    }

    /// The same tube with its diameter times `share` (above 0) all along.
    #[must_use]
    pub fn narrowed(self, share: f64) -> Self {
        let laminar = self.laminar * pow(share, -4.0);
        let turbulent = self.turbulent * pow(share, -4.75);
        let ln_flow = self.ln_flow.map(|flow| flow + ln(share));
        let ln_pressure = [ln(laminar) + ln_flow[0], ln(turbulent) + BLASIUS_EXPONENT * ln_flow[1]];
        Self { laminar, turbulent, ln_flow, ln_pressure }
    }

    /// Resistance while the flow is laminar.
    #[must_use]
    pub fn laminar_resistance(&self) -> Resistance {
        Resistance::cmh2o_s_per_l(self.laminar * 1000.0)
    }

    /// Pressure lost at a flow divided by the flow.
    #[must_use]
    pub fn resistance_at(&self, flow: Flow) -> Resistance {
        if flow == Flow::ZERO {
            return self.laminar_resistance();
        }
        let pressure = self.pressure_drop(flow).as_cmh2o();
        Resistance::cmh2o_s_per_l(pressure / flow.as_ml_s() * 1000.0)
    }

    /// Pressure lost at a flow.
    #[must_use]
    pub fn pressure_drop(&self, flow: Flow) -> Pressure {
        let q = flow.as_ml_s();
        if q == 0.0 {
            return Pressure::ZERO;
        }
        Pressure::cmh2o(self.at(q.abs()).0.copysign(q))
    }

    /// Slope ∂pressure/∂flow at a flow.
    #[must_use]
    pub fn slope(&self, flow: Flow) -> Resistance {
        let q = flow.as_ml_s().abs();
        let slope = if q == 0.0 { self.laminar } else { self.at(q).1 };
        Resistance::cmh2o_s_per_l(slope * 1000.0)
    }

    /// Flow at a pressure.
    #[must_use]
    pub fn flow(&self, pressure: Pressure) -> Flow {
        let p = pressure.as_cmh2o();
        if p == 0.0 {
            return Flow::ZERO;
        }
        Flow::ml_s(self.flow_above_zero(p.abs()).copysign(p))
    }

    /// Resistance while the flow is laminar, cmH2O·s/mL.
    pub(crate) fn laminar(&self) -> f64 {
        self.laminar
    }

    /// cmH2O/(mL/s)^1.75 where turbulence is full.
    pub(crate) fn turbulent(&self) -> f64 {
        self.turbulent
    }

    /// ln of the flow in mL/s where the transition begins, and where it ends.
    pub(crate) fn ln_flows(&self) -> [f64; 2] {
        self.ln_flow
    }

    /// ln of pressure and its slope in the transition, at `u` from 0 (its
    /// beginning) to 1 (its end): a cubic by its end values and end slopes.
    pub(crate) fn transition(&self, u: f64) -> (f64, f64) {
        let width = self.ln_flow[1] - self.ln_flow[0];
        let rise = self.ln_pressure[1] - self.ln_pressure[0];
        let (start, end) = (width, BLASIUS_EXPONENT * width);
        let c2 = 3.0 * rise - 2.0 * start - end;
        let c3 = start + end - 2.0 * rise;
        let value = self.ln_pressure[0] + u * (start + u * (c2 + u * c3));
        let slope = (start + u * (2.0 * c2 + u * 3.0 * c3)) / width;
        (value, slope)
    }

    /// Pressure (cmH2O) and its slope (cmH2O·s/mL) at a flow above 0 (mL/s).
    fn at(&self, q: f64) -> (f64, f64) {
        let x = ln(q);
        if x <= self.ln_flow[0] {
            (self.laminar * q, self.laminar)
        } else if x >= self.ln_flow[1] {
            let p = self.turbulent * pow(q, BLASIUS_EXPONENT);
            (p, BLASIUS_EXPONENT * p / q)
        } else {
            let u = (x - self.ln_flow[0]) / (self.ln_flow[1] - self.ln_flow[0]);
            let (ln_p, slope) = self.transition(u);
            let p = exp(ln_p);
            (p, slope * p / q)
        }
    }

    fn flow_above_zero(&self, p: f64) -> f64 {
        let y = ln(p);
        if y <= self.ln_pressure[0] {
            p / self.laminar
        } else if y >= self.ln_pressure[1] {
            pow(p / self.turbulent, 1.0 / BLASIUS_EXPONENT)
        } else {
            let width = self.ln_flow[1] - self.ln_flow[0];
            let (mut low, mut high, mut u) = (0.0, 1.0, 0.5);
            for _ in 0..100 {
                let (value, slope) = self.transition(u);
                if value > y {
                    high = u;
                } else {
                    low = u;
                }
                let newton = u - (value - y) / (slope * width);
                let next =
                    if newton > low && newton < high { newton } else { low + (high - low) / 2.0 };
                if (next - u).abs() < 1e-15 {
                    break;
                }
                u = next;
            }
            exp(self.ln_flow[0] + u * width)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::laws::gases::{Mixture, STANDARD_PRESSURE_PA};

    /// Air and oxygen at 37 °C by CoolProp 8.0.0.
    const AIR: Properties = Properties { density_kg_m3: 1.1384, viscosity_pa_s: 1.9023e-5 };
    const OXYGEN: Properties = Properties { density_kg_m3: 1.2580, viscosity_pa_s: 2.1209e-5 };

    fn near(value: f64, expected: f64, relative: f64) {
        assert!((value / expected - 1.0).abs() < relative, "{value}, expected {expected}");
    }

    /// Derived from the two laws; the numbers were computed beside them.
    #[test]
    fn closed_form_poiseuille_and_blasius() {
        let resistance = |d, l| SmoothTube::new(d, l, AIR).laminar_resistance().as_cmh2o_s_per_l();
        near(resistance(2.5, 16.0), 32.4, 3e-3); // three digits were given
        near(resistance(3.0, 18.0), 17.6, 3e-3);
        near(resistance(5.0, 25.0), 3.16, 3e-3);
        near(resistance(8.0, 32.0), 0.617, 3e-3);
        let adult = SmoothTube::new(8.0, 32.0, AIR);
        let lost = |ml_s| adult.pressure_drop(Flow::ml_s(ml_s)).as_cmh2o();
        near(lost(500.0), 0.875, 1e-3);
        near(lost(1000.0), 2.94, 2e-3);
        // Blasius written out once more: 0.2414·ρ^¾·µ^¼·L·Q^1.75/D^4.75.
        let blasius = 0.2414 * pow(1.1384, 0.75) * pow(1.9023e-5, 0.25) * 0.32 * pow(1e-3, 1.75)
            / pow(8e-3, 4.75)
            / PA_PER_CMH2O;
        near(lost(1000.0), blasius, 2e-4);
        near(
            SmoothTube::new(3.0, 18.0, OXYGEN).laminar_resistance().as_cmh2o_s_per_l()
                / resistance(3.0, 18.0),
            1.115,
            1e-3,
        );
    }

    #[test]
    fn flow_and_pressure_undo_each_other_and_only_rise() {
        let tube = SmoothTube::new(8.0, 32.0, Mixture::AIR.properties(37.0, STANDARD_PRESSURE_PA));
        let mut before = 0.0;
        for step in 1..4000 {
            let q = 0.5 * f64::from(step);
            let p = tube.pressure_drop(Flow::ml_s(q));
            assert!(p.as_cmh2o() > before);
            before = p.as_cmh2o();
            near(tube.flow(p).as_ml_s(), q, 1e-12);
            let back = tube.pressure_drop(Flow::ml_s(-q));
            assert_eq!(back.as_cmh2o(), -p.as_cmh2o());
        }
    }

    #[test]
    fn slope_is_the_derivative_without_a_jump() {
        let tube = SmoothTube::new(4.0, 19.0, OXYGEN);
        for step in 1..400 {
            let q = f64::from(step);
            let p = |q| tube.pressure_drop(Flow::ml_s(q)).as_cmh2o();
            let numeric = (p(q + 1e-4) - p(q - 1e-4)) / 2e-4 * 1000.0;
            near(tube.slope(Flow::ml_s(q)).as_cmh2o_s_per_l(), numeric, 1e-4);
        }
        assert_eq!(tube.slope(Flow::ZERO), tube.laminar_resistance());
    }
}
