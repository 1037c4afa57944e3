//! Telling a fault from health: hits, misses, false alarms and correct rejections.

use serde::Serialize;

use crate::judge::economy::treats;
use crate::judge::measure::given;
use crate::session::Session;

/// How a student told a case that had something wrong from one that had not.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Detection {
    /// Something was wrong, and was taken to be.
    Hit,
    /// Something was wrong, and was taken for health.
    Miss,
    /// Nothing was wrong, and something was taken to be.
    FalseAlarm,
    /// Nothing was wrong, and it was left alone.
    CorrectRejection,
}

impl Detection {
    /// In words.
    #[must_use]
    pub fn in_words(self) -> &'static str {
        match self {
            Self::Hit => "hit",
            Self::Miss => "miss",
            Self::FalseAlarm => "false alarm",
            Self::CorrectRejection => "correct rejection",
        }
    }
}

/// How the student told the case; nothing where the lesson has no cases, or where it
/// was over before its case began.
///
/// Who answered a question whose right answer depends on the case is taken by the answer;
/// who did not, by what was treated after the onset.
pub(crate) fn detection(session: &Session) -> Option<Detection> {
    let drawn = session.drawn().filter(|_| session.case_has_begun())?;
    let training = session.training();
    let healthy = training.pool.iter().find(|case| !case.is_wrong());
    let said = training.questions.iter().find_map(|question| {
        let own = healthy?.answers.iter().find(|answer| answer.question == question.id)?;
        let (_, choice) = given(session, &question.id)?;
        Some(choice != own.choice)
    });
    let treated = || {
        let mut after = session.acts().iter().filter(|timed| timed.at_s >= drawn.onset_s);
        after.any(|timed| treats(timed.act.name()))
    };
    let alarm = said.unwrap_or_else(treated);
    // Who named the wrong cause still saw that something was wrong.
    Some(match (drawn.is_wrong(), alarm) {
        (true, true) => Detection::Hit,
        (true, false) => Detection::Miss,
        (false, true) => Detection::FalseAlarm,
        (false, false) => Detection::CorrectRejection,
    })
}
