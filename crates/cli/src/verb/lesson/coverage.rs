//! `tidewright coverage`: competences × lessons.

use std::path::PathBuf;

use clap::Args;
use tidewright_training::coverage::{COMPETENCES, lessons_for};

use crate::exit::Exit;
use crate::files::input;
use crate::files::problem::Problem;
use crate::lesson;
use crate::page::Page;

/// Show which competences which lessons cover
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  tidewright coverage\n  tidewright coverage scenarios/training/*.ron"
)]
pub struct Coverage {
    /// Scenario files, in the place of the lessons inside
    #[arg(value_name = "SCENARIO")]
    scenarios: Vec<PathBuf>,
}

impl Coverage {
    /// Shows it.
    pub fn perform(self) -> Result<Exit, Problem> {
        let scenarios = match &self.scenarios[..] {
            [] => lesson::all_inside(),
            paths => {
                let read = paths.iter().map(|path| input::scenario(path));
                read.collect::<Result<Vec<_>, _>>()?
            }
        };
        let mut page = Page::new();
        for (competence, name) in COMPETENCES {
            let lessons = lessons_for(&scenarios, competence);
            let ids: Vec<&str> =
                lessons.iter().map(|lesson| tidewright_shelf::shown(lesson.id.as_str())).collect();
            let ids = if ids.is_empty() { "none".to_owned() } else { ids.join(", ") };
            page.item(&format!("{name:<22}{:>3}  ", lessons.len()), &ids);
        }
        page.print()?;
        Ok(Exit::Done)
    }
}
