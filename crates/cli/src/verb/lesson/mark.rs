//! `tidewright mark`: attempts marked and explained.

use std::path::PathBuf;

use clap::Args;
use rayon::prelude::*;
use tidewright_scenario::Attempt;
use tidewright_training::debrief::{Debrief, debrief};

use crate::exit::Exit;
use crate::files::input::shown;
use crate::files::output;
use crate::files::problem::Problem;
use crate::lesson;

/// How many attempts are marked before they are told.
const AT_ONCE: usize = 64;

/// Mark attempts and explain them
///
/// Marking depends only on scenario, log and revision of the model. Pass marks
/// in the scenarios are suggestions: set your own with --pass-mark. Criteria of
/// safety must all be met whatever the points.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  tidewright mark scenarios/training/juno-the-loose-joint.ron attempt.ron\n\nEnds with code 1 if an attempt did not pass; a file that cannot be marked is told, the others are\nmarked, and the code is that file's."
)]
pub struct Mark {
    /// Lesson: a scenario file with a training block
    #[arg(value_name = "SCENARIO")]
    scenario: PathBuf,

    /// Logs of attempts
    #[arg(value_name = "ATTEMPT", required = true)]
    attempts: Vec<PathBuf>,

    /// Pass mark, percent of the points
    #[arg(long, value_name = "PERCENT", value_parser = percent)]
    pass_mark: Option<f64>,

    /// Write JSON to standard output: one object for each attempt, in a list
    #[arg(long)]
    json: bool,

    /// Write the debrief of one attempt as a page with its figure
    #[arg(long, value_name = "FILE.html")]
    page: Option<PathBuf>,
}

/// Reads a pass mark.
pub fn percent(text: &str) -> Result<f64, String> {
    let percent: f64 = text.parse().map_err(|_| "write a number, such as 80".to_owned())?;
    if (0.0..=100.0).contains(&percent) { Ok(percent) } else { Err("write 0 to 100".to_owned()) }
}

impl Mark {
    /// Marks them.
    pub fn perform(self) -> Result<Exit, Problem> {
        if self.page.is_some() && self.attempts.len() != 1 {
            return Err(Problem::usage("a page is of one attempt", "name one attempt"));
        }
        let scenario = lesson::scenario(&self.scenario)?;
        let mut all_passed = true;
        let mut objects = Vec::new();
        let mut first_bad = None;
        let debriefed = |path: &PathBuf| -> Result<(Debrief, Attempt), Problem> {
            let attempt = lesson::attempt(path)?;
            let debrief = debrief(&scenario, &attempt, self.pass_mark);
            Ok((debrief.map_err(lesson::mismatch)?, attempt))
        };
        // A part at a time, so that what is not yet told does not fill the memory.
        let all = self.attempts.chunks(AT_ONCE).flat_map(|paths| {
            let _waiting = output::waiting("marking");
            let marked: Vec<_> = paths.par_iter().map(debriefed).collect();
            paths.iter().zip(marked)
        });
        for (path, marked) in all {
            let (debrief, attempt) = match marked {
                Ok(marked) => marked,
                // One bad file does not keep the others from being marked.
                Err(problem) if self.attempts.len() > 1 => {
                    output::complain_in_words(&format!("{} is not marked:\n", shown(path)));
                    output::complain(&problem);
                    first_bad.get_or_insert(problem.exit());
                    continue;
                }
                Err(problem) => return Err(problem),
            };
            all_passed &= debrief.marking.passed;
            if let Some(page) = &self.page {
                lesson::write_page(&scenario, &attempt, &debrief, page)?;
            }
            if self.json {
                objects.push(debrief.to_json().trim_end().to_owned());
            } else {
                output::print_by_screens(&output::wrapped(&(debrief.to_text() + "\n")))?;
            }
        }
        if self.json {
            output::print(&format!("[{}]\n", objects.join(",\n")))?;
        }
        Ok(first_bad.unwrap_or(if all_passed { Exit::Done } else { Exit::NotMet }))
    }
}
