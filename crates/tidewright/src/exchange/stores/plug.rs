//! Gas in a tube: it comes out in the order in which it went in.

use std::collections::VecDeque;

use super::parcel::{Fractions, Parcel};

/// The two ends of a tube.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum End {
    /// The end at the T-piece.
    Near,
    /// The other end: the alveoli, or the outlet.
    Far,
}

/// A tube full of gas that moves as a plug.
///
/// It holds parcels in order. Gas that enters fills the parcel at that end up to a
/// share of the tube's volume, the grain, and the rest stands apart: in how many
/// portions it came does not matter, and a front is no wider than one grain.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(crate) struct Plug {
    parcels: VecDeque<Parcel>,
    volume: f64,
    grain: f64,
}

impl Plug {
    /// A tube of a volume (mL) full of a mixture, of so many grains.
    pub fn filled(volume: f64, mixture: Fractions, grains: u32) -> Self {
        Self::holding(volume, volume, mixture, grains)
    }

    /// A tube that holds another volume (mL) now than the usual, which its grains go by.
    pub fn holding(volume: f64, usual: f64, mixture: Fractions, grains: u32) -> Self {
        let mut parcels = VecDeque::new();
        if volume > 0.0 {
            parcels.push_back(Parcel::of(mixture, volume));
        }
        Self { parcels, volume, grain: usual / f64::from(grains) }
    }

    /// Divides what is in it into so many grains from now on.
    pub fn divide(&mut self, grains: u32) {
        self.grain = self.volume / f64::from(grains);
    }

    /// Pushes gas in at an end, not mixed with what stands there.
    pub fn push_apart(&mut self, end: End, gas: Parcel) {
        if gas.volume <= 0.0 {
            return;
        }
        self.volume += gas.volume;
        match end {
            End::Near => self.parcels.push_front(gas),
            End::Far => self.parcels.push_back(gas),
        }
    }

    /// All the gas in it.
    pub fn contents(&self) -> Parcel {
        self.parcels.iter().fold(Parcel::default(), |mut sum, &parcel| {
            sum += parcel;
            sum
        })
    }

    /// Volume in it, mL.
    pub fn volume(&self) -> f64 {
        self.volume
    }

    /// What stands at an end.
    pub fn mixture_at(&self, end: End) -> Option<Fractions> {
        let last = match end {
            End::Near => self.parcels.front(),
            End::Far => self.parcels.back(),
        };
        last.map(Parcel::fractions)
    }

    /// Pushes gas in at an end: what stands there is filled up to a grain.
    pub fn push(&mut self, end: End, mut gas: Parcel) {
        if gas.volume <= 0.0 {
            return;
        }
        let last = match end {
            End::Near => self.parcels.front_mut(),
            End::Far => self.parcels.back_mut(),
        };
        if let Some(parcel) = last
            && parcel.volume < self.grain
        {
            let more = gas.take(self.grain - parcel.volume);
            *parcel += more;
            self.volume += more.volume;
        }
        self.push_apart(end, gas);
    }

    /// Pulls a volume (mL) out at an end, or as much as there is.
    pub fn pull(&mut self, end: End, volume: f64) -> Parcel {
        let mut pulled = Parcel::default();
        while pulled.volume < volume {
            let last = match end {
                End::Near => self.parcels.front_mut(),
                End::Far => self.parcels.back_mut(),
            };
            let Some(parcel) = last else { break };
            let missing = volume - pulled.volume;
            if parcel.volume <= missing {
                pulled += *parcel;
                match end {
                    End::Near => self.parcels.pop_front(),
                    End::Far => self.parcels.pop_back(),
                };
            } else {
                pulled += parcel.take(missing);
                break;
            }
        }
        self.volume = if self.parcels.is_empty() { 0.0 } else { self.volume - pulled.volume };
        pulled
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn breath(carbon_dioxide: f64, volume: f64) -> Parcel {
        Parcel::of(Fractions { carbon_dioxide, oxygen: 0.2 }, volume)
    }

    #[test]
    fn closed_form_gas_comes_out_in_the_order_it_went_in() {
        let mut tube = Plug::filled(10.0, Fractions::AIR, 1000);
        tube.push(End::Near, breath(0.05, 4.0));
        let out = tube.pull(End::Far, 10.0);
        assert!((out.fractions().oxygen - Fractions::AIR.oxygen).abs() < 1e-15);
        assert!((tube.volume() - 4.0).abs() < 1e-12);
        assert!((tube.pull(End::Far, 4.0).fractions().carbon_dioxide - 0.05).abs() < 1e-15);
        // Empty now: there is no more to give.
        assert_eq!(tube.pull(End::Near, 1.0), Parcel::default());
    }

    #[test]
    fn law_of_conservation_to_rounding_over_many_strokes() {
        let mut tube = Plug::filled(30.0, Fractions::AIR, 60);
        let (mut given, mut taken) = (tube.contents(), Parcel::default());
        for stroke in 0..10_000_u32 {
            let gas = breath(0.04 + 1e-6 * f64::from(stroke), 0.37);
            let (entry, exit) =
                if stroke % 100 < 50 { (End::Near, End::Far) } else { (End::Far, End::Near) };
            given += gas;
            tube.push(entry, gas);
            taken += tube.pull(exit, 0.37);
        }
        let left = given - taken - tube.contents();
        assert!((tube.volume() - tube.contents().volume).abs() < 1e-9);
        assert!(left.carbon_dioxide.abs() / given.carbon_dioxide < 1e-13);
        assert!(left.oxygen.abs() / given.oxygen < 1e-13);
    }
}
