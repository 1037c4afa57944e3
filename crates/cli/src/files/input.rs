//! Scenario files, from disk or from standard input.

use std::fs::File;
use std::io::{self, Read};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

use tidewright_figures::FigureFile;
use tidewright_scenario::fault::near;
use tidewright_scenario::{
    LARGEST_FILE, Scenario, is_attempt, is_journal, is_scenario, parse, parse_attempt, parse_bytes,
    text_of, visible,
};

use crate::files::output;
use crate::files::problem::{Problem, reason};

/// The name of standard input, or output, on the command line.
pub const STANDARD: &str = "-";

/// What this command reads. A program run is one command, so this is its only one.
static READ: Mutex<Vec<PathBuf>> = Mutex::new(Vec::new());

/// Notes that a file is read, so that nothing is written over it.
pub fn reads(path: &Path) {
    if path != Path::new(STANDARD) {
        READ.lock().unwrap_or_else(PoisonError::into_inner).push(path.to_path_buf());
    }
}

/// What the command has read so far.
pub fn read_so_far() -> Vec<PathBuf> {
    READ.lock().unwrap_or_else(PoisonError::into_inner).clone()
}

/// A path as it may be shown: characters that would act on the terminal as escapes.
pub fn shown(path: &Path) -> String {
    if path == Path::new(STANDARD) {
        return "standard input".to_owned();
    }
    visible(&path.display().to_string()).into_owned()
}

/// The same of what is written.
pub fn shown_output(path: &Path) -> String {
    if path == Path::new(STANDARD) { "standard output".to_owned() } else { shown(path) }
}

/// Reads and checks a scenario.
pub fn scenario(path: &Path) -> Result<Scenario, Problem> {
    let bytes = bytes(path).map_err(|error| unreadable(path, &error))?;
    Ok(parse_bytes(&shown(path), &bytes)?)
}

/// Reads the log of an attempt; of one that was being written when it was cut off, all
/// whole lines.
pub fn log_text(path: &Path) -> Result<String, Problem> {
    no_pipe(path)?;
    whole_lines(path, bytes(path))
}

/// The same from a file that is open: where a lock keeps every other reader out, as on
/// Windows, only its owner can read it.
pub fn opened_log_text(path: &Path, file: &File) -> Result<String, Problem> {
    no_pipe(path)?;
    reads(path);
    whole_lines(path, bounded(file))
}

fn whole_lines(path: &Path, bytes: io::Result<Vec<u8>>) -> Result<String, Problem> {
    let mut bytes = bytes.map_err(|error| unreadable(path, &error))?;
    let whole = bytes.iter().rposition(|&byte| byte == b'\n').map_or(0, |end| end + 1);
    if std::str::from_utf8(&bytes[..whole]).is_ok_and(is_journal) {
        bytes.truncate(whole);
    }
    as_text(path, bytes)
}

/// Refuses a pipe or a device: it is not waited for.
fn no_pipe(path: &Path) -> Result<(), Problem> {
    let given_open = path.starts_with("/dev") || path.starts_with("/proc");
    let other = |kind: std::fs::Metadata| !kind.is_file() && !kind.is_dir();
    if !given_open && std::fs::metadata(path).is_ok_and(other) {
        return Err(Problem::Read {
            what: format!("{} is a pipe or a device, and is not waited for", shown(path)),
            mend: Some("save what it gives in a file first".to_owned()),
        });
    }
    Ok(())
}

/// Checks a scenario, or the log of an attempt; hands back what is a lesson.
pub fn check(path: &Path) -> Result<Option<Scenario>, Problem> {
    no_pipe(path)?;
    let bytes = bytes(path).map_err(|error| unreadable(path, &error))?;
    let name = shown(path);
    match std::str::from_utf8(&bytes) {
        Ok(text) if text.len() <= LARGEST_FILE && is_attempt(&name, text) => {
            parse_attempt(&name, text)?;
            Ok(None)
        }
        _ => Ok(Some(parse_bytes(&name, &bytes)?).filter(|one| one.training.is_some())),
    }
}

/// Reads a text.
pub fn text(path: &Path) -> Result<String, Problem> {
    as_text(path, bytes(path).map_err(|error| unreadable(path, &error))?)
}

fn as_text(path: &Path, bytes: Vec<u8>) -> Result<String, Problem> {
    if bytes.len() > LARGEST_FILE {
        return Err(Problem::File {
            what: format!("{} is too large: at most {} KiB", shown(path), LARGEST_FILE / 1024),
            mend: "name another file, or shorten this one".to_owned(),
        });
    }
    String::from_utf8(bytes).map_err(|_| Problem::Read {
        what: format!("{} is not text in UTF-8", shown(path)),
        mend: Some("save it from a text editor with the encoding UTF-8".to_owned()),
    })
}

/// A file that can be drawn.
pub enum Drawing {
    /// A figure file, its text, and the scenario that it names.
    Figure { file: Box<FigureFile>, scenario: Box<Scenario> },
    /// A scenario, drawn as a whole.
    Scenario(Box<Scenario>),
}

/// Reads and checks a figure file and its scenario, or a scenario alone.
pub fn drawing(path: &Path) -> Result<Drawing, Problem> {
    let name = shown(path);
    let bytes = bytes(path).map_err(|error| unreadable(path, &error))?;
    let text = text_of(&name, &bytes)?;
    if is_scenario(&name, text) {
        return Ok(Drawing::Scenario(Box::new(parse(&name, text)?)));
    }
    let file = FigureFile::parse(&name, text)?;
    let folder = path.parent().unwrap_or(path);
    let scenario = scenario(&folder.join(&file.scenario))?;
    // Once more, now that it is known what the scenario has.
    let file = FigureFile::parse_for(&name, text, &scenario)?;
    Ok(Drawing::Figure { file: Box::new(file), scenario: Box::new(scenario) })
}

/// Reads and checks a cohort file.
pub fn cohort(path: &Path) -> Result<tidewright_study::cohort::CohortFile, Problem> {
    let bytes = bytes(path).map_err(|error| unreadable(path, &error))?;
    Ok(tidewright_study::cohort::CohortFile::parse_bytes(&shown(path), &bytes)?)
}

fn bytes(path: &Path) -> io::Result<Vec<u8>> {
    reads(path);
    if path != Path::new(STANDARD) {
        return bounded(File::open(path)?);
    }
    if output::is_typed() {
        output::complain_in_words("Type or paste a scenario; end it with Ctrl-D.\n");
    }
    bounded(io::stdin())
}

/// One byte more than allowed tells a file that is too large.
fn bounded(from: impl Read) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    from.take(LARGEST_FILE as u64 + 1).read_to_end(&mut bytes)?;
    Ok(bytes)
}

/// A file that cannot be read, and what would help.
pub fn unreadable(path: &Path, error: &io::Error) -> Problem {
    let what = format!("cannot read {}: {}", shown(path), reason(error));
    let mend = match error.kind() {
        io::ErrorKind::NotFound => Some(match nearest(path) {
            Some(name) => format!("did you mean `{name}`?"),
            None => "check the name, and the folder you are in; \
                     `tidewright example > first.ron` makes a file to begin with"
                .to_owned(),
        }),
        io::ErrorKind::IsADirectory => {
            Some(format!("name the files in it, such as {}", shown(&path.join("*.ron"))))
        }
        _ => None,
    };
    Problem::Read { what, mend }
}

/// The scenario file in the same folder, or in `scenarios`, whose name is nearest.
fn nearest(path: &Path) -> Option<String> {
    let wanted = path.file_stem()?.to_string_lossy().into_owned();
    let folder = path.parent()?;
    let mut files: Vec<(String, PathBuf)> = [folder.to_path_buf(), folder.join("scenarios")]
        .into_iter()
        .map(|folder| if folder.as_os_str().is_empty() { ".".into() } else { folder })
        .filter_map(|folder| std::fs::read_dir(folder).ok())
        .flat_map(|entries| entries.take(10_000).flatten().map(|entry| entry.path()))
        .filter(|file| file.extension().is_some_and(|ending| ending == "ron" || ending == "json"))
        .map(|file| (file.file_stem().unwrap_or_default().to_string_lossy().into_owned(), file))
        .collect();
    // A folder is read in any order.
    files.sort();
    let stems: Vec<&str> = files.iter().map(|(stem, _)| stem.as_str()).collect();
    let meant = near(&wanted, &stems)?;
    let (_, file) = files.iter().find(|(stem, _)| stem == meant)?;
    Some(shown(file.strip_prefix(".").unwrap_or(file)))
}

/// Refuses a patient that breathes by its own drive, for verbs that look for a
/// settled breath of the ventilator.
pub fn no_own_drive(scenario: &Scenario, name: &str) -> Result<(), Problem> {
    if !scenario.begins_with_drive() {
        return Ok(());
    }
    Err(Problem::study(
        format!("the patient of {name} breathes by its own drive, so its breaths do not settle"),
        "leave out `effort: Drive(…)`, or follow the patient with `tidewright run`",
    ))
}
