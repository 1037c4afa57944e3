//! The questions that a page may put.

use serde::Deserialize;
use serde_json::{Value, json};

use crate::explore::{self, State};
use crate::practise::{self, Practice};
use crate::texts::Which;
use crate::wrong::Wrong;
#[cfg(feature = "whole")]
use crate::{
    bench::{Bench, Check},
    class,
    figures::{self, Kind, Reader, Size},
};
use crate::{exam, look_up, shelf};

/// A question.
#[derive(Debug, Deserialize)]
#[serde(tag = "ask", rename_all = "snake_case")]
enum Ask {
    /// What is on the shelf.
    Shelf,
    /// The text of a lesson, scenario or figure file.
    Text { of: Which },
    /// Begin a lesson, or take it up from its log.
    Begin { lesson: Which, seed: u32, name: Option<String>, log: Option<String> },
    /// What a file is meant as.
    WhatIs { file: String, text: String },
    /// Sit a sealed exam, or take it up from its log.
    Sit(exam::Sit),
    /// Let the clock run.
    Go,
    /// Stop it.
    Pause,
    /// How many times as fast as a watch it runs.
    Speed { times: f64 },
    /// Let one breath pass.
    NextBreath,
    /// Carry out a typed line.
    Enter { line: String },
    /// What the screen shows.
    View,
    /// The log so far.
    Log,
    /// The debrief of the session so far.
    Debrief,
    /// The debrief of a log.
    Mark { lesson: Which, log: String, pass_percent: Option<f64> },
    /// What to do next.
    Next { past: Vec<(String, u32, bool)>, today: u32 },
    /// What may be explored, and from where.
    ExploreFrom { base: Which },
    /// A settled breath, before and after.
    Explore { before: State, now: State },
    /// A word with the numbers of what is explored.
    ExploreWord { word: String, now: State },
    /// What is explored as a scenario.
    ExploreScenario { now: State, id: String },
    /// A circuit on the bench.
    #[cfg(feature = "whole")]
    Bench(Bench),
    /// A check of the morning on it.
    #[cfg(feature = "whole")]
    BenchCheck { on: Bench, check: Check },
    /// Every fault of a scenario.
    Faults { file: String, text: String },
    /// What may be written at a place of a scenario, bytes from its start.
    #[cfg(feature = "whole")]
    Offered { file: String, text: String, at: usize },
    /// Prove a lesson by its experts: their names and logs.
    #[cfg(feature = "whole")]
    Prove { lesson: Which, experts: Vec<(String, String)>, seed: u32 },
    /// Run a scenario.
    #[cfg(feature = "whole")]
    Run { of: Which },
    /// Draw a figure file, or a scenario as a whole.
    #[cfg(feature = "whole")]
    Figure {
        of: Which,
        scenario: Option<Which>,
        reader: Option<Reader>,
        kind: Kind,
        dpi: Option<f64>,
    },
    /// Make a hand-out.
    #[cfg(feature = "whole")]
    Handout { of: Which, seed: u64, paper: Size, kind: Kind },
    /// Deal a lesson to a class.
    #[cfg(feature = "whole")]
    Deal { lesson: Which, roster: String, seed: u32, passphrase: Option<String> },
    /// Mark a class's logs.
    #[cfg(feature = "whole")]
    MarkClass(class::MarkClass),
    /// The words of the job.
    Words,
    /// A word, with the numbers of a scenario if one is given.
    Explain { word: String, with: Option<Which> },
    /// The typical values of an animal.
    Species { species: String, weight_kg: f64 },
    /// What each fault shows.
    Signs,
    /// The wall chart of it.
    #[cfg(feature = "whole")]
    SignsChart { kind: Kind },
    /// The reference of the scenario format.
    #[cfg(feature = "whole")]
    Reference,
}

/// Answers a question.
pub fn answered(under_way: &mut Option<Practice>, question: &[u8]) -> Result<Value, Wrong> {
    let ask = serde_json::from_slice(question);
    let ask = ask.map_err(|error| Wrong::told(error, "this is a fault of the page itself"))?;
    match ask {
        Ask::Shelf => shelf::shelf(),
        Ask::Text { of } => {
            #[cfg(feature = "whole")]
            let (file, text) = of.scenario_text().or_else(|_| of.figure_text())?;
            #[cfg(not(feature = "whole"))]
            let (file, text) = of.scenario_text()?;
            Ok(json!({"file": file, "text": text}))
        }
        Ask::Begin { lesson, seed, name, log } => {
            let practice = Practice::begin(&lesson, seed, name.as_deref(), log.as_deref())?;
            Ok(under_way.insert(practice).lesson())
        }
        Ask::WhatIs { file, text } => Ok(json!({"is": exam::what_is(&file, &text)})),
        Ask::Sit(sit) => {
            let (practice, told) = exam::sat(&sit)?;
            *under_way = Some(practice);
            Ok(told)
        }
        Ask::Pause => lesson(under_way).map(|practice| {
            practice.pause();
            practice.view()
        }),
        Ask::Speed { times } => lesson(under_way).map(|practice| {
            practice.run_at(times);
            practice.view()
        }),
        Ask::Go => lesson(under_way).map(|practice| {
            practice.go();
            practice.view()
        }),
        Ask::NextBreath => lesson(under_way).map(|practice| {
            practice.next_breath();
            practice.view()
        }),
        Ask::Enter { line } => lesson(under_way).map(|practice| practice.enter(&line)),
        Ask::View => lesson(under_way).map(|practice| practice.view()),
        Ask::Log => lesson(under_way).map(|practice| practice.log()),
        Ask::Debrief => lesson(under_way)?.debrief(),
        Ask::Mark { lesson, log, pass_percent } => {
            let attempt = tidewright_scenario::parse_attempt("attempt.ron", &log)?;
            practise::marked(&lesson.lesson()?, &attempt, pass_percent)
        }
        Ask::Next { past, today } => Ok(practise::next(past, today)),
        Ask::ExploreFrom { base } => explore::from(&base),
        Ask::Explore { before, now } => explore::compared(&before, &now),
        Ask::ExploreWord { word, now } => explore::word(&word, &now),
        Ask::ExploreScenario { now, id } => explore::saved(&now, &id),
        #[cfg(feature = "whole")]
        Ask::Bench(bench) => bench.shown(),
        #[cfg(feature = "whole")]
        Ask::BenchCheck { on, check } => on.checked(check),
        Ask::Faults { file, text } => {
            tidewright_scenario::parse(&file, &text)?;
            Ok(json!({"faults": [], "more": 0}))
        }
        #[cfg(feature = "whole")]
        Ask::Offered { file, text, at } => {
            Ok(json!(tidewright_scenario::offered(&file, &text, at)))
        }
        #[cfg(feature = "whole")]
        Ask::Prove { lesson, experts, seed } => class::proved(&lesson, &experts, seed),
        #[cfg(feature = "whole")]
        Ask::Run { of } => figures::run(&of),
        #[cfg(feature = "whole")]
        Ask::Figure { of, scenario, reader, kind, dpi } => {
            figures::figure(&of, scenario.as_ref(), reader, kind, dpi)
        }
        #[cfg(feature = "whole")]
        Ask::Handout { of, seed, paper, kind } => figures::handout(&of, seed, paper, kind),
        #[cfg(feature = "whole")]
        Ask::Deal { lesson, roster, seed, passphrase } => {
            class::dealt(&lesson, &roster, seed, passphrase.as_deref())
        }
        #[cfg(feature = "whole")]
        Ask::MarkClass(asked) => class::marked(&asked),
        Ask::Words => Ok(look_up::words()),
        Ask::Explain { word, with } => {
            let scenario = with.map(|which| which.scenario()).transpose()?;
            look_up::explained(&word, scenario.as_ref())
        }
        Ask::Species { species, weight_kg } => look_up::species(&species, weight_kg),
        Ask::Signs => Ok(look_up::signs()),
        #[cfg(feature = "whole")]
        Ask::SignsChart { kind } => figures::chart(kind),
        #[cfg(feature = "whole")]
        Ask::Reference => Ok(json!({"markdown": tidewright_scenario::reference()})),
    }
}

fn lesson(under_way: &mut Option<Practice>) -> Result<&mut Practice, Wrong> {
    under_way.as_mut().ok_or_else(|| Wrong::told("no lesson is under way", "begin one"))
}
