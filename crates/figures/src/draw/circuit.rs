//! The circuit as a drawing: one line from the patient down to the room, a part a stop.

use plotters::element::{PathElement, Polygon, Rectangle};
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{Color as _, RGBColor};
use std::cell::RefCell;
use std::rc::Rc;

use tidewright::assembly::{Assembly, Line, Part};
use tidewright_scenario::Scenario;

use super::{DrawFileError, letter};
use crate::error::FigureError;
use crate::figure::{Figure, Look, id_from};
use crate::file::{CircuitDrawing, DrawnPhase};
use crate::font::{self, Weight};
use crate::grid::grid;
use crate::svg::{Area, Sheet};
use crate::theme;
use crate::words::{CAUTION, Drawn, Paragraph, line_style, text_style};

/// Side of the square that stands for 1 mL, px at most: squares go with the gas by their
/// area.
const SIDE_PX: f64 = 3.5;
/// The line, px from the left, and what stands beside it.
const LINE_PX: f64 = 250.0;
const NAME_PX: f64 = 190.0;
const SIZE_PX: f64 = 320.0;

/// Which way gas flows past a stop.
#[derive(Clone, Copy, PartialEq)]
enum Way {
    Up,
    Down,
    Both,
    Still,
}

/// One stop of the line.
struct Stop {
    name: String,
    size: String,
    ml: f64,
    way: Way,
    /// Breathed to and fro.
    dead: bool,
}

pub(super) fn figure(
    drawing: &CircuitDrawing,
    scenario: &Scenario,
    (id, title): (&str, &str),
    look: &Look,
    teacher: bool,
) -> Result<Figure, DrawFileError> {
    let assembly = assembly_of(scenario)?;
    let line = assembly.line().map_err(|error| DrawFileError::Circuit(error.to_string()))?;
    let told = assembly.trace().map_err(|error| DrawFileError::Circuit(error.to_string()))?;
    let mut stops = stops(&assembly, &line, drawing.phase);
    let place = |part: usize| stop_of(&line, part);
    let mut branches = vec![];
    let second = line.second.as_ref().map(|(tee, _)| tee.part);
    for tee in [Some(line.t_piece.part), second].into_iter().flatten() {
        if assembly.brings_gas(tee) {
            branches.extend(place(tee).map(|stop| (stop, "fresh gas")));
        }
    }
    let sensed = told.iter().find_map(|said| {
        let port = said.strip_prefix("The ventilator senses pressure at ")?.split(' ').next()?;
        place(assembly.at(port).ok()?.part)
    });
    let description = if teacher {
        told.join(" ")
    } else {
        let count = stops.len();
        format!("A circuit as a line of {count} parts from top to bottom, without names.")
    };
    if !teacher {
        for (index, stop) in stops.iter_mut().enumerate() {
            (stop.name, stop.size) = (letter(index), String::new());
        }
        branches.iter_mut().for_each(|branch| branch.1 = "");
    }
    let marks = if teacher && drawing.marks { said_to_be_wrong(&told) } else { vec![] };
    let widest = grid(f64::from(look.width_px) - 2.0 * theme::MARGIN_PX);
    let broken = |mark: &String| font::wrap(mark, theme::BODY_PX, Weight::Regular, widest);
    let marks: Vec<String> = marks.iter().flat_map(broken).collect();
    let sheet = Rc::new(RefCell::new(Sheet::new(look.width_px, look.height_px)));
    let root = Area::from(&sheet);
    let canvas = Canvas { root: &root, sheet: &sheet, id: &id_from(id), look };
    let phase = teacher.then_some(drawing.phase);
    canvas
        .draw(title, phase, &stops, &branches, sensed.filter(|_| teacher), &marks)
        .map_err(FigureError::from)?;
    drop(root);
    let sheet = sheet.replace(Sheet::new(0, 0));
    let mut data = "part,gas_ml,breathed_to_and_fro\n".to_owned();
    for stop in &stops {
        data += &format!("{},{},{}\n", stop.name, stop.ml, stop.dead);
    }
    Ok(Figure::new(id, title, description, sheet, look).with_data(data))
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
    let tee = parts.iter().position(|&part| part == line.t_piece.part).unwrap_or(0);
    let pieces = assembly.pieces();
    let stop = |(index, &part): (usize, &usize)| {
        let piece = &pieces[part];
        let way = match phase {
            DrawnPhase::Inspiration if index <= tee => Way::Up,
            DrawnPhase::Inspiration => Way::Still,
            DrawnPhase::Expiration => Way::Down,
            DrawnPhase::Standby if index < tee => Way::Both,
            DrawnPhase::Standby => Way::Down,
        };
        let (ml, resistance) = gas_in(&piece.part);
        let size = match (ml, resistance) {
            (0.0, _) => String::new(),
            (ml, 0.0) => format!("{ml} mL"),
            (ml, resistance) => format!("{ml} mL, {resistance} cmH₂O·s/L"),
        };
        let name = if index == 0 && matches!(piece.part, Part::Patient) {
            "patient".to_owned()
        } else {
            piece.name.clone()
        };
        Stop { name, size, ml, way, dead: index > 0 && index < tee }
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

struct Canvas<'a> {
    root: &'a Area,
    sheet: &'a RefCell<Sheet>,
    id: &'a str,
    look: &'a Look,
}

impl Canvas<'_> {
    fn draw(
        &self,
        title: &str,
        phase: Option<DrawnPhase>,
        stops: &[Stop],
        branches: &[(usize, &str)],
        sensed: Option<usize>,
        marks: &[String],
    ) -> Drawn {
        let (width, height) = (grid(f64::from(self.look.width_px)), f64::from(self.look.height_px));
        let mut y = grid(theme::MARGIN_PX);
        let heading = (theme::TITLE_PX, Weight::SemiBold, theme::INK);
        let widest = width - 2 * grid(theme::MARGIN_PX);
        let heading = Paragraph::new(&mut y, title, heading, widest, 2);
        self.group("heading", &|| heading.draw(self.root))?;
        let top = y + grid(34.0);
        let foot = height - 96.0 - 20.0 * marks.len() as f64;
        let count = (stops.len().max(2) - 1) as i32;
        let gap = (grid(foot) - top - grid(30.0)) / count;
        let at = |index: usize| top + gap * index as i32;
        let most = stops.iter().map(|stop| stop.ml).fold(1.0, f64::max);
        let side = (0.9 * f64::from(gap) / most.sqrt()).min(f64::from(grid(SIDE_PX)));
        self.group("line", &|| self.line(stops, &at, side))?;
        self.group("ways", &|| {
            stops.iter().enumerate().try_for_each(|(i, stop)| {
                self.arrow(at(i) + gap / 2, stop.way, i + 1 == stops.len())
            })
        })?;
        self.group("fresh-gas", &|| {
            branches.iter().try_for_each(|&(i, name)| self.branch(at(i), name))
        })?;
        let ventilator = stops.iter().position(|stop| stop.name == "ventilator");
        if let (Some(from), Some(to)) = (sensed, ventilator) {
            self.group("sensing", &|| self.sensing(at(from), at(to)))?;
        }
        self.group("legend", &|| self.legend(grid(foot), side, phase, marks))?;
        self.group("footer", &|| self.caution())
    }

    fn group(&self, name: &str, draw: &dyn Fn() -> Drawn) -> Drawn {
        self.sheet.borrow_mut().open(&format!("{}-{name}", self.id), "");
        let drawn = draw();
        self.sheet.borrow_mut().close();
        drawn
    }

    fn words(&self, text: &str, at: (i32, i32), side: HPos, colour: RGBColor) -> Drawn {
        if text.is_empty() {
            return Ok(());
        }
        let style = text_style(theme::BODY_PX, Weight::Regular, colour);
        self.root.draw_text(text, &style.pos(Pos::new(side, VPos::Center)), at)
    }

    fn path(&self, points: &[(i32, i32)], colour: RGBColor, width_px: f64) -> Drawn {
        self.root.draw(&PathElement::new(points.to_vec(), line_style(colour, width_px)))
    }

    fn line(&self, stops: &[Stop], at: &dyn Fn(usize) -> i32, side: f64) -> Drawn {
        let x = grid(LINE_PX);
        let last = at(stops.len() - 1);
        self.path(&[(x, at(0)), (x, last)], theme::SHADE_EDGE, 2.0)?;
        for (index, stop) in stops.iter().enumerate() {
            let y = at(index);
            let half = if stop.ml > 0.0 {
                (side * stop.ml.sqrt() / 2.0).round() as i32
            } else {
                grid(1.0)
            };
            let corners = [(x - half, y - half), (x + half, y + half)];
            let fill = if stop.dead { theme::TINTED } else { theme::PAPER };
            self.root.draw(&Rectangle::new(corners, fill.filled()))?;
            let colour = if stop.dead { theme::FLOW.colour } else { theme::INK };
            self.root.draw(&Rectangle::new(corners, line_style(colour, 1.6)))?;
            self.words(&stop.name, (grid(NAME_PX), y), HPos::Right, theme::INK)?;
            self.words(&stop.size, (grid(SIZE_PX), y), HPos::Left, theme::SOFT_INK)?;
        }
        Ok(())
    }

    /// An arrow beside the line, between two stops.
    fn arrow(&self, y: i32, way: Way, is_last: bool) -> Drawn {
        if is_last || way == Way::Still {
            return Ok(());
        }
        let (x, half, head) = (grid(LINE_PX + 16.0), grid(9.0), grid(4.0));
        self.path(&[(x, y - half), (x, y + half)], theme::INK, 1.4)?;
        let tip = |tip: i32, back: i32| {
            let points = vec![(x, tip), (x - head, back), (x + head, back)];
            self.root.draw(&Polygon::new(points, theme::INK.filled()))
        };
        if way != Way::Down {
            tip(y - half - head, y - half + head)?;
        }
        if way != Way::Up {
            tip(y + half + head, y + half - head)?;
        }
        Ok(())
    }

    /// Fresh gas coming in from the right.
    fn branch(&self, y: i32, name: &str) -> Drawn {
        let y = y + grid(12.0);
        let (from, to) = (grid(SIZE_PX + 130.0), grid(LINE_PX + 6.0));
        self.path(&[(from, y), (to, y)], theme::PRESSURE.colour, 2.4)?;
        let head = grid(5.0);
        let points = vec![(to, y), (to + 2 * head, y - head), (to + 2 * head, y + head)];
        self.root.draw(&Polygon::new(points, theme::PRESSURE.colour.filled()))?;
        self.words(name, (from + grid(6.0), y), HPos::Left, theme::PRESSURE.colour)
    }

    /// The line by which pressure is sensed, along the left.
    fn sensing(&self, from: i32, to: i32) -> Drawn {
        let (near, far) = (grid(LINE_PX - 8.0), grid(LINE_PX - 44.0));
        let colour = theme::VOLUME.colour;
        self.path(&[(near, from), (far, from), (far, to), (near, to)], colour, 1.4)?;
        let style = text_style(theme::FOOT_PX, Weight::Regular, colour);
        let middle = Pos::new(HPos::Right, VPos::Center);
        self.root.draw_text("senses here", &style.pos(middle), (far - grid(4.0), from + grid(14.0)))
    }

    fn legend(&self, top: i32, side: f64, phase: Option<DrawnPhase>, marks: &[String]) -> Drawn {
        let x = grid(theme::MARGIN_PX);
        let side = (side * 10.0).round() as i32;
        self.root.draw(&Rectangle::new(
            [(x, top), (x + side, top + side)],
            line_style(theme::INK, 1.6),
        ))?;
        let mut said = "100 mL of gas, by area; tinted: breathed to and fro".to_owned();
        said += match phase {
            Some(DrawnPhase::Inspiration) => "; arrows: valve shut",
            Some(DrawnPhase::Expiration) => "; arrows: valve open",
            Some(DrawnPhase::Standby) => "; arrows: standby",
            None => "",
        };
        self.words(&said, (x + side + grid(8.0), top + side / 2), HPos::Left, theme::SOFT_INK)?;
        for (mark, row) in marks.iter().zip(0..) {
            let y = top + side + grid(14.0) + row * grid(20.0);
            self.words(mark, (x, y), HPos::Left, theme::FLOW.colour)?;
        }
        Ok(())
    }

    /// The caution at the foot.
    fn caution(&self) -> Drawn {
        let widest = grid(f64::from(self.look.width_px) - 2.0 * theme::MARGIN_PX);
        let mut y = 0;
        let style = (theme::FOOT_PX, Weight::Regular, theme::SOFT_INK);
        let mut foot = Paragraph::new(&mut y, CAUTION, style, widest, 9);
        foot.lower(grid(f64::from(self.look.height_px) - theme::MARGIN_PX / 2.0) - y);
        foot.draw(self.root)
    }
}
