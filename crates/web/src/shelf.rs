//! What is on the shelf, for lists.

use serde_json::{Value, json};
use tidewright_scenario::report::{BANNER, MODEL_LIMITS};
use tidewright_shelf::{LESSONS, SCENARIOS};

use crate::wrong::Wrong;

/// Lessons in their order, scenarios and figures, each with its heading and what it
/// teaches; and what stands on every page.
pub fn shelf() -> Result<Value, Wrong> {
    let mut lessons = Vec::new();
    for lesson in &LESSONS {
        let scenario = tidewright_scenario::parse(lesson.id, lesson.text)?;
        let objectives = scenario.training.as_ref().map(|training| &training.objectives);
        let learn: Vec<&str> =
            objectives.into_iter().flatten().map(|objective| &*objective.says).collect();
        lessons.push(json!({
            "number": lesson.number,
            "id": lesson.id,
            "title": scenario.title,
            "teaches": scenario.teaches,
            "learn": learn,
            "minutes": scenario.duration_s / 60.0,
            "needs": lesson.needs,
        }));
    }
    let mut scenarios = Vec::new();
    for item in &SCENARIOS {
        let scenario = tidewright_scenario::parse(item.id, item.text)?;
        scenarios.push(json!({
            "id": item.id,
            "title": scenario.title,
            "teaches": scenario.teaches,
        }));
    }
    #[cfg(feature = "whole")]
    let figures = figures()?;
    #[cfg(not(feature = "whole"))]
    let figures = Value::Null;
    Ok(json!({
        "version": env!("CARGO_PKG_VERSION"),
        "caution": BANNER,
        "limits": MODEL_LIMITS,
        "lessons": lessons,
        "scenarios": scenarios,
        "figures": figures,
        "whole": cfg!(feature = "whole"),
    }))
}

#[cfg(feature = "whole")]
fn figures() -> Result<Value, Wrong> {
    let mut figures = Vec::new();
    for item in &tidewright_shelf::FIGURES {
        let file = tidewright_figures::FigureFile::parse(item.id, item.text)?;
        figures.push(json!({ "id": item.id, "title": file.title, "teaches": file.teaches }));
    }
    Ok(figures.into())
}
