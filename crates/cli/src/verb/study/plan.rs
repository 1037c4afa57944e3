//! `tidewright plan`: settings for wanted breaths, with the real model.

use std::path::PathBuf;

use clap::{ArgGroup, Args};
use tidewright::quantity::{Flow, Mass, PartialPressure, Pressure, Seconds};
use tidewright::setup::Setup;
use tidewright_scenario::Scenario;
use tidewright_study::plan::{self, EndTidal, Goals, Pace, PlanError};

use crate::exit::Exit;
use crate::files::input::{self, shown};
use crate::files::output;
use crate::files::problem::Problem;
use crate::page::Page;

/// Find settings for wanted breaths, beside the rule of thumb
///
/// Takes patient and equipment from a scenario file and solves for fresh gas flow,
/// cycling pressure, expiratory time and a safe time limit. Beside them stands what
/// one works out in the head, with every part of the difference: what the circuit
/// and leaks take, and what tube, airway and trapped gas add to the pressure.
///
/// These are practice values for a simulated animal, never settings for a real one.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
#[command(group = ArgGroup::new("pace").required(true))]
pub struct Plan {
    /// Scenario file with patient and circuit, RON or JSON; - reads standard input
    #[arg(value_name = "SCENARIO")]
    scenario: PathBuf,

    /// Tidal volume for each kg of body weight
    #[arg(long, value_name = "ML/KG", default_value_t = Goals::default().tidal_volume_ml_kg, allow_negative_numbers = true)]
    tidal_volume_ml_kg: f64,

    /// Inspiratory time [default: a third of a breath]
    #[arg(long, value_name = "S", allow_negative_numbers = true)]
    inspiratory_time_s: Option<f64>,

    /// Breaths a minute
    #[arg(long, value_name = "RATE", group = "pace", allow_negative_numbers = true)]
    rate_per_min: Option<f64>,

    /// Or: gas for each minute and kg, which gives the rate
    #[arg(long, value_name = "ML", group = "pace", allow_negative_numbers = true)]
    minute_volume_ml_min_kg: Option<f64>,

    /// Or: the end-tidal carbon dioxide to settle at, breathed with the gas exchange of
    /// the scenario (or what is typical), which gives the rate
    #[arg(long, value_name = "MMHG", group = "pace", allow_negative_numbers = true)]
    end_tidal_co2_mmhg: Option<f64>,

    /// The airway pressure that must not be passed
    #[arg(long, value_name = "CMH2O", default_value_t = Goals::default().pressure_ceiling.as_cmh2o(), allow_negative_numbers = true)]
    pressure_ceiling_cmh2o: f64,

    /// The most that the flowmeter can give
    #[arg(long, value_name = "L/MIN", default_value_t = Goals::default().largest_fresh_gas_flow.as_l_per_min(), allow_negative_numbers = true)]
    largest_fresh_gas_flow_l_min: f64,

    /// Print one JSON object in full precision instead of the page
    #[arg(long)]
    json: bool,
}

const EXAMPLES: &str = "\
Examples:
  tidewright plan first.ron --rate-per-min 12
  tidewright plan first.ron --rate-per-min 12 --tidal-volume-ml-kg 8
  tidewright plan first.ron --minute-volume-ml-min-kg 200 --inspiratory-time-s 1.2
  tidewright plan first.ron --end-tidal-co2-mmhg 40
  tidewright plan first.ron --rate-per-min 15 --json > plan.json

The settings of the file's ventilator are replaced; what its timeline does later is
not looked at. Ends with code 1 if the goals cannot be met: the page then says what
it would take.";

impl Plan {
    /// Solves and prints.
    pub fn perform(self) -> Result<Exit, Problem> {
        let scenario = input::scenario(&self.scenario)?;
        input::no_own_drive(&scenario, &shown(&self.scenario))?;
        let equipment = scenario.protocol().start;
        let waiting = output::waiting("planning");
        let (goals, found) = match self.end_tidal_co2_mmhg {
            None => {
                let goals = self.goals(&scenario, self.pace());
                (goals, plan::plan(&equipment, &goals))
            }
            Some(mmhg) => self.breathed(&scenario, &equipment, PartialPressure::mmhg(mmhg))?,
        };
        let found = match found {
            Ok(plan) => Ok(plan),
            Err(PlanError::Infeasible(infeasible)) => Err(infeasible),
            Err(PlanError::Goal { what, value, unit, expected }) => {
                return Err(Problem::usage(
                    format!("the goal for the {what} is {value} {unit}"),
                    format!("write {expected}"),
                ));
            }
            Err(error) => {
                return Err(Problem::study(
                    format!("no plan for {}: {error}", shown(&self.scenario)),
                    "change what the file says of patient and equipment; `tidewright run` shows \
                     its breaths",
                ));
            }
        };
        drop(waiting);
        let exit = if found.is_ok() { Exit::Done } else { Exit::NotMet };
        if self.json {
            let object = match &found {
                Ok(plan) => plan::json(plan),
                Err(infeasible) => plan::infeasible_json(&goals, infeasible),
            };
            output::print(&format!("{object:#}\n"))?;
            return Ok(exit);
        }
        let text = match &found {
            Ok(plan) => plan::text(plan),
            Err(infeasible) => plan::infeasible_text(&goals, infeasible),
        };
        let mut page = Page::new();
        page.laid_out(&text);
        page.print()?;
        Ok(exit)
    }

    /// The plan for an end-tidal goal, breathed with the gas exchange of the scenario or
    /// what is typical.
    fn breathed(
        &self,
        scenario: &Scenario,
        equipment: &Setup,
        wanted: PartialPressure,
    ) -> Result<(Goals, Result<plan::Plan, PlanError>), Problem> {
        let why = |error: String| {
            let mend = "change what the file says of `gas`";
            Problem::study(format!("no plan for {}: {error}", shown(&self.scenario)), mend)
        };
        let gas = scenario.usual_gas_plan().map_err(|error| why(error.to_string()))?;
        let gas = gas.ok_or_else(|| why("it has no gas exchange".to_owned()))?;
        let goal = EndTidal::of(&gas.exchange, &gas.start.conditions, wanted);
        let goals = |pace| self.goals(scenario, pace);
        let found = plan::plan_end_tidal(equipment, goals, wanted, &gas);
        let met = found.as_ref().map_or(goal, |plan| match plan.goals.pace {
            Pace::EndTidal(met) => met,
            _ => goal,
        });
        Ok((goals(Pace::EndTidal(met)), found))
    }

    /// How fast, where no carbon dioxide is asked for.
    fn pace(&self) -> Pace {
        match (self.rate_per_min, self.minute_volume_ml_min_kg) {
            (Some(per_min), _) => Pace::Rate { per_min },
            (_, Some(ml_min_kg)) => Pace::MinuteVolume { ml_min_kg },
            // The command line asks for one of them.
            (None, None) => Goals::default().pace,
        }
    }

    fn goals(&self, scenario: &Scenario, pace: Pace) -> Goals {
        let weight = Mass::kg(scenario.patient.weight_kg);
        let goals = Goals {
            weight,
            tidal_volume_ml_kg: self.tidal_volume_ml_kg,
            pace,
            pressure_ceiling: Pressure::cmh2o(self.pressure_ceiling_cmh2o),
            largest_fresh_gas_flow: Flow::l_per_min(self.largest_fresh_gas_flow_l_min),
            ..Goals::default()
        };
        match self.inspiratory_time_s {
            Some(s) => Goals { inspiratory_time: Seconds::s(s), ..goals },
            None if goals.rate_per_min() > 0.0 => goals.with_usual_inspiration(),
            // The rate itself is what is wrong.
            None => goals,
        }
    }
}
