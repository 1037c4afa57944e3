//! Handouts and the wall chart, as files on a desk.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

mod common;

use common::Desk;

#[test]
fn a_class_gets_a_sheet_for_each_student_and_the_educator_all_answers() {
    let desk = Desk::new();
    // A student called `answers` must not get, or lose, the answers.
    desk.put("roster.csv", b"pseudonym,seat\nowl-3,1\nanswers,2\n");
    for kind in ["html", "pdf"] {
        let deal = |into: &str| {
            let words = ["handout", "first.ron", "--class", "roster.csv", "--seed", "4"];
            desk.tidewright(&[&words[..], &["--as", kind, "--out", into]].concat())
        };
        let dealt = deal("sheets");
        assert_eq!((dealt.code, &*dealt.stderr), (0, ""), "{}", dealt.stderr);
        assert!(dealt.stdout.starts_with("2 sheets"), "{}", dealt.stdout);
        let names = ["owl-3", "answers"].map(|name| {
            let files = std::fs::read_dir(desk.path("sheets")).unwrap();
            let ending = format!("-{name}.{kind}");
            let mut files = files.map(|file| file.unwrap().file_name().into_string().unwrap());
            files.find(|file| file.ends_with(&ending)).unwrap()
        });
        let sheets = names.map(|name| desk.get(&format!("sheets/{name}")));
        assert_ne!(sheets[0], sheets[1]);
        assert!(!desk.get(&format!("sheets-answers.{kind}")).is_empty());
        // The same seed deals the same bytes.
        assert_eq!(deal("again").code, 0);
        assert_eq!(
            desk.get(&format!("again-answers.{kind}")),
            desk.get(&format!("sheets-answers.{kind}"))
        );
    }
}

#[test]
fn what_cannot_be_dealt_is_refused_with_a_mend() {
    let desk = Desk::new();
    desk.put("roster.csv", b"pseudonym\nowl-3\n");
    desk.put("nobody.csv", b"pseudonym\n");
    desk.put("twice.csv", b"pseudonym\nowl-3\nowl-3\n");
    let still = tidewright_scenario::DEMO.split("timeline:").next().unwrap();
    desk.put("still.ron", format!("{still})").as_bytes());
    let class = |scenario: &str, list: &str, more: &[&str]| {
        desk.tidewright(&[&["handout", scenario, "--class", list][..], more].concat())
    };
    let out = ["--out", "sheets"];
    for (outcome, code, says) in [
        (class("first.ron", "roster.csv", &[]), 2, "--out"),
        (class("first.ron", "roster.csv", &["--out", "-"]), 2, "--out sheets"),
        (class("first.ron", "nobody.csv", &out), 3, "names nobody"),
        (class("first.ron", "twice.csv", &out), 3, "there twice"),
        (class("first.ron", "none.csv", &out), 4, "none.csv"),
        (class("still.ron", "roster.csv", &out), 2, "nothing changes"),
        (class("first.ron", "roster.csv", &["--seed", "5000000000", "--out", "s"]), 2, "too large"),
        (desk.tidewright(&["signs", "--out", "chart.gif"]), 2, ".svg, .png, .pdf or .html"),
    ] {
        assert_eq!(outcome.code, code, "{}", outcome.stderr);
        assert!(outcome.stderr.contains(says), "{}", outcome.stderr);
    }
    assert!(!desk.names().contains(&"sheets".to_owned()));
}

#[test]
fn the_wall_chart_is_written_in_every_kind() {
    let desk = Desk::new();
    for (file, begins) in [
        ("chart.svg", &b"<svg"[..]),
        ("chart.png", b"\x89PNG"),
        ("chart.pdf", b"%PDF"),
        ("chart.html", b"<!DOCTYPE html>"),
    ] {
        let outcome = desk.tidewright(&["signs", "--out", file, "--paper", "a4"]);
        assert_eq!((outcome.code, &*outcome.stderr), (0, ""));
        assert!(desk.get(file).starts_with(begins), "{file}");
    }
    let handout = desk.tidewright(&["handout", "first.ron", "--out", "first.pdf"]);
    assert_eq!(handout.code, 0, "{}", handout.stderr);
    assert!(desk.get("first.pdf").starts_with(b"%PDF"));
}

#[test]
fn answers_get_a_file_of_their_own_where_one_is_named() {
    let desk = Desk::new();
    let two = ["handout", "first.ron", "--out", "work.html", "--answers", "answers.html"];
    let outcome = desk.tidewright(&two);
    assert_eq!((outcome.code, &*outcome.stderr), (0, ""));
    let text = |name: &str| String::from_utf8(desk.get(name)).unwrap();
    let (work, answers) = (text("work.html"), text("answers.html"));
    assert!(work.contains("Predict") && !work.contains("Answers"), "{work}");
    assert!(answers.contains("Answers: ") && !answers.contains("Predict"), "{answers}");
    let same = ["handout", "first.ron", "--out", "a.html", "--answers", "a.html"];
    assert_eq!(desk.tidewright(&same).code, 2);
}

#[test]
fn a_figure_is_found_by_its_name_in_the_folder_of_figures() {
    let desk = Desk::new();
    std::fs::create_dir(desk.path("figures")).unwrap();
    let figure = r#"Figure(format: 1, id: "a-breath", title: "A breath", teaches: "t",
        scenario: "../first.ron", show: Time(to_s: 5, panels: [[AirwayPressure]]))"#;
    desk.put("figures/a-breath.ron", figure.as_bytes());
    let drawn = desk.tidewright(&["figure", "a-breath", "--out", "a.pdf"]);
    assert_eq!(drawn.code, 0, "{}", drawn.stderr);
    assert!(desk.get("a.pdf").starts_with(b"%PDF"));
    let missing = desk.tidewright(&["figure", "no-breath"]);
    assert_eq!(missing.code, 4, "{}", missing.stderr);
}
