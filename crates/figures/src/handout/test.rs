//! What a hand-out asks in the place of its three questions: questions of the teacher's own
//! with marks, and questions with answers to choose from.

/// A test on a hand-out.
///
/// ```
/// use tidewright_figures::{OwnQuestion, Test};
/// let own = OwnQuestion::parse("3 | What ends each breath?").unwrap();
/// assert_eq!(own, OwnQuestion { asks: "What ends each breath?".into(), marks: 3 });
/// let test = Test { letter: Some('A'), own: vec![own], choices: Vec::new() };
/// assert_eq!(test.marks(), 3);
/// ```
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Test {
    /// Which of several papers it is.
    pub letter: Option<char>,
    /// Questions to be answered in words.
    pub own: Vec<OwnQuestion>,
    /// Questions to be answered by a letter.
    pub choices: Vec<Choice>,
}

/// A question that is answered in words.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OwnQuestion {
    /// What is asked.
    pub asks: String,
    /// How much it is worth.
    pub marks: u32,
}

/// A question that is answered by a letter, for one mark.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Choice {
    /// What is asked.
    pub asks: String,
    /// The answers, A, B and so on.
    pub answers: Vec<String>,
    /// The letter of the right one.
    pub right: char,
}

/// Most marks of a question.
const MOST_MARKS: u32 = 100;

impl OwnQuestion {
    /// Reads `marks | question`; nothing where a line is not so.
    #[must_use]
    pub fn parse(line: &str) -> Option<Self> {
        let (marks, asks) = line.split_once('|')?;
        let marks = marks.trim().parse().ok().filter(|marks| (1..=MOST_MARKS).contains(marks))?;
        let asks = asks.trim();
        (!asks.is_empty()).then(|| Self { asks: asks.to_owned(), marks })
    }

    /// Lines to write on: one for each mark and one more.
    pub(super) fn lines(&self) -> usize {
        (self.marks as usize + 1).min(12)
    }
}

impl Test {
    /// All marks together.
    #[must_use]
    pub fn marks(&self) -> u32 {
        self.own.iter().map(|one| one.marks).sum::<u32>() + self.choices.len() as u32
    }

    /// `Paper A, 12 marks`.
    pub(super) fn heading(&self) -> String {
        let marks = match self.marks() {
            1 => "1 mark".to_owned(),
            marks => format!("{marks} marks"),
        };
        match self.letter {
            Some(letter) => format!("Paper {letter}, {marks}"),
            None => format!("Questions, {marks}"),
        }
    }

    /// The right letters in the order of the paper.
    pub(super) fn key(&self) -> Option<String> {
        let right = self.choices.iter().enumerate();
        let right: Vec<String> = right
            .map(|(place, one)| format!("{} {}", self.own.len() + place + 1, one.right))
            .collect();
        let paper = self.letter.map(|letter| format!(" of paper {letter}")).unwrap_or_default();
        (!right.is_empty()).then(|| format!("Right answers{paper}: {}.", right.join(", ")))
    }
}

impl Choice {
    /// The answers, each with its letter.
    pub(super) fn lettered(&self) -> impl Iterator<Item = String> {
        let answers = self.answers.iter().zip('A'..='Z');
        answers.map(|(answer, letter)| format!("{letter}   {answer}"))
    }
}

pub(super) fn numbered(place: usize, asks: &str, marks: u32) -> String {
    format!("{}. {asks} [{marks}]", place + 1)
}
