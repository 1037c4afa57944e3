//! What a desk does with what is typed: acts that wait, words begun, the clock, alarms,
//! answers in the seed's own order.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

mod common;

use std::sync::Arc;

use common::{lesson, lessons};
use tidewright_scenario::format::{Act, Then};
use tidewright_scenario::{Scenario, parse_attempt};
use tidewright_training::desk::{Desk, Reply, Why};
use tidewright_training::{Session, command, debrief, mark, replay};

fn juno() -> Arc<Scenario> {
    let path = lessons().into_iter().find(|path| path.to_str().unwrap().contains("juno")).unwrap();
    lesson(&path)
}

fn desk() -> Desk {
    let mut desk = Desk::new(Session::new(juno(), 3).unwrap());
    desk.start();
    desk.pass(20.0).unwrap();
    desk
}

fn done(desk: &Desk) -> Vec<(f64, Act)> {
    desk.session().acts().iter().map(|timed| (timed.at_s, timed.act.clone())).collect()
}

#[test]
fn law_an_act_waits_for_hands_and_its_log_plays_to_the_same_bits() {
    let mut desk = desk();
    assert!(matches!(desk.enter("occlude"), Reply::Done { .. }));
    desk.pass(2.0).unwrap();
    for line in ["reseat", "pressure 9", "listen"] {
        let reply = desk.enter(line);
        assert!(matches!(reply, Reply::Waits { until_s: 26.0, .. }), "{line}: {reply:?}");
    }
    assert_eq!(desk.view().waiting, ["reseat", "pressure 9 cmH2O", "listen"]);
    assert!(matches!(desk.enter("undo"), Reply::Told { .. }));
    // Words need no hands.
    assert!(matches!(desk.enter("record tested"), Reply::Done { .. }));
    desk.pass(10.0).unwrap();
    let acts = done(&desk);
    assert_eq!(acts.len(), 4, "{acts:?}");
    assert_eq!((acts[2].0, &acts[2].1), (26.0, &Act::ReseatJoint));
    assert_eq!(acts[3].0, 26.0);
    let Reply::Refused(refusal) = desk.enter("undo") else { panic!("nothing waits") };
    assert_eq!(refusal.why, Why::NothingWaits);
    let attempt = desk.session().attempt(command::pseudonym("heron").unwrap());
    let came: Vec<&Then> = attempt.asked.iter().map(|asked| &asked.then).collect();
    assert!(matches!(came[..], [Then::TakenBack(_), Then::Done(_), Then::Done(_)]), "{came:?}");
    let again = replay(&juno(), &attempt).unwrap();
    assert_eq!(again.rows(), desk.session().rows());
    assert_eq!(again.acts(), desk.session().acts());
    let told = debrief::debrief(&juno(), &attempt, None).unwrap().to_text();
    assert!(told.contains("hands were busy; it was done at 26 s"), "{told}");
    let text = attempt.to_ron();
    assert_eq!(parse_attempt("a.ron", &text).unwrap(), attempt, "{text}");
}

#[test]
fn law_what_waited_when_a_log_was_kept_still_waits_when_it_is_taken_up() {
    let mut desk = desk();
    desk.enter("occlude");
    desk.pass(1.3).unwrap();
    desk.enter("reseat");
    let attempt = desk.session().attempt(command::pseudonym("heron").unwrap());
    assert_eq!(attempt.waits.len(), 1);
    let mut resumed = Session::resume(&juno(), &attempt).unwrap();
    resumed.play(60.0).unwrap();
    let mut session = desk.into_session();
    session.play(60.0).unwrap();
    assert_eq!(resumed.acts(), session.acts());
    assert_eq!(resumed.rows(), session.rows());
    assert_eq!(session.acts().last().unwrap().act, Act::ReseatJoint);
}

#[test]
fn what_is_refused_is_kept_and_told_afterwards() {
    let mut desk = desk();
    assert!(matches!(desk.enter("suction"), Reply::Refused(_)));
    // A step that was cut short is gone anew, and forgets nothing that was asked.
    desk.pass(3.0).unwrap();
    let attempt = desk.session().attempt(command::pseudonym("heron").unwrap());
    assert!(attempt.acts.is_empty() && attempt.asked.len() == 1);
    let told = debrief::debrief(&juno(), &attempt, None).unwrap().to_text();
    assert!(told.contains("suction: not done, this lesson does not offer that"), "{told}");
}

#[test]
fn the_beginning_of_a_word_will_do_where_only_one_begins_so() {
    let mut desk = desk();
    for (line, act) in [("lis", Act::Listen), ("gau", Act::CheckGauge), ("RES", Act::ReseatJoint)] {
        assert!(matches!(desk.enter(line), Reply::Done { .. }), "{line}");
        assert_eq!(desk.session().acts().last().unwrap().act, act);
    }
    let Reply::Refused(refusal) = desk.enter("rec") else { panic!("two words begin so") };
    assert_eq!(refusal.says, "`rec` may be `reconnect` or `record`");
    assert!(matches!(desk.enter("pres 9"), Reply::Done { .. }));
    // No slip ends a session.
    assert!(!matches!(desk.enter("en"), Reply::End));
    assert!(matches!(desk.enter("end"), Reply::End));
}

#[test]
fn the_clock_runs_slower_faster_not_at_all_or_for_one_breath() {
    let mut desk = desk();
    let passed = |desk: &mut Desk, s: f64| {
        let before_s = desk.session().now_s();
        desk.pass(s).unwrap();
        desk.session().now_s() - before_s
    };
    desk.enter("slower");
    assert_eq!(passed(&mut desk, 2.0), 1.0);
    desk.enter("faster");
    desk.enter("faster");
    assert_eq!(passed(&mut desk, 2.0), 4.0);
    desk.enter("pause");
    assert_eq!(passed(&mut desk, 2.0), 0.0);
    let rows = desk.session().rows().len();
    desk.enter("breath");
    for _ in 0..100 {
        passed(&mut desk, 0.3);
    }
    assert_eq!(desk.session().rows().len(), rows + 1);
    assert!(!desk.is_running());
    for _ in 0..20 {
        desk.enter("faster");
    }
    assert_eq!(desk.speed(), 20.0);
}

#[test]
fn an_alarm_sounds_beyond_its_limit_and_only_for_what_the_monitor_shows() {
    let mut desk = desk();
    assert!(matches!(desk.enter("alarm peak 30"), Reply::Done { .. }));
    desk.pass(10.0).unwrap();
    assert!(!desk.rings() && desk.view().alarms[0].sounds.is_none());
    desk.enter("alarm peak 2");
    desk.pass(10.0).unwrap();
    assert!(desk.rings() && !desk.rings(), "it rings once");
    let sounds = |desk: &Desk| desk.told().iter().filter(|one| one.says.contains("ALARM")).count();
    assert_eq!(sounds(&desk), 1);
    desk.enter("alarm peak off");
    desk.enter("alarm breath 8");
    desk.enter("disconnect");
    desk.pass(1.0).unwrap();
    assert_eq!(sounds(&desk), 1);
    for line in ["alarm etco2 50", "alarm heart 20", "alarm peak", "alarm peak x"] {
        assert!(matches!(desk.enter(line), Reply::Refused(_)), "{line}");
    }
    let attempt = desk.session().attempt(command::pseudonym("heron").unwrap());
    assert_eq!(parse_attempt("a.ron", &attempt.to_ron()).unwrap(), attempt);
    let mut session = replay(&juno(), &attempt).unwrap();
    session.play(60.0).unwrap();
    let alarms = tidewright_training::alarms::alarms(&session);
    assert_eq!(alarms.len(), 1);
    assert_eq!((alarms[0].name, alarms[0].limit.as_str()), ("breath", "above 8 s"));
}

/// The number under which the right answer is shown differs, the mark does not.
#[test]
fn law_answers_stand_in_an_order_of_the_seed_and_count_the_same() {
    let scenario = juno();
    let mut numbers = Vec::new();
    for seed in 1..40 {
        let mut session = Session::new(Arc::clone(&scenario), seed).unwrap();
        session.play(200.0).unwrap();
        session.act(Act::Listen).unwrap();
        let case = session.drawn().unwrap().case.clone();
        let question = session.training().questions[0].clone();
        let own = case.answers.iter().find(|answer| answer.question == question.id);
        let right = own.map_or(question.right, |answer| answer.choice);
        numbers.push(right);
        session.act(command::parse(&format!("answer cause {right}")).unwrap()).unwrap();
        let attempt = session.attempt(command::pseudonym("heron").unwrap());
        let marking = mark(&scenario, &attempt).unwrap();
        let answered = marking.criteria.iter().find(|one| one.measure == "answer to cause");
        assert!(answered.unwrap().met, "seed {seed}: {answered:?}");
    }
    numbers.sort_unstable();
    numbers.dedup();
    assert_eq!(numbers.len(), 5);
}
