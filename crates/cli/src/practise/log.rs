//! Where the log of a session goes.

use std::io::Write as _;
use std::path::{Path, PathBuf};

use tidewright_scenario::format::{Attempt, Begun, Cut, Sitting};
use tidewright_training::Session;
use tidewright_training::exam::Chain;

use super::journal::{Journal, whole_log};
use crate::files::draft::Draft;
use crate::files::input::{shown, shown_output};
use crate::files::partial;
use crate::files::problem::Problem;
use crate::files::stop::LastWords;

/// The log of a session under way.
#[derive(Debug)]
pub enum Log {
    /// A file that holds what happened so far.
    Journal(Journal, LastWords),
    /// Standard output, a device or a pipe: it takes the whole log at the end.
    AtEnd(PathBuf, Box<Draft>),
}

impl Log {
    /// Begins one; that it can be written is known when it is there.
    pub fn begin(target: &Path, begun: Begun, chain: Option<Chain>) -> Result<Self, Problem> {
        if partial::can_be(target) {
            Ok(Self::of(Journal::begin(target, begun, chain)?))
        } else if chain.is_some() {
            let what = format!("{} cannot hold the log of an exam", shown(target));
            Err(Problem::usage(what, "name a file"))
        } else {
            Ok(Self::AtEnd(target.to_path_buf(), Box::new(Draft::begin(target)?)))
        }
    }

    /// Takes one up again; hands back what it holds.
    pub fn take_up(
        place: &Path,
        chain: impl FnOnce(&Attempt) -> Option<Chain>,
    ) -> Result<(Self, Attempt), Problem> {
        let (journal, attempt) = Journal::take_up(place, chain)?;
        Ok((Self::of(journal), attempt))
    }

    fn of(journal: Journal) -> Self {
        let kept = journal.clone();
        Self::Journal(journal, LastWords::begin(move |by| kept.cut(by)))
    }

    /// Where it is.
    pub fn place(&self) -> &Path {
        match self {
            Self::Journal(journal, _) => journal.place(),
            Self::AtEnd(target, _) => target,
        }
    }

    /// What must be known of it before the clock starts.
    pub fn caution(&self) -> Option<String> {
        match self {
            Self::Journal(..) => None,
            Self::AtEnd(target, _) => Some(format!(
                "{} takes the log at the end: if the session is cut off before, it is lost.",
                shown_output(target)
            )),
        }
    }

    /// Writes down what happened since; what must be told of it, if anything.
    pub fn keep(&self, session: &Session) -> Option<String> {
        match self {
            Self::Journal(journal, _) => journal.keep(session),
            Self::AtEnd(..) => None,
        }
    }

    /// Writes down what cut the session off, and says how to go on.
    pub fn cut(&self, by: Cut) -> String {
        match self {
            Self::Journal(journal, _) => journal.cut(by),
            Self::AtEnd(..) => "The session was cut off, and nothing is kept of it.\n".to_owned(),
        }
    }

    /// The sitting of an exam that ends so, if it is one.
    pub fn sitting(&self, number: u32, attempt: &Attempt) -> Option<Sitting> {
        match self {
            Self::Journal(journal, _) => journal.sitting(number, attempt),
            Self::AtEnd(..) => None,
        }
    }

    /// Makes the log whole.
    pub fn finish(self, attempt: &Attempt) -> Result<(), Problem> {
        match self {
            Self::Journal(journal, last_words) => {
                let finished = journal.finish(attempt);
                drop(last_words);
                finished
            }
            Self::AtEnd(_, mut draft) => {
                draft.write_all(whole_log(attempt).as_bytes())?;
                draft.publish()
            }
        }
    }
}
