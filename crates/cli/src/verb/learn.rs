//! `tidewright learn`: what to do next.

use std::path::PathBuf;

use clap::Args;
use tidewright_training::review::due;

use crate::exit::Exit;
use crate::input::shown;
use crate::problem::Problem;
use crate::{history, input, output};

/// Show what to practise next, from your past attempts
///
/// A lesson comes again about 2, 7 and 21 days after you passed it. Only the
/// lesson, the day and the result are kept, in a file of your own on this
/// machine; --forget removes it.
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  tidewright learn scenarios/training/*.ron")]
pub struct Learn {
    /// Lessons to choose from
    #[arg(value_name = "SCENARIO", required_unless_present = "forget")]
    scenarios: Vec<PathBuf>,

    /// Remove what is kept of past attempts
    #[arg(long)]
    forget: bool,
}

impl Learn {
    /// Shows it.
    pub fn perform(self) -> Result<Exit, Problem> {
        if self.forget {
            let removed = history::forget()?;
            let text =
                if removed { "Your history is removed.\n" } else { "There was no history.\n" };
            output::print(text)?;
            return Ok(Exit::Done);
        }
        let mut lessons = Vec::new();
        for path in &self.scenarios {
            let scenario = input::scenario(path)?;
            if scenario.training.is_some() {
                lessons.push((scenario.id.to_string(), shown(path)));
            }
        }
        if lessons.is_empty() {
            return Err(Problem::usage(
                "none of these files is a lesson: a lesson has a `training` block",
                "name lessons, such as scenarios/training/*.ron",
            ));
        }
        let ids: Vec<&str> = lessons.iter().map(|(id, _)| id.as_str()).collect();
        let today = history::today();
        let list = due(&ids, &history::read(), today);
        let mut page = String::new();
        for one in &list {
            let when = match one.day.saturating_sub(today) {
                0 => "today".to_owned(),
                1 => "tomorrow".to_owned(),
                days => format!("in {days} days"),
            };
            let file = lessons.iter().find(|(id, _)| *id == one.scenario);
            let file = file.map_or("", |(_, file)| file.as_str());
            page += &format!(
                "{when:<11} {}: {} (tidewright practise {file})\n",
                one.scenario, one.reason
            );
        }
        if list.is_empty() {
            page += "Nothing is due: every lesson is passed and reviewed.\n";
        }
        if let Some(file) = history::file() {
            page +=
                &format!("\nKept in {}; `tidewright learn --forget` removes it.\n", shown(&file));
        }
        output::print(&page)?;
        Ok(Exit::Done)
    }
}
