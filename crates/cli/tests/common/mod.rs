//! Runs the built program as a person would.
#![allow(clippy::unwrap_used, dead_code, reason = "shared by several tests")]

use std::ffi::OsStr;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};

/// The program, in an environment that says nothing but a width of 80.
pub fn program() -> Command {
    let mut program = Command::new(env!("CARGO_BIN_EXE_tidewright"));
    for name in ["NO_COLOR", "CLICOLOR_FORCE", "FORCE_COLOR", "NO_GRAPHICS", "CLICOLOR"] {
        program.env_remove(name);
    }
    program.env("COLUMNS", "80").stdin(Stdio::null());
    program
}

/// What came of a command.
#[derive(Debug)]
pub struct Outcome {
    pub code: i32,
    pub stdout: String,
    pub stderr: String,
}

impl Outcome {
    pub fn of(output: Output) -> Self {
        Self {
            code: output.status.code().unwrap(),
            stdout: String::from_utf8(output.stdout).unwrap(),
            stderr: String::from_utf8(output.stderr).unwrap(),
        }
    }
}

pub fn tidewright(arguments: impl IntoIterator<Item = impl AsRef<OsStr>>) -> Outcome {
    Outcome::of(program().args(arguments).output().unwrap())
}

/// As [`tidewright`], with something on standard input.
pub fn fed(arguments: &[&str], input: &[u8]) -> Outcome {
    let mut child = begun(program().args(arguments));
    child.stdin.take().unwrap().write_all(input).unwrap();
    Outcome::of(child.wait_with_output().unwrap())
}

/// The program under way, to be spoken to.
fn begun(program: &mut Command) -> Child {
    program.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap()
}

/// A folder with `first.ron`, the built-in scenario, in it.
pub struct Desk {
    folder: tempfile::TempDir,
}

impl Desk {
    pub fn new() -> Self {
        let desk = Self { folder: tempfile::tempdir().unwrap() };
        desk.put("first.ron", tidewright_scenario::DEMO.as_bytes());
        desk
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub fn put(&self, name: &str, bytes: &[u8]) {
        std::fs::write(self.path(name), bytes).unwrap();
    }

    pub fn get(&self, name: &str) -> Vec<u8> {
        std::fs::read(self.path(name)).unwrap()
    }

    /// The names of all files in it.
    pub fn names(&self) -> Vec<String> {
        let entries = std::fs::read_dir(self.folder.path()).unwrap();
        let mut names: Vec<String> =
            entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
        names.sort();
        names
    }

    /// Runs the program in this folder.
    pub fn tidewright(&self, arguments: &[&str]) -> Outcome {
        let output = program().current_dir(self.folder.path()).args(arguments).output();
        Outcome::of(output.unwrap())
    }

    /// A session fed line by line, with what is kept of it in `data` of the desk.
    pub fn practised(&self, arguments: &[&str], lines: &str) -> Outcome {
        let mut program = program();
        program.current_dir(self.folder.path()).env("TIDEWRIGHT_DATA", self.path("data"));
        let mut child = begun(program.arg("practise").args(arguments));
        // A session that is over, or never began, reads no more.
        let _ = child.stdin.take().unwrap().write_all(lines.as_bytes());
        Outcome::of(child.wait_with_output().unwrap())
    }
}

/// A folder of the repository.
pub fn repository(folder: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..").join(folder)
}

/// The path of a shipped lesson.
pub fn lesson(id: &str) -> String {
    repository(&format!("scenarios/training/{id}.ron")).display().to_string()
}

/// One of its attempts.
pub fn attempt(lesson: &str, name: &str) -> PathBuf {
    repository(&format!("scenarios/training/attempts/{lesson}/{name}.ron"))
}

/// A text without its line breaks and the bars of a message.
pub fn words(text: &str) -> String {
    text.replace('│', " ").split_whitespace().collect::<Vec<_>>().join(" ")
}

pub fn files(folder: &str) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(repository(folder)).unwrap();
    let paths = entries.map(|entry| entry.unwrap().path());
    let mut files: Vec<PathBuf> = paths.filter(|path| path.is_file()).collect();
    files.sort();
    files
}

/// Commands that must end with a code, print nothing, and say something.
pub fn all_refused(desk: &Desk, wrong: &[(&[&str], i32, &str)]) {
    for (arguments, code, said) in wrong {
        let outcome = desk.tidewright(arguments);
        assert_eq!((outcome.code, outcome.stdout.as_str()), (*code, ""), "{arguments:?}");
        assert!(words(&outcome.stderr).contains(said), "{arguments:?}: {}", outcome.stderr);
    }
}
