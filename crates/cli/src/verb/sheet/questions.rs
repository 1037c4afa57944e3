//! `tidewright questions`: question banks for the software of schools.

use std::io::{Cursor, Write as _};
use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};
use tidewright_figures::{Bank, BankPaper, Handout};
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, DateTime, ZipWriter};

use crate::exit::Exit;
use crate::files::draft;
use crate::files::input::{self, shown};
use crate::files::output;
use crate::files::problem::Problem;

/// Make a question bank that learning environments read
///
/// Of a lesson it takes the questions that may be answered from the start, and what each
/// of its faults does to a breath of its patient; of any other
/// scenario with a timeline, what its first change does to a breath, with the traces;
/// with --signs, what each fault does to a breath. Every question has one right answer,
/// from the engine or the lesson, and a reason for it.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct Questions {
    /// Scenario files and lessons, RON or JSON
    #[arg(value_name = "SCENARIO", required_unless_present = "signs")]
    scenarios: Vec<PathBuf>,

    /// Take the table of signs, too
    #[arg(long)]
    signs: bool,

    /// Where to write it: .gift or .txt for GIFT, .zip for QTI 2.1; several papers get
    /// their letter before the ending
    #[arg(long, value_name = "FILE")]
    out: PathBuf,

    /// Kind of file [default: as --out ends]
    #[arg(long = "as", value_name = "KIND")]
    kind: Option<Kind>,

    /// How many papers of the same questions in different orders, named A, B and so on
    #[arg(long, value_name = "COUNT", default_value = "1",
        value_parser = clap::value_parser!(u8).range(1..=26))]
    papers: u8,

    /// Draws orders, and the patients of traces; 0 is the scenario's own patient
    #[arg(long, value_name = "NUMBER", default_value = "0")]
    seed: u64,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Kind {
    /// Text that many learning environments import
    Gift,
    /// Content package of QTI 2.1
    Qti,
}

const EXAMPLES: &str = "\
Examples:
  tidewright questions --signs --out signs.gift
  tidewright questions scenarios/stiff-lung-normal-peak.ron --seed 7 --out traces.zip
  tidewright questions scenarios/training/biscuit-settings-from-weight.ron --signs \\
      --papers 2 --out test.gift      writes test-A.gift and test-B.gift";

impl Questions {
    /// Makes it.
    pub fn perform(self) -> Result<Exit, Problem> {
        let kind = self.kind()?;
        self.scenarios.iter().for_each(|path| input::reads(path));
        let letters: Vec<char> = (0..self.papers).map(|place| char::from(b'A' + place)).collect();
        let paths: Vec<PathBuf> = letters.iter().map(|&letter| self.path(letter)).collect();
        draft::check(&paths)?;
        let bank = self.bank()?;
        let title = self.out.file_stem().map_or_else(String::new, |stem| shown(Path::new(stem)));
        let mut files = Vec::new();
        let mut count = 0;
        for (&letter, path) in letters.iter().zip(&paths) {
            let title = if self.papers > 1 { format!("{title} {letter}") } else { title.clone() };
            let paper = bank.paper(&title, self.seed, letter);
            count = paper.key().len();
            let bytes = match kind {
                Kind::Gift => paper.gift().into_bytes(),
                Kind::Qti => package(&paper)?,
            };
            files.push((path.clone(), bytes));
        }
        draft::write_all(&files)?;
        let names: Vec<String> = paths.iter().map(|path| shown(path)).collect();
        output::print(&format!("{count} questions written: {}.\n", names.join(", ")))?;
        Ok(Exit::Done)
    }

    fn kind(&self) -> Result<Kind, Problem> {
        let ending = self.out.extension().and_then(|ending| ending.to_str());
        let told = match ending.map(str::to_ascii_lowercase).as_deref() {
            Some("gift" | "txt") => Some(Kind::Gift),
            Some("zip") => Some(Kind::Qti),
            _ => None,
        };
        self.kind.or(told).ok_or_else(|| {
            Problem::usage(
                format!("the ending of {} names no kind of bank", shown(&self.out)),
                "end it in .gift or .zip, or say --as gift or --as qti",
            )
        })
    }

    fn path(&self, letter: char) -> PathBuf {
        if self.papers == 1 {
            return self.out.clone();
        }
        let mut name = self.out.file_stem().unwrap_or_default().to_owned();
        name.push(format!("-{letter}"));
        if let Some(ending) = self.out.extension() {
            name.push(".");
            name.push(ending);
        }
        self.out.with_file_name(name)
    }

    fn bank(&self) -> Result<Bank, Problem> {
        let _waiting = output::waiting("asking");
        let mut bank = Bank::default();
        for path in &self.scenarios {
            let scenario = input::scenario(path)?;
            let figure = |source| Problem::FigureFile { file: shown(path), source };
            let added = match scenario.training {
                Some(_) => bank.lesson(&scenario) + bank.cases(&scenario).map_err(figure)?,
                None => bank.handout(&Handout::new(&scenario, self.seed).map_err(figure)?)?,
            };
            if added == 0 {
                return Err(Problem::study(
                    format!("{} has no question that stands without a session", shown(path)),
                    "leave it out: take a lesson with a question that counts from 0 s or with a \
                     fault that shows in a breath, or a scenario whose timeline changes settled \
                     breaths",
                ));
            }
        }
        if self.signs {
            let source = |source| Problem::FigureFile { file: "the signs".to_owned(), source };
            bank.signs().map_err(source)?;
        }
        Ok(bank)
    }
}

/// A content package as a zip file without times, so that the same questions give the
/// same bytes.
fn package(paper: &BankPaper<'_>) -> Result<Vec<u8>, Problem> {
    let options = SimpleFileOptions::default()
        .compression_method(CompressionMethod::Deflated)
        .last_modified_time(DateTime::default());
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    let mut put = |name: &str, bytes: &[u8]| -> std::io::Result<()> {
        zip.start_file(name, options)?;
        zip.write_all(bytes)
    };
    for (name, bytes) in paper.qti() {
        put(&name, &bytes)?;
    }
    Ok(zip.finish().map_err(std::io::Error::from)?.into_inner())
}
