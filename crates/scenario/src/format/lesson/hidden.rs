//! The pool of cases that a lesson hides.

use crate::format::{
    Amiss, Answer, CardiacOutput, Drive, FaultKind, FreshGasOxygen, Hours, Id, LONGEST_RUN_S,
    Onset, OtherParts, Supply, Temperature,
};
use crate::read::{any, block, choice, list, number, text};

block! {
    /// A case of the pool: what goes wrong and when. The seed draws one case,
    /// and its onset between the two times.
    pub struct Case {
        /// Short name, for the debrief.
        id: Id = text(64),
        /// What it is, in words.
        says: String = text(200),
        /// Earliest onset.
        onset_from_s: f64 = number(0.0, LONGEST_RUN_S),
        /// Latest onset.
        onset_to_s: f64 = number(0.0, LONGEST_RUN_S),
        /// What happens from the onset on; a later stage replaces the one before. A
        /// chest or abdomen that is free again in the last stage, with a severity of 0,
        /// is pressed on purpose: calling the surgeon does not end it sooner.
        course: Vec<Stage> = list(0, 100).or_empty(),
        /// What of patient and gas changes by itself; a later change of a kind replaces
        /// the one before, and none comes after a kind was put right. Needs `gas`.
        changes: Vec<HiddenChange> = list(0, 100).or_empty(),
        /// Right answers in this case, where they are not the questions' own.
        answers: Vec<Answer> = list(0, 12).or_empty(),
        /// The relation behind this case, as `why` of the debrief.
        why: Option<String> = text(2000).or_nothing("the debrief's own"),
        /// What is otherwise on the table in this case, from the start of the session.
        table: Option<OtherParts> = any().or_nothing("the lesson's own"),
        /// The gas supply in this case.
        supply: Option<Supply> = any().or_nothing("the lesson's own"),
        /// What of the lesson's `checks` is not as it should be, from the start.
        amiss: Vec<Amiss> = list(0, 24).or_empty(),
        /// What the ventilator's counters show in this case.
        hours: Option<Hours> = any().or_nothing("the lesson's own"),
    }
}

impl Case {
    /// Whether anything is wrong in it: a pool may hold a healthy patient and sound
    /// equipment. Hours and supply are found and not wrong.
    #[must_use]
    pub fn is_wrong(&self) -> bool {
        !self.course.is_empty()
            || !self.changes.is_empty()
            || !self.amiss.is_empty()
            || self.table.is_some()
    }
}

block! {
    /// A stage of a case.
    pub struct Stage {
        /// Time since the onset.
        after_s: f64 = number(0.0, LONGEST_RUN_S).or(0.0),
        /// What is wrong from then on.
        is: FaultKind = any(),
        /// How it comes.
        onset: Onset = any().or_word("Step"),
    }
}

block! {
    /// Something of patient or gas that changes by itself in a case.
    pub struct HiddenChange {
        /// Time since the onset.
        after_s: f64 = number(0.0, LONGEST_RUN_S).or(0.0),
        /// What, and where it goes.
        set: Hidden = any(),
        /// How it comes.
        onset: Onset = any().or_word("Step"),
    }
}

choice! {
    /// What of patient and gas may change by itself, and which act puts it right.
    pub enum Hidden {
        /// The core temperature. `Warm` and `Cool` come on top, and end no later change.
        Temperature(Temperature),
        /// The cardiac output. The surgeon sees to it when called.
        CardiacOutput(CardiacOutput),
        /// The oxygen in the fresh gas. `SwapCylinder` puts it right.
        FreshGasOxygen(FreshGasOxygen),
        /// The depth of anaesthesia, because the vaporiser has run empty:
        /// `FillVaporiser` puts it right, and until then `Deepen` does nothing. Needs a
        /// patient whose effort is `Drive`.
        Depth(Drive),
        /// The adapter between tube and T-piece; at once. `ChangeAdapter` puts the one of
        /// `gas` back.
        Adapter(Adapter),
        /// The carbon dioxide monitor draws in room air through a loose line: the patient
        /// is as before, the monitor is not. `ReseatJoint` puts it right.
        SamplingLine(SamplingLine),
    }
}

block! {
    /// Another adapter.
    pub struct Adapter {
        /// Gas between the tube and the T-piece.
        ml: f64 = number(0.0, 1000.0),
    }
}

block! {
    /// A sampling line that leaks.
    pub struct SamplingLine {
        /// Room air, of what it draws.
        room_air_percent: f64 = number(0.0, 100.0),
    }
}
