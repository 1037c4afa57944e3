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
    let mut out = [Parcel::default(); 2];
    let ends = [(End::Near, near), (End::Far, far)];
    let mut left = [near, far];
    for (at, (end, flow)) in ends.into_iter().enumerate() {
        if let (Flow::In(mut gas), Flow::Out(volume)) = (flow, ends[1 - at].1) {
            let passes = gas.take(volume);
            left = [Flow::Out(0.0); 2];
            left[at] = Flow::In(gas);
            left[1 - at] = Flow::Out(volume - passes.volume);
            out[1 - at] += cells.through(end, passes);
        }
    }
    for (end, flow) in [End::Near, End::Far].into_iter().zip(left) {
        if let Flow::In(gas) = flow
            && gas.volume > 0.0
        {
            cells.swell(end, gas);
        }
    }
    for (at, flow) in left.into_iter().enumerate() {
        if let Flow::Out(volume) = flow
            && volume > 0.0
        {
            out[at] += cells.shrink(ends[at].0, volume);
        }
    }
    (out[0], out[1])
}
