//! `tidewright handout`: a scenario to print and work on.

use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};
use tidewright_figures::{Bank, Handout as Sheet, OwnQuestion, Paper, Sheets, Test};
use tidewright_scenario::Scenario;
use tidewright_training::class::{deal, roster};

use crate::exit::Exit;
use crate::files::draft;
use crate::files::input::{self, shown};
use crate::files::output;
use crate::files::problem::Problem;

/// Make a scenario a printable handout, or one for each student of a class
///
/// Pages to work on, and an answer sheet that the engine filled in, as HTML complete
/// in itself or as PDF. A class gets a folder with a sheet for each student, each with
/// a patient of its own, and all answers in one file beside the folder.
///
/// A patient of a seed has 0.8 to 1.25 times the scenario's compliance and resistance
/// (or, where the lung follows from it, weight) and 0.9 to 1.1 times its fresh gas
/// flow; its breaths change in the same way as the scenario's.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct Handout {
    /// Scenario file, RON or JSON; - reads standard input
    #[arg(value_name = "SCENARIO")]
    scenario: PathBuf,

    /// Where to write it; - is standard output; with --class, a folder, which is made
    /// if need be
    #[arg(long, value_name = "FILE", default_value = "-")]
    out: PathBuf,

    /// Write the answers into a file of their own; --out then holds the student's pages
    /// alone
    #[arg(long, value_name = "FILE", conflicts_with = "class")]
    answers: Option<PathBuf>,

    /// Kind of file [default: as --out ends, else HTML]
    #[arg(long = "as", value_name = "KIND")]
    kind: Option<Kind>,

    /// Size of the paper; letter speaks of a veterinarian where a4 speaks of a
    /// veterinary surgeon
    #[arg(long, value_name = "PAPER", default_value = "a4")]
    paper: Size,

    /// Another patient for each number; 0 is the scenario as it stands; with --class,
    /// the seed of the class
    #[arg(long, value_name = "NUMBER", default_value = "0")]
    seed: u64,

    /// Roster: a CSV with a column `pseudonym`
    #[arg(long, value_name = "ROSTER.csv", requires = "out")]
    class: Option<PathBuf>,

    /// Your own questions in the place of ours: a text with a line `marks | question` for
    /// each
    #[arg(long, value_name = "FILE")]
    questions: Option<PathBuf>,

    /// Ask the lesson's questions that stand without a session, with answers to choose
    /// from; they hold for its own patient
    #[arg(long, conflicts_with = "class")]
    choices: bool,

    /// Papers of different orders: without --class all in one file, with it dealt in turn
    #[arg(long, value_name = "COUNT", default_value = "1",
        value_parser = clap::value_parser!(u8).range(1..=26))]
    papers: u8,
}

/// Most students of a class: their sheets and answers take half a megabyte each of memory.
const MOST_SHEETS: usize = 1000;

#[derive(Clone, Copy, Debug, ValueEnum)]
enum Size {
    /// 210 by 297 mm
    A4,
    /// 8.5 by 11 inches
    Letter,
    /// 148 by 210 mm, on more pages
    A5,
    /// 297 by 420 mm, everything larger
    A3,
    /// 11 by 17 inches, everything larger
    Tabloid,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Kind {
    /// One page for any browser
    Html,
    /// Ready to print
    Pdf,
}

const EXAMPLES: &str = "\
Examples:
  tidewright handout first.ron --out first.html --answers first-answers.html
  tidewright handout first.ron --seed 12 --paper letter --out student-12.pdf
  tidewright handout first.ron --questions own.txt --papers 2 --out test.pdf
  tidewright handout first.ron --class roster.csv --seed 4 --as pdf --out sheets";

impl Handout {
    /// Makes it.
    pub fn perform(self) -> Result<Exit, Problem> {
        let scenario = input::scenario(&self.scenario)?;
        if self.class.is_none() {
            draft::check([&self.out].into_iter().chain(&self.answers))?;
        }
        let tests = self.tests(&scenario)?;
        match &self.class {
            Some(list) => self.for_class(&scenario, list, &tests),
            None => {
                let mut handouts = Vec::new();
                for test in &tests {
                    let handout = self.draw(&scenario, self.seed)?;
                    handouts.push(asking(handout, test));
                }
                let ending = self.out.extension().and_then(|ending| ending.to_str());
                let told = match ending.map(str::to_ascii_lowercase).as_deref() {
                    Some("pdf") => Kind::Pdf,
                    _ => Kind::Html,
                };
                let kind = self.kind.unwrap_or(told);
                match &self.answers {
                    None => draft::write(&self.out, &self.bytes(&handouts, Sheets::Both, kind)?)?,
                    Some(answers) => draft::write_all(&[
                        (self.out.clone(), self.bytes(&handouts, Sheets::Work, kind)?),
                        (answers.clone(), self.bytes(&handouts, Sheets::Answers, kind)?),
                    ])?,
                }
                Ok(Exit::Done)
            }
        }
    }

    fn for_class(
        &self,
        scenario: &Scenario,
        list: &Path,
        tests: &[Option<Test>],
    ) -> Result<Exit, Problem> {
        if self.out == Path::new("-") {
            return Err(Problem::usage(
                "a class's sheets do not go to standard output",
                "name a folder for them: --out sheets",
            ));
        }
        let seed = u32::try_from(self.seed).map_err(|_| {
            Problem::usage(
                format!("{} is too large for the seed of a class", self.seed),
                format!("write 0 to {}", u32::MAX),
            )
        })?;
        if scenario.timeline.iter().all(|entry| entry.at_s <= 0.0) {
            return Err(Problem::usage(
                format!("nothing changes on the way in {}", shown(&self.scenario)),
                "take a scenario with a timeline; a lesson is dealt by `tidewright class deal`",
            ));
        }
        let ids = roster(&input::text(list)?).map_err(|error| Problem::File {
            what: format!("{}: {error}", shown(list)),
            mend: "mend the roster; no sheet was made".to_owned(),
        })?;
        if ids.len() > MOST_SHEETS {
            return Err(Problem::usage(
                format!("the roster names {}, and sheets are made for {MOST_SHEETS}", ids.len()),
                "take the class in parts, each with a roster and a folder of its own",
            ));
        }
        let dealt = deal(scenario, &ids, seed);
        output::beforehand(dealt.len() as u64, 100, || {
            format!("A sheet is made for each of {} students.", dealt.len())
        });
        let _waiting = output::waiting("drawing");
        let in_turn = tests.iter().cycle();
        let handouts = dealt.iter().zip(in_turn).map(|((hand, _), test)| {
            let handout = self.draw(scenario, u64::from(hand.seed))?;
            Ok(asking(handout.of(hand.pseudonym.as_str()), test))
        });
        let handouts = handouts.collect::<Result<Vec<Sheet>, Problem>>()?;
        let kind = self.kind.unwrap_or(Kind::Html);
        let ending = if kind == Kind::Pdf { "pdf" } else { "html" };
        let (folder, answers) = draft::folder_and_beside(&self.out, &format!("-answers.{ending}"))?;
        let mut files = Vec::new();
        for (handout, (hand, _)) in handouts.iter().zip(&dealt) {
            let path = folder.join(format!("{}-{}.{ending}", scenario.id, hand.pseudonym));
            let sheet = self.bytes(std::slice::from_ref(handout), Sheets::Work, kind)?;
            files.push((path, sheet));
        }
        files.push((answers.clone(), self.bytes(&handouts, Sheets::Answers, kind)?));
        draft::write_all(&files)?;
        output::print(&format!(
            "{} sheets written into {}. The answers, for you alone: {}.\n",
            handouts.len(),
            shown(&self.out),
            shown(&answers)
        ))?;
        Ok(Exit::Done)
    }

    /// A test for each paper; nothing where the three questions stay.
    fn tests(&self, scenario: &Scenario) -> Result<Vec<Option<Test>>, Problem> {
        let own = self.questions.as_deref().map_or_else(|| Ok(Vec::new()), own_questions)?;
        let mut bank = Bank::default();
        if self.choices && self.seed != 0 {
            return Err(Problem::usage(
                "the lesson's answers hold for its own patient alone",
                "leave --seed out with --choices",
            ));
        }
        if self.choices && bank.lesson(scenario) == 0 {
            return Err(Problem::usage(
                format!("{} has no question that stands without a session", shown(&self.scenario)),
                "leave --choices out, or take a lesson with a question that counts from 0 s",
            ));
        }
        if own.is_empty() && bank.is_empty() {
            if self.papers > 1 {
                return Err(Problem::usage(
                    "several papers need questions to differ in",
                    "add --questions FILE or --choices",
                ));
            }
            return Ok(vec![None]);
        }
        let paper = |place: u8| {
            let letter = char::from(b'A' + place);
            let mut own = own.clone();
            let turn = usize::from(place) % own.len().max(1);
            own.rotate_left(turn);
            let test = Test { letter: (self.papers > 1).then_some(letter), own, ..Test::default() };
            Some(test.with_choices(&bank.paper("", self.seed, letter)))
        };
        Ok((0..self.papers).map(paper).collect())
    }

    fn draw(&self, scenario: &Scenario, seed: u64) -> Result<Sheet, Problem> {
        Sheet::new(scenario, seed)
            .map_err(|source| Problem::FigureFile { file: shown(&self.scenario), source })
    }

    fn bytes(&self, handouts: &[Sheet], sheets: Sheets, kind: Kind) -> Result<Vec<u8>, Problem> {
        let paper = match self.paper {
            Size::A4 => Paper::A4,
            Size::Letter => Paper::Letter,
            Size::A5 => Paper::A5,
            Size::A3 => Paper::A3,
            Size::Tabloid => Paper::Tabloid,
        };
        Ok(match kind {
            Kind::Html => Sheet::html(handouts, sheets, paper).into_bytes(),
            Kind::Pdf => Sheet::pdf(handouts, sheets, paper)?,
        })
    }
}

fn asking(handout: Sheet, test: &Option<Test>) -> Sheet {
    match test {
        Some(test) => handout.asking(test.clone()),
        None => handout,
    }
}

/// Questions of one's own, a line each; empty lines are left out.
fn own_questions(path: &Path) -> Result<Vec<OwnQuestion>, Problem> {
    input::reads(path);
    let text = input::text(path)?;
    let lines = text.lines().enumerate().filter(|(_, line)| !line.trim().is_empty());
    let read = |(place, line): (usize, &str)| {
        OwnQuestion::parse(line).ok_or_else(|| Problem::File {
            what: format!("{}: line {} is no question with marks", shown(path), place + 1),
            mend: "write `marks | question`, such as `3 | What ends each breath?`".to_owned(),
        })
    };
    let questions: Vec<OwnQuestion> = lines.map(read).collect::<Result<_, _>>()?;
    if questions.is_empty() {
        return Err(Problem::File {
            what: format!("{} holds no question", shown(path)),
            mend: "write a line `marks | question` for each".to_owned(),
        });
    }
    Ok(questions)
}
