//! A scenario as a handout: pages to work on, and an answer sheet.

mod asks;
mod html;
mod individual;
mod paper;
#[cfg(feature = "pdf")]
mod press;
#[cfg(feature = "pdf")]
mod print;
mod test;

use tidewright::breath::{Breath, EndedBy};
use tidewright::machine::Machine;
use tidewright::quantity::Mass;
use tidewright::setup::Setup;
use tidewright::steady;
use tidewright_scenario::format::Scenario;
use tidewright_scenario::measure::BreathMeasure;
use tidewright_scenario::report::{self, BANNER as CAUTION, Happening};

use self::individual::Individual;
pub use self::paper::Paper;
pub use self::test::{Choice, OwnQuestion, Test};
use crate::draw::DrawFileError;
use crate::file::{
    self, CircuitDrawing, DrawnPhase, Figure as FigureFile, Show, Size, Time, Trace, Version,
};
#[cfg(feature = "pdf")]
use crate::paper::error::FigureError;
use crate::paper::figure::Figure;
use crate::plot::ticks::number;

/// A measure before a change, and after it.
#[cfg(feature = "png")]
pub(crate) type BeforeAfter = (f64, f64);

/// Which sheets of a handout are wanted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sheets {
    /// Pages to work on, then the answers.
    Both,
    /// Pages to work on alone, for a student.
    Work,
    /// Answers alone, for the educator.
    Answers,
}

/// Longest stretch of a run that leaves single breaths wide enough to write on, s.
const LONGEST_S: f64 = 24.0;
/// Part by which a measure must change to count as up or down.
const NOTABLE: f64 = 0.03;
const PREDICT: &str = "Predict: ↑ up, ↓ down, = as before";
const LINES_PER_QUESTION: usize = 3;
const RECORD: [&str; 6] =
    ["Time (min)", "Fresh gas (L/min)", "Peak (cmH₂O)", "Rate (per min)", "Insp. time (s)", "CO₂"];
const RECORD_COLUMNS: usize = 12;
const CIRCUIT: &str = "The circuit, and what is wrong with it";
const FROM_ENGINE: &str = "From the engine, settled breath before and after";

/// A handout: the case, the traces without names, a table to predict in, three
/// questions, a blank record, and the answers that the engine gives.
///
/// ```
/// use tidewright_figures::{Handout, Paper, Sheets};
/// let scenario = tidewright_scenario::parse("leak.ron", r#"Scenario(
///     format: 1, id: "leak",
///     patient: (species: Cat, weight_kg: 4),
///     ventilator: (fresh_gas_flow_l_min: 2, cycling_pressure_cmh2o: 9,
///         inspiratory_time_limit_s: 4, expiratory_time_s: 2),
///     duration_s: 60,
///     timeline: [(at_s: 30, set: Leak(ml_min: 1500, at_cmh2o: 30))],
/// )"#).unwrap();
/// let handouts = [Handout::new(&scenario, 7)?];
/// let page = Handout::html(&handouts, Sheets::Both, Paper::A4);
/// assert!(page.contains("Seed 7"));
/// let pdf = Handout::pdf(&handouts, Sheets::Work, Paper::Letter)?;
/// assert!(pdf.starts_with(b"%PDF"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug)]
pub struct Handout {
    scenario: Scenario,
    seed: u64,
    student: Option<String>,
    quiz: Figure,
    answer: Figure,
    /// Of a scenario that puts its circuit together from parts.
    circuit: Option<Figure>,
    answers: Vec<Answer>,
    /// The breath that it begins with, where one settles.
    breath: Option<Breath>,
    differs: Vec<String>,
    test: Option<Test>,
}

impl Handout {
    /// The handout of a scenario and a seed.
    ///
    /// Seed 0 is the scenario as it stands. Any other seed is another patient, the
    /// same for the same seed: compliance and resistance (or, where the lung follows
    /// from it, weight) are 0.8 to 1.25 times the scenario's, fresh gas flow is 0.9
    /// to 1.1 times. Only a patient is taken at which breaths end as in the scenario
    /// and no measure goes the other way, so that the lesson stays. The answers are
    /// computed for that patient.
    ///
    /// # Errors
    /// [`DrawFileError`] where the run or the drawing fails, or no such patient is
    /// found.
    pub fn new(scenario: &Scenario, seed: u64) -> Result<Self, DrawFileError> {
        let Individual { mut scenario, answers, differs } = Individual::new(scenario, seed)?;
        scenario.story = scenario.story_told();
        let traces = traces(&scenario);
        // One caution on each sheet: the sheet's own.
        let quiz = traces.draw(&scenario, Version::Student)?.on_a_sheet();
        let answer = traces.draw(&scenario, Version::Teacher)?.on_a_sheet();
        let circuit = match &scenario.assembly {
            Some(_) => Some(circuit(&scenario).draw(&scenario, Version::Teacher)?.on_a_sheet()),
            None => None,
        };
        let breath = settled(&scenario.protocol().start);
        let (student, test) = (None, None);
        Ok(Self { scenario, seed, student, quiz, answer, circuit, answers, breath, differs, test })
    }

    /// The same handout with a student's pseudonym on every sheet.
    #[must_use]
    pub fn of(self, student: &str) -> Self {
        Self { student: Some(student.to_owned()), ..self }
    }

    /// The same handout with a test in the place of its three questions.
    #[must_use]
    pub fn asking(self, test: Test) -> Self {
        Self { test: Some(test), ..self }
    }

    /// A printable page in HTML, complete in itself.
    #[must_use]
    pub fn html(handouts: &[Self], sheets: Sheets, paper: Paper) -> String {
        html::page(handouts, sheets, paper)
    }

    /// The same as a tagged PDF: vectors, text as text, the same bytes each time.
    ///
    /// # Errors
    /// If a text holds a letter that the font of the figures lacks.
    #[cfg(feature = "pdf")]
    pub fn pdf(handouts: &[Self], sheets: Sheets, paper: Paper) -> Result<Vec<u8>, FigureError> {
        print::pdf(handouts, sheets, paper)
    }

    /// When the first change comes, s, what it is, and what it does to [`MEASURES`]: before
    /// and after. Nothing where breaths do not settle.
    #[cfg(feature = "png")]
    pub(crate) fn first_change(&self) -> Option<(f64, &str, &[BeforeAfter])> {
        let first = self.answers.first()?;
        let measures = first.measures.as_ref()?;
        Some((first.at_s, &first.label, &measures.values))
    }

    /// The traces without names.
    #[cfg(feature = "png")]
    pub(crate) fn quiz(&self) -> &Figure {
        &self.quiz
    }

    pub(crate) fn patient(&self) -> String {
        report::patient(&self.scenario)
    }

    /// Whose sheet it is, and which patient stands on it.
    fn whose(&self) -> String {
        match &self.student {
            Some(student) => format!("{student}: {}", self.patient()),
            None => self.patient(),
        }
    }

    /// The scenario's own name would tell the answer on the student's pages.
    fn title(&self) -> &str {
        self.scenario.title.as_deref().unwrap_or(self.scenario.id.as_str())
    }

    pub(crate) fn story(&self) -> &str {
        self.scenario.story.as_deref().unwrap_or_default()
    }

    fn teaches(&self) -> &str {
        self.scenario.teaches.as_deref().unwrap_or_default()
    }

    pub(crate) fn settings(&self) -> String {
        let settings = report::settings(&self.scenario).join(", ");
        format!("At the start: {}.", settings.replace("cmH2O", "cmH₂O"))
    }

    /// Seed and version, with whose sheet it is; the scenario is named on answers
    /// alone.
    fn origin(&self, answers: bool) -> String {
        let seed = if answers { "seed" } else { "Seed" };
        let scenario = if answers { format!("{}, ", self.scenario.id) } else { String::new() };
        let student = self.student.as_ref().map(|name| format!("{name} · ")).unwrap_or_default();
        let version = env!("CARGO_PKG_VERSION");
        format!("{student}{scenario}{seed} {}, Tidewright {version}", self.seed)
    }

    /// How this patient differs from the file's.
    fn differs(&self) -> Option<String> {
        let differs = self.differs.join(", ");
        (!differs.is_empty()).then(|| format!("Against the scenario: {differs}."))
    }
}

/// What a change or a fault does to the settled breath.
#[derive(Debug)]
pub(crate) struct Answer {
    at_s: f64,
    label: String,
    /// Whether somebody turned a control, and so knows what it is.
    by_hand: bool,
    /// Nothing where breaths do not settle.
    measures: Option<Measures>,
}

/// The settled breath before and after a change.
#[derive(Debug)]
struct Measures {
    ended_by: (EndedBy, EndedBy),
    /// Before and after for each of [`MEASURES`].
    values: Vec<(f64, f64)>,
}

/// What students predict.
pub(crate) const MEASURES: [BreathMeasure; 4] = [
    BreathMeasure::InspiratoryTime,
    BreathMeasure::Rate,
    BreathMeasure::ExpiredTidalVolume,
    BreathMeasure::PeakPressure,
];
/// What stands where breaths do not settle.
const NOT_SETTLED: &str = "no settled breath";

/// Which way a measure goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Arrow {
    Up,
    Down,
    Same,
}

impl Arrow {
    pub(crate) fn of((before, after): (f64, f64)) -> Self {
        match after / before {
            ratio if ratio > 1.0 + NOTABLE => Self::Up,
            ratio if ratio < 1.0 - NOTABLE => Self::Down,
            _ => Self::Same,
        }
    }

    fn sign(self) -> &'static str {
        match self {
            Self::Up => "↑",
            Self::Down => "↓",
            Self::Same => "=",
        }
    }
}

impl Answer {
    /// What stands before the change's row: on a student's sheet the first change is
    /// the one to find in the traces, and of the others only what a hand turned is named.
    fn row_name(&self, filled: bool, first: bool) -> String {
        let at_s = number(self.at_s);
        if !filled && (first || !self.by_hand) {
            return format!("at {at_s} s, as seen");
        }
        format!("{at_s} s: {}", self.label.replace("cmH2O", "cmH₂O"))
    }

    /// An arrow with both values for each measure; nothing where breaths do not
    /// settle.
    fn told(&self) -> Option<Vec<String>> {
        let values = &self.measures.as_ref()?.values;
        let told = |&(before, after): &(f64, f64)| {
            format!("{} {} → {}", Arrow::of((before, after)).sign(), number(before), number(after))
        };
        Some(values.iter().map(told).collect())
    }
}

/// Names of the columns of a table of measures.
fn head(first: &str) -> Vec<String> {
    let measures = MEASURES.map(|of| format!("{} ({})", of.words(), of.unit().axis));
    std::iter::once(first.to_owned()).chain(measures).collect()
}

/// A table of what the first change does to each student's patient.
fn key_rows(handouts: &[Handout]) -> Vec<Vec<String>> {
    let mut names = head("Student");
    names.insert(1, "Seed".to_owned());
    let rows = handouts.iter().map(|handout| {
        let student = handout.student.clone().unwrap_or_else(|| handout.patient());
        let told = handout.answers.first().map(Answer::told);
        let told = told.map(|told| told.unwrap_or_else(|| vec![NOT_SETTLED.to_owned()]));
        let mut cells = vec![student, handout.seed.to_string()];
        cells.extend(told.unwrap_or_default());
        cells.resize(2 + MEASURES.len(), String::new());
        cells
    });
    std::iter::once(names).chain(rows).collect()
}

fn answers(scenario: &Scenario) -> Vec<Answer> {
    let protocol = scenario.protocol();
    let weight = Mass::kg(scenario.patient.weight_kg);
    let mut together: Vec<Answer> = Vec::new();
    for Happening { at_s, label, by_hand, .. } in report::happenings(scenario) {
        match together.last_mut() {
            _ if at_s <= 0.0 => {}
            Some(last) if last.at_s == at_s => {
                last.label += &format!("; {label}");
                last.by_hand &= by_hand;
            }
            _ => together.push(Answer { at_s, label, by_hand, measures: None }),
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
        answer.measures = before.as_ref().zip(after.as_ref()).map(|(before, after)| Measures {
            ended_by: (before.ended_by, after.ended_by),
            values: MEASURES.map(|of| (of.of(before, weight), of.of(after, weight))).to_vec(),
        });
        before = after;
    }
    together
}

fn settled(setup: &Setup) -> Option<Breath> {
    let machine = Machine::new(setup.clone()).ok()?;
    steady::periodic(&machine).ok().map(|settled| settled.breath)
}

/// The circuit with what is wrong with it, which belongs to the answers.
fn circuit(scenario: &Scenario) -> FigureFile {
    let drawing = CircuitDrawing { phase: DrawnPhase::Expiration, marks: true };
    let title = CIRCUIT.to_owned();
    FigureFile { title, show: Show::Circuit(drawing), ..traces(scenario) }
}

/// Traces around the first change, or of the first breaths.
fn traces(scenario: &Scenario) -> FigureFile {
    let happenings = report::happenings(scenario);
    let first = happenings.iter().map(|happening| happening.at_s).find(|&at_s| at_s > 0.0);
    let from_s = first.map_or(0.0, |at_s| (at_s - LONGEST_S / 2.0).max(0.0));
    let to_s = (from_s + LONGEST_S).min(scenario.duration_s.max(from_s + 1.0));
    let signals = [Trace::AirwayPressure, Trace::AirwayFlow, Trace::LungVolume].into_iter();
    let capnogram = scenario.gas.as_ref().map(|_| Trace::Capnogram);
    let panel = |signal| file::Panel { signals: vec![signal] };
    FigureFile {
        format: 1,
        id: scenario.id.clone(),
        title: "Traces".to_owned(),
        question: Some("Traces: mark what changes, and when".to_owned()),
        teaches: scenario.teaches.clone().unwrap_or_default(),
        discussion: None,
        scenario: String::new(),
        set: Vec::new(),
        look: Size::Page,
        version: Version::Student,
        show: Show::Time(Time {
            from_s,
            to_s,
            panels: signals.chain(capnogram).map(panel).collect(),
            compare: None,
            measures: Vec::new(),
        }),
    }
}
