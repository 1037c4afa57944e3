//! The verbs of the command line. A new verb is a file in one of its folders with a
//! struct of its arguments and a `perform`, and a line in the table below.

mod about;
mod bench;
mod check;
mod lesson;
mod run;
mod sheet;
mod species;
mod study;

use about::{completions, example, explain, licences, reference};
use clap::Subcommand;
use lesson::{class, coverage, learn, mark, practise, prove, replay};
use sheet::{figure, handout, questions, signs};
use study::{cohort, fit, plan, sweep};

use crate::exit::Exit;
use crate::files::problem::Problem;

macro_rules! verbs {
    ($($file:ident :: $Verb:ident,)*) => {
        /// What the program is asked to do.
        #[derive(Debug, Subcommand)]
        pub enum Verb {
            $(#[allow(missing_docs)] $Verb($file::$Verb),)*
        }

        impl Verb {
            /// Does it.
            pub fn perform(self) -> Result<Exit, Problem> {
                match self {
                    $(Self::$Verb(verb) => verb.perform(),)*
                }
            }
        }
    };
}

// In the order in which the help lists them.
verbs! {
    run::Run,
    check::Check,
    plan::Plan,
    sweep::Sweep,
    cohort::Cohort,
    fit::Fit,
    bench::Bench,
    practise::Practise,
    replay::Replay,
    mark::Mark,
    class::Class,
    prove::Prove,
    coverage::Coverage,
    explain::Explain,
    learn::Learn,
    figure::Figure,
    handout::Handout,
    questions::Questions,
    example::Example,
    reference::Reference,
    signs::Signs,
    species::Species,
    completions::Completions,
    licences::Licences,
}
