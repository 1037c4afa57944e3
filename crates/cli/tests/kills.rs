//! Whatever moment a command is killed at, no file is lost and none is half written.
#![cfg(unix)]
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

mod common;

use std::collections::BTreeMap;
use std::io::{Read as _, Write as _};
use std::path::Path;
use std::process::Stdio;
use std::time::Duration;

use common::{Desk, attempt, lesson, program};
use tidewright_scenario::parse_attempt;

/// So many kills in each test: two hundred and more together; `KILLS=200` for more.
fn kills() -> u64 {
    std::env::var("KILLS").map_or(70, |count| count.parse().unwrap())
}

/// A moment within some milliseconds, another for each number.
fn moment(number: u64, most_ms: u64) -> Duration {
    let mixed = (number + 1).wrapping_mul(0x9E37_79B9_7F4A_7C15) >> 20;
    Duration::from_micros(mixed % (1000 * most_ms))
}

/// Starts a command and kills it a moment later; whether it was still under way.
fn killed(desk: &Desk, arguments: &[&str], after: Duration) -> bool {
    let mut program = program();
    program.current_dir(desk.path("")).args(arguments);
    let mut child = program.stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap();
    std::thread::sleep(after);
    let under_way = child.try_wait().unwrap().is_none();
    child.kill().unwrap();
    child.wait().unwrap();
    under_way
}

/// What has a name of its own: drafts that a kill left behind have none.
fn named(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let entries = std::fs::read_dir(folder).into_iter().flatten();
    let files = entries.map(|entry| entry.unwrap().path()).filter(|path| path.is_file());
    let named = files.map(|path| {
        let name = path.file_name().unwrap().to_str().unwrap().to_owned();
        (name, std::fs::read(path).unwrap())
    });
    named.filter(|(name, _)| !name.starts_with(".tidewright-")).collect()
}

#[test]
fn a_cohort_killed_anywhere_keeps_its_rows_and_ends_with_the_same_bytes() {
    let desk = Desk::new();
    let cohort = "Cohort(format: 1, id: \"cats\", base: \"first.ron\", patients: 60000, seed: 5,\n    \
                  vary: (compliance_ml_cmh2o: LogNormal(median: 5, log_sd: 0.25)))\n";
    desk.put("cats.ron", cohort.as_bytes());
    let begun = std::time::Instant::now();
    let whole = desk.tidewright(&["cohort", "cats.ron", "--csv", "whole.csv"]);
    // Killed within the time that the whole takes on this machine.
    let whole_ms = u64::try_from(begun.elapsed().as_millis()).unwrap();
    assert_eq!(whole.code, 0, "{}", whole.stderr);
    let wanted = desk.get("whole.csv");
    let command = ["cohort", "cats.ron", "--csv", "rows.csv"];
    let (mut kept, mut in_time) = (0, 0);
    for number in 0..kills() {
        in_time += u64::from(killed(&desk, &command, moment(number, whole_ms / 2)));
        if desk.path("rows.csv").exists() {
            assert!(desk.get("rows.csv") == wanted, "kill {number}");
            std::fs::remove_file(desk.path("rows.csv")).unwrap();
            kept = 0;
        } else if desk.path("rows.csv.partial").exists() {
            let partial = desk.get("rows.csv.partial");
            let rows = partial.iter().rposition(|&byte| byte == b'\n').map_or(0, |end| end + 1);
            assert!(wanted.starts_with(&partial[..rows]), "kill {number}");
            assert!(rows >= kept, "kill {number} lost rows that stood");
            kept = rows;
        }
    }
    assert!(in_time > kills() / 4, "{in_time} of {} were in time", kills());
    let resumed = desk.tidewright(&command);
    assert_eq!(resumed.code, 0, "{}", resumed.stderr);
    assert!(desk.get("rows.csv") == wanted);
}

#[test]
fn a_class_whose_dealing_is_killed_is_dealt_by_the_same_command() {
    let desk = Desk::new();
    let lesson = lesson("juno-the-loose-joint");
    let roster: String = (0..300).map(|k| format!("heron-{k}\n")).collect();
    desk.put("roster.csv", format!("pseudonym\n{roster}").as_bytes());
    let command = |into| ["class", "deal", &lesson, "roster.csv", "--seed", "3", "--into", into];
    let whole = desk.tidewright(&command("whole"));
    assert_eq!(whole.code, 0, "{}", whole.stderr);
    let (wanted, key) = (named(&desk.path("whole")), desk.get("whole-key.csv"));
    assert_eq!(wanted.len(), 300);
    for number in 0..kills() {
        killed(&desk, &command("dealt"), moment(number, 400));
        for (name, bytes) in named(&desk.path("dealt")) {
            assert!(wanted[&name] == bytes, "kill {number}: {name}");
        }
        if number % 10 == 9 {
            let again = desk.tidewright(&command("dealt"));
            assert_eq!(again.code, 0, "{}", again.stderr);
            assert!(named(&desk.path("dealt")) == wanted && desk.get("dealt-key.csv") == key);
            std::fs::remove_dir_all(desk.path("dealt")).unwrap();
            std::fs::remove_file(desk.path("dealt-key.csv")).unwrap();
        }
    }
}

#[test]
fn marking_that_is_killed_touches_no_log_and_leaves_whole_marks_or_none() {
    let desk = Desk::new();
    let lesson = lesson("juno-the-loose-joint");
    std::fs::create_dir(desk.path("logs")).unwrap();
    for k in 0..24 {
        for name in ["expert", "nothing", "wrong"] {
            let log = std::fs::read(attempt("juno-the-loose-joint", name)).unwrap();
            desk.put(&format!("logs/{name}-{k}.ron"), &log);
        }
    }
    let logs = named(&desk.path("logs"));
    let command = |csv| ["class", "mark", &lesson, "logs", "--csv", csv];
    assert_eq!(desk.tidewright(&command("whole.csv")).code, 0);
    let wanted = desk.get("whole.csv");
    for number in 0..kills() {
        killed(&desk, &command("marks.csv"), moment(number, 700));
        assert!(named(&desk.path("logs")) == logs, "kill {number}");
        if desk.path("marks.csv").exists() {
            assert!(desk.get("marks.csv") == wanted, "kill {number}");
            std::fs::remove_file(desk.path("marks.csv")).unwrap();
        }
    }
    assert_eq!(desk.tidewright(&command("marks.csv")).code, 0);
    assert!(desk.get("marks.csv") == wanted);
}

/// Lines of a session: something is written down every two seconds.
fn lines(count: usize) -> Vec<String> {
    (1..=count).flat_map(|k| ["wait 2".to_owned(), format!("record note {k}")]).collect()
}

/// Plays lines and kills the program while it does; what it had said by then.
fn killed_at_practice(
    desk: &Desk,
    arguments: &[&str],
    lines: &[String],
    after: Duration,
) -> String {
    let mut program = program();
    program.current_dir(desk.path("")).arg("practise").args(arguments).stdin(Stdio::piped());
    let mut child = program.stdout(Stdio::piped()).stderr(Stdio::null()).spawn().unwrap();
    let mut input = child.stdin.take().unwrap();
    let text = lines.join("\n") + "\n";
    let mut output = child.stdout.take().unwrap();
    let said = std::thread::scope(|scope| {
        // What is typed stays open: the session does not end by itself.
        scope.spawn(|| {
            let _ = input.write_all(text.as_bytes());
            std::thread::sleep(after);
            child.kill().unwrap();
            child.wait().unwrap();
        });
        let mut said = Vec::new();
        output.read_to_end(&mut said).unwrap();
        said
    });
    String::from_utf8_lossy(&said).into_owned()
}

#[test]
fn a_session_killed_anywhere_can_be_marked_and_is_taken_up_to_the_same_bits() {
    const ACTS: usize = 120;
    let desk = Desk::new();
    let lesson = lesson("juno-the-loose-joint");
    let all = lines(ACTS);
    let whole = desk
        .practised(&[&lesson, "--seed", "5", "--log", "whole.ron"], &(all.join("\n") + "\nend\n"));
    assert_eq!((whole.code, whole.stderr.as_str()), (0, ""));
    let marked = |log: &str| {
        let outcome = desk.tidewright(&["mark", &lesson, log, "--json"]);
        assert!([0, 1].contains(&outcome.code), "{log}: {}", outcome.stderr);
        let mut debrief: serde_json::Value = serde_json::from_str(&outcome.stdout).unwrap();
        // That it was cut off is told, and changes nothing else.
        let happened = debrief[0]["happened"].as_array_mut().unwrap();
        happened.retain(|entry| entry["kind"] != "cut");
        debrief
    };
    let wanted = marked("whole.ron");
    let acts = |log: &str| {
        let text = String::from_utf8(desk.get(log)).unwrap();
        parse_attempt(log, &text).unwrap()
    };
    let wanted_acts = acts("whole.ron").acts;
    assert_eq!(wanted_acts.len(), ACTS);
    let (mut log, mut sessions, mut done, mut interrupted) = (String::new(), 0, 0, 0);
    for number in 0..2 * kills() {
        // The last one of all must leave something to take up.
        if number >= kills() && done > 1 {
            break;
        }
        let (arguments, rest) = if done == 0 || done > ACTS {
            done = 0;
            sessions += 1;
            log = format!("a{sessions}.ron");
            let begin = [&lesson, "--seed", "5", "--log", &log].map(str::to_owned);
            (begin.to_vec(), &all[..])
        } else {
            let so_far = acts(&log);
            let next = 2 * done - 1 + usize::from(so_far.ended_at_s >= 2.0 * done as f64);
            (["--resume", &log, &lesson].map(str::to_owned).to_vec(), &all[next - 1..])
        };
        let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
        let said = killed_at_practice(&desk, &arguments, rest, moment(number, 40));
        if !desk.path(&log).exists() || desk.get(&log).is_empty() {
            assert!(!said.contains("Done."), "kill {number} lost a log");
            continue;
        }
        let told = said.lines().filter(|line| line.trim() == "Done.").count();
        let so_far = acts(&log);
        assert!(wanted_acts.starts_with(&so_far.acts), "kill {number}");
        assert!(so_far.cut_off.is_some(), "kill {number}");
        let before = done.saturating_sub(1);
        assert!(so_far.acts.len() >= before + told, "kill {number} lost an act that was told");
        if number % 5 == 0 {
            marked(&log);
        }
        done = so_far.acts.len() + 1;
        interrupted += 1;
    }
    assert!(interrupted > kills() / 2 && done > 1, "{interrupted} of {} were in time", kills());
    let so_far = acts(&log);
    let next = 2 * done - 1 + usize::from(so_far.ended_at_s >= 2.0 * done as f64);
    // Where all was done already only the end is left: an empty line would let a breath pass.
    let rest = all[(next - 1).min(all.len())..].iter().map(String::as_str).chain(["end"]);
    let rest: String = rest.map(|line| format!("{line}\n")).collect();
    let resumed = desk.practised(&["--resume", &log, &lesson], &rest);
    assert_eq!((resumed.code, resumed.stderr.as_str()), (0, ""));
    assert!(acts(&log).acts == wanted_acts && !acts(&log).interrupted.is_empty());
    assert!(marked(&log) == wanted, "taken up, it is another session");
}

/// The processor's time that a program has had, in hundredths of a second, while it lives:
/// on a busy machine a clock says nothing of how far it is.
#[cfg(target_os = "linux")]
fn ticks(id: &str) -> Option<u64> {
    let stat = std::fs::read_to_string(format!("/proc/{id}/stat")).ok()?;
    let mut fields = stat.rsplit_once(')')?.1.split_whitespace();
    let alive = fields.next()? != "Z";
    let mut ticks = fields.skip(10).map(|field| field.parse::<u64>().unwrap());
    alive.then_some(ticks.next()? + ticks.next()?)
}

/// The system's request to end, as a closed terminal or a shut-down makes it: what was done
/// is kept, or the user is told that it is not.
#[cfg(target_os = "linux")]
#[test]
fn a_request_to_stop_is_heeded_and_leaves_nothing_unfinished() {
    let desk = Desk::new();
    let cohort = "Cohort(format: 1, id: \"cats\", base: \"first.ron\", patients: 3000000,\n    vary: \
                  (compliance_ml_cmh2o: LogNormal(median: 5, log_sd: 0.25)))\n";
    desk.put("cats.ron", cohort.as_bytes());
    let day = tidewright_scenario::DEMO.replace("duration_s: 60", "duration_s: 86400");
    desk.put("day.ron", day.as_bytes());
    let figure = "Figure(format: 1, id: \"late\", title: \"Late\", question: \"What then?\", \
                  teaches: \"It goes on.\", scenario: \"slow.ron\", look: Page, show: Time(\
                  from_s: 86390, to_s: 86400, panels: [[AirwayPressure]]))\n";
    desk.put("late.ron", figure.as_bytes());
    let holes = common::repository("scenarios/small-leak-hides-large-leak-holds.ron");
    let slow = std::fs::read_to_string(holes).unwrap();
    let slow = slow.replace("at_cmh2o: 30)", "at_cmh2o: 30, law: Orifice)");
    let slow = slow
        .replace("duration_s: 100", "duration_s: 86400")
        .replace("(at_s: 85, set: NoLeak),", "");
    desk.put("slow.ron", slow.as_bytes());
    let mut wave = "t_s,airway_pressure_cmh2o,airway_flow_l_min\n".to_owned();
    for k in 0..1_000_000 {
        let t_s = f64::from(k) / 100.0;
        let phase = 1.7 * t_s;
        let pressure = 8.0 + 3.0 * tidewright::math::sin(phase) + 0.01 * f64::from(k % 7);
        wave += &format!("{t_s:.2},{pressure:.3},{:.3}\n", 9.0 * tidewright::math::cos(phase));
    }
    desk.put("wave.csv", wave.as_bytes());
    // Gas is followed for minutes in each, which takes long enough.
    let lesson = lesson("moss-cold-then-hot");
    std::fs::create_dir(desk.path("logs")).unwrap();
    let log = std::fs::read(attempt("moss-cold-then-hot", "expert")).unwrap();
    for k in 0..1500 {
        desk.put(&format!("logs/{k}.ron"), &log);
    }
    let over = "ventilator.fresh_gas_flow_l_min=0.5..3:0.0001";
    let commands: [(&[&str], &str, &[&str]); 7] = [
        (
            &["cohort", "cats.ron", "--csv", "rows.csv"],
            "the same command goes on",
            &["rows.csv.partial"],
        ),
        (&["run", "day.ron", "--csv", "w.csv", "--rate", "200"], "nothing unfinished", &[]),
        (&["cohort", "cats.ron"], "Stopped. What follows is of the first", &[]),
        (
            &["sweep", "first.ron", "--over", over, "--breaths", "150", "--csv", "s.csv"],
            "combinations. Their rows are in s.csv.partial",
            &["s.csv.partial"],
        ),
        (
            &["class", "mark", &lesson, "logs", "--csv", "m.csv", "--gradebook", "g.csv"],
            "the rows of the others say so; nothing else was written",
            &["m.csv"],
        ),
        (&["fit", "wave.csv"], "nothing unfinished", &[]),
        (&["figure", "late.ron", "--out", "f.svg"], "nothing unfinished", &[]),
    ];
    for (signal, (arguments, said, made)) in ["-INT", "-TERM"].into_iter().cycle().zip(commands) {
        let mut wanted = desk.names();
        // As from a terminal, however this test itself was started.
        let mut program = std::process::Command::new("env");
        program.args(["--default-signal", env!("CARGO_BIN_EXE_tidewright")]).args(arguments);
        program.current_dir(desk.path("")).stdin(Stdio::null());
        let child = program.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
        let child_id = child.id().to_string();
        while ticks(&child_id).is_some_and(|ticks| ticks < 60) {
            std::thread::sleep(Duration::from_millis(10));
        }
        let kill = std::process::Command::new("kill").args([signal, &child_id]).status();
        assert!(kill.unwrap().success());
        let outcome = common::Outcome::of(child.wait_with_output().unwrap());
        assert_eq!(outcome.code, 130, "{arguments:?}: {}", outcome.stderr);
        assert!(common::words(&outcome.stderr).contains(said), "{}", outcome.stderr);
        wanted.extend(made.iter().map(|&name| name.to_owned()));
        wanted.sort();
        assert_eq!(desk.names(), wanted, "{arguments:?}");
    }
    // Rows that were kept are whole, and marks say what they are not.
    let rows = String::from_utf8(desk.get("s.csv.partial")).unwrap();
    let columns = rows.lines().next().unwrap().split(',').count();
    assert!(rows.ends_with('\n') && rows.lines().count() > 1);
    assert!(rows.lines().skip(1).all(|row| row.split(',').count() == columns), "{rows:.500}");
    let marks = String::from_utf8(desk.get("m.csv")).unwrap();
    assert_eq!(marks.lines().count(), 1501);
    let count = |said: &str| marks.lines().filter(|row| row.contains(said)).count();
    let (marked, stopped) = (count(",passed,"), count("was stopped before this file"));
    assert!(marked > 0 && stopped > 0 && marked + stopped == 1500, "{marked} and {stopped}");
}
