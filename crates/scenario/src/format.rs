#![doc = include_str!("../FORMAT.md")]

mod assembly;
mod circuit;
mod fault;
mod gas;
mod hours;
mod id;
mod instruments;
mod lesson;
mod lung;
mod patient;
mod points;
mod timeline;

pub use assembly::{
    Assembly, AssemblyStart, BagPart, JoinedPorts, LinePart, NamedPart, OtherParts, Part,
    PartedPort, SamplingPart, ScavengingPart, ShortPart, TPiecePart, TestLungPart, TubingPart,
    VentilatorPart, WastePart,
};
pub use circuit::{
    Circuit, Leak, LeakLaw, Limb, PatientPort, Relief, Sensor, SensorCut, SensorPlace, Valve,
};
pub use fault::{FaultKind, Onset, Ramp, Severity, TimedFault};
pub use gas::{
    Capnograph, CardiacOutput, Cylinder, Drive, FreshGasInlet, FreshGasOxygen, Gas, LimbMixing,
    Limits, OpenBag, Reservoir, Temperature, Vaporiser,
};
pub use hours::Hours;
pub use id::Id;
pub use instruments::{Gauge, GaugePlace, Instruments, Spirometer, SpirometerPlace};
pub(crate) use lesson::DEBRIEF_VALUES_OF_GAS;
pub use lesson::{
    Act, ActName, Acts, Adapter, AlarmLimit, AlarmRange, Alarmed, Amiss, Answer, Arrow, Asked,
    Attempt, Begun, Case, Checked, CircuitLimits, Competence, Count, Criterion, CuffPressure, Cut,
    CutOff, DEBRIEF_VALUES, Dealt, DebriefValue, Debriefing, Economy, EndTidalRange, EndTidalShare,
    EndTidalTime, Entry, Floor, Guess, Guidance, Harm, Help, Hidden, HiddenChange, InTime, Line,
    Link, Linked, Measure, Moment, Monitor, Next, Note, Objective, Often, OneCheck, OnePort,
    PartialPressureCeiling, Prediction, PressureCeiling, PressureIntegral, Quantity, Question,
    STORY_VALUES, SamplingLine, SaturationTime, Sealed, Sequence, ShareFloor, Sitting, Stage, Step,
    StepsDone, Strand, Supply, Then, Thumb, TimeCeiling, TimedAct, Training, TwoPorts, Varies,
    VolumeCeiling, VolumeRange, VolumeSum, Waits, Which, Whom, Within, WorkStep,
};
pub use lung::{AirLeak, Compartment, Compartments, LeaksTo, Lung, PressureVolume, Sigmoid, Table};
pub use patient::{
    BodyCondition, Bracing, Breaths, ChestWall, Coughs, Cuff, Effort, LinearTube, OneWayTube,
    Patient, Posture, QuadraticTube, SizedTube, Species, State, Tube, Viscoelastic,
};
pub use points::{Point, Points};
pub use timeline::{
    Change, CyclingPressure, EndExpiratoryPressure, ExpiratoryTime, FreshGasFlow,
    InspiratoryTimeLimit, TimelineEntry, ValveDelay, ValveResistance, WaterInLimb,
};

use crate::read::{Rule, any, block, choice, list, number, text};

/// Version of the format that this crate reads and writes.
pub const FORMAT: u32 = 1;

/// Longest run, s: one day.
pub const LONGEST_RUN_S: f64 = 86_400.0;

// The ranges are wider than any animal or machine: a lesson may go to the
// extremes, a typing error by a factor of a thousand should not.
const FLOW: Rule = number(0.0, 100.0);
const CYCLING: Rule = number(0.5, 100.0).hint(
    "write the pressure in cmH2O, 0.5 to 100; to keep the ventilator from cycling, use `mode: Standby`",
);
const TIME_LIMIT: Rule = number(0.02, 60.0);
const EXPIRATORY_TIME: Rule = number(0.02, 600.0);
const END_EXPIRATORY: Rule = number(0.0, 30.0);
const VALVE_DELAY: Rule = number(0.0, 5.0);
const RESISTANCE: Rule =
    number(0.01, 100_000.0).hint("write 0.01 for a tube with almost no resistance");
const LUNG_COMPLIANCE: Rule = number(0.001, 10_000.0);
const WATER: Rule = number(0.0, 50.0);

block! {
    /// A scenario: one patient, one circuit, one ventilator, and what changes
    /// during the run.
    pub struct Scenario {
        /// Version of the format.
        format: u32 = number(1.0, 1.0).hint("write `format: 1`, or use a newer version of the program"),
        /// Short name, as a file name: small letters, digits and hyphens.
        id: Id = text(64),
        /// What a list of scenarios shows.
        title: Option<String> = text(120).or_nothing("the `id`"),
        /// The one thing to learn from it, in a sentence.
        teaches: Option<String> = text(500).or_nothing("nothing"),
        /// What the student is told before the run. `{weight}` stands for the
        /// patient's weight, such as `4 kg`: use it, as a class varies the weight.
        story: Option<String> = text(4000).or_nothing("nothing"),
        /// Who is ventilated.
        patient: Patient = any(),
        /// Tubing, limb, outlet valve, leak and sensor.
        circuit: Circuit = any().or_empty(),
        /// The circuit put together from parts, instead of `circuit`.
        assembly: Option<Assembly> = any().or_nothing("the circuit is as `circuit` says"),
        /// The controls.
        ventilator: Ventilator = any(),
        /// Carbon dioxide and oxygen.
        gas: Option<Gas> = any().or_nothing("the run follows pressures and volumes alone"),
        /// What is between the truth and who reads it.
        instruments: Option<Instruments> = any().or_nothing("readings are the truth"),
        /// The run ends at this time; the breath under way is reported as unfinished.
        duration_s: f64 = number(0.1, LONGEST_RUN_S).hint("a run lasts at most one day, 86400 s"),
        /// What changes during the run, in order of time.
        timeline: Vec<TimelineEntry> = list(0, 1000).or_empty(),
        /// What goes wrong during the run.
        faults: Vec<TimedFault> = list(0, 24).or_empty(),
        /// What makes it a lesson.
        training: Option<Training> = any().or_nothing("it only runs"),
    }
}

block! {
    /// The controls of the ventilator.
    pub struct Ventilator {
        /// Whether it ventilates.
        mode: Mode = any().or_word("Ventilating"),
        /// Constant fresh gas flow into the T-piece.
        fresh_gas_flow_l_min: f64 = FLOW,
        /// Airway pressure that ends inspiration.
        cycling_pressure_cmh2o: f64 = CYCLING,
        /// Longest inspiration when the cycling pressure is not reached.
        inspiratory_time_limit_s: f64 = TIME_LIMIT,
        /// Time that the outlet valve stays open.
        expiratory_time_s: f64 = EXPIRATORY_TIME,
        /// Pressure held by the end-expiratory pressure device behind the valve.
        end_expiratory_pressure_cmh2o: f64 = END_EXPIRATORY.or(0.0),
        /// Time from reaching the cycling pressure to the opening of the valve.
        valve_delay_s: f64 = VALVE_DELAY.or(0.0),
    }
}

choice! {
    /// What the ventilator does as a whole.
    #[derive(Copy, Eq)]
    pub enum Mode {
        /// Inspiration and expiration follow each other.
        Ventilating,
        /// The outlet valve stays open.
        Standby,
    }
}
