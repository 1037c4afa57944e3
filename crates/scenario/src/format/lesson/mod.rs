//! What a lesson adds to a scenario: acts, criteria, the log of an attempt.

pub(super) mod act;
mod alarm;
mod criterion;
mod dealt;
mod exam;
mod harm;
mod hidden;
mod journal;
mod line;
mod morning;
mod training;

pub use act::{Act, ActName, Answer, Arrow, Attempt, CuffPressure, Guess, Note, TimedAct};
pub use alarm::{AlarmLimit, AlarmRange, Alarmed};
pub use criterion::{
    Acts, Count, Criterion, EndTidalRange, EndTidalShare, EndTidalTime, Floor, Help, InTime,
    Measure, Next, Often, PartialPressureCeiling, PressureCeiling, PressureIntegral,
    SaturationTime, Sequence, ShareFloor, Step, Strand, TimeCeiling, VolumeCeiling, VolumeRange,
    VolumeSum, Which, Within,
};
pub use dealt::{Dealt, Varies};
pub use exam::{Link, Sealed, Sitting};
pub use harm::{Economy, Harm, Whom};
pub use hidden::{Adapter, Case, Hidden, HiddenChange, SamplingLine, Stage};
pub use journal::{Asked, Begun, Cut, CutOff, Entry, Linked, Moment, Then, Waits};
pub use line::Line;
pub use morning::{
    Amiss, Checked, CircuitLimits, OneCheck, OnePort, StepsDone, Supply, Thumb, TwoPorts, WorkStep,
};
pub(crate) use training::DEBRIEF_VALUES_OF_GAS;
pub use training::{
    Competence, DEBRIEF_VALUES, DebriefValue, Debriefing, Guidance, Monitor, Objective, Prediction,
    Quantity, Question, STORY_VALUES, Training,
};
