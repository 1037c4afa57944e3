//! What no lesson may do to a patient, and what needless acts cost.

use crate::format::ActName;
use crate::read::{any, block, choice, list, number, text};

const SECONDS: crate::read::Rule = number(0.0, 86_400.0);

block! {
    /// Limits that hold in every lesson with a patient, over the whole session, however
    /// the student got there: each is a criterion of safety. A lesson may tighten any of
    /// them; one that lifts a limit says why.
    pub struct Harm {
        /// Whom it can happen to.
        to: Whom = any().or_word("Patient"),
        /// Longest time without a breath of 2 mL/kg. (Dogs that breathed air had a
        /// saturation of 90 % after 70 s; R362.)
        no_breath_s: f64 = SECONDS.or(60.0),
        /// Time for which less than a third of the usual minute volume came back, in
        /// all (common practice, no source).
        too_little_s: f64 = SECONDS.or(120.0),
        /// Highest pressure in the lung, cmH2O. (Named as the beginning of barotrauma,
        /// on weak evidence; R407.)
        pressure_cmh2o: f64 = number(0.0, 200.0).or(30.0),
        /// What came back of breaths beyond 15 mL/kg, summed over all breaths, mL/kg.
        /// (15 mL/kg did no harm in healthy dogs, R406; the sum is a teaching choice.)
        overfilled_ml_kg: f64 = number(0.0, 10_000.0).or(30.0),
        /// Time since the last breath of 2 mL/kg when the session ends (common practice,
        /// no source).
        left_s: f64 = SECONDS.or(30.0),
        /// Cycling pressure that is left set when the session ends, cmH2O: what bounds a
        /// breath today may not bound it tomorrow (as for the pressure in the lung).
        left_set_cmh2o: f64 = number(0.0, 200.0).or(30.0),
        /// Time with a saturation below 90 % (common practice, no source). Needs `gas`,
        /// as all those below.
        low_oxygen_s: f64 = SECONDS.or(60.0),
        /// Time with arterial carbon dioxide above 80 mmHg. (Cardiac output had changed
        /// in horses by then; R333. The time is a teaching choice.)
        high_carbon_dioxide_s: f64 = SECONDS.or(120.0),
        /// Time with a mean arterial pressure below 40 mmHg (common practice, no source).
        low_pressure_s: f64 = SECONDS.or(120.0),
        /// Time below 33 °C or above 42 °C. (Below 34 °C is severe in dogs and cats;
        /// R383. The time is a teaching choice.)
        cold_or_hot_s: f64 = SECONDS.or(300.0),
        /// Time with a depth of 0.98 or more, at which no breath is left (a teaching
        /// choice).
        too_deep_s: f64 = SECONDS.or(60.0),
        /// Time with a depth below 0.2, nearly awake, on the ventilator (a teaching
        /// choice).
        awake_s: f64 = SECONDS.or(180.0),
        /// Why a limit is lifted.
        because: Option<String> = text(300).or_nothing("no limit is lifted"),
    }
}

choice! {
    /// Whom a session can harm.
    #[derive(Copy, Eq)]
    pub enum Whom {
        /// A patient.
        Patient,
        /// A test lung on the bench, which nothing harms.
        TestLung,
    }
}

block! {
    /// What acts cost that nothing called for: repeats at once of what was done,
    /// treatments that put nothing right, and controls: where something may go wrong, any
    /// turn; elsewhere one that leads away from where the control is left.
    pub struct Economy {
        /// How many cost nothing.
        spare: f64 = number(0.0, 100.0).or(1.0),
        /// What each further one costs, in points; twice that where it takes a patient off
        /// the ventilator or moves the tube.
        points_each: f64 = number(0.0, 100.0).or(2.0),
        /// Treatments and controls that this lesson calls for although they put no fault
        /// right.
        called_for: Vec<ActName> = list(0, 36).or_empty(),
    }
}

impl Default for Harm {
    fn default() -> Self {
        Self {
            to: Whom::Patient,
            no_breath_s: 60.0,
            too_little_s: 120.0,
            pressure_cmh2o: 30.0,
            overfilled_ml_kg: 30.0,
            left_s: 30.0,
            left_set_cmh2o: 30.0,
            low_oxygen_s: 60.0,
            high_carbon_dioxide_s: 120.0,
            low_pressure_s: 120.0,
            cold_or_hot_s: 300.0,
            too_deep_s: 60.0,
            awake_s: 180.0,
            because: None,
        }
    }
}

impl Harm {
    /// The limits, by their names in files.
    #[must_use]
    pub fn limits(&self) -> [(&'static str, f64); 12] {
        [
            ("no_breath_s", self.no_breath_s),
            ("too_little_s", self.too_little_s),
            ("pressure_cmh2o", self.pressure_cmh2o),
            ("overfilled_ml_kg", self.overfilled_ml_kg),
            ("left_s", self.left_s),
            ("left_set_cmh2o", self.left_set_cmh2o),
            ("low_oxygen_s", self.low_oxygen_s),
            ("high_carbon_dioxide_s", self.high_carbon_dioxide_s),
            ("low_pressure_s", self.low_pressure_s),
            ("cold_or_hot_s", self.cold_or_hot_s),
            ("too_deep_s", self.too_deep_s),
            ("awake_s", self.awake_s),
        ]
    }
}
