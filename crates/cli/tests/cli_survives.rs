//! A session survives what ends its program, its disk and its terminal.
#![cfg(unix)]
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

mod common;

use std::io::{BufRead as _, BufReader, Write as _};
use std::process::{Child, Command, Stdio};

use common::{Desk, Outcome, lesson, words};
use tidewright_scenario::format::Cut;
use tidewright_scenario::{Attempt, is_journal, parse_attempt};

fn log(desk: &Desk, name: &str) -> (Attempt, bool) {
    let text = String::from_utf8(desk.get(name)).unwrap();
    (parse_attempt(name, &text).unwrap(), is_journal(&text))
}

/// A session that waits for its next line, with what it has said so far read away.
fn waiting(desk: &Desk, arguments: &[&str], lines: &str, until: &str) -> Child {
    let mut program = Command::new("env");
    // As from a terminal, however this test itself was started.
    program.args(["--default-signal", env!("CARGO_BIN_EXE_tidewright"), "practise"]);
    program.args(arguments).current_dir(desk.path("")).env("TIDEWRIGHT_DATA", desk.path("data"));
    program.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
    let mut child = program.spawn().unwrap();
    child.stdin.as_mut().unwrap().write_all(lines.as_bytes()).unwrap();
    let mut said = BufReader::new(child.stdout.as_mut().unwrap());
    let mut line = String::new();
    while !line.contains(until) {
        line.clear();
        assert!(said.read_line(&mut line).unwrap() > 0, "it never said {until}");
    }
    child
}

fn end(mut child: Child, signal: &str) -> Outcome {
    let id = child.id().to_string();
    assert!(Command::new("kill").args([signal, &id]).status().unwrap().success());
    // Its input stays open until it has ended.
    let input = child.stdin.take();
    let outcome = Outcome::of(child.wait_with_output().unwrap());
    drop(input);
    outcome
}

#[test]
fn whatever_asks_a_session_to_end_its_log_says_what_and_it_goes_on() {
    let desk = Desk::new();
    let requests = [("-HUP", Cut::ClosedTerminal), ("-TERM", Cut::System), ("-INT", Cut::CtrlC)];
    for (signal, by) in requests {
        let name = format!("{by:?}.ron");
        let begin = [&lesson("juno-the-loose-joint"), "--seed", "1", "--log", &name];
        let child = waiting(&desk, &begin, "wait 20\nrecord one\n", "Done.");
        let stopped = end(child, signal);
        assert_eq!(stopped.code, 130, "{}", stopped.stderr);
        let said = words(&stopped.stderr);
        assert!(said.contains(by.in_words()) && said.contains("practise --resume"), "{said}");
        let (cut, journal) = log(&desk, &name);
        assert!(journal && cut.cut_off == Some(by), "{cut:?}");
        assert_eq!((cut.acts.len(), cut.ended_at_s), (1, 20.0));
        let marked = desk.tidewright(&["mark", "juno", &name]);
        assert_eq!(marked.code, 1, "{}", marked.stderr);
        let resumed = desk.practised(&["--resume", &name], "record two\nwait 5\nend\n");
        assert_eq!((resumed.code, resumed.stderr.as_str()), (0, ""));
        assert!(resumed.stdout.starts_with("Taken up at 20 s"), "{}", resumed.stdout);
        let (whole, journal) = log(&desk, &name);
        assert!(!journal && whole.cut_off.is_none() && whole.interrupted[0].by == by);
        assert_eq!((whole.acts.len(), whole.ended_at_s), (2, 25.0));
        let again = desk.practised(&["--resume", &name], "end\n");
        assert_eq!((again.code, again.stdout.as_str()), (2, ""));
        assert!(words(&again.stderr).contains("a session that is over"), "{}", again.stderr);
    }
}

#[test]
fn a_full_disk_is_told_at_once_and_the_session_goes_on() {
    let desk = Desk::new();
    let juno = lesson("juno-the-loose-joint");
    let notes: String =
        (0..40).map(|k| format!("wait 2\nrecord a note of some length {k}\n")).collect();
    desk.put("lines", format!("{notes}end\n").as_bytes());
    // A limit on the size of files stands for a disk that has no room left.
    let script = format!(
        "trap '' XFSZ; ulimit -f 1; exec {} practise {juno} --seed 1 --no-history --log a.ron <lines",
        env!("CARGO_BIN_EXE_tidewright")
    );
    let mut bash = Command::new("bash");
    let outcome = bash.args(["-c", &script]).current_dir(desk.path("")).output().unwrap();
    let outcome = Outcome::of(outcome);
    let said = words(&outcome.stdout);
    assert_eq!(said.matches("The log cannot be written").count(), 1, "{said}");
    assert_eq!(outcome.stdout.lines().filter(|line| line.trim() == "Done.").count(), 40, "{said}");
    assert!(said.contains("The log, to be copied"), "{said}");
    assert_eq!(outcome.code, 4, "{}", outcome.stderr);
    let (kept, journal) = log(&desk, "a.ron");
    assert!(journal && !kept.acts.is_empty() && kept.cut_off.is_some());
    let copied = outcome.stdout.split("to be copied:\n").nth(1).unwrap();
    let copied = parse_attempt("copied.ron", copied).unwrap();
    assert!(copied.acts.len() == 40 && copied.acts.starts_with(&kept.acts));
}

#[test]
fn a_log_that_cannot_be_kept_or_is_kept_by_another_stops_before_the_clock_starts() {
    let desk = Desk::new();
    let juno = lesson("juno-the-loose-joint");
    let nowhere = desk.practised(&[&juno, "--seed", "1", "--log", "none/a.ron"], "end\n");
    assert_eq!((nowhere.code, nowhere.stdout.as_str()), (4, ""));
    let begin = [&juno, "--seed", "1", "--log", "a.ron"];
    let child = waiting(&desk, &begin, "wait 5\nrecord mine\n", "Done.");
    for arguments in [&["--resume", "a.ron"][..], &begin] {
        let second = desk.practised(arguments, "record theirs\nend\n");
        assert!([2, 4].contains(&second.code), "{}", second.stderr);
        assert_eq!(second.stdout, "", "{arguments:?}");
    }
    assert_eq!(log(&desk, "a.ron").0.acts.len(), 1);
    let id = child.id().to_string();
    assert!(Command::new("kill").args(["-KILL", &id]).status().unwrap().success());
    let _ = child.wait_with_output();
}

#[test]
fn a_line_that_is_no_text_is_told_and_the_next_is_heeded() {
    let desk = Desk::new();
    let juno = lesson("juno-the-loose-joint");
    let log_place = desk.path("a.ron").display().to_string();
    let arguments = ["practise", &juno, "--seed", "1", "--no-history", "--log", &log_place];
    let outcome = common::fed(&arguments, b"record one\n\xff\xfe\x00\nrecord two\nend\n");
    assert_eq!((outcome.code, outcome.stderr.as_str()), (0, ""));
    assert!(outcome.stdout.contains("not text in UTF-8; nothing was done"), "{}", outcome.stdout);
    let (kept, journal) = log(&desk, "a.ron");
    assert!(!journal && kept.acts.len() == 2 && kept.cut_off.is_none());
}
