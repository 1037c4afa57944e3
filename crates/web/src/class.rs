//! A class: hands dealt, and logs marked, all on the user's own machine.

use serde::Deserialize;
use serde_json::{Value, json};
use tidewright_scenario::format::Id;
use tidewright_scenario::report::BANNER;
use tidewright_scenario::{Scenario, parse_attempt};
use tidewright_shelf::shown;
use tidewright_training::class::{
    Handed, SealedKey, Style, TableError, deal, gradebook, items_to_json, keys, mark_all, roster,
    to_csv,
};
use tidewright_training::exam::{Exam, ExamError};
use tidewright_training::proof::prove_from;

use crate::texts::Which;
use crate::wrong::Wrong;

/// Logs to mark.
#[derive(Debug, Deserialize)]
pub struct MarkClass {
    lesson: Which,
    /// Name and text of every file.
    files: Vec<(String, String)>,
    pass_percent: Option<f64>,
    /// The key that was made when the class was dealt.
    key: Option<String>,
    /// The roster, so that who handed in nothing has a row, too.
    roster: Option<String>,
    semicolon: bool,
}

fn table(what: &str, error: &TableError) -> Wrong {
    Wrong::told(format!("the {what}: {error}"), format!("mend the {what}; nothing was done"))
}

/// A file for every student of a roster, and the key; sealed exams where there is a
/// passphrase.
pub fn dealt(
    lesson: &Which,
    list: &str,
    seed: u32,
    passphrase: Option<&str>,
) -> Result<Value, Wrong> {
    let scenario = lesson.lesson()?;
    let ids = roster(list).map_err(|error| table("roster", &error))?;
    if let Some(passphrase) = passphrase {
        return sealed(&scenario, ids, seed, passphrase);
    }
    let hands = deal(&scenario, &ids, seed);
    let files = hands.iter().map(|(hand, _)| {
        json!({
            "file": format!("{}-{}.dealt.ron", shown(scenario.id.as_str()), hand.pseudonym),
            "text": format!("// {BANNER}\n{}", hand.to_attempt(&scenario).to_ron()),
        })
    });
    let files: Vec<Value> = files.collect();
    let keys: Vec<_> = hands.into_iter().map(|(_, key)| key).collect();
    Ok(json!({
        "files": files,
        "key": {"file": format!("{}-key.csv", scenario.id), "text": to_csv(&keys)},
    }))
}

/// Whether the verdicts of a lesson are just.
pub fn proved(lesson: &Which, experts: &[(String, String)], seed: u32) -> Result<Value, Wrong> {
    let scenario = lesson.lesson()?;
    let mut logs = Vec::new();
    for (file, text) in experts {
        logs.push(parse_attempt(file, text)?);
    }
    if logs.is_empty() {
        return Err(Wrong::told(
            "a proof needs an expert's log for each case",
            "practise the lesson once as it should be done, and open its record here",
        ));
    }
    let mend = "open logs that were made with this lesson";
    let proof = prove_from(&scenario, &logs, seed).map_err(|error| Wrong::told(error, mend))?;
    Ok(json!({"proved": proof.proved, "text": proof.to_text(), "json": proof.to_json()}))
}

fn sealed(lesson: &Scenario, ids: Vec<Id>, seed: u32, passphrase: &str) -> Result<Value, Wrong> {
    let one = |id: Id| -> Result<_, ExamError> {
        let exam = Exam::of(lesson, id, seed)?;
        let text = exam.sealed(passphrase)?;
        let file = json!({"file": format!("{}.sealed", exam.name), "text": text});
        Ok((file, SealedKey::of(lesson, &exam)))
    };
    let all: Result<Vec<_>, ExamError> = ids.into_iter().map(one).collect();
    let mend = "nothing was dealt; mend that and deal again";
    let (files, keys): (Vec<Value>, Vec<SealedKey>) =
        all.map_err(|error| Wrong::told(error, mend))?.into_iter().unzip();
    Ok(json!({
        "files": files,
        "key": {"file": format!("{}-key.csv", lesson.id), "text": to_csv(&keys)},
    }))
}

/// Logs marked: the table, the gradebook, and how each criterion did.
pub fn marked(asked: &MarkClass) -> Result<Value, Wrong> {
    let scenario = asked.lesson.lesson()?;
    let keys = asked.key.as_deref().map(keys).transpose().map_err(|e| table("key", &e))?;
    let ids = asked.roster.as_deref().map(roster).transpose().map_err(|e| table("roster", &e))?;
    let mut files: Vec<&(String, String)> = asked.files.iter().collect();
    files.sort();
    let files =
        files.into_iter().map(|(file, text)| Handed { file: file.clone(), text: Ok(text.clone()) });
    let files: Vec<Handed> = files.collect();
    let rows = mark_all(&scenario, &files, asked.pass_percent, keys.as_deref(), |_| {});
    let style = if asked.semicolon { Style::Semicolon } else { Style::Comma };
    Ok(json!({
        "rows": rows,
        "csv": to_csv(&rows),
        "gradebook": gradebook(&rows, &ids.unwrap_or_default(), style),
        "items": items_to_json(&rows),
    }))
}
