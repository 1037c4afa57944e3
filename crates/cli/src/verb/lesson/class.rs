//! `tidewright class`: a file for every student, and a folder of attempts marked.

use std::io::{self, IsTerminal, Write as _};
use std::path::{Path, PathBuf};

use clap::{Args, Subcommand};
use tidewright_scenario::format::Id;
use tidewright_training::BANNER;
use tidewright_training::class::{
    AS_DEALT, ClassRow, Key, Style, TableError, deal, gradebook, items_to_json, keys, mark_while,
    roster, to_csv,
};

use crate::exit::Exit;
use crate::files::draft::{self, Draft};
use crate::files::handed::{self, Found};
use crate::files::input::{self, shown};
use crate::files::output;
use crate::files::problem::Problem;
use crate::files::stop::{self, Keeping};
use crate::{exam, lesson};

/// Deal a lesson to a class, or mark a class's attempts
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  tidewright class deal juno roster.csv --seed 4 --into dealt\n  tidewright class mark juno attempts --key dealt-key.csv --csv marks.csv"
)]
pub struct Class {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    /// Make a file for every student of a roster, and a key for you
    ///
    /// Every student has a case, an onset, a patient's weight and severities of one's
    /// own, as far as the lesson varies them; lung and goals follow the weight. The
    /// same seed deals the same files, and a student who joins later changes nobody
    /// else's.
    ///
    /// A student's file holds a seed, a weight and a factor, not the case: it is
    /// obscured, not secret, and whoever has the scenario can find out what a seed
    /// draws.
    Deal {
        /// Lesson: a name such as `juno`, a number, or a scenario file with a training block
        #[arg(value_name = "SCENARIO")]
        scenario: PathBuf,
        /// Roster: a CSV with a column `pseudonym`
        #[arg(value_name = "ROSTER.csv")]
        roster: PathBuf,
        /// Seed of the class: the same seed deals the same files
        #[arg(long, value_name = "N")]
        seed: u32,
        /// Folder for the files; it is made if need be
        #[arg(long, value_name = "FOLDER")]
        into: PathBuf,
        /// Deal sealed exams: neutral names, nothing that marks, a passphrase that is asked
        /// for or stands in TIDEWRIGHT_PASSPHRASE; the key marks
        #[arg(long)]
        exam: bool,
    },
    /// Mark every attempt in a folder to a CSV with reasons
    ///
    /// A file that cannot be marked is listed with the reason and stops nothing.
    /// Logs that are the same in every act and time are listed, and so are nearly the
    /// same ones and acts spaced as no hand spaces them; that alone says nothing about
    /// how it came about, and no log proves who acted. With --key a column says of every
    /// log whether seed, patient and case are those that were dealt to its pseudonym; a
    /// difference, too, says nothing about how it came about.
    #[command(
        after_help = "Examples:\n  tidewright class mark juno attempts --key dealt-key.csv --csv marks.csv"
    )]
    Mark {
        /// Lesson: a name such as `juno`, a number, or a scenario file with a training block
        #[arg(value_name = "SCENARIO")]
        scenario: PathBuf,
        /// Folder with attempts, or with a folder for each student, or a zip of them:
        /// .ron, .json, and .txt that is a log
        #[arg(value_name = "FOLDER")]
        folder: PathBuf,
        /// Pass mark, percent of the points
        #[arg(long, value_name = "PERCENT", value_parser = super::mark::percent)]
        pass_mark: Option<f64>,
        /// Compare every log with the key that `class deal` wrote
        #[arg(long, value_name = "KEY.csv")]
        key: Option<PathBuf>,
        /// Marks; - is standard output
        #[arg(long, value_name = "FILE.csv", default_value = "-")]
        csv: PathBuf,
        /// Write a gradebook: one row for each student, one column for each criterion
        #[arg(long, value_name = "FILE.csv")]
        gradebook: Option<PathBuf>,
        /// Roster for the gradebook, so that who handed in nothing has a row, too
        #[arg(long, value_name = "ROSTER.csv", requires = "gradebook")]
        roster: Option<PathBuf>,
        /// Write how each criterion did in the class, and who told cases from health
        #[arg(long, value_name = "FILE.json")]
        items: Option<PathBuf>,
        /// Semicolons and decimal commas in the gradebook
        #[arg(long, requires = "gradebook")]
        semicolon: bool,
    },
}

/// What is written of a class beside the marks.
struct Besides<'a> {
    gradebook: Option<&'a Path>,
    roster: Option<&'a Path>,
    items: Option<&'a Path>,
    style: Style,
}

impl Besides<'_> {
    fn ids(&self) -> Result<Vec<Id>, Problem> {
        Ok(self.roster.map(read_roster).transpose()?.unwrap_or_default())
    }

    fn write(&self, rows: &[ClassRow], ids: &[Id]) -> Result<(), Problem> {
        if let Some(target) = self.gradebook {
            draft::write(target, gradebook(rows, ids, self.style).as_bytes())?;
        }
        if let Some(target) = self.items {
            draft::write(target, items_to_json(rows).as_bytes())?;
        }
        Ok(())
    }
}

impl Class {
    /// Deals or marks.
    pub fn perform(self) -> Result<Exit, Problem> {
        match self.what {
            What::Deal { scenario, roster, seed, into, exam: false } => {
                dealt(&scenario, &roster, seed, &into)
            }
            What::Deal { scenario, roster, seed, into, exam: true } => {
                dealt_sealed(&scenario, &roster, seed, &into)
            }
            What::Mark {
                scenario,
                folder,
                pass_mark,
                key,
                csv,
                gradebook,
                roster,
                items,
                semicolon,
            } => {
                let besides = Besides {
                    gradebook: gradebook.as_deref(),
                    roster: roster.as_deref(),
                    items: items.as_deref(),
                    style: if semicolon { Style::Semicolon } else { Style::Comma },
                };
                marked(&scenario, &folder, pass_mark, key.as_deref(), &csv, &besides)
            }
        }
    }
}

fn dealt(scenario: &Path, list: &Path, seed: u32, into: &Path) -> Result<Exit, Problem> {
    let scenario = lesson::scenario(scenario)?;
    let ids = read_roster(list)?;
    let dealt = deal(&scenario, &ids, seed);
    let (folder, key) = draft::folder_and_beside(into, "-key.csv")?;
    // The file's own name may tell what is to be found out.
    let word = tidewright_shelf::shown(scenario.id.as_str());
    let practised =
        if word == scenario.id.as_str() { format!("{word}.ron") } else { word.to_owned() };
    let hands = dealt.iter().map(|(hand, _)| {
        let name = format!("{word}-{}.dealt.ron", hand.pseudonym);
        let begin = format!("tidewright practise {practised} --dealt {name}");
        let log = hand.to_attempt(&scenario).to_ron();
        (folder.join(&name), format!("// {BANNER}\n// Begin with: {begin}\n{log}").into_bytes())
    });
    output::beforehand(dealt.len() as u64, 500, || format!("{} files are dealt.", dealt.len()));
    let mut files: Vec<(PathBuf, Vec<u8>)> = hands.collect();
    let keys: Vec<_> = dealt.into_iter().map(|(_, key)| key).collect();
    files.push((key.clone(), to_csv(&keys).into_bytes()));
    draft::write_all(&files)?;
    let told = format!(
        "{BANNER}\n\n{} files dealt into {}. A file holds a seed, not the case: obscured, not \
         secret. The key, for you alone: {}.\n\nA student begins with `tidewright practise SCENARIO \
         --dealt FILE` and hands in the log that it writes. Gather the logs in a folder and write \
         `tidewright class mark SCENARIO FOLDER --key {} --csv marks.csv`.\n",
        keys.len(),
        shown(into),
        shown(&key),
        shown(&key)
    );
    output::print(&output::wrapped(&told))?;
    Ok(Exit::Done)
}

fn dealt_sealed(scenario: &Path, list: &Path, seed: u32, into: &Path) -> Result<Exit, Problem> {
    let scenario = lesson::scenario(scenario)?;
    let ids = read_roster(list)?;
    let (folder, key) = draft::folder_and_beside(into, "-key.csv")?;
    output::beforehand(ids.len() as u64, 50, || format!("{} exams are sealed.", ids.len()));
    let (mut files, keys) = exam::deal(&scenario, &ids, seed, &folder)?;
    files.push((key.clone(), to_csv(&keys).into_bytes()));
    draft::write_all(&files)?;
    let told = format!(
        "{BANNER}\n\n{} exams sealed into {}. A file holds nothing that marks and opens with the \
         passphrase alone; who has both and writes programs can read it. The key, for you alone, \
         marks: {}.\n\nA student begins with `tidewright practise FILE` and hands in the log. \
         Gather the logs and write `tidewright class mark LESSON FOLDER --key {} --csv \
         marks.csv`. A log that was changed is told; none proves who sat there.\n",
        keys.len(),
        shown(into),
        shown(&key),
        shown(&key)
    );
    output::print(&output::wrapped(&told))?;
    Ok(Exit::Done)
}

/// The faults of a roster or key, each on a line of its own.
fn table_faults(path: &Path, error: &TableError) -> String {
    let between = if error.0.len() > 1 { "\n" } else { " " };
    format!("{}:{between}{error}", shown(path))
}

fn read_roster(list: &Path) -> Result<Vec<Id>, Problem> {
    roster(&input::text(list)?).map_err(|error| Problem::File {
        what: table_faults(list, &error),
        mend: "mend the roster; nothing was done".to_owned(),
    })
}

fn read_key(path: &Path) -> Result<Vec<Key>, Problem> {
    keys(&input::text(path)?).map_err(|error| Problem::File {
        what: table_faults(path, &error),
        mend: "name the key as `class deal` wrote it; nothing was marked".to_owned(),
    })
}

fn marked(
    scenario: &Path,
    folder: &Path,
    pass_mark: Option<f64>,
    key: Option<&Path>,
    csv: &Path,
    besides: &Besides<'_>,
) -> Result<Exit, Problem> {
    let scenario = lesson::scenario(scenario)?;
    let keys = key.map(read_key).transpose()?;
    let ids = besides.ids()?;
    let Found { handed: files, other_texts, .. } = handed::gathered(folder)?;
    // Before the first log is marked, so that nobody waits for marks that have no place.
    draft::check([csv].into_iter().chain(besides.gradebook).chain(besides.items))?;
    let mut marks = Draft::begin(csv)?;
    let shows = io::stderr().is_terminal();
    let keeping = Keeping::begin();
    let mut reached = 0;
    let rows = mark_while(&scenario, &files, pass_mark, keys.as_deref(), |done| {
        reached = done;
        if shows && (done % 10 == 0 || done == files.len()) {
            let filled = 30 * done / files.len();
            let bar = format!("{}{}", "#".repeat(filled), "-".repeat(30 - filled));
            output::complain_in_words(&format!("\r[{bar}] {done} of {} marked", files.len()));
        }
        stop::asked().is_none()
    });
    drop(keeping);
    if shows && !files.is_empty() {
        output::complain_in_words("\n");
    }
    marks.write_all(to_csv(&rows).as_bytes())?;
    marks.publish()?;
    if reached < files.len() {
        output::complain_in_words(&output::wrapped(&format!(
            "Stopped. {reached} of {} files are marked, and the rows of the others say so; nothing \
             else was written.\n",
            files.len()
        )));
        return Ok(Exit::Stopped);
    }
    besides.write(&rows, &ids)?;
    output::complain_in_words(&output::wrapped(&format!("{BANNER}\n")));
    let count = |result: &str| rows.iter().filter(|row| row.result == result).count();
    let mut told = format!("{} of {} passed", count("passed"), rows.len());
    if count("not marked") > 0 {
        told += &format!("; {} could not be marked, for the reasons told", count("not marked"));
    }
    if other_texts > 0 {
        told += &format!("; {other_texts} other texts are no logs and were left alone");
    }
    if rows.iter().any(|row| !row.same_log_as.is_empty()) {
        told += "; some logs have the same acts at the same times, which alone says nothing of how \
                 it came about";
    }
    if let Some(keys) = &keys {
        let as_dealt = rows.iter().filter(|row| row.compared_with_key == AS_DEALT).count();
        let compared = rows.iter().filter(|row| !row.compared_with_key.is_empty()).count();
        told += &format!("; {as_dealt} of {compared} logs are as they were dealt");
        let missing =
            keys.iter().filter(|key| !rows.iter().any(|row| row.pseudonym == key.pseudonym));
        let missing: Vec<&str> = missing.map(|key| key.pseudonym.as_str()).collect();
        if !missing.is_empty() {
            told += &format!(
                "; no readable log is there of {}, whom the key names",
                missing.join(", ")
            );
        }
    }
    output::complain_in_words(&output::wrapped(&format!("{told}.\n")));
    Ok(Exit::Done)
}
