//! Quantities in clinical units: the doors of the library speak these, the
//! solver behind them uses bare `f64` in cmH2O, mL and s.
//!
//! A constructor says the unit it takes and a getter says the unit it gives, so
//! a number never passes a door without its unit:
//!
//! ```
//! use tidewright::quantity::{Compliance, Flow, Resistance, Seconds};
//! let flow = Flow::l_per_min(2.4);
//! assert_eq!(flow.as_ml_s(), 40.0);
//! // A tube of 20 cmH2O·s/L takes 0.8 cmH2O at this flow.
//! assert_eq!((Resistance::cmh2o_s_per_l(20.0) * flow).as_cmh2o(), 0.8);
//! // What it took of the gas in half a second, and the pressure of that in a lung.
//! let lung = Compliance::ml_per_cmh2o(5.0);
//! assert_eq!((flow * Seconds::s(0.5) / lung).as_cmh2o(), 4.0);
//! // Time constant of a lung: resistance times compliance.
//! let tau = Resistance::cmh2o_s_per_l(20.0) * Compliance::ml_per_cmh2o(6.0);
//! assert_eq!(tau.as_s(), 0.12);
//! ```

use std::fmt;
use std::iter::Sum;
use std::ops::{Add, Div, Mul, Neg, Sub};

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

        impl Div<f64> for $name {
            type Output = Self;
            fn div(self, divisor: f64) -> Self {
                Self(self.0 / divisor)
            }
        }

        impl Div for $name {
            /// How often the other goes into it.
            type Output = f64;
            fn div(self, other: Self) -> f64 {
                self.0 / other.0
            }
        }

        impl Neg for $name {
            type Output = Self;
            fn neg(self) -> Self {
                Self(-self.0)
            }
        }

        impl Sum for $name {
            fn sum<I: Iterator<Item = Self>>(all: I) -> Self {
                all.fold(Self::ZERO, Add::add)
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

/// `a * b = c` with the factor between their units, and what follows by division.
macro_rules! product {
    ($a:ident * $b:ident = $c:ident, $factor:literal) => {
        impl Mul<$b> for $a {
            type Output = $c;
            fn mul(self, other: $b) -> $c {
                $c(self.0 * other.0 / $factor)
            }
        }

        impl Div<$a> for $c {
            type Output = $b;
            fn div(self, other: $a) -> $b {
                $b(self.0 * $factor / other.0)
            }
        }

        impl Div<$b> for $c {
            type Output = $a;
            fn div(self, other: $b) -> $a {
                $a(self.0 * $factor / other.0)
            }
        }
    };
}

product!(Resistance * Flow = Pressure, 1000.0);
product!(Resistance * Compliance = Seconds, 1000.0);
product!(Compliance * Pressure = Volume, 1.0);
product!(Flow * Seconds = Volume, 1.0);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn closed_form_division_undoes_a_product_in_its_units() {
        let (resistance, flow) = (Resistance::cmh2o_s_per_l(20.0), Flow::ml_s(40.0));
        let (compliance, pressure) = (Compliance::ml_per_cmh2o(6.0), Pressure::cmh2o(8.0));
        assert_eq!((resistance * flow) / flow, resistance);
        assert_eq!((resistance * flow) / resistance, flow);
        assert_eq!((compliance * pressure) / pressure, compliance);
        assert_eq!((compliance * pressure) / compliance, pressure);
        // 48 mL at 40 mL/s take 1.2 s.
        assert_eq!((compliance * pressure / flow).as_s(), 1.2);
        assert_eq!((resistance * compliance / compliance).as_cmh2o_s_per_l(), 20.0);
    }

    #[test]
    fn closed_form_quantities_are_summed_turned_and_compared() {
        let volumes = [12.0, 30.0, -2.0].map(Volume::ml);
        assert_eq!(volumes.into_iter().sum::<Volume>(), Volume::ml(40.0));
        assert_eq!(-volumes[0], Volume::ml(-12.0));
        assert_eq!(volumes[1] / volumes[0], 2.5);
        assert_eq!(volumes[1] / 4.0, Volume::ml(7.5));
    }
}
