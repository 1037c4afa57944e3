//! Sealed exams: opened with a passphrase, counted, and sealed for a class.

use std::fs;
use std::io::{self, BufRead as _, Read as _, Write as _};
use std::path::{Path, PathBuf};

use ratatui::crossterm::event::{self, Event, KeyCode, KeyEventKind};
use ratatui::crossterm::terminal;
use rayon::prelude::*;
use tidewright_scenario::Scenario;
use tidewright_scenario::format::Id;
use tidewright_training::class::SealedKey;
use tidewright_training::exam::{Exam, ExamError, is_sealed};

use crate::files::history;
use crate::files::input::{self, shown};
use crate::files::output::{self, unwritable};
use crate::files::problem::Problem;

/// Where a passphrase may stand, so that no command line shows it.
const VARIABLE: &str = "TIDEWRIGHT_PASSPHRASE";
/// Most of a pipe that is read for a passphrase, bytes.
const LONGEST_PASSPHRASE: u64 = 4096;

/// Opens a file if it is a sealed exam; nothing if it is none.
pub fn open(path: &Path) -> Result<Option<Exam>, Problem> {
    if !path.is_file() {
        return Ok(None);
    }
    // What cannot be read, or is too large, is told by who reads it as a lesson.
    let Ok(text) = input::text(path) else { return Ok(None) };
    if !is_sealed(&text) {
        return Ok(None);
    }
    let exam = Exam::opened(&shown(path), &text, &passphrase()?);
    exam.map(Some).map_err(|error| wrong(path, error))
}

fn wrong(path: &Path, error: ExamError) -> Problem {
    match error {
        ExamError::NoSeal(rejected) => rejected.into(),
        error => Problem::File {
            what: format!("{}: {error}", shown(path)),
            mend: "type the passphrase as your teacher gave it".to_owned(),
        },
    }
}

/// The passphrase: of the environment, else typed unseen, else the first line of a pipe.
pub fn passphrase() -> Result<String, Problem> {
    if let Some(given) = std::env::var(VARIABLE).ok().filter(|given| !given.is_empty()) {
        return Ok(given);
    }
    let failed = |error: io::Error| Problem::Read {
        what: format!("cannot read the passphrase: {error}"),
        mend: Some(format!("or put it into the variable {VARIABLE}")),
    };
    output::complain_in_words("Passphrase: ");
    if !output::is_typed() {
        let mut line = String::new();
        io::stdin().lock().take(LONGEST_PASSPHRASE).read_line(&mut line).map_err(failed)?;
        return Ok(line.trim_end().to_owned());
    }
    terminal::enable_raw_mode().map_err(failed)?;
    let typed = typed_unseen();
    terminal::disable_raw_mode().map_err(failed)?;
    output::complain_in_words("\n");
    typed.map_err(failed)
}

fn typed_unseen() -> io::Result<String> {
    let mut typed = String::new();
    loop {
        let Event::Key(key) = event::read()? else { continue };
        if key.kind != KeyEventKind::Press {
            continue;
        }
        match key.code {
            KeyCode::Enter => return Ok(typed),
            KeyCode::Esc => return Err(io::ErrorKind::Interrupted.into()),
            KeyCode::Backspace => drop(typed.pop()),
            KeyCode::Char('c') if key.modifiers.contains(event::KeyModifiers::CONTROL) => {
                return Err(io::ErrorKind::Interrupted.into());
            }
            KeyCode::Char(c) => typed.push(c),
            _ => {}
        }
    }
}

/// Where sittings are counted, and the line of one of this exam.
fn sittings(exam: &Exam) -> Option<(PathBuf, String)> {
    let file = history::file()?.with_file_name("sittings.csv");
    // The secret is another for each exam, and its hash tells nothing here.
    let line = format!("{},{}\n", exam.name, &exam.secret[..exam.secret.len().min(8)]);
    Some((file, line))
}

/// The how-manieth sitting on this machine the next one is.
pub fn next_sitting(exam: &Exam) -> u32 {
    let Some((file, line)) = sittings(exam) else { return 1 };
    let before = fs::read_to_string(file).unwrap_or_default();
    let sat = before.split_inclusive('\n').filter(|one| **one == line).count();
    u32::try_from(sat).unwrap_or(999).min(999) + 1
}

/// Counts a sitting that begins.
pub fn count_sitting(exam: &Exam) -> Result<(), Problem> {
    let Some((file, line)) = sittings(exam) else { return Ok(()) };
    let failed = |error: io::Error| Problem::from(unwritable(&shown(&file), &error));
    if let Some(folder) = file.parent() {
        fs::create_dir_all(folder).map_err(failed)?;
    }
    let mut open = fs::OpenOptions::new().create(true).append(true).open(&file).map_err(failed)?;
    open.write_all(line.as_bytes()).map_err(failed)
}

/// A file of its own, and what it holds.
type Sheet = (PathBuf, Vec<u8>);

/// The sealed files of a class, and the rows of its key.
pub fn deal(
    lesson: &Scenario,
    ids: &[Id],
    seed: u32,
    folder: &Path,
) -> Result<(Vec<Sheet>, Vec<SealedKey>), Problem> {
    let passphrase = passphrase()?;
    let _waiting = output::waiting("sealing");
    let one = |id: &Id| -> Result<_, ExamError> {
        let exam = Exam::of(lesson, id.clone(), seed)?;
        let sealed = exam.sealed(&passphrase)?;
        let key = SealedKey::of(lesson, &exam);
        Ok(((folder.join(format!("{}.sealed", exam.name)), sealed.into_bytes()), key))
    };
    let all: Result<Vec<_>, ExamError> = ids.par_iter().map(one).collect();
    let all = all.map_err(|error| {
        Problem::usage(error.to_string(), "nothing was dealt; mend that and give it again")
    })?;
    Ok(all.into_iter().unzip())
}
