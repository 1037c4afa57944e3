//! Faults between the T-piece and the alveoli. An area of 1 is free, 0 shut;
//! resistance goes with 1/area².

use crate::base::quantity::{Pressure, Resistance};
use crate::setup::{Cuff, Lung, OPEN_PORT_RESISTANCE, Tube};

pub(super) fn tighten(lung: &mut Lung, severity: f64) {
    for part in &mut lung.compartments {
        let out = part.expiratory_resistance.unwrap_or(part.resistance);
        part.resistance = part.resistance * (1.0 + 3.0 * severity);
        part.expiratory_resistance = Some(out * (1.0 + 7.0 * severity));
    }
}

pub(super) fn narrow_airways(lung: &mut Lung, area: f64) {
    for part in &mut lung.compartments {
        part.resistance = narrowed(part.resistance, area);
        part.expiratory_resistance = part.expiratory_resistance.map(|r| narrowed(r, area));
    }
}

pub(super) fn narrow_tube(lung: &mut Lung, area: f64) {
    if area == 0.0 {
        lung.tube = Tube::Shut;
        return;
    }
    let factor = 1.0 / (area * area);
    match &mut lung.tube {
        Tube::None => narrow_airways(lung, area),
        Tube::Linear(r) => *r = narrowed(*r, area),
        Tube::Quadratic { k1, k2 } => {
            *k1 *= factor;
            *k2 *= factor;
        }
        Tube::Sized(tube) => *tube = tube.narrowed(area.sqrt()),
        Tube::OneWay { inward, outward } => {
            for r in [inward, outward].into_iter().flatten() {
                *r = narrowed(*r, area);
            }
        }
        Tube::Shut => {}
    }
}

/// A flap that leaves an area free for gas flowing in, and one for gas flowing out.
pub(super) fn flap(lung: &mut Lung, areas: [f64; 2]) {
    let ways = match lung.tube {
        // The airways count the tube in: the flap takes what narrowing them would
        // add, beside a wide port.
        Tube::None => {
            // Airways that are all shut let nothing through that a flap could hold.
            let all_shut = lung.compartments.iter().all(|part| part.shut);
            let airways = lung.compartments.iter().filter(|part| all_shut || !part.shut);
            let conductance: f64 =
                airways.map(|part| 1.0 / part.resistance.as_cmh2o_s_per_l()).sum();
            let airway = Resistance::cmh2o_s_per_l(1.0 / conductance);
            areas.map(|area| {
                (area > 0.0).then(|| OPEN_PORT_RESISTANCE + (narrowed(airway, area) - airway))
            })
        }
        Tube::Linear(r) => areas.map(|area| beside(Some(r), area)),
        Tube::Quadratic { k1, .. } => {
            areas.map(|area| beside(Some(Resistance::cmh2o_s_per_l(k1)), area))
        }
        Tube::Sized(tube) => areas.map(|area| beside(Some(tube.laminar_resistance()), area)),
        Tube::OneWay { inward, outward } => [beside(inward, areas[0]), beside(outward, areas[1])],
        Tube::Shut => [None, None],
    };
    lung.tube = Tube::OneWay { inward: ways[0], outward: ways[1] };
}

pub(super) fn deflate_cuff(lung: &mut Lung, severity: f64) {
    let seal = 25.0 * (1.0 - severity);
    let before =
        lung.cuff.unwrap_or(Cuff { seals_to: Pressure::cmh2o(seal), conductance_ml_s_cmh2o: 0.0 });
    lung.cuff = Some(Cuff {
        seals_to: Pressure::cmh2o(before.seals_to.as_cmh2o().min(seal)),
        conductance_ml_s_cmh2o: before.conductance_ml_s_cmh2o.max(20.0),
    });
}

pub(super) fn narrowed(resistance: Resistance, area: f64) -> Resistance {
    const SHUT: f64 = 1e6;
    let r = resistance.as_cmh2o_s_per_l();
    // Not below what it was, be it even above the limit.
    Resistance::cmh2o_s_per_l((r / (area * area)).min(SHUT.max(r)))
}

fn beside(resistance: Option<Resistance>, area: f64) -> Option<Resistance> {
    resistance.filter(|_| area > 0.0).map(|r| narrowed(r, area))
}
