//! A lesson bared of all that marks and of all that tells what is to be found out.

use tidewright_scenario::format::{Economy, Guidance, Id, Training};
use tidewright_scenario::{Scenario, parse};

use super::ExamError;
use crate::words::command::pseudonym as id;

/// The lesson block that stands in the place of what was taken out.
const NEUTRAL: &str = r#"Scenario(format: 1, id: "exam", duration_s: 60,
    patient: (species: Cat, weight_kg: 4),
    ventilator: (fresh_gas_flow_l_min: 2, cycling_pressure_cmh2o: 10,
        inspiratory_time_limit_s: 2.5, expiratory_time_s: 2.5),
    training: (
        objectives: [(id: "exam", says: "Care for this patient.", competences: [Monitor])],
        offers: [Look],
        criteria: [(objective: "exam", strand: Record, points: 0,
            measure: Acted(any_of: [Look], within_s: 60))],
        debrief: (why: "Your teacher marks this exam.", next: "Hand in your log."),
    ))"#;

/// The lesson under a neutral name: the session is the same to the bit, and nothing in it
/// marks.
pub(super) fn bared(lesson: &Scenario, name: &Id) -> Result<Scenario, ExamError> {
    let training = lesson.training.as_ref();
    let training =
        training.ok_or_else(|| ExamError::NotBare("it has no `training` block".to_owned()))?;
    let neutral = parse("neutral.ron", NEUTRAL).ok().and_then(|neutral| neutral.training);
    let neutral = neutral.ok_or_else(|| ExamError::NotBare("its frame is broken".to_owned()))?;
    let mut bare = lesson.clone();
    bare.id = name.clone();
    bare.title = Some("Exam".to_owned());
    if let Some(called) = bare.patient.name.take() {
        // A known name would tell which lesson it is.
        bare.story = bare.story.map(|story| story.replace(&called, "the patient"));
    }
    let mut pool = training.pool.clone();
    for (number, case) in pool.iter_mut().enumerate() {
        case.id = id(&format!("case-{}", number + 1)).unwrap_or_else(|_| case.id.clone());
        case.says = "a case".to_owned();
        case.answers.clear();
        case.why = None;
    }
    let mut questions = training.questions.clone();
    for question in &mut questions {
        question.right = 1;
        question.from_s = None;
        question.after.clear();
    }
    bare.training = Some(Training {
        guidance: Guidance::None,
        monitor: training.monitor,
        offers: training.offers.clone(),
        questions,
        predictions: training.predictions.clone(),
        pool,
        varies: training.varies.clone(),
        hours: training.hours,
        cuff_cmh2o: training.cuff_cmh2o,
        economy: Economy { called_for: Vec::new(), ..training.economy.clone() },
        enough_s: None,
        ..neutral
    });
    // What is dealt must be valid by itself.
    parse("exam.json", &bare.to_json()).map_err(|rejected| {
        let first = rejected.faults().first().map(ToString::to_string);
        ExamError::NotBare(first.unwrap_or_default())
    })
}
