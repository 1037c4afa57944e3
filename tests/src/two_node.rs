//! Closed form of the smallest machine with a compressible circuit: one lung
//! compartment behind a resistance, beside the circuit.
//!
//! With circuit pressure p and alveolar pressure a,
//!
//! Cc·p′ = Q − G·p − (p − a)/R − Gv·(p − PEEP),  C·a′ = (p − a)/R,
//!
//! where Gv is the conductance of the open valve, or 0. For x = (p, a) this is
//! x′ = M·x + b, so x(t) = x₀ + φ₁(M, t)·(M·x₀ + b), and a function of a 2 × 2
//! matrix with the eigenvalues μ₁, μ₂ is
//! f(M) = (f(μ₁)·(M − μ₂) − f(μ₂)·(M − μ₁))/(μ₁ − μ₂).
//!
//! It takes its maths from std and its algebra from the formula for two
//! eigenvalues, so it shares nothing with the engine but the physics.
#![allow(clippy::disallowed_methods, reason = "an oracle keeps apart from the engine's maths")]

use tidewright::prelude::*;

/// The machine of the speed table: a cat of 4 kg with a compressible circuit,
/// ended by pressure on every breath.
#[must_use]
pub fn cat() -> Setup {
    let mut setup = Setup::default();
    setup.lung = Lung::single(Compliance::ml_per_cmh2o(6.0), Resistance::cmh2o_s_per_l(20.0));
    setup.circuit.compliance = Compliance::ml_per_cmh2o(0.15);
    setup.circuit.valve_resistance = Resistance::cmh2o_s_per_l(5.0);
    setup.ventilator.fresh_gas_flow = Flow::ml_s(22.0);
    setup.ventilator.cycling_pressure = Pressure::cmh2o(10.0);
    setup.ventilator.end_expiratory_pressure = Pressure::cmh2o(2.0);
    setup.ventilator.inspiratory_time_limit = Seconds::s(5.0);
    setup.ventilator.expiratory_time = Seconds::s(1.5);
    setup
}

/// Circuit pressure and alveolar pressure, cmH2O.
pub type State = [f64; 2];

/// One position of the valve.
#[derive(Clone, Copy, Debug)]
pub struct TwoNode {
    m: [[f64; 2]; 2],
    b: [f64; 2],
    slow: f64,
    fast: f64,
}

impl TwoNode {
    /// The machine of a setup with one compartment and a compressible circuit.
    #[must_use]
    pub fn new(setup: &Setup, valve_is_open: bool) -> Self {
        let part = &setup.lung.compartments[0];
        let tube = match setup.lung.tube {
            Tube::Linear(resistance) => resistance,
            _ => Resistance::ZERO,
        };
        let c = part.compliance.as_ml_per_cmh2o();
        let cc = setup.circuit.compliance.as_ml_per_cmh2o();
        let airway = (part.resistance + tube).as_cmh2o_s_per_l();
        let g = 1000.0 / airway;
        let leak = setup.circuit.leak.map_or(0.0, |leak| leak.flow.as_ml_s() / leak.at.as_cmh2o());
        let valve = if valve_is_open {
            1000.0 / setup.circuit.valve_resistance.as_cmh2o_s_per_l()
        } else {
            0.0
        };
        let ventilator = &setup.ventilator;
        let peep = ventilator.end_expiratory_pressure.as_cmh2o();
        let m = [[-(g + leak + valve) / cc, g / cc], [g / c, -g / c]];
        let half_trace = 0.5 * (m[0][0] + m[1][1]);
        let fast = half_trace - (0.25 * (m[0][0] - m[1][1]).powi(2) + m[0][1] * m[1][0]).sqrt();
        // The determinant without its cancellation, so that sealed gives exactly 0.
        let slow = (leak + valve) * g / (cc * c) / fast;
        Self { m, b: [(ventilator.fresh_gas_flow.as_ml_s() + valve * peep) / cc, 0.0], slow, fast }
    }

    /// The state `t` seconds after `start`.
    #[must_use]
    pub fn at(&self, start: State, t: f64) -> State {
        let phi1 = |mu: f64| if mu == 0.0 { t } else { (mu * t).exp_m1() / mu };
        let change = self.apply(phi1, start);
        [start[0] + change[0], start[1] + change[1]]
    }

    /// The integral of the state over `t` seconds after `start`.
    #[must_use]
    pub fn integral(&self, start: State, t: f64) -> State {
        let phi2 = |mu: f64| {
            if mu == 0.0 { 0.5 * t * t } else { ((mu * t).exp_m1() - mu * t) / (mu * mu) }
        };
        let change = self.apply(phi2, start);
        [start[0] * t + change[0], start[1] * t + change[1]]
    }

    /// When a rising circuit pressure reaches `level`, by bisection down to
    /// neighbouring numbers.
    #[must_use]
    pub fn time_to(&self, start: State, level: f64, within: f64) -> f64 {
        let (mut low, mut high) = (0.0, within);
        loop {
            let middle = 0.5 * (low + high);
            if middle <= low || middle >= high {
                return high;
            }
            if self.at(start, middle)[0] < level {
                low = middle;
            } else {
                high = middle;
            }
        }
    }

    /// f(M)·(M·start + b).
    fn apply(&self, f: impl Fn(f64) -> f64, start: State) -> State {
        let m = &self.m;
        let rate = [
            m[0][0] * start[0] + m[0][1] * start[1] + self.b[0],
            m[1][0] * start[0] + m[1][1] * start[1] + self.b[1],
        ];
        let moved = [m[0][0] * rate[0] + m[0][1] * rate[1], m[1][0] * rate[0] + m[1][1] * rate[1]];
        let (slow, fast) = (f(self.slow), f(self.fast));
        let gap = self.slow - self.fast;
        let entry = |i: usize| {
            (slow * (moved[i] - self.fast * rate[i]) - fast * (moved[i] - self.slow * rate[i]))
                / gap
        };
        [entry(0), entry(1)]
    }
}

/// A breath that ended on pressure.
#[derive(Clone, Copy, Debug)]
pub struct ExactBreath {
    /// Inspiratory time, s.
    pub inspiratory_s: f64,
    /// Alveolar pressure at the end of inspiration, cmH2O.
    pub full: f64,
    /// Alveolar and circuit pressure at the end of expiration, cmH2O.
    pub empty: State,
    /// Integral of the circuit pressure over the breath, cmH2O·s.
    pub pressure_integral: f64,
}

/// The first breaths of a setup that ends every breath on pressure, from rest.
#[must_use]
pub fn breaths(setup: &Setup, count: usize) -> Vec<ExactBreath> {
    let (shut, open) = (TwoNode::new(setup, false), TwoNode::new(setup, true));
    let ventilator = &setup.ventilator;
    let peep = ventilator.end_expiratory_pressure.as_cmh2o();
    let out_s = ventilator.expiratory_time.as_s();
    let mut state = [peep, peep];
    (0..count)
        .map(|_| {
            let level = ventilator.cycling_pressure.as_cmh2o();
            let in_s = shut.time_to(state, level, ventilator.inspiratory_time_limit.as_s());
            let full = shut.at(state, in_s);
            let integral = shut.integral(state, in_s)[0] + open.integral(full, out_s)[0];
            state = open.at(full, out_s);
            ExactBreath {
                inspiratory_s: in_s,
                full: full[1],
                empty: state,
                pressure_integral: integral,
            }
        })
        .collect()
}
