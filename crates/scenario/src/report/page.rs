//! What a person reads of a run, part by part, whoever lays it out.

use super::{BANNER, Ending, happenings, patient, settings};
use crate::format::Scenario;

/// Most changes of a timeline that are listed.
const MOST_CHANGES: usize = 12;

/// A part of a page.
#[derive(Clone, Debug, PartialEq)]
pub enum Part {
    /// A heading.
    Heading(String),
    /// Running text.
    Paragraph(String),
    /// Names with what belongs to them.
    Facts(Vec<(String, String)>),
    /// The breaths of the run: the caller's [`Table`](super::Table) of them.
    Breaths,
    /// A list.
    List(Vec<String>),
}

/// The page of a run.
///
/// ```
/// use tidewright_scenario::report::{self, Part};
/// let scenario = tidewright_scenario::parse("demo.ron", tidewright_scenario::DEMO)?;
/// let ending = report::run(&scenario, |_, _| Ok(()))?;
/// let page = report::page(&scenario, &ending);
/// assert_eq!(page[0], Part::Paragraph(report::BANNER.to_owned()));
/// assert!(page.contains(&Part::Breaths));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[must_use]
pub fn page(scenario: &Scenario, ending: &Ending) -> Vec<Part> {
    let title = scenario.title.as_deref().unwrap_or(scenario.id.as_str());
    let mut parts = vec![Part::Paragraph(BANNER.to_owned()), Part::Heading(title.to_owned())];
    parts.extend(scenario.story_told().map(Part::Paragraph));
    let mut facts = vec![
        ("Patient".to_owned(), patient(scenario)),
        ("Settings".to_owned(), settings(scenario).join(", ")),
    ];
    facts.extend(changes(scenario));
    parts.extend([Part::Facts(facts), Part::Breaths]);
    if let Some(unfinished) = &ending.unfinished {
        parts.push(Part::Paragraph(format!(
            "The run ended {:.2} s into breath {}.",
            unfinished.elapsed.as_s(),
            unfinished.number
        )));
    }
    parts.push(Part::Heading("What happened".to_owned()));
    parts.push(Part::Paragraph(ending.story.clone()));
    if let Some(teaches) = &scenario.teaches {
        parts.push(Part::Heading("What it teaches".to_owned()));
        parts.push(Part::Paragraph(teaches.clone()));
    }
    parts.push(Part::Heading("Keep in mind".to_owned()));
    // The general caution stands at the top already.
    let cautions = ending.cautions.iter().filter(|caution| *caution != BANNER);
    parts.push(Part::List(cautions.cloned().collect()));
    parts
}

/// What changes during the run, and when; of changes at one time only the first
/// names it.
fn changes(scenario: &Scenario) -> Vec<(String, String)> {
    let mut changes = Vec::new();
    let mut last_s = None;
    let happenings = happenings(scenario);
    let count = happenings.len();
    for happening in happenings.into_iter().take(MOST_CHANGES) {
        let news = last_s != Some(happening.at_s);
        last_s = Some(happening.at_s);
        let when = if news { format!("At {} s", happening.at_s) } else { String::new() };
        changes.push((when, happening.sentence));
    }
    let more = count - changes.len();
    if more > 0 {
        changes.push(("Later".to_owned(), format!("{more} more changes")));
    }
    changes
}
