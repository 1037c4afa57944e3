//! A class's attempts marked, on all cores.

use std::collections::BTreeMap;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};

use rayon::prelude::*;
use serde::Serialize;
use tidewright_scenario::format::Attempt;
use tidewright_scenario::{Scenario, parse_attempt};

use super::key::{Key, compared};
use super::likeness::remarks;
use crate::exam::{Change, checked};
use crate::judge::detect::Detection;
use crate::judge::mark::{Judged, Marking, mark_with};
use crate::words::text::said;

/// The reason in the row of a file that was not reached.
const NOT_REACHED: &str = "the marking was stopped before this file";

/// How many other files with the same log are named.
const MOST_NAMED: usize = 8;

/// A file that was handed in.
#[derive(Clone, Debug)]
pub struct Handed {
    /// Its name.
    pub file: String,
    /// Its text, or why it could not be read.
    pub text: Result<String, String>,
}

/// One line of a class's marks.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ClassRow {
    /// The file.
    pub file: String,
    /// The student's pseudonym, if the file could be read.
    pub pseudonym: String,
    /// `passed`, `not passed` or `not marked`.
    pub result: &'static str,
    /// Points got.
    pub points: Option<f64>,
    /// Points there are.
    pub points_of: Option<f64>,
    /// Every criterion that was not met, safety first, or why the file could not be
    /// marked.
    pub reasons: String,
    /// Other files with the very same acts at the same times.
    pub same_log_as: String,
    /// The seed.
    pub seed: Option<u32>,
    /// How the log stands to the key: [`AS_DEALT`](super::AS_DEALT), or what differs;
    /// empty without a key, or where the log could not be read.
    pub compared_with_key: String,
    /// What the times of the acts tell of how the log came about: another log with the
    /// same acts at nearly the same times after the onset, or spacing that no hand makes.
    /// No proof of anything.
    pub remarks: String,
    /// Points got, percent of those there are.
    pub percent: Option<f64>,
    /// Whether every criterion of safety is met.
    pub safe: Option<bool>,
    /// How the student told the case from health.
    pub detection: Option<Detection>,
    /// `practice`; or `exam`, with the sitting on its machine and whether the chain of its
    /// acts holds. No proof of who acted.
    pub kind: String,
    /// Every criterion, for [`gradebook`](super::gradebook()).
    #[serde(skip)]
    pub criteria: Vec<Judged>,
}

/// Marks the attempts of a class on all cores; the rows stand in the order of the
/// files and are the same on any number of cores. One bad file never stops the
/// others; `each` is told how many are done. Logs are compared with the key where one
/// is given.
#[must_use]
pub fn mark_all(
    scenario: &Arc<Scenario>,
    files: &[Handed],
    pass_percent: Option<f64>,
    keys: Option<&[Key]>,
    mut each: impl FnMut(usize) + Send,
) -> Vec<ClassRow> {
    mark_while(scenario, files, pass_percent, keys, |done| {
        each(done);
        true
    })
}

/// The same, until `go_on`, told how many are done, says no: the rows of the files that
/// were not reached say so.
#[must_use]
pub fn mark_while(
    scenario: &Arc<Scenario>,
    files: &[Handed],
    pass_percent: Option<f64>,
    keys: Option<&[Key]>,
    go_on: impl FnMut(usize) -> bool + Send,
) -> Vec<ClassRow> {
    let done = Mutex::new((0, go_on));
    let stopped = AtomicBool::new(false);
    let marked = files.par_iter().map(|handed| {
        if stopped.load(Ordering::Relaxed) {
            return (not_marked(&handed.file, "", NOT_REACHED.to_owned()), None);
        }
        let marked = mark_one(scenario, handed, pass_percent, keys);
        let mut done = done.lock().unwrap_or_else(PoisonError::into_inner);
        done.0 += 1;
        let count = done.0;
        if !(done.1)(count) {
            stopped.store(true, Ordering::Relaxed);
        }
        marked
    });
    let (mut rows, attempts): (Vec<ClassRow>, Vec<Option<Attempt>>) = marked.unzip();
    let names: Vec<&str> = files.iter().map(|handed| handed.file.as_str()).collect();
    for (row, remarks) in rows.iter_mut().zip(remarks(scenario, &names, &attempts)) {
        row.remarks = remarks;
    }
    let acts: Vec<_> = attempts.iter().map(|log| log.as_ref().and_then(acts)).collect();
    let mut logs: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
    for (index, acts) in acts.iter().enumerate() {
        if let Some(acts) = acts {
            logs.entry(acts).or_default().push(index);
        }
    }
    for same in logs.values().filter(|same| same.len() > 1) {
        for &index in same {
            let others = same.iter().filter(|&&other| other != index);
            let mut others: Vec<&str> = others.map(|&other| files[other].file.as_str()).collect();
            let more = others.len().saturating_sub(MOST_NAMED);
            others.truncate(MOST_NAMED);
            rows[index].same_log_as = others.join("; ");
            if more > 0 {
                rows[index].same_log_as += &format!("; and {more} more");
            }
        }
    }
    rows
}

/// The row of a file, and its log where there is one. Seeds and patients of a
/// class differ, so acts alone tell logs that are the same.
fn mark_one(
    scenario: &Arc<Scenario>,
    handed: &Handed,
    pass_percent: Option<f64>,
    keys: Option<&[Key]>,
) -> (ClassRow, Option<Attempt>) {
    let file = &handed.file;
    let text = match &handed.text {
        Ok(text) => text,
        Err(reason) => return (not_marked(file, "", reason.clone()), None),
    };
    if text.trim().is_empty() {
        return (not_marked(file, "", "the file is empty".to_owned()), None);
    }
    let attempt = match parse_attempt(file, text) {
        Ok(attempt) => attempt,
        Err(rejected) => {
            let fault = rejected.faults().first();
            let reason = fault.map_or_else(
                || rejected.to_string(),
                |fault| format!("line {}: {fault}", rejected.place(fault).line),
            );
            return (not_marked(file, "", reason), None);
        }
    };
    let compared_with_key = keys.map(|keys| compared(keys, scenario, &attempt)).unwrap_or_default();
    if attempt.ended_at_s == 0.0 && attempt.acts.is_empty() {
        let reason = "the session was never begun: it is as it was dealt".to_owned();
        let row = not_marked(file, attempt.pseudonym.as_str(), reason);
        return (ClassRow { compared_with_key, ..row }, None);
    }
    let (attempt, kind) = unsealed(scenario, attempt, keys);
    let row = match mark_with(scenario, &attempt, pass_percent) {
        Ok(marking) => ClassRow {
            file: file.clone(),
            pseudonym: marking.pseudonym.clone(),
            result: if marking.passed { "passed" } else { "not passed" },
            points: Some(marking.points),
            points_of: Some(marking.points_of),
            reasons: reasons(&marking),
            same_log_as: String::new(),
            seed: Some(marking.seed),
            compared_with_key: String::new(),
            remarks: String::new(),
            percent: percent(&marking),
            safe: Some(marking.safe),
            detection: marking.detection,
            kind: kind.clone(),
            criteria: marking.criteria,
        },
        Err(error) => not_marked(file, attempt.pseudonym.as_str(), error.to_string()),
    };
    (ClassRow { compared_with_key, ..row }, Some(attempt))
}

/// The log of an exam as one of its lesson, where the key knows it; and what kind it is.
fn unsealed(scenario: &Scenario, mut attempt: Attempt, keys: Option<&[Key]>) -> (Attempt, String) {
    let Some(number) = attempt.exam.as_ref().map(|exam| exam.number) else {
        return (attempt, "practice".to_owned());
    };
    let of = |key: &&Key| key.pseudonym == attempt.pseudonym.as_str();
    let sealed = keys.and_then(|keys| keys.iter().find(of)).and_then(|key| key.sealed.as_ref());
    let Some((name, secret)) = sealed.filter(|(name, _)| name == attempt.scenario.as_str()) else {
        return (attempt, format!("exam, sitting {number}, not in the key"));
    };
    let chain = match checked(secret, &attempt) {
        Some(Change::None) | None => "as it was kept".to_owned(),
        Some(Change::Head) => "CHANGED: what stands before its acts, or their number".to_owned(),
        Some(Change::Act(at_s)) => format!("CHANGED at or before the act at {} s", said(at_s)),
        Some(Change::End) => "CHANGED at its end".to_owned(),
    };
    let kind = format!("exam {name}, sitting {number}, {chain}");
    attempt.scenario = scenario.id.clone();
    (attempt, kind)
}

fn percent(marking: &Marking) -> Option<f64> {
    let percent = 100.0 * marking.points / marking.points_of;
    (marking.points_of > 0.0).then(|| (10.0 * percent).round() / 10.0)
}

fn acts(attempt: &Attempt) -> Option<String> {
    let text = serde_json::to_string(&attempt.acts);
    let text = text.expect("numbers, texts and lists can always be written");
    (!attempt.acts.is_empty()).then_some(text)
}

/// What was not met: safety, which decides, first.
fn reasons(marking: &Marking) -> String {
    let unmet = |safety: bool| {
        let unmet = marking.criteria.iter().filter(|judged| !judged.met);
        unmet.filter(move |judged| (judged.strand == "safety") == safety)
    };
    let told = unmet(true).chain(unmet(false)).map(|judged| {
        let lead = if judged.strand == "safety" { "SAFETY, " } else { "" };
        format!("{lead}{}: {} (wanted {})", judged.measure, judged.found, judged.wanted)
    });
    told.collect::<Vec<_>>().join("; ")
}

fn not_marked(file: &str, pseudonym: &str, reasons: String) -> ClassRow {
    ClassRow {
        file: file.to_owned(),
        pseudonym: pseudonym.to_owned(),
        result: "not marked",
        points: None,
        points_of: None,
        reasons,
        same_log_as: String::new(),
        seed: None,
        compared_with_key: String::new(),
        remarks: String::new(),
        percent: None,
        safe: None,
        detection: None,
        kind: String::new(),
        criteria: Vec::new(),
    }
}
