//! Faults of the breathing tube and the airways.

use super::{Direction, SHUT_FROM};
use crate::machine::OPEN_PORT_RESISTANCE;
use crate::quantity::{Resistance, Volume};
use crate::setup::{AirLeak, Compartment, Cuff, Lung, PressureVolume, Tube};

/// Factor on the resistance of a bore that lost a share of its area: 1/(1 − a)²,
/// or `None` where it is shut.
fn narrowing(area_lost: f64) -> Option<f64> {
    let left = 1.0 - area_lost;
    (area_lost < SHUT_FROM).then(|| 1.0 / (left * left))
}

pub(super) fn narrow_tube(lung: &mut Lung, area_lost: f64) {
    lung.tube = match narrowing(area_lost) {
        None => Tube::Shut,
        // The tube is part of the airways' resistance: the kink comes on top.
        Some(factor) if lung.tube == Tube::None => {
            let extra = airways_together(lung) * (factor - 1.0);
            if extra > Resistance::ZERO { Tube::Linear(extra) } else { Tube::None }
        }
        Some(factor) => narrowed(lung.tube, factor),
    };
}

fn narrowed(tube: Tube, factor: f64) -> Tube {
    match tube {
        Tube::None | Tube::Shut => tube,
        Tube::Linear(resistance) => Tube::Linear(resistance * factor),
        Tube::Quadratic { k1, k2 } => Tube::Quadratic { k1: k1 * factor, k2: k2 * factor },
        Tube::Sized(tube) => Tube::Sized(tube.narrowed_to(1.0 / factor.sqrt())),
        Tube::OneWay { inward, outward } => Tube::OneWay {
            inward: inward.map(|resistance| resistance * factor),
            outward: outward.map(|resistance| resistance * factor),
        },
    }
}

pub(super) fn put_flap(lung: &mut Lung, passes: Direction, severity: f64) {
    let (inward, outward) = match lung.tube {
        // The airways have the resistance; the flap sits in a wide place.
        Tube::None => (Some(OPEN_PORT_RESISTANCE), Some(OPEN_PORT_RESISTANCE)),
        Tube::Linear(resistance) => (Some(resistance), Some(resistance)),
        Tube::Quadratic { k1, .. } => {
            let resistance = Some(Resistance::cmh2o_s_per_l(k1));
            (resistance, resistance)
        }
        Tube::Sized(tube) => (Some(tube.laminar_resistance()), Some(tube.laminar_resistance())),
        Tube::OneWay { inward, outward } => (inward, outward),
        Tube::Shut => return,
    };
    let narrow = |resistance: Option<Resistance>| Some(resistance? * narrowing(severity)?);
    lung.tube = match passes {
        Direction::Inward => Tube::OneWay { inward, outward: narrow(outward) },
        Direction::Outward => Tube::OneWay { inward: narrow(inward), outward },
    };
}

pub(super) fn line_with_mucus(lung: &mut Lung, area_lost: f64) {
    match narrowing(area_lost) {
        None => lung.tube = Tube::Shut,
        Some(factor) => {
            lung.tube = narrowed(lung.tube, factor);
            narrow_airways(lung, factor, factor);
        }
    }
}

pub(super) fn narrow_airways(lung: &mut Lung, inspiratory: f64, expiratory: f64) {
    for part in &mut lung.compartments {
        let out = part.expiratory_resistance.unwrap_or(part.resistance) * expiratory;
        let one_for_both = part.expiratory_resistance.is_none() && inspiratory == expiratory;
        part.resistance = part.resistance * inspiratory;
        part.expiratory_resistance = (!one_for_both).then_some(out);
    }
}

pub(super) fn leak_past_cuff(lung: &mut Lung, cuff: Cuff, severity: f64) {
    let leak = cuff.conductance_ml_s_cmh2o * severity;
    lung.cuff = Some(match lung.cuff {
        None => Cuff { conductance_ml_s_cmh2o: leak, ..cuff },
        Some(old) => Cuff {
            seals_to: if old.seals_to < cuff.seals_to { old.seals_to } else { cuff.seals_to },
            conductance_ml_s_cmh2o: old.conductance_ml_s_cmh2o + leak,
        },
    });
}

pub(super) fn cut_off_half(lung: &mut Lung, severity: f64) {
    let first = lung.compartments.len().div_ceil(2);
    for part in &mut lung.compartments[first..] {
        match narrowing(severity) {
            None => part.shut = true,
            Some(factor) => {
                part.resistance = part.resistance * factor;
                part.expiratory_resistance = part.expiratory_resistance.map(|r| r * factor);
            }
        }
    }
}

/// One compartment becomes two equal ones that together are the same.
pub(super) fn split_in_halves(lung: &mut Lung) {
    if let [whole] = lung.compartments.as_slice() {
        let half = half(whole);
        lung.compartments = vec![half.clone(), half];
    }
}

fn half(whole: &Compartment) -> Compartment {
    let halved = |volume: Volume| volume * 0.5;
    Compartment {
        compliance: whole.compliance * 0.5,
        resistance: whole.resistance * 2.0,
        expiratory_resistance: whole.expiratory_resistance.map(|r| r * 2.0),
        shut: whole.shut,
        law: match &whole.law {
            PressureVolume::Linear => PressureVolume::Linear,
            &PressureVolume::Sigmoid { lower, span, middle, width } => {
                PressureVolume::Sigmoid { lower: halved(lower), span: halved(span), middle, width }
            }
            PressureVolume::Table(points) => {
                PressureVolume::Table(points.iter().map(|&(p, v)| (p, halved(v))).collect())
            }
            PressureVolume::User(law) => PressureVolume::User(law.halved()),
        },
        air_leak: whole.air_leak.map(|leak| AirLeak { resistance: leak.resistance * 2.0, ..leak }),
    }
}

/// The airways of all open compartments side by side.
fn airways_together(lung: &Lung) -> Resistance {
    let open = lung.compartments.iter().filter(|part| !part.shut);
    let conductance: f64 = open.map(|part| 1.0 / part.resistance.as_cmh2o_s_per_l()).sum();
    Resistance::cmh2o_s_per_l(if conductance > 0.0 { 1.0 / conductance } else { 0.0 })
}
