//! Faults that a training scenario hides, and the pool they are drawn from.

use super::{Id, LONGEST_RUN_S, Leak, ValveResistance};
use crate::read::{Rule, any, block, choice, list, number, text};

const TIMES: Rule = number(0.01, 1000.0);

block! {
    /// A case of the pool: what goes wrong and when. The seed draws one case,
    /// and its onset between the two times.
    pub struct Case {
        /// Short name, for the debrief.
        id: Id = text(64),
        /// What it is, in words.
        says: String = text(200),
        /// Earliest onset.
        onset_from_s: f64 = number(0.0, LONGEST_RUN_S),
        /// Latest onset.
        onset_to_s: f64 = number(0.0, LONGEST_RUN_S),
        /// What happens from the onset on; a later stage replaces the one before.
        course: Vec<Stage> = list(1, 100),
    }
}

block! {
    /// A stage of a fault.
    pub struct Stage {
        /// Time since the onset.
        after_s: f64 = number(0.0, LONGEST_RUN_S).or(0.0),
        /// What is wrong from then on.
        is: HiddenFault = any(),
    }
}

choice! {
    /// A fault of patient, tube, circuit, ventilator or supply.
    pub enum HiddenFault {
        /// A joint of the circuit leaks.
        CircuitLeak(Leak),
        /// The cuff has lost pressure and leaks above what is left.
        CuffLeak(CuffLeak),
        /// The tube is off the T-piece.
        Disconnected,
        /// The tube is blocked.
        TubeBlocked,
        /// Tube and airway resist more.
        TubeNarrowed(Times),
        /// The tube lies in one main bronchus.
        OneLung,
        /// Something presses on chest or abdomen: lung and chest wall are stiffer.
        Compressed(Times),
        /// Gas in the abdomen, as for a look through a scope: it goes when the surgeon is done.
        Insufflation(Times),
        /// Air around the lung: lung and chest wall are stiffer.
        Pneumothorax(Times),
        /// The small airways are narrow, more so for gas that flows out.
        Bronchospasm(Spasm),
        /// The patient breathes against the ventilator.
        Effort(OwnBreaths),
        /// The patient braces.
        Bracing(Braced),
        /// The expiratory limb or its filter resists.
        LimbObstructed(ValveResistance),
        /// The outlet valve never shuts.
        ValveStuckOpen,
        /// The outlet valve never opens.
        ValveStuckShut,
        /// The fresh gas flow falls to this share of what is set.
        SupplyFails(Share),
        /// The ventilator's gauge, and its cycling, read this much above the truth.
        GaugeReadsHigh(Offset),
        /// The pressure sensing line is off.
        SenseLineOff,
    }
}

block! {
    /// A cuff that leaks.
    pub struct CuffLeak {
        /// Pressure left in the cuff: what it seals to.
        seals_to_cmh2o: f64 = number(0.0, 100.0),
        /// Flow past it for each cmH2O above that.
        ml_s_cmh2o: f64 = number(0.01, 1000.0),
    }
}

block! {
    /// A factor on what it was.
    pub struct Times {
        /// Times what it was.
        times: f64 = TIMES,
    }
}

block! {
    /// Factors on the resistance of the airways.
    pub struct Spasm {
        /// For gas that flows in.
        inward_times: f64 = TIMES,
        /// For gas that flows out.
        outward_times: f64 = TIMES,
    }
}

block! {
    /// The patient's own breaths.
    pub struct OwnBreaths {
        /// Muscle pressure at the height of a breath.
        cmh2o: f64 = number(0.1, 60.0),
        /// How long a breath in lasts.
        lasts_s: f64 = number(0.05, 10.0),
        /// Time from one breath to the next.
        every_s: f64 = number(0.1, 60.0),
    }
}

block! {
    /// Muscle pressure that presses out.
    pub struct Braced {
        /// Pressure.
        cmh2o: f64 = number(0.1, 60.0),
    }
}

block! {
    /// A share of what is set.
    pub struct Share {
        /// Share; 0 for nothing.
        percent: f64 = number(0.0, 100.0),
    }
}

block! {
    /// A false reading.
    pub struct Offset {
        /// What it adds to the truth.
        cmh2o: f64 = number(-30.0, 30.0),
    }
}
