//! Faults of lung, pleural space and chest wall, and the structure that they need.

use crate::base::quantity::{Compliance, Pressure, Resistance, Volume};
use crate::fault::airway::{narrow_airways, narrowed};
use crate::setup::{AirLeak, ChestWall, Compartment, LeaksTo, Lung, PressureVolume, Tube};

/// Gives the lung a chest wall of its own, unless it has one.
pub(super) fn give_chest_wall(lung: &mut Lung) {
    if lung.chest_wall.is_some() {
        return;
    }
    let total = lung.total_compliance();
    let straight = lung.compartments.iter().all(|part| part.law == PressureVolume::Linear);
    if straight {
        for part in &mut lung.compartments {
            part.compliance = part.compliance * 2.0;
        }
    }
    lung.chest_wall = Some(ChestWall {
        compliance: total * if straight { 2.0 } else { 10.0 },
        pressed_by: Pressure::ZERO,
        open_wound: None,
    });
}

/// Splits a lung of one compartment into two equal ones.
pub(super) fn split_in_two(lung: &mut Lung) {
    const TUBES_SHARE: f64 = 0.7;
    let [whole] = lung.compartments.as_slice() else { return };
    let mut whole = whole.clone();
    // Resistances that differ by direction stay the airway's: a tube has but one.
    if lung.tube == Tube::None && whole.expiratory_resistance.is_none() && !whole.shut {
        lung.tube = Tube::Linear(whole.resistance * TUBES_SHARE);
        whole.resistance = whole.resistance * (1.0 - TUBES_SHARE);
    }
    let half = half_of(&whole);
    lung.compartments = vec![half.clone(), half];
}

fn half_of(whole: &Compartment) -> Compartment {
    Compartment {
        compliance: whole.compliance * 0.5,
        resistance: whole.resistance * 2.0,
        expiratory_resistance: whole.expiratory_resistance.map(|r| r * 2.0),
        shut: whole.shut,
        law: scaled(&whole.law, 0.5),
        air_leak: whole.air_leak.map(|leak| AirLeak { resistance: leak.resistance * 2.0, ..leak }),
    }
}

/// Shuts off the second half of the compartments.
pub(super) fn shut_off_one_lung(lung: &mut Lung, severity: f64) {
    let first = lung.compartments.len().div_ceil(2);
    for part in &mut lung.compartments[first..] {
        if severity == 1.0 {
            part.shut = true;
        } else {
            let area = 1.0 - severity;
            part.resistance = narrowed(part.resistance, area);
            part.expiratory_resistance = part.expiratory_resistance.map(|r| narrowed(r, area));
        }
    }
}

/// Takes a share of every compartment out of play, with its airways.
pub(super) fn collapse(lung: &mut Lung, share: f64) {
    let left = 1.0 - share;
    for part in &mut lung.compartments {
        part.compliance = part.compliance * left;
        part.law = scaled(&part.law, left);
    }
    // Airways in parallel: conductance, not area squared, goes with their number.
    narrow_airways(lung, left.sqrt());
}

/// The law of a share of what a law holds, at the same pressure.
fn scaled(law: &PressureVolume, share: f64) -> PressureVolume {
    match law {
        PressureVolume::Linear => PressureVolume::Linear,
        &PressureVolume::Sigmoid { lower, span, middle, width } => {
            PressureVolume::Sigmoid { lower: lower * share, span: span * share, middle, width }
        }
        PressureVolume::Table(points) => {
            PressureVolume::Table(points.iter().map(|&(p, v)| (p, v * share)).collect())
        }
        PressureVolume::User(law) => PressureVolume::User(law.scaled(share)),
    }
}

/// A hole of the lung to the pleural space through which gas does not come back.
pub(super) fn tear_one_way(lung: &mut Lung, severity: f64) {
    const STIFFER_BELOW_REST: f64 = 0.1;
    for part in &mut lung.compartments {
        if part.law == PressureVolume::Linear {
            let above = part.compliance.as_ml_per_cmh2o();
            let point = |p: f64, c: f64| (Pressure::cmh2o(p), Volume::ml(c * p));
            part.law = PressureVolume::Table(vec![
                point(-1.0, above * STIFFER_BELOW_REST),
                (Pressure::ZERO, Volume::ZERO),
                point(1.0, above),
            ]);
        }
    }
    tear(lung, hole(200.0, severity), LeaksTo::PleuraOneWay);
}

/// A hole from lung to pleural space, and one from there to the room.
pub(super) fn wound(lung: &mut Lung, severity: f64) {
    let hole = hole(100.0, severity);
    tear(lung, hole, LeaksTo::Pleura);
    if let Some(wall) = &mut lung.chest_wall {
        wall.open_wound = Some(wall.open_wound.map_or(hole, |old| parallel(old, hole)));
    }
}

/// Resistance of a hole whose area goes with severity. The smallest still has one
/// that the engine takes.
fn hole(whole_cmh2o_s_per_l: f64, severity: f64) -> Resistance {
    Resistance::cmh2o_s_per_l((whole_cmh2o_s_per_l / severity).min(1e8))
}

/// One hole in all, shared by the compartments; a compartment that has one already
/// keeps the wider.
fn tear(lung: &mut Lung, hole: Resistance, to: LeaksTo) {
    #[expect(clippy::cast_precision_loss, reason = "six compartments at most")]
    let each = hole * lung.compartments.len() as f64;
    for part in &mut lung.compartments {
        let wider = part.air_leak.filter(|old| old.resistance < each);
        part.air_leak = Some(wider.unwrap_or(AirLeak { resistance: each, to }));
    }
}

/// Presses on the chest wall and stiffens it.
pub(super) fn press(lung: &mut Lung, whole_cmh2o: f64, severity: f64) {
    if let Some(wall) = &mut lung.chest_wall {
        wall.pressed_by = wall.pressed_by + Pressure::cmh2o(whole_cmh2o * severity);
        let stiffer = wall.compliance.as_ml_per_cmh2o() * (1.0 - 0.46 * severity);
        wall.compliance = Compliance::ml_per_cmh2o(stiffer);
    }
}

fn parallel(a: Resistance, b: Resistance) -> Resistance {
    let (a, b) = (a.as_cmh2o_s_per_l(), b.as_cmh2o_s_per_l());
    Resistance::cmh2o_s_per_l(a * b / (a + b))
}
