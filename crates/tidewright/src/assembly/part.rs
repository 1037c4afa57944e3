//! The parts on the table, their ports and what fits what.
//!
//! The numbers of the ready-made parts are choices for teaching, without a source.

use std::f64::consts::PI;

use crate::base::quantity::{Compliance, Flow, Pressure, Resistance, Volume};
use crate::bench::ATMOSPHERE;
use crate::laws::gases::{Mixture, STANDARD_PRESSURE_PA};
use crate::laws::tube::SmoothTube;
use crate::setup::{Relief, ReservoirBag};

/// A part.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum Part {
    /// The patient, by the connector of its tube.
    Patient,
    /// A test lung in the patient's place.
    TestLung(TestLung),
    /// The ventilator: an outlet valve and a pressure sensor.
    Ventilator(VentilatorBody),
    /// A cylinder or a pipeline, opened.
    GasSupply,
    /// A flowmeter.
    Flowmeter,
    /// The hose for the fresh gas.
    Hose,
    /// A T-piece.
    TPiece(TPiece),
    /// A corrugated or smooth tube: the expiratory limb, an extension.
    Tubing(Tubing),
    /// A connector, an elbow, an adapter.
    Adapter(Adapter),
    /// A filter.
    Filter(Adapter),
    /// The line by which the ventilator senses pressure.
    SensingLine(ThinLine),
    /// The line of a monitor that draws gas.
    SamplingLine {
        /// What it draws.
        draws: Flow,
    },
    /// A bag with a tail.
    Bag(TailBag),
    /// A plain waste tube.
    WasteTube(WasteTube),
    /// The way into a scavenging system.
    Scavenging(Scavenging),
    /// A plug.
    Plug,
    /// A thumb that holds a port shut.
    Thumb,
}

/// A bag or bellows that stands for a patient.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct TestLung {
    /// Its compliance.
    pub compliance: Compliance,
    /// Resistance of its neck.
    pub resistance: Resistance,
}

/// The ventilator's own gas way.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct VentilatorBody {
    /// Resistance of the open valve.
    pub valve_resistance: Resistance,
    /// Gas between its patient side and the valve.
    pub volume: Volume,
    /// What that and its walls take up.
    pub compliance: Compliance,
    /// A relief valve, if it has one.
    pub relief: Option<Relief>,
}

/// A T-piece: two wide legs, a nipple for the hose, a tap for the sensing line.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct TPiece {
    /// Gas in the leg that is meant for the patient, with its extension.
    pub patient_leg: Volume,
    /// Gas in the leg that is meant for the limb.
    pub limb_leg: Volume,
    /// What gas and walls take up.
    pub compliance: Compliance,
}

/// A wide tube.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Tubing {
    /// Gas in it.
    pub volume: Volume,
    /// What gas and walls take up.
    pub compliance: Compliance,
    /// Its resistance, 0 or more.
    pub resistance: Resistance,
}

/// A short wide part with one way through.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Adapter {
    /// Gas in it.
    pub volume: Volume,
    /// Its resistance, 0 or more.
    pub resistance: Resistance,
    /// Whether it has a tap at its side.
    pub tap: bool,
}

/// A thin line.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct ThinLine {
    /// Its bore, mm.
    pub bore_mm: f64,
    /// Its length, cm.
    pub length_cm: f64,
    /// Bore of a split half-way along it, mm; 0 for none.
    pub split_mm: f64,
}

/// A bag with a tail.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct TailBag {
    /// The bag.
    pub bag: ReservoirBag,
    /// Resistance of its free tail.
    pub tail: Resistance,
    /// Share of the tail's area that is free: 1 for an open tail, 0 for a closed one.
    /// Resistance goes with 1/area² (Poiseuille).
    pub open: f64,
}

/// A tube that leads waste gas away.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct WasteTube {
    /// Its resistance; 0 for a wide one.
    pub resistance: Resistance,
    /// Whether nothing passes.
    pub blocked: bool,
}

/// The way into a scavenging system.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Scavenging {
    /// Resistance of the way in.
    pub resistance: Resistance,
    /// How far below the room its suction holds it; 0 for a passive one.
    pub pulls: Pressure,
    /// Whether it has relief both ways: it lets room air in before it pulls, and waste
    /// gas out before it holds up.
    pub relief: bool,
    /// Whether nothing passes beyond it.
    pub blocked: bool,
}

impl Scavenging {
    /// What suction is left with relief (about 0.5 cmH2O, from memory of what standards
    /// allow, wide).
    pub const PULLS_WITH_RELIEF: Pressure = Pressure::cmh2o(0.5);
    /// Pressure at which the relief lets waste gas out (assumed).
    pub const HOLDS_WITH_RELIEF: Pressure = Pressure::cmh2o(1.0);
}

impl Tubing {
    /// A smooth tube by its bore (mm) and length (cm), both above 0, filled with oxygen at
    /// 20 °C: gas alone takes up volume/1033 mL for each cmH2O (Boyle's law), and `walls` is added. Its
    /// resistance is that of laminar flow.
    ///
    /// ```
    /// use tidewright::assembly::Tubing;
    /// use tidewright::prelude::*;
    /// let wide = Tubing::of_size(22.0, 150.0, Compliance::ml_per_cmh2o(1.0));
    /// assert!((wide.volume.as_ml() - 570.2).abs() < 0.1);
    /// assert!((wide.compliance.as_ml_per_cmh2o() - 1.552).abs() < 0.001);
    /// ```
    #[must_use]
    pub fn of_size(bore_mm: f64, length_cm: f64, walls: Compliance) -> Self {
        let volume_ml = PI * bore_mm * bore_mm / 400.0 * length_cm;
        Self {
            volume: Volume::ml(volume_ml),
            compliance: Compliance::ml_per_cmh2o(volume_ml / ATMOSPHERE.as_cmh2o()) + walls,
            resistance: laminar(bore_mm, length_cm),
        }
    }
}

impl ThinLine {
    /// Its resistance to laminar flow from end to end.
    #[must_use]
    pub fn resistance(&self) -> Resistance {
        laminar(self.bore_mm, self.length_cm)
    }
}

fn laminar(bore_mm: f64, length_cm: f64) -> Resistance {
    let gas = Mixture::OXYGEN.properties(20.0, STANDARD_PRESSURE_PA);
    SmoothTube::new(bore_mm, length_cm, gas).laminar_resistance()
}

macro_rules! ports {
    ($($Port:ident $word:literal $fitting:ident,)*) => {
        /// A port of a part.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
        #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
        #[allow(missing_docs, reason = "its word says it")]
        pub enum Port {
            $($Port,)*
        }

        impl Port {
            /// Every port.
            pub const ALL: &[Self] = &[$(Self::$Port,)*];

            /// The word for it, behind the name of its part.
            #[must_use]
            pub fn word(self) -> &'static str {
                match self {
                    $(Self::$Port => $word,)*
                }
            }

            /// What it fits.
            #[must_use]
            pub fn fitting(self) -> Fitting {
                match self {
                    $(Self::$Port => Fitting::$fitting,)*
                }
            }
        }
    };
}

ports! {
    Tube "tube" Wide,
    Neck "neck" Wide,
    Tail "tail" Wide,
    PatientSide "patient-side" Wide,
    Outlet "outlet" Wide,
    Sensing "sensing" Tap,
    GasOut "out" Gas,
    GasIn "in" GasInlet,
    Nipple "nipple" Nipple,
    MachineEnd "machine-end" HoseEnd,
    PatientEnd "patient-end" HoseEnd,
    Patient "patient" Wide,
    Limb "limb" Wide,
    FreshGas "fresh-gas" Nipple,
    Sense "sense" Tap,
    Near "near" Wide,
    Far "far" Wide,
    Side "side" Tap,
    LineNear "line-near" LineEnd,
    LineFar "line-far" LineEnd,
    End "end" Anything,
}

/// What a port fits.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fitting {
    /// A wide tapered connector.
    Wide,
    /// A thin tap.
    Tap,
    /// The end of a thin line.
    LineEnd,
    /// A nipple for a hose.
    Nipple,
    /// The end of a hose.
    HoseEnd,
    /// A gas outlet.
    Gas,
    /// What fits into a gas outlet.
    GasInlet,
    /// Whatever it is held against.
    Anything,
}

impl Fitting {
    /// Whether two ports go together.
    #[must_use]
    pub fn fits(self, other: Self) -> bool {
        use Fitting::{Anything, Gas, GasInlet, HoseEnd, LineEnd, Nipple, Tap, Wide};
        matches!(
            (self, other),
            (Wide, Wide)
                | (Tap, LineEnd)
                | (LineEnd, Tap)
                | (Nipple, HoseEnd)
                | (HoseEnd, Nipple)
                | (Gas, GasInlet)
                | (GasInlet, Gas)
        ) || ((self == Anything) != (other == Anything) && self != Gas && other != Gas)
    }

    /// It in words.
    #[must_use]
    pub fn in_words(self) -> &'static str {
        match self {
            Self::Wide => "a wide connector",
            Self::Tap => "a thin tap",
            Self::LineEnd => "the end of a thin line",
            Self::Nipple => "a nipple for a hose",
            Self::HoseEnd => "the end of a hose",
            Self::Gas => "a gas outlet",
            Self::GasInlet => "what fits a gas outlet",
            Self::Anything => "something held against a port",
        }
    }
}

impl Part {
    /// Its ports.
    #[must_use]
    pub fn ports(&self) -> &'static [Port] {
        use Port::{
            End, Far, FreshGas, GasIn, GasOut, Limb, LineFar, LineNear, MachineEnd, Near, Neck,
            Nipple, Outlet, Patient, PatientEnd, PatientSide, Sense, Sensing, Side, Tail, Tube,
        };
        match self {
            Self::Patient => &[Tube],
            Self::TestLung(_) | Self::Scavenging(_) | Self::WasteTube(_) => &[Neck],
            Self::Ventilator(_) => &[PatientSide, Sensing, Outlet],
            Self::GasSupply => &[GasOut],
            Self::Flowmeter => &[GasIn, Nipple],
            Self::Hose => &[MachineEnd, PatientEnd],
            Self::TPiece(_) => &[Patient, Limb, FreshGas, Sense],
            Self::Adapter(Adapter { tap: true, .. }) | Self::Filter(Adapter { tap: true, .. }) => {
                &[Near, Far, Side]
            }
            Self::Tubing(_) | Self::Adapter(_) | Self::Filter(_) => &[Near, Far],
            Self::SensingLine(_) => &[LineNear, LineFar],
            Self::SamplingLine { .. } => &[LineNear],
            Self::Bag(_) => &[Neck, Tail],
            Self::Plug | Self::Thumb => &[End],
        }
    }

    /// What it is, in words.
    #[must_use]
    pub fn in_words(&self) -> &'static str {
        match self {
            Self::Patient => "the patient",
            Self::TestLung(_) => "a test lung",
            Self::Ventilator(_) => "the ventilator",
            Self::GasSupply => "the gas supply",
            Self::Flowmeter => "the flowmeter",
            Self::Hose => "the fresh gas hose",
            Self::TPiece(_) => "a T-piece",
            Self::Tubing(_) => "a tube",
            Self::Adapter(_) => "an adapter",
            Self::Filter(_) => "a filter",
            Self::SensingLine(_) => "the sensing line",
            Self::SamplingLine { .. } => "a sampling line",
            Self::Bag(_) => "a bag",
            Self::WasteTube(_) => "the waste tube",
            Self::Scavenging(_) => "the scavenging",
            Self::Plug => "a plug",
            Self::Thumb => "a thumb",
        }
    }

    /// Where a wide part with one way through lets gas out that came in at `port`.
    pub(super) fn through(&self, port: Port) -> Option<Port> {
        match (self, port) {
            (Self::Tubing(_) | Self::Adapter(_) | Self::Filter(_), Port::Near) => Some(Port::Far),
            (Self::Tubing(_) | Self::Adapter(_) | Self::Filter(_), Port::Far) => Some(Port::Near),
            (Self::TPiece(_), Port::Patient) => Some(Port::Limb),
            (Self::TPiece(_), Port::Limb) => Some(Port::Patient),
            _ => None,
        }
    }
}
