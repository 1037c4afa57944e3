//! Every sentence that a student may take for advice, in one file to be read line by
//! line: `tests/reference/advice/advice.md`. What is added or changed anywhere changes
//! the file, so nobody can teach something that nobody has read.
//!
//! To write it anew, and then to read what changed:
//! `UPDATE_ADVICE=1 cargo test -p tidewright-tests --test advice`.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};

use tidewright_scenario::Scenario;
use tidewright_scenario::parse;
use tidewright_training::command::WORDS;
use tidewright_training::glossary::TERMS;

/// Sources whose texts reach a student: reports, stories, sheets, chart, observations,
/// debriefs.
const SOURCES: [&str; 26] = [
    "crates/scenario/src/report/cautions.rs",
    "crates/scenario/src/report/faults.rs",
    "crates/scenario/src/report/gas_story.rs",
    "crates/scenario/src/report/story.rs",
    "crates/scenario/src/report/story/sign.rs",
    "crates/tidewright/src/assembly/mistake.rs",
    "crates/training/src/case/care.rs",
    "crates/training/src/debrief.rs",
    "crates/training/src/debrief/courses.rs",
    "crates/training/src/debrief/effects.rs",
    "crates/training/src/debrief/first.rs",
    "crates/training/src/desk/hint.rs",
    "crates/training/src/desk/reply.rs",
    "crates/training/src/desk/says.rs",
    "crates/training/src/judge/harm.rs",
    "crates/training/src/judge/measure/words.rs",
    "crates/training/src/observe.rs",
    "crates/training/src/observe/patient.rs",
    "crates/training/src/observe/tube.rs",
    "crates/training/src/judge/sign.rs",
    "crates/training/src/case/tube.rs",
    "crates/figures/src/handout.rs",
    "crates/figures/src/signs_chart.rs",
    "crates/cli/src/verb/bench.rs",
    "crates/cli/src/verb/sheet/signs.rs",
    "crates/study/src/plan/text.rs",
];

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

fn ron_files(folder: &str) -> Vec<PathBuf> {
    let entries = fs::read_dir(root().join(folder)).unwrap().map(|entry| entry.unwrap().path());
    let mut files: Vec<_> =
        entries.filter(|path| path.extension().is_some_and(|kind| kind == "ron")).collect();
    files.sort();
    files
}

/// Texts in quotes of a source, up to its tests; those of less than four words are
/// names and labels.
fn quoted(source: &str) -> Vec<String> {
    let code = source.split("#[cfg(test)]").next().unwrap();
    let code: Vec<&str> =
        code.lines().filter(|line| !line.trim_start().starts_with("//")).collect();
    let code = code.join("\n").replace("'\"'", "");
    let mut texts = Vec::new();
    let mut letters = code.chars().peekable();
    while let Some(letter) = letters.next() {
        if letter != '"' {
            continue;
        }
        let mut text = String::new();
        while let Some(letter) = letters.next() {
            match letter {
                '"' => break,
                '\\' => match letters.next() {
                    Some('\n') => {
                        while letters.peek().is_some_and(|letter| letter.is_whitespace()) {
                            letters.next();
                        }
                    }
                    Some('n') => text.push(' '),
                    Some(other) => text.push(other),
                    None => {}
                },
                other => text.push(other),
            }
        }
        if text.split_whitespace().count() >= 4 {
            texts.push(text.split_whitespace().collect::<Vec<_>>().join(" "));
        }
    }
    texts
}

fn of_scenario(page: &mut String, scenario: &Scenario) {
    writeln!(page, "\n### {}\n", scenario.id).unwrap();
    let mut say = |text: &str| writeln!(page, "- {text}").unwrap();
    for text in [&scenario.title, &scenario.teaches, &scenario.story].into_iter().flatten() {
        say(text);
    }
    let Some(lesson) = &scenario.training else { return };
    lesson.objectives.iter().for_each(|one| say(&one.says));
    for question in &lesson.questions {
        say(&question.asks);
        for (answer, number) in question.answers.iter().zip(1..) {
            let mark = if number == question.right { "right" } else { "wrong" };
            say(&format!("({mark}) {answer}"));
        }
    }
    lesson.predictions.iter().for_each(|one| say(&one.asks));
    for case in &lesson.pool {
        say(&case.says);
        case.why.iter().for_each(|why| say(why));
    }
    lesson.debrief.title.iter().for_each(|title| say(title));
    say(&lesson.debrief.why);
    say(&lesson.debrief.next);
}

fn advice() -> String {
    let mut page = "# Every sentence of advice\n\nMade by `tests/advice.rs`; not written by hand. \
                    Read it as somebody who ventilates animals: would you want a student to do this?\n"
        .to_owned();
    for (heading, folder) in [("Scenarios", "scenarios"), ("Lessons", "scenarios/training")] {
        writeln!(page, "\n## {heading}").unwrap();
        for path in ron_files(folder) {
            let text = fs::read_to_string(&path).unwrap();
            of_scenario(&mut page, &parse(&path.display().to_string(), &text).unwrap());
        }
    }
    page.push_str("\n## Words explained\n\n");
    for term in TERMS {
        writeln!(page, "- **{}** {} Source: {}", term.name, term.meaning, term.source).unwrap();
    }
    page.push_str("\n## Figures\n\n");
    for path in ron_files("figures") {
        let text = fs::read_to_string(&path).unwrap();
        for name in ["title", "question", "teaches", "discussion"] {
            let begins = format!("{name}: \"");
            let lines = text.lines().filter_map(|line| line.trim().strip_prefix(&*begins));
            lines.for_each(|said| writeln!(page, "- {}", said.trim_end_matches("\",")).unwrap());
        }
    }
    page.push_str("\n## What this teaches, and what it does not\n\n");
    let reference = tidewright_scenario::reference();
    let told = reference.split("\n## ").find(|part| part.starts_with("What this teaches"));
    let told = told.unwrap().lines().skip(1).collect::<Vec<_>>().join(" ");
    told.split_terminator(". ").for_each(|one| writeln!(page, "- {}", one.trim()).unwrap());
    page.push_str("\n## Acts as they are offered\n\n");
    for (_, word, _, does) in WORDS {
        writeln!(page, "- **{word}** {does}").unwrap();
    }
    page.push_str("\n## Reports, stories, sheets, chart, observations and debriefs\n");
    for source in SOURCES {
        writeln!(page, "\n### {source}\n").unwrap();
        for text in quoted(&fs::read_to_string(root().join(source)).unwrap()) {
            writeln!(page, "- {text}").unwrap();
        }
    }
    page
}

#[test]
fn regress_every_sentence_of_advice_stands_in_the_file_that_is_read() {
    let file = root().join("tests/reference/advice/advice.md");
    let now = advice();
    if std::env::var_os("UPDATE_ADVICE").is_some() {
        fs::create_dir_all(file.parent().unwrap()).unwrap();
        fs::write(&file, &now).unwrap();
    }
    let kept = fs::read_to_string(&file).unwrap_or_default();
    let new: Vec<&str> =
        now.lines().filter(|line| !kept.lines().any(|known| known == *line)).collect();
    assert_eq!(
        kept,
        now,
        "write the file anew with UPDATE_ADVICE=1, and read what is new:\n{}",
        new.join("\n")
    );
}

/// What would hurt if it were done as it is said.
#[test]
fn practice_advice_that_can_hurt_says_when_not() {
    let page = advice();
    let sentences = page.lines().filter(|line| line.starts_with("- "));
    for line in sentences {
        let low = line.to_lowercase();
        // No drug doses, nowhere.
        for dose in ["mg/kg", "µg/kg", "mcg/kg", "ug/kg"] {
            assert!(!low.contains(dose), "{line}");
        }
        // Whoever is told to ventilate by hand is told when not, in the same line.
        if low.contains("ventilate by hand") {
            assert!(
                low.contains("as little as possible") || low.contains("least"),
                "when not: {line}"
            );
        }
    }
    for needed in [
        "never flush into a connected small patient",
        "every squeeze makes it worse",
        "cuff let down",
        "off the circuit before it is turned",
        "as the veterinary surgeon directs",
        "take the patient off first",
    ] {
        assert!(page.to_lowercase().contains(needed), "nobody is told: {needed}");
    }
}
