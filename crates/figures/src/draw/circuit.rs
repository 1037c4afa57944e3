//! The circuit as a drawing: one line from the patient down to the room, a part a stop.

mod canvas;
mod names;

use std::cell::RefCell;
use std::rc::Rc;

use tidewright::assembly::{Assembly, Line, Part};
use tidewright_scenario::Scenario;

use self::canvas::{Branch, Canvas, Foot, Stop, Way};
use self::names::{in_words, named_in_words};
use super::{DrawFileError, letter};
use crate::file::{CircuitDrawing, DrawnPhase};
use crate::paper::error::FigureError;
use crate::paper::figure::{Figure, Look, id_from};
use crate::paper::svg::{Area, Sheet};

pub(super) fn figure(
    drawing: &CircuitDrawing,
    scenario: &Scenario,
    (id, title): (&str, &str),
    look: &Look,
    teacher: bool,
) -> Result<Figure, DrawFileError> {
    drawn(&assembly_of(scenario)?, drawing, (id, title), look, teacher)
}

/// The drawing of a circuit of parts, its arrows for a part of a breath.
///
/// # Errors
/// [`DrawFileError::Circuit`]: a circuit whose way for the gas cannot be told.
///
/// ```
/// use tidewright::assembly::Assembly;
/// use tidewright_figures::draw_circuit;
/// use tidewright_figures::file::DrawnPhase;
/// let circuit = Assembly::ready_made();
/// let figure = draw_circuit(&circuit, DrawnPhase::Inspiration, "On the bench")?;
/// assert!(figure.to_svg().contains("patient"));
/// # Ok::<(), tidewright_figures::DrawFileError>(())
/// ```
pub fn draw_circuit(
    assembly: &Assembly,
    phase: DrawnPhase,
    title: &str,
) -> Result<Figure, DrawFileError> {
    let drawing = CircuitDrawing { phase, marks: true };
    drawn(assembly, &drawing, ("circuit", title), &Look::PAGE, true)
}

fn drawn(
    assembly: &Assembly,
    drawing: &CircuitDrawing,
    (id, title): (&str, &str),
    look: &Look,
    teacher: bool,
) -> Result<Figure, DrawFileError> {
    let line = assembly.line().map_err(|error| DrawFileError::Circuit(error.to_string()))?;
    let told = in_words(assembly).map_err(|error| DrawFileError::Circuit(error.to_string()))?;
    let mut stops = stops(assembly, &line, drawing.phase);
    let place = |part: usize| stop_of(&line, part);
    let branch = |tee: usize| Some(Branch { stop: place(tee)?, name: "fresh gas" });
    let mut branches: Vec<Branch> = brings(assembly, &line).filter_map(branch).collect();
    let sensed = sensed(assembly).and_then(place);
    let wrong = if teacher && drawing.marks { said_to_be_wrong(&told) } else { vec![] };
    for said in &wrong {
        // A sentence ends with the part that it is about.
        let at = |stop: &&mut Stop| named_at(said, &stop.name);
        let about = stops.iter_mut().filter(|stop| at(stop).is_some()).max_by_key(at);
        about.into_iter().for_each(|stop| stop.wrong = true);
    }
    let description = if teacher {
        told.join(" ")
    } else {
        let count = stops.len();
        format!("A circuit as a line of {count} parts from top to bottom, without names.")
    };
    let mut data = "part,gas_ml,breathed_to_and_fro\n".to_owned();
    if !teacher {
        for (index, stop) in stops.iter_mut().enumerate() {
            (stop.name, stop.size) = (letter(index), String::new());
        }
        branches.iter_mut().for_each(|branch| branch.name = "");
    }
    for stop in &stops {
        data += &format!("{},{},{}\n", stop.name, stop.ml, stop.dead);
    }
    let sheet = Rc::new(RefCell::new(Sheet::new(look.width_px, look.height_px)));
    let root = Area::from(&sheet);
    let canvas = Canvas { root: &root, sheet: &sheet, id: &id_from(id), look };
    let foot = Foot { phase: teacher.then_some(drawing.phase), wrong: &wrong };
    canvas
        .draw(title, &stops, &branches, sensed.filter(|_| teacher), &foot)
        .map_err(FigureError::from)?;
    drop(root);
    let sheet = sheet.replace(Sheet::new(0, 0));
    Ok(Figure::new(id, title, description, sheet, look).with_data(data))
}

/// Where a sentence last tells of a part of this name, and not of one whose name holds it.
fn named_at(said: &str, name: &str) -> Option<usize> {
    let in_a_word = |c: char| c.is_alphanumeric() || c == '-';
    let found = said.match_indices(name).map(|(at, _)| at).filter(|&at| {
        let before = said[..at].chars().next_back();
        let after = said[at + name.len()..].chars().next();
        ![before, after].into_iter().flatten().any(in_a_word)
    });
    found.last()
}

/// The T-pieces of the line to which fresh gas comes.
fn brings<'a>(assembly: &'a Assembly, line: &Line) -> impl Iterator<Item = usize> + 'a {
    let second = line.second.as_ref().map(|(tee, _)| tee.part);
    let tees = [Some(line.t_piece.part), second];
    tees.into_iter().flatten().filter(|&tee| assembly.brings_gas(tee))
}

/// The part at which pressure is sensed.
fn sensed(assembly: &Assembly) -> Option<usize> {
    let told = assembly.trace().ok()?;
    let port = told.iter().find_map(|said| {
        said.strip_prefix("The ventilator senses pressure at ")?.split(' ').next()
    })?;
    Some(assembly.at(port).ok()?.part)
}

/// The parts of a scenario's circuit.
fn assembly_of(scenario: &Scenario) -> Result<Assembly, DrawFileError> {
    let refused = |error: String| DrawFileError::Circuit(error);
    if let Some(assembly) = &scenario.assembly {
        return assembly.put_together().map_err(|error| refused(error.to_string()));
    }
    if scenario.protocol_without_faults().start.circuit == tidewright::setup::Circuit::default() {
        return Ok(Assembly::ready_made());
    }
    Err(refused(
        "its circuit is given by numbers and not by parts: write `assembly` in its place"
            .to_owned(),
    ))
}

/// What `trace` says of open ports, cracks and joints that are only pushed on.
fn said_to_be_wrong(told: &[String]) -> Vec<String> {
    let wrong = [
        "is open:",
        "There is a crack",
        "only pushed on",
        "No fresh gas",
        "no pressure",
        "nothing passes",
        "is closed",
        "is twisted",
        "is blocked",
    ];
    told.iter().filter(|said| wrong.iter().any(|word| said.contains(word))).cloned().collect()
}

/// The parts of the line in order, the patient first.
fn parts(line: &Line) -> Vec<usize> {
    let mut parts = vec![line.patient_end.part];
    parts.extend(line.to_patient.iter().map(|leg| leg.part));
    parts.push(line.t_piece.part);
    parts.extend(line.limb.iter().map(|leg| leg.part));
    if let Some((tee, beyond)) = &line.second {
        parts.push(tee.part);
        parts.extend(beyond.iter().map(|leg| leg.part));
    }
    parts.push(line.machine_end.part);
    parts.extend(line.waste.iter().map(|leg| leg.part));
    parts.push(line.waste_end.part);
    // An end that is open belongs to a part that stands there already.
    parts.dedup();
    parts
}

fn stop_of(line: &Line, part: usize) -> Option<usize> {
    parts(line).iter().position(|&other| other == part)
}

fn stops(assembly: &Assembly, line: &Line, phase: DrawnPhase) -> Vec<Stop> {
    let parts = parts(line);
    let place = |part: usize| parts.iter().position(|&other| other == part);
    let tee = place(line.t_piece.part).unwrap_or(0);
    // Gas goes both ways from where it comes in.
    let source = brings(assembly, line).last().and_then(place).unwrap_or(tee);
    let pieces = assembly.pieces();
    let stop = |(index, &part): (usize, &usize)| {
        let piece = &pieces[part];
        let way = match phase {
            DrawnPhase::Inspiration if !line.through_ventilator && index >= source => Way::Down,
            DrawnPhase::Inspiration if index < source => Way::Up,
            DrawnPhase::Inspiration => Way::Still,
            DrawnPhase::Expiration => Way::Down,
            DrawnPhase::Standby if index < source => Way::Both,
            DrawnPhase::Standby => Way::Down,
        };
        let (ml, resistance) = gas_in(&piece.part);
        let size = match (ml, resistance) {
            (0.0, _) => String::new(),
            (ml, 0.0) => format!("{ml} mL"),
            (ml, resistance) => format!("{ml} mL, {resistance} cmH₂O·s/L"),
        };
        let name = named_in_words(&piece.name);
        Stop {
            name,
            size,
            ml,
            way,
            dead: index > 0 && index < tee,
            wrong: false,
            ventilator: matches!(piece.part, Part::Ventilator(_)),
        }
    };
    parts.iter().enumerate().map(stop).collect()
}

/// Gas in a part, mL, and its resistance, cmH2O·s/L.
fn gas_in(part: &Part) -> (f64, f64) {
    let rounded = |value: f64| (value * 10.0).round() / 10.0;
    let (ml, resistance) = match part {
        Part::TPiece(tee) => (tee.patient_leg.as_ml() + tee.limb_leg.as_ml(), 0.0),
        Part::Tubing(tube) => (tube.volume.as_ml(), tube.resistance.as_cmh2o_s_per_l()),
        Part::Adapter(short) | Part::Filter(short) => {
            (short.volume.as_ml(), short.resistance.as_cmh2o_s_per_l())
        }
        Part::Ventilator(body) => (body.volume.as_ml(), body.valve_resistance.as_cmh2o_s_per_l()),
        Part::Bag(bag) => (bag.bag.holds.as_ml(), 0.0),
        _ => (0.0, 0.0),
    };
    (rounded(ml), rounded(resistance))
}
