//! What is behind the outlet, or at the end of a limb that passes by the ventilator.

use super::{LEAST, at_least};
use crate::assembly::error::AssemblyError;
use crate::assembly::hole;
use crate::assembly::line::{Leg, Line};
use crate::assembly::part::{Part, Port, Scavenging};
use crate::assembly::{Assembly, At};
use crate::base::quantity::{Pressure, Resistance};
use crate::setup::{Circuit, ReservoirBag, Tail, Valve};

/// What the way behind the valve comes to.
pub(super) struct Waste {
    pub tail: Option<Tail>,
    /// Resistance between the valve and a bag.
    pub before_bag: Resistance,
    /// Whether the limb's far end is off, in the room.
    pub is_room_at_the_limb: bool,
}

/// How a way ends.
struct End {
    bag: Option<ReservoirBag>,
    resistance: Resistance,
    shut: bool,
    opens_at: Pressure,
    pulled_by: Pressure,
}

impl Assembly {
    pub(super) fn waste(&self, line: &Line) -> Result<Waste, AssemblyError> {
        let off = !line.through_ventilator && !self.is_an_end(line.waste_end);
        if off {
            return Ok(Waste {
                tail: None,
                before_bag: Resistance::ZERO,
                is_room_at_the_limb: true,
            });
        }
        let to_end = self.sum(&line.waste).resistance;
        let mut end = self.end(line.waste_end)?;
        if end.shut {
            end = self.through_a_crack(&line.waste, line.waste_end, end);
        }
        let before_bag = if end.bag.is_some() { to_end } else { Resistance::ZERO };
        let way_out = if end.bag.is_some() { end.resistance } else { end.resistance + to_end };
        let plain = end.bag.is_none()
            && !end.shut
            && way_out == Resistance::ZERO
            && end.opens_at == Pressure::ZERO
            && end.pulled_by == Pressure::ZERO;
        let tail = (!plain).then_some(Tail {
            bag: end.bag,
            way_out: (!end.shut).then_some(at_least(way_out)),
            opens_at: end.opens_at,
            pulled_by: end.pulled_by,
        });
        Ok(Waste { tail, before_bag, is_room_at_the_limb: false })
    }

    /// Where a bag lies on the table, its place is there whether it is joined or not: one
    /// that is not stands open to the room, and what else is behind the valve resists,
    /// opens or shuts there.
    pub(super) fn give_the_bag_a_place(&self, circuit: &mut Circuit) {
        let on_the_table = self.pieces.iter().find_map(|piece| match &piece.part {
            Part::Bag(bag) => Some(bag.bag),
            _ => None,
        });
        let Some(bag) = on_the_table else { return };
        let behind = circuit.tail.take().unwrap_or(Tail {
            bag: None,
            way_out: Some(LEAST),
            opens_at: Pressure::ZERO,
            pulled_by: Pressure::ZERO,
        });
        if behind.bag.is_some() {
            circuit.tail = Some(behind);
            return;
        }
        match behind.way_out {
            Some(way_out) => {
                circuit.valve_resistance = circuit.valve_resistance + way_out;
            }
            None => circuit.valve = Valve::StuckShut,
        }
        circuit.water_in_limb = circuit.water_in_limb + behind.opens_at;
        circuit.tail =
            Some(Tail { bag: Some(bag), way_out: Some(LEAST), opens_at: Pressure::ZERO, ..behind });
    }

    fn is_an_end(&self, at: At) -> bool {
        matches!(
            self.pieces[at.part].part,
            Part::Bag(_) | Part::WasteTube(_) | Part::Scavenging(_) | Part::Plug | Part::Thumb
        )
    }

    fn end(&self, at: At) -> Result<End, AssemblyError> {
        let open = End {
            bag: None,
            resistance: Resistance::ZERO,
            shut: false,
            opens_at: Pressure::ZERO,
            pulled_by: Pressure::ZERO,
        };
        if self.joined_to(at).is_none() {
            return Ok(open);
        }
        Ok(match &self.pieces[at.part].part {
            Part::WasteTube(tube) => {
                End { resistance: tube.resistance, shut: tube.blocked, ..open }
            }
            Part::Plug | Part::Thumb => End { shut: true, ..open },
            Part::Scavenging(scavenging) => scavenged(scavenging, open),
            Part::Bag(_) if at.port == Port::Tail => {
                return Err(self.misplaced(at, "what comes from the valve", "join it by its neck"));
            }
            Part::Bag(bag) => {
                let (legs, last) = self.behind(At { part: at.part, port: Port::Tail })?;
                let twisted = if bag.open > 0.0 {
                    bag.tail * (bag.open * bag.open).recip()
                } else {
                    bag.tail
                };
                let beyond = self.end(last)?;
                if beyond.bag.is_some() {
                    return Err(self.misplaced(last, "a second bag", "take it off"));
                }
                End {
                    bag: Some(bag.bag),
                    resistance: twisted + self.sum(&legs).resistance + beyond.resistance,
                    shut: beyond.shut || bag.open == 0.0,
                    ..beyond
                }
            }
            Part::Patient | Part::TestLung(_) => {
                let what = "a lung";
                return Err(self.misplaced(at, what, "join it to the T-piece"));
            }
            _ => open,
        })
    }

    fn behind(&self, tail: At) -> Result<(Vec<Leg>, At), AssemblyError> {
        let (mut legs, mut end) = (Vec::new(), tail);
        while let Some(entered) = self.joined_to(end) {
            let part = &self.pieces[entered.part].part;
            if matches!(part, Part::TPiece(_) | Part::Ventilator(_)) {
                let mend = "join waste tube or scavenging there";
                return Err(self.misplaced(entered, "the tail of a bag", mend));
            }
            let Some(out) = part.through(entered.port) else { return Ok((legs, entered)) };
            legs.push(Leg { part: entered.part, inner: entered.port, outer: out });
            end = At { part: entered.part, port: out };
            if legs.len() > self.pieces.len() {
                return Err(AssemblyError::Ring { port: self.name_of(entered) });
            }
        }
        Ok((legs, end))
    }

    /// A way that is shut but cracked lets gas out by the crack.
    fn through_a_crack(&self, waste: &[Leg], last: At, end: End) -> End {
        let parts = waste.iter().map(|leg| leg.part).chain([last.part]);
        let bore = parts.map(|part| self.pieces[part].crack_mm).fold(0.0, f64::max);
        if bore > 0.0 {
            let hole = hole::orifice(bore);
            let ml_s = hole.conductance_ml_s_per_cmh2o();
            let resistance = Resistance::cmh2o_s_per_l(1000.0 / ml_s);
            return End { shut: false, resistance, ..end };
        }
        end
    }
}

fn scavenged(scavenging: &Scavenging, open: End) -> End {
    let Scavenging { resistance, pulls, relief, blocked } = *scavenging;
    let most = if relief { Scavenging::PULLS_WITH_RELIEF } else { pulls };
    match (blocked, relief) {
        (true, false) => End { shut: true, ..open },
        (true, true) => End { resistance, opens_at: Scavenging::HOLDS_WITH_RELIEF, ..open },
        (false, _) => {
            let pulled_by = if pulls < most { pulls } else { most };
            End { resistance, pulled_by, ..open }
        }
    }
}
