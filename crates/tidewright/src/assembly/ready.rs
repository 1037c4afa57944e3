//! The circuit that is ready made, and the parts of the table beside it.

use super::part::{
    Adapter, Part, Scavenging, TPiece, TailBag, ThinLine, Tubing, VentilatorBody, WasteTube,
};
use super::{Assembly, At, Joint, Piece, Port};
use crate::base::quantity::{Compliance, Flow, Pressure, Resistance, Volume};
use crate::setup::ReservoirBag;

impl Assembly {
    /// The circuit that [`Circuit::default`](crate::setup::Circuit::default) and
    /// [`Apparatus::default`](crate::exchange::Apparatus::default) describe, put together
    /// from parts; a plug lies beside it.
    ///
    /// ```
    /// use tidewright::assembly::Assembly;
    /// use tidewright::exchange::Apparatus;
    /// use tidewright::prelude::*;
    /// let made = Assembly::ready_made().assemble(&Setup::default())?;
    /// assert_eq!(made.setup, Setup::default());
    /// assert_eq!(made.apparatus, Apparatus::default());
    /// # Ok::<(), tidewright::assembly::AssemblyError>(())
    /// ```
    #[must_use]
    pub fn ready_made() -> Self {
        let names = [
            ("gas-supply", Part::GasSupply),
            ("flowmeter", Part::Flowmeter),
            ("hose", Part::Hose),
            ("t-piece", Part::TPiece(TPiece::default())),
            ("connector", Part::Adapter(Adapter::default())),
            ("patient", Part::Patient),
            ("limb", Part::Tubing(Tubing::default())),
            ("ventilator", Part::Ventilator(VentilatorBody::default())),
            ("sensing-line", Part::SensingLine(ThinLine::default())),
            ("waste-tube", Part::WasteTube(WasteTube::default())),
            ("plug", Part::Plug),
        ];
        let piece =
            |(name, part): (&str, Part)| Piece { name: name.to_owned(), part, crack_mm: 0.0 };
        let joined = [
            ((0, Port::GasOut), (1, Port::GasIn)),
            ((1, Port::Nipple), (2, Port::MachineEnd)),
            ((2, Port::PatientEnd), (3, Port::FreshGas)),
            ((3, Port::Patient), (4, Port::Far)),
            ((4, Port::Near), (5, Port::Tube)),
            ((3, Port::Limb), (6, Port::Near)),
            ((6, Port::Far), (7, Port::PatientSide)),
            ((3, Port::Sense), (8, Port::LineFar)),
            ((8, Port::LineNear), (7, Port::Sensing)),
            ((7, Port::Outlet), (9, Port::Neck)),
        ];
        let at = |(part, port)| At { part, port };
        Self {
            pieces: names.into_iter().map(piece).collect(),
            joints: joined
                .into_iter()
                .map(|(a, b)| Joint { a: at(a), b: at(b), loose: false })
                .collect(),
        }
    }
}

impl Default for TPiece {
    /// One of small bore, without an extension.
    fn default() -> Self {
        Self {
            patient_leg: Volume::ml(1.0),
            limb_leg: Volume::ml(1.0),
            compliance: Compliance::ml_per_cmh2o(0.02),
        }
    }
}

impl Default for Tubing {
    /// An expiratory limb of 95 mL for small patients.
    fn default() -> Self {
        Self {
            volume: Volume::ml(95.0),
            compliance: Compliance::ml_per_cmh2o(0.12),
            resistance: Resistance::cmh2o_s_per_l(3.0),
        }
    }
}

impl Default for Adapter {
    /// A connector of 1 mL without a tap.
    fn default() -> Self {
        Self { volume: Volume::ml(1.0), resistance: Resistance::ZERO, tap: false }
    }
}

impl Default for VentilatorBody {
    /// A wide valve with 4 mL before it and no relief valve.
    fn default() -> Self {
        Self {
            valve_resistance: Resistance::cmh2o_s_per_l(2.0),
            volume: Volume::ml(4.0),
            compliance: Compliance::ml_per_cmh2o(0.01),
            relief: None,
        }
    }
}

impl Default for ThinLine {
    /// A whole line of 2 mm bore and 150 cm.
    fn default() -> Self {
        Self { bore_mm: 2.0, length_cm: 150.0, split_mm: 0.0 }
    }
}

impl Default for WasteTube {
    /// A wide open tube.
    fn default() -> Self {
        Self { resistance: Resistance::ZERO, blocked: false }
    }
}

impl Default for Scavenging {
    /// A passive one with relief.
    fn default() -> Self {
        Self {
            resistance: Resistance::cmh2o_s_per_l(1.0),
            pulls: Pressure::ZERO,
            relief: true,
            blocked: false,
        }
    }
}

impl Default for TailBag {
    /// Half a litre, its tail open.
    fn default() -> Self {
        Self {
            bag: ReservoirBag::holding(Volume::ml(500.0)),
            tail: Resistance::cmh2o_s_per_l(2.0),
            open: 1.0,
        }
    }
}

impl Part {
    /// A sampling line that draws 50 mL/min.
    #[must_use]
    pub fn sampling_line() -> Self {
        Self::SamplingLine { draws: Flow::ml_s(50.0 / 60.0) }
    }
}
