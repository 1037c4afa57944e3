//! Carbon dioxide over the volume breathed out, and the airway dead space in it.

use tidewright::exchange::{Fowler, GasBreath};
use tidewright_scenario::Scenario;

use super::error::DrawFileError;
use super::gas::{Record, expired};
use super::run::{LONGEST_S, kept_together, simulation, varied};
use crate::file::language::ENGLISH;
use crate::file::{Loop, LoopMeasure, Trace, Variant};
use crate::paper::curve::Piece;
use crate::paper::theme;
use crate::plot::note::{Note, Span};
use crate::plot::panel::{Curve, Panel};
use crate::plot::stack::Stack;
use crate::plot::ticks::number;

pub(super) fn stack<'a>(
    figure: &Loop,
    plain: &Scenario,
    teacher: bool,
) -> Result<Stack<'a>, DrawFileError> {
    let measured = teacher && figure.measures.contains(&LoopMeasure::AirwayDeadSpace);
    let mut curves = Vec::new();
    let mut most_ml = 0.0_f64;
    let mut fowler = None;
    let mut areas = None;
    for (i, (variant, pen)) in figure.curves.iter().zip(PENS).enumerate() {
        let breath = breath(figure.breath, variant, plain)?;
        most_ml = breath.steps.iter().map(|step| step.0.max(step.1)).fold(most_ml, f64::max);
        let pieces = vec![breath.curve()];
        if i == 0 && measured {
            let read = Fowler::of(&breath.expired);
            let read = read.ok_or(DrawFileError::NoPlateau { breath: figure.breath })?;
            areas = Some(breath.areas(&read));
            fowler = Some((read, breath.expired.iter().map(|step| step.0).sum::<f64>()));
        }
        curves.push(Curve { label: kept_together(&variant.label), pen, pieces });
    }
    let mut notes = Vec::new();
    if let Some((read, total_ml)) = fowler {
        let at = read.dead_space_ml;
        let corners =
            vec![(at, 0.0), (at, read.plateau_at(at)), (total_ml, read.plateau_at(total_ml))];
        let (label, pen) = (ENGLISH.plateau_line.to_owned(), theme::ALVEOLAR);
        curves.push(Curve { label, pen, pieces: vec![corners] });
        let pieces = areas.into_iter().flatten().collect();
        let label = ENGLISH.equal_areas.to_owned();
        curves.insert(0, Curve { label, pen: theme::AREA, pieces });
        let text = format!("{}\u{a0}{}\u{a0}mL", ENGLISH.dead_space, number(at));
        notes.push((0, Note { span: Span::Across { from: 0.0, to: at }, text }));
    }
    let quantity = ENGLISH.signal(Trace::AirwayCarbonDioxide);
    let air = if notes.is_empty() { 0.0 } else { 0.3 };
    let panel = Panel { curves, key: true, air, ..Panel::of(quantity, 1.0) };
    let stack = Stack::over(ENGLISH.along_expired, 0.0, 1.05 * most_ml, vec![panel]);
    Ok(Stack { notes, ..stack })
}

/// The first as this signal is drawn elsewhere.
const PENS: [theme::Pen; 4] = [theme::AT_PATIENT, theme::FLOW, theme::VOLUME, theme::OXYGEN];

/// One breath at the patient connection.
struct Breath {
    /// The volume breathed out before and after each step, and carbon dioxide.
    steps: Vec<(f64, f64, f64)>,
    /// Volume and carbon dioxide of each step of the expiration.
    expired: Vec<(f64, f64)>,
}

impl Breath {
    /// Through the middles of the steps, whose carbon dioxide is a mean, and upright where
    /// the breath turns.
    fn curve(&self) -> Piece {
        let ways = self.steps.chunk_by(|a, b| (a.1 < a.0) == (b.1 < b.0));
        let along = |way: &[(f64, f64, f64)]| {
            let ends = [way.first().map(|s| (s.0, s.2)), way.last().map(|s| (s.1, s.2))];
            let middles = way.iter().map(|s| Some(((s.0 + s.1) / 2.0, s.2)));
            std::iter::once(ends[0]).chain(middles).chain([ends[1]]).flatten().collect::<Piece>()
        };
        ways.flat_map(along).collect()
    }

    /// The areas between the curve of the expiration, the front and the plateau's line: up
    /// to the front under the curve, and beyond it up to where the curve meets the line.
    fn areas(&self, read: &Fowler) -> [Piece; 2] {
        let at = read.dead_space_ml;
        let out = self.steps.iter().filter(|step| step.1 > step.0);
        let curve: Piece = out.map(|step| ((step.0 + step.1) / 2.0, step.2)).collect();
        let after = curve.partition_point(|point| point.0 < at);
        let front = match (curve.get(after.wrapping_sub(1)), curve.get(after)) {
            (Some(&(x0, y0)), Some(&(x1, y1))) => y0 + (y1 - y0) * (at - x0) / (x1 - x0),
            _ => 0.0,
        };
        let meets = |&&(x, y): &&(f64, f64)| y < read.plateau_at(x);
        let under = curve[..after].iter().copied().chain([(at, front), (at, 0.0)]);
        let over = [(at, read.plateau_at(at)), (at, front)].into_iter();
        let over: Piece = over.chain(curve[after..].iter().take_while(meets).copied()).collect();
        [under.collect(), over]
    }
}

fn breath(number: u32, variant: &Variant, plain: &Scenario) -> Result<Breath, DrawFileError> {
    let varied = varied(plain, &variant.set);
    if varied.gas.is_none() {
        return Err(DrawFileError::NoGas);
    }
    let simulation = simulation(&varied, LONGEST_S)?;
    let mut coupled = varied.coupled(&simulation)?;
    let found = find(number, &mut coupled)?;
    // Once more, in fine steps where it lies.
    let end_s = found.start.as_s() + found.duration.as_s();
    let record = Record::within(varied.coupled(&simulation)?, found.start.as_s(), end_s)?;
    let points = record.during(found.start.as_s(), end_s);
    let mut in_ml = 0.0_f64;
    let (mut most_ml, mut steps) = (0.0_f64, Vec::new());
    for point in &points {
        let before = in_ml;
        in_ml += point.volume_ml;
        most_ml = most_ml.max(in_ml);
        if point.volume_ml != 0.0 {
            steps.push((before, in_ml, point.carbon_dioxide_mmhg));
        }
    }
    // Nothing is breathed out yet when the lung holds most.
    steps.iter_mut().for_each(|step| (step.0, step.1) = (most_ml - step.0, most_ml - step.1));
    Ok(Breath { steps, expired: expired(&points) })
}

fn find(
    number: u32,
    coupled: &mut tidewright::coupled::Coupled<'_>,
) -> Result<GasBreath, DrawFileError> {
    let mut count = 0;
    for together in coupled {
        for breath in together?.gas.into_iter().flat_map(|gas| gas.breaths) {
            count += 1;
            if count == number as usize {
                return Ok(breath);
            }
        }
    }
    Err(DrawFileError::NoBreath { breath: number, count })
}
