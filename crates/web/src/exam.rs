//! A sealed exam that is sat on a page: opened with its passphrase, counted, its acts
//! chained. Nothing here marks; the key does.

use std::sync::Arc;

use serde::Deserialize;
use serde_json::{Value, json};
use tidewright_scenario::format::{Attempt, Cut, CutOff, Sitting};
use tidewright_scenario::{is_attempt, is_scenario, parse_attempt};
use tidewright_training::Session;
use tidewright_training::desk::Desk;
use tidewright_training::exam::{Chain, Exam, ExamError, is_sealed};

mod sat;

pub use sat::Sat;

use crate::practise::Practice;
use crate::wrong::Wrong;

/// A sealed exam that is to be sat, or taken up from its log.
#[derive(Debug, Deserialize)]
pub struct Sit {
    file: String,
    text: String,
    passphrase: String,
    /// What was noted of each sitting on this machine so far.
    #[serde(default)]
    sat: Vec<String>,
    log: Option<String>,
    /// Whether it was the model that failed.
    #[serde(default)]
    failed: bool,
}

/// Letters of the secret that tell two exams of one name apart; they tell nothing else.
const TOLD_APART: usize = 8;

/// What a text is meant as.
pub fn what_is(file: &str, text: &str) -> &'static str {
    match text {
        text if is_sealed(text) => "sealed",
        text if is_attempt(file, text) => "log",
        text if is_scenario(file, text) => "scenario",
        _ => "other",
    }
}

/// Opens an exam, and begins it or takes it up; what is to be noted of the sitting.
pub fn sat(asked: &Sit) -> Result<(Practice, Value), Wrong> {
    let exam = Exam::opened(&asked.file, &asked.text, &asked.passphrase);
    let exam = exam.map_err(|error| match error {
        ExamError::NoSeal(rejected) => rejected.into(),
        error => Wrong::told(error, "type the passphrase as your teacher gave it"),
    })?;
    let told_apart = exam.secret.get(..TOLD_APART).unwrap_or(&exam.secret);
    let note = format!("{} {told_apart}", exam.name);
    let scenario = Arc::new(exam.scenario.clone());
    let (desk, sat) = match &asked.log {
        None => {
            let session = Session::dealt(&scenario, exam.seed, exam.dealt.clone());
            let session = session.map_err(|error| Wrong::told(error, "ask your teacher"))?;
            let before = asked.sat.iter().filter(|one| **one == note).count();
            let number = u32::try_from(before).unwrap_or(999).min(999) + 1;
            let log = session.attempt(exam.pseudonym.clone());
            let chain = Chain::begin(&exam.secret, &log, number);
            let sat = Sat { number, chain, links: Vec::new(), interrupted: Vec::new() };
            (Desk::new(session), sat)
        }
        Some(log) => {
            let attempt = parse_attempt("attempt.ron", log)?;
            let sat = taken_up(&exam, &attempt, asked.failed)?;
            let desk = Desk::taken_up(&scenario, &attempt);
            let mend = "open the exam that the log is of";
            (desk.map_err(|error| Wrong::told(error, mend))?, sat)
        }
    };
    let practice = Practice::of(scenario, desk, exam.pseudonym, Some(sat));
    let mut told = practice.lesson();
    told["sitting"] = json!(note);
    Ok((practice, told))
}

fn taken_up(exam: &Exam, attempt: &Attempt, failed: bool) -> Result<Sat, Wrong> {
    let sitting = attempt.exam.as_ref().filter(|_| attempt.scenario == exam.name);
    let Sitting { number, links, .. } =
        sitting.ok_or_else(|| Wrong::told("the log is of another exam", "open both again"))?;
    let mut chain = Chain::begin(&exam.secret, attempt, *number);
    for timed in &attempt.acts {
        chain.act(timed);
    }
    let mut interrupted = attempt.interrupted.clone();
    let by = if failed { Cut::Fault } else { Cut::Unknown };
    interrupted.push(CutOff { at_s: attempt.ended_at_s, by });
    Ok(Sat { number: *number, chain, links: links.clone(), interrupted })
}
