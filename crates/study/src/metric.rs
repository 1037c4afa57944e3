//! The measures of a breath, each with its name and unit, as they stand in tables.

use std::fmt;
use std::str::FromStr;

use thiserror::Error;
use tidewright::breath::{Breath, EndedBy};
use tidewright::quantity::Mass;
use tidewright_scenario::choice;

use crate::batch::Breaths;

choice! {
    /// A measure of a breath that is a number.
    #[derive(Copy, Eq, Hash, PartialOrd, Ord)]
    pub enum Metric {
        /// From the start of inspiration to the opening of the outlet valve, s.
        InspiratoryTime,
        /// From the opening of the outlet valve to the next inspiration, s.
        ExpiratoryTime,
        /// Breaths per minute if every breath were like this one, 1/min.
        Rate,
        /// Change of lung volume over inspiration, mL.
        InspiredTidalVolume,
        /// The same for each kg of body weight, mL/kg.
        InspiredTidalVolumePerKg,
        /// Change of lung volume over expiration, mL.
        ExpiredTidalVolume,
        /// Expired tidal volume times the rate, mL/min.
        MinuteVolume,
        /// Highest airway pressure, cmH2O.
        PeakPressure,
        /// Mean airway pressure over the whole breath, cmH2O.
        MeanPressure,
        /// Airway pressure at the end of expiration, cmH2O.
        BaselinePressure,
        /// Alveolar pressure at the end of expiration, cmH2O.
        EndExpiratoryAlveolarPressure,
        /// Gas lost through the leak, mL.
        Leaked,
    }
}

impl Metric {
    /// All of them, in the order of a table's columns.
    pub const ALL: [Self; 12] = [
        Self::InspiratoryTime,
        Self::ExpiratoryTime,
        Self::Rate,
        Self::InspiredTidalVolume,
        Self::InspiredTidalVolumePerKg,
        Self::ExpiredTidalVolume,
        Self::MinuteVolume,
        Self::PeakPressure,
        Self::MeanPressure,
        Self::BaselinePressure,
        Self::EndExpiratoryAlveolarPressure,
        Self::Leaked,
    ];

    /// Its name as a column, with its unit.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::InspiratoryTime => "inspiratory_time_s",
            Self::ExpiratoryTime => "expiratory_time_s",
            Self::Rate => "rate_per_min",
            Self::InspiredTidalVolume => "inspired_tidal_volume_ml",
            Self::InspiredTidalVolumePerKg => "inspired_tidal_volume_ml_kg",
            Self::ExpiredTidalVolume => "expired_tidal_volume_ml",
            Self::MinuteVolume => "minute_volume_ml_min",
            Self::PeakPressure => "peak_pressure_cmh2o",
            Self::MeanPressure => "mean_pressure_cmh2o",
            Self::BaselinePressure => "baseline_pressure_cmh2o",
            Self::EndExpiratoryAlveolarPressure => "end_expiratory_alveolar_pressure_cmh2o",
            Self::Leaked => "leaked_ml",
        }
    }

    /// Its name in words, without the unit.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::InspiratoryTime => "Inspiratory time",
            Self::ExpiratoryTime => "Expiratory time",
            Self::Rate => "Rate",
            Self::InspiredTidalVolume => "Inspired tidal volume",
            Self::InspiredTidalVolumePerKg => "Inspired tidal volume per kg",
            Self::ExpiredTidalVolume => "Expired tidal volume",
            Self::MinuteVolume => "Minute volume",
            Self::PeakPressure => "Peak pressure",
            Self::MeanPressure => "Mean pressure",
            Self::BaselinePressure => "Baseline pressure",
            Self::EndExpiratoryAlveolarPressure => "End-expiratory alveolar pressure",
            Self::Leaked => "Leaked gas",
        }
    }

    /// The same where there is little room, as in a table.
    #[must_use]
    pub const fn short(self) -> &'static str {
        match self {
            Self::InspiratoryTime => "TI",
            Self::ExpiratoryTime => "TE",
            Self::Rate => "Rate",
            Self::InspiredTidalVolume | Self::InspiredTidalVolumePerKg => "VTi",
            Self::ExpiredTidalVolume => "VTe",
            Self::MinuteVolume => "Min. volume",
            Self::PeakPressure => "Peak",
            Self::MeanPressure => "Mean",
            Self::BaselinePressure => "Baseline",
            Self::EndExpiratoryAlveolarPressure => "Alveolar",
            Self::Leaked => "Leaked",
        }
    }

    /// Its unit as people write it.
    #[must_use]
    pub const fn unit(self) -> &'static str {
        match self {
            Self::InspiratoryTime | Self::ExpiratoryTime => "s",
            Self::Rate => "1/min",
            Self::InspiredTidalVolume | Self::ExpiredTidalVolume | Self::Leaked => "mL",
            Self::InspiredTidalVolumePerKg => "mL/kg",
            Self::MinuteVolume => "mL/min",
            Self::PeakPressure
            | Self::MeanPressure
            | Self::BaselinePressure
            | Self::EndExpiratoryAlveolarPressure => "cmH2O",
        }
    }

    /// Its value in a breath of a patient of this weight.
    ///
    /// ```
    /// use tidewright::prelude::*;
    /// use tidewright_study::Metric;
    /// let breath = tidewright::steady::periodic(&Machine::new(Setup::default())?)?.breath;
    /// let per_kg = Metric::InspiredTidalVolumePerKg.of(&breath, Mass::kg(4.0));
    /// assert_eq!(per_kg, breath.inspired_tidal_volume.as_ml() / 4.0);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn of(self, breath: &Breath, weight: Mass) -> f64 {
        self.told(&Breaths::from(breath), weight)
    }

    /// The same of a breath as a block tells it.
    #[must_use]
    pub fn told(self, breath: &Breaths<1>, weight: Mass) -> f64 {
        let (inspiratory_s, expiratory_s) =
            (breath.inspiratory_time_s[0], breath.expiratory_time_s[0]);
        let rate_per_min = 60.0 / (inspiratory_s + expiratory_s);
        match self {
            Self::InspiratoryTime => inspiratory_s,
            Self::ExpiratoryTime => expiratory_s,
            Self::Rate => rate_per_min,
            Self::InspiredTidalVolume => breath.inspired_tidal_volume_ml[0],
            Self::InspiredTidalVolumePerKg => breath.inspired_tidal_volume_ml[0] / weight.as_kg(),
            Self::ExpiredTidalVolume => breath.expired_tidal_volume_ml[0],
            Self::MinuteVolume => breath.expired_tidal_volume_ml[0] * rate_per_min,
            Self::PeakPressure => breath.peak_pressure_cmh2o[0],
            Self::MeanPressure => breath.mean_pressure_cmh2o[0],
            Self::BaselinePressure => breath.baseline_pressure_cmh2o[0],
            Self::EndExpiratoryAlveolarPressure => breath.end_expiratory_alveolar_pressure_cmh2o[0],
            Self::Leaked => breath.leaked_ml[0],
        }
    }
}

impl fmt::Display for Metric {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

/// A name that is none of the metrics'.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("no measure of a breath is called {0:?}: use one of {names}", names = names())]
pub struct UnknownMetric(pub String);

impl FromStr for Metric {
    type Err = UnknownMetric;

    fn from_str(name: &str) -> Result<Self, Self::Err> {
        let found = Self::ALL.into_iter().find(|metric| metric.name() == name);
        found.ok_or_else(|| UnknownMetric(name.to_owned()))
    }
}

fn names() -> String {
    Metric::ALL.map(Metric::name).join(", ")
}

/// What ended an inspiration, as it stands in a table.
#[must_use]
pub const fn ended_by(cause: EndedBy) -> &'static str {
    match cause {
        EndedBy::Pressure => "pressure",
        EndedBy::Time => "time",
        EndedBy::Standby => "standby",
    }
}
