//! A setup made ready to run: checked, turned into a network for each position
//! of the outlet valve, and, where it is linear, split into modes once.

use crate::base::quantity::Pressure;
use crate::plant::network::{NodeVec, NowhereToGo};
use crate::plant::plan::Plan;
use crate::road::Solver;
use crate::road::exact::Exact;
use crate::road::shape::Shape;
use crate::setup::{self, Mode, Setup, SetupError};
use crate::stepping::phase::PhaseKind;
use crate::stepping::place::{Misplaced, Place};

pub use crate::plant::signal::Signal;
pub use crate::setup::OPEN_PORT_RESISTANCE;

/// A setup made ready to run.
///
/// ```
/// use tidewright::prelude::*;
/// let machine = Machine::new(Setup::default())?;
/// // The slowest mode of a sealed circuit does not decay; with the valve open
/// // the lung empties with about (airway + valve resistance) × compliance.
/// assert!(machine.time_constants_s(PhaseKind::Inspiration)[0] > 1e9);
/// let slowest = machine.time_constants_s(PhaseKind::Expiration)[0];
/// assert!((slowest - 0.15).abs() < 0.001);
/// # Ok::<(), SetupError>(())
/// ```
#[derive(Clone, Debug)]
pub struct Machine {
    setup: Setup,
    solver: Solver,
    shut: Shape,
    open: Shape,
}

impl Machine {
    /// Checks a setup and makes it ready to run.
    ///
    /// # Errors
    /// A value that is out of its range, or a rigid circuit from which the fresh
    /// gas has no way out.
    pub fn new(setup: Setup) -> Result<Self, SetupError> {
        Self::with_solver(setup, Solver::Auto)
    }

    /// As [`Machine::new`], on a road of one's choice.
    ///
    /// # Errors
    /// As [`Machine::new`].
    pub fn with_solver(setup: Setup, solver: Solver) -> Result<Self, SetupError> {
        setup::check(&setup)?;
        let open = Shape::new(&setup, solver, true)?;
        // In standby the outlet is never told to shut.
        let shut = match setup.ventilator.mode {
            Mode::Standby => open.clone(),
            Mode::Ventilating => Shape::new(&setup, solver, false)?,
        };
        Ok(Self { setup, solver, shut, open })
    }

    /// Whether [`Machine::new`] would accept a setup, without the work of making
    /// it ready.
    ///
    /// # Errors
    /// As [`Machine::new`].
    ///
    /// ```
    /// use tidewright::prelude::*;
    /// let mut setup = Setup::default();
    /// assert_eq!(Machine::check(&setup), Ok(()));
    /// setup.circuit.compliance = Compliance::ZERO;
    /// setup.circuit.patient_port = PatientPort::Blocked;
    /// assert_eq!(Machine::check(&setup), Err(SetupError::NowhereToGo));
    /// ```
    pub fn check(setup: &Setup) -> Result<(), SetupError> {
        setup::check(setup)?;
        let ways_out = |valve_is_open| Plan::new(setup, valve_is_open).check_ways_out();
        // In standby the outlet is never told to shut.
        let positions: &[bool] = match setup.ventilator.mode {
            Mode::Standby => &[true],
            Mode::Ventilating => &[false, true],
        };
        positions
            .iter()
            .copied()
            .try_for_each(ways_out)
            .map_err(|NowhereToGo| SetupError::NowhereToGo)
    }

    /// The setup it was made from.
    #[must_use]
    pub fn setup(&self) -> &Setup {
        &self.setup
    }

    /// The road it was told to take.
    #[must_use]
    pub fn solver(&self) -> Solver {
        self.solver
    }

    /// Whether every phase is solved in closed form: the setup is linear, and no
    /// other road was asked for.
    #[must_use]
    pub fn is_exact(&self) -> bool {
        self.shut.exact.is_some() && self.open.exact.is_some()
    }

    /// Time constants of the modes in a phase, slowest first, s; infinite (or
    /// beyond any run) for a mode that does not decay. Empty where the machine
    /// is not linear: it has no constants then.
    #[must_use]
    pub fn time_constants_s(&self, phase: PhaseKind) -> Vec<f64> {
        self.shape(phase).exact.as_ref().map_or_else(Vec::new, Exact::time_constants_s)
    }

    /// Whether this machine can give way to `next` during a run: every place that holds
    /// gas must stay. The one check of every door.
    ///
    /// # Errors
    /// [`Misplaced`] names what would lose its gas, or have some from nowhere.
    pub fn check_successor(&self, next: &Self) -> Result<(), Misplaced> {
        self.shut
            .plan
            .misplaces_gas(&next.shut.plan)
            .map_or(Ok(()), |place| Err(Misplaced { place }))
    }

    /// Whether gas is held at a place.
    #[must_use]
    pub fn holds_gas(&self, place: Place) -> bool {
        place.node().is_some_and(|place| self.shut.plan.holds_gas(place))
    }

    #[inline]
    pub(crate) fn shape(&self, phase: PhaseKind) -> &Shape {
        if phase.valve_is_open() { &self.open } else { &self.shut }
    }

    /// Gas stored at each place when everything stands at one pressure and no
    /// muscle pulls.
    pub(crate) fn stored_at_rest(&self, pressure: Pressure) -> NodeVec {
        self.shut.plan.stored_at_rest(pressure.as_cmh2o())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::quantity::Compliance;
    use crate::setup::{Tube, Valve};

    /// In standby the outlet stays open: that is a way out of a rigid circuit.
    #[test]
    fn a_rigid_circuit_with_a_shut_tube_has_a_way_out_in_standby() {
        let mut setup = Setup::default();
        setup.circuit.compliance = Compliance::ZERO;
        setup.lung.tube = Tube::Shut;
        assert_eq!(Machine::check(&setup), Err(SetupError::NowhereToGo));
        setup.ventilator.mode = Mode::Standby;
        assert_eq!(Machine::check(&setup), Ok(()));
        assert!(Machine::new(setup.clone()).is_ok());
        setup.circuit.valve = Valve::StuckShut;
        assert_eq!(Machine::check(&setup), Err(SetupError::NowhereToGo));
        assert!(Machine::new(setup).is_err());
    }
}
