//! The breathing circuit: tubing, limb, outlet valve, leak, sensor.

use super::{RESISTANCE, WATER};
use crate::read::{any, block, choice, number};

block! {
    /// The breathing circuit, from the T-piece to the outlet valve.
    pub struct Circuit {
        /// Gas taken up by tubing and by compression; 0 means rigid.
        compliance_ml_cmh2o: f64 = number(0.0, 100.0).or(0.15),
        /// Resistance of the open outlet path, valve and limb; of the valve alone
        /// where `limb` describes the limb.
        valve_resistance_cmh2o_s_l: f64 = RESISTANCE.or(5.0),
        /// What the open outlet path, valve and limb, resists beyond proportion: k2 of
        /// pressure = resistance × flow + k2 × flow². It matters at an oxygen flush.
        outlet_k2_cmh2o_s2_l2: f64 = number(0.0, 1_000_000.0).or(0.0),
        /// Whether the outlet valve obeys.
        valve: Valve = any().or_word("Working"),
        /// Whether a check keeps gas from flowing back through the outlet.
        backflow_check: bool = any().or_word("false"),
        /// The expiratory limb, from T-piece to valve, where it matters by itself.
        limb: Option<Limb> = any().or_nothing("part of the outlet path"),
        /// Water in the limb that the outflow bubbles through, as a column.
        water_in_limb_cmh2o: f64 = WATER.or(0.0),
        /// A hole in the circuit.
        leak: Option<Leak> = any().or_nothing("no leak"),
        /// A relief valve at the T-piece.
        relief: Option<Relief> = any().or_nothing("none"),
        /// What the patient port of the T-piece is connected to.
        patient_port: PatientPort = any().or_word("Connected"),
        /// What the ventilator's pressure sensor tells it.
        sensor: Sensor = any().or_empty(),
    }
}

choice! {
    /// Whether the outlet valve obeys.
    #[derive(Copy, Eq)]
    pub enum Valve {
        /// Shut in inspiration, open in expiration and standby.
        Working,
        /// It never shuts.
        StuckOpen,
        /// It never opens.
        StuckShut,
    }
}

block! {
    /// An expiratory limb with gas and walls of its own.
    pub struct Limb {
        /// Gas that it takes up; 0 means rigid.
        compliance_ml_cmh2o: f64 = number(0.0, 100.0).or(0.0),
        /// Its resistance from T-piece to valve.
        resistance_cmh2o_s_l: f64 = RESISTANCE,
        /// Whether it is pulled off at the valve, and open to the room there.
        disconnected: bool = any().or_word("false"),
    }
}

block! {
    /// A relief valve: shut below its pressure, open in proportion above it.
    pub struct Relief {
        /// Pressure at which it begins to open.
        opens_at_cmh2o: f64 = number(0.0, 200.0),
        /// Resistance once open.
        resistance_cmh2o_s_l: f64 = RESISTANCE.or(5.0),
    }
}

block! {
    /// A leak, as a leak test states it: the flow that escapes at one pressure.
    pub struct Leak {
        /// Flow that escapes at this pressure; 0 for none.
        ml_min: f64 = number(0.0, 1_000_000.0),
        /// The pressure.
        at_cmh2o: f64 = number(0.1, 200.0).hint(
            "write the pressure of the leak test, such as 30: at no pressure nothing leaks"
        ),
        /// How the flow grows with pressure.
        law: LeakLaw = any().or_word("Linear"),
    }
}

choice! {
    /// How the flow of a leak grows with pressure.
    #[derive(Copy, Eq)]
    pub enum LeakLaw {
        /// In proportion to pressure: a long thin gap.
        Linear,
        /// With the square root of pressure: a sharp-edged hole.
        Orifice,
    }
}

choice! {
    /// What the patient port of the T-piece is connected to.
    #[derive(Copy, Eq)]
    pub enum PatientPort {
        /// The patient's tube.
        Connected,
        /// A thumb or a cap: no gas passes.
        Blocked,
        /// Nothing: the port is open to the room and the patient is off.
        Open,
    }
}

block! {
    /// The pressure sensor that the ventilator acts on. Reports show true pressures.
    pub struct Sensor {
        /// Where it is.
        place: SensorPlace = any().or_word("PatientConnection"),
        /// What it adds to the true pressure.
        offset_cmh2o: f64 = number(-50.0, 50.0).or(0.0),
    }
}

choice! {
    /// Where the ventilator senses pressure.
    pub enum SensorPlace {
        /// At the patient connection.
        PatientConnection,
        /// At the valve end of the limb.
        ValveEnd,
        /// Nowhere: the line is off or blocked.
        Cut(SensorCut),
    }
}

block! {
    /// A sensor that is cut off and shows one pressure.
    pub struct SensorCut {
        /// The pressure that it stays at.
        stays_at_cmh2o: f64 = number(-50.0, 200.0).or(0.0),
    }
}
