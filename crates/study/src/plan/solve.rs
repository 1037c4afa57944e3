//! The equations of a plan.

use tidewright::breath::{Breath, EndedBy};
use tidewright::machine::Machine;
use tidewright::quantity::{Compliance, Flow, Pressure, Seconds};
use tidewright::setup::{SensorPlace, Setup, Ventilator};
use tidewright::steady::{Periodic, SteadyError};

use super::error::LongerTime;
use super::settle::settle;
use super::time_limit::{safe_limit, time_limit};
use super::{
    EndTidal, Goals, Infeasible, Obstacle, Pace, Plan, PlanError, RuleOfThumb, sensitivity,
};
use crate::inspiration::account;
use crate::root::rising_root;

/// Shorter than this no ventilator opens its valve, s.
const SHORTEST_EXPIRATORY_TIME_S: f64 = 0.02;
/// A pressure that is never reached, cmH2O: the inspiration is ended by time.
const NEVER: Pressure = Pressure::cmh2o(1e9);
/// How closely a settled breath must meet the goals, relative.
const MET_WITHIN: f64 = 1e-4;

/// Solves for the settings that meet the goals with this patient and equipment.
///
/// Fresh gas flow, cycling pressure, expiratory time and inspiratory time limit of
/// `equipment` are replaced; everything else is kept.
///
/// # Errors
/// [`PlanError::Infeasible`] with every obstacle and what is within reach; a goal
/// or setup out of range; breaths that do not settle.
///
/// ```
/// use tidewright::prelude::*;
/// use tidewright_study::plan::{Goals, plan};
/// let goals = Goals::default();
/// let plan = plan(&Setup::default(), &goals)?;
/// let breath = tidewright::steady::periodic(&Machine::new(plan.setup.clone())?)?.breath;
/// assert!((breath.inspired_tidal_volume.as_ml() / 40.0 - 1.0).abs() < 1e-6);
/// assert!((breath.inspiratory_time.as_s() / 1.5 - 1.0).abs() < 1e-6);
/// assert!((breath.rate_per_min() / 15.0 - 1.0).abs() < 1e-6);
/// assert_eq!(breath.ended_by, EndedBy::Pressure);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn plan(equipment: &Setup, goals: &Goals) -> Result<Plan, PlanError> {
    check(equipment, goals)?;
    let early = equipment.ventilator.valve_delay;
    check_time(goals)?;
    let inspiratory_time_s = goals.inspiratory_time.as_s();
    if early >= goals.inspiratory_time {
        let delay_s = early.as_s();
        return Err(stuck(Obstacle::ValveTooSlow { delay_s, inspiratory_time_s }));
    }

    let held = Held { equipment, goals };
    let mut rule_of_thumb = rule_of_thumb(equipment, goals);
    let wanted_ml = goals.tidal_volume().as_ml();
    let most = held.flow_where(rule_of_thumb.fresh_gas_flow, |breath| {
        breath.inspired_tidal_volume.as_ml() - wanted_ml
    })?;
    let flow = most.map_err(|(tried, breath)| {
        stuck(Obstacle::VolumeOutOfReach {
            wanted_ml,
            tried_l_min: tried.as_l_per_min(),
            reached_ml: breath.inspired_tidal_volume.as_ml(),
        })
    })?;

    let (machine, settled) = held.breath(flow)?;
    let (gas, pressure) = account(&machine, &settled, early)?;
    held.within_limits(flow, &settled.breath)?;

    let mut setup = held.setup(flow);
    setup.ventilator.cycling_pressure = pressure.sensed;
    let time_limit = time_limit(&setup, goals)?;
    setup.ventilator.inspiratory_time_limit = time_limit.limit;
    let breath = settle(&setup)?.1.breath;
    if !meets(&breath, goals) {
        let why = match setup.circuit.sensor.place {
            SensorPlace::Cut(_) => "at all times",
            _ => "before that too",
        };
        return Err(stuck(Obstacle::SensorDoesNotTell {
            sensed_cmh2o: pressure.sensed.as_cmh2o(),
            why,
            inspiratory_time_s,
        }));
    }
    let sensitivity = sensitivity::sensitivity(&setup)?;
    rule_of_thumb.breath = by_rule(&setup, &rule_of_thumb);
    Ok(Plan {
        goals: *goals,
        setup,
        breath,
        rule_of_thumb,
        gas,
        pressure,
        sensitivity,
        time_limit,
        end_tidal: None,
    })
}

/// The settings that the rule of thumb gives, with its time limit: 1.5 times the
/// inspiratory time, or less where 20 mL/kg would flow.
///
/// # Errors
/// A goal out of range, or no time left to breathe out.
pub fn settings_by_rule(equipment: &Setup, goals: &Goals) -> Result<Ventilator, PlanError> {
    check(equipment, goals)?;
    check_time(goals)?;
    let rule = rule_of_thumb(equipment, goals);
    Ok(Ventilator {
        fresh_gas_flow: rule.fresh_gas_flow,
        cycling_pressure: rule.cycling_pressure,
        expiratory_time: rule.expiratory_time,
        inspiratory_time_limit: safe_limit(rule.fresh_gas_flow, goals).limit,
        ..equipment.ventilator
    })
}

/// Whether the rate leaves time to breathe out.
fn check_time(goals: &Goals) -> Result<(), PlanError> {
    let (inspiratory_time_s, left_s) =
        (goals.inspiratory_time.as_s(), goals.expiratory_time().as_s());
    if left_s >= SHORTEST_EXPIRATORY_TIME_S {
        return Ok(());
    }
    Err(stuck(Obstacle::NoTimeToBreatheOut {
        rate_per_min: goals.rate_per_min(),
        inspiratory_time_s,
        left_s,
        fastest_per_min: 60.0 / (inspiratory_time_s + SHORTEST_EXPIRATORY_TIME_S),
    }))
}

pub(super) fn stuck(obstacle: Obstacle) -> PlanError {
    PlanError::Infeasible(Box::new(Infeasible { obstacles: vec![obstacle], within_reach: None }))
}

/// The equipment with its inspirations ended by time, after the wanted one.
struct Held<'a> {
    equipment: &'a Setup,
    goals: &'a Goals,
}

impl Held<'_> {
    fn setup(&self, flow: Flow) -> Setup {
        self.setup_for(flow, self.goals.inspiratory_time, self.goals.expiratory_time())
    }

    fn setup_for(&self, flow: Flow, inspiratory: Seconds, expiratory: Seconds) -> Setup {
        let mut setup = self.equipment.clone();
        setup.ventilator.fresh_gas_flow = flow;
        setup.ventilator.cycling_pressure = NEVER;
        setup.ventilator.inspiratory_time_limit = inspiratory;
        setup.ventilator.expiratory_time = expiratory;
        setup
    }

    fn breath(&self, flow: Flow) -> Result<(Machine, Periodic), PlanError> {
        settle(&self.setup(flow))
    }

    /// The flow at which a rising measure of the breath is zero, or the largest flow
    /// tried and its breath.
    fn flow_where(
        &self,
        guess: Flow,
        measure: impl Fn(&Breath) -> f64,
    ) -> Result<Result<Flow, (Flow, Breath)>, PlanError> {
        let most = (20.0 * guess.as_ml_s()).max(2.0 * self.goals.largest_fresh_gas_flow.as_ml_s());
        let tolerance = 1e-12 * self.goals.tidal_volume().as_ml();
        let at = |ml_s: f64| -> Result<f64, PlanError> {
            Ok(measure(&self.breath(Flow::ml_s(ml_s))?.1.breath))
        };
        match rising_root(at, guess.as_ml_s(), most, tolerance)? {
            Some(ml_s) => Ok(Ok(Flow::ml_s(ml_s))),
            None => {
                let flow = Flow::ml_s(most);
                Ok(Err((flow, self.breath(flow)?.1.breath)))
            }
        }
    }

    /// Whether flow and pressure stay below their limits, and what does if not.
    fn within_limits(&self, needed: Flow, breath: &Breath) -> Result<(), PlanError> {
        let (largest, ceiling) = (self.goals.largest_fresh_gas_flow, self.goals.pressure_ceiling);
        let mut obstacles = Vec::new();
        let mut within_reach: Option<Breath> = None;
        let mut reached = |breath: Breath| {
            let volume = |breath: &Breath| breath.inspired_tidal_volume;
            if within_reach.is_none_or(|before| volume(&breath) < volume(&before)) {
                within_reach = Some(breath);
            }
            volume(&breath).as_ml()
        };
        if needed > largest {
            obstacles.push(Obstacle::FlowBeyondDesign {
                needed_l_min: needed.as_l_per_min(),
                largest_l_min: largest.as_l_per_min(),
                reached_ml: reached(self.breath(largest)?.1.breath),
                longer_s: LongerTime(self.longer(largest)?),
            });
        }
        if breath.peak_pressure > ceiling {
            let over = |breath: &Breath| breath.peak_pressure.as_cmh2o() - ceiling.as_cmh2o();
            // The peak rises with the flow, and at the flow needed it is too high.
            if let Ok(flow) = self.flow_where(needed * 0.5, over)? {
                obstacles.push(Obstacle::PressureAboveCeiling {
                    needed_cmh2o: breath.peak_pressure.as_cmh2o(),
                    ceiling_cmh2o: ceiling.as_cmh2o(),
                    reached_ml: reached(self.breath(flow)?.1.breath),
                });
            }
        }
        if obstacles.is_empty() {
            return Ok(());
        }
        Err(PlanError::Infeasible(Box::new(Infeasible { obstacles, within_reach })))
    }

    /// The inspiratory time in which a flow brings the volume, if the rate allows one.
    fn longer(&self, flow: Flow) -> Result<Option<f64>, PlanError> {
        let whole_s = 60.0 / self.goals.rate_per_min();
        let wanted = self.goals.tidal_volume().as_ml();
        let at = |s: f64| {
            let left = Seconds::s(whole_s - s);
            let setup = self.setup_for(flow, Seconds::s(s), left);
            Ok::<_, PlanError>(settle(&setup)?.1.breath.inspired_tidal_volume.as_ml() - wanted)
        };
        let most = whole_s - SHORTEST_EXPIRATORY_TIME_S;
        rising_root(at, self.goals.inspiratory_time.as_s(), most, 1e-9 * wanted)
    }
}

fn meets(breath: &Breath, goals: &Goals) -> bool {
    let near = |value: f64, wanted: f64| (value / wanted - 1.0).abs() <= MET_WITHIN;
    breath.ended_by == EndedBy::Pressure
        && near(breath.inspired_tidal_volume.as_ml(), goals.tidal_volume().as_ml())
        && near(breath.inspiratory_time.as_s(), goals.inspiratory_time.as_s())
        && near(breath.rate_per_min(), goals.rate_per_min())
}

fn rule_of_thumb(equipment: &Setup, goals: &Goals) -> RuleOfThumb {
    let lung = equipment.lung.total_compliance().as_ml_per_cmh2o();
    let compliance = match &equipment.lung.chest_wall {
        Some(wall) => 1.0 / (1.0 / lung + 1.0 / wall.compliance.as_ml_per_cmh2o()),
        None => lung,
    };
    let pressure = equipment.ventilator.end_expiratory_pressure;
    RuleOfThumb::of(goals, Compliance::ml_per_cmh2o(compliance), pressure)
}

/// The breath of the rule's settings, with the time limit of the plan.
fn by_rule(setup: &Setup, rule: &RuleOfThumb) -> Option<Breath> {
    let mut setup = setup.clone();
    setup.ventilator.fresh_gas_flow = rule.fresh_gas_flow;
    setup.ventilator.cycling_pressure = rule.cycling_pressure;
    settle(&setup).ok().map(|(_, settled)| settled.breath)
}

fn check_end_tidal(goal: EndTidal, goals: &Goals) -> Result<(), PlanError> {
    let pressure = goal.carbon_dioxide.as_mmhg();
    if !(1.0..=500.0).contains(&pressure) {
        return Err(PlanError::Goal {
            what: "end-tidal carbon dioxide",
            value: pressure,
            unit: "mmHg",
            expected: "a number from 1 to 500",
        });
    }
    if goals.tidal_volume() <= goal.dead_space {
        return Err(PlanError::Goal {
            what: "tidal volume",
            value: goals.tidal_volume_ml_kg,
            unit: "mL/kg",
            expected: "more than the dead space of airway, tube and adapter, or no carbon dioxide \
                       gets out",
        });
    }
    Ok(())
}

fn check(equipment: &Setup, goals: &Goals) -> Result<(), PlanError> {
    const ABOVE_0: &str = "a number above 0, at most 1e6";
    let pace = match goals.pace {
        Pace::Rate { per_min } => ("rate", per_min, "1/min"),
        Pace::MinuteVolume { ml_min_kg } => ("minute volume", ml_min_kg, "mL/(min·kg)"),
        Pace::EndTidal(goal) => {
            check_end_tidal(goal, goals)?;
            ("rate", goals.rate_per_min(), "1/min")
        }
    };
    let flow = goals.largest_fresh_gas_flow.as_l_per_min();
    let goals_above_0 = [
        ("weight", goals.weight.as_kg(), "kg"),
        ("tidal volume", goals.tidal_volume_ml_kg, "mL/kg"),
        ("inspiratory time", goals.inspiratory_time.as_s(), "s"),
        pace,
        ("largest fresh gas flow", flow, "L/min"),
    ];
    for (what, value, unit) in goals_above_0 {
        if !(value > 0.0 && value <= 1e6) {
            return Err(PlanError::Goal { what, value, unit, expected: ABOVE_0 });
        }
    }
    let ceiling = goals.pressure_ceiling;
    if !(ceiling > equipment.ventilator.end_expiratory_pressure && ceiling.as_cmh2o() <= 1e6) {
        return Err(PlanError::Goal {
            what: "pressure ceiling",
            value: ceiling.as_cmh2o(),
            unit: "cmH2O",
            expected: "above the end-expiratory pressure",
        });
    }
    if equipment.ventilator.mode == tidewright::setup::Mode::Standby {
        return Err(SteadyError::Standby.into());
    }
    Ok(())
}
