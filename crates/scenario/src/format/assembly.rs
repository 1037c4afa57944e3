//! A circuit put together from parts.

use super::RESISTANCE;
use crate::read::{Rule, any, block, choice, list, number, text};

const VOLUME: Rule = number(0.0, 20_000.0);
const COMPLIANCE: Rule = number(0.0, 100.0);
const FROM_ZERO: Rule = number(0.0, 100_000.0);
const PORT: Rule = text(80).hint("write a part and its port, such as `t-piece.limb`");

block! {
    /// A circuit put together from parts, instead of `circuit`: what it starts from, then
    /// parts that are laid out, ports that are parted and ports that are joined, in this
    /// order. A port is written `part.port`. Its adapter, limb, bag and inlet are those of
    /// the gas as well.
    ///
    /// The ready-made circuit has the parts `gas-supply`, `flowmeter`, `hose`, `t-piece`,
    /// `connector`, `patient`, `limb`, `ventilator`, `sensing-line`, `waste-tube` and, on
    /// the table, `plug`; joined, it is the `circuit` that a file without one has.
    pub struct Assembly {
        /// What it starts from.
        start: AssemblyStart = any().or_word("ReadyMade"),
        /// Parts that are laid out. One whose name is there already takes its place.
        parts: Vec<NamedPart> = list(0, 60).or_empty(),
        /// Ports that are parted from what is on them.
        parted: Vec<PartedPort> = list(0, 60).or_empty(),
        /// Ports that are joined.
        joined: Vec<JoinedPorts> = list(0, 60).or_empty(),
    }
}

block! {
    /// What is otherwise on a table: parts that take the place of those of their name or
    /// lie there besides, ports that are parted and ports that are joined, in this order.
    pub struct OtherParts {
        /// Parts.
        parts: Vec<NamedPart> = list(0, 60).or_empty(),
        /// Ports that are parted from what is on them.
        parted: Vec<PartedPort> = list(0, 60).or_empty(),
        /// Ports that are joined.
        joined: Vec<JoinedPorts> = list(0, 60).or_empty(),
    }
}

choice! {
    /// What an assembly starts from.
    #[derive(Copy, Eq)]
    pub enum AssemblyStart {
        /// The ready-made circuit, joined.
        ReadyMade,
        /// Nothing: every part is laid out here.
        Nothing,
    }
}

block! {
    /// A part with its name.
    pub struct NamedPart {
        /// Its name: small letters, digits and hyphens.
        name: String = text(40),
        /// What it is.
        part: Part = any(),
        /// Bore of a hole in its wall; 0 for none.
        crack_mm: f64 = number(0.0, 30.0).or(0.0),
    }
}

block! {
    /// A port that is parted from what is on it.
    pub struct PartedPort {
        /// The port, such as `limb.far`.
        port: String = PORT,
    }
}

block! {
    /// Two ports that are joined.
    pub struct JoinedPorts {
        /// One port, such as `limb.far`.
        a: String = PORT,
        /// The other, such as `ventilator.patient-side`.
        b: String = PORT,
        /// Whether they are only pushed on, and leak.
        pushed_on: bool = any().or_word("false"),
    }
}

choice! {
    /// A part, with its ports.
    pub enum Part {
        /// The patient: `tube`.
        Patient,
        /// A test lung in its place: `neck`.
        TestLung(TestLungPart),
        /// The ventilator: `patient-side`, `sensing`, `outlet`.
        Ventilator(VentilatorPart),
        /// A cylinder or pipeline that is open: `out`.
        GasSupply,
        /// A flowmeter: `in`, `nipple`.
        Flowmeter,
        /// The fresh gas hose: `machine-end`, `patient-end`.
        Hose,
        /// A T-piece: `patient`, `limb`, `fresh-gas`, `sense`.
        TPiece(TPiecePart),
        /// A wide tube, such as the limb: `near`, `far`.
        Tubing(TubingPart),
        /// A connector or adapter: `near`, `far`, and `side` where it has a tap.
        Adapter(ShortPart),
        /// A filter: as an adapter.
        Filter(ShortPart),
        /// The line by which the ventilator senses pressure: `line-near`, `line-far`.
        SensingLine(LinePart),
        /// The line of a monitor: `line-near`.
        SamplingLine(SamplingPart),
        /// A bag with a tail: `neck`, `tail`.
        Bag(BagPart),
        /// A waste tube: `neck`.
        WasteTube(WastePart),
        /// The way into a scavenging system: `neck`.
        Scavenging(ScavengingPart),
        /// A plug: `end`.
        Plug,
        /// A thumb that holds a port shut: `end`.
        Thumb,
    }
}

block! {
    /// A test lung.
    pub struct TestLungPart {
        /// Its compliance.
        compliance_ml_cmh2o: f64 = number(0.001, 10_000.0),
        /// Resistance of its neck.
        resistance_cmh2o_s_l: f64 = RESISTANCE,
    }
}

block! {
    /// A ventilator as a part.
    pub struct VentilatorPart {
        /// Resistance of its open valve.
        valve_resistance_cmh2o_s_l: f64 = RESISTANCE.or(2.0),
        /// Gas before the valve.
        volume_ml: f64 = VOLUME.or(4.0),
        /// What that and its walls take up.
        compliance_ml_cmh2o: f64 = COMPLIANCE.or(0.01),
        /// Pressure at which a relief valve of 5 cmH2O·s/L opens.
        relief_cmh2o: Option<f64> = number(0.0, 200.0).or_nothing("no relief valve"),
    }
}

block! {
    /// A T-piece.
    pub struct TPiecePart {
        /// Gas in the leg meant for the patient, with its extension.
        patient_leg_ml: f64 = VOLUME.or(1.0),
        /// Gas in the leg meant for the limb.
        limb_leg_ml: f64 = VOLUME.or(1.0),
        /// What gas and walls take up.
        compliance_ml_cmh2o: f64 = COMPLIANCE.or(0.02),
    }
}

block! {
    /// A wide tube.
    pub struct TubingPart {
        /// Gas in it.
        volume_ml: f64 = VOLUME.or(95.0),
        /// What gas and walls take up: gas alone takes its volume over 1033.
        compliance_ml_cmh2o: f64 = COMPLIANCE.or(0.12),
        /// Its resistance.
        resistance_cmh2o_s_l: f64 = FROM_ZERO.or(3.0),
    }
}

block! {
    /// A short wide part.
    pub struct ShortPart {
        /// Gas in it.
        volume_ml: f64 = VOLUME.or(1.0),
        /// Its resistance; a wet filter has a high one.
        resistance_cmh2o_s_l: f64 = FROM_ZERO.or(0.0),
        /// Whether it has a tap at its side.
        tap: bool = any().or_word("false"),
    }
}

block! {
    /// A thin line.
    pub struct LinePart {
        /// Its bore.
        bore_mm: f64 = number(0.1, 20.0).or(2.0),
        /// Its length.
        length_cm: f64 = number(1.0, 1000.0).or(150.0),
        /// Bore of a split half-way along it; 0 for none.
        split_mm: f64 = number(0.0, 20.0).or(0.0),
    }
}

block! {
    /// The line of a monitor that draws gas.
    pub struct SamplingPart {
        /// What it draws.
        ml_min: f64 = number(0.0, 1000.0).or(50.0),
    }
}

block! {
    /// A bag with a tail.
    pub struct BagPart {
        /// What it holds before it stretches.
        ml: f64 = number(1.0, 50_000.0).or(500.0),
        /// Resistance of its free tail.
        tail_cmh2o_s_l: f64 = FROM_ZERO.or(2.0),
        /// How much of its tail is free: 100 for an open tail, 0 for a closed one.
        open_percent: f64 = number(0.0, 100.0).or(100.0),
    }
}

block! {
    /// A waste tube.
    pub struct WastePart {
        /// Its resistance.
        resistance_cmh2o_s_l: f64 = FROM_ZERO.or(0.0),
        /// Whether nothing passes.
        blocked: bool = any().or_word("false"),
    }
}

block! {
    /// The way into a scavenging system.
    pub struct ScavengingPart {
        /// Resistance of the way in.
        resistance_cmh2o_s_l: f64 = FROM_ZERO.or(1.0),
        /// How far below the room its suction holds it; 0 for a passive one.
        pulls_cmh2o: f64 = number(0.0, 100.0).or(0.0),
        /// Whether it lets room air in before it pulls, and gas out before it holds up.
        relief: bool = any().or_word("true"),
        /// Whether nothing passes beyond it.
        blocked: bool = any().or_word("false"),
    }
}
