//! A circuit put together from parts: what is joined to what, the path of the gas, and
//! the breath that comes of it.

use serde::Deserialize;
use serde_json::{Value, json};
use tidewright::assembly::{Assembly, At, JoinError, Mistake};
use tidewright::run::{Protocol, Simulation};

use crate::explore::settled;
use crate::texts::Which;
use crate::wrong::Wrong;

/// Something done at the bench.
#[derive(Clone, Debug, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Step {
    /// Two ports joined, pressed home.
    Join(String, String),
    /// Two ports joined, only pushed on.
    PushOn(String, String),
    /// A port parted from what it is on.
    Part(String),
}

/// How long a breath settles, s.
const SETTLES_S: f64 = 60.0;

/// The circuit of a start and what was done to it since. The start is the name of a
/// mistake, or nothing for a circuit that is put together rightly; the patient and the
/// controls are those of a scenario.
pub fn bench(start: Option<&str>, steps: &[Step], patient: &Which) -> Result<Value, Wrong> {
    let mistake = start.map(mistake).transpose()?;
    let mut circuit = mistake.map_or_else(Assembly::ready_made, Mistake::made);
    let mut refused = None;
    for step in steps {
        let done = match step {
            Step::Join(a, b) => circuit.join(a, b),
            Step::PushOn(a, b) => circuit.push_on(a, b),
            Step::Part(port) => circuit.separate(port).map(|_| ()),
        };
        refused = done.err().map(told);
    }
    let meant = mistake.map_or_else(Assembly::ready_made, Mistake::meant);
    let path = circuit.trace();
    let breath = breath(&circuit, patient)?;
    Ok(json!({
        "pieces": pieces(&circuit),
        "refused": refused,
        "path": path.as_ref().ok(),
        "no_path": path.as_ref().err().map(ToString::to_string),
        "breath": breath.as_ref().ok(),
        "no_breath": breath.as_ref().err(),
        "before": breath_of_meant(&meant, patient)?,
        "right": is_same(&circuit, &meant),
        "mistakes": Mistake::ALL.iter().map(|one| one.name()).collect::<Vec<_>>(),
        "says": mistake.map(Mistake::says),
    }))
}

fn mistake(name: &str) -> Result<Mistake, Wrong> {
    let found = Mistake::ALL.iter().copied().find(|one| one.name() == name);
    found.ok_or_else(|| Wrong::told(format!("there is no mistake `{name}`"), "choose another"))
}

fn told(error: JoinError) -> String {
    error.to_string()
}

/// Every part with its ports, and what each of them is on.
fn pieces(circuit: &Assembly) -> Vec<Value> {
    let all = circuit.pieces().iter().enumerate().map(|(part, piece)| {
        let ports = piece.part.ports().iter().map(|&port| {
            let at = At { part, port };
            let on = circuit.joined_to(at);
            let loose =
                circuit.joints().iter().any(|one| one.loose && (one.a == at || one.b == at));
            json!({
                "name": circuit.name_of(at),
                "word": port.word(),
                "fitting": port.fitting().in_words(),
                "on": on.map(|on| circuit.name_of(on)),
                "loose": loose,
                "fits": fits(circuit, at),
            })
        });
        json!({
            "name": piece.name,
            "is": piece.part.in_words(),
            "ports": ports.collect::<Vec<_>>(),
        })
    });
    all.collect()
}

/// The free ports of other parts that a port could go on.
fn fits(circuit: &Assembly, at: At) -> Vec<String> {
    let mut found = Vec::new();
    for (part, piece) in circuit.pieces().iter().enumerate().filter(|&(part, _)| part != at.part) {
        for &port in piece.part.ports() {
            let other = At { part, port };
            if at.port.fitting().fits(port.fitting()) && circuit.joined_to(other).is_none() {
                found.push(circuit.name_of(other));
            }
        }
    }
    found
}

/// Whether the same ports are joined in both, and as firmly.
fn is_same(circuit: &Assembly, meant: &Assembly) -> bool {
    let joints = |of: &Assembly| {
        let names = of.joints().iter().map(|one| {
            let mut ends = [of.name_of(one.a), of.name_of(one.b)];
            ends.sort();
            (ends, one.loose)
        });
        let mut names: Vec<_> = names.collect();
        names.sort();
        names
    };
    let parts = |of: &Assembly| {
        let used = (0..of.pieces().len()).filter(|&part| of.is_in_use(part));
        used.map(|part| of.pieces()[part].clone()).collect::<Vec<_>>()
    };
    joints(circuit) == joints(meant) && parts(circuit) == parts(meant)
}

fn breath_of_meant(meant: &Assembly, patient: &Which) -> Result<Option<Vec<Value>>, Wrong> {
    Ok(breath(meant, patient)?.ok())
}

/// The last breath in numbers, or why none comes of it.
fn breath(circuit: &Assembly, patient: &Which) -> Result<Result<Vec<Value>, String>, Wrong> {
    let scenario = patient.scenario()?;
    let base = scenario.protocol_without_faults().start;
    let worked = || -> Result<Vec<Value>, String> {
        let setup = circuit.assemble(&base).map_err(|error| error.to_string())?.setup;
        let duration = tidewright::quantity::Seconds::s(SETTLES_S);
        let protocol = Protocol { start: setup, changes: Vec::new(), duration };
        let simulation = Simulation::new(&protocol).map_err(|error| error.to_string())?;
        let (breaths, _) = simulation.breaths().map_err(|error| error.to_string())?;
        Ok(breaths
            .last()
            .map_or_else(Vec::new, |last| settled::breath(last, scenario.patient.weight_kg)))
    };
    Ok(worked())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(start: Option<&str>, steps: &[Step]) -> Value {
        bench(start, steps, &Which::Shelf("first-breaths".to_owned())).expect("an answer")
    }

    #[test]
    fn every_mistake_is_laid_out_and_is_not_right_and_a_right_circuit_is() {
        assert_eq!(of(None, &[])["right"], true);
        assert_eq!(of(None, &[])["breath"], of(None, &[])["before"]);
        for mistake in Mistake::ALL {
            let told = of(Some(mistake.name()), &[]);
            assert_eq!(told["right"], false, "{}", mistake.name());
            assert!(told["breath"].is_array() || told["no_breath"].is_string());
            assert!(told["before"].is_array(), "{}", mistake.name());
        }
        assert!(bench(Some("nothing"), &[], &Which::Shelf("first-breaths".to_owned())).is_err());
    }

    #[test]
    fn what_is_parted_and_joined_again_is_as_before_and_what_cannot_be_is_told() {
        let part = Step::Part("ventilator.sensing".to_owned());
        let parted = of(None, std::slice::from_ref(&part));
        assert_eq!(parted["right"], false);
        let pieces = parted["pieces"].as_array().expect("parts");
        let ventilator = pieces.iter().find(|one| one["name"] == "ventilator").expect("it");
        let ports = ventilator["ports"].as_array().expect("ports");
        let sensing = ports.iter().find(|one| one["name"] == "ventilator.sensing").expect("it");
        let other = sensing["fits"][0].as_str().expect("a port").to_owned();
        let joined = Step::Join("ventilator.sensing".to_owned(), other.clone());
        let loose = Step::PushOn("ventilator.sensing".to_owned(), other);
        assert_eq!(of(None, &[part.clone(), joined])["right"], true);
        assert_eq!(of(None, &[part.clone(), loose])["right"], false);
        let refused = of(None, &[part.clone(), part]);
        assert!(refused["refused"].is_string());
    }
}
