//! Faults as the trade says them.

use tidewright::fault::Fault;
use tidewright::math::exp;

use super::words::said;
use crate::format::FaultKind;

/// What is said of one fault.
pub(super) struct Words {
    /// As a label: `tube off the T-piece`.
    pub label: String,
    /// As a sentence of its beginning: `the tube comes off the T-piece`.
    pub comes: String,
    /// As a label of its end.
    pub over: &'static str,
    /// As a sentence of its end.
    pub goes: &'static str,
}

pub(super) fn words(kind: &FaultKind) -> Words {
    let (fault, severity) = kind.to_core();
    let times = |most: f64| said(most * severity);
    let left = said(100.0 * (1.0 - severity));
    let whole = severity == 1.0;
    let all = |label: &str, comes: &str, over: &'static str, goes: &'static str| Words {
        label: label.to_owned(),
        comes: comes.to_owned(),
        over,
        goes,
    };
    match fault {
        Fault::Bronchospasm => {
            let (inward, outward) = (said(1.0 + 3.0 * severity), said(1.0 + 7.0 * severity));
            all(
                &format!("bronchospasm: resistance × {inward} in, × {outward} out"),
                &format!(
                    "the airways tighten and resist {inward} times as much to gas flowing in, \
                     {outward} times to gas flowing out"
                ),
                "bronchospasm over",
                "the airways are wide again",
            )
        }
        Fault::Mucus => {
            let area = said(100.0 * (1.0 - 0.7 * severity));
            all(
                &format!("mucus leaves {area} % of the airways"),
                &format!("mucus narrows the airways to {area} % of their area"),
                "mucus cleared",
                "the mucus is cleared",
            )
        }
        Fault::ClosedPneumothorax => all(
            &format!("pneumothorax takes {} % of the lung", times(65.0)),
            &format!("air around the lung takes {} % of it out of play", times(65.0)),
            "pneumothorax over",
            "the whole lung is in play again",
        ),
        Fault::TensionPneumothorax => all(
            "tension pneumothorax",
            "a hole lets gas from the lung into the chest and not back",
            "hole in the lung sealed",
            "the hole in the lung is sealed, and the gas in the chest stays",
        ),
        Fault::OpenPneumothorax => all(
            "open pneumothorax",
            "a hole opens the lung to the chest, and a wound the chest to the room",
            "lung and chest closed",
            "the holes in lung and chest are closed, and the gas in the chest stays",
        ),
        Fault::CompressedChest => all(
            &format!("chest pressed by {} cmH2O", times(5.0)),
            &format!("the chest is pressed by {} cmH2O and stiffer", times(5.0)),
            "chest free",
            "the chest is free again",
        ),
        Fault::CompressedAbdomen => all(
            &format!("abdomen pressed by {} cmH2O", times(13.6)),
            &format!(
                "the abdomen is filled or leant on with {} cmH2O, half of which reaches the chest",
                times(13.6)
            ),
            "abdomen free",
            "the abdomen is free again",
        ),
        Fault::OneLungIntubation if whole => all(
            "tube in one main bronchus",
            "the tube slips into one main bronchus",
            "tube drawn back",
            "the tube is drawn back",
        ),
        Fault::OneLungIntubation => all(
            &format!("tube leaves {left} % of the way to one lung"),
            &format!("the tube slips on and leaves {left} % of the way to one lung"),
            "tube drawn back",
            "the tube is drawn back",
        ),
        Fault::OwnBreaths => all(
            &format!("own breaths of {} cmH2O", times(10.0)),
            &format!("the patient breathes in by itself with {} cmH2O", times(10.0)),
            "own breaths over",
            "the patient no longer breathes by itself",
        ),
        Fault::Coughing => all(
            &format!("coughs of {} cmH2O", times(30.0)),
            &format!("the patient coughs with {} cmH2O", times(30.0)),
            "coughs over",
            "the patient no longer coughs",
        ),
        Fault::Bracing => all(
            &format!("bracing with {} cmH2O", times(8.0)),
            &format!("the patient braces its chest with {} cmH2O, in bouts", times(8.0)),
            "bracing over",
            "the patient no longer braces",
        ),
        Fault::KinkedTube if whole => {
            all("tube shut", "the tube is shut", "tube free", "the tube is free again")
        }
        Fault::KinkedTube => all(
            &format!("tube narrowed to {left} %"),
            &format!("the tube is narrowed to {left} % of its area"),
            "tube free",
            "the tube is free again",
        ),
        Fault::FlapAgainstExpiration | Fault::FlapAgainstInspiration => {
            let (free, blocked) = match fault {
                Fault::FlapAgainstExpiration => ("in", "out"),
                _ => ("out", "in"),
            };
            let way = if whole { "none".to_owned() } else { format!("{left} %") };
            all(
                &format!("flap: all the way {free}, {way} {blocked}"),
                &format!(
                    "a flap in the tube leaves gas all of the way {free} and {way} of it {blocked}"
                ),
                "flap gone",
                "the flap is gone",
            )
        }
        Fault::CuffLeak => {
            let seal = said(25.0 * (1.0 - severity));
            all(
                &format!("cuff seals to {seal} cmH2O"),
                &format!("the cuff loses its pressure and seals to {seal} cmH2O at most"),
                "cuff seals",
                "the cuff seals again",
            )
        }
        Fault::CircuitLeak => all(
            &format!("leak {} mL/min at 30 cmH2O", times(9000.0)),
            &format!("a gap in the circuit lets out {} mL/min at 30 cmH2O", times(9000.0)),
            "leak closed",
            "the leak is closed",
        ),
        Fault::CircuitHole => all(
            &format!("hole: {} mL/min at 10 cmH2O", times(3000.0)),
            &format!("a hole in the circuit lets out {} mL/min at 10 cmH2O", times(3000.0)),
            "hole closed",
            "the hole is closed",
        ),
        Fault::PatientDisconnected => all(
            "tube off the T-piece",
            "the tube comes off the T-piece",
            "tube back on the T-piece",
            "the tube is back on the T-piece",
        ),
        Fault::FreshGasHoseOff => all(
            "fresh gas hose off",
            "the fresh gas hose comes off",
            "fresh gas hose back on",
            "the fresh gas hose is back on",
        ),
        Fault::LimbDisconnected => all(
            "limb off the valve",
            "the limb comes off the valve",
            "limb back on the valve",
            "the limb is back on the valve",
        ),
        Fault::LimbBlocked => all(
            &if whole { "limb blocked".to_owned() } else { format!("limb narrowed to {left} %") },
            &if whole {
                "the expiratory limb is blocked".to_owned()
            } else {
                format!("the expiratory limb is narrowed to {left} % of its area")
            },
            "limb free",
            "the expiratory limb is free again",
        ),
        Fault::ScavengingBlocked => all(
            &if whole {
                "scavenging blocked".to_owned()
            } else {
                format!("scavenging narrowed to {left} %")
            },
            &if whole {
                "the scavenging is blocked".to_owned()
            } else {
                format!("the scavenging is narrowed to {left} % of its area")
            },
            "scavenging free",
            "the scavenging is free again",
        ),
        Fault::WaterInLimb => all(
            &format!("water in limb {} cmH2O", times(10.0)),
            &format!(
                "water gathers in the limb, and gas bubbles out through {} cmH2O",
                times(10.0)
            ),
            "limb drained",
            "the limb is drained",
        ),
        Fault::ValveStuckOpen => all(
            "valve stuck open",
            "the outlet valve sticks open",
            "valve works",
            "the outlet valve works again",
        ),
        Fault::ValveStuckShut => all(
            "valve stuck shut",
            "the outlet valve sticks shut",
            "valve works",
            "the outlet valve works again",
        ),
        Fault::SenseLineOff => all(
            "sense line off",
            "the pressure sensing line comes off",
            "sense line back on",
            "the pressure sensing line is back on",
        ),
        Fault::SenseLineBlocked => all(
            "sense line blocked",
            "the pressure sensing line is blocked",
            "sense line free",
            "the pressure sensing line is free again",
        ),
        Fault::GaugeReadsHigh | Fault::GaugeReadsLow => {
            let way = if fault == Fault::GaugeReadsHigh { "much" } else { "little" };
            all(
                &format!("gauge reads {} cmH2O too {way}", times(5.0)),
                &format!("the ventilator's gauge reads {} cmH2O too {way}", times(5.0)),
                "gauge right",
                "the ventilator's gauge is right again",
            )
        }
        Fault::FreshGasFailing => all(
            &if whole { "no fresh gas".to_owned() } else { format!("fresh gas {left} %") },
            &if whole {
                "the fresh gas fails".to_owned()
            } else {
                format!("the fresh gas falls to {left} % of what is set")
            },
            "fresh gas back",
            "the fresh gas is back",
        ),
        Fault::CylinderEmptying => {
            let (now, empty) = (exp(-4.0 * severity), exp(-4.0));
            let left = said(100.0 * ((now - empty) / (1.0 - empty)).max(0.0));
            all(
                &if whole {
                    "cylinder empty".to_owned()
                } else {
                    format!("cylinder gives {left} %")
                },
                &if whole {
                    "the cylinder runs out".to_owned()
                } else {
                    format!("the cylinder runs down and gives {left} % of the flow")
                },
                "full cylinder",
                "a full cylinder is on",
            )
        }
        Fault::OxygenFlush => all(
            &format!("oxygen flush {} L/min", times(35.0)),
            &format!("the oxygen flush adds {} L/min", times(35.0)),
            "oxygen flush released",
            "the oxygen flush is released",
        ),
    }
}
