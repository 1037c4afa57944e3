//! Gas in the limb of a T-piece, as one of the models of how it mixes.

use super::apparatus::LimbMixing;
use super::cells::Cells;
use super::parcel::{Fractions, Parcel};
use super::plug::{End, Plug};

/// The gas of the limb.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(crate) enum Limb {
    Plug(Plug),
    Cells(Cells),
}

/// What happens at an end of the limb.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Flow {
    In(Parcel),
    /// mL, 0 or more.
    Out(f64),
}

impl Limb {
    /// A limb that holds a volume (mL) now and another usually.
    pub fn holding(
        volume: f64,
        usual: f64,
        mixture: Fractions,
        mixing: LimbMixing,
        parcels: u32,
    ) -> Self {
        match mixing {
            LimbMixing::PlugFlow => Self::Plug(Plug::holding(volume, usual, mixture, parcels)),
            LimbMixing::Cells => Self::Cells(Cells::filled(volume, mixture, parcels)),
        }
    }

    pub fn volume(&self) -> f64 {
        match self {
            Self::Plug(plug) => plug.volume(),
            Self::Cells(cells) => cells.volume(),
        }
    }

    pub fn contents(&self) -> Parcel {
        match self {
            Self::Plug(plug) => plug.contents(),
            Self::Cells(cells) => cells.contents(),
        }
    }

    /// Gas flows at both ends at once. Returns what came out at the near end and at the
    /// far: at most what there is.
    pub fn stream(&mut self, near: Flow, far: Flow) -> (Parcel, Parcel) {
        match self {
            Self::Plug(plug) => through_plug(plug, near, far),
            Self::Cells(cells) => through_cells(cells, near, far),
        }
    }
}

/// Gas is pushed in before it is pulled out.
fn through_plug(plug: &mut Plug, near: Flow, far: Flow) -> (Parcel, Parcel) {
    if let Flow::In(gas) = near {
        plug.push(End::Near, gas);
    }
    if let Flow::In(gas) = far {
        plug.push(End::Far, gas);
    }
    let mut out = |end, flow| match flow {
        Flow::In(_) => Parcel::default(),
        Flow::Out(volume) => plug.pull(end, volume),
    };
    (out(End::Near, near), out(End::Far, far))
}

/// What goes in at one end and out at the other passes through; the rest swells the limb
/// or shrinks it.
fn through_cells(cells: &mut Cells, near: Flow, far: Flow) -> (Parcel, Parcel) {
    let none = Parcel::default();
    match (near, far) {
        (Flow::In(gas), Flow::Out(volume)) => (none, across(cells, End::Near, gas, volume)),
        (Flow::Out(volume), Flow::In(gas)) => (across(cells, End::Far, gas, volume), none),
        (Flow::In(near), Flow::In(far)) => {
            swell(cells, End::Near, near);
            swell(cells, End::Far, far);
            (none, none)
        }
        (Flow::Out(near), Flow::Out(far)) => {
            (shrink(cells, End::Near, near), shrink(cells, End::Far, far))
        }
    }
}

/// Gas comes in at an end while a volume goes out at the other: returns that.
fn across(cells: &mut Cells, end: End, mut gas: Parcel, volume: f64) -> Parcel {
    let passes = gas.take(volume);
    let mut out = cells.through(end, passes);
    swell(cells, end, gas);
    let other = if end == End::Near { End::Far } else { End::Near };
    out += shrink(cells, other, volume - passes.volume);
    out
}

fn swell(cells: &mut Cells, end: End, gas: Parcel) {
    if gas.volume > 0.0 {
        cells.swell(end, gas);
    }
}

fn shrink(cells: &mut Cells, end: End, volume: f64) -> Parcel {
    if volume > 0.0 { cells.shrink(end, volume) } else { Parcel::default() }
}
