//! Signals over time.

use tidewright::breath::Breath;
use tidewright::machine::Signal;
use tidewright_scenario::Scenario;

use super::error::DrawFileError;
use super::gas::{Phases, Record};
use super::run::{happenings, kept_together, simulation, unchanged, varied};
use super::source::Source;
use crate::file::language::ENGLISH;
use crate::file::{Measure, Time, Trace};
use crate::kinds::from_run::View;
use crate::paper::curve::{Piece, clip};
use crate::paper::theme::{self, Pen};
use crate::plot::note::{Note, Span};
use crate::plot::panel::{Curve, Panel};
use crate::plot::stack::Stack;
use crate::plot::ticks::number;

pub(super) fn stack<'a>(
    time: &Time,
    plain: &Scenario,
    teacher: bool,
) -> Result<Stack<'a>, DrawFileError> {
    let window_s = time.from_s..time.to_s;
    let run = simulation(plain, time.to_s)?;
    let record = Record::within(plain.coupled(&run)?, time.from_s, time.to_s)?;
    let view = View::of(&record.trace, &window_s);

    let mut panels: Vec<Panel> = Vec::new();
    for panel in &time.panels {
        let quantity = ENGLISH.signal(panel.signals[0]);
        let mut drawn = Panel::of(quantity, 1.0);
        for &trace in panel.signals.iter().rev() {
            let label = ENGLISH.signal(trace).curve.to_owned();
            let pieces = curve(&record, &view, trace, time);
            drawn.curves.push(Curve { label, pen: pen(trace), pieces });
        }
        panels.push(drawn);
    }
    if let Some(variant) = time.compare.as_ref().filter(|_| teacher) {
        let ghost = varied(&unchanged(plain), &variant.set);
        let run = simulation(&ghost, time.to_s)?;
        let record = Record::within(ghost.coupled(&run)?, time.from_s, time.to_s)?;
        let view = View::of(&record.trace, &window_s);
        for (drawn, panel) in panels.iter_mut().zip(&time.panels) {
            let pieces = curve(&record, &view, panel.signals[0], time);
            let label = kept_together(&variant.label);
            drawn.curves.insert(0, Curve { label, pen: theme::GHOST, pieces });
        }
    }

    let ends: Vec<_> =
        view.breath_ends().into_iter().filter(|e| window_s.contains(&e.at_s)).collect();
    if let Some(panel) = panels.first_mut().filter(|_| holds(time, 0, Trace::AirwayPressure)) {
        panel.marked = ends.iter().map(|end| end.pressure_cmh2o).collect();
        let levels = clip(&view.cycling_pressure(), time.from_s, time.to_s);
        if let Some(&(_, level)) = levels.iter().flatten().next() {
            let steady = levels.iter().flatten().all(|&(_, y)| y == level);
            let label = match steady {
                true => format!("{}\u{a0}{}", ENGLISH.cycling_pressure, number(level)),
                false => ENGLISH.cycling_pressure.to_owned(),
            };
            panel.curves.insert(0, Curve { label, pen: theme::REFERENCE, pieces: levels });
        }
    }
    let mut stack = Stack::over(ENGLISH.time, time.from_s, time.to_s, panels);
    let shown = |start: f64, end: f64| start < time.to_s && end > time.from_s;
    stack.phases = view.phases().into_iter().filter(|p| shown(p.start_s, p.end_s)).collect();
    stack.breath_ends = match holds(time, 0, Trace::AirwayPressure) {
        true => ends,
        false => Vec::new(),
    };
    stack.events = happenings(plain, time.from_s, time.to_s);
    if teacher {
        stack.notes = notes(time, &record)?;
        stack.said = phases_said(&stack.notes).into_iter().collect();
        for &(panel, Note { span, .. }) in &stack.notes {
            if matches!(span, Span::Across { .. }) {
                stack.panels[panel].air = 0.45;
            }
        }
    }
    Ok(stack)
}

/// The part of a signal inside the window, in the unit of the figure.
fn curve(record: &Record<'_>, view: &View<'_>, trace: Trace, time: &Time) -> Vec<Piece> {
    match Source::of(trace) {
        Source::Gas(reading) => clip(&record.curve(reading), time.from_s, time.to_s),
        Source::Machine(signal, factor) => {
            let mut pieces = clip(&view.curve(signal), time.from_s, time.to_s);
            pieces.iter_mut().flatten().for_each(|point| point.1 *= factor);
            pieces
        }
    }
}

fn holds(time: &Time, panel: usize, signal: Trace) -> bool {
    time.panels.get(panel).is_some_and(|panel| panel.signals.contains(&signal))
}

/// Each measure with its panel.
fn notes(time: &Time, record: &Record<'_>) -> Result<Vec<(usize, Note)>, DrawFileError> {
    let trace = &record.trace;
    let breaths = trace.breaths();
    let find = |number: u32| {
        let breath = breaths.get(number as usize - 1);
        let within = |b: &&Breath| b.start.as_s() >= time.from_s && turn(b) <= time.to_s;
        let count = breaths.len();
        breath.filter(within).ok_or(DrawFileError::NoBreath { breath: number, count })
    };
    let panel = |needed: Trace| {
        let place = (0..time.panels.len()).find(|&i| holds(time, i, needed));
        let needed = match needed {
            Trace::AirwayCarbonDioxide => ENGLISH.carbon_dioxide_at_patient,
            needed => ENGLISH.signal(needed).curve,
        };
        place.ok_or(DrawFileError::NoPanel { needed })
    };
    let at = |breath_s: f64, signal: Signal| {
        trace.at(tidewright::quantity::Seconds::s(breath_s), signal).unwrap_or(0.0)
    };
    let mut notes = Vec::new();
    for measure in &time.measures {
        if let Measure::CapnogramPhases(of) = *measure {
            let panel = panel(Trace::AirwayCarbonDioxide)?;
            notes.extend(phases(find(of.breath)?, record)?.map(|note| (panel, note)));
            continue;
        }
        notes.push(match *measure {
            Measure::CapnogramPhases(_) => continue,
            Measure::InspiratoryTime(of) => {
                let breath = find(of.breath)?;
                let span = Span::Across { from: breath.start.as_s(), to: turn(breath) };
                let value = number(breath.inspiratory_time.as_s());
                (0, Note { span, text: format!("{} {value} s", ENGLISH.inspiratory_time) })
            }
            Measure::ExpiratoryTime(of) => {
                let breath = find(of.breath)?;
                let from = turn(breath);
                let span = Span::Across { from, to: from + breath.expiratory_time.as_s() };
                let value = number(breath.expiratory_time.as_s());
                (0, Note { span, text: format!("{} {value} s", ENGLISH.expiratory_time) })
            }
            Measure::InspiredTidalVolume(of) => {
                let breath = find(of.breath)?;
                let start_s = breath.start.as_s();
                let from = at(start_s, Signal::LungVolume);
                let to = at(turn(breath), Signal::LungVolume);
                let value = number(breath.inspired_tidal_volume.as_ml());
                let text = format!("{} {value} mL", ENGLISH.inspired_tidal_volume);
                let span = Span::Up { at: start_s, from, to, before: true };
                (panel(Trace::LungVolume)?, Note { span, text })
            }
            Measure::ResistivePressure(of) => {
                let end_s = turn(find(of.breath)?);
                let from = at(end_s, Signal::AlveolarPressure);
                let to = at(end_s, Signal::AirwayPressure);
                let value = number(to - from);
                let text = format!("{} {value}", ENGLISH.resistive_pressure);
                let span = Span::Up { at: end_s, from, to, before: false };
                (panel(Trace::AlveolarPressure)?, Note { span, text })
            }
            Measure::EndExpiratoryAlveolarPressure(of) => {
                let breath = find(of.breath)?;
                let end_s = turn(breath) + breath.expiratory_time.as_s();
                let to = breath.end_expiratory_alveolar_pressure.as_cmh2o();
                let text = format!("{} {}", ENGLISH.alveolar_end, number(to));
                let span = Span::Up { at: end_s, from: 0.0, to, before: true };
                (panel(Trace::AlveolarPressure)?, Note { span, text })
            }
        });
    }
    Ok(notes)
}

/// The phases of a breath's capnogram, each a bracket with its name.
fn phases(breath: &Breath, record: &Record<'_>) -> Result<[Note; 4], DrawFileError> {
    let from_s = breath.start.as_s();
    let to_s = turn(breath) + breath.expiratory_time.as_s();
    let phases = Phases::of(&record.during(from_s, to_s));
    let phases = phases.ok_or(DrawFileError::NoPlateau { breath: breath.number as u32 })?;
    let mut from = phases.starts_s;
    Ok(std::array::from_fn(|i| {
        let span = Span::Across { from, to: phases.ends_s[i] };
        from = phases.ends_s[i];
        Note { span, text: ENGLISH.capnogram_phases[i].to_owned() }
    }))
}

/// How long the phases last, where they are drawn.
fn phases_said(notes: &[(usize, Note)]) -> Option<String> {
    let lasts = |(_, note): &(usize, Note)| match note.span {
        Span::Across { from, to } if ENGLISH.capnogram_phases.contains(&&*note.text) => {
            Some(format!("{} for {} s", note.text, number(to - from)))
        }
        _ => None,
    };
    let phases: Vec<String> = notes.iter().filter_map(lasts).collect();
    (!phases.is_empty()).then(|| format!("Phases of the capnogram: {}.", phases.join(", ")))
}

/// When the outlet valve opens, s.
fn turn(breath: &Breath) -> f64 {
    breath.start.as_s() + breath.inspiratory_time.as_s()
}

fn pen(trace: Trace) -> Pen {
    match trace {
        Trace::AirwayPressure => theme::PRESSURE,
        Trace::AlveolarPressure => theme::ALVEOLAR,
        Trace::PleuralPressure | Trace::MusclePressure => theme::MUSCLE,
        Trace::AirwayFlow => theme::FLOW,
        Trace::LeakFlow | Trace::OutletFlow => theme::LOST,
        Trace::LungVolume => theme::VOLUME,
        Trace::AirwayCarbonDioxide => theme::AT_PATIENT,
        Trace::Capnogram => theme::CARBON_DIOXIDE,
        Trace::AlveolarCarbonDioxide => theme::ALVEOLAR,
        Trace::ArterialCarbonDioxide => theme::ARTERIAL,
        Trace::AirwayOxygen | Trace::OxygenSaturation => theme::OXYGEN,
    }
}
