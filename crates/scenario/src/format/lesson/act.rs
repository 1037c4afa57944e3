//! What a student can do, and the log of what one did.

use crate::format::{
    AlarmLimit, Asked, Cut, CutOff, CyclingPressure, Dealt, ExpiratoryTime, FreshGasFlow, Id,
    InspiratoryTimeLimit, LONGEST_RUN_S, Mode, OneCheck, OnePort, Sitting, Thumb, TwoPorts,
};
use crate::read::{Rule, any, block, choice, list, number, text};

/// Seeds are whole numbers that every program can hold.
pub(in crate::format) const SEED: Rule = number(0.0, 4_294_967_295.0);

macro_rules! acts {
    (@plain $act:ident) => { Some(Self::$act) };
    (@plain $act:ident ($with:ty)) => { None };
    ($( $(#[doc = $does:literal])+ $act:ident $(($with:ty))? = $named:literal, )+) => {
        choice! {
            /// An act, with what was set, written or answered.
            pub enum Act { $( $(#[doc = $does])+ $act $(($with))? ),+ }
        }

        choice! {
            /// The name of an act or of a control.
            #[derive(Copy, Eq)]
            pub enum ActName { $( #[doc = $named] $act ),+ }
        }

        impl ActName {
            /// All of them.
            pub const ALL: [Self; [$(stringify!($act)),+].len()] = [$(Self::$act),+];
        }

        impl Act {
            /// The act of a name to which nothing more belongs.
            #[must_use]
            pub const fn plain(name: ActName) -> Option<Self> {
                match name {
                    $(ActName::$act => acts!(@plain $act $(($with))?),)+
                }
            }

            /// Its name.
            #[must_use]
            pub const fn name(&self) -> ActName {
                match self {
                    $(Self::$act { .. } => ActName::$act,)+
                }
            }
        }
    };
}

// Each act once: what it does, its word with what belongs to it, and what its name means.
acts! {
    /// Set the fresh gas flow.
    FreshGasFlow(FreshGasFlow) = "Setting the fresh gas flow.",
    /// Set the cycling pressure.
    CyclingPressure(CyclingPressure) = "Setting the cycling pressure.",
    /// Set the inspiratory time limit.
    InspiratoryTimeLimit(InspiratoryTimeLimit) = "Setting the inspiratory time limit.",
    /// Set the expiratory time.
    ExpiratoryTime(ExpiratoryTime) = "Setting the expiratory time.",
    /// Ventilate or stand by: `Mode(Standby)`.
    Mode(Mode) = "Ventilating or standby.",
    /// Look at chest, tube and circuit.
    Look = "Looking.",
    /// Listen over both sides of the chest and along the circuit.
    Listen = "Listening.",
    /// Take the patient off and hold the patient port shut for a few breaths.
    OccludePort = "Holding the patient port shut.",
    /// Shut outlet and patient port and press a little gas out of what is sealed: a
    /// tight circuit clicks at its cycling pressure.
    Squeeze(Thumb) = "Pressing gas out of what is sealed.",
    /// Read how long the ventilator was in use, and when service is due. Needs
    /// `hours`.
    ReadHours = "Reading the running hours.",
    /// Join two ports of the parts on the table. This act and the next two need
    /// `table`.
    Join(TwoPorts) = "Joining two ports.",
    /// Part a port from what is on it.
    Part(OnePort) = "Parting a port.",
    /// Follow the circuit with hand and eye from the supply to the waste.
    Trace = "Following the circuit.",
    /// Check something in the room: one of `checks`.
    Check(OneCheck) = "Checking something in the room.",
    /// Put right what a check found.
    PutRight(OneCheck) = "Putting right what a check found.",
    /// Read a second pressure gauge at the patient connection.
    CheckGauge = "Reading a second gauge.",
    /// Read the flowmeter and the gas supply.
    CheckSupply = "Reading flowmeter and supply.",
    /// Measure the pressure in the cuff.
    MeasureCuff = "Measuring cuff pressure.",
    /// Bring the cuff to a pressure, by gauge; 0 lets it down.
    InflateCuff(CuffPressure) = "Setting cuff pressure.",
    /// Let the cuff down, as before a tube is moved. A lesson that offers it puts the
    /// cuff into the student's hands: the two acts that move a tube move it alone.
    DeflateCuff = "Letting the cuff down.",
    /// Pass a suction catheter down the tube.
    Suction = "Suction.",
    /// Push home every joint and line of the circuit.
    ReseatJoint = "Pushing joints home.",
    /// Draw the tube back a little, as the veterinary surgeon directs. Where
    /// `DeflateCuff` is not offered, the whole of it: off the circuit, cuff down, tube
    /// back, cuff filled again.
    WithdrawTube = "Drawing the tube back.",
    /// Put in another tube, as the veterinary surgeon directs.
    ChangeTube = "Another tube.",
    /// Turn the patient over. On the circuit or on a bag the tube is dragged along: it
    /// kinks in its cuff, or slips out where the cuff is down.
    TurnPatient = "Turning the patient.",
    /// Let the cuff down and draw the tube out, as the veterinary surgeon directs:
    /// the patient breathes in the room.
    Extubate = "Drawing the tube out.",
    /// Put in another expiratory limb.
    ChangeLimb = "Another limb.",
    /// Put in another ventilator or valve.
    ChangeVentilator = "Another ventilator.",
    /// Take the patient off the ventilator.
    Disconnect = "Taking the patient off.",
    /// Put the patient back on the ventilator.
    Reconnect = "Putting the patient back.",
    /// Ventilate by hand with a separate bag and oxygen; into air under tension in the
    /// chest not at all, or as little as possible.
    HandVentilate = "Ventilating by hand.",
    /// Change to the full cylinder.
    SwapCylinder = "Another cylinder.",
    /// Feel the pulse and look at the gums. This act and those down to
    /// `ChangeAdapter` need `gas`.
    CheckPulse = "Feeling the pulse.",
    /// Take the core temperature.
    CheckTemperature = "Taking the temperature.",
    /// Judge the depth of anaesthesia: eye, jaw, answer to a pinch.
    CheckDepth = "Judging the depth of anaesthesia.",
    /// Read the vaporiser: dial and level.
    CheckVaporiser = "Reading the vaporiser.",
    /// Fill the vaporiser.
    FillVaporiser = "Filling the vaporiser.",
    /// Make anaesthesia a step deeper, as the veterinary surgeon directs: by a tenth
    /// from awake to no breath left.
    Deepen = "Making anaesthesia deeper.",
    /// Make anaesthesia a step lighter, as the veterinary surgeon directs.
    Lighten = "Making anaesthesia lighter.",
    /// Warm the patient: by a degree.
    Warm = "Warming.",
    /// Cool the patient: by a degree.
    Cool = "Cooling.",
    /// Put the adapter of `gas` between tube and T-piece.
    ChangeAdapter = "Another adapter.",
    /// Call the veterinary surgeon.
    CallSurgeon = "Calling the surgeon.",
    /// Write into the anaesthetic record.
    Record(Note) = "Writing the record.",
    /// Answer a question.
    Answer(Answer) = "Answering.",
    /// Commit to a prediction.
    Predict(Guess) = "Predicting.",
    /// Set the limit of an alarm, or take it away.
    SetAlarm(AlarmLimit) = "Setting the limit of an alarm.",
}

block! {
    /// A pressure in the cuff.
    pub struct CuffPressure {
        /// Pressure.
        cmh2o: f64 = number(0.0, 100.0),
    }
}

block! {
    /// A line of the anaesthetic record.
    pub struct Note {
        /// What was written.
        text: String = text(500),
    }
}

block! {
    /// An answer to a question of the scenario.
    pub struct Answer {
        /// The question.
        question: Id = text(64),
        /// Number of the chosen answer, from 1.
        choice: u32 = number(1.0, 12.0),
    }
}

block! {
    /// A prediction, made before the reveal.
    pub struct Guess {
        /// The prediction of the scenario.
        prediction: Id = text(64),
        /// Where it goes.
        goes: Arrow = any(),
    }
}

choice! {
    /// Where a number goes.
    #[derive(Copy, Eq)]
    pub enum Arrow {
        /// It rises.
        Up,
        /// It stays, within a tenth.
        Same,
        /// It falls.
        Down,
    }
}

block! {
    /// What one student did in one session, and when. It is no proof of who did it.
    pub struct Attempt {
        /// Version of the format.
        format: u32 = number(1.0, 1.0),
        /// The scenario's `id`.
        scenario: Id = text(64),
        /// Seed of the session: it draws the case.
        seed: u32 = SEED,
        /// Version of the program that kept the log.
        engine: String = text(40),
        /// Revision of the model that it was kept under: under another one the numbers differ.
        model: Option<u32> = number(1.0, 1e6).or_nothing("revision 1"),
        /// A pseudonym; never a name.
        pseudonym: Id = text(64),
        /// What a class was dealt for this student.
        dealt: Option<Dealt> = any().or_nothing("the scenario's own patient and severities"),
        /// When the session ended, from its start.
        ended_at_s: f64 = number(0.0, LONGEST_RUN_S),
        /// What was done, in order of time.
        acts: Vec<TimedAct> = list(0, 10_000).or_empty(),
        /// What was asked for and not done at once, or not at all.
        asked: Vec<Asked> = list(0, 1000).or_empty(),
        /// The acts that still waited for hands at the end.
        waits: Vec<TimedAct> = list(0, 100).or_empty(),
        /// The sitting of an exam that it is of.
        exam: Option<Sitting> = any().or_nothing("it is practice"),
        /// Where the session was cut off and taken up again later.
        interrupted: Vec<CutOff> = list(0, 1000).or_empty(),
        /// What cut it off for good.
        cut_off: Option<Cut> = any().or_nothing("the student ended it, or it was over"),
    }
}

block! {
    /// An act at a time.
    pub struct TimedAct {
        /// When, from the start of the session.
        at_s: f64 = number(0.0, LONGEST_RUN_S),
        /// What was done.
        act: Act = any(),
    }
}

impl ActName {
    /// Whether it turns a control of the ventilator.
    #[must_use]
    pub fn is_control(self) -> bool {
        matches!(
            self,
            Self::FreshGasFlow
                | Self::CyclingPressure
                | Self::InspiratoryTimeLimit
                | Self::ExpiratoryTime
                | Self::Mode
        )
    }

    /// Whether it means something only where the run follows gas.
    #[must_use]
    pub fn is_of_gas(self) -> bool {
        matches!(
            self,
            Self::CheckPulse
                | Self::CheckTemperature
                | Self::CheckVaporiser
                | Self::FillVaporiser
                | Self::Warm
                | Self::Cool
                | Self::ChangeAdapter
        ) || self.is_of_depth()
    }

    /// Whether it means something only for a patient with a drive of its own.
    #[must_use]
    pub fn is_of_depth(self) -> bool {
        matches!(self, Self::CheckDepth | Self::Deepen | Self::Lighten)
    }
}
