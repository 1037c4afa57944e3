//! Many patients drawn by chance, each ventilated: what one setting, or one rule,
//! does to a population.
//!
//! Patient k of a cohort is drawn by generators of its own, seeded from the cohort's
//! seed and k. So no row depends on the rows before it, on the number of threads, or
//! on where a run was stopped and taken up again.
//!
//! ```
//! use tidewright_study::Metric;
//! use tidewright_study::cohort::{Cohort, CohortFile, summarise};
//! let file = CohortFile::parse("cats.ron", r#"Cohort(
//!     format: 1, id: "cats", base: "first.ron", patients: 1000,
//!     vary: (compliance_ml_cmh2o: LogNormal(median: 5, log_sd: 0.25)),
//! )"#)?;
//! let base = tidewright_scenario::parse("first.ron", tidewright_scenario::DEMO)?;
//! let summary = summarise(&Cohort::new(file, &base), |_done| ());
//! let volume = summary.spread(Metric::InspiredTidalVolumePerKg);
//! // Of the volume, as of the compliance, the 95th of a hundred is about twice the 5th.
//! let (low, high) = (volume.quantile(0.05).unwrap(), volume.quantile(0.95).unwrap());
//! assert!((1.6..2.6).contains(&(high / low)), "{low} to {high} mL/kg");
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod breathe;
mod counts;
mod draw;
mod file;
mod gas;
mod json;
mod patient;
mod rows;
mod summary;

use std::collections::BTreeMap;
use std::ops::Range;
use std::sync::mpsc::{self, Receiver, TryRecvError};
use std::time::Duration;

use rayon::Yield;
use tidewright::quantity::Mass;
use tidewright::setup::{Setup, Ventilator};
use tidewright::species::Species;
use tidewright_scenario::Scenario;

pub use file::{
    BASE_MEND, BreathNumber, Cohort as CohortFile, Distribution, FlowByWeight, Gas, Goals, Harm,
    LogNormal, Lungs, Normal, Settings, Target, Uniform, Vary, WhichBreath,
};
pub use gas::{APNOEIC_AFTER_S, Outcome};
pub use json::{QUANTILES, json};
pub use rows::{Resume, ResumeError, resume, summarise, summarise_while, write};
pub use summary::{Spread, Summary};

use crate::batch::Breaths;

/// Patients that are computed together, and between two looks at what is to be done.
pub const CHUNK: u64 = 4096;

/// A cohort ready to be run: its file and the base that it names.
#[derive(Clone, Debug, PartialEq)]
pub struct Cohort {
    /// What is drawn, how each is ventilated, and what is asked.
    pub file: CohortFile,
    /// Everything that is not drawn: the base at the start of its run.
    pub base: Setup,
    /// Body weight, where it is not drawn.
    pub weight: Mass,
    /// Kind of animal.
    pub species: Species,
    /// Whether the base states the tube.
    has_own_tube: bool,
    /// The base, healthy and without a timeline, where gas is followed.
    followed: Option<Scenario>,
}

impl Cohort {
    /// The cohort of a file whose base the caller has read: this room opens no file.
    #[must_use]
    pub fn new(file: CohortFile, base: &Scenario) -> Self {
        let followed = file.gas.is_some().then(|| Scenario {
            faults: vec![],
            timeline: vec![],
            ..base.clone()
        });
        Self {
            file,
            followed,
            base: base.protocol().start,
            weight: Mass::kg(base.patient.weight_kg),
            species: base.patient.species.to_core(),
            has_own_tube: base.patient.tube.is_some(),
        }
    }

    /// How many patients.
    #[must_use]
    pub fn patients(&self) -> u64 {
        u64::from(self.file.patients)
    }

    /// The rows of some patients, by index from 0: the same row whatever the others.
    #[must_use]
    pub fn rows(&self, patients: Range<u64>) -> Vec<Row> {
        breathe::rows(self, patients)
    }
}

/// One patient and the breath measured.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// The patient's number, from 1.
    pub patient: u64,
    /// Body weight.
    pub weight: Mass,
    /// Compliance of the lung, all compartments together, mL/cmH2O.
    pub compliance_ml_cmh2o: f64,
    /// Resistance of tube and airway, cmH2O·s/L; of the airways alone where the tube's
    /// is not in proportion to the flow.
    pub resistance_cmh2o_s_l: f64,
    /// Compliance of the circuit, mL/cmH2O.
    pub circuit_compliance_ml_cmh2o: f64,
    /// The leak's flow at the pressure of its statement, mL/min.
    pub leak_ml_min: f64,
    /// The settings.
    pub ventilator: Ventilator,
    /// The breath, or why there is none.
    pub breath: Result<Breaths<1>, String>,
    /// Whether gas is followed.
    pub follows_gas: bool,
    /// What the gas came to, where it is followed and there is a breath.
    pub gas: Option<Outcome>,
    /// Whether every target is met.
    pub within_target: bool,
    /// Whether any harm is done.
    pub harmed: bool,
}

/// How long a thread of the pool rests that finds nothing to help with.
const IDLE: Duration = Duration::from_micros(200);

/// Runs the patients from index `from` on: `work` on each chunk of rows, in parallel;
/// then `take` on what it made, one after the other and in order.
///
/// Memory is bounded: a few chunks at a time. To stop, return an error from `take`.
///
/// # Errors
/// What `take` returns.
pub fn run<T: Send, E>(
    cohort: &Cohort,
    from: u64,
    work: impl Fn(Vec<Row>) -> T + Sync,
    take: impl FnMut(T) -> Result<(), E>,
) -> Result<(), E> {
    in_pieces(cohort, from, CHUNK, work, take)
}

/// The next of what is made. A thread of the pool helps to make it meanwhile: were it to
/// wait, a pool of one would never come to it.
fn received<T>(made: &Receiver<T>) -> Option<T> {
    loop {
        match made.try_recv() {
            Ok(one) => return Some(one),
            Err(TryRecvError::Disconnected) => return None,
            Err(TryRecvError::Empty) => match rayon::yield_now() {
                Some(Yield::Executed) => {}
                Some(Yield::Idle) => std::thread::sleep(IDLE),
                None => return made.recv().ok(),
            },
        }
    }
}

/// As [`run`], in pieces of some patients: each is taken as soon as it and all before it
/// are made, however long the others take.
fn in_pieces<T: Send, E>(
    cohort: &Cohort,
    from: u64,
    piece: u64,
    work: impl Fn(Vec<Row>) -> T + Sync,
    mut take: impl FnMut(T) -> Result<(), E>,
) -> Result<(), E> {
    let most_under_way = 4 * rayon::current_num_threads().max(1) as u64;
    let (patients, work) = (cohort.patients(), &work);
    let (sender, made) = mpsc::channel();
    let mut starts = (from..patients).step_by(piece as usize);
    let mut early = BTreeMap::new();
    let mut next = from;
    rayon::in_place_scope(|scope| {
        let begin = |start: u64| {
            let sender = sender.clone();
            scope.spawn(move |_| {
                let rows = cohort.rows(start..patients.min(start + piece));
                // Who takes no more has been told to stop.
                let _ = sender.send((start, work(rows)));
            });
        };
        starts.by_ref().take(most_under_way as usize).for_each(begin);
        while next < patients {
            let Some((start, made)) = received(&made) else { break };
            early.insert(start, made);
            while let Some(made) = early.remove(&next) {
                take(made)?;
                next = patients.min(next + piece);
                starts.next().into_iter().for_each(begin);
            }
        }
        Ok(())
    })
}
