//! The animal: its breathing tube, its chest, its own effort.

use super::{Drive, LUNG_COMPLIANCE, Lung, RESISTANCE};
use crate::read::{any, block, choice, number, text};

block! {
    /// The animal. Every scenario animal is invented.
    pub struct Patient {
        /// What it is called.
        name: Option<String> = text(60).or_nothing("it has no name"),
        /// Kind of animal.
        species: Species = any(),
        /// Body weight.
        weight_kg: f64 = number(0.01, 1500.0),
        /// How fat it is: it changes what is typical for it.
        body_condition: BodyCondition = any().or_word("Ideal"),
        /// How it lies: it changes what is typical for it.
        posture: Posture = any().or_word("Lateral"),
        /// Whether it is awake, and breathes without a tube, or anaesthetised.
        state: State = any().or_word("Anaesthetised"),
        /// Lung and airway.
        lung: Option<Lung> = any().or_nothing("a typical lung for species and weight"),
        /// The breathing tube.
        tube: Option<Tube> = any().or_nothing("the one that belongs to the lung"),
        /// The leak past the tube's cuff.
        cuff: Option<Cuff> = any().or_nothing("the cuff seals"),
        /// A chest wall apart from the lung, for one that is pressed on or
        /// wounded. The compartments' compliances are then those of the lung alone.
        chest_wall: Option<ChestWall> = any().or_nothing("part of the lung's compliance"),
        /// Tissue that gives way slowly.
        viscoelastic: Option<Viscoelastic> = any().or_nothing("none"),
        /// What its muscles do.
        effort: Option<Effort> = any().or_nothing("it is at rest"),
    }
}

choice! {
    /// Kind of animal.
    #[derive(Copy, Eq)]
    pub enum Species {
        /// Domestic cat.
        Cat,
        /// Domestic dog.
        Dog,
        /// Domestic rabbit.
        Rabbit,
        /// Domestic ferret.
        Ferret,
        /// Guinea pig.
        GuineaPig,
        /// Rat.
        Rat,
        /// Horse or pony.
        Horse,
        /// Any other mammal.
        Other,
    }
}

choice! {
    /// How fat an animal is.
    #[derive(Copy, Eq)]
    pub enum BodyCondition {
        /// Lean to ideal.
        Ideal,
        /// About a fifth above ideal.
        Overweight,
        /// Far above ideal.
        Obese,
    }
}

choice! {
    /// How an animal lies.
    #[derive(Copy, Eq)]
    pub enum Posture {
        /// On its breastbone, or standing.
        Sternal,
        /// On its side.
        Lateral,
        /// On its back.
        Dorsal,
    }
}

choice! {
    /// Whether an animal is awake.
    #[derive(Copy, Eq)]
    pub enum State {
        /// Awake and at rest, without a tube.
        Awake,
        /// Anaesthetised and intubated.
        Anaesthetised,
    }
}

choice! {
    /// A breathing tube, by how it resists.
    pub enum Tube {
        /// In proportion to the flow.
        Linear(LinearTube),
        /// By a measured curve: k1·flow + k2·flow².
        Quadratic(QuadraticTube),
        /// By its size: smooth, straight, filled with oxygen at 37 °C. Laminar at
        /// low flow, turbulent at high flow.
        Sized(SizedTube),
        /// A plug or flap that moves with the gas: one resistance for gas going
        /// in, another for gas coming out.
        OneWay(OneWayTube),
        /// No gas passes: kinked, bitten shut, blocked.
        Shut,
    }
}

block! {
    /// A tube that resists in proportion to the flow.
    pub struct LinearTube {
        /// Its resistance; 0 for none.
        cmh2o_s_l: f64 = number(0.0, 100_000.0),
    }
}

block! {
    /// A tube by its measured curve, with the flow in L/s.
    pub struct QuadraticTube {
        /// Pressure for each L/s.
        k1_cmh2o_s_l: f64 = RESISTANCE,
        /// Pressure for each (L/s)².
        k2_cmh2o_s2_l2: f64 = number(0.0, 1_000_000.0),
    }
}

block! {
    /// A tube by its size.
    pub struct SizedTube {
        /// Bore.
        internal_diameter_mm: f64 = number(0.5, 60.0),
        /// Length.
        length_cm: f64 = number(0.5, 300.0),
    }
}

block! {
    /// A tube with a flap or plug in it.
    pub struct OneWayTube {
        /// Resistance to gas going in.
        inward_cmh2o_s_l: Option<f64> = RESISTANCE.or_nothing("shut to gas going in"),
        /// Resistance to gas coming out.
        outward_cmh2o_s_l: Option<f64> = RESISTANCE.or_nothing("shut to gas coming out"),
    }
}

block! {
    /// The leak past a tube's cuff: none up to the pressure that it seals to, and
    /// in proportion to the excess above it.
    pub struct Cuff {
        /// Pressure in the windpipe up to which it seals; 0 for no cuff.
        seals_to_cmh2o: f64 = number(0.0, 100.0),
        /// Flow that escapes at 10 cmH2O above that; 0 for none.
        leak_ml_min: f64 = number(0.0, 1_000_000.0),
    }
}

block! {
    /// A chest wall around the lung.
    pub struct ChestWall {
        /// Volume that it gives way for each cmH2O.
        compliance_ml_cmh2o: f64 = LUNG_COMPLIANCE,
        /// Pressure on it from outside: a leaning surgeon, a filled abdomen.
        pressed_by_cmh2o: f64 = number(0.0, 50.0).or(0.0),
        /// Resistance of a wound that is open to the room.
        wound_cmh2o_s_l: Option<f64> = RESISTANCE.or_nothing("no wound"),
    }
}

block! {
    /// Tissue that gives way slowly, in series with the recoil of the lung:
    /// a compliance that fills through a resistance.
    pub struct Viscoelastic {
        /// How far it gives way for each cmH2O.
        compliance_ml_cmh2o: f64 = LUNG_COMPLIANCE,
        /// How slowly.
        resistance_cmh2o_s_l: f64 = RESISTANCE,
    }
}

choice! {
    /// What the patient's muscles do, from the start or from the change on.
    pub enum Effort {
        /// Breathing in of its own, in half-sines of muscle pressure.
        Breaths(Breaths),
        /// Coughs: the abdomen presses out, rising in 0.06 s, held for 0.1 s,
        /// falling in 0.2 s.
        Coughs(Coughs),
        /// The chest is held tight without rest.
        Bracing(Bracing),
        /// Breathing that follows its arterial carbon dioxide.
        Drive(Drive),
    }
}

block! {
    /// Breathing in of its own. The duration and the delay fit into the time from
    /// one breath to the next.
    pub struct Breaths {
        /// Highest muscle pressure.
        amplitude_cmh2o: f64 = number(0.0, 100.0),
        /// How long one effort lasts.
        duration_s: f64 = number(0.05, 10.0),
        /// How many there are in a minute.
        rate_per_min: f64 = number(0.1, 300.0),
        /// Rest before each effort, the first included.
        delay_s: f64 = number(0.0, 600.0).or(0.0),
    }
}

block! {
    /// Coughs.
    pub struct Coughs {
        /// Pressure out.
        strength_cmh2o: f64 = number(0.0, 200.0),
        /// How many there are in a minute.
        rate_per_min: f64 = number(0.1, 120.0),
    }
}

block! {
    /// Bracing against the ventilator.
    pub struct Bracing {
        /// Pressure out.
        strength_cmh2o: f64 = number(0.0, 100.0),
    }
}
