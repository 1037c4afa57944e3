//! The lesson that the reference writes with its reader: proved, dealt to sixty, tried by
//! ten different hands and marked.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

use std::sync::Arc;

use tidewright_scenario::format::{Act, Answer, CuffPressure, Id, TimedAct};
use tidewright_scenario::{Attempt, Scenario, parse, parse_attempt, reference};
use tidewright_training::class::{Handed, Style, deal, gradebook, mark_all, roster};
use tidewright_training::proof::prove;
use tidewright_training::{command, draw};

fn chapter() -> (Arc<Scenario>, Vec<Attempt>) {
    let page = reference();
    let chapter = page.split("\n## A lesson of your own").nth(1).unwrap();
    let chapter = chapter.split("\n## ").next().unwrap();
    let mut blocks =
        chapter.split("```ron\n").skip(1).map(|rest| rest.split("```").next().unwrap());
    let lesson = Arc::new(parse("own.ron", blocks.next().unwrap()).unwrap());
    (lesson, blocks.map(|block| parse_attempt("expert.ron", block).unwrap()).collect())
}

#[test]
fn law_the_lesson_of_the_reference_is_proved() {
    let (lesson, experts) = chapter();
    let pool = &lesson.training.as_ref().unwrap().pool;
    let ill = pool.iter().filter(|case| !case.course.is_empty()).count();
    assert!(ill >= 3 && pool.len() > ill, "look-alikes and a healthy case");
    let proof = prove(&lesson, &experts).unwrap();
    assert!(proof.proved, "{}", proof.to_text());
}

/// What ten hands do, some seconds after the onset; the last two think.
fn hand(number: usize, lesson: &Scenario, dealt: &Attempt) -> Vec<TimedAct> {
    let training = lesson.training.as_ref().unwrap();
    let drawn = draw(training, dealt.seed).unwrap();
    let question = training.questions[0].id.clone();
    let answer = |choice: u32| Act::Answer(Answer { question: question.clone(), choice });
    let own = drawn.case.answers.first().map_or(training.questions[0].right, |one| one.choice);
    let mends = match drawn.case.id.as_str() {
        "joint" => Some(Act::ReseatJoint),
        "cuff" => Some(Act::InflateCuff(CuffPressure { cmh2o: 25.0 })),
        "supply" => Some(Act::SwapCylinder),
        _ => None,
    };
    let thinks = [Act::Listen].into_iter().chain(mends.clone()).chain([answer(own)]);
    let acts: Vec<Act> = match number % 10 {
        0 => vec![],
        1 => vec![Act::Listen, answer(own % 4 + 1)],
        2 => vec![Act::ReseatJoint, Act::SwapCylinder, answer(1)],
        3 => vec![Act::CallSurgeon],
        4 => vec![Act::Look, Act::Look, Act::Look],
        5 => vec![answer(own)],
        6 => mends.into_iter().collect(),
        7 => vec![Act::Listen],
        _ => thinks.collect(),
    };
    let at_s = |k: usize| drawn.onset_s + 25.0 + 6.0 * k as f64;
    acts.into_iter().enumerate().map(|(k, act)| TimedAct { at_s: at_s(k), act }).collect()
}

#[test]
fn sixty_students_of_ten_hands_get_the_marks_that_they_have_earned() {
    let (lesson, _) = chapter();
    let names: String = (0..60).map(|k| format!("heron-{k}\n")).collect();
    let ids: Vec<Id> = roster(&format!("pseudonym\n{names}nobody\n")).unwrap();
    let hands = deal(&lesson, &ids, 11);
    let cases: std::collections::BTreeSet<_> =
        hands.iter().map(|(_, key)| key.case.clone()).collect();
    assert_eq!(cases.len(), 4, "sixty draw every case");
    let files: Vec<Handed> = hands[..60]
        .iter()
        .enumerate()
        .map(|(number, (dealt, _))| {
            let dealt = dealt.to_attempt(&lesson);
            let acts = hand(number, &lesson, &dealt);
            let attempt = Attempt { acts, ended_at_s: lesson.duration_s, ..dealt };
            Handed { file: format!("{number:02}.ron"), text: Ok(attempt.to_ron()) }
        })
        .collect();
    let rows = mark_all(&lesson, &files, None, None, |_| {});
    for (number, row) in rows.iter().enumerate() {
        let thinks = number % 10 >= 8;
        assert_eq!(row.result == "passed", thinks, "{number}: {}", row.reasons);
    }
    let book = gradebook(&rows, &ids, Style::Comma);
    assert_eq!(book.lines().count(), 62, "who handed in nothing has a row");
    assert!(command::pseudonym("nobody").is_ok() && book.contains("\nnobody,0,"), "{book}");
}
