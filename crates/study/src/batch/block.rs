//! Breath after breath of several plain machines at once.
//!
//! Inspiration. Once the fast mode has died, x = φ₁(λ₁, t) is known from the level
//! without any time: P₁·x = Pc − p₀ − P₂/λ₂; then t = x + λ₁·x²·ℓ(λ₁x), and
//! φ₂(λ₁, t) = x²·ℓ. Where the fast mode still counts, Newton's method on x goes on
//! from there: p is concave in t, so it comes from the left and never past the
//! crossing. Expiration lasts a set time and is an affine map, worked out once.
//!
//! That holds while p rises through an inspiration and begins to fall with the
//! opening of the valve. A lane where anything else happens (pressure met on entry,
//! a rebound, a breath that ends as it begins) is done by the general engine for that breath.

use tidewright::breath::{Breath, EndedBy};
use tidewright::machine::Machine;
use tidewright::quantity::Volume;
use tidewright::steady::one_breath;
use tidewright::step::{Moment, Place};
use tidewright_scenario::measure::Numbers;

use super::functions::{ell, exp_neg, phis};
use super::lanes::{Lanes, Mask};
use super::modes::{Affine, Modes, Passage};
use super::{BatchError, TwoNode};

/// `N` plain machines, each at the start of an inspiration.
#[derive(Clone, Debug)]
pub struct Block<const N: usize> {
    machines: [TwoNode; N],
    inspiration: Modes<N>,
    /// The whole of an inspiration that the limit ends: φ₁ and φ₂ of each mode.
    limited: [Lanes<N>; 4],
    expiration: Passage<N>,
    /// ∂p/∂t as the valve opens, times the circuit's compliance.
    opening: Affine<N>,
    level: Lanes<N>,
    limit: Lanes<N>,
    expiratory_time: Lanes<N>,
    lung: Lanes<N>,
    leak: Lanes<N>,
    t_piece_pressure: Lanes<N>,
    lung_pressure: Lanes<N>,
}

/// A breath of each machine of a block.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Breaths<const N: usize> {
    /// From the start of inspiration to the opening of the outlet valve, s.
    pub inspiratory_time_s: [f64; N],
    /// From the opening of the outlet valve to the next inspiration, s.
    pub expiratory_time_s: [f64; N],
    /// Whether the cycling pressure ended the inspiration; else the time limit did.
    pub ended_by_pressure: [bool; N],
    /// Change of lung volume over inspiration, mL.
    pub inspired_tidal_volume_ml: [f64; N],
    /// Change of lung volume over expiration, mL.
    pub expired_tidal_volume_ml: [f64; N],
    /// Highest airway pressure, cmH2O.
    pub peak_pressure_cmh2o: [f64; N],
    /// Mean airway pressure over the whole breath, cmH2O.
    pub mean_pressure_cmh2o: [f64; N],
    /// Airway pressure at the end of expiration, cmH2O.
    pub baseline_pressure_cmh2o: [f64; N],
    /// Alveolar pressure at the end of expiration, cmH2O.
    pub end_expiratory_alveolar_pressure_cmh2o: [f64; N],
    /// Gas lost through the leak, mL.
    pub leaked_ml: [f64; N],
}

impl<const N: usize> Default for Breaths<N> {
    /// Nothing yet.
    fn default() -> Self {
        let none = [0.0; N];
        Self {
            inspiratory_time_s: none,
            expiratory_time_s: none,
            ended_by_pressure: [false; N],
            inspired_tidal_volume_ml: none,
            expired_tidal_volume_ml: none,
            peak_pressure_cmh2o: none,
            mean_pressure_cmh2o: none,
            baseline_pressure_cmh2o: none,
            end_expiratory_alveolar_pressure_cmh2o: none,
            leaked_ml: none,
        }
    }
}

impl<const N: usize> Breaths<N> {
    /// The breath of one lane.
    #[must_use]
    pub fn lane(&self, lane: usize) -> Breaths<1> {
        Breaths {
            inspiratory_time_s: [self.inspiratory_time_s[lane]],
            expiratory_time_s: [self.expiratory_time_s[lane]],
            ended_by_pressure: [self.ended_by_pressure[lane]],
            inspired_tidal_volume_ml: [self.inspired_tidal_volume_ml[lane]],
            expired_tidal_volume_ml: [self.expired_tidal_volume_ml[lane]],
            peak_pressure_cmh2o: [self.peak_pressure_cmh2o[lane]],
            mean_pressure_cmh2o: [self.mean_pressure_cmh2o[lane]],
            baseline_pressure_cmh2o: [self.baseline_pressure_cmh2o[lane]],
            end_expiratory_alveolar_pressure_cmh2o: [
                self.end_expiratory_alveolar_pressure_cmh2o[lane]
            ],
            leaked_ml: [self.leaked_ml[lane]],
        }
    }

    fn put(&mut self, lane: usize, breath: &Breath) {
        self.inspiratory_time_s[lane] = breath.inspiratory_time.as_s();
        self.expiratory_time_s[lane] = breath.expiratory_time.as_s();
        self.ended_by_pressure[lane] = breath.ended_by == EndedBy::Pressure;
        self.inspired_tidal_volume_ml[lane] = breath.inspired_tidal_volume.as_ml();
        self.expired_tidal_volume_ml[lane] = breath.expired_tidal_volume.as_ml();
        self.peak_pressure_cmh2o[lane] = breath.peak_pressure.as_cmh2o();
        self.mean_pressure_cmh2o[lane] = breath.mean_pressure.as_cmh2o();
        self.baseline_pressure_cmh2o[lane] = breath.baseline_pressure.as_cmh2o();
        self.end_expiratory_alveolar_pressure_cmh2o[lane] =
            breath.end_expiratory_alveolar_pressure.as_cmh2o();
        self.leaked_ml[lane] = breath.leaked.as_ml();
    }
}

impl From<&Breath> for Breaths<1> {
    /// What a block tells of a breath that the general engine measured.
    fn from(breath: &Breath) -> Self {
        let mut breaths = Self::default();
        breaths.put(0, breath);
        breaths
    }
}

impl From<&Breaths<1>> for Numbers {
    fn from(breath: &Breaths<1>) -> Self {
        let Breaths {
            inspiratory_time_s: [inspiratory_time_s],
            expiratory_time_s: [expiratory_time_s],
            ended_by_pressure: _,
            inspired_tidal_volume_ml: [inspired_tidal_volume_ml],
            expired_tidal_volume_ml: [expired_tidal_volume_ml],
            peak_pressure_cmh2o: [peak_pressure_cmh2o],
            mean_pressure_cmh2o: [mean_pressure_cmh2o],
            baseline_pressure_cmh2o: [baseline_pressure_cmh2o],
            end_expiratory_alveolar_pressure_cmh2o: [end_expiratory_alveolar_pressure_cmh2o],
            leaked_ml: [leaked_ml],
        } = *breath;
        Self {
            inspiratory_time_s,
            expiratory_time_s,
            inspired_tidal_volume_ml,
            expired_tidal_volume_ml,
            peak_pressure_cmh2o,
            mean_pressure_cmh2o,
            baseline_pressure_cmh2o,
            end_expiratory_alveolar_pressure_cmh2o,
            leaked_ml,
        }
    }
}

/// λ₂·t beyond which e^(−λ₂t) is nothing beside 1.
const DEAD: f64 = 40.0;
/// λ₂·t below which the differences of the fast mode lose digits.
const TOO_YOUNG: f64 = 1.0;
/// Steps of Newton's method, more than any crossing that is not odd needs.
const MOST_STEPS: usize = 12;

impl<const N: usize> Block<N> {
    /// Sound machines with their gas at rest, at the pressure of the end-expiratory
    /// pressure device.
    #[must_use]
    pub fn new(machines: &[TwoNode; N]) -> Self {
        let all = |of: fn(&TwoNode) -> f64| {
            let mut lanes = Lanes::all(0.0);
            for (lane, machine) in lanes.0.iter_mut().zip(machines) {
                *lane = of(machine);
            }
            lanes
        };
        let thousand = Lanes::all(1000.0);
        let circuit = all(|machine| machine.circuit_compliance);
        let lung = all(|machine| machine.lung_compliance);
        let airway = thousand / all(|machine| machine.airway_resistance);
        let valve = thousand / all(|machine| machine.valve_resistance);
        let leak = all(|machine| machine.leak_conductance);
        let flow = all(|machine| machine.fresh_gas_flow);
        let limit = all(|machine| machine.inspiratory_time_limit);
        let expiratory_time = all(|machine| machine.expiratory_time);
        let device = all(|machine| machine.end_expiratory_pressure);

        let inspiration = Modes::new(circuit, lung, airway, leak, flow);
        let inflow = flow + valve * device;
        let expiration = Modes::new(circuit, lung, airway, leak + valve, inflow);
        let (slow1, slow2) = phis(inspiration.slow * limit);
        let (fast1, fast2) = phis(inspiration.fast * limit);
        let square = limit * limit;
        Self {
            machines: *machines,
            inspiration,
            limited: [limit * slow1, square * slow2, limit * fast1, square * fast2],
            expiration: expiration.over(expiratory_time),
            opening: Affine { offset: inflow, t_piece: -(leak + valve + airway), lung: airway },
            level: all(|machine| machine.cycling_pressure),
            limit,
            expiratory_time,
            lung,
            leak,
            t_piece_pressure: device,
            lung_pressure: device,
        }
    }

    /// The next breath of each machine.
    ///
    /// # Errors
    /// Where the general engine is needed and cannot go on; a sound machine gives it
    /// no reason.
    #[inline]
    pub fn breath(&mut self, breaths: &mut Breaths<N>) -> Result<(), BatchError> {
        let (p0, a0) = (self.t_piece_pressure, self.lung_pressure);
        let inspiration = self.inspire(p0, a0);
        let Inspired { time, by_pressure, p_end, filled, .. } = inspiration;
        let a_end = a0 + filled;

        let passage = &self.expiration;
        let p_next = passage.t_piece.at(p_end, a_end);
        let a_next = passage.lung.at(p_end, a_end);
        let integral = inspiration.integral + passage.integral.at(p_end, a_end);
        let rebound = Lanes::all(0.0).below(self.opening.at(p_end, a_end));

        breaths.inspiratory_time_s = time.0;
        breaths.expiratory_time_s = self.expiratory_time.0;
        breaths.ended_by_pressure = by_pressure.lanes();
        breaths.inspired_tidal_volume_ml = (self.lung * filled).0;
        breaths.expired_tidal_volume_ml = (self.lung * (a_end - a_next)).0;
        breaths.peak_pressure_cmh2o = p_end.max(p0).max(p_next).0;
        breaths.mean_pressure_cmh2o = (integral / (time + self.expiratory_time)).0;
        breaths.baseline_pressure_cmh2o = p_next.0;
        breaths.end_expiratory_alveolar_pressure_cmh2o = a_next.0;
        breaths.leaked_ml = (self.leak * integral).0;
        self.t_piece_pressure = p_next;
        self.lung_pressure = a_next;
        let odd = inspiration.odd.or(rebound);
        if odd.any() {
            self.one_by_one(odd, p0, a0, breaths)?;
        }
        Ok(())
    }

    #[inline(always)]
    fn inspire(&self, p0: Lanes<N>, a0: Lanes<N>) -> Inspired<N> {
        let (zero, one) = (Lanes::all(0.0), Lanes::all(1.0));
        let modes = &self.inspiration;
        let (p1, p2) = (modes.p1.at(p0, a0), modes.p2.at(p0, a0));
        let rises = p0.below(self.level).and(zero.below(p1)).and(p2.below(zero).not());
        let mut odd = rises.not();

        // By pressure, as if the fast mode were dead.
        let mut x = (self.level - p0 - p2 * modes.fast_time) / p1;
        let y = (modes.slow * x).max(zero);
        let comes = y.below(one);
        let mut phi2 = x * x * ell(comes.choose(y, zero));
        let mut time = x + modes.slow * phi2;
        let (mut fast1, mut fast2) = (modes.fast_time, (time - modes.fast_time) * modes.fast_time);
        let mut by_pressure = comes.and(time.below(self.limit));
        let alive = by_pressure.and(rises).and((modes.fast * time).below(Lanes::all(DEAD)));
        if alive.any() {
            let settled = self.newton(alive, p0, p1, p2, &mut x, &mut phi2, &mut time);
            odd = odd.or(alive.and(settled.not()));
            by_pressure = by_pressure.and(time.below(self.limit));
            let fast = exp_neg((modes.fast * time).max(zero));
            fast1 = (one - fast) * modes.fast_time;
            fast2 = (time - fast1) * modes.fast_time;
        }

        // By time where that comes first.
        let [limited1, limited2, limited_fast1, limited_fast2] = self.limited;
        let time = by_pressure.choose(time, self.limit);
        let (slow_rise, fast_rise) =
            (p1 * by_pressure.choose(x, limited1), p2 * by_pressure.choose(fast1, limited_fast1));
        Inspired {
            time,
            by_pressure,
            p_end: by_pressure.choose(self.level, p0 + slow_rise + fast_rise),
            filled: modes.rho * slow_rise + modes.sigma * fast_rise,
            integral: p0 * time
                + p1 * by_pressure.choose(phi2, limited2)
                + p2 * by_pressure.choose(fast2, limited_fast2),
            odd,
        }
    }

    /// The crossing in lanes whose fast mode is alive; which of them are found.
    #[cold]
    #[inline(never)]
    #[expect(clippy::too_many_arguments, reason = "three of them are one result")]
    fn newton(
        &self,
        alive: Mask<N>,
        p0: Lanes<N>,
        p1: Lanes<N>,
        p2: Lanes<N>,
        x: &mut Lanes<N>,
        phi2: &mut Lanes<N>,
        time: &mut Lanes<N>,
    ) -> Mask<N> {
        let (zero, one) = (Lanes::all(0.0), Lanes::all(1.0));
        let modes = &self.inspiration;
        let mut found = Mask::NONE;
        let mut at = x.max(zero);
        let mut settled_at = at;
        for _ in 0..MOST_STEPS {
            let y = modes.slow * at;
            let t = at + modes.slow * at * at * ell(y.below(one).choose(y, zero));
            let fast = exp_neg(modes.fast * t);
            let miss = p0 - self.level + p1 * at + p2 * modes.fast_time * (one - fast);
            let slope = p1 + p2 * fast / (one - y);
            let step = miss / slope;
            at = at - step;
            let small = step.max(-step).below(Lanes::all(1e-12) * at);
            // A lane stays where it was found, whatever its neighbours need.
            settled_at = found.choose(settled_at, at);
            found = found.or(small);
            if alive.and(found.not()).any() {
                continue;
            }
            break;
        }
        let y = modes.slow * settled_at;
        let in_reach = y.below(one);
        let square = settled_at * settled_at * ell(in_reach.choose(y, zero));
        let t = settled_at + modes.slow * square;
        let old_enough = (modes.fast * t).below(Lanes::all(TOO_YOUNG)).not();
        *x = alive.choose(settled_at, *x);
        *phi2 = alive.choose(square, *phi2);
        *time = alive.choose(in_reach.choose(t, Lanes::all(f64::INFINITY)), *time);
        found.and(old_enough)
    }

    /// Breaths that are not of the plain kind, by the general engine.
    #[cold]
    #[inline(never)]
    fn one_by_one(
        &mut self,
        odd: Mask<N>,
        p0: Lanes<N>,
        a0: Lanes<N>,
        breaths: &mut Breaths<N>,
    ) -> Result<(), BatchError> {
        for lane in (0..N).filter(|&lane| odd.lane(lane)) {
            let plain = &self.machines[lane];
            let machine = Machine::new(plain.setup())?;
            let (circuit, lung) = (plain.circuit_compliance, plain.lung_compliance);
            let start = Moment::at_rest(&machine)
                .with_gas(Place::TPiece, Volume::ml(circuit * p0.0[lane]))
                .with_gas(Place::Compartment(0), Volume::ml(lung * a0.0[lane]));
            let (breath, next) = one_breath(&machine, &start)?;
            breaths.put(lane, &breath);
            self.t_piece_pressure.0[lane] = next.gas(Place::TPiece).as_ml() / circuit;
            self.lung_pressure.0[lane] = next.gas(Place::Compartment(0)).as_ml() / lung;
        }
        Ok(())
    }
}

/// An inspiration of each lane.
#[derive(Clone, Copy)]
struct Inspired<const N: usize> {
    time: Lanes<N>,
    by_pressure: Mask<N>,
    p_end: Lanes<N>,
    /// What the pressure in the lung has risen by.
    filled: Lanes<N>,
    /// ∫p.
    integral: Lanes<N>,
    /// Where all this does not hold.
    odd: Mask<N>,
}
