//! The lung: its compartments and how they stretch.

use super::{LUNG_COMPLIANCE, Points, RESISTANCE};
use crate::read::{any, block, choice, list, number};

choice! {
    /// Lung and airway: one compartment, written as a plain block, or several.
    pub enum Lung {
        /// Compartments side by side behind one breathing tube.
        Compartments(Compartments),
    }
    or {
        /// One compartment.
        Single(Compartment)
    }
}

block! {
    /// A part of the lung that fills and empties as one.
    pub struct Compartment {
        /// Volume that it takes up for each cmH2O. With a `law` other than the
        /// straight line it is only its weight in mean alveolar pressures.
        compliance_ml_cmh2o: f64 = LUNG_COMPLIANCE,
        /// Resistance of the airway that leads to it; the tube's too where there
        /// is one compartment and the patient has no `tube`.
        resistance_cmh2o_s_l: f64 = RESISTANCE,
        /// Resistance to gas coming out, where it is another, as in bronchospasm.
        expiratory_resistance_cmh2o_s_l: Option<f64> = RESISTANCE.or_nothing("the same in and out"),
        /// Whether its airway is shut: a plug, or a tube pushed past it.
        shut: bool = any().or_word("false"),
        /// How its pressure follows its volume.
        law: PressureVolume = any().or_word("Linear"),
        /// A hole in it.
        air_leak: Option<AirLeak> = any().or_nothing("no hole"),
    }
}

impl Compartment {
    /// An open compartment with a straight pressure-volume line.
    #[must_use]
    pub fn plain(compliance_ml_cmh2o: f64, resistance_cmh2o_s_l: f64) -> Self {
        Self {
            compliance_ml_cmh2o,
            resistance_cmh2o_s_l,
            expiratory_resistance_cmh2o_s_l: None,
            shut: false,
            law: PressureVolume::Linear,
            air_leak: None,
        }
    }
}

block! {
    /// Compartments side by side. Their list may stand without its name:
    /// `Compartments([(…), (…)], tube_resistance_cmh2o_s_l: 10)`.
    #[leading(compartments)]
    pub struct Compartments {
        /// The compartments.
        compartments: Vec<Compartment> = list(1, tidewright::setup::MAX_COMPARTMENTS as u16),
        /// Resistance of the tube that they share; 0 for none, or for a patient
        /// whose `tube` is described.
        tube_resistance_cmh2o_s_l: f64 = number(0.0, 100_000.0).or(0.0),
    }
}

choice! {
    /// How the pressure of a compartment follows its volume.
    pub enum PressureVolume {
        /// A straight line: pressure = volume / compliance.
        Linear,
        /// Stiff when empty, stiff when full: volume = lower + span / (1 + e^(−(pressure − middle) / width)).
        Sigmoid(Sigmoid),
        /// Straight lines from point to point, the end ones prolonged.
        Table(Table),
    }
}

block! {
    /// A lung that is stiff when empty and stiff when full. Its largest compliance
    /// is span / (4 · width), at the middle pressure.
    pub struct Sigmoid {
        /// Volume that it cannot fall below, counted from rest.
        lower_ml: f64 = number(-100_000.0, 100_000.0),
        /// Volume between empty and full.
        span_ml: f64 = number(0.01, 100_000.0),
        /// Pressure of largest compliance.
        middle_cmh2o: f64 = number(-50.0, 100.0),
        /// How slowly it stiffens to both sides.
        width_cmh2o: f64 = number(0.1, 100.0),
    }
}

block! {
    /// A pressure-volume curve by its points:
    /// `Table([(cmh2o: 0, ml: 0), (cmh2o: 10, ml: 60), (cmh2o: 20, ml: 80)])`.
    #[leading(points)]
    pub struct Table {
        /// The points, each with more pressure and more volume than the one before.
        points: Points = list(2, 100),
    }
}

block! {
    /// A hole in the lung.
    pub struct AirLeak {
        /// Resistance of the hole.
        resistance_cmh2o_s_l: f64 = RESISTANCE,
        /// Where the gas goes.
        to: LeaksTo = any(),
    }
}

choice! {
    /// Where gas goes that leaves a lung through a hole.
    #[derive(Copy, Eq)]
    pub enum LeaksTo {
        /// To the room, through a drain.
        Room,
        /// Around the lung and back: a pneumothorax. Needs a `chest_wall`.
        Pleura,
        /// Around the lung, never back: a tension pneumothorax. Needs a `chest_wall`.
        PleuraOneWay,
    }
}
