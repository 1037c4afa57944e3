//! Gas in adapter, tube and airway: a part that mixes and a part that moves as a plug.
//!
//! In a straight plug the front of a capnogram is a hairline. Adapter, connectors and
//! branches mix; here as a few well-mixed cells at the near end with [`MIXES`] of the
//! volume, the rest as a plug. A front that has passed stands where its volume says and is
//! spread over 0.2 of the volume (standard deviation), so that from 10 to 90 % of it takes
//! nearly half the dead space. That share is a teaching choice: the front of a person
//! rises within about half the airway dead space (from memory, Fowler's curves).

use super::cells::Cells;
use super::parcel::{Fractions, Parcel};
use super::plug::{End, Plug};

/// Share of the volume that mixes.
const MIXES: f64 = 0.35;
/// In so many cells.
const CELLS: usize = 3;

/// The gas of adapter, tube and airway.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(crate) struct Airway {
    mixed: Cells,
    plug: Plug,
}

impl Airway {
    /// A volume (mL) full of a mixture, its plug divided into so many grains.
    pub fn filled(volume: f64, mixture: Fractions, grains: u32) -> Self {
        Self {
            mixed: Cells::filled(MIXES * volume, mixture, CELLS as u32),
            plug: Plug::filled((1.0 - MIXES) * volume, mixture, grains),
        }
    }

    /// Gas goes in toward the patient: returns what comes out at the alveoli.
    pub fn inward(&mut self, gas: Parcel) -> Parcel {
        let gas = self.mixed.through(End::Near, gas);
        self.plug.push(End::Near, gas);
        self.plug.pull(End::Far, gas.volume)
    }

    /// Gas of the alveoli goes outward: returns what comes out at the T-piece.
    pub fn outward(&mut self, gas: Parcel) -> Parcel {
        self.plug.push(End::Far, gas);
        let gas = self.plug.pull(End::Near, gas.volume);
        self.mixed.through(End::Far, gas)
    }

    /// All the gas in it.
    pub fn contents(&self) -> Parcel {
        let mut all = self.mixed.contents();
        all += self.plug.contents();
        all
    }

    /// What stands at the T-piece; nothing where there is no room.
    pub fn at_the_t_piece(&self) -> Option<Fractions> {
        (self.mixed.volume() > 0.0).then(|| self.mixed.mixture_at(End::Near))
    }

    /// What stands at the alveoli; nothing where there is no room.
    pub fn at_the_alveoli(&self) -> Option<Fractions> {
        self.plug.mixture_at(End::Far)
    }

    /// Puts another piece in the place of one at the near end: hands back the gas of the
    /// old piece, and lets `gas` fill the new one.
    pub fn change_near_end(&mut self, old_ml: f64, gas: Parcel, grains: u32) -> Parcel {
        let mut taken = self.mixed.shrink(End::Near, old_ml.min(self.mixed.volume()));
        taken += self.plug.pull(End::Near, old_ml - taken.volume);
        self.plug.push_apart(End::Near, self.mixed.contents());
        self.plug.push_apart(End::Near, gas);
        let cell_ml = MIXES * self.plug.volume() / CELLS as f64;
        let cells = [(); CELLS].map(|()| self.plug.pull(End::Near, cell_ml));
        self.mixed = Cells::of(&cells);
        self.plug.divide(grains);
        taken
    }
}
