//! Exams: sealed, sat, marked by the key; and what a class hands in, however it is packed.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

mod common;

use std::io::Write as _;
use std::process::Stdio;

use common::{Desk, Outcome, attempt, lesson, program, words};

const JUNO: &str = "juno-the-loose-joint";
const PASSPHRASE: &str = "four grey herons";

/// A command with the passphrase in its environment, fed with lines.
fn with_passphrase(desk: &Desk, passphrase: &str, arguments: &[&str], lines: &str) -> Outcome {
    let mut program = program();
    program.current_dir(desk.path("")).env("TIDEWRIGHT_DATA", desk.path("data"));
    program.env("TIDEWRIGHT_PASSPHRASE", passphrase).args(arguments);
    program.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
    let mut child = program.spawn().unwrap();
    let _ = child.stdin.take().unwrap().write_all(lines.as_bytes());
    Outcome::of(child.wait_with_output().unwrap())
}

fn dealt(desk: &Desk) {
    desk.put("roster.csv", b"pseudonym\nheron-1\nheron-2\n");
    let command =
        ["class", "deal", &lesson(JUNO), "roster.csv", "--seed", "4", "--into", "exams", "--exam"];
    let outcome = with_passphrase(desk, PASSPHRASE, &command, "");
    assert_eq!((outcome.code, outcome.stderr.as_str()), (0, ""));
    // The same again is the same, byte for byte.
    let again = with_passphrase(desk, PASSPHRASE, &command, "");
    assert_eq!(again.code, 0, "{}", again.stderr);
}

fn text(desk: &Desk, name: &str) -> String {
    String::from_utf8(desk.get(name)).unwrap()
}

#[test]
fn law_a_sealed_exam_tells_nothing_and_opens_with_its_passphrase_alone() {
    let desk = Desk::new();
    dealt(&desk);
    let sealed = text(&desk, "exams/exam-heron-1.sealed");
    let known = std::fs::read_to_string(lesson(JUNO)).unwrap();
    let tells = ["juno", "Juno", "right:", "joint", "criteria", "seed", "cuff"];
    assert!(tells.iter().all(|word| !sealed.contains(word)), "{sealed}");
    assert!(known.contains("joint"));
    let file = "exams/exam-heron-1.sealed";
    let wrong = with_passphrase(&desk, "four grey hermits", &["practise", file], "end\n");
    assert_eq!((wrong.code, wrong.stdout.as_str()), (3, ""));
    assert!(words(&wrong.stderr).contains("the passphrase is another"), "{}", wrong.stderr);
    let short =
        ["class", "deal", &lesson(JUNO), "roster.csv", "--seed", "4", "--into", "b", "--exam"];
    assert_eq!(with_passphrase(&desk, "short", &short, "").code, 2);
    let changed = sealed.replacen("text: [\n        \"", "text: [\n        \"A", 1);
    desk.put("changed.sealed", changed.as_bytes());
    let outcome = with_passphrase(&desk, PASSPHRASE, &["practise", "changed.sealed"], "end\n");
    assert_eq!((outcome.code, outcome.stdout.as_str()), (3, ""));
}

#[test]
fn law_an_exam_is_marked_by_the_key_as_practice_would_be_and_every_change_of_its_log_is_told() {
    let desk = Desk::new();
    dealt(&desk);
    let lines = "wait 300\nlisten\nreseat\nanswer a joint of\nrecord done\nwait 300\nend\n";
    let file = "exams/exam-heron-1.sealed";
    let sat = with_passphrase(&desk, PASSPHRASE, &["practise", file, "--log", "sat.ron"], lines);
    assert_eq!((sat.code, sat.stderr.as_str()), (0, ""));
    let told = words(&sat.stdout);
    assert!(told.contains("sitting 1 on this machine"), "{told}");
    assert!(!told.contains("MARKS") && !told.contains("Juno") && !told.contains("onset"), "{told}");
    // The same seed and lines in practice.
    let key = text(&desk, "exams-key.csv");
    let deal = ["class", "deal", &lesson(JUNO), "roster.csv", "--seed", "4", "--into", "dealt"];
    assert_eq!(desk.tidewright(&deal).code, 0);
    let hand = "dealt/juno-heron-1.dealt.ron";
    let practice = [&lesson(JUNO), "--dealt", hand, "--log", "practice.ron"];
    assert_eq!(desk.practised(&practice, lines).code, 0);
    std::fs::create_dir(desk.path("in")).unwrap();
    let log = text(&desk, "sat.ron");
    assert!(log.contains("number: 1,"), "{log}");
    desk.put("in/a-exam.ron", log.as_bytes());
    desk.put("in/b-practice.ron", &desk.get("practice.ron"));
    let at = log.find("act: Listen").unwrap();
    let at = log[..at].rfind("at_s: ").unwrap() + 6;
    let changes = [
        ("in/c-time.ron", [&log[..at], "29", &log[at + 2..]].concat()),
        ("in/d-act.ron", log.replacen("act: Listen", "act: Look", 1)),
        ("in/e-end.ron", log.replacen("ended_at_s: ", "ended_at_s: 1", 1)),
        ("in/f-number.ron", log.replacen("number: 1", "number: 2", 1)),
    ];
    for (name, changed) in &changes {
        assert_ne!(*changed, log, "{name}");
        desk.put(name, changed.as_bytes());
    }
    let mark = ["class", "mark", &lesson(JUNO), "in", "--key", "exams-key.csv"];
    let marked = desk.tidewright(&mark);
    assert_eq!(marked.code, 0, "{}", marked.stderr);
    let mut rows = csv::Reader::from_reader(marked.stdout.as_bytes());
    let heads = rows.headers().unwrap().clone();
    let column = |name: &str| heads.iter().position(|head| head == name).unwrap();
    let rows: Vec<csv::StringRecord> = rows.records().map(Result::unwrap).collect();
    let cell = |row: usize, name: &str| rows[row][column(name)].to_owned();
    assert_eq!(cell(0, "kind"), "exam exam-heron-1, sitting 1, as it was kept");
    assert_eq!(cell(1, "kind"), "practice");
    for name in ["result", "points", "points_of", "reasons", "seed"] {
        assert_eq!(cell(0, name), cell(1, name), "{name}");
    }
    assert!(!cell(0, "points").is_empty(), "{:?}", rows[0]);
    for row in 2..6 {
        assert!(cell(row, "kind").contains("CHANGED"), "{:?}", rows[row]);
    }
    let mut keys = csv::Reader::from_reader(key.as_bytes());
    let secret = keys.headers().unwrap().iter().position(|head| head == "secret").unwrap();
    let secret = keys.records().next().unwrap().unwrap()[secret].to_owned();
    assert!(secret.len() > 8 && !log.contains(&secret), "{log}");
    // A second sitting is counted, whatever became of the first.
    let again =
        with_passphrase(&desk, PASSPHRASE, &["practise", file, "--log", "again.ron"], "end\n");
    assert!(words(&again.stdout).contains("sitting 2 on this machine"), "{}", again.stdout);
}

#[test]
fn what_a_class_hands_in_is_found_in_folders_in_zips_and_with_other_endings() {
    let desk = Desk::new();
    let expert = std::fs::read(attempt(JUNO, "expert")).unwrap();
    std::fs::create_dir_all(desk.path("in/heron-1/late")).unwrap();
    desk.put("in/heron-1/late/log.ron", &expert);
    desk.put("in/heron-2.ron.txt", &expert);
    desk.put("in/read-me.txt", b"Please mark these.");
    let mut zip = zip::ZipWriter::new(std::fs::File::create(desk.path("in/bulk.zip")).unwrap());
    let options = zip::write::SimpleFileOptions::default();
    for name in ["heron-3_901_file/log.ron", "heron-4.json", "photo.png"] {
        zip.start_file(name, options).unwrap();
        zip.write_all(&expert).unwrap();
    }
    // What unpacks to far more than any log.
    zip.start_file("bomb.ron", options).unwrap();
    zip.write_all(&vec![b' '; 8 << 20]).unwrap();
    zip.finish().unwrap();
    desk.put("in/broken.zip", b"PK\x03\x04 and no more");
    let marked = desk.tidewright(&["class", "mark", JUNO, "in"]);
    assert_eq!(marked.code, 0, "{}", marked.stderr);
    let found: Vec<&str> =
        marked.stdout.lines().skip(1).map(|line| line.split(',').next().unwrap()).collect();
    assert_eq!(
        found,
        [
            "broken.zip/*",
            "bulk.zip/bomb.ron",
            "bulk.zip/heron-3_901_file/log.ron",
            "bulk.zip/heron-4.json",
            "heron-1/late/log.ron",
            "heron-2.ron.txt"
        ]
    );
    let passed = marked.stdout.lines().filter(|line| line.contains(",passed,")).count();
    assert_eq!(passed, 3, "{}", marked.stdout);
    assert!(marked.stdout.contains("too large"), "{}", marked.stdout);
    assert!(words(&marked.stderr).contains("1 other texts are no logs"), "{}", marked.stderr);
    let alone = desk.tidewright(&["class", "mark", JUNO, "in/bulk.zip"]);
    assert_eq!((alone.code, alone.stdout.lines().count()), (0, 4), "{}", alone.stderr);
}
