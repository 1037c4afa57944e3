//! What a class handed in: a folder, with folders of students in it or without, and zip
//! files as a learning platform packs them.

use std::fs;
use std::io::{self, Read};
use std::path::Path;

use tidewright_scenario::{LARGEST_FILE, is_attempt, is_journal};
use tidewright_training::class::Handed;
use zip::ZipArchive;

use crate::files::input::{self, shown};
use crate::files::problem::{Problem, reason};

/// How many folders deep it is looked.
const DEEPEST: usize = 8;
/// Most files of a class, and what they may hold together: they are compared with each
/// other, so all of them stand in memory.
const MOST: usize = 100_000;
const MOST_BYTES: usize = 256 * 1024 * 1024;

/// What was found.
#[derive(Debug, Default)]
pub struct Found {
    /// The attempts, in the order of their names.
    pub handed: Vec<Handed>,
    /// Texts that are no logs, and are left alone.
    pub other_texts: usize,
    /// What the logs hold together, bytes.
    bytes: usize,
}

/// Every attempt in a folder or a zip file.
pub fn gathered(place: &Path) -> Result<Found, Problem> {
    let failed = |error: &io::Error| Problem::Read {
        what: format!("cannot read {}: {}", shown(place), reason(error)),
        mend: None,
    };
    let mut found = Found::default();
    if is_zip(place) {
        found.unpack(place, "")?;
    } else {
        let entries = fs::read_dir(place).map_err(|error| failed(&error))?;
        found.take(entries, "", 0)?;
    }
    found.handed.sort_by(|a, b| a.file.cmp(&b.file));
    Ok(found)
}

fn is_zip(path: &Path) -> bool {
    ends_so(path, "zip") && path.is_file()
}

fn ends_so(path: &Path, ending: &str) -> bool {
    path.extension().is_some_and(|end| end.eq_ignore_ascii_case(ending))
}

/// Whether a name is one that a log may have: some platforms add `.txt`.
fn may_be_log(path: &Path) -> bool {
    ["ron", "json", "txt"].iter().any(|ending| ends_so(path, ending))
}

impl Found {
    fn take(&mut self, entries: fs::ReadDir, within: &str, depth: usize) -> Result<(), Problem> {
        let mut paths = Vec::new();
        for entry in entries {
            match entry {
                Ok(entry) => paths.push(entry.path()),
                Err(error) => self.not_looked_into(within, &reason(&error))?,
            }
        }
        // A folder is read in any order.
        paths.sort();
        for path in paths {
            let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
            let file = format!("{within}{name}");
            // A folder under the name of a log is told as what it is.
            if path.is_dir() && !may_be_log(&path) {
                let within = format!("{file}/");
                if path.is_symlink() {
                    self.not_looked_into(&within, "it is a link, which may lead in a circle")?;
                } else if depth == DEEPEST {
                    self.not_looked_into(&within, "it lies too many folders deep")?;
                } else {
                    match fs::read_dir(&path) {
                        Ok(entries) => self.take(entries, &within, depth + 1)?,
                        Err(error) => self.not_looked_into(&within, &reason(&error))?,
                    }
                }
            } else if is_zip(&path) {
                self.unpack(&path, &format!("{file}/"))?;
            } else if may_be_log(&path) {
                let text = input::log_text(&path).map_err(|problem| problem.to_string());
                self.add(file, text)?;
            }
        }
        Ok(())
    }

    /// Lists a folder whose logs are not marked, with the reason: nobody's work is left
    /// out in silence.
    fn not_looked_into(&mut self, within: &str, why: &str) -> Result<(), Problem> {
        self.add(format!("{within}*"), Err(format!("the folder is not looked into: {why}")))
    }

    fn unpack(&mut self, path: &Path, within: &str) -> Result<(), Problem> {
        input::reads(path);
        let opened = fs::File::open(path);
        let opened = opened.and_then(|file| ZipArchive::new(file).map_err(io::Error::from));
        let mut zip = match opened {
            Ok(zip) => zip,
            Err(error) => {
                let why = format!("it is no zip file that can be read: {error}");
                return self.add(format!("{within}*"), Err(why));
            }
        };
        for index in 0..zip.len() {
            let mut entry = match zip.by_index(index) {
                Ok(entry) => entry,
                Err(error) => {
                    self.add(format!("{within}#{index}"), Err(error.to_string()))?;
                    continue;
                }
            };
            let name = entry.name().map_or_else(|_| format!("#{index}"), |name| name.into_owned());
            if entry.is_dir() || !may_be_log(Path::new(&name)) {
                continue;
            }
            let text = text_of(&mut entry);
            self.add(format!("{within}{name}"), text)?;
        }
        Ok(())
    }

    fn add(&mut self, file: String, text: Result<String, String>) -> Result<(), Problem> {
        if ends_so(Path::new(&file), "txt")
            && text.as_ref().is_ok_and(|text| !is_attempt(&file, text))
        {
            self.other_texts += 1;
            return Ok(());
        }
        if self.handed.len() == MOST {
            return Err(Problem::File {
                what: format!("more than {MOST} files were handed in"),
                mend: "mark them in several folders".to_owned(),
            });
        }
        self.bytes += text.as_ref().map_or(0, String::len);
        if self.bytes > MOST_BYTES {
            return Err(Problem::File {
                what: format!("what was handed in holds more than {} MiB", MOST_BYTES >> 20),
                mend: "mark it in several folders".to_owned(),
            });
        }
        self.handed.push(Handed { file, text });
        Ok(())
    }
}

/// The text of a packed file; nothing that unpacks to more than a log is unpacked whole.
fn text_of(packed: &mut impl Read) -> Result<String, String> {
    let mut bytes = Vec::new();
    let read = packed.take(LARGEST_FILE as u64 + 1).read_to_end(&mut bytes);
    read.map_err(|error| format!("it cannot be unpacked: {error}"))?;
    if bytes.len() > LARGEST_FILE {
        return Err(format!("it is too large: at most {} KiB", LARGEST_FILE / 1024));
    }
    let whole = bytes.iter().rposition(|&byte| byte == b'\n').map_or(0, |end| end + 1);
    if std::str::from_utf8(&bytes[..whole]).is_ok_and(is_journal) {
        bytes.truncate(whole);
    }
    String::from_utf8(bytes).map_err(|_| "it is not text in UTF-8".to_owned())
}
