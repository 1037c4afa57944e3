//! Faults of pleural space and chest wall.

use crate::quantity::{Compliance, Pressure, Resistance, Volume};
use crate::setup::{AirLeak, ChestWall, Compartment, LeaksTo, Lung, PressureVolume};

/// Share of the elastance of lung and chest wall that is the chest wall's, where
/// it is not described.
const WALL_SHARE: f64 = 0.25;
/// Recoil of the lung at rest, which the chest wall balances.
const RESTING_RECOIL: Pressure = Pressure::cmh2o(5.0);
/// How much stiffer a lung is below zero recoil.
const COLLAPSED_STIFFNESS: f64 = 20.0;

/// Sets lung and chest wall apart: the same volumes at the same pressures while
/// the lung is open, a pleural space below the room's pressure at rest, and a
/// lung that collapses where its recoil is spent. `None` where the lung's law is
/// curved and there is no chest wall; a curved lung within a chest wall is left
/// as it is.
pub(super) fn set_wall_apart(lung: &mut Lung) -> Option<()> {
    let straight = |part: &Compartment| part.law == PressureVolume::Linear;
    if !lung.compartments.iter().all(straight) {
        return lung.chest_wall.is_some().then_some(());
    }
    let total = lung.total_compliance();
    let (wall, lungs_factor) = match lung.chest_wall {
        Some(wall) => (wall, 1.0),
        None => {
            let compliance = total * (1.0 / WALL_SHARE);
            let wall = ChestWall { compliance, pressed_by: Pressure::ZERO, open_wound: None };
            (wall, 1.0 / (1.0 - WALL_SHARE))
        }
    };
    lung.chest_wall = Some(ChestWall { pressed_by: wall.pressed_by - RESTING_RECOIL, ..wall });
    for part in &mut lung.compartments {
        part.compliance = part.compliance * lungs_factor;
        part.law = open_then_collapsed(part.compliance);
    }
    Some(())
}

/// V = C·(P − rest) while recoil P is above zero, and 1/20 of that slope below.
fn open_then_collapsed(compliance: Compliance) -> PressureVolume {
    let spent = compliance * RESTING_RECOIL * -1.0;
    let below = spent + spent * (1.0 / COLLAPSED_STIFFNESS);
    PressureVolume::Table(vec![
        (RESTING_RECOIL * -1.0, below),
        (Pressure::ZERO, spent),
        (RESTING_RECOIL, Volume::ZERO),
    ])
}

/// A fixed amount of gas beside the lung moves the chest wall out by as much, and
/// so adds a constant pressure.
pub(super) fn fill_pleural_space(lung: &mut Lung, gas: Volume) {
    if let Some(wall) = &mut lung.chest_wall {
        let pressure = gas.as_ml() / wall.compliance.as_ml_per_cmh2o();
        wall.pressed_by = wall.pressed_by + Pressure::cmh2o(pressure);
    }
}

pub(super) fn pierce_one_way(lung: &mut Lung, hole: Resistance, severity: f64) {
    pierce(lung, hole, severity, LeaksTo::PleuraOneWay);
}

pub(super) fn open_wound(
    lung: &mut Lung,
    wound: Resistance,
    hole: Option<Resistance>,
    severity: f64,
) {
    if let Some(wall) = &mut lung.chest_wall {
        wall.open_wound = Some(side_by_side(wall.open_wound, wound * (1.0 / severity)));
    }
    if let Some(hole) = hole {
        pierce(lung, hole, severity, LeaksTo::Pleura);
    }
}

pub(super) fn compress(lung: &mut Lung, compliance_factor: f64, pressure: Pressure) {
    let lungs = lung.total_compliance().as_ml_per_cmh2o();
    if let Some(wall) = &mut lung.chest_wall {
        let elastance = 1.0 / wall.compliance.as_ml_per_cmh2o();
        let stiffer = elastance + (1.0 / compliance_factor - 1.0) * (1.0 / lungs + elastance);
        wall.compliance = Compliance::ml_per_cmh2o(1.0 / stiffer);
        wall.pressed_by = wall.pressed_by + pressure;
    }
}

/// A hole in the first compartment that has none; where all have one, the first
/// one's grows and leads where the new one does.
fn pierce(lung: &mut Lung, hole: Resistance, severity: f64, to: LeaksTo) {
    let unhurt = lung.compartments.iter().position(|part| part.air_leak.is_none());
    if let Some(part) = lung.compartments.get_mut(unhurt.unwrap_or(0)) {
        let old = part.air_leak.map(|leak| leak.resistance);
        let resistance = side_by_side(old, hole * (1.0 / severity));
        part.air_leak = Some(AirLeak { resistance, to });
    }
}

fn side_by_side(old: Option<Resistance>, new: Resistance) -> Resistance {
    old.map_or(new, |old| {
        let (a, b) = (old.as_cmh2o_s_per_l(), new.as_cmh2o_s_per_l());
        Resistance::cmh2o_s_per_l(a * b / (a + b))
    })
}
