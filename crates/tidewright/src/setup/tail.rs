//! What is joined to the ventilator's outlet, behind its valve: a bag, a waste tube,
//! scavenging.

use crate::base::quantity::{Compliance, Pressure, Resistance, Volume};

/// Resistance of a port or a limb that is open to the room: wide, but not nothing.
pub const OPEN_PORT_RESISTANCE: Resistance = Resistance::cmh2o_s_per_l(0.5);

/// What gas that has passed the outlet valve meets on its way to the room.
///
/// ```
/// use tidewright::prelude::*;
/// // A half-litre bag whose tail is twisted shut: the lung can empty into it until it
/// // is full, and no longer.
/// let mut setup = Setup::default();
/// let bag = ReservoirBag::holding(Volume::ml(500.0));
/// setup.circuit.tail = Some(Tail { bag: Some(bag), way_out: None, ..Tail::default() });
/// assert!(Machine::new(setup).is_ok());
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Tail {
    /// A bag between the valve and the way out, if there is one. An end-expiratory
    /// pressure device stands before it and lets gas out only.
    pub bag: Option<ReservoirBag>,
    /// Resistance from there on, above 0; `None` where the way is shut.
    pub way_out: Option<Resistance>,
    /// Pressure above which the way out begins to open: the relief of a scavenging
    /// that else is shut. 0 for a way that is always open, also to gas that comes back.
    pub opens_at: Pressure,
    /// Suction at its end: how far below the room the pressure there is held.
    pub pulled_by: Pressure,
}

/// A bag that hangs slack until it is full and then stretches.
///
/// Its pressure is 0 when it is flat, [`SLACK`](Self::SLACK) when it is full, and
/// rises by 1/`stretch` for each mL beyond.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct ReservoirBag {
    /// Gas that it holds without being stretched; above 0.
    pub holds: Volume,
    /// Compliance once it is stretched; above 0.
    pub stretch: Compliance,
}

impl ReservoirBag {
    /// Pressure in a bag that is full and not yet stretched (assumed: the weight of thin
    /// rubber).
    pub const SLACK: Pressure = Pressure::cmh2o(0.5);

    /// A bag of thin rubber: once full it takes 4 % of what it holds for each cmH2O
    /// (assumed).
    #[must_use]
    pub fn holding(holds: Volume) -> Self {
        Self { holds, stretch: Compliance::ml_per_cmh2o(0.04 * holds.as_ml()) }
    }

    /// Pressure and volume at the corners of its law, rising.
    pub(crate) fn corners(&self) -> [(f64, f64); 4] {
        // A flat bag has its walls together and gives nothing more.
        const FLAT: f64 = 10.0;
        let (full, slack) = (self.holds.as_ml(), Self::SLACK.as_cmh2o());
        let beyond = 100.0;
        [
            (-FLAT, -1e-3 * full),
            (0.0, 0.0),
            (slack, full),
            (slack + beyond, full + beyond * self.stretch.as_ml_per_cmh2o()),
        ]
    }
}

impl Default for Tail {
    /// A wide way to the room, of 0.5 cmH2O·s/L.
    fn default() -> Self {
        Self {
            bag: None,
            way_out: Some(OPEN_PORT_RESISTANCE),
            opens_at: Pressure::ZERO,
            pulled_by: Pressure::ZERO,
        }
    }
}
