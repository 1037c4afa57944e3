//! What is known of the gas of a run before it begins.

use crate::animal::drive::Drive;
use crate::animal::species::Animal;
use crate::base::quantity::{PartialPressure, Seconds};
use crate::exchange::{Capnograph, Conditions, Exchange, GasError, not_negative, number, positive};
use crate::stepping::machine::Machine;

/// What of the patient's gas a person can change during a run.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct GasSettings {
    /// Circulation, metabolism and fresh gas.
    pub conditions: Conditions,
    /// How it breathes by itself; `None` for a patient that does not, or one
    /// whose effort is a pattern of the setup.
    pub drive: Option<Drive>,
}

/// New settings from a given time on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GasChange {
    /// Time since the start of the run.
    pub at: Seconds,
    /// What holds from then on.
    pub settings: GasSettings,
}

/// The gas of a run: where it begins, what changes.
#[derive(Clone, Debug, PartialEq)]
pub struct GasPlan {
    /// Whose breaths they are.
    pub animal: Animal,
    /// Lung, blood, tissues and breathing system.
    pub exchange: Exchange,
    /// Arterial carbon dioxide at the start, in a steady state.
    pub arterial_carbon_dioxide: PartialPressure,
    /// The monitor at the patient connection.
    pub capnograph: Capnograph,
    /// Settings at the start.
    pub start: GasSettings,
    /// Later settings, in order of time.
    pub changes: Vec<GasChange>,
}

impl GasSettings {
    /// Checks that they can be.
    ///
    /// # Errors
    /// [`GasError`]: what is wrong first.
    pub fn check(&self) -> Result<(), GasError> {
        self.conditions.check()?;
        let Some(drive) = &self.drive else { return Ok(()) };
        let threshold = drive.threshold.as_mmhg();
        number("the threshold of the drive in mmHg", threshold, "a finite number", true)?;
        not_negative("the slope of the drive in mL/min/mmHg", drive.slope_ml_min_mmhg)?;
        positive("the usual tidal volume of the drive in mL", drive.tidal_volume.as_ml())?;
        positive("the usual rate of the drive in 1/min", drive.rate_per_min)
    }
}

impl GasPlan {
    /// Checks that it can be, and that it is for the lung of a machine. Every run
    /// with gas begins with this.
    ///
    /// # Errors
    /// [`GasError`]: what is wrong first.
    pub fn check(&self, machine: &Machine) -> Result<(), GasError> {
        self.exchange.check(machine)?;
        let arterial = self.arterial_carbon_dioxide.as_mmhg();
        positive("the arterial carbon dioxide at the start in mmHg", arterial)?;
        self.start.check()?;
        let mut before_s = 0.0;
        for change in &self.changes {
            let at_s = change.at.as_s();
            if at_s.is_nan() || at_s < before_s {
                return Err(GasError::Order { at_s, before_s });
            }
            change.settings.check()?;
            before_s = at_s;
        }
        Ok(())
    }

    /// What holds at a time, for who steps by himself.
    #[must_use]
    pub fn settings_at(&self, at: Seconds) -> GasSettings {
        let passed = self.changes.iter().take_while(|change| change.at <= at);
        passed.last().map_or(self.start, |change| change.settings)
    }
}
