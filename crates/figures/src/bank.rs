//! Question banks: questions of lessons, hand-outs and signs, for the software of schools.

mod cases;
mod gift;
mod handout;
mod qti;
mod signs;

use tidewright::random::{generator, standard_normal};
use tidewright_scenario::format::Scenario;
use tidewright_scenario::report;

use crate::handout::{Choice, Handout, Test};
use crate::paper::error::FigureError;

/// Dots per inch of a figure: one pixel for each CSS pixel.
const DPI: f64 = 96.0;

/// Ways that a measure may have gone.
const WAYS: [&str; 3] = ["It rises", "It falls", "It stays as it is"];

/// Questions with one right answer each.
///
/// A bank takes what stands without a session: of a lesson, the questions that may be
/// answered from the start ([`Bank::lesson`]), and what its cases do to a breath
/// ([`Bank::cases`]); of a hand-out, what the first change does to
/// a breath, with its traces ([`Bank::handout`]); and what each fault does to a breath
/// ([`Bank::signs`]), all answers by the engine or by the lesson. [`Bank::paper`] then puts
/// questions and answers in the order of a seed.
///
/// ```
/// use tidewright_figures::Bank;
/// let mut bank = Bank::default();
/// bank.signs()?;
/// let paper = bank.paper("Signs", 7, 'A');
/// assert!(paper.gift().contains("$CATEGORY: Signs"));
/// assert_ne!(paper.gift(), bank.paper("Signs", 7, 'B').gift());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Debug, Default)]
pub struct Bank {
    questions: Vec<Question>,
    pictures: Vec<Picture>,
}

#[derive(Clone, Debug)]
struct Question {
    /// Letters, digits and a hyphen, which tell no answer; no other of the bank has it.
    id: String,
    /// Paragraphs; the last asks.
    asks: Vec<String>,
    /// Place among the pictures.
    picture: Option<usize>,
    right: String,
    wrong: Vec<String>,
    /// How many of them stand on a paper.
    most_wrong: usize,
    /// Why, for who marks or has answered.
    because: String,
}

#[derive(Clone, Debug)]
struct Picture {
    name: String,
    png: Vec<u8>,
    /// What is to be seen, without what is asked.
    alt: String,
}

impl Bank {
    /// Adds the questions of a lesson that may be answered from the start, whatever case is
    /// drawn; gives how many. The others ask about what a session shows.
    pub fn lesson(&mut self, scenario: &Scenario) -> usize {
        let Some(training) = &scenario.training else { return 0 };
        let hangs_on_case = |question: &tidewright_scenario::format::Question| {
            let mut answers = training.pool.iter().flat_map(|case| &case.answers);
            answers.any(|answer| answer.question == question.id)
        };
        let standing =
            training.questions.iter().filter(|one| one.from_s == Some(0.0) && !hangs_on_case(one));
        let before = self.questions.len();
        for question in standing {
            let mut wrong: Vec<String> =
                question.answers.iter().map(|line| line.as_str().to_owned()).collect();
            let place = question.right as usize;
            if place == 0 || place > wrong.len() {
                continue;
            }
            let right = wrong.remove(place - 1);
            let mut asks = vec![format!("{}.", report::patient(scenario))];
            asks.extend(scenario.story_told());
            let settings = report::settings(scenario).join(", ").replace("cmH2O", "cmH₂O");
            asks.push(format!("At the start: {settings}."));
            asks.push(question.asks.clone());
            let because = format!("As in the lesson {}.", scenario.id);
            let id = self.next_id("lesson");
            let most_wrong = wrong.len();
            let picture = None;
            self.questions.push(Question { id, asks, picture, right, wrong, most_wrong, because });
        }
        self.questions.len() - before
    }

    /// Adds what the first change of a hand-out does to the settled breath, beside its
    /// traces; gives how many questions. None where breaths do not settle.
    ///
    /// # Errors
    /// [`FigureError`] where the traces cannot be drawn as a PNG.
    pub fn handout(&mut self, handout: &Handout) -> Result<usize, FigureError> {
        handout::add(self, handout)
    }

    /// Adds what each fault does to a breath of the cat of the wall chart, and which fault
    /// shows such a breath; gives how many questions.
    ///
    /// # Errors
    /// [`crate::DrawFileError`] where a run fails.
    pub fn signs(&mut self) -> Result<usize, crate::DrawFileError> {
        signs::add(self)
    }

    /// Adds what each case of a lesson's pool does to a breath of its own patient, as far as
    /// it is a fault that shows in a breath; gives how many questions. None where the
    /// ventilator stands by.
    ///
    /// # Errors
    /// [`crate::DrawFileError`] where a run fails.
    pub fn cases(&mut self, scenario: &Scenario) -> Result<usize, crate::DrawFileError> {
        cases::add(self, scenario)
    }

    /// Asks which way a measure has gone: the right one of [`WAYS`].
    fn ask_way(&mut self, kind: &str, asks: Vec<String>, right: usize, because: String) {
        let id = self.next_id(kind);
        let wrong = WAYS.iter().enumerate().filter(|&(place, _)| place != right);
        let wrong: Vec<String> = wrong.map(|(_, &way)| way.to_owned()).collect();
        let (right, most_wrong) = (WAYS[right].to_owned(), wrong.len());
        self.questions.push(Question {
            id,
            asks,
            picture: None,
            right,
            wrong,
            most_wrong,
            because,
        });
    }

    fn next_id(&self, kind: &str) -> String {
        format!("{kind}-{}", self.questions.len() + 1)
    }

    /// Whether there is no question.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.questions.is_empty()
    }

    /// The questions as one paper: the seed and the letter draw the order of questions, the
    /// wrong answers of each where there are many, and their order.
    #[must_use]
    pub fn paper(&self, title: &str, seed: u64, letter: char) -> BankPaper<'_> {
        let mut random = generator(seed ^ (u64::from(letter) << 40));
        let mut draw = || standard_normal(&mut random);
        let mut asked: Vec<Asked<'_>> = Vec::new();
        for question in &self.questions {
            let mut answers: Vec<&str> = question.wrong.iter().map(String::as_str).collect();
            shuffle(&mut answers, &mut draw);
            answers.truncate(question.most_wrong);
            answers.push(&question.right);
            shuffle(&mut answers, &mut draw);
            let right = answers.iter().position(|&answer| answer == question.right);
            asked.push(Asked { question, answers, right: right.unwrap_or(0) });
        }
        shuffle(&mut asked, &mut draw);
        BankPaper { title: title.to_owned(), asked, pictures: &self.pictures }
    }
}

/// Puts things in the order of numbers that are drawn for them.
fn shuffle<T>(all: &mut Vec<T>, draw: &mut impl FnMut() -> f64) {
    let mut drawn: Vec<(f64, T)> = all.drain(..).map(|one| (draw(), one)).collect();
    drawn.sort_by(|a, b| a.0.total_cmp(&b.0));
    all.extend(drawn.into_iter().map(|(_, one)| one));
}

/// A question as it stands on a paper.
#[derive(Clone, Debug)]
struct Asked<'a> {
    question: &'a Question,
    answers: Vec<&'a str>,
    /// Place of the right one.
    right: usize,
}

/// The questions of a [`Bank`] in an order.
#[derive(Clone, Debug)]
pub struct BankPaper<'a> {
    title: String,
    asked: Vec<Asked<'a>>,
    pictures: &'a [Picture],
}

impl BankPaper<'_> {
    /// The paper in GIFT, a text form of questions that learning environments read, figures
    /// inside.
    #[must_use]
    pub fn gift(&self) -> String {
        gift::write(self)
    }

    /// The files of a content package in QTI 2.1 (1EdTech): a manifest, a test, an item for
    /// each question, and figures; to be put into a zip file as they are.
    #[must_use]
    pub fn qti(&self) -> Vec<(String, Vec<u8>)> {
        qti::write(self)
    }

    /// For each question, in order: its name and the letter of its right answer.
    #[must_use]
    pub fn key(&self) -> Vec<(String, char)> {
        let letter = |asked: &Asked<'_>| (asked.question.id.clone(), letter(asked.right));
        self.asked.iter().map(letter).collect()
    }

    fn picture(&self, asked: &Asked<'_>) -> Option<&Picture> {
        asked.question.picture.and_then(|place| self.pictures.get(place))
    }
}

/// The letter of an answer.
fn letter(place: usize) -> char {
    char::from(b'A' + (place.min(25)) as u8)
}

impl Test {
    /// Takes the questions of a paper, without what stands on the sheet already.
    #[must_use]
    pub fn with_choices(mut self, paper: &BankPaper<'_>) -> Self {
        let choice = |asked: &Asked<'_>| Choice {
            asks: asked.question.asks.last().cloned().unwrap_or_default(),
            answers: asked.answers.iter().map(|&answer| answer.to_owned()).collect(),
            right: letter(asked.right),
        };
        self.choices = paper.asked.iter().map(choice).collect();
        self
    }
}
