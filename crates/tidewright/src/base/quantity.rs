//! Quantities in clinical units: the doors of the library speak these, the
//! solver behind them uses bare `f64` in cmH2O, mL and s.
//!
//! A constructor says the unit it takes and a getter says the unit it gives, so
//! a number never passes a door without its unit:
//!
//! ```
//! use tidewright::quantity::{Compliance, Flow, Pressure, Resistance};
//! let flow = Flow::l_per_min(2.4);
//! assert_eq!(flow.as_ml_s(), 40.0);
//! // A tube of 20 cmH2O·s/L takes 0.8 cmH2O at this flow.
//! assert_eq!((Resistance::cmh2o_s_per_l(20.0) * flow).as_cmh2o(), 0.8);
//! // Time constant of a lung: resistance times compliance.
//! let tau = Resistance::cmh2o_s_per_l(20.0) * Compliance::ml_per_cmh2o(6.0);
//! assert_eq!(tau.as_s(), 0.12);
//! ```

use std::fmt;
use std::ops::{Add, Mul, Sub};

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $unit:literal, $new:ident, $get:ident) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
        #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
        pub struct $name(f64);

        impl $name {
            /// Zero of this quantity.
            pub const ZERO: Self = Self(0.0);

            #[doc = concat!("From a number of ", $unit, ".")]
            #[must_use]
            pub const fn $new(value: f64) -> Self {
                Self(value)
            }

            #[doc = concat!("As a number of ", $unit, ".")]
            #[must_use]
            pub const fn $get(self) -> f64 {
                self.0
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                fmt::Display::fmt(&self.0, f)?;
                f.write_str(concat!(" ", $unit))
            }
        }

        impl Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self(self.0 + other.0)
            }
        }

        impl Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self {
                Self(self.0 - other.0)
            }
        }

        impl Mul<f64> for $name {
            type Output = Self;
            fn mul(self, factor: f64) -> Self {
                Self(self.0 * factor)
            }
        }
    };
}

quantity!(
    /// Pressure relative to the atmosphere, cmH2O.
    Pressure, "cmH2O", cmh2o, as_cmh2o
);
quantity!(
    /// Gas volume at the conditions of the lung, mL.
    Volume, "mL", ml, as_ml
);
quantity!(
    /// Gas flow, mL/s; positive toward the patient unless said otherwise.
    Flow, "mL/s", ml_s, as_ml_s
);
quantity!(
    /// Compliance: volume taken up for each unit of pressure, mL/cmH2O.
    Compliance, "mL/cmH2O", ml_per_cmh2o, as_ml_per_cmh2o
);
quantity!(
    /// Resistance: pressure lost for each unit of flow, cmH2O·s/L.
    Resistance, "cmH2O·s/L", cmh2o_s_per_l, as_cmh2o_s_per_l
);
quantity!(
    /// Time, s.
    Seconds, "s", s, as_s
);
quantity!(
    /// Body mass, kg.
    Mass, "kg", kg, as_kg
);
quantity!(
    /// Partial pressure of a gas, mmHg.
    PartialPressure, "mmHg", mmhg, as_mmhg
);

impl Flow {
    /// From a flowmeter reading in L/min.
    #[must_use]
    pub const fn l_per_min(value: f64) -> Self {
        Self(value * 1000.0 / 60.0)
    }

    /// As a flowmeter reading in L/min.
    #[must_use]
    pub const fn as_l_per_min(self) -> f64 {
        self.0 * 60.0 / 1000.0
    }
}

impl Mul<Flow> for Resistance {
    type Output = Pressure;
    fn mul(self, flow: Flow) -> Pressure {
        Pressure::cmh2o(self.0 * flow.0 / 1000.0)
    }
}

impl Mul<Compliance> for Resistance {
    type Output = Seconds;
    fn mul(self, compliance: Compliance) -> Seconds {
        Seconds::s(self.0 * compliance.0 / 1000.0)
    }
}

impl Mul<Pressure> for Compliance {
    type Output = Volume;
    fn mul(self, pressure: Pressure) -> Volume {
        Volume::ml(self.0 * pressure.0)
    }
}

impl Mul<Seconds> for Flow {
    type Output = Volume;
    fn mul(self, time: Seconds) -> Volume {
        Volume::ml(self.0 * time.0)
    }
}
