//! What a person reads of a run.

use tidewright_scenario::Scenario;
use tidewright_scenario::report::{self, BANNER, Ending, Fitted, Table};

use crate::page::Page;

/// Most changes of a timeline that are listed.
const MOST_CHANGES: usize = 12;

/// The page of a run, with notes on the files that were written.
pub fn page(scenario: &Scenario, table: &Table, ending: &Ending, files: &[String]) -> Page {
    let mut page = Page::new();
    page.paragraph(BANNER);
    page.heading(scenario.title.as_deref().unwrap_or(scenario.id.as_str()));
    if let Some(story) = scenario.story_told() {
        page.paragraph(&story);
    }
    page.gap();
    let mut facts = vec![
        ("Patient".to_owned(), report::patient(scenario)),
        ("Settings".to_owned(), report::settings(scenario).join(", ")),
    ];
    facts.extend(changes(scenario));
    page.entries(&facts);
    page.gap();
    let Fitted { lines, note } = table.within(page.width());
    page.lines(lines);
    if let Some(note) = note {
        page.paragraph(&note);
    }
    if let Some(unfinished) = &ending.unfinished {
        page.paragraph(&format!(
            "The run ended {:.2} s into breath {}.",
            unfinished.elapsed.as_s(),
            unfinished.number
        ));
    }
    page.heading("What happened");
    page.paragraph(&ending.story);
    if let Some(teaches) = &scenario.teaches {
        page.heading("What it teaches");
        page.paragraph(teaches);
    }
    page.heading("Keep in mind");
    // The general caution stands at the top already.
    for caution in ending.cautions.iter().filter(|caution| *caution != BANNER) {
        page.item("- ", caution);
    }
    if !files.is_empty() {
        page.heading("Written");
        files.iter().for_each(|file| page.paragraph(file));
    }
    page
}

/// What changes during the run, and when; of changes at one time only the first
/// names it.
fn changes(scenario: &Scenario) -> Vec<(String, String)> {
    let mut changes = Vec::new();
    let mut last_s = None;
    let happenings = report::happenings(scenario);
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
