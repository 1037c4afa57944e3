//! The measures of a breath, each declared once: its word in files, its column in tables,
//! its words on screens and figures, its unit and its value.

use std::fmt;
use std::str::FromStr;

use thiserror::Error;
use tidewright::breath::{Breath, EndedBy};
use tidewright::quantity::Mass;

use crate::read::choice;

/// A unit as it stands in a text, on an axis and at the end of a column's name.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Unit {
    /// In letters that every screen has: `cmH2O`.
    pub text: &'static str,
    /// On a figure: `cmH₂O`.
    pub axis: &'static str,
    /// At the end of a column's name: `cmh2o`.
    pub suffix: &'static str,
}

const fn unit(text: &'static str, axis: &'static str, suffix: &'static str) -> Unit {
    Unit { text, axis, suffix }
}

const S: Unit = unit("s", "s", "s");
const PER_MIN: Unit = unit("1/min", "per min", "per_min");
const ML: Unit = unit("mL", "mL", "ml");
const ML_KG: Unit = unit("mL/kg", "mL/kg", "ml_kg");
const ML_MIN: Unit = unit("mL/min", "mL/min", "ml_min");
const CMH2O: Unit = unit("cmH2O", "cmH₂O", "cmh2o");

/// The numbers that the measures of a breath are made of.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Numbers {
    /// From the start of inspiration to the opening of the outlet valve, s.
    pub inspiratory_time_s: f64,
    /// From the opening of the outlet valve to the next inspiration, s.
    pub expiratory_time_s: f64,
    /// Change of lung volume over inspiration, mL.
    pub inspired_tidal_volume_ml: f64,
    /// Change of lung volume over expiration, mL.
    pub expired_tidal_volume_ml: f64,
    /// Highest airway pressure, cmH2O.
    pub peak_pressure_cmh2o: f64,
    /// Mean airway pressure over the whole breath, cmH2O.
    pub mean_pressure_cmh2o: f64,
    /// Airway pressure at the end of expiration, cmH2O.
    pub baseline_pressure_cmh2o: f64,
    /// Alveolar pressure at the end of expiration, cmH2O.
    pub end_expiratory_alveolar_pressure_cmh2o: f64,
    /// Gas lost through the leak, mL.
    pub leaked_ml: f64,
}

impl Numbers {
    /// Breaths per minute if every breath were like this one.
    #[must_use]
    pub fn rate_per_min(&self) -> f64 {
        60.0 / (self.inspiratory_time_s + self.expiratory_time_s)
    }
}

impl From<&Breath> for Numbers {
    fn from(breath: &Breath) -> Self {
        Self {
            inspiratory_time_s: breath.inspiratory_time.as_s(),
            expiratory_time_s: breath.expiratory_time.as_s(),
            inspired_tidal_volume_ml: breath.inspired_tidal_volume.as_ml(),
            expired_tidal_volume_ml: breath.expired_tidal_volume.as_ml(),
            peak_pressure_cmh2o: breath.peak_pressure.as_cmh2o(),
            mean_pressure_cmh2o: breath.mean_pressure.as_cmh2o(),
            baseline_pressure_cmh2o: breath.baseline_pressure.as_cmh2o(),
            end_expiratory_alveolar_pressure_cmh2o: breath
                .end_expiratory_alveolar_pressure
                .as_cmh2o(),
            leaked_ml: breath.leaked.as_ml(),
        }
    }
}

struct Declared {
    column: &'static str,
    key: &'static str,
    words: &'static str,
    short: &'static str,
    unit: Unit,
    value: fn(&Numbers, Mass) -> f64,
}

macro_rules! measures {
    ($(
        $(#[doc = $meaning:literal])+
        $word:ident $(formerly $old:ident)? =
            $column:literal, $key:literal, $words:literal, $short:literal, $unit:expr, $value:expr;
    )+) => {
        choice! {
            /// A measure of a breath that is a number.
            #[derive(Copy, Eq, Hash, PartialOrd, Ord)]
            pub enum BreathMeasure { $( $(#[doc = $meaning])+ $word $(formerly $old)? ),+ }
        }

        impl BreathMeasure {
            /// All of them, in the order of a table's columns.
            pub const ALL: [Self; [$(stringify!($word)),+].len()] = [$(Self::$word),+];

            const fn declared(self) -> Declared {
                match self {
                    $(Self::$word => Declared {
                        column: $column,
                        key: $key,
                        words: $words,
                        short: $short,
                        unit: $unit,
                        value: $value,
                    },)+
                }
            }
        }
    };
}

measures! {
    /// From the start of inspiration to the opening of the outlet valve, s.
    InspiratoryTime = "inspiratory_time_s", "inspiratory-time",
        "Inspiratory time", "TI", S, |breath, _| breath.inspiratory_time_s;
    /// From the opening of the outlet valve to the next inspiration, s.
    ExpiratoryTime = "expiratory_time_s", "expiratory-time",
        "Expiratory time", "TE", S, |breath, _| breath.expiratory_time_s;
    /// Breaths per minute if every breath were like this one, 1/min.
    Rate = "rate_per_min", "rate",
        "Rate", "Rate", PER_MIN, |breath, _| breath.rate_per_min();
    /// Change of lung volume over inspiration, mL.
    InspiredTidalVolume = "inspired_tidal_volume_ml", "inspired-tidal-volume",
        "Inspired tidal volume", "VTi", ML, |breath, _| breath.inspired_tidal_volume_ml;
    /// The same for each kg of body weight, mL/kg.
    InspiredTidalVolumePerKg = "inspired_tidal_volume_ml_kg", "inspired-tidal-volume",
        "Inspired tidal volume per kg", "VTi", ML_KG,
        |breath, weight| breath.inspired_tidal_volume_ml / weight.as_kg();
    /// Change of lung volume over expiration, mL. Formerly `TidalVolume` in figure files,
    /// which is still read.
    ExpiredTidalVolume formerly TidalVolume = "expired_tidal_volume_ml", "expired-tidal-volume",
        "Expired tidal volume", "VTe", ML, |breath, _| breath.expired_tidal_volume_ml;
    /// Expired tidal volume times the rate, mL/min.
    MinuteVolume = "minute_volume_ml_min", "minute-volume",
        "Minute volume", "Min. volume", ML_MIN,
        |breath, _| breath.expired_tidal_volume_ml * breath.rate_per_min();
    /// Highest airway pressure, cmH2O.
    PeakPressure = "peak_pressure_cmh2o", "peak-pressure",
        "Peak pressure", "Peak", CMH2O, |breath, _| breath.peak_pressure_cmh2o;
    /// Mean airway pressure over the whole breath, cmH2O.
    MeanPressure = "mean_pressure_cmh2o", "mean-pressure",
        "Mean pressure", "Mean", CMH2O, |breath, _| breath.mean_pressure_cmh2o;
    /// Airway pressure at the end of expiration, cmH2O.
    BaselinePressure = "baseline_pressure_cmh2o", "baseline-pressure",
        "Baseline pressure", "Baseline", CMH2O, |breath, _| breath.baseline_pressure_cmh2o;
    /// Alveolar pressure at the end of expiration, cmH2O.
    EndExpiratoryAlveolarPressure =
        "end_expiratory_alveolar_pressure_cmh2o", "end-expiratory-alveolar-pressure",
        "End-expiratory alveolar pressure", "Alveolar", CMH2O,
        |breath, _| breath.end_expiratory_alveolar_pressure_cmh2o;
    /// Gas lost through the leak, mL.
    Leaked = "leaked_ml", "leaked",
        "Leaked gas", "Leaked", ML, |breath, _| breath.leaked_ml;
}

impl BreathMeasure {
    /// Its name as a column, with its unit: `minute_volume_ml_min`.
    #[must_use]
    pub const fn name(self) -> &'static str {
        self.declared().column
    }

    /// Its name in the data and ids of a figure, without the unit: `minute-volume`.
    #[must_use]
    pub const fn key(self) -> &'static str {
        self.declared().key
    }

    /// Its name in words, without the unit.
    #[must_use]
    pub const fn words(self) -> &'static str {
        self.declared().words
    }

    /// The same where there is little room, as in a table.
    #[must_use]
    pub const fn short(self) -> &'static str {
        self.declared().short
    }

    /// Its unit.
    #[must_use]
    pub const fn unit(self) -> Unit {
        self.declared().unit
    }

    /// Its value in a breath of a patient of this weight.
    ///
    /// ```
    /// use tidewright::prelude::*;
    /// use tidewright_scenario::measure::BreathMeasure;
    /// let breath = tidewright::steady::periodic(&Machine::new(Setup::default())?)?.breath;
    /// let per_kg = BreathMeasure::InspiredTidalVolumePerKg.of(&breath, Mass::kg(4.0));
    /// assert_eq!(per_kg, breath.inspired_tidal_volume.as_ml() / 4.0);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn of(self, breath: &Breath, weight: Mass) -> f64 {
        self.told(&breath.into(), weight)
    }

    /// The same of the numbers of a breath.
    #[must_use]
    pub fn told(self, breath: &Numbers, weight: Mass) -> f64 {
        (self.declared().value)(breath, weight)
    }
}

impl fmt::Display for BreathMeasure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

/// A name that is none of the measures'.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("no measure of a breath is called {0:?}: use one of {names}", names = names())]
pub struct UnknownMeasure(pub String);

impl FromStr for BreathMeasure {
    type Err = UnknownMeasure;

    fn from_str(name: &str) -> Result<Self, Self::Err> {
        let found = Self::ALL.into_iter().find(|measure| measure.name() == name);
        found.ok_or_else(|| UnknownMeasure(name.to_owned()))
    }
}

fn names() -> String {
    BreathMeasure::ALL.map(BreathMeasure::name).join(", ")
}

/// What ended an inspiration, as it stands in a table and in a report.
#[must_use]
pub const fn ended_by(cause: EndedBy) -> &'static str {
    match cause {
        EndedBy::Pressure => "pressure",
        EndedBy::Time => "time",
        EndedBy::Standby => "standby",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Key, unit and column are one name in two spellings, and no two measures share one.
    #[test]
    fn law_a_column_is_the_key_with_the_unit() {
        for (place, measure) in BreathMeasure::ALL.into_iter().enumerate() {
            let column = format!("{}_{}", measure.key().replace('-', "_"), measure.unit().suffix);
            assert_eq!(measure.name(), column);
            assert_eq!(measure as usize, place);
            assert_eq!(measure.name().parse(), Ok(measure));
        }
    }

    /// Each takes its own number: of numbers that are all different none is told twice.
    #[test]
    fn closed_form_each_measure_is_made_of_its_own_numbers() {
        let breath = Numbers {
            inspiratory_time_s: 1.0,
            expiratory_time_s: 2.0,
            inspired_tidal_volume_ml: 40.0,
            expired_tidal_volume_ml: 36.0,
            peak_pressure_cmh2o: 9.0,
            mean_pressure_cmh2o: 4.0,
            baseline_pressure_cmh2o: 0.5,
            end_expiratory_alveolar_pressure_cmh2o: 0.75,
            leaked_ml: 6.0,
        };
        let told = BreathMeasure::ALL.map(|measure| measure.told(&breath, Mass::kg(4.0)));
        // 20 breaths a minute of 36 mL are 720 mL/min.
        assert_eq!(told, [1.0, 2.0, 20.0, 40.0, 10.0, 36.0, 720.0, 9.0, 4.0, 0.5, 0.75, 6.0]);
    }
}
