//! What the counters show, and whether the ventilator cycles under a thumb.

use tidewright::machine::{Machine, Signal};
use tidewright::phase::Cause;
use tidewright::quantity::{Flow, Pressure, Seconds};
use tidewright::setup::{Effort, Mode, PatientPort, Setup};
use tidewright::step::{Moment, step};
use tidewright_scenario::format::Thumb;

use crate::bedside::Bedside;
use crate::case::draw::Drawn;
use crate::case::world::HELD_LONGER_S;
use crate::words::text::said;

/// What the counters show; nothing where the lesson has none.
pub(super) fn hours(session: &Bedside) -> Option<String> {
    let of_case = |drawn: &Drawn| drawn.case.hours;
    let shown = session.drawn().and_then(of_case).or(session.training().hours)?;
    Some(format!(
        "The counters show {} h in use and {} h ventilating. Its label: book a service from {} h of \
         ventilating on; it must be done by {} h.",
        said(shown.in_use_h),
        said(shown.ventilating_h),
        said(shown.service_near_h),
        said(shown.service_due_h)
    ))
}

/// What a thumb that presses gas out of the sealed circuit hears: the pace of the thumb is
/// a flow into a circuit with port and outlet shut.
pub(super) fn squeezed(setup: &Setup, thumb: &Thumb) -> String {
    let did =
        format!("Outlet and port shut, {} mL pressed out in {} s:", said(thumb.ml), said(thumb.s));
    match cycles_at_s(setup, thumb) {
        Some(Some(at_s)) => {
            let ml = thumb.ml * at_s / thumb.s;
            format!("{did} the ventilator cycles with a click, at {ml:.3} mL.")
        }
        Some(None) => format!("{did} no click."),
        None => format!("{did} nothing gives, and nothing can be told."),
    }
}

/// Time for which the port is held shut while it ventilates, s.
const HELD_SHUT_S: f64 = 6.0;

/// What the gauge tells while the port of a circuit is held shut that nobody is on.
pub(super) fn occluded(setup: &Setup) -> String {
    let mut test = setup.clone();
    test.circuit.patient_port = PatientPort::Blocked;
    test.effort = Effort::default();
    let Ok(machine) = Machine::new(test) else {
        return "With the port shut nothing gives, and nothing can be told.".to_owned();
    };
    let stands_by = setup.ventilator.mode == Mode::Standby;
    let held_s = if stands_by { HELD_LONGER_S } else { HELD_SHUT_S };
    let mut moment = Moment::at_rest(&machine);
    let (mut peak, mut cycles) = (0.0_f64, 0);
    while moment.at_s < held_s {
        let Ok(done) = step(&machine, &moment, held_s - moment.at_s) else { break };
        peak = peak.max(done.piece.last(Signal::SensedPressure));
        cycles += usize::from(done.piece.ended_by == Some(Cause::PressureReached));
        moment = done.next;
    }
    let peak = said(peak);
    match cycles {
        _ if stands_by => format!(
            "In standby, with the port shut for {held_s} s, the gauge rose to {peak} cmH2O."
        ),
        0 => {
            format!("With the port shut the gauge rose to {peak} cmH2O; pressure ended no breath.")
        }
        cycles => format!(
            "With the port shut the gauge rose to {peak} cmH2O, and it cycled {cycles} times in \
             {held_s} s."
        ),
    }
}

/// When the ventilator cycles, if it does; `None` where there is nothing to press into.
fn cycles_at_s(setup: &Setup, thumb: &Thumb) -> Option<Option<f64>> {
    let mut test = setup.clone();
    test.circuit.patient_port = PatientPort::Blocked;
    test.effort = Effort::default();
    let ventilator = &mut test.ventilator;
    ventilator.mode = Mode::Ventilating;
    ventilator.fresh_gas_flow = Flow::ml_s(thumb.ml / thumb.s);
    ventilator.end_expiratory_pressure = Pressure::ZERO;
    ventilator.inspiratory_time_limit = Seconds::s(2.0 * thumb.s);
    let machine = Machine::new(test).ok()?;
    let mut moment = Moment::at_rest(&machine);
    while moment.at_s < thumb.s {
        let done = step(&machine, &moment, thumb.s - moment.at_s).ok()?;
        if done.piece.ended_by == Some(Cause::PressureReached) {
            return Some(Some(moment.at_s + done.piece.duration_s));
        }
        if !done.piece.last(Signal::AirwayPressure).is_finite() {
            return None;
        }
        moment = done.next;
    }
    Some(None)
}

#[cfg(test)]
mod tests {
    use super::*;
    use tidewright::quantity::Compliance;
    use tidewright::setup::Leak;

    /// Common practice, no source: 0.1 to 0.2 mL of 10 to 20 mL for 10 cmH2O. And a leak
    /// hides from a quick thumb.
    #[test]
    fn practice_a_tight_circuit_cycles_and_a_slow_thumb_finds_a_leak() {
        let mut setup = Setup::default();
        setup.circuit.compliance = Compliance::ml_per_cmh2o(16.0 / 1034.0);
        setup.ventilator.cycling_pressure = Pressure::cmh2o(10.0);
        let cycles = |setup: &Setup, ml, s| cycles_at_s(setup, &Thumb { ml, s });
        let at_s = cycles(&setup, 0.2, 1.0).flatten().unwrap_or(0.0);
        assert!((0.1..0.2).contains(&(0.2 * at_s)), "{at_s}");
        assert_eq!(cycles(&setup, 0.1, 1.0), Some(None));
        setup.circuit.leak = Some(Leak::linear(Flow::ml_s(0.1), Pressure::cmh2o(10.0)));
        assert!(cycles(&setup, 0.2, 0.2).flatten().is_some());
        assert_eq!(cycles(&setup, 0.2, 3.0), Some(None));
    }
}
