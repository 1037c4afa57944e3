//! The patient of a seed: near the scenario's own, with the same lesson in it.

use tidewright::breath::EndedBy;
use tidewright::random;
use tidewright_scenario::format::{Change, Compartment, Lung, Scenario};

use super::{Answer, Arrow, answers};
use crate::draw::DrawFileError;
use crate::plot::ticks::number;

/// How far compliance, resistance and weight may go, as factors.
const LIMITS: (f64, f64) = (0.8, 1.25);
/// The same for fresh gas flow.
const FLOW_LIMITS: (f64, f64) = (0.9, 1.1);
/// Spread of a factor before it is held within its limits.
const SPREAD: f64 = 0.08;
/// Patients tried until one shows what the scenario shows.
const MOST_TRIES: u32 = 200;

/// A scenario with a patient of its own.
pub(super) struct Individual {
    pub scenario: Scenario,
    pub answers: Vec<Answer>,
    /// How it differs from the file, in words.
    pub differs: Vec<String>,
}

impl Individual {
    /// The patient of a seed; seed 0 is the scenario as it stands.
    pub fn new(scenario: &Scenario, seed: u64) -> Result<Self, DrawFileError> {
        let own = answers(scenario);
        if seed == 0 {
            let scenario = scenario.clone();
            return Ok(Self { scenario, answers: own, differs: Vec::new() });
        }
        let mut generator = random::generator(seed);
        let mut factor = |(low, high): (f64, f64)| {
            (1.0 + SPREAD * random::standard_normal(&mut generator)).clamp(low, high)
        };
        for _ in 0..MOST_TRIES {
            let factors = Factors {
                compliance: factor(LIMITS),
                resistance: factor(LIMITS),
                weight: factor(LIMITS),
                flow: factor(FLOW_LIMITS),
            };
            let (scenario, differs) = factors.put_into(scenario);
            let answers = answers(&scenario);
            if same_lesson(&own, &answers) {
                return Ok(Self { scenario, answers, differs });
            }
        }
        Err(DrawFileError::NoPatient { seed })
    }
}

/// Whether breaths end in the same way and no measure goes the other way.
fn same_lesson(own: &[Answer], other: &[Answer]) -> bool {
    let opposite = |a: Arrow, b: Arrow| a != b && a != Arrow::Same && b != Arrow::Same;
    own.iter().zip(other).all(|(own, other)| match (&own.measures, &other.measures) {
        (None, None) => true,
        (Some(a), Some(b)) => {
            let pairs = a.values.iter().zip(&b.values);
            let ends: [(EndedBy, EndedBy); 2] = [a.ended_by, b.ended_by];
            ends[0] == ends[1]
                && !pairs.into_iter().any(|(&a, &b)| opposite(Arrow::of(a), Arrow::of(b)))
        }
        _ => false,
    })
}

struct Factors {
    compliance: f64,
    resistance: f64,
    weight: f64,
    flow: f64,
}

impl Factors {
    fn put_into(&self, scenario: &Scenario) -> (Scenario, Vec<String>) {
        let mut scenario = scenario.clone();
        let mut differs = Vec::new();
        let mut told = |name: &str, now: f64, was: f64, unit: &str| {
            if number(now) != number(was) {
                differs.push(format!("{name} {} {unit} instead of {}", number(now), number(was)));
            }
        };
        let flow_l_min = scenario.ventilator.fresh_gas_flow_l_min;
        scenario.ventilator.fresh_gas_flow_l_min = self.flow(flow_l_min);
        told("fresh gas flow", self.flow(flow_l_min), flow_l_min, "L/min");
        let weight_kg = scenario.patient.weight_kg;
        match &mut scenario.patient.lung {
            Some(lung) => {
                self.vary(lung);
                for (name, factor) in
                    [("compliance", self.compliance), ("resistance", self.resistance)]
                {
                    if number(factor) != number(1.0) {
                        differs.push(format!("{name} × {}", number(factor)));
                    }
                }
            }
            // A typical lung follows from the weight.
            None => {
                scenario.patient.weight_kg = rounded(weight_kg * self.weight);
                told("weight", scenario.patient.weight_kg, weight_kg, "kg");
            }
        }
        for entry in &mut scenario.timeline {
            match &mut entry.set {
                Change::Lung(lung) => self.vary(lung),
                Change::FreshGasFlow(flow) => flow.l_min = self.flow(flow.l_min),
                _ => (),
            }
        }
        (scenario, differs)
    }

    fn flow(&self, l_min: f64) -> f64 {
        rounded(l_min * self.flow)
    }

    fn vary(&self, lung: &mut Lung) {
        let parts: &mut [Compartment] = match lung {
            Lung::Single(only) => std::slice::from_mut(only),
            Lung::Compartments(lung) => &mut lung.compartments,
        };
        for part in parts {
            part.compliance_ml_cmh2o *= self.compliance;
            part.resistance_cmh2o_s_l *= self.resistance;
        }
    }
}

/// A number that can be read off a scale: two figures, three from 10 on.
fn rounded(value: f64) -> f64 {
    let step = if value < 1.0 {
        0.01
    } else if value < 10.0 {
        0.1
    } else {
        1.0
    };
    (value / step).round() * step
}
