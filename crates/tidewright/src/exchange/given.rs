//! Breaths that are given, not run by the engine: a pattern repeated until the
//! gas repeats, and the closed form for how much fresh gas a T-piece needs.

use std::f64::consts::PI;

use super::breathing::Moved;
use super::owed::Strides;
use super::stores::parcel::{Fractions, Parcel};
use super::system::{Conditions, Exchange, GasState};
use crate::animal::alveolar::btps_per_stpd;
use crate::base::math::{atan2, cos, exp, expm1};
use crate::base::quantity::{Flow, PartialPressure, Seconds, Volume};
use crate::setup::{MAX_COMPARTMENTS, PatientPort};

/// How the volume of the lung goes up and down in each cycle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Pattern {
    /// A spontaneous breath: in and out as one turn of a sinusoid, inspiration as
    /// long as expiration, then a pause.
    Sinusoid {
        /// Share of the cycle that is pause, 0 to below 1.
        pause: f64,
    },
    /// A controlled breath: inflated evenly, then emptied by itself.
    Inflation {
        /// Share of the cycle that is inflation, above 0 to below 1.
        inflation: f64,
        /// Time constant of emptying; above 0.
        time_constant: Seconds,
    },
}

/// The same breath again and again, at a T-piece that is open all the time.
///
/// ```
/// use tidewright::exchange::{
///     Apparatus, Conditions, Exchange, Fractions, GivenBreaths, LimbMixing, Pattern,
///     fresh_gas_need,
/// };
/// use tidewright::prelude::*;
/// use tidewright::species::{Animal, Species};
/// let cat = Animal::typical(Species::Cat, Mass::kg(4.0));
/// let (limb_mixing, limb_parcels) = (LimbMixing::PlugFlow, 60);
/// let apparatus = Apparatus { limb_ml: 200.0, limb_mixing, limb_parcels, ..Apparatus::default() };
/// let exchange = Exchange::new(&cat, &cat.lung(), apparatus)?;
/// let now = Conditions::of(&cat, 38.5, Fractions::OXYGEN);
/// let breaths = GivenBreaths {
///     pattern: Pattern::Sinusoid { pause: 0.0 },
///     tidal: Volume::ml(40.0),
///     cycle: Seconds::s(3.0),
/// };
/// let minute = breaths.minute_volume();
/// let need = fresh_gas_need(0.0).unwrap();
/// let inspired = |times: f64| {
///     let settled = breaths.settled(&exchange, &now, minute * times)?;
///     Some(settled.mean_inspired_carbon_dioxide)
/// };
/// assert!(inspired(1.0) > inspired(2.0) && inspired(2.0) > Some(0.0));
/// // A front in the limb is as wide as one of its parcels.
/// assert!(inspired(1.05 * need) < Some(1e-4));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GivenBreaths {
    /// How the volume goes.
    pub pattern: Pattern,
    /// Volume of a breath; above 0.
    pub tidal: Volume,
    /// Time from breath to breath; above 0.
    pub cycle: Seconds,
}

/// The gases of given breaths once they repeat, as means over several.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SettledGas {
    /// Carbon dioxide of arterial blood in the body that is in balance.
    pub arterial_carbon_dioxide: PartialPressure,
    /// Highest carbon dioxide that came back.
    pub end_tidal_carbon_dioxide: PartialPressure,
    /// Carbon dioxide in all inspired gas together, as a share of dry gas.
    pub mean_inspired_carbon_dioxide: f64,
    /// Highest carbon dioxide in any inspired gas, as a share of dry gas.
    pub highest_inspired_carbon_dioxide: f64,
}

/// Steps of a cycle: doubling them changes end-tidal carbon dioxide by less than
/// 0.5 %.
const STEPS: u32 = 100;
/// Breaths after which lung and limb go on as they are; the body's stores hardly
/// move meanwhile.
const BREATHS: u32 = 30;
/// And where they nearly are so at the start.
const SOME_BREATHS: u32 = 10;
/// Breaths that are measured: where a limb mixes coarsely, one differs from the next.
const MEASURED: u32 = 8;
/// How often the body's stores are set anew at most; each time the error shrinks at
/// least tenfold.
const TIMES: u32 = 5;
/// Arterial carbon dioxide to begin with, mmHg.
const USUAL_MMHG: f64 = 40.0;
/// Share by which they may still be off.
const CLOSE: f64 = 1e-3;
/// Arterial carbon dioxide from which on nobody would call a state steady, mmHg.
const HIGHEST_MMHG: f64 = 300.0;

impl Pattern {
    /// The share of the tidal volume in the lung at a part of the cycle (0 to 1).
    #[must_use]
    pub fn volume_at(&self, part: f64, cycle: Seconds) -> f64 {
        match *self {
            Self::Sinusoid { pause } => 0.5 - 0.5 * cos(2.0 * PI * (part / (1.0 - pause)).min(1.0)),
            Self::Inflation { inflation, .. } if part <= inflation => part / inflation,
            Self::Inflation { inflation, time_constant } => {
                exp(-(part - inflation) * cycle.as_s() / time_constant.as_s())
            }
        }
    }
}

impl Exchange {
    /// Goes on by a step (s) of even ventilation (mL/s, at the alveoli) without
    /// breaths or a breathing system: the quick way to what minutes do.
    pub fn breathe_evenly(
        &self,
        state: &mut GasState,
        ventilation_ml_s: f64,
        inspired: Fractions,
        now: &Conditions,
        step_s: f64,
    ) {
        self.meet_blood(state, now, step_s / 2.0);
        for (gas, space) in state.way.spaces.iter_mut().zip(&self.spaces) {
            let relaxed = space.share * self.relaxed_ml[space.compartment];
            let total: f64 = self.relaxed_ml.iter().sum();
            let expired = ventilation_ml_s * step_s * relaxed / total;
            // A well-mixed volume loses 1 − e^(−V̇t/V) of its gas.
            let volume = gas.volume(space);
            let out = gas.take(space, -expm1(-expired / volume) * volume);
            state.way.outside.vented += out;
            let missing = relaxed - gas.volume(space);
            if missing > 0.0 {
                let inspired = Parcel::of(inspired, missing);
                state.way.fresh += inspired;
                gas.add(inspired);
            } else {
                state.way.outside.vented += gas.take(space, -missing);
            }
        }
        self.meet_blood(state, now, step_s / 2.0);
    }
}

impl GivenBreaths {
    /// Volume breathed in a minute.
    #[must_use]
    pub fn minute_volume(&self) -> Flow {
        Flow::ml_s(self.tidal.as_ml() / self.cycle.as_s())
    }

    /// What the gas comes to at a fresh gas flow, once as much carbon dioxide leaves
    /// as the body makes; `None` where it would rise beyond 300 mmHg. Every
    /// compartment takes its share of the volume by its relaxed volume.
    ///
    /// The body's stores take hours to fill. So breaths are tried from a body in
    /// balance at some arterial pressure, and as the flow out is proportional to it,
    /// the pressure is set anew by what is missing.
    #[must_use]
    pub fn settled(
        &self,
        exchange: &Exchange,
        now: &Conditions,
        fresh_gas_flow: Flow,
    ) -> Option<SettledGas> {
        self.settled_after(None, exchange, now, fresh_gas_flow).map(|(settled, _)| settled)
    }

    /// As [`GivenBreaths::settled`], and the gas that it came to. From what a flow not far
    /// from this one came to, the answer comes several times as soon.
    #[must_use]
    pub fn settled_after(
        &self,
        near: Option<&(SettledGas, GasState)>,
        exchange: &Exchange,
        now: &Conditions,
        fresh_gas_flow: Flow,
    ) -> Option<(SettledGas, GasState)> {
        let usual = PartialPressure::mmhg(USUAL_MMHG);
        let mut arterial = near.map_or(usual, |near| near.0.arterial_carbon_dioxide).as_mmhg();
        let mut before = near.map(|near| near.1.clone());
        let mut settled = None;
        for _ in 0..TIMES {
            let mut gas = exchange.steady(PartialPressure::mmhg(arterial), now);
            // Lung and limb hold nearly what they are to hold.
            let breaths = if before.is_some() { SOME_BREATHS } else { BREATHS };
            if let Some(before) = before.take() {
                gas.way = before.way;
            }
            for _ in 0..breaths {
                self.cycle(exchange, &mut gas, now, fresh_gas_flow);
            }
            let made_before = gas.metabolised.carbon_dioxide;
            let mut sum = Tally::default();
            for _ in 0..MEASURED {
                sum.add(&self.cycle(exchange, &mut gas, now, fresh_gas_flow));
            }
            let made = gas.metabolised.carbon_dioxide - made_before;
            let missing = made * btps_per_stpd(exchange.barometric) / sum.out.max(1e-9);
            arterial *= missing;
            // Not a number is no balance either.
            if arterial.is_nan() || arterial > HIGHEST_MMHG {
                return None;
            }
            let mean = |sum: f64| sum / f64::from(MEASURED);
            let found = SettledGas {
                arterial_carbon_dioxide: PartialPressure::mmhg(arterial),
                end_tidal_carbon_dioxide: PartialPressure::mmhg(
                    mean(sum.highest) * exchange.dry_mmhg(),
                ),
                mean_inspired_carbon_dioxide: mean(sum.inspired) / self.tidal.as_ml(),
                highest_inspired_carbon_dioxide: mean(sum.highest_in),
            };
            before = Some(gas.clone());
            settled = Some((found, gas));
            if (missing - 1.0).abs() < CLOSE {
                break;
            }
        }
        settled
    }

    fn cycle(
        &self,
        exchange: &Exchange,
        gas: &mut GasState,
        now: &Conditions,
        fresh_gas_flow: Flow,
    ) -> Tally {
        let step_s = self.cycle.as_s() / f64::from(STEPS);
        let relaxed: f64 = exchange.relaxed_ml.iter().sum();
        let (mut tally, mut strides) = (Tally::default(), Strides::default());
        for step in 1..=STEPS {
            let part = self.pattern.volume_at(f64::from(step) / f64::from(STEPS), self.cycle);
            let volume = self.tidal.as_ml() * part;
            let moved = Moved {
                step_s,
                fresh_ml: fresh_gas_flow.as_ml_s() * step_s,
                leak_ml: 0.0,
                outlet_ml: 0.0,
                compartments_ml: exchange.relaxed_ml.map(|ml| volume * ml / relaxed),
                reached: [true; MAX_COMPARTMENTS],
                circuit_ml: 0.0,
                outlet_is_open: true,
                port: PatientPort::Connected,
            };
            let passed = strides.step(exchange, gas, &moved, now);
            let fraction = passed.mixture.carbon_dioxide;
            tally.out -= passed.volume_ml * fraction;
            if passed.volume_ml > 0.0 {
                tally.inspired += passed.volume_ml * fraction;
                tally.highest_in = tally.highest_in.max(fraction);
            } else {
                tally.highest = tally.highest.max(fraction);
            }
        }
        strides.end(exchange, gas, now);
        tally
    }
}

/// Carbon dioxide of a cycle, or the sum over several.
#[derive(Clone, Copy, Debug, Default)]
struct Tally {
    /// Highest fraction that came back, and that went in.
    highest: f64,
    highest_in: f64,
    /// What went in, and what left on the whole, mL BTPS.
    inspired: f64,
    out: f64,
}

impl Tally {
    fn add(&mut self, other: &Self) {
        self.highest += other.highest;
        self.highest_in += other.highest_in;
        self.inspired += other.inspired;
        self.out += other.out;
    }
}

/// The least fresh gas flow, over the minute volume, at which sinusoidal breaths
/// from a T-piece draw nothing back that was breathed out: gas moves as a plug, the
/// limb is larger than a breath, fresh gas enters near the patient, and nobody has
/// dead space. `pause` is the pause's share of the cycle after expiration, from 0
/// to below 1; `None` outside.
///
/// Fresh gas exceeds the patient's flow early in inspiration and goes into the limb;
/// it comes back before anything else, then what the pause has pushed there. With
/// x the fresh gas over the patient's peak flow,
/// πx − 1 + 2πx·p/(1 − p) = √(1 − x²) + x·asin x, and the need is πx/(1 − p).
///
/// ```
/// use tidewright::exchange::fresh_gas_need;
/// assert!((fresh_gas_need(0.0).unwrap() - 2.27643).abs() < 1e-5);
/// assert!(fresh_gas_need(0.3) < fresh_gas_need(0.1));
/// assert_eq!(fresh_gas_need(1.0), None);
/// ```
#[must_use]
pub fn fresh_gas_need(pause: f64) -> Option<f64> {
    if !(0.0..1.0).contains(&pause) {
        return None;
    }
    let stored = |x: f64| PI * x - 1.0 + 2.0 * PI * x * pause / (1.0 - pause);
    let short = |x: f64| {
        stored(x) < {
            let c = (1.0 - x * x).sqrt();
            c + x * atan2(x, c)
        }
    };
    // At x = 1 the left side is π − 1 at least, the right side π/2.
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..100 {
        let middle = (low + high) / 2.0;
        if short(middle) {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some(PI * low / (1.0 - pause))
}
