//! Breath, gas and drive in one run.
//!
//! The engine moves gas without knowing what it is; [`crate::exchange`] follows
//! what it is; [`crate::drive`] says when a patient wants to breathe. Here the
//! three go on together along a protocol that is known from the start; a run that is
//! changed while it goes on is a [`crate::live::LiveRun`], by which this one goes too.
//!
//! ```
//! use tidewright::coupled::{Coupled, GasPlan, GasSettings};
//! use tidewright::drive::Drive;
//! use tidewright::exchange::{Apparatus, Capnograph, Conditions, Exchange, Fractions};
//! use tidewright::prelude::*;
//! use tidewright::species::{Animal, Species};
//!
//! // A dog that breathes by itself from a T-piece at a low fresh gas flow.
//! let dog = Animal::typical(Species::Dog, Mass::kg(20.0));
//! let mut start = Setup { lung: dog.lung(), ..Setup::default() };
//! start.ventilator.mode = Mode::Standby;
//! start.ventilator.fresh_gas_flow = Flow::l_per_min(1.5);
//! let apparatus = Apparatus { limb_ml: 600.0, ..Apparatus::default() };
//! let plan = GasPlan {
//!     exchange: Exchange::new(&dog, &start.lung, apparatus)?,
//!     arterial_carbon_dioxide: PartialPressure::mmhg(45.0),
//!     capnograph: Capnograph::new(Seconds::s(1.5), Seconds::s(0.2)),
//!     start: GasSettings {
//!         conditions: Conditions::of(&dog, 38.0, Fractions::OXYGEN),
//!         drive: Some(Drive::of(&dog, 0.4)),
//!     },
//!     changes: vec![],
//!     animal: dog,
//! };
//! let protocol = Protocol { start, changes: vec![], duration: Seconds::s(120.0) };
//! let simulation = Simulation::new(&protocol)?;
//! let mut inspired = 0.0_f64;
//! for together in Coupled::new(&simulation, Some(&plan))? {
//!     let gas = together?.gas.unwrap();
//!     for breath in &gas.breaths {
//!         inspired = breath.mean_inspired_carbon_dioxide.as_mmhg();
//!     }
//! }
//! assert!(inspired > 3.0, "it rebreathes: {inspired} mmHg");
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

pub use super::gas::{
    GasChange, GasLimits, GasPlan, GasPoint, GasRun, GasSettings, GasStretch, GasTotals, OwnEffort,
};

use std::collections::VecDeque;

use crate::base::quantity::Seconds;
use crate::exchange::GasError;
use crate::reading::trace::Trace;
use crate::running::run::{Simulation, Steps, Stretch};
use crate::stepping::step::StepError;

/// A stretch of a run and what the gas did along it.
#[derive(Clone, Debug)]
pub struct Together<'a> {
    /// The breath.
    pub stretch: Stretch<'a>,
    /// The gas; `None` for a run without.
    pub gas: Option<GasStretch>,
}

/// A run of breath, gas and drive: an iterator over its stretches, in memory that
/// does not grow with the run.
///
/// Without a plan it yields the steps of the simulation as they are.
#[derive(Clone, Debug)]
pub struct Coupled<'a> {
    steps: Steps<'a>,
    changes: VecDeque<GasChange>,
}

impl<'a> Coupled<'a> {
    /// A run from the start of a simulation.
    ///
    /// # Errors
    /// [`GasError`]: a plan that cannot be, or one for another lung than the
    /// simulation's.
    pub fn new(simulation: &'a Simulation, plan: Option<&GasPlan>) -> Result<Self, GasError> {
        let mut steps = simulation.steps();
        if let Some(plan) = plan {
            steps.follow_gas(plan)?;
        }
        let mut changes = VecDeque::new();
        if let Some(plan) = plan {
            // Settings that hold already leave no trace in the run.
            let mut holds = plan.start;
            for change in &plan.changes {
                if change.settings != holds {
                    holds = change.settings;
                    changes.push_back(*change);
                }
            }
        }
        Ok(Self { steps, changes })
    }

    /// The rest of the run, kept in memory: its stretches, and the gas from point
    /// to point (none without gas).
    ///
    /// # Errors
    /// A run that cannot go on: see [`StepError`].
    pub fn trace(self) -> Result<(Trace<'a>, Vec<GasPoint>), StepError> {
        let (mut stretches, mut points) = (Vec::new(), Vec::new());
        for together in self {
            let Together { stretch, gas } = together?;
            stretches.push(stretch);
            points.extend(gas.into_iter().flat_map(|gas| gas.points));
        }
        Ok((Trace { stretches }, points))
    }

    /// Follows the gas in other steps than the usual from now on; does nothing in a
    /// run without gas.
    pub fn follow_in(&mut self, steps: crate::exchange::Steps) {
        if let Some(gas) = self.steps.gas_mut() {
            gas.follow_in(steps);
        }
    }

    /// The gas as it is now.
    #[must_use]
    pub fn gas(&self) -> Option<&GasRun> {
        self.steps.gas()
    }
}

impl<'a> Iterator for Coupled<'a> {
    type Item = Result<Together<'a>, StepError>;

    #[inline]
    fn next(&mut self) -> Option<Self::Item> {
        let now_s = self.steps.moment()?.at_s;
        if let Some(gas) = self.steps.gas_mut() {
            while let Some(change) = self.changes.front().filter(|next| next.at.as_s() <= now_s) {
                // It was checked with the plan.
                gas.set_checked(change.settings);
                self.changes.pop_front();
            }
            let next_change_s = self.changes.front().map_or(f64::INFINITY, |next| next.at.as_s());
            self.steps.pause_at(Seconds::s(next_change_s));
        }
        let together = self.steps.next_with_gas()?;
        Some(together.map(|(stretch, gas)| Together { stretch, gas }))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::animal::drive::Drive;
    use crate::animal::species::{Animal, Species};
    use crate::exchange::{Apparatus, Capnograph, Conditions, Exchange, Fractions};
    use crate::prelude::*;

    fn dog(depth: f64) -> (Simulation, GasPlan) {
        let dog = Animal::typical(Species::Dog, Mass::kg(20.0));
        let mut start = Setup { lung: dog.lung(), ..Setup::default() };
        start.ventilator.mode = Mode::Standby;
        start.ventilator.fresh_gas_flow = Flow::l_per_min(12.0);
        let apparatus = Apparatus { limb_ml: 600.0, ..Apparatus::default() };
        let plan = GasPlan {
            exchange: Exchange::new(&dog, &start.lung, apparatus).unwrap(),
            arterial_carbon_dioxide: PartialPressure::mmhg(45.0),
            capnograph: Capnograph::new(Seconds::ZERO, Seconds::ZERO),
            start: GasSettings {
                conditions: Conditions::of(&dog, 38.0, Fractions::OXYGEN),
                drive: Some(Drive::of(&dog, depth)),
            },
            changes: vec![],
            animal: dog,
        };
        let protocol = Protocol { start, changes: vec![], duration: Seconds::s(600.0) };
        (Simulation::new(&protocol).unwrap(), plan)
    }

    /// The breath that the drive asks for is the breath that is taken.
    #[test]
    fn closed_form_a_breath_of_its_own_has_the_volume_that_it_wants() {
        let (simulation, plan) = dog(0.5);
        let wanted = plan.start.drive.unwrap().next_breath(plan.arterial_carbon_dioxide).unwrap();
        let breaths: Vec<_> = Coupled::new(&simulation, Some(&plan))
            .unwrap()
            .flat_map(|together| together.unwrap().gas.unwrap().breaths)
            .collect();
        assert!(breaths.len() > 20 && breaths.iter().all(|breath| breath.own));
        // The typical tube is a straight line here, and drops less than the sized one.
        let ratio = breaths[0].inspired.as_ml() / wanted.tidal_volume.as_ml();
        assert!((0.9..1.25).contains(&ratio), "{ratio}");
        let period = breaths[0].duration.as_s() / wanted.period.as_s();
        assert!((0.98..1.02).contains(&period), "{period}");
    }

    #[test]
    fn without_gas_the_steps_are_those_of_the_simulation() {
        let (simulation, _) = dog(0.7);
        let alone: Vec<_> = simulation.steps().map(|s| s.unwrap().piece).collect();
        let coupled: Vec<_> =
            Coupled::new(&simulation, None).unwrap().map(|t| t.unwrap().stretch.piece).collect();
        assert_eq!(alone, coupled);
    }

    #[test]
    fn a_heart_that_stands_still_ends_the_breathing() {
        let (simulation, mut plan) = dog(0.5);
        let mut stopped = plan.start;
        stopped.conditions.demand.cardiac_output_ml_s = 0.0;
        plan.changes = vec![GasChange { at: Seconds::s(60.0), settings: stopped }];
        let last = Coupled::new(&simulation, Some(&plan))
            .unwrap()
            .flat_map(|together| together.unwrap().gas.unwrap().breaths)
            .last()
            .unwrap();
        assert!(last.start.as_s() < 62.0, "{last:?}");
    }
}
