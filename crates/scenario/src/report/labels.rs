//! A scenario in few words: for headings and for labels in a figure.

use super::words::{animal, said};
use crate::format::{Change, Lung, Mode, PatientPort, Scenario};

/// The patient in a few words: `Pepper, a cat of 4 kg`.
#[must_use]
pub fn patient(scenario: &Scenario) -> String {
    let patient = &scenario.patient;
    let kind = format!("{} of {} kg", animal(patient.species), said(patient.weight_kg));
    match &patient.name {
        Some(name) => format!("{name}, {kind}"),
        None => format!("{}{}", kind[..1].to_uppercase(), &kind[1..]),
    }
}

/// The controls at the start of a run, as the parts of a list.
#[must_use]
pub fn settings(scenario: &Scenario) -> Vec<String> {
    let ventilator = &scenario.ventilator;
    let flow = format!("fresh gas flow {} L/min", said(ventilator.fresh_gas_flow_l_min));
    if ventilator.mode == Mode::Standby {
        return vec!["standby".to_owned(), flow];
    }
    let mut settings = vec![
        flow,
        format!("cycling pressure {} cmH2O", said(ventilator.cycling_pressure_cmh2o)),
        format!("inspiratory time limit {} s", said(ventilator.inspiratory_time_limit_s)),
        format!("expiratory time {} s", said(ventilator.expiratory_time_s)),
    ];
    if ventilator.end_expiratory_pressure_cmh2o > 0.0 {
        let pressure = said(ventilator.end_expiratory_pressure_cmh2o);
        settings.push(format!("end-expiratory pressure {pressure} cmH2O"));
    }
    settings
}

/// What a change sets, as a label: `leak closed`, `fresh gas flow 2.4 L/min`.
#[must_use]
pub fn label(change: &Change) -> String {
    match change {
        Change::FreshGasFlow(new) => format!("fresh gas flow {} L/min", said(new.l_min)),
        Change::CyclingPressure(new) => format!("cycling pressure {} cmH2O", said(new.cmh2o)),
        Change::InspiratoryTimeLimit(new) => format!("time limit {} s", said(new.s)),
        Change::ExpiratoryTime(new) => format!("expiratory time {} s", said(new.s)),
        Change::EndExpiratoryPressure(new) => {
            format!("end-expiratory pressure {} cmH2O", said(new.cmh2o))
        }
        Change::ValveDelay(new) => format!("valve opens {} s late", said(new.s)),
        Change::Mode(Mode::Ventilating) => "ventilating".to_owned(),
        Change::Mode(Mode::Standby) => "standby".to_owned(),
        Change::Leak(leak) if leak.ml_min == 0.0 => "no leak".to_owned(),
        Change::Leak(leak) => {
            format!("leak {} mL/min at {} cmH2O", said(leak.ml_min), said(leak.at_cmh2o))
        }
        Change::NoLeak => "leak closed".to_owned(),
        Change::Lung(Lung::Single(lung)) => format!(
            "lung {} mL/cmH2O, {} cmH2O·s/L",
            said(lung.compliance_ml_cmh2o),
            said(lung.resistance_cmh2o_s_l)
        ),
        Change::Lung(Lung::Compartments(_)) => "another lung".to_owned(),
        Change::ValveResistance(new) => format!("outlet path {} cmH2O·s/L", said(new.cmh2o_s_l)),
        Change::PatientPort(PatientPort::Connected) => "patient connected".to_owned(),
        Change::PatientPort(PatientPort::Blocked) => "patient port blocked".to_owned(),
        Change::PatientPort(PatientPort::Open) => "patient port open".to_owned(),
    }
}
