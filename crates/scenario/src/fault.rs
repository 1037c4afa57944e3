//! What can be wrong with a scenario file, and where.
//!
//! A [`Fault`] is a [`Problem`] at a place. All faults of a file come together
//! in a [`Rejected`], which a program prints with `miette` and any other caller
//! reads through [`Rejected::faults`] and [`Rejected::place`].

mod near;
mod phrases;
mod problem;
mod source;
mod words;

use std::fmt;

use miette::{Diagnostic, LabeledSpan, SourceCode};
pub use near::near;
pub use problem::{Home, Problem};
use source::Source;

use crate::text::Span;

/// Most faults of one file that are kept; the others are only counted.
pub const MOST_FAULTS: usize = 20;

/// One fault of a file.
#[derive(Clone, Debug, PartialEq)]
pub struct Fault {
    /// Where it is.
    pub at: Span,
    /// What is wrong.
    pub problem: Problem,
    /// A second place that belongs to it, and what that is.
    pub also: Option<(Span, &'static str)>,
}

impl Fault {
    /// A fault at a place.
    #[must_use]
    pub fn new(at: Span, problem: Problem) -> Self {
        Self { at, problem, also: None }
    }

    /// The same fault, with a second place that belongs to it.
    #[must_use]
    pub fn and(mut self, at: Span, what: &'static str) -> Self {
        self.also = Some((at, what));
        self
    }

    /// A short fixed name of the kind of fault, such as `unknown-field`.
    #[must_use]
    pub fn code(&self) -> &'static str {
        self.problem.words().code
    }

    /// What should stand there.
    #[must_use]
    pub fn expected(&self) -> String {
        self.problem.words().expected
    }

    /// One way to mend it.
    #[must_use]
    pub fn mend(&self) -> String {
        self.problem.words().mend
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.problem.words().message)
    }
}

impl std::error::Error for Fault {}

impl Diagnostic for Fault {
    fn code<'a>(&'a self) -> Option<Box<dyn fmt::Display + 'a>> {
        Some(Box::new(self.code()))
    }

    fn help<'a>(&'a self) -> Option<Box<dyn fmt::Display + 'a>> {
        Some(Box::new(self.mend()))
    }

    fn labels(&self) -> Option<Box<dyn Iterator<Item = LabeledSpan> + '_>> {
        let label = |text: String, at: Span| (Some(text), at.start, at.end - at.start);
        let (text, start, length) = label(format!("expected {}", self.expected()), self.at);
        let first = LabeledSpan::new_primary_with_span(text, (start, length));
        let second = self.also.map(|(at, what)| {
            let (text, start, length) = label(what.to_owned(), at);
            LabeledSpan::new(text, start, length)
        });
        Some(Box::new(std::iter::once(first).chain(second)))
    }
}

/// A file that is not valid: nothing of it is run.
#[derive(Debug)]
pub struct Rejected {
    source: Source,
    faults: Vec<Fault>,
    more: usize,
}

/// A place in a file as people count it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Place {
    /// Line, from 1.
    pub line: usize,
    /// Character within the line, from 1.
    pub column: usize,
}

impl Rejected {
    pub(crate) fn new(name: &str, text: &str, faults: Faults) -> Self {
        let Faults { mut kept, count } = faults;
        let more = count - kept.len();
        kept.sort_by_key(|fault| fault.at);
        Self { source: Source::new(name, text), faults: kept, more }
    }

    pub(crate) fn one(name: &str, text: &str, fault: Fault) -> Self {
        let mut faults = Faults::default();
        faults.push(fault);
        Self::new(name, text, faults)
    }

    /// The faults in the order of the text, at most [`MOST_FAULTS`].
    #[must_use]
    pub fn faults(&self) -> &[Fault] {
        &self.faults
    }

    /// How many further faults were found and not kept.
    #[must_use]
    pub fn more(&self) -> usize {
        self.more
    }

    /// The file's name as it was given.
    #[must_use]
    pub fn file(&self) -> &str {
        self.source.name()
    }

    /// Where a fault is.
    #[must_use]
    pub fn place(&self, fault: &Fault) -> Place {
        self.source.place(fault.at.start)
    }
}

impl fmt::Display for Rejected {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let count = self.faults.len() + self.more;
        let s = if count == 1 { "" } else { "s" };
        write!(f, "{}: {count} fault{s}, nothing was run", self.file())
    }
}

impl std::error::Error for Rejected {}

impl Diagnostic for Rejected {
    fn source_code(&self) -> Option<&dyn SourceCode> {
        Some(&self.source)
    }

    fn related<'a>(&'a self) -> Option<Box<dyn Iterator<Item = &'a dyn Diagnostic> + 'a>> {
        Some(Box::new(self.faults.iter().map(|fault| fault as &dyn Diagnostic)))
    }

    fn help<'a>(&'a self) -> Option<Box<dyn fmt::Display + 'a>> {
        (self.more > 0).then(|| {
            Box::new(format!("and {} more: mend these first", self.more)) as Box<dyn fmt::Display>
        })
    }
}

/// Faults as they are found.
#[derive(Debug, Default)]
#[doc(hidden)]
pub struct Faults {
    kept: Vec<Fault>,
    count: usize,
}

impl Faults {
    pub fn push(&mut self, fault: Fault) {
        self.count += 1;
        if self.kept.len() < MOST_FAULTS {
            self.kept.push(fault);
        }
    }

    pub fn count(&self) -> usize {
        self.count
    }

    /// The same faults of a text that stands further back in another.
    pub fn shifted(self, by: usize) -> impl Iterator<Item = Fault> {
        let shifted = move |at: Span| Span::new(at.start + by, at.end + by);
        self.kept.into_iter().map(move |fault| Fault {
            at: shifted(fault.at),
            also: fault.also.map(|(at, what)| (shifted(at), what)),
            ..fault
        })
    }

    pub fn forget_after(&mut self, count: usize) {
        self.kept.truncate(count);
        self.count = count;
    }
}
