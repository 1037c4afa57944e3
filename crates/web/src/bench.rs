//! A circuit put together from parts: what is joined to what, the path of the gas, and
//! the breath that comes of it.

mod checks;

use serde::Deserialize;
use serde_json::{Value, json};
use tidewright::assembly::{Assembly, At, JoinError, Leg, Mistake};
use tidewright::run::{Protocol, Simulation};
use tidewright_figures::draw_circuit;
use tidewright_figures::file::DrawnPhase;

pub use checks::Check;

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

/// Part of a breath that the arrows of the drawing stand for.
#[derive(Clone, Copy, Debug, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Phase {
    Inspiration,
    Expiration,
    Standby,
}

/// The start in which the parts lie on the table.
const APART: &str = "apart";

/// A circuit on the bench: the start and what was done to it since. The start is the name
/// of a mistake, `apart`, or nothing for a circuit that is put together rightly; the
/// patient and the controls are those of a scenario.
#[derive(Clone, Debug, Deserialize)]
pub struct Bench {
    start: Option<String>,
    steps: Vec<Step>,
    patient: Which,
    phase: Phase,
}

impl Bench {
    fn mistake(&self) -> Result<Option<Mistake>, Wrong> {
        let named = self.start.as_deref().filter(|&name| name != APART);
        named.map(mistake).transpose()
    }

    /// The circuit as it is now, and why the last step could not be done.
    fn circuit(&self) -> Result<(Assembly, Option<String>), Wrong> {
        let mut circuit = match self.mistake()? {
            Some(mistake) => mistake.made(),
            None if self.start.is_some() => on_the_table(),
            None => Assembly::ready_made(),
        };
        let mut refused = None;
        for step in &self.steps {
            let done = match step {
                Step::Join(a, b) => circuit.join(a, b),
                Step::PushOn(a, b) => circuit.push_on(a, b),
                Step::Part(port) => circuit.separate(port).map(|_| ()),
            };
            refused = done.err().map(told);
        }
        Ok((circuit, refused))
    }

    /// What it is, and the breath that comes of it.
    pub fn shown(&self) -> Result<Value, Wrong> {
        let mistake = self.mistake()?;
        let (circuit, refused) = self.circuit()?;
        let meant = mistake.map_or_else(Assembly::ready_made, Mistake::meant);
        let path = circuit.trace();
        let breath = breath(&circuit, &self.patient)?;
        let phase = match self.phase {
            Phase::Inspiration => DrawnPhase::Inspiration,
            Phase::Expiration => DrawnPhase::Expiration,
            Phase::Standby => DrawnPhase::Standby,
        };
        let drawing = draw_circuit(&circuit, phase, "The circuit on the bench").ok();
        Ok(json!({
            "pieces": pieces(&circuit, &meant),
            "refused": refused,
            "path": path.as_ref().ok(),
            "no_path": path.as_ref().err().map(ToString::to_string),
            "svg": drawing.as_ref().map(|figure| figure.to_svg()),
            "described": drawing.as_ref().map(|figure| figure.description().to_owned()),
            "breath": breath.as_ref().ok(),
            "no_breath": breath.as_ref().err(),
            "before": breath_of_meant(&meant, &self.patient)?,
            "right": is_same(&circuit, &meant),
            "mistakes": Mistake::ALL.iter().map(|one| one.name()).collect::<Vec<_>>(),
            "says": mistake.map(Mistake::says),
        }))
    }

    /// A check of the morning on it.
    pub fn checked(&self, check: Check) -> Result<Value, Wrong> {
        let (circuit, _) = self.circuit()?;
        let base = self.patient.scenario()?.protocol_without_faults().start;
        checks::checked(&circuit, &base, check)
    }
}

/// The parts of the ready-made circuit, none joined.
fn on_the_table() -> Assembly {
    let mut parts = Assembly::default();
    for piece in Assembly::ready_made().pieces() {
        parts.put(&piece.name, piece.part.clone(), piece.crack_mm);
    }
    parts
}

fn mistake(name: &str) -> Result<Mistake, Wrong> {
    let found = Mistake::ALL.iter().copied().find(|one| one.name() == name);
    found.ok_or_else(|| Wrong::told(format!("there is no mistake `{name}`"), "choose another"))
}

fn told(error: JoinError) -> String {
    error.to_string()
}

/// The places of the parts in the list, in the order in which gas passes them from the
/// patient to the room where the circuit is as it is meant, so that no part moves away
/// under a hand; then what is off that way.
fn in_order(circuit: &Assembly, meant: &Assembly) -> Vec<usize> {
    let mut order: Vec<&str> = Vec::new();
    if let Ok(line) = meant.line() {
        let legs = |legs: &[Leg]| legs.iter().map(|leg| leg.part).collect::<Vec<_>>();
        let mut parts = vec![line.patient_end.part];
        parts.extend(legs(&line.to_patient));
        parts.push(line.t_piece.part);
        parts.extend(legs(&line.limb));
        if let Some((tee, beyond)) = &line.second {
            parts.push(tee.part);
            parts.extend(legs(beyond));
        }
        parts.push(line.machine_end.part);
        parts.extend(legs(&line.waste));
        parts.push(line.waste_end.part);
        order.extend(parts.iter().map(|&part| &*meant.pieces()[part].name));
    }
    let all = 0..circuit.pieces().len();
    let place = |&part: &usize| {
        let name = &*circuit.pieces()[part].name;
        order.iter().position(|&one| one == name).unwrap_or(usize::MAX)
    };
    let mut all: Vec<usize> = all.collect();
    all.sort_by_key(place);
    all
}

/// Every part with its ports, and what each of them is on.
fn pieces(circuit: &Assembly, meant: &Assembly) -> Vec<Value> {
    let all = in_order(circuit, meant).into_iter().map(|part| {
        let piece = &circuit.pieces()[part];
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
            "in_use": circuit.is_in_use(part),
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

    fn laid_out(start: Option<&str>, steps: &[Step]) -> Bench {
        Bench {
            start: start.map(str::to_owned),
            steps: steps.to_vec(),
            patient: Which::Shelf("first-breaths".to_owned()),
            phase: Phase::Expiration,
        }
    }

    fn of(start: Option<&str>, steps: &[Step]) -> Value {
        laid_out(start, steps).shown().expect("an answer")
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
        assert!(laid_out(Some("nothing"), &[]).shown().is_err());
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
