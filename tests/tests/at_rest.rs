//! The table of animals at rest under anaesthesia: the model beside what was published.
//!
//! `UPDATE_AT_REST=1 cargo test -p tidewright-tests --test at_rest` writes it anew.
#![expect(clippy::unwrap_used, reason = "a test stops where the setup is wrong")]

use std::fmt::Write as _;

use tidewright::circulation::{Circulation, Strain};
use tidewright::coupled::{Coupled, GasChange, GasPlan, GasSettings};
use tidewright::drive::Drive;
use tidewright::exchange::{Apparatus, Capnograph, Conditions, Exchange, Fractions};
use tidewright::prelude::*;
use tidewright::species::{Animal, Parameter, Species};
use tidewright::warmth::fall_c;

const TABLE: &str =
    concat!(env!("CARGO_MANIFEST_DIR"), "/../crates/tidewright/src/animal/species/at-rest.md");
const AIR: Fractions = Fractions { carbon_dioxide: 0.0, oxygen: 0.21 };

/// What was published of a quantity, and why the model differs where it does.
struct Row {
    name: &'static str,
    model: fn(&Animal) -> String,
    published: [&'static str; 4],
    source: &'static str,
    why: &'static str,
}

const ANIMALS: [(Species, f64); 4] =
    [(Species::Cat, 4.0), (Species::Dog, 20.0), (Species::Rabbit, 2.5), (Species::Horse, 500.0)];

const ROWS: [Row; 12] = [
    Row {
        name: "heart rate, 1/min",
        model: |animal| whole(animal.value(Parameter::HeartRate)),
        published: ["none read", "87 awake, +33 to +60 % at 1.2 MAC", "none read", "none read"],
        source: "Comp Med 2005;55:156; instrumented dogs 1990",
        why: "allometric law or remembered values",
    },
    Row {
        name: "mean arterial pressure, mmHg",
        model: |animal| whole(Circulation::of(animal).under(&Strain::NONE).arterial_mmhg),
        published: ["71 (67 to 113)", "80 (−22 % of 103)", "53 to 55 at 0.8 MAC", "none read"],
        source: "cat Front Vet Sci 2022;9:865673; dog as above; rabbit Am J Vet Res 1999;60:1189",
        why: "brought to 1.2 MAC; the horse's is remembered",
    },
    Row {
        name: "output, mL/kg/min",
        model: |animal| whole(per_kg(animal, Parameter::CardiacOutput)),
        published: [
            "0.90 mL/kg a beat; 90 under chloralose",
            "156 (50 to 303); about 160",
            "none read",
            "none read",
        ],
        source: "cat Front Vet Sci 2022;9:865673 and Am J Physiol (flows in the cat); dog Vet Emerg Crit Care 2004 and Vet Anaesth Analg 2021",
        why: "the cat's rate to that beat is remembered; rabbit and horse follow the mammals' law",
    },
    Row {
        name: "oxygen consumption, mL/kg/min",
        model: |animal| format!("{:.1}", per_kg(animal, Parameter::OxygenConsumption)),
        published: [
            "7.1 at 2.6 kg, chloralose",
            "3.5 ± 0.3, 3.9",
            "none read",
            "3 or more (from memory)",
        ],
        source: "cat Am J Physiol; dog Mikat 1984 and an awake against halothane study",
        why: "none read for cats under isoflurane",
    },
    Row {
        name: "extraction of oxygen, on oxygen, %",
        model: |animal| whole(100.0 * extraction(animal)),
        published: [
            "about 55, chloralose (computed)",
            "20 awake (computed)",
            "none read",
            "none read",
        ],
        source: "cat Am J Physiol; dog Comp Med 2005;55:156",
        why: "the cat's output was moved to the newer measurement; a rabbit's numbers are mammals'",
    },
    Row {
        name: "PaCO2 breathing alone, 1 MAC, mmHg",
        model: |animal| alone(animal, 0.4),
        published: [
            "rises with depth",
            "rises with depth",
            "none read at 1 MAC",
            "rises with depth",
        ],
        source: "cat Am J Vet Res 1998;59:182; dog Am J Vet Res 1977;38:1833",
        why: "no level was read at 1 MAC",
    },
    Row {
        name: "PaCO2 breathing alone, 1.75 MAC, mmHg",
        model: |animal| alone(animal, 0.7),
        published: [
            "highest at 1.7 to 2.0 MAC",
            "rises with depth",
            "80 ± 39, 55 ± 11 at 2 MAC (halothane)",
            "none read",
        ],
        source: "cat Am J Vet Res 1996;57:367; rabbit Am J Vet Res 1999;60:1189",
        why: "the fall of the slope is a dog's; agents differ",
    },
    Row {
        name: "apnoea on air to SpO2 90 %, s",
        model: |animal| to_ninety(animal, AIR),
        published: ["none read", "70 ± 47, 66 ± 17", "none read", "none read"],
        source: "Am J Vet Res 2009;70:1333; Vet Anaesth Analg 2018, 10.1016/j.vaa.2018.03.004",
        why: "sedated dogs, one series by standard error; the model takes no rest of the last breath along",
    },
    Row {
        name: "apnoea after oxygen to SpO2 90 %, s",
        model: |animal| to_ninety(animal, Fractions::OXYGEN),
        published: ["none read", "298 ± 188, 187 ± 67", "none read", "none read"],
        source: "same two",
        why: "those dogs were only sedated, used more, and held 83 % oxygen; the model's are asleep with lungs full of it",
    },
    Row {
        name: "CO2 rise, first minute of apnoea, mmHg",
        model: |animal| format!("{:.1}", rise(animal, 0.0, 60.0)),
        published: ["none read", "none read", "none read", "none read"],
        source: "none",
        why: "lung gas comes to venous pressure, then tissues fill",
    },
    Row {
        name: "CO2 rise, later minutes, mmHg/min",
        model: |animal| format!("{:.1}", rise(animal, 120.0, 360.0) / 4.0),
        published: ["none read", "about 6 over 45 min (computed)", "none read", "5.5 over 10 min"],
        source: "dog: diffusion respiration study II; horse: Blaze and Robinson 1987 as cited later",
        why: "small bodies make more for their stores",
    },
    Row {
        name: "temperature after an hour without warming, °C",
        model: |animal| {
            let usual = animal.value(Parameter::Temperature);
            format!("{:.1}", usual - fall_c(animal.weight, Seconds::s(3600.0)))
        },
        published: ["35.4 ± 1.4", "36.7 ± 1.3", "none read", "none read"],
        source: "cat Vet Rec 2012;170:206; dog Vet Rec 2012;171:374",
        why: "fitted to dogs and cats together, by body mass",
    },
];

fn whole(value: f64) -> String {
    format!("{value:.0}")
}

fn per_kg(animal: &Animal, parameter: Parameter) -> f64 {
    animal.value(parameter) / animal.weight.as_kg()
}

/// A plan that begins steady at the usual carbon dioxide on a gas.
fn plan(animal: &Animal, gas: Fractions, drive: Option<Drive>) -> GasPlan {
    let apparatus =
        Apparatus { limb_ml: 10.0 * animal.value(Parameter::TidalVolume), ..Apparatus::default() };
    let usual = animal.value(Parameter::ArterialCarbonDioxide);
    let temperature_c = animal.value(Parameter::Temperature);
    let begins = drive.as_ref().and_then(Drive::usual_arterial);
    GasPlan {
        exchange: Exchange::new(animal, &animal.lung(), apparatus).unwrap(),
        arterial_carbon_dioxide: begins.unwrap_or(PartialPressure::mmhg(usual)),
        capnograph: Capnograph::new(Seconds::ZERO, Seconds::ZERO),
        start: GasSettings { conditions: Conditions::of(animal, temperature_c, gas), drive },
        changes: vec![],
        animal: animal.clone(),
    }
}

/// Stands by for a time; what is asked of every point until it answers.
fn stand_by<T>(
    plan: &GasPlan,
    duration_s: f64,
    mut ask: impl FnMut(&tidewright::coupled::GasPoint) -> Option<T>,
) -> Option<T> {
    let animal = &plan.animal;
    let mut start = Setup { lung: animal.lung(), ..Setup::default() };
    start.ventilator.mode = Mode::Standby;
    let minute = animal.value(Parameter::TidalVolume) * animal.value(Parameter::Rate);
    start.ventilator.fresh_gas_flow = Flow::ml_s(5.0 * minute / 60.0);
    let protocol = Protocol { start, changes: vec![], duration: Seconds::s(duration_s) };
    let simulation = Simulation::new(&protocol).unwrap();
    let mut points = Coupled::new(&simulation, Some(plan))
        .unwrap()
        .flat_map(|together| together.unwrap().gas.unwrap().points);
    points.find_map(|point| ask(&point))
}

fn extraction(animal: &Animal) -> f64 {
    let plan = plan(animal, Fractions::OXYGEN, None);
    let body = plan.exchange.steady(plan.arterial_carbon_dioxide, &plan.start.conditions).body;
    1.0 - body.venous.oxygen / body.arterial.oxygen
}

fn alone(animal: &Animal, depth: f64) -> String {
    let plan = plan(animal, Fractions::OXYGEN, Some(Drive::of(animal, depth)));
    let settled = |point: &tidewright::coupled::GasPoint| {
        (point.at_s > 2395.0).then_some(point.arterial_carbon_dioxide_mmhg)
    };
    whole(stand_by(&plan, 2400.0, settled).unwrap())
}

/// Apnoea with the tube open to air, from a lung full of a gas.
fn to_ninety(animal: &Animal, gas: Fractions) -> String {
    let mut plan = plan(animal, gas, None);
    let mut open = plan.start;
    open.conditions.fresh_gas = AIR;
    plan.changes = vec![GasChange { at: Seconds::s(0.1), settings: open }];
    let below =
        |point: &tidewright::coupled::GasPoint| (point.saturation < 0.9).then_some(point.at_s);
    stand_by(&plan, 1200.0, below).map_or_else(|| "over 1200".to_owned(), whole)
}

fn rise(animal: &Animal, from_s: f64, to_s: f64) -> f64 {
    let plan = plan(animal, Fractions::OXYGEN, None);
    let at = |time_s: f64| {
        let then = |point: &tidewright::coupled::GasPoint| {
            (point.at_s >= time_s).then_some(point.arterial_carbon_dioxide_mmhg)
        };
        stand_by(&plan, time_s + 5.0, then).unwrap()
    };
    at(to_s) - at(from_s)
}

fn table() -> String {
    let mut text = String::from(
        "Animals at rest under anaesthesia: the model beside what was read in abstracts\n\
         (the laws stand in the table and in the modules `circulation`, `drive` and\n\
         `warmth`). ± is one standard deviation of animals.\n\n",
    );
    for (i, (species, kg)) in ANIMALS.into_iter().enumerate() {
        let animal = Animal::typical(species, Mass::kg(kg));
        write!(text, "### {species}, {kg} kg\n\n| | model | published | source | where they differ |\n|---|---|---|---|---|\n").unwrap();
        for row in &ROWS {
            let (model, published) = ((row.model)(&animal), row.published[i]);
            let (source, why) = match published {
                "none read" => ("–", "nothing published was read"),
                _ => (row.source, row.why),
            };
            writeln!(text, "| {} | {model} | {published} | {source} | {why} |", row.name).unwrap();
        }
        text.push('\n');
    }
    text.trim_end().to_owned() + "\n"
}

#[test]
fn published_animals_at_rest_stand_in_the_reference_as_the_model_has_them() {
    let now = table();
    if std::env::var_os("UPDATE_AT_REST").is_some() {
        std::fs::write(TABLE, &now).unwrap();
    }
    assert_eq!(std::fs::read_to_string(TABLE).unwrap_or_default(), now);
}
