//! What makes a scenario a lesson: objectives, what the student sees and may do,
//! what is hidden, how it is marked and what is said afterwards.

use crate::format::{
    ActName, Assembly, Case, Checked, Criterion, Economy, Harm, Hours, Id, LONGEST_RUN_S, Line,
    Supply, Varies, WorkStep,
};
use crate::read::{any, block, choice, list, number, text};

block! {
    /// A lesson: what is to be learnt, seen, done, hidden, marked and said.
    pub struct Training {
        /// What is to be learnt.
        objectives: Vec<Objective> = list(1, 12),
        /// How much the session helps.
        guidance: Guidance = any().or_word("Hints"),
        /// What the student's monitor shows.
        monitor: Monitor = any().or_word("Full"),
        /// Acts and controls that the student may use; at most four controls.
        offers: Vec<ActName> = list(1, 40),
        /// Questions that may be answered at any time.
        questions: Vec<Question> = list(0, 12).or_empty(),
        /// Predictions to commit before a reveal.
        predictions: Vec<Prediction> = list(0, 12).or_empty(),
        /// What may go wrong; the seed draws one. Nothing, if empty.
        pool: Vec<Case> = list(0, 24).or_empty(),
        /// How far the cases of a class differ.
        varies: Varies = any().or_empty(),
        /// The parts that the student finds on the table, joined or not, instead of
        /// `circuit` and what `gas` says of it; for `Join`, `Part` and `Trace`. Its
        /// `patient` is put on and taken off with `Reconnect` and `Disconnect` alone.
        table: Option<Assembly> = any().or_nothing("the circuit is joined and stays so"),
        /// The gas supply, for `CheckSupply`.
        supply: Option<Supply> = any().or_nothing("what the flowmeter shows is all"),
        /// What else is checked, for `Check` and `PutRight`.
        checks: Vec<Checked> = list(0, 24).or_empty(),
        /// The steps of the work, for `InOrder`.
        steps: Vec<WorkStep> = list(0, 40).or_empty(),
        /// What the ventilator's counters show, for `ReadHours`.
        hours: Option<Hours> = any().or_nothing("nothing to read"),
        /// Pressure in the cuff at the start.
        cuff_cmh2o: f64 = number(0.0, 100.0).or(25.0),
        /// What is marked.
        criteria: Vec<Criterion> = list(1, 40),
        /// What no lesson may do to a patient.
        harm: Harm = any().or_empty(),
        /// What acts cost that nothing called for.
        economy: Economy = any().or_empty(),
        /// Earliest end that can pass: an end before the story is over cannot.
        enough_s: Option<f64> = number(0.0, LONGEST_RUN_S).or_nothing("`duration_s`"),
        /// Suggested pass mark; safety criteria must all be met besides.
        suggested_pass_percent: f64 = number(0.0, 100.0).or(70.0),
        /// What is said afterwards.
        debrief: Debriefing = any(),
    }
}

block! {
    /// Something to be learnt.
    pub struct Objective {
        /// Short name, to which criteria point.
        id: Id = text(64),
        /// What the student can do afterwards.
        says: String = text(300),
        /// The competences it belongs to.
        competences: Vec<Competence> = list(1, 14),
    }
}

choice! {
    /// A part of the job.
    #[derive(Copy, Eq)]
    pub enum Competence {
        /// Law, role, and who is in charge.
        LawAndRole,
        /// Planning for this patient.
        Plan,
        /// The check before use.
        PreUseCheck,
        /// The functional test of the ventilator.
        FunctionalTest,
        /// The leak test.
        LeakTest,
        /// Tube and cuff.
        Airway,
        /// Choosing settings.
        ChooseSettings,
        /// Starting ventilation.
        Start,
        /// Watching the patient and the monitor.
        Monitor,
        /// Adjusting settings.
        Adjust,
        /// Recognising and treating faults.
        Faults,
        /// Weaning.
        Wean,
        /// Recording, handing over, cleaning.
        RecordAndHandOver,
        /// Safety of the people in the room.
        StaffSafety,
    }
}

choice! {
    /// How much a session helps.
    #[derive(Copy, Eq)]
    pub enum Guidance {
        /// The objectives, a hint at every sign, and the answers to predictions at once.
        Worked,
        /// The objectives.
        Hints,
        /// Nothing.
        None,
    }
}

choice! {
    /// What a monitor shows. With `gas` each shows the capnogram, and the first two
    /// saturation.
    #[derive(Copy, Eq)]
    pub enum Monitor {
        /// Pressure, flow and volume.
        Full,
        /// Pressure alone; no spirometry.
        NoSpirometry,
        /// The needle of the pressure gauge.
        Gauge,
    }
}

block! {
    /// A question with answers to choose from.
    pub struct Question {
        /// Short name.
        id: Id = text(64),
        /// What is asked.
        asks: String = text(300),
        /// The answers to choose from.
        answers: Vec<Line> = list(2, 12),
        /// Number of the right one, from 1.
        right: u32 = number(1.0, 12.0),
        /// From when on an answer counts. Earlier ones are guesses.
        from_s: Option<f64> = number(0.0, LONGEST_RUN_S)
            .or_nothing("the first sign, or the first look, listen or check after the onset"),
        /// An answer counts only after one of these acts, in its time.
        after: Vec<ActName> = list(0, 40).or_empty(),
    }
}

block! {
    /// A prediction: where a number goes between two times. The session stops
    /// at the first until it is made.
    pub struct Prediction {
        /// Short name.
        id: Id = text(64),
        /// What is asked.
        asks: String = text(300),
        /// Which number.
        of: Quantity = any(),
        /// Before: the last breath that ended by then.
        from_s: f64 = number(0.0, LONGEST_RUN_S),
        /// After: the last breath that ended by then.
        to_s: f64 = number(0.0, LONGEST_RUN_S),
    }
}

choice! {
    /// A number of a breath.
    #[derive(Copy, Eq)]
    pub enum Quantity {
        /// Inspiratory time.
        InspiratoryTime,
        /// Breaths per minute.
        Rate,
        /// Expired tidal volume.
        TidalVolume,
        /// Peak pressure.
        PeakPressure,
        /// Baseline pressure.
        BaselinePressure,
        /// End-tidal carbon dioxide. Needs `gas`.
        EndTidalCarbonDioxide,
        /// Carbon dioxide of all gas breathed in. Needs `gas`.
        InspiredCarbonDioxide,
        /// Expired volume in a minute. No instrument shows this and those below.
        MinuteVolume,
        /// Alveolar pressure above the baseline at the end of expiration.
        IntrinsicPeep,
        /// Highest alveolar pressure.
        AlveolarPressure,
    }
}

block! {
    /// What is said afterwards. Values of the run may stand in curly brackets:
    /// `{inspiratory_time_after_s}`.
    pub struct Debriefing {
        /// What the lesson is called afterwards: `title`, which stands before it, should
        /// tell nothing that is to be found out.
        title: Option<String> = text(200).or_nothing("the scenario's own"),
        /// The relation behind it, with this patient's numbers.
        why: String = text(2000),
        /// What to practise next.
        next: String = text(1000),
    }
}

/// The values that a story may name in curly brackets.
pub const STORY_VALUES: [&str; 1] = ["weight"];

macro_rules! debrief_values {
    (always: [$($value:ident = $name:literal,)+], with_gas: [$($of_gas:ident = $named:literal,)+]) => {
        /// The values that a debrief may name in curly brackets.
        pub const DEBRIEF_VALUES: [&str; [$($name,)+ $($named),+].len()] = [$($name,)+ $($named),+];

        /// How many of [`DEBRIEF_VALUES`], at its end, need `gas`.
        pub(crate) const DEBRIEF_VALUES_OF_GAS: usize = [$($named),+].len();

        /// A value that a debrief may name in curly brackets; before is the last breath in
        /// health, after the breath that first showed the sign.
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        pub enum DebriefValue {
            $(#[doc = concat!("`{", $name, "}`.")] $value,)+
            $(#[doc = concat!("`{", $named, "}`.")] $of_gas,)+
        }

        impl DebriefValue {
            /// The value of a name.
            #[must_use]
            pub fn named(name: &str) -> Option<Self> {
                match name {
                    $($name => Some(Self::$value),)+
                    $($named => Some(Self::$of_gas),)+
                    _ => None,
                }
            }
        }
    };
}

debrief_values! {
    always: [
        Patient = "patient",
        Weight = "weight_kg",
        Case = "case",
        OnsetTime = "onset_s",
        Sign = "sign",
        SignTime = "sign_s",
        ActedTime = "acted_s",
        Compliance = "compliance_ml_cmh2o",
        Resistance = "resistance_cmh2o_s_l",
        FreshGasFlow = "fresh_gas_flow_l_min",
        CyclingPressure = "cycling_pressure_cmh2o",
        LimitedVolume = "limited_volume_ml_kg",
        InspiratoryTimeBefore = "inspiratory_time_before_s",
        InspiratoryTimeAfter = "inspiratory_time_after_s",
        TidalVolumeBefore = "tidal_volume_before_ml_kg",
        TidalVolumeAfter = "tidal_volume_after_ml_kg",
        PeakPressureBefore = "peak_pressure_before_cmh2o",
        PeakPressureAfter = "peak_pressure_after_cmh2o",
        BaselineBefore = "baseline_before_cmh2o",
        BaselineAfter = "baseline_after_cmh2o",
    ],
    with_gas: [
        EndTidalBefore = "end_tidal_before_mmhg",
        EndTidalAfter = "end_tidal_after_mmhg",
        InspiredCo2Before = "inspired_co2_before_mmhg",
        InspiredCo2After = "inspired_co2_after_mmhg",
        HighestEndTidal = "highest_end_tidal_mmhg",
        LowestSpo2 = "lowest_spo2_percent",
        OwnTidalVolume = "own_tidal_volume_ml_kg",
        FinalEndTidal = "final_end_tidal_mmhg",
    ]
}
