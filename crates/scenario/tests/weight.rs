//! A patient of another weight: what follows it, what stays, and what the story says.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

use std::path::Path;

use tidewright::quantity::Mass;
use tidewright::species::{Animal, Parameter, Species};
use tidewright_scenario::format::{Effort, Lung, Tube};
use tidewright_scenario::{Scenario, parse};

fn shipped() -> Vec<Scenario> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../scenarios");
    let folders = [root.clone(), root.join("training")];
    let files = folders.iter().flat_map(|folder| std::fs::read_dir(folder).unwrap());
    let paths = files.map(|entry| entry.unwrap().path());
    let paths = paths.filter(|path| path.extension().is_some_and(|end| end == "ron"));
    let all: Vec<Scenario> = paths
        .map(|path| {
            let text = std::fs::read_to_string(&path).unwrap();
            parse(path.to_str().unwrap(), &text).unwrap()
        })
        .collect();
    assert!(all.len() > 30);
    all
}

fn written(patient: &str, more: &str) -> Scenario {
    let text = format!(
        r#"Scenario(format: 1, id: "one", duration_s: 60, patient: (species: Cat, weight_kg: 4, {patient}),
            ventilator: (fresh_gas_flow_l_min: 2, cycling_pressure_cmh2o: 10,
                inspiratory_time_limit_s: 2.5, expiratory_time_s: 2.5), {more})"#
    );
    parse("one.ron", &text)
        .unwrap_or_else(|rejected| panic!("{rejected}: {}", rejected.faults()[0]))
}

/// What is typical of a cat of 5 kg, divided by the same of one of 4 kg.
fn ratio(parameter: Parameter) -> f64 {
    let value = |kg| Animal::typical(Species::Cat, Mass::kg(kg)).value(parameter);
    value(5.0) / value(4.0)
}

fn near(value: f64, expected: f64) {
    assert!((value / expected - 1.0).abs() < 1e-12, "{value} is not {expected}");
}

#[test]
fn law_the_own_weight_changes_nothing_and_every_other_can_be_run() {
    for scenario in shipped() {
        let kg = scenario.patient.weight_kg;
        assert_eq!(scenario.at_weight(kg), scenario, "{}", scenario.id);
        for share in [0.6, 0.85, 1.15, 1.4] {
            let other = scenario.at_weight(share * kg);
            let text = other.to_ron();
            let again = parse("other.ron", &text).unwrap_or_else(|rejected| {
                panic!("{} at {share}: {}", scenario.id, rejected.faults()[0])
            });
            assert_eq!(again, other);
            assert_eq!((other.ventilator, other.circuit), {
                (scenario.ventilator.clone(), scenario.circuit.clone())
            });
        }
    }
}

#[test]
fn closed_form_what_the_file_says_keeps_its_ratio_to_what_is_typical() {
    let lung = "lung: Compartments([(compliance_ml_cmh2o: 3, resistance_cmh2o_s_l: 30, \
                law: Sigmoid(lower_ml: -20, span_ml: 100, middle_cmh2o: 5, width_cmh2o: 4))])";
    let tube = "tube: Sized(internal_diameter_mm: 4.5, length_cm: 18)";
    let wall = "chest_wall: (compliance_ml_cmh2o: 12, pressed_by_cmh2o: 3), \
                viscoelastic: (compliance_ml_cmh2o: 20, resistance_cmh2o_s_l: 50), \
                effort: Breaths(amplitude_cmh2o: 5, duration_s: 1, rate_per_min: 20)";
    let gas = "gas: (airway_dead_space_ml: 12, adapter_ml: 3)";
    let mine = written(&format!("{lung}, {tube}, {wall}"), gas).at_weight(5.0);
    let Some(Lung::Compartments(parts)) = &mine.patient.lung else { panic!("another lung") };
    let part = &parts.compartments[0];
    near(part.compliance_ml_cmh2o, 3.0 * ratio(Parameter::Compliance));
    near(part.resistance_cmh2o_s_l, 30.0 * ratio(Parameter::AirwayResistance));
    let tidewright_scenario::format::PressureVolume::Sigmoid(curve) = &part.law else {
        panic!("another law")
    };
    near(curve.span_ml, 100.0 * ratio(Parameter::Compliance));
    assert_eq!((curve.middle_cmh2o, curve.width_cmh2o), (5.0, 4.0), "pressures stay");
    let Some(Tube::Sized(tube)) = &mine.patient.tube else { panic!("another tube") };
    near(tube.internal_diameter_mm, 4.5 * ratio(Parameter::TubeDiameter));
    near(tube.length_cm, 18.0 * ratio(Parameter::TubeLength));
    let wall = mine.patient.chest_wall.as_ref().unwrap();
    near(wall.compliance_ml_cmh2o, 12.0 * ratio(Parameter::Compliance));
    assert_eq!(wall.pressed_by_cmh2o, 3.0);
    let branch = mine.patient.viscoelastic.as_ref().unwrap();
    near(branch.compliance_ml_cmh2o * branch.resistance_cmh2o_s_l, 20.0 * 50.0);
    let Some(Effort::Breaths(breaths)) = &mine.patient.effort else { panic!("another effort") };
    near(breaths.rate_per_min, 20.0 * ratio(Parameter::Rate));
    near(breaths.rate_per_min * breaths.duration_s, 20.0);
    assert_eq!(breaths.amplitude_cmh2o, 5.0);
    let gas = mine.gas.as_ref().unwrap();
    near(gas.airway_dead_space_ml.unwrap(), 12.0 * ratio(Parameter::DeadSpace));
    assert_eq!(gas.adapter_ml, Some(3.0), "equipment stays");
}

/// A lung that is written as the typical one stays the typical one.
#[test]
fn twin_a_lung_as_written_follows_the_weight_as_the_typical_one_does() {
    let typical = written("", "").at_weight(5.0).protocol().start.lung;
    let four = Animal::typical(Species::Cat, Mass::kg(4.0)).lung();
    let tidewright::setup::Tube::Linear(tube) = four.tube else { panic!("no tube") };
    let airway = four.compartments[0].resistance;
    let lung = format!(
        "lung: (compliance_ml_cmh2o: {}, resistance_cmh2o_s_l: {})",
        four.total_compliance().as_ml_per_cmh2o(),
        airway.as_cmh2o_s_per_l() + tube.as_cmh2o_s_per_l()
    );
    let mine = written(&lung, "").at_weight(5.0).protocol().start.lung;
    near(mine.total_compliance().as_ml_per_cmh2o(), typical.total_compliance().as_ml_per_cmh2o());
    let tidewright::setup::Tube::Linear(tube) = typical.tube else { panic!("no tube") };
    let whole = typical.compartments[0].resistance.as_cmh2o_s_per_l() + tube.as_cmh2o_s_per_l();
    near(mine.compartments[0].resistance.as_cmh2o_s_per_l(), whole);
}

#[test]
fn a_story_tells_the_weight_and_knows_no_other_value() {
    let story = |text: &str| format!("story: {text:?}");
    let scenario = written("", &story("A cat of {weight}: {weight}."));
    for (kg, told) in [(4.0, "4 kg"), (4.6, "4.6 kg"), (11.3, "11.3 kg"), (0.35, "350 g")] {
        let mine = scenario.at_weight(kg).story_told();
        assert_eq!(mine, Some(format!("A cat of {told}: {told}.")));
    }
    assert_eq!(written("", "").story_told(), None);
    let text = scenario.to_ron().replace("{weight}", "{wait}");
    let rejected = parse("one.ron", &text).unwrap_err();
    let fault = &rejected.faults()[0];
    assert!(fault.to_string().contains("wait") && fault.mend().contains("weight"), "{fault}");
}
