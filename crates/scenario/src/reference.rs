//! The format reference, made from the declarations that the reader uses, so it
//! cannot say anything else than what is read.

use std::fmt::Write as _;

use tidewright::species::AT_REST;

use crate::checks::MOST_BREATHS;
use crate::fault::MOST_FAULTS;
use crate::file::parse::LARGEST_FILE;
use crate::format::{DEBRIEF_VALUES, DEBRIEF_VALUES_OF_GAS, LONGEST_RUN_S, Scenario};
use crate::read::{Absent, BlockShape, ChoiceShape, Read, Shape, any};
use crate::report::BANNER;
use crate::text::Dialect;

/// The whole reference of the scenario format as Markdown: `FORMAT.md`.
#[must_use]
pub fn reference() -> String {
    let mut page = include_str!("reference/introduction.md")
        .replace("{banner}", BANNER)
        .replace("{most_breaths}", &MOST_BREATHS.to_string())
        .replace("{most_faults}", &MOST_FAULTS.to_string())
        .replace("{longest_run_s}", &LONGEST_RUN_S.to_string())
        .replace("{largest_file}", &LARGEST_FILE.to_string());
    let mut writer = Writer { page: &mut page, done: Vec::new() };
    writer.block(&Scenario::SHAPE);
    page += include_str!("reference/own_lesson.md");
    page += include_str!("reference/cohorts.md");
    page += "\n## Animals at rest\n\n";
    page += AT_REST;
    page
}

/// The reference of another kind of file that is declared by `block!`, written to the end of
/// a page. What scenario files say, too, is left to [`reference()`].
///
/// ```
/// let mut page = String::new();
/// tidewright_scenario::reference_of::<tidewright_scenario::Attempt>(&mut page);
/// assert!(page.contains("## Attempt") && !page.contains("## Ventilator"));
/// ```
pub fn reference_of<File: Read>(page: &mut String) {
    let mut scenario = String::new();
    let mut writer = Writer { page: &mut scenario, done: Vec::new() };
    writer.block(&Scenario::SHAPE);
    let done = writer.done;
    Writer { page, done }.inside(&File::describe("", &any()));
}

struct Writer<'a> {
    page: &'a mut String,
    done: Vec<&'static str>,
}

impl Writer<'_> {
    fn line(&mut self, text: std::fmt::Arguments<'_>) {
        // Writing to a `String` cannot fail.
        let _ = writeln!(self.page, "{text}");
    }

    /// Whether this part still has to be written.
    fn begin(&mut self, name: &'static str, meaning: &str) -> bool {
        if self.done.contains(&name) {
            return false;
        }
        self.done.push(name);
        let meaning = meaning.split_whitespace().collect::<Vec<_>>().join(" ");
        self.line(format_args!("\n## {name}\n\n{meaning}\n"));
        true
    }

    fn block(&mut self, block: &'static BlockShape) {
        if !self.begin(block.name, block.meaning) {
            return;
        }
        self.line(format_args!("| Field | Meaning | Value | If absent |\n|---|---|---|---|"));
        for field in block.fields {
            let value = in_cell(&field.shape());
            let absent = match field.rule.absent {
                Absent::Fault => "must be written".to_owned(),
                Absent::Number(number) => number.to_string(),
                Absent::Word(word) => format!("`{word}`"),
                Absent::Empty if matches!(field.shape(), Shape::List { .. }) => "empty".to_owned(),
                Absent::Empty => "its own defaults".to_owned(),
                Absent::Nothing(meaning) => meaning.to_owned(),
            };
            let (name, meaning) = (field.name, field.meaning.trim());
            self.line(format_args!("| `{name}` | {meaning} | {value} | {absent} |"));
        }
        if block.name == "Debriefing" {
            let (always, with_gas) =
                DEBRIEF_VALUES.split_at(DEBRIEF_VALUES.len() - DEBRIEF_VALUES_OF_GAS);
            let listed = |names: &[&str]| {
                names.iter().map(|name| format!("`{{{name}}}`")).collect::<Vec<_>>().join(", ")
            };
            self.line(format_args!(
                "\nWhat may stand in curly brackets: {}. With `gas` besides: {}. `before` is the last \
                 breath in health, `after` the breath that first showed the sign.",
                listed(always),
                listed(with_gas)
            ));
        }
        for field in block.fields {
            self.inside(&field.shape());
        }
    }

    fn choice(&mut self, choice: &'static ChoiceShape) {
        if !self.begin(choice.name, choice.meaning) {
            return;
        }
        self.line(format_args!("| Written | Meaning |\n|---|---|"));
        for word in choice.words {
            let (example, meaning) = (word.example(Dialect::Ron), word.meaning.trim());
            self.line(format_args!("| `{example}` | {meaning} |"));
        }
        if let Some(plain) = &choice.plain {
            let (values, meaning) = (plain.values(Dialect::Ron), plain.meaning.trim());
            self.line(format_args!("| `({})` | {meaning} |", values.unwrap_or_default()));
        }
        for word in choice.words.iter().chain(&choice.plain) {
            if let Some(describe) = word.payload {
                self.inside(&describe("", &any()));
            }
        }
    }

    fn inside(&mut self, shape: &Shape) {
        match shape {
            Shape::Plain(_) => {}
            Shape::Block(block) => self.block(block),
            Shape::Choice(choice) => self.choice(choice),
            Shape::List { of, .. } => self.inside(of),
        }
    }
}

/// What a value looks like, short enough for a table.
fn in_cell(shape: &Shape) -> String {
    match shape {
        Shape::Plain(words) => words.clone(),
        Shape::Block(BlockShape { name, .. }) | Shape::Choice(ChoiceShape { name, .. }) => {
            format!("[{name}](#{})", name.to_lowercase())
        }
        Shape::List { of, min: 0, max } => format!("at most {max} of {}", in_cell(of)),
        Shape::List { of, min, max } => format!("{min} to {max} of {}", in_cell(of)),
    }
}
