//! Tidewright: what happens to this animal's breath when I turn this control, or
//! when this part of the equipment fails?
//!
//! The model is a ventilator that is driven by the fresh gas flow: gas enters at
//! a T-piece near the patient; while the outlet valve is shut it fills the lung,
//! until the airway pressure reaches the cycling pressure or a time limit runs
//! out; then the valve stays open for a set expiratory time. Inspiratory time,
//! tidal volume and rate are results, not settings.
//!
//! Read the modules in this order:
//!
//! 1. [`quantity`]: pressures, volumes, flows with their units;
//! 2. [`setup`]: what a person sets and what the patient brings;
//! 3. [`phase`]: the ventilator as two tables, guards and successors;
//! 4. [`machine`]: a setup made ready, split into modes with exact solutions;
//! 5. [`mod@step`]: the laws of time, and the one pure function that obeys them;
//! 6. [`run`]: a protocol of timed changes, and the steps that cover it;
//! 7. [`trace`] and [`breath`]: what is read from the pieces afterwards;
//! 8. [`steady`]: the breath that a machine settles to;
//! 9. [`species`]: what a typical animal brings, each number with its source;
//! 10. [`exchange`]: carbon dioxide and oxygen from the cylinder to the tissues,
//!     with [`blood`], [`circulation`], [`alveolar`], [`drive`], [`warmth`] and
//!     [`supply`];
//! 11. [`live`]: breath, gas and drive in a run that one owns, and [`coupled`] along a
//!     protocol;
//! 12. [`fault`]: what goes wrong, as changes of a setup;
//! 13. [`instrument`]: gauge and spirometer between the truth and whoever reads them;
//! 14. [`assembly`]: a circuit put together from parts, rightly or wrongly;
//! 15. [`bench`](mod@bench): the tests of a ventilator before its first patient, in closed form.
//!
//! The library opens no file, reads no clock and prints nothing.
//!
//! ```
#![doc = include_str!("../examples/breath_table.rs")]
//! ```
//!
//! For teaching only; not a medical device; not for decisions about a patient.

mod animal;
pub mod assembly;
mod base;
pub mod bench;
pub mod exchange;
pub mod fault;
mod laws;
mod plant;
mod reading;
mod road;
mod running;
pub mod setup;
mod stepping;

pub use animal::{alveolar, blood, circulation, drive, species, warmth};
pub use base::revision::MODEL_REVISION;
pub use base::{bracket, math, quantity, random};
pub use exchange::supply;
pub use laws::{gases, tube};
pub use reading::{breath, instrument, trace};
pub use running::{coupled, live, run, steady};
pub use stepping::{machine, phase, piece, step};

/// Everything that a first program needs.
pub mod prelude {
    pub use crate::breath::{Breath, BreathMeter, BreathUnderWay, EndedBy};
    pub use crate::live::LiveRun;
    pub use crate::machine::{Machine, Signal};
    pub use crate::phase::{Cause, PhaseKind};
    pub use crate::piece::Piece;
    pub use crate::quantity::{
        Compliance, Flow, Mass, PartialPressure, Pressure, Resistance, Seconds, Volume,
    };
    pub use crate::road::Solver;
    pub use crate::run::{Change, Protocol, ProtocolError, Simulation, Stretch};
    pub use crate::setup::{
        AirLeak, ChestWall, Circuit, Compartment, Course, Cuff, Effort, ElasticLaw, FreshGasInlet,
        Leak, LeakLaw, LeaksTo, Limb, Lung, Mode, PatientPort, PressureVolume, Relief,
        ReservoirBag, Segment, Sensor, SensorPlace, Setup, SetupError, Tail, Tube, UserLaw, Valve,
        Ventilator, Viscoelastic,
    };
    pub use crate::step::{Misplaced, Moment, Step, StepError, step};
    pub use crate::trace::{Event, Sampler, Trace};
}

pub use road::Solver;

#[cfg(doctest)]
#[doc = include_str!("../README.md")]
struct Readme;
