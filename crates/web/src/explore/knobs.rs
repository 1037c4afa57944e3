//! What may be turned.

use serde_json::{Value, json};
use tidewright::setup::Setup;
use tidewright_scenario::Scenario;
use tidewright_scenario::format::{Compartment, Leak, LeakLaw, Lung};

/// Something that may be turned.
pub struct Knob {
    /// Its name in a link.
    pub name: &'static str,
    /// What it is called.
    words: &'static str,
    unit: &'static str,
    /// Its word in the glossary.
    term: &'static str,
    /// Where it stands.
    read: fn(&Scenario, &Setup) -> f64,
    /// How far it goes: as many times what it is at first, or up to this where it is
    /// nothing at first.
    reach: Reach,
    /// Turns it.
    pub turn: fn(&mut Scenario, f64),
}

/// How far a slider goes.
#[derive(Clone, Copy)]
enum Reach {
    /// From the one part of what it is at first to as many times that.
    Times(f64, f64),
    /// From 0 to this at least.
    To(f64),
}

/// The pressure at which a leak is stated, cmH2O: as leak tests state it.
const LEAK_AT_CMH2O: f64 = 30.0;

/// Everything that may be turned.
pub const KNOBS: [Knob; 8] = [
    Knob {
        name: "flow",
        words: "fresh gas flow",
        unit: "L/min",
        term: "fresh gas flow",
        read: |scenario, _| scenario.ventilator.fresh_gas_flow_l_min,
        reach: Reach::Times(0.25, 4.0),
        turn: |scenario, value| scenario.ventilator.fresh_gas_flow_l_min = value,
    },
    Knob {
        name: "pressure",
        words: "cycling pressure",
        unit: "cmH2O",
        term: "cycling pressure",
        read: |scenario, _| scenario.ventilator.cycling_pressure_cmh2o,
        reach: Reach::Times(0.3, 2.5),
        turn: |scenario, value| scenario.ventilator.cycling_pressure_cmh2o = value,
    },
    Knob {
        name: "expiration",
        words: "expiratory time",
        unit: "s",
        term: "expiratory time",
        read: |scenario, _| scenario.ventilator.expiratory_time_s,
        reach: Reach::Times(0.1, 2.5),
        turn: |scenario, value| scenario.ventilator.expiratory_time_s = value,
    },
    Knob {
        name: "limit",
        words: "inspiratory time limit",
        unit: "s",
        term: "inspiratory time limit",
        read: |scenario, _| scenario.ventilator.inspiratory_time_limit_s,
        reach: Reach::Times(0.2, 3.0),
        turn: |scenario, value| scenario.ventilator.inspiratory_time_limit_s = value,
    },
    Knob {
        name: "peep",
        words: "end-expiratory pressure",
        unit: "cmH2O",
        term: "baseline pressure",
        read: |scenario, _| scenario.ventilator.end_expiratory_pressure_cmh2o,
        reach: Reach::To(5.0),
        turn: |scenario, value| scenario.ventilator.end_expiratory_pressure_cmh2o = value,
    },
    Knob {
        name: "compliance",
        words: "compliance",
        unit: "mL/cmH2O",
        term: "compliance",
        read: |_, start| start.lung.total_compliance().as_ml_per_cmh2o(),
        reach: Reach::Times(0.2, 2.0),
        turn: |scenario, value| {
            let (_, resistance) = lung(scenario);
            set_lung(scenario, value, resistance);
        },
    },
    Knob {
        name: "resistance",
        words: "resistance",
        unit: "cmH2O·s/L",
        term: "resistance",
        read: |_, start| resistance(start),
        reach: Reach::Times(0.2, 8.0),
        turn: |scenario, value| {
            let (compliance, _) = lung(scenario);
            set_lung(scenario, compliance, value);
        },
    },
    Knob {
        name: "leak",
        words: "leak at 30 cmH2O",
        unit: "mL/min",
        term: "leak",
        read: |scenario, _| scenario.circuit.leak.as_ref().map_or(0.0, |leak| leak.ml_min),
        reach: Reach::To(6000.0),
        turn: |scenario, value| {
            let law = scenario.circuit.leak.as_ref().map(|leak| leak.law);
            scenario.circuit.leak = (value > 0.0).then(|| Leak {
                ml_min: value,
                at_cmh2o: LEAK_AT_CMH2O,
                law: law.unwrap_or(LeakLaw::Linear),
            });
        },
    },
];

/// Compliance, mL/cmH2O, and resistance, cmH2O·s/L, of the lung as it is.
fn lung(scenario: &Scenario) -> (f64, f64) {
    let start = scenario.protocol_without_faults().start;
    (start.lung.total_compliance().as_ml_per_cmh2o(), resistance(&start))
}

/// The resistance that leads to the lung as a whole, cmH2O·s/L: of compartments side by
/// side, as of paths side by side.
fn resistance(start: &Setup) -> f64 {
    let open = start.lung.compartments.iter().filter(|part| !part.shut);
    let conductance: f64 = open.map(|part| 1.0 / part.resistance.as_cmh2o_s_per_l()).sum();
    if conductance > 0.0 { 1.0 / conductance } else { 0.0 }
}

fn set_lung(scenario: &mut Scenario, compliance: f64, resistance: f64) {
    scenario.patient.lung = Some(Lung::Single(Compartment::plain(compliance, resistance)));
}

impl Knob {
    /// Where it stands and how far it goes, in round steps.
    pub fn to_json(&self, scenario: &Scenario) -> Value {
        let at = (self.read)(scenario, &scenario.protocol_without_faults().start);
        let (least, most) = match self.reach {
            Reach::Times(least, most) => (least * at, most * at),
            Reach::To(most) => (0.0, most.max(2.0 * at)),
        };
        let step = round_step((most - least) / 100.0);
        let least = (least / step).floor().max(if least > 0.0 { 1.0 } else { 0.0 }) * step;
        let most = (most / step).ceil() * step;
        json!({
            "name": self.name, "words": self.words, "unit": self.unit, "term": self.term,
            "at": at, "least": tidy(least), "most": tidy(most), "step": tidy(step),
        })
    }
}

/// 1, 2 or 5 times a power of ten, nearest below.
fn round_step(step: f64) -> f64 {
    let mut power = 1e-6;
    while power * 10.0 <= step {
        power *= 10.0;
    }
    let steps = [5.0, 2.0, 1.0].map(|times| times * power);
    steps.into_iter().find(|&round| round <= step * (1.0 + 1e-9)).unwrap_or(power)
}

/// Without the dust of rounding.
fn tidy(value: f64) -> f64 {
    (value * 1e6).round() / 1e6
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_knob_stands_within_its_reach_and_reads_what_it_was_turned_to() {
        let scenario = tidewright_scenario::parse("demo.ron", tidewright_scenario::DEMO);
        let mut scenario = scenario.expect("a scenario");
        for knob in &KNOBS {
            let told = knob.to_json(&scenario);
            let number = |field: &str| told[field].as_f64().expect("a number");
            assert!((number("least")..=number("most")).contains(&number("at")), "{told}");
            assert!(number("most") / number("step") > 20.0, "{told}");
            assert!(tidewright_training::glossary::find(knob.term).is_some(), "{told}");
            let to = number("most");
            (knob.turn)(&mut scenario, to);
            let read = (knob.read)(&scenario, &scenario.protocol_without_faults().start);
            assert!((read - to).abs() < 1e-9 * to, "{told}: {read}");
        }
    }

    #[test]
    fn steps_are_round() {
        for (step, round) in [(0.07, 0.05), (1.0, 1.0), (0.2, 0.2), (99.0, 50.0), (3.0, 2.0)] {
            assert!((round_step(step) - round).abs() < 1e-9 * round, "{step}");
        }
    }
}
