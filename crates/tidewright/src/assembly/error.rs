//! What cannot be joined, and what cannot be run.

use thiserror::Error;

use crate::setup::SetupError;

/// Two ports that cannot be joined or parted.
#[derive(Clone, Debug, Error, PartialEq, Eq)]
pub enum JoinError {
    /// There is no part of that name.
    #[error("there is no part `{name}`: the parts are {parts}")]
    NoSuchPart {
        /// The name given.
        name: String,
        /// The names there are.
        parts: String,
    },
    /// The part has no such port.
    #[error("`{part}` has no port `{port}`: write {ports}")]
    NoSuchPort {
        /// The part.
        part: String,
        /// The port given.
        port: String,
        /// Its ports.
        ports: String,
    },
    /// A part of that name lies there already.
    #[error("there is a part `{name}` already: give this one another name")]
    NameTaken {
        /// The name.
        name: String,
    },
    /// Something is on the port already.
    #[error("`{port}` is on `{on}` already: part them first")]
    Taken {
        /// The port.
        port: String,
        /// What it is joined to.
        on: String,
    },
    /// Nothing is on the port.
    #[error("`{port}` is on nothing, so there is nothing to part")]
    NotJoined {
        /// The port.
        port: String,
    },
    /// The fittings do not go together.
    #[error("`{a}` ({a_is}) does not fit `{b}` ({b_is}): look for one of its own kind")]
    DoesNotFit {
        /// One port.
        a: String,
        /// Its fitting.
        a_is: &'static str,
        /// The other port.
        b: String,
        /// Its fitting.
        b_is: &'static str,
    },
}

/// An assembly that makes no machine, by the port that stands in the way.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum AssemblyError {
    /// A part that there must be is not there, or is there twice.
    #[error("there must be one {part} and there are {count}: lay out one")]
    Count {
        /// Which part.
        part: &'static str,
        /// How many there are.
        count: usize,
    },
    /// No T-piece is joined to anything.
    #[error(
        "`{port}` is on no T-piece, so fresh gas and patient do not meet: join a T-piece between \
         patient and limb"
    )]
    NoTPiece {
        /// The port from which none is reached.
        port: String,
    },
    /// Gas would go round in a ring.
    #[error("from `{port}` the way comes back to itself: part it there")]
    Ring {
        /// Where it closes.
        port: String,
    },
    /// A part stands where the model has no place for it.
    #[error("`{port}` is no place for {what}: {mend}")]
    Misplaced {
        /// The port.
        port: String,
        /// What is there.
        what: &'static str,
        /// One way to mend it.
        mend: &'static str,
    },
    /// A number of a part cannot be.
    #[error("at `{port}`, {what} is {value}, and must be {expected}")]
    Part {
        /// A port of the part.
        port: String,
        /// Which number.
        what: &'static str,
        /// The value given.
        value: f64,
        /// What it must be.
        expected: &'static str,
    },
    /// Gas comes in at a port of a rigid circuit and has no way out.
    #[error(
        "gas comes in at `{port}` and has no way out of a circuit without give: open a way, or give a \
         part its compliance"
    )]
    NoWayOut {
        /// Where it comes in.
        port: String,
    },
    /// What was put together cannot be run.
    #[error("what is joined to `{port}` cannot be run: {error}")]
    Setup {
        /// The port at the patient.
        port: String,
        /// Why.
        error: SetupError,
    },
}
