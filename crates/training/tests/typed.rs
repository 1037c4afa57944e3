//! What may be left out of a line while the session knows what is meant.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

use std::sync::Arc;

use tidewright_scenario::format::Act;
use tidewright_scenario::parse;
use tidewright_training::{Session, command, parse_in};

fn session(questions: &str, predictions: &str) -> Session {
    let text = format!(
        r#"Scenario(
            format: 1, id: "lesson", duration_s: 120, patient: (species: Cat, weight_kg: 4),
            ventilator: (fresh_gas_flow_l_min: 2, cycling_pressure_cmh2o: 10,
                inspiratory_time_limit_s: 2.5, expiratory_time_s: 2.5),
            training: (
                objectives: [(id: "see", says: "Sees it.", competences: [Faults])],
                offers: [Look], questions: [{questions}], predictions: [{predictions}],
                criteria: [(objective: "see", strand: Action,
                    measure: Acted(any_of: [Look], within_s: 60))],
                debrief: (why: "It was.", next: "Again."),
            ),
        )"#
    );
    let scenario = parse("lesson.ron", &text)
        .unwrap_or_else(|rejected| panic!("{rejected}: {}", rejected.faults()[0]));
    Session::new(Arc::new(scenario), 1).unwrap()
}

fn question(id: &str) -> String {
    format!("(id: \"{id}\", asks: \"Which?\", answers: [\"this\", \"that\"], right: 2),")
}

fn does(session: &mut Session, line: &str) -> Result<Act, String> {
    let act = parse_in(session, line).map_err(|error| error.to_string())?;
    session.act(act.clone()).map_err(|error| error.to_string())?;
    Ok(act)
}

#[test]
fn an_answer_needs_no_name_where_there_is_one_question() {
    let mut only = session(&question("cause"), "");
    let named = command::parse("answer cause 2").unwrap();
    assert_eq!(does(&mut only, "answer 3").unwrap_err(), "`cause` has answers 1 to 2");
    assert_eq!(does(&mut only, "Answer  2"), Ok(named));
    assert_eq!(does(&mut only, "answer 1").unwrap_err(), "every question has its answer already");
    assert_eq!(does(&mut only, "answer cause 1").unwrap_err(), "`cause` has its answer already");
    let mut two = session(&(question("cause") + &question("minutes")), "");
    assert_eq!(
        does(&mut two, "answer 2").unwrap_err(),
        "to which question? Write `answer cause 2` or `answer minutes 2`"
    );
    assert!(does(&mut two, "answer cause 1").is_ok());
    // The one that is left need not be the one that is meant.
    assert_eq!(
        does(&mut two, "answer 2").unwrap_err(),
        "to which question? Write `answer minutes 2`"
    );
    let mut none = session("", "");
    assert_eq!(does(&mut none, "answer 2").unwrap_err(), "this lesson has no questions");
    assert_eq!(does(&mut none, "answer two").unwrap_err(), "this lesson has no questions");
}

#[test]
fn a_prediction_needs_no_name_while_the_session_waits_for_it() {
    let asked = r#"(id: "volume", asks: "Volume?", of: TidalVolume, from_s: 20, to_s: 40)"#;
    let mut session = session("", asked);
    assert!(does(&mut session, "predict up").is_err(), "it is not asked yet");
    session.advance(30.0, &mut |_| {}).unwrap();
    assert_eq!(session.now_s(), 20.0);
    assert_eq!(
        does(&mut session, "predict sideways").unwrap_err(),
        "write `predict NAME up|same|down`"
    );
    let named = command::parse("predict volume same").unwrap();
    assert_eq!(does(&mut session, "predict same"), Ok(named));
    session.advance(30.0, &mut |_| {}).unwrap();
    assert_eq!(session.now_s(), 30.0);
}
