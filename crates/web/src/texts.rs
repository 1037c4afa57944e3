//! A text from the shelf by its name, or one of the user's own.

use std::sync::Arc;

use serde::Deserialize;
use tidewright_scenario::Scenario;

use crate::wrong::Wrong;

/// Which lesson, scenario or figure file is meant.
#[derive(Clone, Debug, Deserialize)]
#[serde(untagged)]
pub enum Which {
    /// One of the user's own: the name of its file, and its text.
    Own { file: String, text: String },
    /// One from the shelf, by its name.
    Shelf(String),
}

const TAKE_ONE: &str = "choose one from the list";

impl Which {
    /// The lesson that is meant.
    pub fn lesson(&self) -> Result<Arc<Scenario>, Wrong> {
        let scenario = match self {
            Self::Own { file, text } => tidewright_scenario::parse(file, text)?,
            Self::Shelf(name) => {
                let lesson = tidewright_shelf::lesson(name);
                let lesson = lesson.map_err(|error| Wrong::told(error, TAKE_ONE))?;
                tidewright_scenario::parse(lesson.id, lesson.text)?
            }
        };
        if scenario.training.is_none() {
            let what = format!("`{}` is no lesson: it has no `training` block", scenario.id);
            return Err(Wrong::told(what, "take a lesson"));
        }
        Ok(Arc::new(scenario))
    }

    /// The scenario that is meant: lessons are scenarios, too.
    pub fn scenario(&self) -> Result<Scenario, Wrong> {
        let (file, text) = self.scenario_text()?;
        Ok(tidewright_scenario::parse(file, text)?)
    }

    /// Its file's name and its text.
    pub fn scenario_text(&self) -> Result<(&str, &str), Wrong> {
        match self {
            Self::Own { file, text } => Ok((file, text)),
            Self::Shelf(name) => match tidewright_shelf::scenario(name) {
                Ok(item) => Ok((item.id, item.text)),
                Err(error) => match tidewright_shelf::lesson(name) {
                    Ok(lesson) => Ok((lesson.id, lesson.text)),
                    Err(_) => Err(Wrong::told(error, TAKE_ONE)),
                },
            },
        }
    }

    /// The name of a figure file, and its text.
    #[cfg(feature = "whole")]
    pub fn figure_text(&self) -> Result<(&str, &str), Wrong> {
        match self {
            Self::Own { file, text } => Ok((file, text)),
            Self::Shelf(name) => {
                let item = tidewright_shelf::figure(name);
                let item = item.map_err(|error| Wrong::told(error, TAKE_ONE))?;
                Ok((item.id, item.text))
            }
        }
    }
}
