//! One fault run by the engine: a breath of it, and the pattern that it shows.

use tidewright::breath::Breath;
use tidewright::fault::{CASES, Case, TimedFault, cat, with_faults};
use tidewright::machine::Signal;
use tidewright::quantity::Seconds;
use tidewright::run::{Protocol, Simulation};

use crate::draw::DrawFileError;
use crate::file::language::ENGLISH;
use crate::kinds::from_run::View;
use crate::paper::curve::{Piece, clip};
use crate::paper::pattern::Pattern;

/// How much of the breath is drawn, s.
pub(super) const SHOWN_S: f64 = 5.0;
/// The run that the breath is from, and when its fault comes, s.
const RUN_S: f64 = 100.0;
const ONSET_S: f64 = 20.0;
/// A row of the chart.
pub(crate) struct Sign {
    pub name: String,
    pub severity: Option<f64>,
    pub pattern: Pattern,
    pub breath: Breath,
    /// Time from the start of the breath, s.
    pub pressure_cmh2o: Vec<Piece>,
}

impl Sign {
    /// The cat without a fault.
    pub fn healthy() -> Result<Self, DrawFileError> {
        let (breath, pressure_cmh2o) = run(&[])?;
        let name = ENGLISH.healthy.to_owned();
        let pattern = Pattern::of(&breath, &breath);
        Ok(Self { name, severity: None, pattern, breath, pressure_cmh2o })
    }

    /// Every case, in the engine's order.
    pub fn all(healthy: &Self) -> Result<Vec<Self>, DrawFileError> {
        CASES.iter().map(|case| Self::of(*case, healthy)).collect()
    }

    fn of(case: Case, healthy: &Self) -> Result<Self, DrawFileError> {
        let onset = TimedFault::step(case.fault, case.severity, Seconds::s(ONSET_S));
        let (breath, pressure_cmh2o) = run(&[onset])?;
        let words = case.fault.in_words();
        Ok(Self {
            name: words[..1].to_uppercase() + &words[1..],
            severity: Some(case.severity),
            pattern: Pattern::of(&breath, &healthy.breath),
            breath,
            pressure_cmh2o,
        })
    }
}

/// The last breath that ends within the run, and its trace, which may go on beyond.
fn run(faults: &[TimedFault]) -> Result<(Breath, Vec<Piece>), DrawFileError> {
    let duration = Seconds::s(RUN_S + SHOWN_S);
    let healthy = Protocol { start: cat(), changes: vec![], duration };
    let simulation = Simulation::new(&with_faults(&healthy, faults))?;
    let trace = simulation.trace()?;
    let breaths = trace.breaths();
    let ends_s = |b: &Breath| (b.start + b.inspiratory_time + b.expiratory_time).as_s();
    let last = breaths.iter().rfind(|breath| ends_s(breath) <= RUN_S);
    let breath = *last.ok_or(DrawFileError::NoBreath { breath: 1, count: breaths.len() })?;
    let from_s = breath.start.as_s();
    let view = View::of(&trace, &(from_s..from_s + SHOWN_S));
    let mut pieces = clip(&view.curve(Signal::AirwayPressure), from_s, from_s + SHOWN_S);
    pieces.iter_mut().flatten().for_each(|point| point.0 -= from_s);
    Ok((breath, pieces))
}
