//! How fast to breathe for a wanted end-tidal carbon dioxide.

use tidewright::alveolar::{alveolar_ventilation_constant, btps_per_stpd};
use tidewright::coupled::{Coupled, GasPlan, GasSettings, Together};
use tidewright::exchange::{Conditions, Exchange, GasBreath};
use tidewright::quantity::{PartialPressure, Seconds, Volume};
use tidewright::run::{Protocol, Simulation};
use tidewright::setup::Setup;
use tidewright::steady::SteadyError;

use super::settle::settle;
use super::solve::{plan, stuck};
use super::{Goals, Obstacle, Pace, Plan, PlanError};

/// A wanted end-tidal carbon dioxide, and what it depends on.
///
/// Alveolar gas without inspired carbon dioxide has PCO₂ = 0.863·V̇CO₂/V̇A, and V̇A is
/// rate × (tidal volume − dead space of airway, tube and adapter). Real breaths need
/// another rate: gas leaves a lung when it is most diluted, alveoli without blood thin
/// what comes out, and at low fresh gas flows some is breathed again.
/// [`plan_end_tidal`] finds it by breathing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EndTidal {
    /// The end-tidal pressure wanted; above 0.
    pub carbon_dioxide: PartialPressure,
    /// Carbon dioxide made, mL/min STPD; above 0.
    pub production_ml_min: f64,
    /// Airway, tube and adapter, which hold no fresh gas at the end of expiration; 0 or
    /// more.
    pub dead_space: Volume,
    /// The rate, of what the mass balance gives; 1 as long as nothing was breathed.
    pub of_mass_balance: f64,
}

impl EndTidal {
    /// For a patient at a breathing system, by the mass balance alone.
    ///
    /// ```
    /// use tidewright::exchange::{Apparatus, Conditions, Exchange, Fractions};
    /// use tidewright::prelude::*;
    /// use tidewright::species::{Animal, Species};
    /// use tidewright_study::plan::EndTidal;
    /// let cat = Animal::typical(Species::Cat, Mass::kg(4.0));
    /// let exchange = Exchange::new(&cat, &cat.lung(), Apparatus::default())?;
    /// let now = Conditions::of(&cat, 38.0, Fractions::OXYGEN);
    /// let goal = EndTidal::of(&exchange, &now, PartialPressure::mmhg(40.0));
    /// let deep = goal.rate_per_min(Volume::ml(60.0));
    /// let shallow = goal.rate_per_min(Volume::ml(30.0));
    /// // Half the tidal volume takes more than twice the rate: the dead space stays.
    /// assert!(shallow > 2.1 * deep);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn of(exchange: &Exchange, now: &Conditions, carbon_dioxide: PartialPressure) -> Self {
        Self {
            carbon_dioxide,
            production_ml_min: 60.0 * now.demand.carbon_dioxide_ml_s,
            dead_space: Volume::ml(exchange.airway_ml + exchange.apparatus.adapter_ml),
            of_mass_balance: 1.0,
        }
    }

    /// Breaths a minute of a tidal volume; below 0 or without end where that is no
    /// more than the dead space.
    #[must_use]
    pub fn rate_per_min(&self, tidal_volume: Volume) -> f64 {
        let ventilation_l_min = alveolar_ventilation_constant() * self.production_ml_min
            / self.carbon_dioxide.as_mmhg();
        self.of_mass_balance * 1000.0 * ventilation_l_min / (tidal_volume - self.dead_space).as_ml()
    }
}

/// A rate is tried so often at most.
const MOST_RATES: u32 = 12;
/// End-tidal carbon dioxide within this share of the goal meets it.
const MET_WITHIN: f64 = 2e-3;

/// Solves for settings that end-tidal carbon dioxide settles at the goal with.
///
/// `goals` gives the goals at a rate, since the inspiratory time may follow it. Every
/// rate tried is planned and then breathed with the patient's gas exchange, until as
/// much carbon dioxide leaves as the body makes.
///
/// # Errors
/// As [`plan`]; [`Obstacle::EndTidalOutOfReach`] where no rate brings it there.
///
/// ```
/// use tidewright::prelude::*;
/// use tidewright_scenario::{DEMO, parse};
/// use tidewright_study::plan::{EndTidal, Goals, plan_end_tidal};
/// let text = DEMO.replace("duration_s", "gas: (adapter_ml: 10), duration_s");
/// let scenario = parse("gas.ron", &text)?;
/// let gas = scenario.gas_plan()?.unwrap();
/// let wanted = PartialPressure::mmhg(40.0);
/// let goals = |pace| Goals { pace, ..Goals::default() }.with_usual_inspiration();
/// let plan = plan_end_tidal(&scenario.protocol().start, goals, wanted, &gas)?;
/// let found = plan.end_tidal.unwrap().carbon_dioxide.as_mmhg();
/// assert!((found / 40.0 - 1.0).abs() < 0.005);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn plan_end_tidal(
    equipment: &Setup,
    goals: impl Fn(Pace) -> Goals,
    wanted: PartialPressure,
    gas: &GasPlan,
) -> Result<Plan, PlanError> {
    let mut goal = EndTidal::of(&gas.exchange, &gas.start.conditions, wanted);
    let wanted = wanted.as_mmhg();
    let mut arterial = wanted;
    let mut before: Option<(f64, f64)> = None;
    let mut nearest: Option<(f64, f64)> = None;
    for _ in 0..MOST_RATES {
        let found = plan(equipment, &goals(Pace::EndTidal(goal)));
        let mut found = match (found, nearest) {
            (Ok(found), _) => found,
            (Err(PlanError::Infeasible(mut why)), Some((rate_per_min, reached_mmhg))) => {
                let wanted_mmhg = wanted;
                let short =
                    Obstacle::EndTidalOutOfReach { wanted_mmhg, reached_mmhg, rate_per_min };
                why.obstacles.insert(0, short);
                return Err(PlanError::Infeasible(why));
            }
            (Err(error), _) => return Err(error),
        };
        let rate_per_min = found.goals.rate_per_min();
        let breathed = Breathed::of(&found.setup, gas, arterial)?;
        let Some(breathed) = breathed else {
            return Err(stuck(Obstacle::NoBalance { rate_per_min }));
        };
        arterial = breathed.arterial_carbon_dioxide.as_mmhg();
        let reached_mmhg = breathed.carbon_dioxide.as_mmhg();
        let off = tidewright::math::ln(reached_mmhg / wanted);
        if off.abs() <= MET_WITHIN {
            found.end_tidal = Some(breathed);
            return Ok(found);
        }
        let distance = |mmhg: f64| (mmhg - wanted).abs();
        if nearest.is_none_or(|(_, mmhg)| distance(reached_mmhg) < distance(mmhg)) {
            nearest = Some((rate_per_min, reached_mmhg));
        }
        // On logarithms the law is a straight line: once as it says, then as it was seen.
        let at = tidewright::math::ln(goal.of_mass_balance);
        let slope = before.map_or(-1.0, |(x, y)| (off - y) / (at - x)).clamp(-2.0, -0.2);
        before = Some((at, off));
        goal.of_mass_balance = tidewright::math::exp(at - (off / slope).clamp(-1.0, 1.0));
    }
    let (rate_per_min, reached_mmhg) = nearest.unwrap_or((f64::NAN, f64::NAN));
    Err(stuck(Obstacle::EndTidalOutOfReach { wanted_mmhg: wanted, reached_mmhg, rate_per_min }))
}

/// What the gas settles to with the settings of a plan.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Breathed {
    /// Highest carbon dioxide at the patient connection while gas came back.
    pub carbon_dioxide: PartialPressure,
    /// Arterial carbon dioxide in the body that is in balance.
    pub arterial_carbon_dioxide: PartialPressure,
    /// Carbon dioxide of all inspired gas together: above 0 some is breathed again.
    pub mean_inspired_carbon_dioxide: PartialPressure,
}

/// Breaths after which lung and limb go on as they are, and breaths that are measured.
const BREATHS: (u32, u32) = (30, 8);
/// Times the lung's gas is changed before anything is measured.
const CHANGES_OF_GAS: f64 = 8.0;
/// How often the body is set anew at most, and within what share it may still be off.
const TIMES: u32 = 8;
const CLOSE: f64 = 3e-4;
/// Arterial carbon dioxide from which on nobody would call a state steady, mmHg.
const HIGHEST_MMHG: f64 = 300.0;

impl Breathed {
    /// Breathes the settled breath of a setup until as much carbon dioxide leaves as the
    /// body makes, tried first from an arterial pressure (mmHg); `None` where it would
    /// rise beyond 300 mmHg.
    ///
    /// The body's stores take hours to fill. The flow out is proportional to the arterial
    /// pressure, so that is set anew by what is missing.
    fn of(setup: &Setup, gas: &GasPlan, arterial_mmhg: f64) -> Result<Option<Self>, PlanError> {
        let settled = settle(setup)?.1.breath;
        let lung_ml: f64 = gas.exchange.relaxed_ml.iter().sum();
        let tidal_ml = settled.inspired_tidal_volume.as_ml();
        let first = BREATHS.0.max((CHANGES_OF_GAS * lung_ml / tidal_ml).min(300.0) as u32);
        let breath_s = 60.0 / settled.rate_per_min();
        let protocol = Protocol {
            start: setup.clone(),
            changes: Vec::new(),
            duration: Seconds::s(breath_s * f64::from(first + BREATHS.1)),
        };
        let simulation = Simulation::new(&protocol)?;
        let from_s = breath_s * f64::from(first);
        let dry = gas.exchange.dry_mmhg();
        let mut plan = GasPlan {
            start: GasSettings { drive: None, ..gas.start },
            changes: Vec::new(),
            ..gas.clone()
        };
        let mut arterial = arterial_mmhg;
        let mut found = None;
        for _ in 0..TIMES {
            plan.arterial_carbon_dioxide = PartialPressure::mmhg(arterial);
            let mut coupled = Coupled::new(&simulation, Some(&plan))?;
            let mut tally = Tally::default();
            let made_so_far = |run: &Coupled<'_>| {
                run.gas().map_or(0.0, |gas| gas.ledger().carbon_dioxide.made_ml)
            };
            let mut made_before = None;
            while let Some(together) = coupled.next() {
                let Together { gas, .. } = together.map_err(SteadyError::from)?;
                for done in gas.into_iter().flat_map(|gas| gas.breaths) {
                    if done.start.as_s() >= from_s - 0.5 * breath_s && made_before.is_some() {
                        tally.add(&done);
                    }
                    if (done.start + done.duration).as_s() >= from_s - 0.5 * breath_s {
                        made_before.get_or_insert_with(|| made_so_far(&coupled));
                    }
                    tally.made = made_so_far(&coupled);
                }
            }
            let made = tally.made - made_before.unwrap_or_default();
            let out = tally.out / dry;
            let missing = made * btps_per_stpd(gas.exchange.barometric) / out.max(1e-9);
            let breaths = tally.breaths.max(1.0);
            found = Some(Self {
                carbon_dioxide: PartialPressure::mmhg(tally.highest / breaths * missing),
                arterial_carbon_dioxide: PartialPressure::mmhg(arterial * missing),
                mean_inspired_carbon_dioxide: PartialPressure::mmhg(
                    tally.inspired / breaths * missing,
                ),
            });
            arterial *= missing;
            if arterial.is_nan() || arterial > HIGHEST_MMHG {
                return Ok(None);
            }
            if (missing - 1.0).abs() < CLOSE {
                break;
            }
        }
        Ok(found)
    }
}

/// Carbon dioxide of breaths: sums.
#[derive(Default)]
struct Tally {
    breaths: f64,
    /// End-tidal and mean inspired, mmHg.
    highest: f64,
    inspired: f64,
    /// What left on the whole, mL BTPS times mmHg.
    out: f64,
    /// Made by the end of the last breath, mL STPD.
    made: f64,
}

impl Tally {
    fn add(&mut self, breath: &GasBreath) {
        let mean_in = breath.mean_inspired_carbon_dioxide.as_mmhg();
        let mean_out = breath.mixed_expired_carbon_dioxide.as_mmhg();
        self.breaths += 1.0;
        self.highest += breath.end_tidal_carbon_dioxide.as_mmhg();
        self.inspired += mean_in;
        self.out += mean_out * breath.expired.as_ml() - mean_in * breath.inspired.as_ml();
    }
}
