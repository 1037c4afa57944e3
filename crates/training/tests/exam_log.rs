//! The log of an exam: whatever byte of it is changed, the key tells.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

use std::sync::Arc;

use tidewright_scenario::format::{Act, Note, Sitting};
use tidewright_scenario::{Attempt, parse, parse_attempt};
use tidewright_training::exam::{Chain, Change, checked};
use tidewright_training::{Session, command};

const SECRET: &str = "a secret of the student's";

/// A log with acts, and with one that was refused.
fn kept() -> Attempt {
    let text = tidewright_shelf::lesson("juno").unwrap().text;
    let scenario = Arc::new(parse("juno.ron", text).unwrap());
    let mut session = Session::new(scenario, 4711).unwrap();
    session.play(130.5).unwrap();
    for act in [Act::Listen, Act::ReseatJoint] {
        session.ask(act).unwrap();
    }
    assert!(session.ask(Act::Suction).is_err());
    session.play(300.0).unwrap();
    session.ask(Act::Record(Note { text: "joint pushed home".to_owned() })).unwrap();
    let mut log = session.attempt(command::pseudonym("heron-1").unwrap());
    assert!(log.acts.len() >= 2 && !log.asked.is_empty(), "{log:?}");
    let mut chain = Chain::begin(SECRET, &log, 1);
    let links = log.acts.iter().map(|timed| chain.act(timed)).collect();
    log.exam = Some(Sitting { number: 1, links, end: Some(chain.end(&log)) });
    log
}

#[test]
fn law_changing_any_one_byte_of_a_log_is_told() {
    let log = kept();
    assert_eq!(checked(SECRET, &log), Some(Change::None));
    assert_ne!(checked("another", &log), Some(Change::None));
    let text = log.to_ron();
    assert_eq!(parse_attempt("log.ron", &text).unwrap(), log);
    let mut told = 0;
    for place in 0..text.len() {
        for bit in 0..7 {
            let mut bytes = text.clone().into_bytes();
            bytes[place] ^= 1 << bit;
            // What is no log any more cannot be marked; what reads the same was not changed.
            let changed = String::from_utf8(bytes).unwrap();
            let Ok(changed) = parse_attempt("log.ron", &changed) else { continue };
            if changed != log {
                assert_ne!(checked(SECRET, &changed), Some(Change::None), "{place} {bit}");
                told += 1;
            }
        }
    }
    assert!(told > 500, "only {told} changes of a byte leave a log");
}
