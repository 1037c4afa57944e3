//! The work before the first patient and after the last: the parts on the table, the gas
//! supply, what is checked, and the order of it.

use crate::format::{ActName, Cylinder, Id, Line};
use crate::read::{Rule, any, block, list, number, text};

const PORT: Rule = text(80).hint("write a part and its port, such as `t-piece.limb`");

block! {
    /// The gas supply, as `CheckSupply` reads it. A cylinder's contents follow from its
    /// inner volume and its gauge, by Boyle's law, and fall with what the flowmeter lets
    /// through.
    pub struct Supply {
        /// Pressure of the pipeline.
        pipeline_bar: Option<f64> = number(0.0, 20.0).or_nothing("there is no pipeline"),
        /// The cylinder in use; with a pipeline, the one behind it.
        cylinder: Option<Cylinder> = any().or_nothing("there is none"),
        /// The spare cylinder.
        reserve: Option<Cylinder> = any().or_nothing("there is none"),
    }
}

block! {
    /// Something in the room that is checked by doing something to it: suction, oxygen
    /// failure alarm, monitor, emergency bag. `Check` does it and tells what is found.
    pub struct Checked {
        /// Its name, as it is typed: `check suction`.
        id: Id = text(64),
        /// What hands do to it, in words.
        does: String = text(200),
        /// What is found where it is as it should be.
        finds: String = text(300),
    }
}

block! {
    /// Something in the room that is not as it should be in a case, until `PutRight`.
    pub struct Amiss {
        /// The `id` of the check that finds it.
        check: Id = text(64),
        /// What is found then.
        finds: String = text(300),
        /// What is done to put it right, in words.
        mends: String = text(200),
    }
}

block! {
    /// A step of the work. It is done by an act with a result, at the first such act after
    /// all steps that must come before; joining and parting at the last such act before the
    /// patient is put on. A test of the circuit that was joined otherwise afterwards does
    /// not count: `Trace`, `OccludePort` and `Squeeze` count after the last joint.
    pub struct WorkStep {
        /// Its name.
        id: Id = text(64),
        /// What is done, in words.
        says: String = text(200),
        /// Any of these acts.
        by: Vec<ActName> = list(1, 40),
        /// For `Check`: which one.
        check: Option<Id> = text(64).or_nothing("any"),
        /// The steps that must come before; among others the order is free.
        after: Vec<Line> = list(0, 40).or_empty(),
        /// Why it is done, and why there, for the debrief.
        because: String = text(300),
    }
}

block! {
    /// Two ports that are joined.
    pub struct TwoPorts {
        /// One port, such as `limb.far`.
        a: String = PORT,
        /// The other, such as `ventilator.patient-side`.
        b: String = PORT,
    }
}

block! {
    /// A port that is parted.
    pub struct OnePort {
        /// The port, such as `limb.far`.
        port: String = PORT,
    }
}

block! {
    /// A thumb that presses gas out at an even pace.
    pub struct Thumb {
        /// How much.
        ml: f64 = number(0.001, 100.0),
        /// In what time.
        s: f64 = number(0.05, 30.0),
    }
}

block! {
    /// Something that is checked.
    pub struct OneCheck {
        /// Its `id`.
        check: Id = text(64),
    }
}

block! {
    /// What the circuit on the table must do: as it was when the patient was first put on
    /// it, or as it is left where there is none. Besides, fresh gas must come in near the
    /// patient, pressure be sensed there, and the limb lead to the ventilator.
    pub struct CircuitLimits {
        /// Most gas that is breathed to and fro between T-piece and patient.
        dead_space_at_most_ml: f64 = number(0.0, 20_000.0).or(5.0),
        /// Most that it lets out at 30 cmH2O with its outlet shut.
        leak_at_most_ml_min: f64 = number(0.0, 1e6).or(300.0),
        /// Farthest that the pressure in standby may be from the room's, after a minute at
        /// the flow that is set.
        standby_at_most_cmh2o: f64 = number(0.0, 1000.0).or(1.0),
        /// Most that the tubing takes up for each cmH2O.
        compliance_at_most_ml_cmh2o: f64 = number(0.0, 1000.0).or(0.5),
        /// Most resistance between T-piece and patient's tube.
        resistance_at_most_cmh2o_s_l: f64 = number(0.0, 100_000.0).or(20.0),
        /// Least gas in limb and bag, to draw on in standby.
        store_at_least_ml: f64 = number(0.0, 50_000.0).or(40.0),
    }
}

block! {
    /// Steps that must have been done in an order that holds.
    pub struct StepsDone {
        /// Which, by their `id`; all of them, if empty.
        steps: Vec<Line> = list(0, 40).or_empty(),
        /// Smallest share that passes.
        at_least_percent: f64 = number(0.0, 100.0).or(100.0),
    }
}
