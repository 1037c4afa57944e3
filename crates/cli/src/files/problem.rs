//! What keeps a command from being carried out, with a way to mend it.

use std::io;

use miette::Diagnostic;
use thiserror::Error;
use tidewright_figures::{DrawFileError, FigureError};
use tidewright_scenario::Rejected;
use tidewright_scenario::report::RunError;

use crate::exit::Exit;

/// What keeps a command from being carried out.
#[derive(Debug, Diagnostic, Error)]
pub enum Problem {
    /// The options do not go together, or not with the scenario.
    #[error("{what}")]
    Usage {
        what: String,
        #[help]
        mend: String,
    },
    #[error(transparent)]
    #[diagnostic(transparent)]
    NotValid(Box<Rejected>),
    /// A valid scenario that comes to a point where it cannot go on.
    #[error("{file} cannot be run to its end: {source}")]
    #[diagnostic(help("change the settings that hold at that time"))]
    CannotRun { file: String, source: RunError },
    /// A valid scenario that a study cannot be made of.
    #[error("{what}")]
    Study {
        what: String,
        #[help]
        mend: String,
    },
    /// A file of another kind than a scenario, such as a roster, that is not valid.
    #[error("{what}")]
    File {
        what: String,
        #[help]
        mend: String,
    },
    #[error("{what}")]
    Read {
        what: String,
        #[help]
        mend: Option<String>,
    },
    #[error("{what}")]
    Write {
        what: String,
        #[help]
        mend: Option<String>,
    },
    #[error("the figure cannot be drawn: {source}")]
    Figure { source: FigureError },
    /// A valid figure file whose run cannot be drawn.
    #[error("{file} cannot be drawn: {source}")]
    FigureFile { file: String, source: DrawFileError },
}

impl Problem {
    /// The code to end with.
    pub fn exit(&self) -> Exit {
        match self {
            Self::Usage { .. } => Exit::Usage,
            Self::NotValid(_)
            | Self::CannotRun { .. }
            | Self::Study { .. }
            | Self::File { .. }
            | Self::FigureFile { .. } => Exit::NotValid,
            Self::Read { .. } | Self::Write { .. } => Exit::ReadOrWrite,
            Self::Figure { source } => match source {
                FigureError::Window { .. }
                | FigureError::Empty { .. }
                | FigureError::Dpi { .. }
                | FigureError::NoLetter { .. } => Exit::Usage,
                _ => Exit::Internal,
            },
        }
    }

    /// Options that do not go together, or not with the scenario.
    pub fn usage(what: impl Into<String>, mend: impl Into<String>) -> Self {
        Self::Usage { what: what.into(), mend: mend.into() }
    }

    /// Something that a study cannot be made of.
    pub fn study(what: impl Into<String>, mend: impl Into<String>) -> Self {
        Self::Study { what: what.into(), mend: mend.into() }
    }

    /// A run that came to an early end.
    pub fn run(file: &str, source: RunError) -> Self {
        match source {
            RunError::Write(error) => error.into(),
            source => Self::CannotRun { file: file.to_owned(), source },
        }
    }
}

impl From<Rejected> for Problem {
    fn from(rejected: Rejected) -> Self {
        Self::NotValid(Box::new(rejected))
    }
}

/// From writing; the writers of this program say in the error what they write to.
impl From<io::Error> for Problem {
    fn from(error: io::Error) -> Self {
        Self::Write { what: error.to_string(), mend: None }
    }
}

impl From<FigureError> for Problem {
    fn from(source: FigureError) -> Self {
        Self::Figure { source }
    }
}

/// Why the system refuses, in words.
pub fn reason(error: &io::Error) -> String {
    match error.kind() {
        io::ErrorKind::NotFound => "there is no such file or folder".to_owned(),
        io::ErrorKind::PermissionDenied => "you have no permission for that".to_owned(),
        io::ErrorKind::IsADirectory => "it is a folder".to_owned(),
        io::ErrorKind::AlreadyExists => "a file of that name is there".to_owned(),
        io::ErrorKind::StorageFull => "there is no room left".to_owned(),
        io::ErrorKind::ReadOnlyFilesystem => "that place is read-only".to_owned(),
        _ => error.to_string(),
    }
}
