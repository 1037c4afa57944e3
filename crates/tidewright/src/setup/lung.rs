//! The patient's lung, airway, chest wall and muscles.

use crate::base::quantity::{Compliance, Flow, Pressure, Resistance, Volume};
use crate::laws::law::{Curved, Sigmoid, StoreLaw, UserLaw};
use crate::laws::tube::SmoothTube;

/// A lung of one or more compartments in parallel behind one breathing tube.
///
/// ```
/// use tidewright::prelude::*;
/// // Two unequal halves behind a tube of 10 cmH2O·s/L.
/// let part = |c, r| Compartment::new(Compliance::ml_per_cmh2o(c), Resistance::cmh2o_s_per_l(r));
/// let lung = Lung {
///     compartments: vec![part(4.0, 30.0), part(2.0, 60.0)],
///     tube: Tube::Linear(Resistance::cmh2o_s_per_l(10.0)),
///     ..Lung::default()
/// };
/// assert_eq!(lung.total_compliance(), Compliance::ml_per_cmh2o(6.0));
/// ```
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Lung {
    /// The compartments, 1 to 6.
    pub compartments: Vec<Compartment>,
    /// The breathing tube (and large airway) shared by all compartments.
    pub tube: Tube,
    /// The tube's cuff: the leak past it, if there is one.
    pub cuff: Option<Cuff>,
    /// Chest wall in series with the lung. `None`: the compartments' compliances
    /// are those of lung and chest wall together.
    pub chest_wall: Option<ChestWall>,
    /// Tissue that gives way slowly, in series with every compartment together.
    pub viscoelastic: Option<Viscoelastic>,
}

/// A part of the lung that fills and empties as one.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Compartment {
    /// Volume taken up for each unit of pressure; above 0. With another `law`
    /// than the straight line it only weighs alveolar pressures.
    pub compliance: Compliance,
    /// Resistance of the airway that leads to it, for gas flowing in; above 0.
    pub resistance: Resistance,
    /// Resistance for gas flowing out where it differs, as in bronchospasm.
    pub expiratory_resistance: Option<Resistance>,
    /// Whether its airway is shut, as for the lung that a tube pushed too far
    /// does not reach.
    pub shut: bool,
    /// Its pressure-volume law.
    pub law: PressureVolume,
    /// A hole in it, if there is one.
    pub air_leak: Option<AirLeak>,
}

/// How a compartment's pressure follows from the gas in it.
#[derive(Clone, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum PressureVolume {
    /// P = V/C.
    #[default]
    Linear,
    /// V = lower + span/(1 + e^(−(P − middle)/width)): stiff when empty, stiff
    /// when full; largest compliance span/(4·width) at the middle pressure.
    ///
    /// Source of the form: Venegas, Harris and Simon 1998, J Appl Physiol
    /// 84:389 (form from memory).
    Sigmoid {
        /// Lower asymptote of the volume.
        lower: Volume,
        /// Volume between the asymptotes; above 0.
        span: Volume,
        /// Pressure of largest compliance.
        middle: Pressure,
        /// Pressure scale; above 0.
        width: Pressure,
    },
    /// Straight lines between points of rising pressure and volume, two at
    /// least; the first and last line go on for ever.
    Table(Vec<(Pressure, Volume)>),
    /// A law of the user's own.
    #[cfg_attr(feature = "serde", serde(skip))]
    User(UserLaw),
}

/// A breathing tube.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum Tube {
    /// No resistance of its own.
    None,
    /// Δp = R·Q.
    Linear(Resistance),
    /// Δp = k₁·Q + k₂·Q·|Q| with Q in L/s (Rohrer's form).
    Quadratic {
        /// cmH2O·s/L; above 0.
        k1: f64,
        /// cmH2O·s²/L²; 0 or more.
        k2: f64,
    },
    /// A smooth tube by its bore, length and gas: laminar at low flow, turbulent
    /// at high flow.
    Sized(SmoothTube),
    /// A flap or plug that opens one way only: `inward` and `outward` resistance;
    /// `None` is shut.
    OneWay {
        /// For gas flowing in.
        inward: Option<Resistance>,
        /// For gas flowing out.
        outward: Option<Resistance>,
    },
    /// Shut: no gas passes.
    Shut,
}

/// The leak past a tube's cuff: none below its seal pressure, in proportion to
/// the excess above it.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Cuff {
    /// Tracheal pressure at which it begins to leak.
    pub seals_to: Pressure,
    /// Flow for each cmH2O above that, mL/s.
    pub conductance_ml_s_cmh2o: f64,
}

/// A chest wall in series with the lung.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct ChestWall {
    /// Its compliance; above 0.
    pub compliance: Compliance,
    /// Pressure that presses on it from outside (a surgeon's hand, a filled
    /// abdomen); 0 for none.
    pub pressed_by: Pressure,
    /// A hole from the pleural space to the room (open pneumothorax).
    pub open_wound: Option<Resistance>,
}

/// A hole in a compartment.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct AirLeak {
    /// Resistance of the hole; above 0.
    pub resistance: Resistance,
    /// Where the gas goes.
    pub to: LeaksTo,
}

/// Where gas goes that leaves a lung through a hole.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum LeaksTo {
    /// To the room, through a drain or a wound.
    Room,
    /// To the pleural space and back: a pneumothorax that can empty again.
    /// Needs a chest wall.
    Pleura,
    /// To the pleural space, never back: a tension pneumothorax. Needs a chest
    /// wall.
    PleuraOneWay,
}

/// A Maxwell branch: a compliance that gives way through a resistance, in
/// series with the lung's elastic recoil.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Viscoelastic {
    /// Compliance of the branch; above 0.
    pub compliance: Compliance,
    /// Resistance of the branch; above 0.
    pub resistance: Resistance,
}

impl Lung {
    /// A lung of one compartment.
    #[must_use]
    pub fn single(compliance: Compliance, resistance: Resistance) -> Self {
        Self {
            compartments: vec![Compartment::new(compliance, resistance)],
            tube: Tube::None,
            cuff: None,
            chest_wall: None,
            viscoelastic: None,
        }
    }

    /// Sum of the compartments' compliances: what a very slow breath would show.
    #[must_use]
    pub fn total_compliance(&self) -> Compliance {
        self.compartments.iter().fold(Compliance::ZERO, |sum, part| sum + part.compliance)
    }
}

impl Default for Lung {
    /// A cat of 4.5 kg: 6 mL/cmH2O, 1.33 for each kg, and 20 cmH2O·s/L, tube included.
    fn default() -> Self {
        Self::single(Compliance::ml_per_cmh2o(6.0), Resistance::cmh2o_s_per_l(20.0))
    }
}

impl Compartment {
    /// An open compartment with a straight pressure-volume line.
    #[must_use]
    pub fn new(compliance: Compliance, resistance: Resistance) -> Self {
        Self {
            compliance,
            resistance,
            expiratory_resistance: None,
            shut: false,
            law: PressureVolume::Linear,
            air_leak: None,
        }
    }

    pub(crate) fn store_law(&self) -> StoreLaw {
        match &self.law {
            PressureVolume::Linear => StoreLaw::Linear(self.compliance.as_ml_per_cmh2o()),
            PressureVolume::Sigmoid { lower, span, middle, width } => {
                StoreLaw::Curved(Curved::Sigmoid(Sigmoid {
                    lower: lower.as_ml(),
                    span: span.as_ml(),
                    middle: middle.as_cmh2o(),
                    width: width.as_cmh2o(),
                }))
            }
            PressureVolume::Table(points) => {
                let points = points.iter().map(|(p, v)| (p.as_cmh2o(), v.as_ml())).collect();
                StoreLaw::Curved(Curved::Table(points))
            }
            PressureVolume::User(law) => StoreLaw::Curved(Curved::User(law.clone())),
        }
    }
}

impl Cuff {
    /// A cuff that leaks `flow` when tracheal pressure is 10 cmH2O above its seal.
    #[must_use]
    pub fn leaking(seals_to: Pressure, flow: Flow) -> Self {
        Self { seals_to, conductance_ml_s_cmh2o: flow.as_ml_s() / 10.0 }
    }
}
