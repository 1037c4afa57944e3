//! What is behind the outlet: a bag with its tail, a waste tube, scavenging.

use super::{BAG, Plan, conductance};
use crate::base::quantity::Resistance;
use crate::laws::law::{Curved, PathLaw, StoreLaw};
use crate::plant::network::{End, OUTLET, Store};
use crate::setup::Tail;

/// What the outlet valve opens to.
pub(super) struct Behind {
    pub end: End,
    /// What that adds to the valve's own resistance.
    pub resistance: Resistance,
    /// What that adds to the pressure at which the outlet opens, cmH2O.
    pub opens_at: f64,
    /// Whether no gas passes, however open the valve.
    pub shut: bool,
}

impl Plan {
    pub(super) fn tail(&mut self, tail: Option<&Tail>) -> Behind {
        let room = Behind { end: OUTLET, resistance: Resistance::ZERO, opens_at: 0.0, shut: false };
        let Some(tail) = tail else { return room };
        let held = self.network.outlet_pressure;
        let Some(bag) = &tail.bag else {
            self.network.outlet_pressure = held - tail.pulled_by.as_cmh2o();
            return Behind {
                resistance: tail.way_out.unwrap_or(Resistance::ZERO),
                opens_at: tail.opens_at.as_cmh2o(),
                shut: tail.way_out.is_none(),
                ..room
            };
        };
        let law = StoreLaw::Curved(Curved::Table(bag.corners().to_vec()));
        self.hold_gas(BAG, Store { law, parent: None, moved: false });
        self.network.outlet_pressure = -tail.pulled_by.as_cmh2o();
        let opens_at = tail.opens_at.as_cmh2o();
        let law = match tail.way_out.map(conductance) {
            None => PathLaw::Linear(0.0),
            Some(conductance) if opens_at > 0.0 => PathLaw::OpensAt { conductance, opens_at },
            Some(conductance) => PathLaw::Linear(conductance),
        };
        self.path(End::node(BAG), OUTLET, law);
        Behind { end: End::node(BAG), opens_at: held, ..room }
    }
}
