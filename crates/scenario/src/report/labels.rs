//! A scenario in few words: for headings and for labels in a figure.

use super::words::{animal, said};
use crate::format::{Change, Effort, Lung, Mode, PatientPort, Scenario, SensorPlace, Tube, Valve};

/// The patient in a few words: `Pepper, a cat of 4.5 kg`.
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
    let flow = said(ventilator.fresh_gas_flow_l_min);
    let flow = match &scenario.gas {
        Some(gas) => format!("fresh gas flow {flow} L/min, {} % oxygen", said(gas.oxygen_percent)),
        None => format!("fresh gas flow {flow} L/min"),
    };
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
pub(super) fn label(change: &Change) -> String {
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
        Change::Tube(tube) => self::tube(tube),
        Change::Cuff(cuff) if cuff.leak_ml_min == 0.0 => "cuff seals".to_owned(),
        Change::Cuff(cuff) => format!("cuff leaks above {} cmH2O", said(cuff.seals_to_cmh2o)),
        Change::CuffSeals => "cuff seals".to_owned(),
        Change::ChestWall(wall) if wall.wound_cmh2o_s_l.is_some() => "open chest".to_owned(),
        Change::ChestWall(wall) if wall.pressed_by_cmh2o > 0.0 => {
            format!("chest pressed by {} cmH2O", said(wall.pressed_by_cmh2o))
        }
        Change::ChestWall(wall) => {
            format!("chest wall {} mL/cmH2O", said(wall.compliance_ml_cmh2o))
        }
        Change::Viscoelastic(branch) => {
            format!("slow tissue {} mL/cmH2O", said(branch.compliance_ml_cmh2o))
        }
        Change::Effort(Effort::Breaths(own)) => format!(
            "own effort {} cmH2O, {} a minute",
            said(own.amplitude_cmh2o),
            said(own.rate_per_min)
        ),
        Change::Effort(Effort::Coughs(coughs)) => {
            format!("coughs of {} cmH2O", said(coughs.strength_cmh2o))
        }
        Change::Effort(Effort::Bracing(bracing)) => {
            format!("bracing with {} cmH2O", said(bracing.strength_cmh2o))
        }
        Change::Effort(Effort::Drive(drive)) => {
            format!("own drive at depth {}", said(drive.depth))
        }
        Change::NoEffort => "no effort".to_owned(),
        Change::Valve(Valve::Working) => "valve works".to_owned(),
        Change::Valve(Valve::StuckOpen) => "valve stuck open".to_owned(),
        Change::Valve(Valve::StuckShut) => "valve stuck shut".to_owned(),
        Change::BackflowCheck(true) => "check against backflow".to_owned(),
        Change::BackflowCheck(false) => "no check against backflow".to_owned(),
        Change::Limb(limb) if limb.disconnected => "limb pulled off".to_owned(),
        Change::Limb(limb) => format!("limb {} cmH2O·s/L", said(limb.resistance_cmh2o_s_l)),
        Change::WaterInLimb(water) => format!("water in limb {} cmH2O", said(water.cmh2o)),
        Change::Relief(relief) => format!("relief opens at {} cmH2O", said(relief.opens_at_cmh2o)),
        Change::Sensor(sensor) => match &sensor.place {
            SensorPlace::Cut(cut) => {
                format!("sensor cut at {} cmH2O", said(cut.stays_at_cmh2o + sensor.offset_cmh2o))
            }
            _ if sensor.offset_cmh2o != 0.0 => {
                format!("sensor off by {} cmH2O", said(sensor.offset_cmh2o))
            }
            SensorPlace::PatientConnection => "sensor at the patient".to_owned(),
            SensorPlace::ValveEnd => "sensor at the valve".to_owned(),
        },
        Change::ValveResistance(new) => format!("outlet path {} cmH2O·s/L", said(new.cmh2o_s_l)),
        Change::PatientPort(PatientPort::Connected) => "patient connected".to_owned(),
        Change::PatientPort(PatientPort::Blocked) => "patient port blocked".to_owned(),
        Change::PatientPort(PatientPort::Open) => "patient port open".to_owned(),
        Change::FreshGasOxygen(new) => format!("fresh gas {} % oxygen", said(new.percent)),
        Change::CardiacOutput(new) => format!("cardiac output {} %", said(new.percent)),
        Change::Temperature(new) => format!("temperature {} °C", said(new.c)),
    }
}

fn tube(tube: &Tube) -> String {
    match tube {
        Tube::Linear(tube) => format!("tube {} cmH2O·s/L", said(tube.cmh2o_s_l)),
        Tube::Quadratic(tube) => format!(
            "tube {} cmH2O·s/L + {} cmH2O·s²/L²",
            said(tube.k1_cmh2o_s_l),
            said(tube.k2_cmh2o_s2_l2)
        ),
        Tube::Sized(tube) => {
            format!("tube {} mm × {} cm", said(tube.internal_diameter_mm), said(tube.length_cm))
        }
        Tube::OneWay(tube) => match (tube.inward_cmh2o_s_l, tube.outward_cmh2o_s_l) {
            (Some(_), None) => "tube lets gas in only".to_owned(),
            (None, Some(_)) => "tube lets gas out only".to_owned(),
            (None, None) => "tube shut".to_owned(),
            (Some(inward), Some(outward)) => {
                format!("tube {} in, {} cmH2O·s/L out", said(inward), said(outward))
            }
        },
        Tube::Shut => "tube shut".to_owned(),
    }
}
