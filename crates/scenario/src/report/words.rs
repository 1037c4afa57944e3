//! Numbers and settings as a person says them.

use tidewright::quantity::Flow;

use crate::format::{
    Change, Effort, Leak, Lung, Mode, PatientPort, Sensor, SensorPlace, Species, Tube, Valve,
};

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
pub(super) fn change(change: &Change) -> String {
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
        Change::Leak(new) => leak(new),
        Change::NoLeak => "the leak is closed".to_owned(),
        Change::Lung(Lung::Single(lung)) => format!(
            "the lung has {} mL/cmH2O and {} cmH2O·s/L",
            said(lung.compliance_ml_cmh2o),
            said(lung.resistance_cmh2o_s_l)
        ),
        Change::Lung(Lung::Compartments(_)) => "the lung changes".to_owned(),
        Change::Tube(tube) => self::tube(tube),
        Change::Cuff(cuff) if cuff.leak_ml_min > 0.0 => format!(
            "the cuff seals to {} cmH2O only, and leaks {} mL/min at {} cmH2O",
            said(cuff.seals_to_cmh2o),
            said(cuff.leak_ml_min),
            said(cuff.seals_to_cmh2o + 10.0)
        ),
        Change::Cuff(_) | Change::CuffSeals => "the cuff seals".to_owned(),
        Change::ChestWall(wall) => {
            let wound = if wall.wound_cmh2o_s_l.is_some() { " and an open wound" } else { "" };
            let pressed = match wall.pressed_by_cmh2o {
                0.0 => String::new(),
                pressure => format!(", is pressed by {} cmH2O", said(pressure)),
            };
            let compliance = said(wall.compliance_ml_cmh2o);
            format!("the chest wall has {compliance} mL/cmH2O{wound}{pressed}")
        }
        Change::Viscoelastic(branch) => format!(
            "the tissue that gives way slowly has {} mL/cmH2O and {} cmH2O·s/L",
            said(branch.compliance_ml_cmh2o),
            said(branch.resistance_cmh2o_s_l)
        ),
        Change::Effort(Effort::Breaths(own)) => format!(
            "the patient breathes in by itself with {} cmH2O, {} times a minute",
            said(own.amplitude_cmh2o),
            said(own.rate_per_min)
        ),
        Change::Effort(Effort::Coughs(coughs)) => format!(
            "the patient coughs with {} cmH2O, {} times a minute",
            said(coughs.strength_cmh2o),
            said(coughs.rate_per_min)
        ),
        Change::Effort(Effort::Bracing(bracing)) => {
            format!("the patient braces its chest with {} cmH2O", said(bracing.strength_cmh2o))
        }
        Change::Effort(Effort::Drive(drive)) => format!(
            "the patient breathes by its own drive at a depth of anaesthesia of {}",
            said(drive.depth)
        ),
        Change::NoEffort => "the patient is at rest".to_owned(),
        Change::Valve(Valve::Working) => "the outlet valve works".to_owned(),
        Change::Valve(Valve::StuckOpen) => "the outlet valve sticks open".to_owned(),
        Change::Valve(Valve::StuckShut) => "the outlet valve sticks shut".to_owned(),
        Change::BackflowCheck(true) => "a check keeps gas from flowing back".to_owned(),
        Change::BackflowCheck(false) => "no check keeps gas from flowing back".to_owned(),
        Change::Limb(limb) if limb.disconnected => "the limb is pulled off the valve".to_owned(),
        Change::Limb(limb) => {
            format!("the expiratory limb has {} cmH2O·s/L", said(limb.resistance_cmh2o_s_l))
        }
        Change::WaterInLimb(water) if water.cmh2o == 0.0 => {
            "there is no water in the limb".to_owned()
        }
        Change::WaterInLimb(water) => {
            format!("the outflow bubbles through {} cmH2O of water in the limb", said(water.cmh2o))
        }
        Change::Relief(relief) => {
            format!("a relief valve opens at {} cmH2O", said(relief.opens_at_cmh2o))
        }
        Change::Sensor(sensor) => self::sensor(sensor),
        Change::ValveResistance(new) => {
            format!("the outlet path has {} cmH2O·s/L", said(new.cmh2o_s_l))
        }
        Change::PatientPort(PatientPort::Connected) => "the patient is connected".to_owned(),
        Change::PatientPort(PatientPort::Blocked) => "the patient port is blocked".to_owned(),
        Change::PatientPort(PatientPort::Open) => "the patient port is open to the room".to_owned(),
        Change::FreshGasOxygen(new) => format!("the fresh gas has {} % oxygen", said(new.percent)),
        Change::CardiacOutput(new) if new.percent == 0.0 => "the heart stands still".to_owned(),
        Change::CardiacOutput(new) => {
            format!("the cardiac output is {} % of typical", said(new.percent))
        }
        Change::Temperature(new) => format!("the patient has {} °C", said(new.c)),
    }
}

/// `a leak lets out 300 mL/min at 30 cmH2O`.
pub(super) fn leak(leak: &Leak) -> String {
    format!("a leak lets out {} mL/min at {} cmH2O", said(leak.ml_min), said(leak.at_cmh2o))
}

fn tube(tube: &Tube) -> String {
    match tube {
        Tube::Linear(tube) => format!("the tube has {} cmH2O·s/L", said(tube.cmh2o_s_l)),
        Tube::Quadratic(tube) => format!(
            "the tube has {} cmH2O·s/L + {} cmH2O·s²/L² × flow",
            said(tube.k1_cmh2o_s_l),
            said(tube.k2_cmh2o_s2_l2)
        ),
        Tube::Sized(tube) => format!(
            "the tube has a bore of {} mm and a length of {} cm",
            said(tube.internal_diameter_mm),
            said(tube.length_cm)
        ),
        Tube::OneWay(tube) => {
            let way = |resistance: Option<f64>| match resistance {
                Some(resistance) => format!("{} cmH2O·s/L", said(resistance)),
                None => "no way".to_owned(),
            };
            let [inward, outward] = [tube.inward_cmh2o_s_l, tube.outward_cmh2o_s_l].map(way);
            format!("the tube has {inward} in and {outward} out")
        }
        Tube::Shut => "the tube is shut".to_owned(),
    }
}

fn sensor(sensor: &Sensor) -> String {
    let off = match sensor.offset_cmh2o {
        0.0 => String::new(),
        offset => format!(" and is off by {} cmH2O", said(offset)),
    };
    match &sensor.place {
        SensorPlace::Cut(cut) => format!(
            "the pressure sensor is cut off and stays at {} cmH2O",
            said(cut.stays_at_cmh2o + sensor.offset_cmh2o)
        ),
        SensorPlace::PatientConnection => {
            format!("the pressure sensor is at the patient connection{off}")
        }
        SensorPlace::ValveEnd => {
            format!("the pressure sensor is at the valve end of the limb{off}")
        }
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
