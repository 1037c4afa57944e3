//! How the program ends.

use std::process::ExitCode;

/// What the code at the end says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Exit {
    /// Done.
    Done = 0,
    /// Done, and what was asked is not met: an attempt that did not pass.
    NotMet = 1,
    /// The command line asks for something that cannot be done.
    Usage = 2,
    /// A file is not valid: a scenario, a log, a roster that names nobody or one twice.
    NotValid = 3,
    /// Something cannot be read or written.
    ReadOrWrite = 4,
    /// A fault of the program itself.
    Internal = 70,
    /// Stopped by Ctrl-C or by the system, before it was done.
    Stopped = 130,
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> Self {
        Self::from(exit as u8)
    }
}
