//! Breaths before the start: what tidal breathing makes of a steady state.
//!
//! The alveolar gas equation is about gas that leaves the lung. With each breath in,
//! alveolar gas is thinned; until the next it loses oxygen and gains carbon dioxide, and
//! most of it leaves soon after it was thinned. So what leaves holds more oxygen than what
//! blood meets on the mean, by several percent where a breath is large beside the lung
//! that is left: tissue and blood buffer carbon dioxide and not oxygen. A run that began
//! with the equation would slide to that mean in its first minute with nothing changed.

use super::breathing::{Course, Moved};
use super::start::Held;
use super::stores::alveoli::{Bloodstream, MAX_SPACES, SpaceState};
use super::stores::body::{Content, oxygen_used};
use super::system::{Conditions, Exchange, GasState};
use crate::animal::alveolar::btps_per_stpd;
use crate::base::math::exp;
use crate::base::quantity::PartialPressure;

/// Most breaths that are tried.
const MOST_BREATHS: u32 = 40;
/// Share by which oxygen and pace may still be off.
const CLOSE: f64 = 2e-4;
/// Breaths from one guess of where oxygen goes to the next.
const GUESS_EVERY: u32 = 3;
/// Slowest pace and quickest at which an animal can be said to have breathed so before.
const PACES: (f64, f64) = (0.2, 5.0);

impl Exchange {
    /// Lets a steady state be that of an animal which has taken the same breath again and
    /// again, fresh gas each time, at the pace that holds its arterial carbon dioxide: the
    /// mean over a breath is what is stated. The state is that at the end of the breath.
    ///
    /// Blood of a constant venous content v comes to the lung and leaves it with r on the
    /// mean; balance is r = v + used/Q for oxygen, r = v − made/Q for carbon dioxide, and
    /// the pace that at which as much leaves with the gas. A state that no such pace holds
    /// stays as it is.
    pub(crate) fn settle_into(
        &self,
        state: &mut GasState,
        breath: &[Moved],
        arterial_carbon_dioxide: PartialPressure,
        now: &Conditions,
        held: &Held,
    ) {
        let mut trial = Trial::new(self, state.clone(), now);
        let mut guess = Guess::default();
        for tried in 1..=MOST_BREATHS {
            let Some(off) = trial.breathe(breath, arterial_carbon_dioxide) else { return };
            let ahead = guess.after(&mut trial.state.way.spaces, tried % GUESS_EVERY == 0);
            if tried > GUESS_EVERY && off < CLOSE && ahead < CLOSE {
                break;
            }
        }
        trial.end(held);
        *state = trial.state;
    }
}

/// A breath repeated.
struct Trial<'a> {
    exchange: &'a Exchange,
    now: &'a Conditions,
    state: GasState,
    venous: Content,
    /// Arterial blood at the start of a breath.
    arterial: Content,
    /// Time that passes, over that of the breath as it is.
    pace: f64,
    reached: [bool; MAX_SPACES],
}

impl<'a> Trial<'a> {
    fn new(exchange: &'a Exchange, state: GasState, now: &'a Conditions) -> Self {
        let (venous, arterial) = (state.body.venous, state.body.arterial);
        let reached = [false; MAX_SPACES];
        Self { exchange, now, state, venous, arterial, pace: 1.0, reached }
    }

    /// One breath; how far off the pace was. `None` where nothing balances.
    fn breathe(&mut self, breath: &[Moved], arterial: PartialPressure) -> Option<f64> {
        let (exchange, demand) = (self.exchange, &self.now.demand);
        let flow = demand.cardiac_output_ml_s;
        let lasts_s: f64 = breath.iter().map(|moved| moved.step_s).sum();
        if !(flow > 0.0 && demand.carbon_dioxide_ml_s > 0.0 && lasts_s > 0.0) {
            return None;
        }
        let course = Course {
            spaces: &exchange.spaces,
            relaxed_ml: &exchange.relaxed_ml,
            apparatus: &exchange.apparatus,
        };
        let mut round = Round { arterial: self.arterial, kept: 1.0, ..Round::default() };
        let mut owed_s = 0.0;
        for moved in breath {
            for (reached, space) in self.reached.iter_mut().zip(&exchange.spaces) {
                *reached |= moved.reached[space.compartment];
            }
            self.meet_blood(&mut round, owed_s + moved.step_s / 2.0);
            owed_s = moved.step_s / 2.0;
            let breathed = self.state.way.alone(&course, moved, self.now.fresh_gas);
            round.out_ml -= breathed.carbon_dioxide;
        }
        self.meet_blood(&mut round, owed_s);

        let returned = round.returned.part(1.0 / (lasts_s * self.pace));
        let used = oxygen_used(demand.oxygen_ml_s, flow * returned.oxygen);
        let made = match demand.oxygen_ml_s > 0.0 {
            true => demand.carbon_dioxide_ml_s * used / demand.oxygen_ml_s,
            false => demand.carbon_dioxide_ml_s,
        };
        let curves = &exchange.body.curves;
        let saturation = curves.saturation_of_content(returned.oxygen);
        let stated = curves.carbon_dioxide(arterial.as_mmhg(), saturation);
        self.venous = Content {
            carbon_dioxide: stated + made / flow,
            oxygen: (returned.oxygen - used / flow).max(0.0),
        };
        // What a breath's blood settles to from its own end: Cₐ = kept·Cₐ + rest.
        let settled = |first: f64, last: f64| (last - round.kept * first) / (1.0 - round.kept);
        self.arterial = Content {
            carbon_dioxide: settled(self.arterial.carbon_dioxide, round.arterial.carbon_dioxide),
            oxygen: settled(self.arterial.oxygen, round.arterial.oxygen),
        };
        let pace = round.out_ml / btps_per_stpd(exchange.barometric) / (made * lasts_s);
        if !(PACES.0..PACES.1).contains(&pace) {
            return None;
        }
        let off = (pace / self.pace - 1.0).abs();
        self.pace = pace;
        Some(off)
    }

    /// Blood of the venous content meets the gas for a time of the breath (s).
    fn meet_blood(&mut self, round: &mut Round, step_s: f64) {
        let (exchange, flow) = (self.exchange, self.now.demand.cardiac_output_ml_s);
        let step_s = step_s * self.pace;
        if step_s <= 0.0 {
            return;
        }
        let blood = Bloodstream {
            curves: &exchange.body.curves,
            venous: self.venous,
            flow_ml_s: flow * (1.0 - exchange.shunt),
            dry_mmhg: exchange.dry_mmhg(),
            btps: btps_per_stpd(exchange.barometric),
        };
        let mut returned = self.venous;
        for (gas, space) in self.state.way.spaces.iter_mut().zip(&exchange.spaces) {
            let crossing = gas.exchange(space, &blood, step_s);
            returned.carbon_dioxide -= crossing.carbon_dioxide / (flow * step_s);
            returned.oxygen -= crossing.oxygen / (flow * step_s);
        }
        round.returned.carbon_dioxide += returned.carbon_dioxide * step_s;
        round.returned.oxygen += returned.oxygen * step_s;
        let kept = exp(-flow * step_s / exchange.body.arterial_ml);
        let toward = |is: f64, goal: f64| goal + (is - goal) * kept;
        round.arterial = Content {
            carbon_dioxide: toward(round.arterial.carbon_dioxide, returned.carbon_dioxide),
            oxygen: toward(round.arterial.oxygen, returned.oxygen),
        };
        round.kept *= kept;
    }

    /// Puts the body to what was found, and the lung to the volume that it begins with.
    fn end(&mut self, held: &Held) {
        let (exchange, curves) = (self.exchange, &self.exchange.body.curves);
        let saturation = curves.saturation_of_content(self.venous.oxygen);
        let tissue = curves.carbon_dioxide_pressure(self.venous.carbon_dioxide, saturation);
        self.state.body.arterial = self.arterial;
        self.state.body.venous = self.venous;
        self.state.body.tissue_mmhg = [tissue; 2];
        let spaces = self.state.way.spaces.iter_mut().zip(&exchange.spaces);
        for ((gas, space), _) in spaces.zip(self.reached).filter(|(_, reached)| *reached) {
            let c = space.compartment;
            let volume = space.share * (exchange.relaxed_ml[c] + held.compartments_ml[c]);
            *gas = SpaceState::filled(space, gas.fractions(space), volume.max(space.residue_ml));
        }
    }
}

/// Sums over a breath.
#[derive(Default)]
struct Round {
    /// Content of blood that leaves the lung, times s.
    returned: Content,
    arterial: Content,
    /// Share of the arterial blood that the breath leaves.
    kept: f64,
    /// Carbon dioxide that left with the gas, mL.
    out_ml: f64,
}

/// Where oxygen goes: what is off shrinks by nearly the same share with each breath, so
/// the last two changes d tell the rest, λ/(1 − λ)·d (Aitken).
#[derive(Default)]
struct Guess {
    oxygen: [f64; MAX_SPACES],
    change: [f64; MAX_SPACES],
}

impl Guess {
    /// How far off oxygen is likely to be, as a share; goes there where `jump`.
    fn after(&mut self, spaces: &mut [SpaceState; MAX_SPACES], jump: bool) -> f64 {
        let oxygen = spaces.map(|gas| gas.oxygen);
        let change: [f64; MAX_SPACES] = std::array::from_fn(|i| oxygen[i] - self.oxygen[i]);
        let dot = |a: &[f64; MAX_SPACES], b: &[f64; MAX_SPACES]| -> f64 {
            a.iter().zip(b).map(|(a, b)| a * b).sum()
        };
        let before = dot(&self.change, &self.change);
        let kept = match before > 0.0 {
            true => (dot(&change, &self.change) / before).clamp(0.0, 0.95),
            false => 0.95,
        };
        let ahead = kept / (1.0 - kept);
        let size = dot(&oxygen, &oxygen).sqrt();
        let off = ahead.max(1.0) * dot(&change, &change).sqrt() / size.max(1e-9);
        (self.oxygen, self.change) = (oxygen, change);
        if jump {
            for (gas, change) in spaces.iter_mut().zip(change) {
                let more = (ahead * change).clamp(-0.5 * gas.oxygen, 0.5 * gas.other.max(0.0));
                gas.oxygen += more;
                gas.other -= more;
            }
            self.oxygen = spaces.map(|gas| gas.oxygen);
        }
        off
    }
}
