//! A class from end to end: dealt, checked, practised, marked.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

mod common;

use common::{Desk, Outcome, all_refused, lesson, program, repository, words};
use tidewright_scenario::parse_attempt;

const JUNO: &str = "juno-the-loose-joint";

/// A desk with a class of four that was dealt `id`.
fn dealt(id: &str) -> Desk {
    let desk = Desk::new();
    desk.put("roster.csv", b"pseudonym\nheron-1\nheron-2\nheron-3\nheron-4\n");
    let outcome = desk.tidewright(&[
        "class",
        "deal",
        &lesson(id),
        "roster.csv",
        "--seed",
        "9",
        "--into",
        "d",
    ]);
    assert_eq!((outcome.code, outcome.stderr.as_str()), (0, ""));
    std::fs::create_dir(desk.path("in")).unwrap();
    desk
}

/// A student of the class practises line by line.
fn practised(desk: &Desk, id: &str, who: &str, more: &[&str], lines: &str) -> Outcome {
    let file = format!("d/{}-{who}.dealt.ron", tidewright_shelf::shown(id));
    let given = lesson(id);
    let mut arguments = vec![given.as_str(), "--dealt", &file];
    arguments.extend(more);
    desk.practised(&arguments, lines)
}

fn rows(text: &str) -> Vec<csv::StringRecord> {
    csv::Reader::from_reader(text.as_bytes()).records().map(Result::unwrap).collect()
}

#[test]
fn every_student_has_a_patient_of_its_own_from_the_story_to_the_mark() {
    let desk = dealt(JUNO);
    let key = String::from_utf8(desk.get("d-key.csv")).unwrap();
    let head = "pseudonym,seed,weight_kg,severity_factor,case,onset_s,for_teaching_only_";
    assert!(key.starts_with(head), "{key}");
    let key = rows(&key);
    let mut weights = Vec::new();
    for row in &key {
        let who = &row[0];
        let file = String::from_utf8(desk.get(&format!("d/juno-{who}.dealt.ron"))).unwrap();
        let log = parse_attempt("dealt.ron", &file).unwrap();
        let hand = log.dealt.unwrap();
        assert_eq!(row[1], log.seed.to_string());
        assert_eq!(row[2].parse(), Ok(hand.weight_kg));
        assert_eq!(row[3].parse(), Ok(hand.severity_factor));
        assert!(file.starts_with("// For teaching only."), "{file}");
        assert!(file.contains(&format!("practise juno --dealt juno-{who}.dealt.ron\n")), "{file}");
        assert!(!file.contains("joint works loose"), "the case is not told: {file}");
        // The expert's acts, with the onset from the key.
        let onset_s: f64 = row[5].parse().unwrap();
        let (mends, answer) = match &row[4] {
            "A joint of the circuit works loose." => ("call\nreseat\n", "a joint of"),
            "The cuff has lost most of its pressure." => ("call\ncuff?\ncuff 25\n", "the cuff"),
            "The flow from the cylinder sags." => ("call\nsupply\ncylinder\n", "the supply"),
            well => {
                assert_eq!(well, "Nothing goes wrong.");
                ("", "nothing is")
            }
        };
        let lines = format!(
            "wait {}\nlisten\nocclude\nwait 8\n{mends}answer {answer}\nrecord mended\nwait 400\n",
            onset_s + 20.0
        );
        let outcome = practised(&desk, JUNO, who, &[], &lines);
        assert_eq!((outcome.code, outcome.stderr.as_str()), (0, ""));
        let story = format!("a cat of {} kg,", hand.weight_kg);
        assert!(words(&outcome.stdout).contains(&story), "{}", outcome.stdout);
        assert!(outcome.stdout.contains("\nPASSED"), "{}", outcome.stdout);
        let log = format!("{JUNO}-{who}.attempt.ron");
        let mark = desk.tidewright(&["mark", &lesson(JUNO), &log]);
        assert!(outcome.stdout.contains(mark.stdout.trim_end()), "{}", mark.stdout);
        std::fs::rename(desk.path(&log), desk.path(&format!("in/{log}"))).unwrap();
        weights.push(row[2].to_owned());
    }
    weights.sort();
    weights.dedup();
    assert!(weights.len() >= 3, "{weights:?}");
    let check = |folder: &str| {
        let files = std::fs::read_dir(desk.path(folder)).unwrap();
        let files = files.map(|file| file.unwrap().path().display().to_string());
        let files: Vec<String> = std::iter::once("check".to_owned()).chain(files).collect();
        desk.tidewright(&files.iter().map(String::as_str).collect::<Vec<_>>())
    };
    for folder in ["d", "in"] {
        let outcome = check(folder);
        assert_eq!((outcome.code, outcome.stderr.as_str()), (0, ""));
        assert!(outcome.stdout.contains("4 files: 4 valid"), "{}", outcome.stdout);
    }
    let marks = desk.tidewright(&["class", "mark", &lesson(JUNO), "in", "--key", "d-key.csv"]);
    assert_eq!(marks.code, 0);
    assert!(words(&marks.stderr).contains("4 of 4 logs are as they were dealt."), "{marks:?}");
    for (row, key) in rows(&marks.stdout).iter().zip(&key) {
        assert_eq!((&row[1], &row[2], &row[5], &row[7]), (&key[0], "passed", "", &key[1]));
        assert_eq!(&row[8], "as dealt");
    }
}

#[test]
fn marks_are_the_same_bytes_on_any_number_of_cores_and_no_bad_file_stops_them() {
    let desk = dealt(JUNO);
    for (who, lines) in [
        ("heron-1", "wait 400\n"),
        ("heron-2", "wait 150\npressure 14\nwait 100\nend\n"),
        ("heron-3", "wait 150\nlisten\nreseat\nwait 60\nend\n"),
        ("heron-4", "wait 150\nlisten\nreseat\nwait 60\nend\n"),
    ] {
        let log = format!("in/{who}.ron");
        assert_eq!(practised(&desk, JUNO, who, &["--log", &log], lines).code, 0);
    }
    let copy = |who: &str, old: &str, new: &str, to: &str| {
        let text = String::from_utf8(desk.get(&format!("in/{who}.ron"))).unwrap();
        assert!(text.contains(old), "{text}");
        desk.put(&format!("in/{to}.ron"), text.replace(old, new).as_bytes());
    };
    copy("heron-1", "weight_kg: ", "weight_kg: 1", "x-heavy");
    copy("heron-1", "model: ", "model: 9", "x-model");
    copy("heron-1", JUNO, "otter-the-cuff", "x-lesson");
    copy("heron-3", "act: Listen", "act: Suction", "x-not-offered");
    desk.put("in/x-bytes.ron", &[0xff, 0xfe, 0x00, 0x9c]);
    desk.put("in/x-empty.ron", b"");
    desk.put("in/x-short.ron", b"Attempt(format: 1");
    desk.put("in/x-dealt.ron", &desk.get("d/juno-heron-1.dealt.ron"));
    std::fs::create_dir(desk.path("in/x-folder.ron")).unwrap();
    let marked = |cores: &str| {
        let mut program = program();
        program.current_dir(desk.path("")).env("RAYON_NUM_THREADS", cores);
        Outcome::of(program.args(["class", "mark", &lesson(JUNO), "in"]).output().unwrap())
    };
    let alone = marked("1");
    assert_eq!(alone.code, 0);
    for cores in ["2", "7"] {
        assert_eq!(marked(cores).stdout, alone.stdout);
    }
    let rows = rows(&alone.stdout);
    let reasons = [
        ("heron-1.ron", "not passed", "answer to cause: no answer"),
        ("heron-2.ron", "not passed", "answer to cause: no answer"),
        ("heron-3.ron", "not passed", "an earlier end cannot pass"),
        ("heron-4.ron", "not passed", "an earlier end cannot pass"),
        ("x-bytes.ron", "not marked", "is not text in UTF-8"),
        ("x-dealt.ron", "not marked", "the session was never begun"),
        ("x-empty.ron", "not marked", "the file is empty"),
        ("x-folder.ron", "not marked", "it is a folder"),
        ("x-heavy.ron", "not marked", "this lesson deals 3.1 to 4.1 kg"),
        ("x-lesson.ron", "not marked", "the attempt is of `otter-the-cuff`"),
        ("x-model.ron", "not marked", "under revision 9"),
        ("x-not-offered.ron", "not marked", "this lesson does not offer that"),
        ("x-short.ron", "not marked", "line 1: "),
    ];
    assert_eq!(rows.len(), reasons.len());
    for (row, (file, result, says)) in rows.iter().zip(reasons) {
        assert_eq!((&row[0], &row[2]), (file, result), "{row:?}");
        assert!(row[5].contains(says), "{row:?}");
    }
    // Other seeds and other patients: the acts alone are the same.
    assert_eq!((&rows[2][6], &rows[3][6]), ("heron-4.ron", "heron-3.ron"));
    let told = words(&alone.stderr);
    assert!(told.contains("0 of 13 passed; 9 could not be marked"), "{told}");
    let stricter = ["class", "mark", &lesson(JUNO), "in", "--pass-mark", "100"];
    let stricter = desk.tidewright(&stricter);
    assert!(stricter.stderr.contains("0 of 13 passed"), "{}", stricter.stderr);
    std::fs::create_dir(desk.path("none")).unwrap();
    let none = desk.tidewright(&["class", "mark", &lesson(JUNO), "none"]);
    assert_eq!(none.code, 0);
    assert!(none.stderr.contains("0 of 0 passed"), "{}", none.stderr);
}

#[test]
fn a_key_tells_which_logs_are_as_they_were_dealt_and_what_differs() {
    let desk = dealt(JUNO);
    let juno = lesson(JUNO);
    let key = String::from_utf8(desk.get("d-key.csv")).unwrap();
    let seeds: Vec<String> = rows(&key).iter().map(|row| row[1].to_owned()).collect();
    let log = ["--log", "in/a-as-dealt.ron"];
    assert_eq!(practised(&desk, JUNO, "heron-1", &log, "wait 20\nend\n").code, 0);
    let own = [&juno, "--seed", "5", "--pseudonym", "heron-2", "--log", "in/b-own-seed.ron"];
    assert_eq!(desk.practised(&own, "wait 20\nend\n").code, 0);
    let text = |file: &str| String::from_utf8(desk.get(file)).unwrap();
    let first = text("in/a-as-dealt.ron");
    desk.put("in/c-of-another.ron", first.replace("heron-1", "heron-3").as_bytes());
    desk.put("in/d-stranger.ron", first.replace("heron-1", "owl-1").as_bytes());
    desk.put("in/e-never-begun.ron", &desk.get("d/juno-heron-1.dealt.ron"));
    desk.put("in/f-short.ron", b"Attempt(");
    let marked = |lesson: &str, more: &[&str]| {
        let outcome = desk.tidewright(&[&["class", "mark", lesson, "in"], more].concat());
        assert_eq!(outcome.code, 0, "{}", outcome.stderr);
        outcome
    };
    let outcome = marked(&juno, &["--key", "d-key.csv"]);
    let head = outcome.stdout.lines().next().unwrap();
    assert!(head.contains(",seed,compared_with_key,remarks,"), "{head}");
    let told: Vec<String> = rows(&outcome.stdout).iter().map(|row| row[8].to_owned()).collect();
    assert_eq!((&*told[0], &*told[4], &*told[5]), ("as dealt", "as dealt", ""));
    assert!(
        told[1].starts_with(&format!("seed 5, dealt was {}; patient of ", seeds[1])),
        "{told:?}"
    );
    assert!(told[1].contains("its seed draws `"), "{told:?}");
    let another = format!("seed {}, dealt was {}; ", seeds[0], seeds[2]);
    assert!(told[2].starts_with(&another), "{told:?}");
    assert_eq!(told[3], "the key has no such pseudonym");
    let summary = words(&outcome.stderr);
    assert!(summary.contains("2 of 5 logs are as they were dealt"), "{summary}");
    assert!(
        summary.contains("no readable log is there of heron-4, whom the key names"),
        "{summary}"
    );
    // Marks are the same with a key and without.
    let without = marked(&juno, &[]);
    for (with, without) in rows(&outcome.stdout).iter().zip(rows(&without.stdout)) {
        assert!(with.iter().take(8).eq(without.iter().take(8)) && without[8].is_empty());
    }
    // Another case than the one that was dealt: the lesson was changed in between.
    let mut changed = std::fs::read_to_string(&juno).unwrap();
    for case in [
        "The flow from the cylinder sags.",
        "The cuff has lost most of its pressure.",
        "Nothing goes wrong.",
        "A joint of the circuit works loose.",
    ] {
        changed = changed.replace(case, "Another case.");
    }
    desk.put("changed.ron", changed.as_bytes());
    let told = rows(&marked("changed.ron", &["--key", "d-key.csv"]).stdout)[0][8].to_owned();
    assert!(told.starts_with("its seed draws `Another case.` at "), "{told}");
    assert!(told.contains("dealt was `") && !told.contains("dealt was `Another"), "{told}");
    let line = key.lines().nth(1).unwrap();
    desk.put("twice.csv", format!("{key}{line}\n").as_bytes());
    desk.put("word.csv", key.replacen(&seeds[0], "many", 1).as_bytes());
    let with = |key| ["class", "mark", &juno, "in", "--key", key];
    let over = ["class", "mark", &juno, "in", "--key", "d-key.csv", "--csv", "d-key.csv"];
    all_refused(
        &desk,
        &[
            (&with("roster.csv"), 3, "must name a column `seed`"),
            (&with("twice.csv"), 3, "line 6: `heron-1` is there twice"),
            (&with("word.csv"), 3, "line 2: `many` in the column `seed` is no number"),
            (&with("none.csv"), 4, "none.csv"),
            (&over, 2, "is what this command reads"),
        ],
    );
    assert_eq!(text("d-key.csv"), key);
    for arguments in [&["class", "--help"][..], &["class", "mark", "--help"]] {
        let help = words(&desk.tidewright(arguments).stdout);
        assert!(help.contains("attempts --key dealt-key.csv --csv marks.csv"), "{help}");
    }
}

#[test]
fn many_attempts_are_marked_in_their_order() {
    let desk = Desk::new();
    let folder = repository(&format!("scenarios/training/attempts/{JUNO}"));
    let [good, bad] = ["expert", "nothing"].map(|name| folder.join(format!("{name}.ron")));
    let juno = lesson(JUNO);
    let mut files = vec!["mark", "--json", &juno];
    let names = [good, bad].map(|path| path.display().to_string());
    files.extend((0..150).map(|k| names[usize::from(k % 7 == 3)].as_str()));
    let outcome = desk.tidewright(&files);
    assert_eq!((outcome.code, outcome.stderr.as_str()), (1, ""));
    let list: Vec<serde_json::Value> = serde_json::from_str(&outcome.stdout).unwrap();
    let passed = list.iter().map(|one| one["marking"]["passed"].as_bool().unwrap());
    assert!(passed.eq((0..150).map(|k| k % 7 != 3)));
}

#[test]
fn a_lesson_that_needs_its_weight_deals_no_other_and_faults_in_dealt_files_are_told() {
    let bench = "two-gauges-one-truth";
    let desk = dealt(bench);
    let file = String::from_utf8(desk.get("d/loan-heron-1.dealt.ron")).unwrap();
    assert!(!file.contains("dealt:"), "{file}");
    for row in rows(&String::from_utf8(desk.get("d-key.csv")).unwrap()) {
        assert_eq!((&row[2], &row[3]), ("4.0", "1.0"));
    }
    let otter = practised(&desk, bench, "heron-1", &["--pseudonym", "owl"], "end\n");
    assert_eq!(otter.code, 2, "{}", otter.stderr);
    let juno = lesson(JUNO);
    let dealt = "d/loan-heron-1.dealt.ron";
    desk.put("typo.ron", file.replace("seed:", "sed:").as_bytes());
    desk.put("heavy.ron", file.replace("seed:", "dealt: (weight_kg: 9), seed:").as_bytes());
    all_refused(
        &desk,
        &[
            (&["practise", &juno, "--dealt", dealt], 2, "name that scenario"),
            (&["practise", &juno, "--dealt", "none.ron"], 4, "none.ron"),
            (&["practise", &juno, "--dealt", "typo.ron"], 3, "did you mean `seed`?"),
            (
                &["class", "deal", "first.ron", "roster.csv", "--seed", "1", "--into", "x"],
                2,
                "no lesson",
            ),
            (&["class", "deal", &juno, "roster.csv", "--into", "x"], 2, "--seed"),
        ],
    );
    for (name, says) in [("typo.ron", "did you mean `seed`?"), ("heavy.ron", "severity_factor")] {
        let outcome = desk.tidewright(&["check", name]);
        assert_eq!(outcome.code, 3);
        assert!(words(&outcome.stderr).contains(says), "{}", outcome.stderr);
    }
}
