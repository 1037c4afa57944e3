//! `tidewright coverage`: competences × lessons.

use std::path::PathBuf;

use clap::Args;
use tidewright_training::coverage::{COMPETENCES, lessons_for};

use crate::exit::Exit;
use crate::input;
use crate::page::Page;
use crate::problem::Problem;

/// Show which competences which lessons cover
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  tidewright coverage scenarios/training/*.ron")]
pub struct Coverage {
    /// Scenario files
    #[arg(value_name = "SCENARIO", required = true)]
    scenarios: Vec<PathBuf>,
}

impl Coverage {
    /// Shows it.
    pub fn perform(self) -> Result<Exit, Problem> {
        let scenarios = self.scenarios.iter().map(|path| input::scenario(path));
        let scenarios = scenarios.collect::<Result<Vec<_>, _>>()?;
        let mut page = Page::new();
        for (competence, name) in COMPETENCES {
            let lessons = lessons_for(&scenarios, competence);
            let ids: Vec<&str> = lessons.iter().map(|lesson| lesson.id.as_str()).collect();
            let ids = if ids.is_empty() { "none".to_owned() } else { ids.join(", ") };
            page.item(&format!("{name:<22}{:>3}  ", lessons.len()), &ids);
        }
        page.print()?;
        Ok(Exit::Done)
    }
}
