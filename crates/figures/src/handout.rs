//! A scenario as a handout: a page to work on, and an answer sheet.

mod page;

use tidewright::breath::Breath;
use tidewright::machine::Machine;
use tidewright::random;
use tidewright::setup::Setup;
use tidewright::steady;
use tidewright_scenario::format::{Change, Compartment, Lung, Scenario};
use tidewright_scenario::report::{self, Happening};

use crate::draw::DrawFileError;
use crate::file::{self, Figure as FigureFile, Show, Size, Time, Trace, Version};
use crate::ticks::number;

/// Paper of a handout.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Paper {
    /// 210 by 297 mm.
    A4,
    /// 8.5 by 11 inches.
    Letter,
}

/// Longest stretch of a run that leaves single breaths wide enough to write on, s.
const LONGEST_S: f64 = 24.0;
/// Part by which a measure must change to count as up or down.
const NOTABLE: f64 = 0.03;

/// A printable page in HTML, complete in itself: the case, the traces without
/// names, a table to predict in, three questions, a blank record, and a second
/// page with the answers that the engine gives.
///
/// Seed 0 is the scenario as it stands. Any other seed is another patient: its
/// compliance and resistance differ by some percent, the same for the same seed, so
/// that each student of a class can have an own sheet. The answers are computed for
/// that patient.
///
/// # Errors
/// [`DrawFileError`] where the run or the drawing fails.
pub fn handout(scenario: &Scenario, paper: Paper, seed: u64) -> Result<String, DrawFileError> {
    let scenario = &individual(scenario, seed);
    let traces = traces(scenario);
    let quiz = traces.draw(scenario, Version::Student)?;
    let answer = traces.draw(scenario, Version::Teacher)?;
    let changes = changes(scenario);
    Ok(page::page(scenario, paper, seed, &quiz.to_light_svg(), &answer.to_light_svg(), &changes))
}

/// What a change or a fault does to the settled breath.
pub(crate) struct Answer {
    pub at_s: f64,
    pub label: String,
    /// Before and after for each of [`MEASURES`]; nothing where breaths do not settle.
    pub measures: Option<Vec<(f64, f64)>>,
}

/// What students predict: name and unit.
pub(crate) const MEASURES: [(&str, &str); 4] = [
    ("Inspiratory time", "s"),
    ("Rate", "per min"),
    ("Tidal volume", "mL"),
    ("Peak pressure", "cmH₂O"),
];

impl Answer {
    /// An arrow with both values.
    pub fn told((before, after): (f64, f64)) -> String {
        let arrow = match after / before {
            ratio if ratio > 1.0 + NOTABLE => "↑",
            ratio if ratio < 1.0 - NOTABLE => "↓",
            _ => "=",
        };
        format!("{arrow} {} → {}", number(before), number(after))
    }
}

fn changes(scenario: &Scenario) -> Vec<Answer> {
    let protocol = scenario.protocol();
    let mut together: Vec<Answer> = Vec::new();
    for Happening { at_s, label, .. } in report::happenings(scenario) {
        match together.last_mut() {
            _ if at_s <= 0.0 => {}
            Some(last) if last.at_s == at_s => last.label += &format!("; {label}"),
            _ => together.push(Answer { at_s, label, measures: None }),
        }
    }
    // What comes bit by bit has come when the next thing happens.
    let ends = together.iter().skip(1).map(|answer| answer.at_s).chain([scenario.duration_s]);
    let ends: Vec<f64> = ends.collect();
    let setup_before = |until_s: f64| {
        let past = protocol.changes.iter().take_while(|change| change.at.as_s() < until_s);
        past.last().map_or(&protocol.start, |change| &change.setup)
    };
    let mut before = settled(&protocol.start);
    for (answer, until_s) in together.iter_mut().zip(ends) {
        let after = settled(setup_before(until_s));
        let measures = before.as_ref().zip(after.as_ref());
        answer.measures = measures.map(|(before, after)| {
            measures_of(before).into_iter().zip(measures_of(after)).collect()
        });
        before = after;
    }
    together
}

fn settled(setup: &Setup) -> Option<Breath> {
    let machine = Machine::new(setup.clone()).ok()?;
    steady::periodic(&machine).ok().map(|settled| settled.breath)
}

fn measures_of(breath: &Breath) -> [f64; MEASURES.len()] {
    [
        breath.inspiratory_time.as_s(),
        breath.rate_per_min(),
        breath.expired_tidal_volume.as_ml(),
        breath.peak_pressure.as_cmh2o(),
    ]
}

/// Traces around the first change, or of the first breaths.
fn traces(scenario: &Scenario) -> FigureFile {
    let happenings = report::happenings(scenario);
    let first = happenings.iter().map(|happening| happening.at_s).find(|&at_s| at_s > 0.0);
    let from_s = first.map_or(0.0, |at_s| (at_s - LONGEST_S / 2.0).max(0.0));
    let to_s = (from_s + LONGEST_S).min(scenario.duration_s.max(from_s + 1.0));
    let panel = |signal| file::Panel { signals: vec![signal] };
    FigureFile {
        format: 1,
        id: scenario.id.clone(),
        title: "Traces".to_owned(),
        question: Some("Traces: mark what changes, and when".to_owned()),
        teaches: scenario.teaches.clone().unwrap_or_default(),
        scenario: String::new(),
        set: Vec::new(),
        look: Size::Page,
        version: Version::Student,
        show: Show::Time(Time {
            from_s,
            to_s,
            panels: [Trace::AirwayPressure, Trace::AirwayFlow, Trace::LungVolume].map(panel).into(),
            compare: None,
            measures: Vec::new(),
        }),
    }
}

/// The patient of a seed.
fn individual(scenario: &Scenario, seed: u64) -> Scenario {
    let mut scenario = scenario.clone();
    if seed == 0 {
        return scenario;
    }
    let mut generator = random::generator(seed);
    let mut factor = || (1.0 + 0.08 * random::standard_normal(&mut generator)).clamp(0.8, 1.25);
    let (compliance, resistance, weight) = (factor(), factor(), factor());
    let vary = |lung: &mut Lung| {
        let parts: &mut [Compartment] = match lung {
            Lung::Single(only) => std::slice::from_mut(only),
            Lung::Compartments(lung) => &mut lung.compartments,
        };
        for part in parts {
            part.compliance_ml_cmh2o *= compliance;
            part.resistance_cmh2o_s_l *= resistance;
        }
    };
    match &mut scenario.patient.lung {
        Some(lung) => vary(lung),
        // A typical lung follows from the weight.
        None => scenario.patient.weight_kg *= weight,
    }
    for entry in &mut scenario.timeline {
        if let Change::Lung(lung) = &mut entry.set {
            vary(lung);
        }
    }
    scenario
}
