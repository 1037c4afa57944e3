//! A live run as bytes, and back to the last bit.

use std::sync::Arc;

use serde::{Deserialize, Serialize};
use thiserror::Error;

use super::course::LONGEST_S;
use super::{Course, Ended, Snapshot};
use crate::road::Solver;
use crate::setup::{Setup, SetupError};
use crate::stepping::machine::Machine;

/// Why a saved run cannot be written or brought back.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum BytesError {
    /// A part of it is code.
    #[error("a pressure-volume law of the user's own is code and cannot be written: {0}")]
    Code(String),
    /// They are not what was written, or not all of it.
    #[error("these bytes are not a saved run as it was written: {0}")]
    Broken(String),
    /// They were written by a model that gives other results.
    #[error(
        "the run was saved by revision {found} of the model, and this is {expected}: run it anew"
    )]
    OtherModel {
        /// The revision that wrote them.
        found: u32,
        /// This one.
        expected: u32,
    },
    /// The setup in them cannot be run.
    #[error(transparent)]
    Setup(#[from] SetupError),
}

/// What is written, in this order.
#[derive(Serialize)]
struct Kept<'a> {
    ended: Vec<(&'a Setup, &'a Course, f64)>,
    solver: Solver,
    setup: &'a Setup,
    course: &'a Course,
    now_s: f64,
    told_s: f64,
}

/// The same, read.
#[derive(Deserialize)]
struct Read {
    ended: Vec<(Setup, Course, f64)>,
    solver: Solver,
    setup: Setup,
    course: Course,
    now_s: f64,
    told_s: f64,
}

/// The revision of the model and a sum over what follows.
const HEAD: usize = 4 + 8;

impl Snapshot {
    /// The run as bytes: little-endian, some kB with gas.
    ///
    /// # Errors
    /// [`BytesError::Code`].
    ///
    /// ```
    /// use tidewright::live::{LiveRun, Snapshot};
    /// use tidewright::prelude::*;
    /// let mut run = LiveRun::new(Setup::default())?;
    /// run.advance(Seconds::s(3.21), |_| {})?;
    /// let bytes = run.snapshot().to_bytes()?;
    /// let mut again = LiveRun::from(Snapshot::from_bytes(&bytes)?);
    /// for run in [&mut run, &mut again] {
    ///     run.advance(Seconds::s(9.0), |_| {})?;
    /// }
    /// assert_eq!(run.read(Signal::AirwayPressure), again.read(Signal::AirwayPressure));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn to_bytes(&self) -> Result<Vec<u8>, BytesError> {
        let kept = Kept {
            ended: self
                .ended
                .iter()
                .map(|ended| (ended.machine.setup(), &ended.course, ended.stop_s))
                .collect(),
            solver: self.machine.solver(),
            setup: self.machine.setup(),
            course: &self.course,
            now_s: self.now_s,
            told_s: self.told_s,
        };
        let body =
            postcard::to_allocvec(&kept).map_err(|error| BytesError::Code(error.to_string()))?;
        let mut bytes = Vec::with_capacity(HEAD + body.len());
        bytes.extend(crate::base::revision::MODEL_REVISION.to_le_bytes());
        bytes.extend(sum(&body).to_le_bytes());
        bytes.extend(body);
        Ok(bytes)
    }

    /// The run that was written.
    ///
    /// # Errors
    /// [`BytesError`]: bytes that were not written so, or by another model.
    pub fn from_bytes(bytes: &[u8]) -> Result<Self, BytesError> {
        let broken = |what: &str| BytesError::Broken(what.to_owned());
        let (revision, rest) =
            bytes.split_first_chunk().ok_or_else(|| broken("they are too few"))?;
        let (written, body) = rest.split_first_chunk().ok_or_else(|| broken("they are too few"))?;
        let found = u32::from_le_bytes(*revision);
        if found != crate::base::revision::MODEL_REVISION {
            return Err(BytesError::OtherModel {
                found,
                expected: crate::base::revision::MODEL_REVISION,
            });
        }
        if sum(body) != u64::from_le_bytes(*written) {
            return Err(broken("their sum is another"));
        }
        let Read { ended, solver, setup, course, now_s, told_s } =
            postcard::from_bytes(body).map_err(|error| BytesError::Broken(error.to_string()))?;
        let machine = made_of(setup, solver, &course, now_s)?;
        if told_s > now_s {
            return Err(broken("the times in them cannot be"));
        }
        let ended = ended.into_iter().map(|(setup, course, stop_s)| {
            Ok(Ended { machine: made_of(setup, solver, &course, stop_s)?, course, stop_s })
        });
        let ended = ended.collect::<Result<_, BytesError>>()?;
        Ok(Self { machine, course, now_s, told_s, ended })
    }
}

/// The machine of a part of a run that stands in one step until a time, s.
fn made_of(
    setup: Setup,
    solver: Solver,
    course: &Course,
    until_s: f64,
) -> Result<Arc<Machine>, BytesError> {
    let broken = |what: &str| BytesError::Broken(what.to_owned());
    let machine = Machine::with_solver(setup, solver)?;
    let from_s = course.moment.at_s;
    if !from_s.is_finite() || !(0.0..=LONGEST_S).contains(&(until_s - from_s)) {
        return Err(broken("the times in them cannot be"));
    }
    if !course.moment.effort.fits(&machine.setup().effort) {
        return Err(broken("the effort in them cannot be"));
    }
    if let Some(gas) = &course.gas {
        gas.exchange().check(&machine).map_err(|error| broken(&error.to_string()))?;
    }
    Ok(Arc::new(machine))
}

/// FNV-1a, 64 bits.
fn sum(bytes: &[u8]) -> u64 {
    bytes.iter().fold(0xcbf2_9ce4_8422_2325, |hash, &byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::prelude::*;
    use crate::running::live::LiveRun;

    #[test]
    fn a_run_with_gas_and_a_drive_comes_back_to_the_last_bit() {
        use crate::animal::species::{Animal, Species};
        use crate::exchange::{Apparatus, Capnograph, Conditions, Exchange, Fractions};
        use crate::running::coupled::{GasPlan, GasSettings};
        let dog = Animal::typical(Species::Dog, Mass::kg(12.0));
        let mut setup = Setup { lung: dog.lung(), ..Setup::default() };
        setup.ventilator.mode = Mode::Standby;
        setup.ventilator.fresh_gas_flow = Flow::l_per_min(3.0);
        let plan = GasPlan {
            exchange: Exchange::new(&dog, &setup.lung, Apparatus::default()).unwrap(),
            arterial_carbon_dioxide: PartialPressure::mmhg(48.0),
            capnograph: Capnograph::new(Seconds::s(1.0), Seconds::s(0.2)),
            start: GasSettings {
                conditions: Conditions::of(&dog, 38.0, Fractions::OXYGEN),
                drive: Some(crate::animal::drive::Drive::of(&dog, 0.6)),
            },
            changes: vec![],
            animal: dog,
        };
        let machine = Arc::new(Machine::new(setup).unwrap());
        let mut run = LiveRun::with_gas(machine, &plan).unwrap();
        run.advance(Seconds::s(61.7), |_| {}).unwrap();
        let bytes = run.snapshot().to_bytes().unwrap();
        let mut again = LiveRun::from(Snapshot::from_bytes(&bytes).unwrap());
        for run in [&mut run, &mut again] {
            run.advance(Seconds::s(200.0), |_| {}).unwrap();
        }
        assert_eq!(run.gas(), again.gas());
        assert_eq!(run.snapshot().to_bytes(), again.snapshot().to_bytes());
    }

    /// What a change has ended and nobody was told yet is saved with it.
    #[test]
    fn a_run_is_saved_right_after_a_change() {
        let mut run = LiveRun::new(Setup::default()).unwrap();
        run.advance(Seconds::s(0.71), |_| {}).unwrap();
        for change in 1..=2 {
            let mut setup = run.machine().setup().clone();
            setup.ventilator.fresh_gas_flow = Flow::l_per_min(f64::from(change));
            run.change(setup).unwrap();
        }
        let bytes = run.snapshot().to_bytes().unwrap();
        let mut again = LiveRun::from(Snapshot::from_bytes(&bytes).unwrap());
        let told = |run: &mut LiveRun| {
            let mut told = Vec::new();
            run.advance(Seconds::s(9.0), |passing| {
                let flow = |piece: &Piece<'_>| piece.integral(Signal::AirwayFlow).to_bits();
                let piece = passing.finished().map(|stretch| &stretch.piece);
                told.extend(piece.map(|piece| (piece.start_s, piece.duration_s, flow(piece))));
            })
            .unwrap();
            told
        };
        let told = [&mut run, &mut again].map(told);
        assert_eq!(told[0], told[1]);
        assert_eq!(told[0][0].1, 0.71);
        assert_eq!(run.read(Signal::LungVolume), again.read(Signal::LungVolume));
    }

    #[test]
    fn damaged_bytes_are_refused() {
        let mut run = LiveRun::new(Setup::default()).unwrap();
        run.advance(Seconds::s(2.0), |_| {}).unwrap();
        let bytes = run.snapshot().to_bytes().unwrap();
        for end in 0..bytes.len() {
            assert!(Snapshot::from_bytes(&bytes[..end]).is_err());
        }
        for place in 0..bytes.len() {
            let mut other = bytes.clone();
            other[place] ^= 0x10;
            assert!(Snapshot::from_bytes(&other).is_err(), "{place}");
        }
    }
}
