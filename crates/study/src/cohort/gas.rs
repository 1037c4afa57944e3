//! The gas of a patient of a cohort, followed for a while: what it came to.

use tidewright::coupled::{Coupled, GasLimits, GasTotals};
use tidewright::exchange::Exchange;
use tidewright::fault::{self, with_faults};
use tidewright::quantity::Seconds;
use tidewright::run::{Protocol, Simulation};
use tidewright::setup::Setup;
use tidewright_scenario::Scenario;
use tidewright_scenario::format::TimedFault;

use super::file::Gas;

/// From so long without a breath on an animal is apnoeic, s (common practice, no source).
pub const APNOEIC_AFTER_S: f64 = 20.0;

/// What the gas of a patient came to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Outcome {
    /// Lowest oxygen saturation of arterial haemoglobin, %.
    pub lowest_spo2_percent: f64,
    /// Highest end-tidal carbon dioxide of a breath, mmHg; 0 without any.
    pub highest_end_tidal_co2_mmhg: f64,
    /// Time from the start of a breath to the next where that is longer than
    /// [`APNOEIC_AFTER_S`], all together, s.
    pub time_apnoeic_s: f64,
    /// Longest time from the start of a breath to the next, s.
    pub longest_without_breath_s: f64,
}

impl Outcome {
    /// The names of its numbers, as columns have them.
    pub const NAMES: [&'static str; 4] = [
        "lowest_spo2_percent",
        "highest_end_tidal_co2_mmhg",
        "time_apnoeic_s",
        "longest_without_breath_s",
    ];

    /// Its numbers, in the order of their names.
    #[must_use]
    pub const fn numbers(&self) -> [f64; 4] {
        [
            self.lowest_spo2_percent,
            self.highest_end_tidal_co2_mmhg,
            self.time_apnoeic_s,
            self.longest_without_breath_s,
        ]
    }

    pub(super) const fn of([spo2, end_tidal, apnoeic, longest]: [f64; 4]) -> Self {
        Self {
            lowest_spo2_percent: spo2,
            highest_end_tidal_co2_mmhg: end_tidal,
            time_apnoeic_s: apnoeic,
            longest_without_breath_s: longest,
        }
    }

    /// Whether it passes a limit of the file.
    pub(super) fn harms(&self, gas: &Gas) -> bool {
        gas.lowest_spo2_percent.is_some_and(|least| self.lowest_spo2_percent < least)
            || gas
                .highest_end_tidal_co2_mmhg
                .is_some_and(|most| self.highest_end_tidal_co2_mmhg > most)
            || gas.time_apnoeic_s.is_some_and(|most| self.time_apnoeic_s > most)
    }
}

/// Follows a patient of a weight (kg) with a setup of its own.
pub(super) fn follow(
    base: &Scenario,
    gas: &Gas,
    weight_kg: f64,
    setup: &Setup,
) -> Result<Outcome, String> {
    let say = |error: &dyn std::error::Error| error.to_string();
    let mut scenario = base.clone();
    scenario.patient.weight_kg = weight_kg;
    let plan = scenario.usual_gas_plan().map_err(|error| say(&error))?;
    let mut plan = plan.ok_or("the base has no gas")?;
    let healthy =
        Protocol { start: setup.clone(), changes: vec![], duration: Seconds::s(gas.duration_s) };
    let faults: Vec<fault::TimedFault> = gas.faults.iter().map(TimedFault::to_core).collect();
    let protocol = with_faults(&healthy, &faults);
    // Of the lung that is run: what a fault needs is there from the start.
    let usual = plan.exchange;
    let lung = &protocol.start.lung;
    plan.exchange =
        Exchange::new(&plan.animal, lung, usual.apparatus).map_err(|error| say(&error))?;
    plan.exchange.shunt = usual.shunt;
    plan.exchange.airway_ml = usual.airway_ml;
    plan.exchange.set_alveolar_dead_space(usual.alveolar_dead_space());
    let simulation = Simulation::new(&protocol).map_err(|error| say(&error))?;
    let mut totals = GasTotals::new(GasLimits::default());
    let (mut since_s, mut apnoeic_s) = (0.0, 0.0);
    let mut counted = |gap_s: f64| {
        if gap_s > APNOEIC_AFTER_S {
            apnoeic_s += gap_s;
        }
    };
    for together in Coupled::new(&simulation, Some(&plan)).map_err(|error| say(&error))? {
        let together = together.map_err(|error| say(&error))?;
        let Some(stretch) = together.gas else { continue };
        totals.take(&stretch);
        counted(stretch.breath_since_s - since_s);
        since_s = stretch.breath_since_s;
    }
    counted(gas.duration_s - since_s);
    Ok(Outcome {
        lowest_spo2_percent: 100.0 * totals.lowest_saturation.unwrap_or(1.0),
        highest_end_tidal_co2_mmhg: totals.highest_end_tidal_mmhg.unwrap_or(0.0),
        time_apnoeic_s: apnoeic_s,
        longest_without_breath_s: totals.longest_without_breath_s,
    })
}
