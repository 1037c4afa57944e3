//! What a person reads of a run, laid out for the terminal.

use tidewright_scenario::Scenario;
use tidewright_scenario::report::{self, Ending, Fitted, Part, Table};

use crate::page::Page;

/// The page of a run, with notes on the files that were written.
pub fn page(scenario: &Scenario, table: &Table, ending: &Ending, files: &[String]) -> Page {
    let mut page = Page::new();
    for part in report::page(scenario, ending) {
        match part {
            Part::Heading(text) => page.heading(&text),
            Part::Paragraph(text) => page.paragraph(&text),
            Part::Facts(facts) => {
                page.gap();
                page.entries(&facts);
            }
            Part::Breaths => {
                page.gap();
                let Fitted { lines, note } = table.within(page.width());
                page.lines(lines);
                note.into_iter().for_each(|note| page.paragraph(&note));
            }
            Part::List(items) => items.iter().for_each(|item| page.item("- ", item)),
        }
    }
    if !files.is_empty() {
        page.heading("Written");
        files.iter().for_each(|file| page.paragraph(file));
    }
    page
}
