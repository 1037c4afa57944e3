//! How commands end, whatever is typed: the code, and a message with a mend.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

mod common;

use common::{Desk, fed, files, repository, tidewright};

#[test]
fn every_file_of_the_repository_is_checked_as_valid_or_not() {
    let scenarios = files("scenarios");
    let check = |paths: &[std::path::PathBuf]| {
        tidewright(std::iter::once("check".into()).chain(paths.iter().cloned()))
    };
    let good = check(&scenarios);
    assert_eq!((good.code, good.stderr.as_str()), (0, ""));
    assert!(good.stdout.contains(&format!(": {} valid, 0 not valid", scenarios.len())));
    let bad_files = files("tests/bad-files");
    let bad = check(&bad_files);
    assert_eq!(bad.code, 3);
    assert!(bad.stdout.contains(&format!(": 0 valid, {} not valid", bad_files.len())));
    for path in &bad_files {
        let name = path.file_name().unwrap().to_str().unwrap();
        assert!(bad.stderr.contains(&format!("{name}:")), "{name}");
        let run = tidewright(["run".as_ref(), path.as_os_str()]);
        assert_eq!((run.code, run.stdout.as_str()), (3, ""), "{name}");
    }
}

#[test]
fn check_goes_on_after_a_bad_file_and_after_a_missing_one() {
    let desk = Desk::new();
    desk.put("bad.ron", b"Scenario(format: 2)");
    let outcome = desk.tidewright(&["check", "bad.ron", "missing.ron", "first.ron", "."]);
    assert_eq!(outcome.code, 3);
    assert_eq!(
        outcome.stdout,
        "not valid  bad.ron\nnot read   missing.ron\nvalid      first.ron\nnot read   .\n\n\
         4 files: 1 valid, 1 not valid, 2 could not be read\n"
    );
    assert_eq!(desk.tidewright(&["check", "first.ron", "missing.ron"]).code, 4);
    assert_eq!(desk.tidewright(&["check", "first.ron"]).stdout, "valid      first.ron\n");
}

/// Command, code, and what the message says.
const WRONG: [(&[&str], i32, &str); 37] = [
    (&["fly"], 2, "unrecognized subcommand"),
    (&["first.ron"], 2, "`tidewright run first.ron`"),
    (&["run"], 2, "<SCENARIO>"),
    (&["check"], 2, "<SCENARIO>"),
    (&["run", "first.ron", "--jsn"], 2, "--json"),
    (&["run", "first.ron", "--solver", "magic"], 2, "auto, numeric, reference"),
    (&["run", "first.ron", "--rate", "50"], 2, "--csv"),
    (&["run", "first.ron", "--csv", "w.csv", "--rate", "1e300"], 2, "at most 10000"),
    (&["run", "first.ron", "--csv", "w.csv", "--rate", "-1"], 2, "above 0"),
    (&["run", "first.ron", "--csv", "w.csv", "--rate", "0"], 2, "above 0"),
    (&["run", "first.ron", "--csv", "w.csv", "--rate", "NaN"], 2, "above 0"),
    (&["run", "first.ron", "--csv", "w.csv", "--rate", "often"], 2, "such as 100"),
    (&["run", "day.ron", "--csv", "w.csv", "--rate", "10000"], 2, "`--rate 1157` or less"),
    (&["run", "first.ron", "--csv", "first.ron"], 2, "is what this command reads"),
    (&["run", "first.ron", "--csv", "./first.ron"], 2, "is what this command reads"),
    (&["run", "first.ron", "--csv", "-", "--json"], 2, "give the waveform a file"),
    (
        &["run", "first.ron", "--csv", "a.svg", "--figure", "./a.svg"],
        2,
        "is written by this command already",
    ),
    (&["run", "first.ron", "--figure", "a.gif"], 2, ".svg, .png, .pdf or .csv"),
    (&["run", "first.ron", "--figure", "-"], 2, ".svg, .png, .pdf or .csv"),
    (&["run", "first.ron", "--figure", "a.png", "--dpi", "1e9"], 2, "24 to 1200"),
    (&["run", "first.ron", "--figure", "a.svg", "--from", "70"], 2, "from 0 to 60 s"),
    (&["run", "first.ron", "--figure", "a.svg", "--to", "-1"], 2, "from 0 to 60 s"),
    (&["run", "first.ron", "--figure", "a.svg", "--from", "9", "--to", "9"], 2, "from 0 to 60 s"),
    (&["run", "first.ron", "--figure", "a.svg", "--from", "nan"], 2, "from 0 to 60 s"),
    (&["run", "day.ron", "--figure", "a.svg"], 2, "choose a shorter part"),
    (&["run", "missing.ron"], 4, "there is no such file"),
    (&["run", "frist.ron"], 4, "did you mean `first.ron`?"),
    (&["run", "first"], 4, "did you mean `first.ron`?"),
    (&["run", "."], 4, "it is a folder"),
    (&["run", ""], 2, "a value is required"),
    (&["run", "first.ron", "--csv", "nowhere/w.csv"], 4, "make the folder first"),
    (&["run", "first.ron", "--csv", "."], 4, "it is a folder"),
    (&["species", "dragon", "--weight-kg", "4"], 2, "use Cat, Dog"),
    (&["species", "cat"], 2, "--weight-kg"),
    (&["species", "cat", "--weight-kg", "1e9"], 2, "0.01 to 1500 kg"),
    (&["reference", "wings"], 2, "its parts are: "),
    (&["completions", "abacus"], 2, "bash"),
];

#[test]
fn whatever_is_wrong_is_said_with_its_code_and_a_mend() {
    let desk = Desk::new();
    let day = tidewright_scenario::DEMO.replace("duration_s: 60", "duration_s: 86400");
    desk.put("day.ron", day.as_bytes());
    let before = desk.names();
    for (arguments, code, words) in WRONG {
        let outcome = desk.tidewright(arguments);
        assert_eq!(outcome.code, code, "{arguments:?}: {}", outcome.stderr);
        assert_eq!(outcome.stdout, "", "{arguments:?}");
        let one_line: String = outcome.stderr.replace('│', " ");
        let one_line = one_line.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(one_line.contains(words), "{arguments:?}: {}", outcome.stderr);
    }
    assert_eq!(desk.names(), before, "nothing is left behind");
}

#[test]
fn any_standard_input_is_answered() {
    let inputs: [&[u8]; 6] =
        [b"", b"\xff\xfe\x00", b"{", b"Scenario(", &[0; 100], &[b'['; 200_000]];
    for input in inputs {
        let outcome = fed(&["run", "-"], input);
        assert_eq!((outcome.code, outcome.stdout.as_str()), (3, ""), "{}", outcome.stderr);
        assert!(outcome.stderr.contains("standard input: "), "{}", outcome.stderr);
    }
    let huge = vec![b' '; 3 << 20];
    let outcome = fed_and_left(&huge);
    assert_eq!(outcome.code, 3);
    assert!(outcome.stderr.contains("at most 1024 KiB"));
}

/// More than the program reads: writing it may break off.
fn fed_and_left(input: &[u8]) -> common::Outcome {
    let desk = Desk::new();
    desk.put("huge.ron", input);
    desk.tidewright(&["run", "huge.ron"])
}

#[cfg(unix)]
#[test]
fn names_that_are_no_text_are_answered() {
    use std::os::unix::ffi::OsStrExt;
    let odd = std::ffi::OsStr::from_bytes(b"od\xffd\x1b[2J.ron");
    for verb in ["run", "check", "species", "reference", "completions"] {
        let outcome = tidewright([verb.as_ref(), odd]);
        assert!([2, 4].contains(&outcome.code), "{verb}: {}", outcome.code);
        assert!(!outcome.stderr.contains('\u{1b}'), "{verb}: {:?}", outcome.stderr);
    }
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_is_told() {
    let desk = Desk::new();
    for arguments in [&["run", "first.ron"][..], &["run", "first.ron", "--json"], &["reference"]] {
        let full = std::fs::File::options().write(true).open("/dev/full").unwrap();
        let mut program = common::program();
        program.current_dir(desk.path("")).args(arguments).stdout(full);
        let outcome = common::Outcome::of(program.output().unwrap());
        assert_eq!(outcome.code, 4, "{arguments:?}");
        assert!(outcome.stderr.contains("there is no room left"), "{}", outcome.stderr);
    }
    let outcome = desk.tidewright(&["run", "first.ron", "--csv", "/dev/full"]);
    assert_eq!(outcome.code, 4);
    assert!(outcome.stderr.contains("cannot write to /dev/full"), "{}", outcome.stderr);
}

#[test]
fn completions_and_version_are_there() {
    for shell in ["bash", "zsh", "fish", "powershell", "elvish"] {
        let outcome = tidewright(["completions", shell]);
        assert_eq!((outcome.code, outcome.stderr.as_str()), (0, ""));
        assert!(outcome.stdout.contains("weight-kg"), "{shell}");
    }
    let version = tidewright(["--version"]).stdout;
    let manifest = std::fs::read_to_string(repository("Cargo.toml")).unwrap();
    let number = version.trim().strip_prefix("tidewright ").unwrap();
    assert!(manifest.contains(&format!("version = \"{number}\"")));
}
