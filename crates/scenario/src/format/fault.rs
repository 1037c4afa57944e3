//! Faults by name, and when they come and go.

use tidewright::fault::Fault;

use super::LONGEST_RUN_S;
use crate::read::{any, block, choice, number};

block! {
    /// A fault of patient, tube, circuit, ventilator or supply, as a change of
    /// physics from its exact time on. Faults lie on top of what the timeline sets,
    /// in the order of their list, each on what those before it have left.
    pub struct TimedFault {
        /// When it begins, from the start of the run.
        at_s: f64 = number(0.0, LONGEST_RUN_S),
        /// What is wrong, and how badly.
        fault: FaultKind = any(),
        /// How it comes.
        onset: Onset = any().or_word("Step"),
        /// When it is put right, at once. Gas that a pneumothorax has gathered stays.
        until_s: Option<f64> = number(0.0, LONGEST_RUN_S).or_nothing("it stays to the end"),
    }
}

choice! {
    /// How a fault comes.
    pub enum Onset {
        /// All at once.
        Step,
        /// Bit by bit, in twenty equal steps.
        Ramp(Ramp),
    }
}

block! {
    /// A fault that gets worse bit by bit.
    pub struct Ramp {
        /// How long it takes to get as bad as its severity.
        s: f64 = number(0.1, LONGEST_RUN_S),
    }
}

block! {
    /// How bad a fault is.
    pub struct Severity {
        /// From 0, not there, to 1, as bad as the list says.
        severity: f64 = number(0.0, 1.0).or(1.0),
    }
}

choice! {
    /// A fault by its name, alone for all of it or with a severity:
    /// `KinkedTube(severity: 0.6)`. What each does and shows:
    /// `tidewright signs`, and the library's page on faults.
    pub enum FaultKind {
        /// Bronchospasm: the airways resist 4 times as much to gas flowing in, 8 times to gas flowing out.
        Bronchospasm(Severity),
        /// Mucus narrows the airways to 0.3 of their area.
        Mucus(Severity),
        /// Air around the lung, no more and no less, takes 0.65 of it out of play.
        ClosedPneumothorax(Severity),
        /// A hole of 200 cmH2O·s/L lets gas from the lung into the chest and not back: more with every breath.
        TensionPneumothorax(Severity),
        /// Holes of 100 cmH2O·s/L lead from the lung into the chest and from there to the room.
        OpenPneumothorax(Severity),
        /// Hands or instruments press on the chest with 5 cmH2O and stiffen it: lung and chest wall together have 0.7 of their compliance.
        CompressedChest(Severity),
        /// Gas or weight in the abdomen, such as 10 mmHg: 6.8 cmH2O reach the chest, and lung and chest wall have 0.7 of their compliance.
        CompressedAbdomen(Severity),
        /// The tube is in one main bronchus: the other half of the lung is shut off.
        OneLungIntubation(Severity),
        /// The patient breathes in by itself with 10 cmH2O for 1 s, every 3 s.
        OwnBreaths(Severity),
        /// The patient coughs with 30 cmH2O, every 3 s.
        Coughing(Severity),
        /// The patient braces its chest with 8 cmH2O for 1.5 s, every 5 s.
        Bracing(Severity),
        /// The tube is kinked, bitten or blocked: shut; its area is 1 − severity.
        KinkedTube(Severity),
        /// A flap lets gas in and not out; its area is 1 − severity.
        FlapAgainstExpiration(Severity),
        /// A flap lets gas out and not in; its area is 1 − severity.
        FlapAgainstInspiration(Severity),
        /// The cuff is flat; it seals to 25 cmH2O · (1 − severity).
        CuffLeak(Severity),
        /// A gap in the circuit: 9000 mL/min at 30 cmH2O, in proportion to pressure.
        CircuitLeak(Severity),
        /// A hole in the circuit: 3000 mL/min at 10 cmH2O, with the square root of pressure.
        CircuitHole(Severity),
        /// The tube is off the T-piece.
        PatientDisconnected,
        /// The fresh gas hose is off the T-piece, and its inlet open.
        FreshGasHoseOff,
        /// The limb is off the valve.
        LimbDisconnected,
        /// The expiratory limb is blocked; its area is 1 − severity.
        LimbBlocked(Severity),
        /// The scavenging behind the valve is blocked; its area is 1 − severity.
        ScavengingBlocked(Severity),
        /// Gas bubbles out through 10 cmH2O of water.
        WaterInLimb(Severity),
        /// The outlet valve never shuts.
        ValveStuckOpen,
        /// The outlet valve never opens.
        ValveStuckShut,
        /// The pressure line is off: the ventilator reads 0.
        SenseLineOff,
        /// The pressure line is blocked: the ventilator goes on reading its resting pressure.
        SenseLineBlocked,
        /// The ventilator reads 5 cmH2O too much.
        GaugeReadsHigh(Severity),
        /// The ventilator reads 5 cmH2O too little.
        GaugeReadsLow(Severity),
        /// No fresh gas; 1 − severity of the flow is left.
        FreshGasFailing(Severity),
        /// The cylinder is empty; with a ramp the flow dies away as its pressure does.
        CylinderEmptying(Severity),
        /// The oxygen flush: 35 L/min more.
        OxygenFlush(Severity),
    }
}

impl FaultKind {
    /// The same for the engine: which fault, and how bad, 0 to 1.
    #[must_use]
    pub fn to_core(&self) -> (Fault, f64) {
        macro_rules! faults {
            ($($graded:ident)*; $($switch:ident)*) => {
                match self {
                    $(Self::$graded(how) => (Fault::$graded, how.severity),)*
                    $(Self::$switch => (Fault::$switch, 1.0),)*
                }
            };
        }
        faults!(
            Bronchospasm Mucus ClosedPneumothorax TensionPneumothorax OpenPneumothorax
            CompressedChest CompressedAbdomen OneLungIntubation OwnBreaths Coughing Bracing
            KinkedTube FlapAgainstExpiration FlapAgainstInspiration CuffLeak CircuitLeak
            CircuitHole LimbBlocked ScavengingBlocked WaterInLimb GaugeReadsHigh GaugeReadsLow
            FreshGasFailing CylinderEmptying OxygenFlush;
            PatientDisconnected FreshGasHoseOff LimbDisconnected ValveStuckOpen ValveStuckShut
            SenseLineOff SenseLineBlocked
        )
    }

    /// How bad it is, 0 to 1; nothing for a fault that is there or not.
    pub fn severity_mut(&mut self) -> Option<&mut f64> {
        macro_rules! graded {
            ($($graded:ident)*) => {
                match self {
                    $(Self::$graded(how) => Some(&mut how.severity),)*
                    Self::PatientDisconnected
                    | Self::FreshGasHoseOff
                    | Self::LimbDisconnected
                    | Self::ValveStuckOpen
                    | Self::ValveStuckShut
                    | Self::SenseLineOff
                    | Self::SenseLineBlocked => None,
                }
            };
        }
        graded!(
            Bronchospasm Mucus ClosedPneumothorax TensionPneumothorax OpenPneumothorax
            CompressedChest CompressedAbdomen OneLungIntubation OwnBreaths Coughing Bracing
            KinkedTube FlapAgainstExpiration FlapAgainstInspiration CuffLeak CircuitLeak
            CircuitHole LimbBlocked ScavengingBlocked WaterInLimb GaugeReadsHigh GaugeReadsLow
            FreshGasFailing CylinderEmptying OxygenFlush
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// `KinkedTube` as `kinked-tube`.
    fn in_kebab_case(word: &str) -> String {
        let hyphened = word.chars().flat_map(|c| {
            c.is_ascii_uppercase().then_some('-').into_iter().chain([c.to_ascii_lowercase()])
        });
        hyphened.skip(1).collect()
    }

    #[test]
    fn every_fault_of_the_engine_has_its_word_and_a_severity_unless_it_is_a_switch() {
        let words = FaultKind::SHAPE.words;
        assert_eq!(words.len(), Fault::ALL.len());
        for (word, fault) in words.iter().zip(Fault::ALL) {
            assert_eq!(in_kebab_case(word.name), fault.name());
            assert_eq!(word.payload.is_none(), fault.is_switch(), "{fault}");
        }
    }
}
