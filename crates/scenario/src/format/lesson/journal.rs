//! A session under way, a line for everything that happens.

use super::act::SEED;
use crate::format::{Act, Dealt, Id, LONGEST_RUN_S, Note, TimedAct};
use crate::read::{any, block, choice, list, number, text};

choice! {
    /// A line of a journal.
    pub enum Entry {
        /// The first line: whose session it is.
        Journal(Begun),
        /// An act that was done.
        Did(TimedAct),
        /// The next link of an exam's chain: of the act before it.
        Linked(Linked),
        /// An act that was asked for and not done at once.
        Asked(Asked),
        /// The acts that wait from now on, each with when it was asked for.
        Waits(Waits),
        /// The session had come so far.
        Clock(Moment),
        /// It was cut off.
        CutOff(CutOff),
        /// It was taken up again where it was cut off.
        TakenUp(CutOff),
        /// It is over: the last line.
        Ended(Moment),
    }
}

block! {
    /// Whose session a journal is of.
    pub struct Begun {
        /// Version of the format.
        format: u32 = number(1.0, 1.0),
        /// The scenario's `id`.
        scenario: Id = text(64),
        /// Seed of the session: it draws the case.
        seed: u32 = SEED,
        /// Version of the program that keeps the log.
        engine: String = text(40),
        /// Revision of the model that it is kept under: under another one the numbers differ.
        model: Option<u32> = number(1.0, 1e6).or_nothing("revision 1"),
        /// A pseudonym; never a name.
        pseudonym: Id = text(64),
        /// What a class was dealt for this student.
        dealt: Option<Dealt> = any().or_nothing("the scenario's own patient and severities"),
        /// The how-manieth sitting of an exam it is.
        sitting: Option<u32> = number(1.0, 1000.0).or_nothing("it is practice"),
    }
}

block! {
    /// A link of the chain of an exam's acts.
    pub struct Linked {
        /// The link.
        to: String = text(64),
    }
}

block! {
    /// A time of a session.
    pub struct Moment {
        /// When, from the start of the session.
        at_s: f64 = number(0.0, LONGEST_RUN_S),
    }
}

block! {
    /// An act that was asked for and not done at once.
    pub struct Asked {
        /// When it was asked for, from the start of the session.
        at_s: f64 = number(0.0, LONGEST_RUN_S),
        /// What was asked for.
        act: Act = any(),
        /// What came of it.
        then: Then = any(),
    }
}

choice! {
    /// What came of an act that was not done at once.
    pub enum Then {
        /// Hands were busy; it was done as soon as they were free.
        Done(Moment),
        /// It was taken back before that.
        TakenBack(Moment),
        /// It could not be done, for a reason.
        Refused(Note),
    }
}

block! {
    /// Acts that wait.
    pub struct Waits {
        /// Each with when it was asked for.
        acts: Vec<TimedAct> = list(0, 100).or_empty(),
    }
}

block! {
    /// An end that the student did not choose.
    pub struct CutOff {
        /// When, from the start of the session.
        at_s: f64 = number(0.0, LONGEST_RUN_S),
        /// What cut it off.
        by: Cut = any(),
    }
}

choice! {
    /// What cuts a session off.
    #[derive(Copy, Eq)]
    pub enum Cut {
        /// The terminal was closed.
        ClosedTerminal,
        /// Ctrl-C.
        CtrlC,
        /// The system asked the program to end.
        System,
        /// Something could not be read, written or run any further.
        Fault,
        /// Nobody said: the program was killed, or the power was lost.
        Unknown,
    }
}

impl Cut {
    /// In words.
    #[must_use]
    pub fn in_words(self) -> &'static str {
        match self {
            Self::ClosedTerminal => "the terminal was closed",
            Self::CtrlC => "Ctrl-C was pressed",
            Self::System => "the system asked the program to end",
            Self::Fault => "the program could not go on",
            Self::Unknown => "the program was killed, or the power was lost",
        }
    }
}
