//! Numbers and settings as a person says them.

use tidewright::quantity::Flow;

use crate::format::{Change, Lung, Mode, PatientPort, Species};

/// A number with as many digits as a person needs: three that count, none
/// beyond hundredths.
pub(super) fn said(value: f64) -> String {
    let size = value.abs();
    let decimals = match size {
        _ if size >= 99.95 => 0,
        _ if size >= 9.995 => 1,
        _ => 2,
    };
    let text = format!("{value:.decimals$}");
    let text =
        if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

/// `a cat`, `a guinea pig`.
pub(super) fn animal(species: Species) -> &'static str {
    match species {
        Species::Cat => "a cat",
        Species::Dog => "a dog",
        Species::Rabbit => "a rabbit",
        Species::Ferret => "a ferret",
        Species::GuineaPig => "a guinea pig",
        Species::Rat => "a rat",
        Species::Horse => "a horse",
        Species::Other => "an animal",
    }
}

/// What a change sets, as part of a sentence: `the leak is closed`.
#[must_use]
pub fn change(change: &Change) -> String {
    match change {
        Change::FreshGasFlow(new) => {
            format!("the fresh gas flow is set to {} L/min", said(new.l_min))
        }
        Change::CyclingPressure(new) => {
            format!("the cycling pressure is set to {} cmH2O", said(new.cmh2o))
        }
        Change::InspiratoryTimeLimit(new) => {
            format!("the inspiratory time limit is set to {} s", said(new.s))
        }
        Change::ExpiratoryTime(new) => format!("the expiratory time is set to {} s", said(new.s)),
        Change::EndExpiratoryPressure(new) => {
            format!("the end-expiratory pressure is set to {} cmH2O", said(new.cmh2o))
        }
        Change::ValveDelay(new) => format!("the outlet valve opens {} s late", said(new.s)),
        Change::Mode(Mode::Ventilating) => "the ventilator starts to ventilate".to_owned(),
        Change::Mode(Mode::Standby) => "the ventilator is put in standby".to_owned(),
        Change::Leak(leak) if leak.ml_min == 0.0 => "there is no leak".to_owned(),
        Change::Leak(leak) => {
            format!("a leak lets out {} mL/min at {} cmH2O", said(leak.ml_min), said(leak.at_cmh2o))
        }
        Change::NoLeak => "the leak is closed".to_owned(),
        Change::Lung(Lung::Single(lung)) => format!(
            "the lung has {} mL/cmH2O and {} cmH2O·s/L",
            said(lung.compliance_ml_cmh2o),
            said(lung.resistance_cmh2o_s_l)
        ),
        Change::Lung(Lung::Compartments(_)) => "the lung changes".to_owned(),
        Change::ValveResistance(new) => {
            format!("the outlet path has {} cmH2O·s/L", said(new.cmh2o_s_l))
        }
        Change::PatientPort(PatientPort::Connected) => "the patient is connected".to_owned(),
        Change::PatientPort(PatientPort::Blocked) => "the patient port is blocked".to_owned(),
        Change::PatientPort(PatientPort::Open) => "the patient port is open to the room".to_owned(),
    }
}

/// A flow as a flowmeter shows it.
pub(super) fn flow(flow: Flow) -> String {
    format!("{} L/min", said(flow.as_l_per_min()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_said_with_three_digits_at_most_hundredths() {
        let cases = [
            (0.0, "0"),
            (-0.001, "0"),
            (0.456, "0.46"),
            (2.9, "2.9"),
            (9.996, "10"),
            (14.449, "14.4"),
            (58.0, "58"),
            (99.96, "100"),
            (1234.5, "1234"),
        ];
        for (value, expected) in cases {
            assert_eq!(said(value), expected, "{value}");
        }
    }
}
