//! The breathing system as gas meets it: adapter, limb, reservoir.

use thiserror::Error;

use super::parcel::{Fractions, Parcel};
pub use crate::setup::FreshGasInlet;

/// The breathing system.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Apparatus {
    /// Volume between the endotracheal tube and the T-piece (adapter, filter,
    /// cuvette), mL.
    pub adapter_ml: f64,
    /// Volume of the limb from the T-piece to the outlet at atmospheric pressure,
    /// mL; above 0.
    pub limb_ml: f64,
    /// Volume of an open-tailed bag on the end of the limb, mL; 0 for a plain
    /// tube that draws room air past its end.
    pub bag_ml: f64,
    /// Where fresh gas enters.
    pub inlet: FreshGasInlet,
    /// Gas that a side-stream monitor draws from the patient connection, mL/min.
    pub sampling_ml_min: f64,
    /// Number of parcels in which the part of adapter, tube and airway is told that moves
    /// as a plug. (About a third of them mixes, at the near end.)
    pub airway_parcels: u32,
    /// How gas mixes in the limb.
    pub limb_mixing: LimbMixing,
    /// Number of parts of the limb: cells of one size that are well mixed, or with plug
    /// flow the parcels in which it is told. Few cells agree with what was measured in cats
    /// and children (see the tests of rebreathing).
    pub limb_parcels: u32,
}

/// How gas mixes in the limb of a T-piece.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum LimbMixing {
    /// As cells of one size one behind the other, each well mixed: tanks in series. n of
    /// them are plug flow with a dispersion number of 1/(2n); one is a mixing chamber.
    #[default]
    Cells,
    /// Not at all, as textbooks have it: gas comes out in the order in which it went in.
    PlugFlow,
}

impl Default for Apparatus {
    /// An adapter of 2 mL, a limb of 100 mL without a bag, fresh gas near the
    /// patient, no side-stream monitor, a limb of four well-mixed cells.
    fn default() -> Self {
        Self {
            adapter_ml: 2.0,
            limb_ml: 100.0,
            bag_ml: 0.0,
            inlet: FreshGasInlet::Patient,
            sampling_ml_min: 0.0,
            airway_parcels: 60,
            limb_mixing: LimbMixing::Cells,
            limb_parcels: 4,
        }
    }
}

/// A breathing system that cannot be.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
pub enum ApparatusError {
    /// A volume or flow is negative or not finite.
    #[error("{what} is {value}, and must be a finite number, 0 or more")]
    Negative {
        /// Which, with its unit.
        what: &'static str,
        /// The value given.
        value: f64,
    },
    /// The limb has no volume.
    #[error("the limb holds {limb_ml} mL, and must hold more than 0 mL")]
    NoLimb {
        /// The volume given, mL.
        limb_ml: f64,
    },
    /// Tubes are divided into no parcels.
    #[error("tubes must be divided into at least 1 parcel")]
    NoParcels,
}

impl Apparatus {
    /// Checks that it can be.
    ///
    /// # Errors
    /// The first thing that is wrong with it.
    pub fn check(&self) -> Result<(), ApparatusError> {
        for (what, value) in [
            ("the adapter volume in mL", self.adapter_ml),
            ("the limb volume in mL", self.limb_ml),
            ("the bag volume in mL", self.bag_ml),
            ("the sampling flow in mL/min", self.sampling_ml_min),
        ] {
            if !(value.is_finite() && value >= 0.0) {
                return Err(ApparatusError::Negative { what, value });
            }
        }
        if self.limb_ml == 0.0 {
            return Err(ApparatusError::NoLimb { limb_ml: self.limb_ml });
        }
        if self.airway_parcels == 0 || self.limb_parcels == 0 {
            return Err(ApparatusError::NoParcels);
        }
        Ok(())
    }
}

/// What lies beyond the outlet: a bag, then the room.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(crate) struct Outside {
    bag: Parcel,
    bag_ml: f64,
    /// Gas that left for the room, mL.
    pub vented: Parcel,
    /// Room air that came in, mL.
    pub drawn: Parcel,
}

impl Outside {
    pub fn new(bag_ml: f64, filled_with: Fractions) -> Self {
        Self {
            bag: Parcel::of(filled_with, bag_ml),
            bag_ml,
            vented: Parcel::default(),
            drawn: Parcel::default(),
        }
    }

    /// Takes gas; what the bag cannot hold goes to the room.
    pub fn take(&mut self, gas: Parcel) {
        self.bag += gas;
        let excess = self.bag.volume - self.bag_ml;
        if excess > 0.0 {
            let spilt = self.bag.take(excess);
            self.vented += spilt;
        }
    }

    /// Gives a volume (mL): from the bag, and room air when it is empty.
    pub fn give(&mut self, volume: f64) -> Parcel {
        let mut gas = self.bag.take(volume);
        let missing = volume - gas.volume;
        if missing > 0.0 {
            gas += self.room_air(missing);
        }
        gas
    }

    /// Room air that someone draws without a bag between.
    pub fn room_air(&mut self, volume: f64) -> Parcel {
        let air = Parcel::of(Fractions::AIR, volume);
        self.drawn += air;
        air
    }

    /// A slack bag of another size in the place of this one, whose gas goes to the room.
    pub fn change_bag(&mut self, bag_ml: f64) {
        self.vented += std::mem::take(&mut self.bag);
        self.bag_ml = bag_ml;
    }

    /// Gas in the bag.
    pub fn held(&self) -> Parcel {
        self.bag
    }
}
