//! `tidewright prove`: whether the verdicts of a lesson are just.

use std::fs;
use std::path::{Path, PathBuf};

use clap::Args;
use tidewright_scenario::Attempt;
use tidewright_training::proof::prove_from;

use crate::exit::Exit;
use crate::files::input::shown;
use crate::files::output;
use crate::files::problem::Problem;
use crate::lesson;

/// Prove that a lesson's marks are just, before a class sees it
///
/// A fixed company takes the lesson: who does nothing, presses everything, acts at
/// random, answers at once, does the expert's acts the other way, too early or in
/// reverse, or harms the patient afterwards must not pass; the experts must, also some
/// seconds later, with a needless look, and with every patient that a class may be
/// dealt. A verdict that is not just is told with the criteria that decided it.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  tidewright prove scenarios/training/juno-the-loose-joint.ron\n  tidewright prove my-lesson.ron my-expert.ron my-other-expert.ron --json\n\nEnds with code 1 if a verdict is not just, or a case of the pool has no expert."
)]
pub struct Prove {
    /// Lesson: a scenario file with a training block
    #[arg(value_name = "SCENARIO")]
    scenario: PathBuf,

    /// Logs of experts, at least one for each case; without any, all whose names begin
    /// with `expert` in the folder attempts/ID beside the lesson
    #[arg(value_name = "EXPERT")]
    experts: Vec<PathBuf>,

    /// First seed of the company: another one makes a company that the lesson was not made
    /// for
    #[arg(long, value_name = "N", default_value = "1", value_parser = clap::value_parser!(u32).range(1..))]
    seed: u32,

    /// Write JSON to standard output
    #[arg(long)]
    json: bool,
}

impl Prove {
    /// Proves it.
    pub fn perform(self) -> Result<Exit, Problem> {
        let scenario = lesson::scenario(&self.scenario)?;
        let experts = match self.experts.is_empty() {
            true => beside(&self.scenario, scenario.id.as_str()),
            false => self.experts,
        };
        // Of a pool the proof tells which cases lack one, and where they are found.
        let has_cases = scenario.training.as_ref().is_some_and(|lesson| !lesson.pool.is_empty());
        if experts.is_empty() && !has_cases {
            return Err(Problem::usage(
                format!("there is no expert of {}", shown(&self.scenario)),
                format!(
                    "practise it once as it should be done, and name the log; or put it into \
                     attempts/{} beside the lesson, under a name that begins with `expert`",
                    scenario.id
                ),
            ));
        }
        let experts = experts.iter().map(|path| lesson::attempt(path));
        let experts = experts.collect::<Result<Vec<Attempt>, Problem>>()?;
        let waiting = output::waiting("proving");
        let proof = prove_from(&scenario, &experts, self.seed).map_err(lesson::mismatch)?;
        drop(waiting);
        output::print(&if self.json { proof.to_json() } else { proof.to_text() })?;
        Ok(if proof.proved { Exit::Done } else { Exit::NotMet })
    }
}

/// The experts that stand beside a lesson, in the order of their names.
fn beside(lesson: &Path, id: &str) -> Vec<PathBuf> {
    let folder = lesson.with_file_name("attempts").join(id);
    let entries = fs::read_dir(folder).into_iter().flatten().flatten();
    let expert = |path: &PathBuf| {
        let name = path.file_name().map(|name| name.to_string_lossy().into_owned());
        name.is_some_and(|name| name.starts_with("expert"))
            && path.extension().is_some_and(|end| end == "ron" || end == "json")
    };
    let mut found: Vec<PathBuf> = entries.map(|entry| entry.path()).filter(expert).collect();
    found.sort();
    found
}
