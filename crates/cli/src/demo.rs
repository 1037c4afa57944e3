//! The program without a command: a first look.

use tidewright_scenario::report::{self, Table};
use tidewright_scenario::{DEMO, parse};

use crate::exit::Exit;
use crate::files::problem::Problem;
use crate::run_page;

/// Commands to try, and what each is good for.
const NEXT: [(&str, &str); 5] = [
    ("tidewright example > first.ron", "makes a file of your own of this"),
    ("tidewright run first.ron", "runs it: change a number first"),
    ("tidewright run first.ron --figure first.svg", "draws pressure, flow and volume"),
    ("tidewright reference", "explains what a file can say"),
    ("tidewright --help", "shows all that the program does"),
];

/// Runs the built-in scenario and says where to go next.
pub fn perform() -> Result<Exit, Problem> {
    let scenario = parse("built-in scenario", DEMO)?;
    let mut table = Table::new(&scenario);
    let ending = report::run(&scenario, |_, breath| {
        breath.into_iter().for_each(|breath| table.take(breath));
        Ok(())
    })
    .map_err(|source| Problem::run("the built-in scenario", source))?;
    let mut page = run_page::page(&scenario, &table, &ending, &[]);
    page.heading("Where to go next");
    page.pairs(&NEXT);
    page.print()?;
    Ok(Exit::Done)
}
