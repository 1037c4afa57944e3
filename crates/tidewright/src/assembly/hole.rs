//! Where gas gets out of an assembly: cracks, joints that are only pushed on, ports that
//! are open.

use std::f64::consts::PI;

use super::part::{Fitting, Part, Port, ThinLine};
use super::{Assembly, At};
use crate::base::quantity::{Flow, Pressure, Resistance};
use crate::laws::gases::{Mixture, STANDARD_PRESSURE_PA};
use crate::setup::Leak;

const TEN: Pressure = Pressure::cmh2o(10.0);
/// Share of a hole's area that its jet has (textbook value for a sharp edge).
const JET: f64 = 0.6;
/// Bore of an open tap, mm (assumed).
const TAP_MM: f64 = 2.0;
/// A joint that is only pushed on, at 10 cmH2O (assumed).
pub(super) const PUSHED_ON: Flow = Flow::ml_s(10.0);
/// Resistance of an open nipple (assumed, that of the fault of a hose that is off).
const NIPPLE: Resistance = Resistance::cmh2o_s_per_l(5.0);

/// A sharp-edged hole by its bore: flow = 0.6·area·√(2·pressure/density) of oxygen.
pub(super) fn orifice(bore_mm: f64) -> Leak {
    const PA_PER_CMH2O: f64 = 98.0665;
    let density = Mixture::OXYGEN.properties(20.0, STANDARD_PRESSURE_PA).density_kg_m3;
    let area_m2 = PI * bore_mm * bore_mm / 4.0 * 1e-6;
    let speed = (2.0 * TEN.as_cmh2o() * PA_PER_CMH2O / density).sqrt();
    Leak::orifice(Flow::ml_s(JET * area_m2 * speed * 1e6), TEN)
}

/// A way out by its resistance.
fn through(resistance: Resistance) -> Leak {
    let flow = 1000.0 * TEN.as_cmh2o() / resistance.as_cmh2o_s_per_l();
    Leak::linear(Flow::ml_s(flow), TEN)
}

/// What lets gas out, in the order of the parts. `wide` are the parts of the wide way,
/// as far as they stand before the valve.
pub(super) fn all(assembly: &Assembly, wide: &[usize]) -> Vec<Leak> {
    let mut holes = Vec::new();
    for &part in wide {
        let piece = &assembly.pieces[part];
        if piece.crack_mm > 0.0 {
            holes.push(orifice(piece.crack_mm));
        }
        for &port in piece.part.ports() {
            let at = At { part, port };
            match (assembly.joined_to(at), port.fitting()) {
                (None, Fitting::Tap) if port != Port::Sensing => holes.push(orifice(TAP_MM)),
                (None, Fitting::Nipple) => holes.push(through(NIPPLE)),
                (Some(on), Fitting::Tap) if port != Port::Sensing => {
                    holes.extend(line_hole(assembly, on));
                }
                (Some(on), Fitting::Nipple) => holes.extend(hose_hole(assembly, on)),
                _ => {}
            }
        }
    }
    for joint in assembly.joints.iter().filter(|joint| joint.loose) {
        // Behind the valve a joint lets out waste gas only, which no pressure feels.
        let before_the_valve = |at: At| wide.contains(&at.part) && at.port != Port::Outlet;
        if before_the_valve(joint.a) || before_the_valve(joint.b) {
            holes.push(Leak::linear(PUSHED_ON, TEN));
        }
    }
    holes
}

/// What a thin line on a tap lets out, entered at one of its ends.
fn line_hole(assembly: &Assembly, entered: At) -> Option<Leak> {
    let piece = &assembly.pieces[entered.part];
    let Part::SensingLine(line) = &piece.part else { return None };
    let half = line.resistance() * 0.5;
    if let Some(split) = split(line) {
        return Some(through(half + split));
    }
    let other = if entered.port == Port::LineNear { Port::LineFar } else { Port::LineNear };
    let open = assembly.joined_to(At { port: other, ..entered }).is_none();
    open.then(|| through(line.resistance()))
}

/// Resistance of a line's split: that of a hole of its bore at 10 cmH2O.
fn split(line: &ThinLine) -> Option<Resistance> {
    (line.split_mm > 0.0).then(|| {
        let flow = orifice(line.split_mm).flow.as_ml_s();
        Resistance::cmh2o_s_per_l(1000.0 * TEN.as_cmh2o() / flow)
    })
}

/// Share of the pressure that reaches the end of a line: 1 for a whole one.
pub(super) fn share(line: &ThinLine) -> f64 {
    let half = line.resistance().as_cmh2o_s_per_l() * 0.5;
    split(line).map_or(1.0, |split| {
        let split = split.as_cmh2o_s_per_l();
        split / (half + split)
    })
}

/// What a hose on a nipple lets out.
fn hose_hole(assembly: &Assembly, entered: At) -> Option<Leak> {
    let piece = &assembly.pieces[entered.part];
    if !matches!(piece.part, Part::Hose) {
        return None;
    }
    if piece.crack_mm > 0.0 {
        return Some(orifice(piece.crack_mm));
    }
    let other = if entered.port == Port::MachineEnd { Port::PatientEnd } else { Port::MachineEnd };
    assembly.joined_to(At { port: other, ..entered }).is_none().then(|| through(NIPPLE))
}
