//! The handout as pages of a PDF.

use super::asks::HOLDS;
use super::press::{Press, blank_line};
use super::test::numbered;
use super::{
    Answer, CAUTION, FROM_ENGINE, Handout, LINES_PER_QUESTION, MEASURES, NOT_SETTLED, PREDICT,
    Paper, RECORD, RECORD_COLUMNS, Sheets, Test,
};
use crate::paper::error::FigureError;
use crate::paper::grid::grid;
use crate::paper::pdf;

/// A figure is drawn no lower while the next page has more room, px.
const LEAST_FIGURE_PX: f64 = 280.0;

pub(super) fn pdf(
    handouts: &[Handout],
    sheets: Sheets,
    paper: Paper,
) -> Result<Vec<u8>, FigureError> {
    let mut press = Press::new(paper.format());
    if sheets == Sheets::Answers {
        key(&mut press, handouts, paper)?;
    }
    for handout in handouts {
        if sheets != Sheets::Answers {
            work(&mut press, handout, paper)?;
        }
        if sheets != Sheets::Work {
            answers(&mut press, handout, paper)?;
        }
    }
    let pages = press.finish()?;
    let pages: Vec<&str> = pages.iter().map(String::as_str).collect();
    let title = match (sheets, handouts) {
        (Sheets::Answers, [first, ..]) => format!("Answers: {}", first.title()),
        (_, [first, ..]) => first.patient(),
        _ => String::new(),
    };
    pdf::encode_scaled(&pages, &title, &paper.words(CAUTION), paper.scale() as f32)
}

fn work(press: &mut Press, handout: &Handout, paper: Paper) -> Result<(), FigureError> {
    let patient = handout.patient();
    press.sheet(&patient, &format!("{} {}", paper.words(CAUTION), handout.origin(false)))?;
    press.heading(1, &patient, 0)?;
    let name = handout.student.as_deref().unwrap_or("______________________");
    press.paragraph(&format!("Name: {name}\u{a0}\u{a0}\u{a0}\u{a0}Date: ______________"))?;
    press.boxed(&[handout.story(), &handout.settings()])?;
    if press.room() < grid(LEAST_FIGURE_PX) {
        press.turn()?;
    }
    press.figure(&handout.quiz, press.room())?;
    press.turn()?;
    if handout.predicts() {
        press.heading(2, PREDICT, grid(80.0))?;
        table(press, PREDICT, &handout.answers, false)?;
    }
    if let Some(test) = &handout.test {
        return asked(press, test);
    }
    for (i, question) in handout.questions().iter().enumerate() {
        let lines = LINES_PER_QUESTION as i32 * blank_line();
        press.heading(2, &format!("{}. {question}", i + 1), lines)?;
        press.blank(LINES_PER_QUESTION)?;
    }
    press.heading(2, "Record", grid(160.0))?;
    let mut parts = vec![3];
    parts.extend([1; RECORD_COLUMNS]);
    let row = |name: &&str| {
        let mut cells = vec![(*name).to_owned()];
        cells.resize(1 + RECORD_COLUMNS, String::new());
        cells
    };
    let rows: Vec<Vec<String>> = RECORD.iter().map(row).collect();
    press.table("Record", &parts, &rows, false)
}

/// A test, without a record: it has its own room to write on.
fn asked(press: &mut Press, test: &Test) -> Result<(), FigureError> {
    press.heading(2, &test.heading(), grid(80.0))?;
    for (place, own) in test.own.iter().enumerate() {
        press.heading(
            3,
            &numbered(place, &own.asks, own.marks),
            own.lines() as i32 * blank_line(),
        )?;
        press.blank(own.lines())?;
    }
    for (place, choice) in test.choices.iter().enumerate() {
        let below = grid(24.0) * choice.answers.len() as i32;
        press.heading(3, &numbered(test.own.len() + place, &choice.asks, 1), below)?;
        for answer in choice.lettered() {
            press.paragraph(&answer)?;
        }
    }
    Ok(())
}

fn answers(press: &mut Press, handout: &Handout, paper: Paper) -> Result<(), FigureError> {
    let title = format!("Answers: {}", handout.title());
    press.sheet(&title, &format!("{} {}", paper.words(CAUTION), handout.origin(true)))?;
    press.heading(1, &title, 0)?;
    press.paragraph(&handout.whose())?;
    press.bold(handout.teaches())?;
    if let Some(differs) = handout.differs() {
        press.paragraph(&differs)?;
    }
    press.figure(&handout.answer, grid(480.0).min(press.room()))?;
    if !handout.answers.is_empty() {
        press.heading(2, FROM_ENGINE, grid(80.0))?;
        table(press, FROM_ENGINE, &handout.answers, true)?;
    }
    if let Some(key) = handout.test.as_ref().and_then(Test::key) {
        press.bold(&key)?;
    }
    press.heading(2, HOLDS, grid(40.0))?;
    for (i, text) in handout.holds(paper).iter().enumerate() {
        press.paragraph(&format!("{}. {text}", i + 1))?;
    }
    // As large as the page beyond the answers allows.
    match &handout.circuit {
        Some(circuit) => press.figure(circuit, grid(560.0)),
        None => Ok(()),
    }
}

/// One line for each student of a class: what the first change does.
fn key(press: &mut Press, handouts: &[Handout], paper: Paper) -> Result<(), FigureError> {
    let Some(first) = handouts.first() else {
        return Ok(());
    };
    let title = format!("Key: {}", first.title());
    let (caution, version) = (paper.words(CAUTION), env!("CARGO_PKG_VERSION"));
    press.sheet(&title, &format!("{caution} Tidewright {version}"))?;
    press.heading(1, &title, 0)?;
    press.paragraph(
        "What the first change does to the settled breath, for each student's patient.",
    )?;
    let rows = super::key_rows(handouts);
    press.table(&title, &[4, 3, 4, 4, 4, 4], &rows, true)
}

fn table(
    press: &mut Press,
    label: &str,
    answers: &[Answer],
    filled: bool,
) -> Result<(), FigureError> {
    let mut rows = vec![super::head("Change")];
    for (i, answer) in answers.iter().enumerate() {
        let mut cells = vec![answer.row_name(filled, i == 0)];
        match (answer.told(), filled) {
            (Some(told), true) => cells.extend(told),
            (None, true) => cells.push(NOT_SETTLED.to_owned()),
            (_, false) => (),
        }
        cells.resize(1 + MEASURES.len(), String::new());
        rows.push(cells);
    }
    press.table(label, &[4, 3, 3, 3, 3], &rows, true)
}
