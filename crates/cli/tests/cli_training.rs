//! Lessons from the command line: practised, replayed, marked, dealt, looked up.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

mod common;

use common::{Desk, Outcome, attempt, files, lesson, program, tidewright, words};
use serde_json::Value;

const JUNO: &str = "juno-the-loose-joint";

fn learnt(desk: &Desk, variable: &str, arguments: &[&str]) -> Outcome {
    let mut program = program();
    program.env_remove("TIDEWRIGHT_DATA").env(variable, desk.path("data"));
    Outcome::of(program.arg("learn").args(arguments).output().unwrap())
}

const SHORT: &str = "wait 130\nlisten\ncall\nreseat joints\nANSWER cause a joint of\nwait 20 s\nrecord a joint\n\
                     wait 211\nquit\nlook\n";

#[test]
fn a_short_attempt_is_logged_and_marks_again_to_the_same() {
    let desk = Desk::new();
    let juno = lesson(JUNO);
    let outcome = desk.practised(&[&juno, "--seed", "1", "--pseudonym", "heron-1"], SHORT);
    assert_eq!((outcome.code, outcome.stderr.as_str()), (0, ""));
    assert!(outcome.stdout.contains("A hiss at a joint"), "{}", outcome.stdout);
    assert!(outcome.stdout.contains("The time is over."), "{}", outcome.stdout);
    let log = format!("{JUNO}-1.attempt.ron");
    let mend = format!("Log: {log}\nMark it again: tidewright mark {juno} {log}\n");
    assert!(outcome.stdout.ends_with(&mend), "{}", outcome.stdout);
    let long = outcome.stdout.lines().filter(|line| line.chars().count() > 80);
    assert_eq!(long.filter(|line| !line.starts_with("Mark it again")).count(), 0);
    let text = String::from_utf8(desk.get(&log)).unwrap();
    for part in ["heron-1", "(at_s: 130.0, act: Listen)", "act: ReseatJoint", "ended_at_s: 360.0"] {
        assert!(text.contains(part), "{part}: {text}");
    }
    assert!(!text.contains("Look"), "what comes after the end is not done: {text}");
    let marked = desk.tidewright(&["mark", &juno, &log]);
    assert_eq!((marked.code, marked.stderr.as_str()), (0, ""));
    assert!(outcome.stdout.contains(marked.stdout.trim_end()), "{}", marked.stdout);
    let again = desk.tidewright(&["replay", &juno, &log]);
    assert_eq!((again.code, again.stderr.as_str()), (0, ""));
    assert!(again.stdout.contains("  130.0 s  reseat\n"), "{}", again.stdout);
    assert_eq!(again.stdout, desk.tidewright(&["replay", &juno, &log]).stdout);
}

#[test]
fn every_way_to_say_goodbye_ends_a_session_and_help_tells_how_time_passes() {
    for goodbye in ["end", "quit", "exit", "Stop"] {
        let desk = Desk::new();
        let lines = format!("help\nfly\n{goodbye}\n");
        let outcome = desk.practised(&[&lesson(JUNO), "--seed", "1", "--log", "a.ron"], &lines);
        assert_eq!(outcome.code, 0, "{}", outcome.stderr);
        assert!(outcome.stdout.contains("`fly` is no act; `help` lists them"));
        assert_eq!(outcome.stdout.matches("  wait S ").count(), 2, "{}", outcome.stdout);
        assert_eq!(outcome.stdout.matches("You ended the session.").count(), 1);
        assert!(String::from_utf8(desk.get("a.ron")).unwrap().contains("ended_at_s: 0"));
    }
}

#[test]
fn a_lesson_with_gas_tells_its_numbers_in_words_and_marks_again_to_the_same() {
    let desk = Desk::new();
    let rowan = lesson("rowan-treat-the-cause");
    let lines =
        "wait 180\ncheck depth\nvaporizer\nanswer cause 1\nfill vaporiser\nwait 61.5\n\nend\n";
    let asked = [&rowan, "--seed", "2", "--log", "a.ron", "--page", "a.html"];
    let outcome = desk.practised(&asked, lines);
    assert_eq!((outcome.code, outcome.stderr.as_str()), (0, ""));
    let said = words(&outcome.stdout);
    for part in ["EtCO2 38 mmHg, inspired CO2 0 mmHg, SpO2 100 %", "own breaths", "glass is empty."]
    {
        assert!(said.contains(part), "{part}: {said}");
    }
    let marked = desk.tidewright(&["mark", &rowan, "a.ron"]);
    assert!(outcome.stdout.contains(marked.stdout.trim_end()), "{}", marked.stdout);
    let page = String::from_utf8(desk.get("a.html")).unwrap();
    assert!(page.contains("<th>Highest EtCO2</th>") && page.contains(">CO₂ (mmHg)<"));
    let again = desk.tidewright(&["replay", &rowan, "a.ron"]);
    assert!(again.stdout.contains("gases: EtCO2 "), "{}", again.stdout);
}

#[test]
fn attempts_are_marked_together_and_one_bad_file_stops_nothing() {
    let desk = Desk::new();
    let juno = lesson(JUNO);
    for name in ["expert", "nothing"] {
        desk.put(&format!("{name}.ron"), &std::fs::read(attempt(JUNO, name)).unwrap());
    }
    desk.put("bad.ron", b"Attempt(format: 1");
    let marks =
        |files: &[&str]| desk.tidewright(&[&["mark", "--json", juno.as_str()], files].concat());
    assert_eq!(marks(&["expert.ron"]).code, 0);
    let failed = marks(&["expert.ron", "nothing.ron"]);
    assert_eq!((failed.code, failed.stderr.as_str()), (1, ""));
    let bad = marks(&["expert.ron", "bad.ron", "nothing.ron"]);
    assert_eq!(bad.code, 3);
    assert_eq!(bad.stdout, failed.stdout, "the good ones are marked all the same");
    assert!(bad.stderr.contains("bad.ron is not marked"), "{}", bad.stderr);
    let list: Value = serde_json::from_str(&bad.stdout).unwrap();
    let passed: Vec<_> = (0..2).map(|i| list[i]["marking"]["passed"].as_bool().unwrap()).collect();
    assert_eq!(passed, [true, false]);
    let alone = marks(&["bad.ron"]);
    assert_eq!((alone.code, alone.stdout.as_str()), (3, ""));
    assert_eq!(marks(&["missing.ron"]).code, 4);
    let other = desk.tidewright(&["mark", &lesson("otter-the-cuff"), "expert.ron"]);
    assert_eq!(other.code, 2);
    assert!(words(&other.stderr).contains("the scenario it was made with"), "{}", other.stderr);
    let no_lesson = desk.tidewright(&["mark", "first.ron", "expert.ron"]);
    assert_eq!(no_lesson.code, 2);
    assert!(words(&no_lesson.stderr).contains("no `training` block"), "{}", no_lesson.stderr);
}

#[test]
fn a_class_is_dealt_one_file_each_and_a_bad_roster_deals_nothing() {
    let desk = Desk::new();
    let juno = lesson(JUNO);
    desk.put("roster.csv", b"group,pseudonym\na,heron-1\nb, heron-2\n");
    let deal = |roster: &str, into: &str| {
        desk.tidewright(&["class", "deal", &juno, roster, "--seed", "4", "--into", into])
    };
    let outcome = deal("roster.csv", "dealt");
    assert_eq!((outcome.code, outcome.stderr.as_str()), (0, ""));
    let names = ["dealt", "dealt-key.csv", "first.ron", "roster.csv"];
    assert_eq!(desk.names(), names);
    let file = |into: &str, who: &str| desk.get(&format!("{into}/juno-{who}.dealt.ron"));
    assert_ne!(file("dealt", "heron-1"), file("dealt", "heron-2"));
    let key = String::from_utf8(desk.get("dealt-key.csv")).unwrap();
    assert!(key.contains("\nheron-1,") && key.contains("\nheron-2,"), "{key}");
    assert_eq!(deal("roster.csv", "again").code, 0);
    assert_eq!(file("dealt", "heron-1"), file("again", "heron-1"));
    let dealt = "dealt/juno-heron-1.dealt.ron";
    let outcome = desk.practised(&[&juno, "--dealt", dealt, "--log", "log.ron"], "end\n");
    assert_eq!(outcome.code, 0, "{}", outcome.stderr);
    let log = String::from_utf8(desk.get("log.ron")).unwrap();
    let seed = key.lines().find_map(|line| line.strip_prefix("heron-1,")).unwrap();
    let seed = seed.split(',').next().unwrap();
    assert!(log.contains(&format!("seed: {seed},")) && log.contains("heron-1"), "{log}");
    let rosters = [
        ("pseudonym\n", "it names nobody"),
        ("name\nheron-1\n", "must name a column `pseudonym`"),
        ("pseudonym\nheron-1\nAnna Smith\n", "line 3: `Anna Smith` is no pseudonym"),
        ("pseudonym\nheron-1\nheron-1\n", "line 3: `heron-1` is there twice"),
        ("pseudonym,x\nheron-1\n", "line 2: "),
    ];
    for (text, said) in rosters {
        desk.put("bad.csv", text.as_bytes());
        let outcome = deal("bad.csv", "nowhere");
        assert_eq!((outcome.code, outcome.stdout.as_str()), (3, ""), "{text}");
        assert!(words(&outcome.stderr).contains(said), "{text}: {}", outcome.stderr);
        assert!(!desk.path("nowhere").exists());
    }
    assert_eq!(deal("missing.csv", "nowhere").code, 4);
}

#[test]
fn a_class_is_marked_with_reasons_and_accuses_nobody() {
    let desk = Desk::new();
    let juno = lesson(JUNO);
    std::fs::create_dir(desk.path("in")).unwrap();
    let expert = std::fs::read(attempt(JUNO, "expert")).unwrap();
    desk.put("in/a.ron", &expert);
    desk.put("in/b.ron", b"Attempt(format: 1");
    desk.put("in/c.ron", &std::fs::read(attempt(JUNO, "nothing")).unwrap());
    let twin = String::from_utf8(expert).unwrap().replace("\"expert\"", "\"heron-9\"");
    desk.put("in/d.ron", twin.as_bytes());
    desk.put("in/notes.txt", b"not an attempt");
    let outcome = desk.tidewright(&["class", "mark", &juno, "in", "--csv", "marks.csv"]);
    assert_eq!((outcome.code, outcome.stdout.as_str()), (0, ""));
    assert!(
        words(&outcome.stderr).contains("2 of 4 passed; 1 could not be marked"),
        "{}",
        outcome.stderr
    );
    assert!(words(&outcome.stderr).contains("which alone says nothing"), "{}", outcome.stderr);
    let mut reader = csv::Reader::from_path(desk.path("marks.csv")).unwrap();
    let rows: Vec<Vec<String>> =
        reader.records().map(|row| row.unwrap().iter().map(str::to_owned).collect()).collect();
    let of = |column: usize| rows.iter().map(|row| row[column].as_str()).collect::<Vec<_>>();
    assert_eq!(of(0), ["a.ron", "b.ron", "c.ron", "d.ron"]);
    assert_eq!(of(1), ["expert", "", "nothing", "heron-9"]);
    assert_eq!(of(2), ["passed", "not marked", "not passed", "passed"]);
    assert!(rows[1][5].starts_with("line 1: "), "{}", rows[1][5]);
    assert!(rows[2][5].contains("fault put right: never"), "{}", rows[2][5]);
    assert_eq!(of(6), ["d.ron", "", "", "a.ron"]);
    let all = (rows.concat().join(" ") + &outcome.stderr).to_lowercase();
    for word in ["cheat", "copied", "plagiar", "suspic"] {
        assert!(!all.contains(word), "{word}");
    }
    assert_eq!(desk.tidewright(&["class", "mark", &juno, "nowhere"]).code, 4);
    let percent = ["class", "mark", &juno, "in", "--pass-mark", "101"];
    assert_eq!(desk.tidewright(&percent).code, 2);
}

#[test]
fn coverage_counts_every_lesson_and_refuses_what_is_no_scenario() {
    let lessons = files("scenarios/training");
    let outcome = tidewright(std::iter::once("coverage".into()).chain(lessons.clone()));
    assert_eq!((outcome.code, outcome.stderr.as_str()), (0, ""));
    for path in &lessons {
        let id = path.file_stem().unwrap().to_str().unwrap();
        // A file's own name may tell what is to be found out.
        let word = tidewright_shelf::shown(id);
        assert!(outcome.stdout.contains(word), "{id} serves nothing: {}", outcome.stdout);
    }
    let widest = outcome.stdout.lines().map(|line| line.chars().count()).max();
    assert!(widest <= Some(80), "{}", outcome.stdout);
    let alone = tidewright(["coverage", &lesson("otter-the-cuff")]).stdout;
    assert!(words(&alone).contains("airway 1 otter choose settings 0 none"), "{alone}");
    let inside = tidewright(["coverage"]);
    assert_eq!((inside.code, inside.stdout.contains("juno")), (0, true));
    let desk = Desk::new();
    desk.put("bad.ron", b"Scenario(");
    assert_eq!(desk.tidewright(&["coverage", "bad.ron"]).code, 3);
    assert_eq!(desk.tidewright(&["coverage", "missing.ron"]).code, 4);
}

#[test]
fn a_word_is_explained_with_the_numbers_of_a_scenario() {
    let desk = Desk::new();
    let bare = desk.tidewright(&["explain", "tidal", "volume"]);
    assert_eq!((bare.code, bare.stderr.as_str()), (0, ""));
    assert!(!bare.stdout.contains("In `"), "{}", bare.stdout);
    let within = desk.tidewright(&["explain", "tidal", "volume", "--in", "first.ron"]);
    assert_eq!(within.code, 0);
    assert!(words(&within.stdout).contains("compliance 6 mL/cmH2O"), "{}", within.stdout);
    let unknown = desk.tidewright(&["explain", "leek"]);
    assert_eq!((unknown.code, unknown.stdout.as_str()), (2, ""));
    assert!(words(&unknown.stderr).contains("did you mean `leak`?"), "{}", unknown.stderr);
    let far = desk.tidewright(&["explain", "weather"]);
    assert!(!words(&far.stderr).contains("did you mean"), "{}", far.stderr);
    assert!(bare.stdout.lines().all(|line| line.chars().count() <= 80), "{}", bare.stdout);
    let list = desk.tidewright(&["explain"]).stdout;
    assert!(list.lines().any(|line| line == "leak"), "{list}");
    assert_eq!(desk.tidewright(&["explain", "leak", "--in", "missing.ron"]).code, 4);
    // A word for a fault tells what it does to this patient's breath.
    for (word, cousin) in [
        ("kink", "blocked tube"),
        ("bronchospasm", "spasm of the airways"),
        ("pneumothorax", "air around the lung"),
    ] {
        let told = desk.tidewright(&["explain", cousin, "--in", "first.ron"]);
        assert_eq!((told.code, told.stderr.as_str()), (0, ""));
        let text = words(&told.stdout);
        assert!(
            text.starts_with(word) && text.contains("a breath at its first settings has"),
            "{text}"
        );
    }
}

#[test]
fn what_to_learn_next_is_kept_where_the_user_says_and_can_be_removed() {
    let desk = Desk::new();
    let (juno, otter) = (lesson(JUNO), lesson("otter-the-cuff"));
    let due = |outcome: &Outcome, id: &str| {
        let line = outcome.stdout.lines().find(|line| line.contains(&format!("{id}: "))).unwrap();
        line.split_once(id).unwrap().0.trim().to_owned()
    };
    let fresh = learnt(&desk, "TIDEWRIGHT_DATA", &[&juno, &otter]);
    assert_eq!((fresh.code, fresh.stderr.as_str()), (0, ""));
    assert_eq!(due(&fresh, "juno"), "today");
    assert!(fresh.stdout.contains("1 more are new; they come one by one"), "{}", fresh.stdout);
    desk.practised(&[&otter, "--seed", "1", "--no-history"], "end\n");
    assert!(!desk.path("data").exists(), "nothing is kept against the user's wish");
    assert!(desk.practised(&[&juno, "--seed", "1"], SHORT).stdout.contains("\nPASSED"));
    let later = learnt(&desk, "TIDEWRIGHT_DATA", &[&juno, &otter]);
    assert_eq!(due(&later, "otter"), "today");
    assert_ne!(due(&later, "juno"), "today", "{}", later.stdout);
    let kept = String::from_utf8(desk.get("data/attempts.csv")).unwrap();
    assert_eq!(kept.lines().count(), 1);
    assert!(kept.starts_with(JUNO) && kept.ends_with(",passed,student,\n"), "{kept}");
    let heron = [&otter, "--seed", "1", "--pseudonym", "heron"];
    assert!(desk.practised(&heron, "end\n").stdout.contains("\nNOT PASSED"));
    let whose = |who| learnt(&desk, "TIDEWRIGHT_DATA", &["--pseudonym", who, &juno, &otter]);
    assert_eq!(due(&whose("heron"), "otter"), "tomorrow");
    assert!(words(&whose("heron").stdout).contains("not passed yet"), "{}", whose("heron").stdout);
    assert_eq!(due(&whose("student"), "otter"), "today");
    let forget = learnt(&desk, "TIDEWRIGHT_DATA", &["--forget"]);
    assert_eq!((forget.code, forget.stdout.as_str()), (0, "Your history is removed.\n"));
    assert!(!desk.path("data/attempts.csv").exists());
    let forget = learnt(&desk, "TIDEWRIGHT_DATA", &["--forget"]);
    assert_eq!((forget.code, forget.stdout.as_str()), (0, "There was no history.\n"));
    std::fs::create_dir_all(desk.path("data/tidewright")).unwrap();
    desk.put("data/tidewright/attempts.csv", format!("{JUNO},1,passed\nnonsense\n").as_bytes());
    let of_system = learnt(&desk, "XDG_DATA_HOME", &[&juno]);
    assert!(of_system.stdout.contains("to keep it"), "{}", of_system.stdout);
    // Without a path there are the lessons inside, and one of them is next.
    let inside = learnt(&desk, "TIDEWRIGHT_DATA", &[]);
    assert_eq!((inside.code, inside.stderr.as_str()), (0, ""));
    assert_eq!(due(&inside, "first-test"), "today");
    let all = learnt(&desk, "TIDEWRIGHT_DATA", &["--all"]);
    assert!(all.stdout.lines().filter(|line| line.contains("  new  ")).count() >= 20);
}
