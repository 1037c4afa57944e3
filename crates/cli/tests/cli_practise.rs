//! A session through a pipe, replayed, and on a page.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

mod common;

use common::{Desk, all_refused, attempt, lesson, words};

const JUNO: &str = "juno-the-loose-joint";

#[test]
fn the_same_lines_and_seed_give_the_same_session_and_another_seed_another() {
    let juno = lesson(JUNO);
    let session = |seed: &str| {
        let desk = Desk::new();
        let lines = "wait 145\n\n\nlisten\nreseat\nanswer 2\nwait 30\nend\n";
        let outcome = desk.practised(&[&juno, "--seed", seed, "--log", "a.ron"], lines);
        assert_eq!((outcome.code, outcome.stderr.as_str()), (0, ""));
        (outcome.stdout, desk.get("a.ron"))
    };
    let one = session("3");
    assert_eq!(session("3"), one);
    assert_ne!(session("4").0, one.0);
    let log = String::from_utf8(one.1).unwrap();
    assert!(log.contains("Answer(question: \"cause\", choice: "), "{log}");
    // An empty line waits for the end of a breath, so the acts come after 145 s.
    let at_s = log.split("act: Listen").next().unwrap().rsplit("at_s: ").next().unwrap();
    let at_s: f64 = at_s.trim_end_matches([',', ' ']).parse().unwrap();
    assert!((147.0..160.0).contains(&at_s), "{at_s}");
}

#[test]
fn a_line_that_cannot_be_done_is_told_and_changes_nothing() {
    let desk = Desk::new();
    let lines = "wait\nwait 700\nwait -3\nwait x\nflow\nflow 1 mL/min\nanswer 9\nanswer\npredict up\n\
                 pressure 0\nlimit 900\nmode standby\nend\n";
    let outcome = desk.practised(&[&lesson(JUNO), "--seed", "1", "--log", "a.ron"], lines);
    assert_eq!((outcome.code, outcome.stderr.as_str()), (0, ""));
    let told = &outcome.stdout;
    assert_eq!(told.matches("write `wait` and 1 to 600 seconds").count(), 4, "{told}");
    assert_eq!(told.matches("write `flow L/min`").count(), 2, "{told}");
    for said in [
        "`cause` has answers 1 to 5",
        "write `answer QUESTION NUMBER`",
        "write `predict NAME up|same|down`",
        "this lesson does not offer that",
    ] {
        assert!(told.contains(said), "{said}: {told}");
    }
    assert!(told.contains("\nNOT PASSED: "), "{told}");
    let log = String::from_utf8(desk.get("a.ron")).unwrap();
    assert!(!log.contains("acts:") && log.contains("ended_at_s: 0.0"), "{log}");
    // What was understood and refused is kept.
    assert_eq!(log.matches("Refused(").count(), 2, "{log}");
}

#[test]
fn an_answer_is_told_in_full_and_no_log_is_lost() {
    let desk = Desk::new();
    let practised = || desk.practised(&[&lesson(JUNO), "--seed", "1"], "answer 2\nend\n");
    let first = practised();
    assert!(words(&first.stdout).contains("Answered: "), "{}", first.stdout);
    assert!(first.stdout.contains("Log: juno-the-loose-joint-1.attempt.ron"), "{}", first.stdout);
    let kept = desk.get("juno-the-loose-joint-1.attempt.ron");
    let second = practised();
    assert!(second.stdout.contains("Log: juno-the-loose-joint-1-2.attempt.ron"));
    assert_eq!(desk.get("juno-the-loose-joint-1.attempt.ron"), kept);
}

#[test]
fn a_debrief_tells_what_was_seen_and_what_was_not_yet() {
    let desk = Desk::new();
    let rowan = lesson("rowan-treat-the-cause");
    let ended = |lines: &str| {
        // A log is never written over: each attempt has its own.
        let log = format!("{}.ron", lines.len());
        let outcome = desk.practised(&[&rowan, "--seed", "2", "--log", &log], lines);
        assert_eq!((outcome.code, outcome.stderr.as_str()), (0, ""));
        words(&outcome.stdout)
    };
    let early = ended("wait 20\nend\n");
    assert!(early.contains("You ended before anything went wrong"), "{early}");
    assert!(!early.contains("s onset ") && !early.contains("s sign "), "{early}");
    let unseen = ended("wait 119\nlook\nend\n");
    assert!(unseen.contains("s onset ") && !unseen.contains("s sign "), "{unseen}");
    assert!(unseen.contains("would have been at 142 s"), "{unseen}");
    assert!(!unseen.contains("fill at"), "no longer course beside a short one: {unseen}");
    let touched = ended("wait 119\npressure 10\nwait 80\nend\n");
    assert!(touched.contains("would have been at") && !touched.contains("s sign "), "{touched}");
    let seen = ended("wait 119\nlook\nlok\nwait 80\nadapter\ncall\nend\n");
    assert!(seen.contains("was at 142 s") && seen.contains("s sign "), "{seen}");
    assert!(seen.contains("did you mean `look`?"), "{seen}");
    // Only the act that takes time says so.
    assert_eq!(seen.matches("Your hands are busy until 203 s.").count(), 1, "{seen}");
}

#[test]
fn a_session_shows_no_more_than_its_monitor() {
    let status = |id: &str| {
        let desk = Desk::new();
        let outcome = desk.practised(&[&lesson(id), "--seed", "1"], "wait 20\nend\n");
        assert_eq!(outcome.code, 0, "{}", outcome.stderr);
        let line =
            outcome.stdout.split("\n20.0 s. ").nth(1).unwrap().split("\nYou").next().unwrap();
        line.replace('\n', " ")
    };
    let [full, pressures, gauge] =
        [JUNO, "ember-flow-through-a-wet-filter", "ruff-one-test-parts-two"].map(status);
    assert!(full.contains("tidal volume out") && full.contains("inspiratory time"), "{full}");
    assert!(!pressures.contains("tidal volume") && pressures.contains("baseline"), "{pressures}");
    assert!(!gauge.contains("volume") && !gauge.contains("inspiratory"), "{gauge}");
    assert!(gauge.contains("gauge now"), "{gauge}");
}

#[test]
fn a_debrief_goes_onto_a_page_that_needs_no_network() {
    let desk = Desk::new();
    let juno = lesson(JUNO);
    let options = [&juno, "--seed", "1", "--log", "a.ron", "--page", "practised.html"];
    let outcome = desk.practised(&options, "wait 150\nlisten\nreseat\nwait 60\nend\n");
    assert_eq!((outcome.code, outcome.stderr.as_str()), (0, ""));
    assert!(outcome.stdout.ends_with("Page: practised.html\n"), "{}", outcome.stdout);
    let mark = ["mark", &juno, "a.ron", "--page", "marked.html", "--pass-mark", "100"];
    let strict = desk.tidewright(&mark);
    assert_eq!((strict.code, strict.stderr.as_str()), (1, ""));
    assert!(strict.stdout.contains("pass mark 100 %"), "{}", strict.stdout);
    for file in ["practised.html", "marked.html"] {
        let page = String::from_utf8(desk.get(file)).unwrap();
        assert!(page.starts_with("<!doctype html>") && page.contains("<svg"), "{file}");
        assert!(page.contains("For teaching only.") && page.contains("onset"), "{file}");
        assert!(!page.contains("src=\"http") && !page.contains("<script"), "{file}");
        assert!(!page.contains("CO₂"), "no gas in this lesson: {file}");
    }
    // Who ends before the onset sees the breaths that there were.
    let early = [&juno, "--seed", "1", "--log", "early.ron", "--page", "early.html"];
    assert_eq!(desk.practised(&early, "wait 40\nend\n").code, 0);
    let page = String::from_utf8(desk.get("early.html")).unwrap();
    assert!(page.contains("<svg") && !page.contains(">onset<"), "{page}");
}

#[test]
fn what_cannot_be_practised_or_replayed_is_refused_with_a_mend() {
    let desk = Desk::new();
    let (juno, otter) = (lesson(JUNO), lesson("otter-the-cuff"));
    let expert = attempt(JUNO, "expert");
    let log = std::fs::read_to_string(expert).unwrap();
    desk.put("log.ron", log.as_bytes());
    let other_model: String = log.lines().filter(|line| !line.contains("model: ")).collect();
    let other_model = other_model.replace("pseudonym:", "model: 91, pseudonym:");
    desk.put("old.ron", other_model.as_bytes());
    desk.put("words.ron", log.replace("engine: \"", "engine: \"0.0.").as_bytes());
    desk.put("late.ron", log.replace("ended_at_s: 360", "ended_at_s: 100").as_bytes());
    desk.put("other.ron", log.replace("act: ReseatJoint", "act: Suction").as_bytes());
    all_refused(
        &desk,
        &[
            (&["practise"], 2, "SCENARIO"),
            (&["practise", "none.ron"], 4, "none.ron"),
            (&["practise", "first.ron"], 2, "no `training` block"),
            (&["practise", "log.ron"], 3, "Scenario"),
            (&["practise", &juno, "--seed", "5e9"], 2, "--seed"),
            (&["practise", &juno, "--speed", "50"], 2, "0.1 to 20"),
            (&["practise", &juno, "--pseudonym", "Anna Smith"], 2, "small letters"),
            (&["practise", &juno, "--seed", "1", "--dealt", "log.ron"], 2, "--dealt"),
            (&["replay", &juno], 2, "ATTEMPT"),
            (&["replay", &juno, "none.ron"], 4, "none.ron"),
            (&["replay", &juno, "first.ron"], 3, "Attempt"),
            (&["replay", &juno, "late.ron"], 3, "after the end"),
            (&["replay", &juno, "old.ron"], 2, "mark it with a program of revision 91"),
            (&["replay", &juno, "other.ron"], 2, "this lesson does not offer that"),
            (&["replay", &otter, "log.ron"], 2, "the scenario it was made with"),
            (
                &["mark", &juno, "log.ron", "log.ron", "--page", "a.html"],
                2,
                "a page is of one attempt",
            ),
        ],
    );
    let nowhere = desk.practised(&[&juno, "--log", "none/a.ron"], "end\n");
    assert_eq!(nowhere.code, 4, "{}", nowhere.stderr);
    let short = desk.tidewright(&["replay", &juno, "log.ron"]);
    assert_eq!((short.code, short.stderr.as_str()), (0, ""));
    let told = &short.stdout;
    assert!(told.contains("ONSET: ") && told.contains("FIRST SIGN"), "{told}");
    assert!(told.lines().count() < 60, "{told}");
    let good = desk.tidewright(&["replay", &juno, "log.ron", "--all"]);
    assert_eq!((good.code, good.stderr.as_str()), (0, ""));
    assert!(good.stdout.starts_with("For teaching only."));
    // A version that only mends words plays old logs as they were.
    let words = desk.tidewright(&["replay", &juno, "words.ron", "--all"]);
    assert_eq!((words.code, &words.stdout), (0, &good.stdout));
    let times = good.stdout.lines().filter_map(|line| line.trim().split_once(" s  "));
    let times: Vec<f64> = times.filter_map(|(at_s, _)| at_s.parse().ok()).collect();
    assert!(times.len() > 90 && times.is_sorted(), "in order of time");
}
