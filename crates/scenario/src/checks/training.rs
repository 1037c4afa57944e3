//! Names in a lesson that must be names of something, and ranges in order.

use tidewright::machine::Machine;
use tidewright::setup::{Setup, SetupError};

use super::lesson_places::Places;
use super::morning;
use crate::fault::{Fault, Faults, Problem};
use crate::format::{
    ActName, Attempt, DEBRIEF_VALUES, Harm, Measure, STORY_VALUES, Scenario, Training,
};
use crate::text::{Node, Span};

/// Most controls that a lesson may offer: more cannot be followed.
const MOST_CONTROLS: usize = 4;

/// Notes everything in the training block that does not go together, and names in
/// the story that no value has.
pub(crate) fn check(scenario: &Scenario, root: &Node, faults: &mut Faults) {
    let story = scenario.story.as_deref().unwrap_or_default();
    let at = root.get("story").map_or_else(|| root.mark(), Node::mark);
    values(story, &STORY_VALUES, at, faults);
    let Some(training) = &scenario.training else { return };
    let places = Places::new(root);
    ids(training, &places, faults);
    criteria(training, &places, faults);
    cases(training, &places, faults);
    harm(training, &places, faults);
    controls(training, &places, faults);
    hours(training, &places, faults);
    morning::check(scenario, training, &places, faults);
    times(training, &places, scenario.duration_s, faults);
    if faults.count() == 0 {
        pool(scenario, training, &places, faults);
    }
    for (index, case) in training.pool.iter().enumerate() {
        let at = places.of(&["pool", &index.to_string(), "why"]);
        values(case.why.as_deref().unwrap_or_default(), &DEBRIEF_VALUES, at, faults);
    }
    for field in ["why", "next"] {
        let text = if field == "why" { &training.debrief.why } else { &training.debrief.next };
        values(text, &DEBRIEF_VALUES, places.of(&["debrief", field]), faults);
    }
}

/// Notes acts that are out of order or after the end.
pub(crate) fn check_attempt(attempt: &Attempt, root: &Node, faults: &mut Faults) {
    let mut before_s = 0.0;
    for (index, timed) in attempt.acts.iter().enumerate() {
        let item = root.get("acts").and_then(|acts| acts.item(index));
        let at = item.and_then(|item| item.get("at_s")).map_or_else(|| root.mark(), Node::mark);
        let at_s = timed.at_s;
        if at_s < before_s {
            faults.push(Fault::new(at, Problem::OutOfOrder { at_s, before_s }));
        } else if at_s > attempt.ended_at_s {
            let duration_s = attempt.ended_at_s;
            faults.push(Fault::new(at, Problem::AfterEnd { at_s, duration_s }));
        }
        before_s = at_s.max(before_s);
    }
}

fn ids(training: &Training, places: &Places<'_>, faults: &mut Faults) {
    let lists: [(&str, Vec<&str>); 6] = [
        ("checks", training.checks.iter().map(|one| one.id.as_str()).collect()),
        ("steps", training.steps.iter().map(|one| one.id.as_str()).collect()),
        ("objectives", training.objectives.iter().map(|one| one.id.as_str()).collect()),
        ("questions", training.questions.iter().map(|one| one.id.as_str()).collect()),
        ("predictions", training.predictions.iter().map(|one| one.id.as_str()).collect()),
        ("pool", training.pool.iter().map(|one| one.id.as_str()).collect()),
    ];
    for (list, ids) in lists {
        for (index, id) in ids.iter().enumerate() {
            if ids[..index].contains(id) {
                let at = places.of(&[list, &index.to_string(), "id"]);
                faults.push(Fault::new(at, Problem::RepeatedId { found: (*id).to_owned() }));
            }
        }
    }
}

fn criteria(training: &Training, places: &Places<'_>, faults: &mut Faults) {
    let objectives: Vec<String> =
        training.objectives.iter().map(|one| one.id.to_string()).collect();
    let questions: Vec<String> = training.questions.iter().map(|one| one.id.to_string()).collect();
    for (index, criterion) in training.criteria.iter().enumerate() {
        let index = index.to_string();
        let found = criterion.objective.to_string();
        if !objectives.contains(&found) {
            let at = places.of(&["criteria", &index, "objective"]);
            let known = objectives.clone();
            faults.push(Fault::new(
                at,
                Problem::UnknownReference { what: "objective", found, known },
            ));
        }
        let at = places.of(&["criteria", &index, "measure"]);
        match &criterion.measure {
            Measure::Answered(which) if !questions.contains(&which.question.to_string()) => {
                let (found, known) = (which.question.to_string(), questions.clone());
                let problem = Problem::UnknownReference { what: "question", found, known };
                faults.push(Fault::new(at, problem));
            }
            _ => {}
        }
    }
    for (index, case) in training.pool.iter().enumerate() {
        for (number, answer) in case.answers.iter().enumerate() {
            let at = places.of(&["pool", &index.to_string(), "answers", &number.to_string()]);
            let asked = training.questions.iter().find(|one| one.id == answer.question);
            let (what, found, known) = match asked {
                None => ("question", answer.question.to_string(), questions.clone()),
                Some(asked) if answer.choice as usize > asked.answers.len() => {
                    let known = (1..=asked.answers.len()).map(|number| number.to_string());
                    ("answer", answer.choice.to_string(), known.collect())
                }
                Some(_) => continue,
            };
            faults.push(Fault::new(at, Problem::UnknownReference { what, found, known }));
        }
    }
    for (index, question) in training.questions.iter().enumerate() {
        if question.right as usize > question.answers.len() {
            let at = places.of(&["questions", &index.to_string(), "right"]);
            let found = question.right.to_string();
            let known = (1..=question.answers.len()).map(|number| number.to_string()).collect();
            faults.push(Fault::new(at, Problem::UnknownReference { what: "answer", found, known }));
        }
    }
}

/// Notes criteria for cases that are not in the pool.
fn cases(training: &Training, places: &Places<'_>, faults: &mut Faults) {
    let known: Vec<String> = training.pool.iter().map(|case| case.id.to_string()).collect();
    for (index, criterion) in training.criteria.iter().enumerate() {
        for (number, case) in criterion.cases.iter().enumerate() {
            let found = case.to_string();
            if !known.contains(&found) {
                let path = ["criteria", &index.to_string(), "cases", &number.to_string()];
                let problem =
                    Problem::UnknownReference { what: "case", found, known: known.clone() };
                faults.push(Fault::new(places.of(&path), problem));
            }
        }
    }
}

/// Notes limits of harm that are lifted without a reason.
fn harm(training: &Training, places: &Places<'_>, faults: &mut Faults) {
    let usual = Harm::default().limits();
    let lifted = training.harm.limits().into_iter().zip(usual);
    let lifted = lifted.filter(|((_, own), (_, usual))| own > usual);
    if training.harm.because.is_some() {
        return;
    }
    for ((name, own), (_, usual)) in lifted {
        faults.push(Fault::new(
            places.of(&["harm", name]),
            Problem::Unfit {
                message: format!("`{name}: {own}` lifts a limit of harm, which is {usual}"),
                expected: format!("at most {usual}, or a reason"),
                mend: "say why in `because`".to_owned(),
            },
        ));
    }
}

fn controls(training: &Training, places: &Places<'_>, faults: &mut Faults) {
    let found = training.offers.iter().filter(|offer| offer.is_control()).count();
    if found > MOST_CONTROLS {
        let problem = Problem::TooManyControls { found, most: MOST_CONTROLS };
        faults.push(Fault::new(places.of(&["offers"]), problem));
    }
}

/// Hours that do not go together, and counters to be read where a case has none.
fn hours(training: &Training, places: &Places<'_>, faults: &mut Faults) {
    let mut unfit = |path: &[&str], message: String, expected: &str, mend: &str| {
        let (expected, mend) = (expected.to_owned(), mend.to_owned());
        faults.push(Fault::new(places.of(path), Problem::Unfit { message, expected, mend }));
    };
    let mend = "change one of the hours";
    if let Some(Err(error)) = training.hours.map(|hours| hours.to_core()) {
        unfit(&["hours"], error.to_string(), "hours that go together", mend);
    }
    let mut everywhere = training.hours.is_some() || !training.pool.is_empty();
    for (index, case) in training.pool.iter().enumerate() {
        everywhere &= case.hours.or(training.hours).is_some();
        if let Some(Err(error)) = case.hours.map(|hours| hours.to_core()) {
            let path = ["pool", &index.to_string(), "hours"];
            unfit(&path, error.to_string(), "hours that go together", mend);
        }
    }
    if training.offers.contains(&ActName::ReadHours) && !everywhere {
        let message = "`ReadHours` finds no counters to read".to_owned();
        unfit(&["offers"], message, "`hours` in the lesson, or in each case", "write `hours`");
    }
}

fn times(training: &Training, places: &Places<'_>, duration_s: f64, faults: &mut Faults) {
    let mut range = |at: Span, first: f64, second: f64| {
        if first > second {
            faults.push(Fault::new(at, Problem::RangeReversed { first, second }));
        } else if second > duration_s {
            faults.push(Fault::new(at, Problem::AfterEnd { at_s: second, duration_s }));
        }
    };
    for (index, case) in training.pool.iter().enumerate() {
        let index = index.to_string();
        let at = places.of(&["pool", &index, "onset_from_s"]);
        range(at, case.onset_from_s, case.onset_to_s);
        for (number, pair) in case.course.windows(2).enumerate() {
            let at = places.of(&["pool", &index, "course", &(number + 1).to_string(), "after_s"]);
            range(at, pair[0].after_s, pair[1].after_s);
        }
        for (number, pair) in case.changes.windows(2).enumerate() {
            let at = places.of(&["pool", &index, "changes", &(number + 1).to_string(), "after_s"]);
            range(at, pair[0].after_s, pair[1].after_s);
        }
    }
    for (index, prediction) in training.predictions.iter().enumerate() {
        let at = places.of(&["predictions", &index.to_string(), "from_s"]);
        range(at, prediction.from_s, prediction.to_s);
    }
}

/// Notes hidden faults that leave the fresh gas nowhere to go, or are refused by the
/// engine for another reason.
fn pool(scenario: &Scenario, training: &Training, places: &Places<'_>, faults: &mut Faults) {
    let protocol = scenario.protocol();
    let changes = protocol.changes.iter().map(|change| &change.setup);
    let setups: Vec<&Setup> = [&protocol.start].into_iter().chain(changes).collect();
    for (index, case) in training.pool.iter().enumerate() {
        for (number, stage) in case.course.iter().enumerate() {
            let (fault, severity) = stage.is.to_core();
            let refused = |setup: &&Setup| Machine::check(&fault.apply(setup, severity)).err();
            let Some(refused) = setups.iter().find_map(refused) else { continue };
            let at = places.of(&["pool", &index.to_string(), "course", &number.to_string(), "is"]);
            let problem = match refused {
                SetupError::NowhereToGo => Problem::NoPressure,
                refused => Problem::Refused { why: refused.to_string() },
            };
            faults.push(Fault::new(at, problem));
        }
    }
}

/// Notes names in curly brackets that no value has.
fn values(text: &str, known: &[&str], at: Span, faults: &mut Faults) {
    for part in text.split('{').skip(1) {
        let found = part.split('}').next().unwrap_or(part);
        if !known.contains(&found) {
            let known = known.iter().map(|name| (*name).to_owned()).collect();
            let found = found.to_owned();
            faults.push(Fault::new(at, Problem::UnknownReference { what: "value", found, known }));
        }
    }
}
