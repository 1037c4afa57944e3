//! A volume of gas and what is in it.

use std::ops::{AddAssign, Sub};

/// By which fractions that are meant to be the same may differ.
const LAST_BITS: f64 = 1e-15;

/// Fractions of dry gas; the rest is nitrogen, nitrous oxide, vapour.
///
/// ```
/// use tidewright::exchange::Fractions;
/// assert_eq!(Fractions::OXYGEN.oxygen, 1.0);
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Fractions {
    /// Carbon dioxide, 0 to 1.
    pub carbon_dioxide: f64,
    /// Oxygen, 0 to 1.
    pub oxygen: f64,
}

impl Fractions {
    /// Pure oxygen.
    pub const OXYGEN: Self = Self { carbon_dioxide: 0.0, oxygen: 1.0 };
    /// Room air.
    pub const AIR: Self = Self { carbon_dioxide: 0.0004, oxygen: 0.2095 };

    /// Whether both are fractions and leave no more than nothing for the rest.
    #[must_use]
    pub fn are_possible(&self) -> bool {
        let fraction = |x: f64| (0.0..=1.0).contains(&x);
        fraction(self.carbon_dioxide)
            && fraction(self.oxygen)
            && self.carbon_dioxide + self.oxygen <= 1.0
    }

    /// Whether another mixture differs by no more than a few last bits.
    pub(crate) fn is_like(self, other: Self) -> bool {
        (self.carbon_dioxide - other.carbon_dioxide).abs() <= LAST_BITS
            && (self.oxygen - other.oxygen).abs() <= LAST_BITS
    }

    /// With a share of it in the place of which stands another mixture.
    pub(crate) fn toward(self, other: Self, share: f64) -> Self {
        Self {
            carbon_dioxide: self.carbon_dioxide
                + (other.carbon_dioxide - self.carbon_dioxide) * share,
            oxygen: self.oxygen + (other.oxygen - self.oxygen) * share,
        }
    }
}

/// A volume of gas, mL BTPS, and the volumes of carbon dioxide and oxygen in it.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Parcel {
    /// All of it, mL.
    pub volume: f64,
    /// Carbon dioxide in it, mL.
    pub carbon_dioxide: f64,
    /// Oxygen in it, mL.
    pub oxygen: f64,
}

impl Parcel {
    /// A volume (mL) of a mixture.
    #[must_use]
    pub fn of(mixture: Fractions, volume: f64) -> Self {
        Self {
            volume,
            carbon_dioxide: mixture.carbon_dioxide * volume,
            oxygen: mixture.oxygen * volume,
        }
    }

    /// What it is a mixture of; nothing for an empty parcel.
    #[must_use]
    pub fn fractions(&self) -> Fractions {
        if self.volume == 0.0 {
            return Fractions::default();
        }
        let each = 1.0 / self.volume;
        Fractions { carbon_dioxide: self.carbon_dioxide * each, oxygen: self.oxygen * each }
    }

    /// A share of it, 0 to 1.
    pub(crate) fn part(&self, share: f64) -> Self {
        Self {
            volume: self.volume * share,
            carbon_dioxide: self.carbon_dioxide * share,
            oxygen: self.oxygen * share,
        }
    }

    /// Takes a volume (mL) out of the mixture, at most all of it.
    pub(crate) fn take(&mut self, volume: f64) -> Self {
        if volume >= self.volume {
            return std::mem::take(self);
        }
        let taken = Self { volume, ..self.part(volume / self.volume) };
        *self = *self - taken;
        taken
    }
}

impl AddAssign for Parcel {
    fn add_assign(&mut self, other: Self) {
        self.volume += other.volume;
        self.carbon_dioxide += other.carbon_dioxide;
        self.oxygen += other.oxygen;
    }
}

impl Sub for Parcel {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self {
            volume: self.volume - other.volume,
            carbon_dioxide: self.carbon_dioxide - other.carbon_dioxide,
            oxygen: self.oxygen - other.oxygen,
        }
    }
}
