//! `tidewright run`: the outputs for other programs, and the files.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

mod common;

use std::io::{BufRead, BufReader};
use std::process::Stdio;

use common::{Desk, Outcome, fed, files, program, tidewright};
use serde_json::Value;
use tidewright_scenario::DEMO;
use tidewright_scenario::report::CSV_CAUTION;

#[test]
fn json_is_one_object_and_nothing_else() {
    for path in files("scenarios") {
        let outcome = tidewright(["run".as_ref(), path.as_os_str(), "--json".as_ref()]);
        assert_eq!((outcome.code, outcome.stderr.as_str()), (0, ""));
        let report: Value = serde_json::from_str(&outcome.stdout).unwrap();
        assert_eq!(report["scenario"], path.file_stem().unwrap().to_str().unwrap());
        let breaths = report["breaths"].as_array().unwrap();
        assert_eq!(report["summary"]["breaths"], breaths.len());
    }
}

#[test]
fn standard_input_is_a_scenario_too_in_both_notations() {
    let from_file = Desk::new().tidewright(&["run", "first.ron", "--json"]).stdout;
    let from_ron = fed(&["run", "-", "--json"], DEMO.as_bytes());
    assert_eq!((from_ron.code, from_ron.stdout), (0, from_file.clone()));
    let json = tidewright_scenario::parse("demo.ron", DEMO).unwrap().to_json();
    let from_json = fed(&["run", "-", "--json"], json.as_bytes());
    assert_eq!((from_json.code, from_json.stdout), (0, from_file));
}

#[test]
fn the_waveform_has_its_columns_and_a_row_for_each_sample() {
    let desk = Desk::new();
    let outcome = desk.tidewright(&["run", "first.ron", "--csv", "w.csv", "--rate", "25"]);
    assert_eq!((outcome.code, outcome.stderr.as_str()), (0, ""));
    assert!(outcome.stdout.contains("w.csv") && outcome.stdout.contains("25 rows a second"));
    let bytes = desk.get("w.csv");
    let mut reader = csv::Reader::from_reader(bytes.as_slice());
    let columns = [
        "t_s",
        "airway_pressure_cmh2o",
        "airway_flow_ml_s",
        "lung_volume_ml",
        "alveolar_pressure_cmh2o",
        "leak_flow_ml_s",
        "outlet_flow_ml_s",
        "phase",
        CSV_CAUTION,
    ];
    let headers: Vec<String> = reader.headers().unwrap().iter().map(str::to_owned).collect();
    let (rest, last) = columns.split_at(columns.len() - 2);
    assert_eq!(headers[..rest.len()], *rest);
    assert_eq!(headers[headers.len() - 2..], *last);
    let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    assert_eq!(rows.len(), 60 * 25 + 1);
    for (k, row) in rows.iter().enumerate() {
        assert_eq!(row[0].parse::<f64>().unwrap(), k as f64 / 25.0);
    }
    let on_standard_output = desk.tidewright(&["run", "first.ron", "--csv", "-", "--rate", "25"]);
    assert_eq!(on_standard_output.stdout.as_bytes(), bytes);
}

#[test]
fn all_outputs_come_from_one_run_and_agree_with_each_alone() {
    let desk = Desk::new();
    let together = ["run", "first.ron", "--json", "--csv", "a.csv", "--figure", "a.svg"];
    let together =
        desk.tidewright(&[&together[..], &["--figure", "a.png", "--dpi", "60"]].concat());
    assert_eq!((together.code, together.stderr.as_str()), (0, ""));
    assert_eq!(together.stdout, desk.tidewright(&["run", "first.ron", "--json"]).stdout);
    desk.tidewright(&["run", "first.ron", "--csv", "b.csv"]);
    desk.tidewright(&["run", "first.ron", "--figure", "b.svg"]);
    desk.tidewright(&["run", "first.ron", "--figure", "b.PNG", "--dpi", "60"]);
    for (a, b) in [("a.csv", "b.csv"), ("a.svg", "b.svg"), ("a.png", "b.PNG")] {
        assert!(desk.get(a) == desk.get(b), "{a} and {b} differ");
    }
    assert!(desk.get("a.svg").starts_with(b"<svg"));
    assert!(desk.get("a.png").starts_with(b"\x89PNG"));
}

#[test]
fn a_figure_tells_the_patient_and_the_change() {
    let desk = Desk::new();
    desk.tidewright(&["run", "first.ron", "--figure", "a.svg", "--from", "20", "--to", "45.5"]);
    let svg = String::from_utf8(desk.get("a.svg")).unwrap();
    for words in ["Pepper, a cat of 4.5 kg", "leak 3000 mL/min at 30 cmH2O", "For teaching only."] {
        assert!(svg.contains(words), "{words}");
    }
    assert!(svg.contains("45") && !svg.contains("50</text>"));
}

#[test]
fn a_scenario_with_gas_is_drawn_with_its_capnogram() {
    let desk = Desk::new();
    desk.put("gas.ron", DEMO.replace("duration_s", "gas: (), duration_s").as_bytes());
    desk.tidewright(&["run", "gas.ron", "--figure", "a.svg"]);
    let drawn = desk.tidewright(&["figure", "gas.ron", "--out", "b.svg", "--out", "b.csv"]);
    assert_eq!((drawn.code, &*drawn.stderr), (0, ""));
    assert_eq!(desk.get("a.svg"), desk.get("b.svg"));
    assert!(String::from_utf8(desk.get("a.svg")).unwrap().contains(">capnogram<"));
    let data = String::from_utf8(desk.get("b.csv")).unwrap();
    assert!(data.lines().next().unwrap().contains(",volume_ml,capnogram_mmhg,"), "{data:.200}");
    desk.tidewright(&["figure", "first.ron", "--out", "c.svg"]);
    assert!(!String::from_utf8(desk.get("c.svg")).unwrap().contains("capnogram"));
    let quiz = desk.tidewright(&["figure", "gas.ron", "--for", "student"]);
    assert_eq!(quiz.code, 2, "{}", quiz.stderr);
}

#[test]
fn gas_asked_of_a_scenario_without_it_is_shown_where_it_stands() {
    let desk = Desk::new();
    let figure = "Figure(format: 1, id: \"a\", title: \"t\", teaches: \"t\", \
        scenario: \"first.ron\",\n show: Time(to_s: 9, panels: [[Capnogram]]))";
    desk.put("a.ron", figure.as_bytes());
    let outcome = desk.tidewright(&["figure", "a.ron", "--out", "a.svg"]);
    assert_eq!(outcome.code, 3, "{}", outcome.stderr);
    for words in ["a.ron:2:32", "`Capnogram` needs gas exchange", "`gas: ()` in first.ron"] {
        assert!(outcome.stderr.contains(words), "{words}: {}", outcome.stderr);
    }
    assert!(!desk.names().contains(&"a.svg".to_owned()));
}

#[test]
fn the_roads_tell_the_same_breaths() {
    let desk = Desk::new();
    let short = DEMO.replace("duration_s: 60", "duration_s: 36");
    desk.put("short.ron", short.as_bytes());
    let volumes = |solver: &str| -> Vec<f64> {
        let outcome = desk.tidewright(&["run", "short.ron", "--json", "--solver", solver]);
        let report: Value = serde_json::from_str(&outcome.stdout).unwrap();
        let breaths = report["breaths"].as_array().unwrap();
        breaths.iter().map(|breath| breath["expired_tidal_volume_ml"].as_f64().unwrap()).collect()
    };
    let auto = volumes("auto");
    assert!(auto.len() >= 8);
    for other in ["numeric", "reference"] {
        let other = volumes(other);
        assert_eq!(auto.len(), other.len());
        for (a, b) in auto.iter().zip(&other) {
            assert!((a - b).abs() < 1e-5 * a, "{a} {b}");
        }
    }
}

#[test]
fn a_reader_that_leaves_is_no_fault() {
    let desk = Desk::new();
    desk.put("day.ron", DEMO.replace("duration_s: 60", "duration_s: 86400").as_bytes());
    let runs: [&[&str]; 3] = [
        &["run", "day.ron", "--json", "--csv", "w.csv", "--rate", "1"],
        &["run", "day.ron", "--csv", "-", "--rate", "1"],
        &["reference"],
    ];
    for arguments in runs {
        let mut child = program()
            .current_dir(desk.path(""))
            .args(arguments)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut line = String::new();
        BufReader::with_capacity(16, child.stdout.take().unwrap()).read_line(&mut line).unwrap();
        assert!(!line.is_empty());
        let Outcome { code, stderr, .. } = Outcome::of(child.wait_with_output().unwrap());
        assert_eq!((code, stderr.as_str()), (0, ""), "{arguments:?}");
    }
    // Whoever reads the report may leave; the file is still wanted.
    assert_eq!(desk.get("w.csv").split(|byte| *byte == b'\n').count(), 86_400 + 3);
}

#[test]
fn a_failure_leaves_older_files_as_they_were_and_no_scraps() {
    let desk = Desk::new();
    for name in ["w.csv", "f.png"] {
        desk.put(name, b"precious");
    }
    // A letter that the font lacks is noticed only when the figure is drawn.
    let title = DEMO.replace("title: \"First", "title: \"初 First");
    desk.put("letter.ron", title.as_bytes());
    let before = desk.names();
    let outcome = desk.tidewright(&["run", "letter.ron", "--figure", "f.png", "--replace"]);
    assert_eq!(outcome.code, 2);
    assert!(outcome.stderr.contains("use SVG"), "{}", outcome.stderr);
    desk.put("broken.ron", b"Scenario(");
    let outcome = desk.tidewright(&["run", "broken.ron", "--csv", "w.csv", "--replace"]);
    assert_eq!(outcome.code, 3);
    for name in ["w.csv", "f.png"] {
        assert_eq!(desk.get(name), b"precious");
    }
    assert_eq!(desk.names().len(), before.len() + 1);
}

#[cfg(unix)]
#[test]
fn a_link_keeps_pointing_and_permissions_are_kept() {
    use std::os::unix::fs::{PermissionsExt, symlink};
    let desk = Desk::new();
    desk.put("real.csv", b"old");
    let permissions = |name: &str| desk.path(name).metadata().unwrap().permissions().mode() & 0o777;
    std::fs::set_permissions(desk.path("real.csv"), PermissionsExt::from_mode(0o640)).unwrap();
    symlink("real.csv", desk.path("link.csv")).unwrap();
    assert_eq!(desk.tidewright(&["run", "first.ron", "--csv", "link.csv", "--replace"]).code, 0);
    assert!(desk.path("link.csv").is_symlink());
    assert!(desk.get("real.csv").starts_with(b"t_s,"));
    assert_eq!(permissions("real.csv"), 0o640);
    // A new file gets what any new file gets here.
    assert_eq!(desk.tidewright(&["run", "first.ron", "--csv", "new.csv"]).code, 0);
    assert_eq!(permissions("new.csv"), permissions("first.ron"));
}
