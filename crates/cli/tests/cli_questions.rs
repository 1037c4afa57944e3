//! Question banks and tests on paper, as a teacher asks for them.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

mod common;

use std::io::{Cursor, Read};

use common::{Desk, all_refused, repository};

#[test]
fn two_papers_are_two_files_of_the_same_questions() {
    let desk = Desk::new();
    let words = ["questions", "first.ron", "--signs", "--papers", "2", "--out", "test.gift"];
    let outcome = desk.tidewright(&words);
    assert_eq!((outcome.code, outcome.stderr.as_str()), (0, ""));
    assert!(outcome.stdout.contains("test-A.gift, test-B.gift"), "{}", outcome.stdout);
    let [a, b] =
        ["test-A.gift", "test-B.gift"].map(|name| String::from_utf8(desk.get(name)).unwrap());
    let names = |text: &str| {
        let mut names: Vec<String> = text
            .lines()
            .filter_map(|line| Some(line.strip_prefix("::")?.split("::").next()?.to_owned()))
            .collect();
        names.sort_unstable();
        names
    };
    assert!(a != b && names(&a) == names(&b) && names(&a).len() > 70);
    assert!(a.contains("Not a medical device") && a.contains("data\\:image/png"));
}

#[test]
fn a_package_holds_a_manifest_a_test_and_every_item_that_they_name() {
    let desk = Desk::new();
    desk.tidewright(&["questions", "first.ron", "--out", "bank.zip"]);
    let mut zip = zip::ZipArchive::new(Cursor::new(desk.get("bank.zip"))).unwrap();
    let names: Vec<String> = zip.file_names().map(|name| name.unwrap().into_owned()).collect();
    let mut manifest = String::new();
    zip.by_name("imsmanifest.xml").unwrap().read_to_string(&mut manifest).unwrap();
    let named = manifest.split("<file href=\"").skip(1).map(|rest| rest.split('"').next().unwrap());
    let named: Vec<&str> = named.collect();
    assert!(named.len() >= 6 && named.iter().all(|name| names.iter().any(|there| there == name)));
    let again = desk.get("bank.zip");
    desk.tidewright(&["questions", "first.ron", "--out", "bank.zip", "--replace"]);
    assert!(again == desk.get("bank.zip"), "the same questions give the same bytes");
}

#[test]
fn a_test_of_own_questions_is_printed_in_several_papers() {
    let desk = Desk::new();
    desk.put("own.txt", b"2 | What ends each breath?\n\n4 | What would you do first?\n");
    let words =
        ["handout", "first.ron", "--questions", "own.txt", "--papers", "2", "--out", "t.html"];
    let outcome = desk.tidewright(&words);
    assert_eq!((outcome.code, outcome.stderr.as_str()), (0, ""));
    let page = String::from_utf8(desk.get("t.html")).unwrap();
    assert!(page.contains("Paper A, 6 marks") && page.contains("Paper B, 6 marks"));
    assert!(page.contains("2. What would you do first? [4]"));
    assert!(page.contains("1. What would you do first? [4]"));
}

#[test]
fn what_gives_no_questions_is_said() {
    let desk = Desk::new();
    desk.put("bad.txt", b"What ends each breath?\n");
    // Its cases are of blood and warmth, and its questions of what is seen.
    let moss = repository("scenarios/training/moss-cold-then-hot.ron");
    let moss = moss.to_str().unwrap();
    let of_session = ["questions", moss, "--out", "a.gift"];
    let wrong: Vec<(&[&str], i32, &str)> = vec![
        (&["questions", "--out", "a.gift"], 2, "SCENARIO"),
        (&["questions", "--signs", "--out", "a.doc"], 2, "names no kind of bank"),
        (&of_session, 3, "stands without a session"),
        (&["questions", "--signs", "--papers", "27", "--out", "a.gift"], 2, "27"),
        (&["handout", "first.ron", "--questions", "bad.txt"], 3, "line 1 is no question"),
        (&["handout", "first.ron", "--papers", "2"], 2, "need questions to differ in"),
        (&["handout", "first.ron", "--choices"], 2, "stands without a session"),
    ];
    all_refused(&desk, &wrong);
}
