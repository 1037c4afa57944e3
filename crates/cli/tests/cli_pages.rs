//! What a person reads, at the widths of a phone, a terminal and a wide screen.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

mod common;

use common::{Desk, Outcome, files, program, tidewright};
use tidewright::quantity::Mass;
use tidewright::species::{Animal, Estimate, Parameter, Species};
use tidewright_scenario::report::{BANNER, CSV_CAUTION};

fn demo_at(columns: usize) -> String {
    let output = program().env("COLUMNS", columns.to_string()).output().unwrap();
    let Outcome { code, stdout, stderr } = Outcome::of(output);
    assert_eq!((code, stderr.as_str()), (0, ""));
    stdout
}

#[test]
fn without_a_command_the_built_in_scenario_is_told() {
    insta::assert_snapshot!("demo_at_80_columns", demo_at(80));
    insta::assert_snapshot!("demo_at_200_columns", demo_at(200));
    insta::assert_snapshot!("demo_at_48_columns", demo_at(48));
}

#[test]
fn no_line_of_any_page_is_wider_than_its_terminal() {
    for columns in [48, 80, 120, 200] {
        for path in files("scenarios") {
            let mut program = program();
            program.env("COLUMNS", columns.to_string()).arg("run").arg(&path);
            let page = Outcome::of(program.output().unwrap()).stdout;
            for line in page.lines() {
                let width = line.chars().count();
                assert!(width <= columns, "{}: {width} of {columns}: {line}", path.display());
            }
        }
    }
}

#[test]
fn the_caution_stands_once_on_every_page() {
    let one_line = |page: &str| page.split_whitespace().collect::<Vec<_>>().join(" ");
    let desk = Desk::new();
    for arguments in [&[][..], &["run", "first.ron"], &["species", "rat", "--weight-kg", "0.3"]] {
        let page = one_line(&desk.tidewright(arguments).stdout);
        assert_eq!(page.matches(BANNER).count(), 1, "{arguments:?}");
    }
}

#[test]
fn every_table_of_numbers_carries_the_caution_in_its_head() {
    let desk = Desk::new();
    desk.put("cats.ron", desk.tidewright(&["cohort", "--example"]).stdout.as_bytes());
    let over = "ventilator.cycling_pressure_cmh2o=6,8";
    let tables: [&[&str]; 4] = [
        &["run", "first.ron", "--csv", "table.csv", "--replace"],
        &["run", "first.ron", "--figure", "table.csv", "--replace"],
        &["sweep", "first.ron", "--over", over, "--csv", "table.csv", "--replace"],
        &["cohort", "cats.ron", "--csv", "table.csv", "--replace"],
    ];
    for arguments in tables {
        let outcome = desk.tidewright(arguments);
        assert_eq!(outcome.code, 0, "{arguments:?}: {}", outcome.stderr);
        let text = String::from_utf8(desk.get("table.csv")).unwrap();
        let mut rows = csv::Reader::from_reader(text.as_bytes());
        assert_eq!(rows.headers().unwrap().iter().next_back(), Some(CSV_CAUTION), "{arguments:?}");
        for row in rows.records() {
            assert_eq!(row.unwrap().iter().next_back(), Some(""), "{arguments:?}");
        }
    }
    for arguments in [&["reference", "Ventilator"][..], &["example"], &["cohort", "--example"]] {
        let page =
            desk.tidewright(arguments).stdout.split_whitespace().collect::<Vec<_>>().join(" ");
        assert_eq!(page.matches(BANNER).count(), 1, "{arguments:?}");
    }
}

#[test]
fn a_number_of_an_animal_can_be_asked_for_its_source() {
    let told = |words: &[&str]| {
        let outcome = tidewright([&["explain"], words].concat());
        assert_eq!(outcome.code, 0, "{words:?}: {}", outcome.stderr);
        outcome.stdout.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    for parameter in Parameter::ALL {
        let page = told(&[parameter.name()]);
        assert!(page.contains("[1] ") || page.contains("Source: "), "{page}");
    }
    let page = told(&["oxygen", "consumption"]);
    assert!(page.contains("computed: taken over from dogs for every animal without"), "{page}");
    assert!(told(&["functional", "residual", "capacity"]).contains("not found again"));
    assert!(told(&["leak"]).contains("Source: "));
}

#[test]
fn styles_are_only_where_they_are_wanted() {
    let styled = |set: &[(&str, &str)], arguments: &[&str]| {
        let output = program().envs(set.iter().copied()).args(arguments).output().unwrap();
        let Outcome { stdout, stderr, .. } = Outcome::of(output);
        (stdout + &stderr).contains('\u{1b}')
    };
    let force = ("CLICOLOR_FORCE", "1");
    for arguments in [&[][..], &["--help"], &["run", "missing.ron"], &["species", "cat"]] {
        assert!(!styled(&[], arguments), "not in a pipe: {arguments:?}");
        assert!(styled(&[force], arguments), "where forced: {arguments:?}");
        assert!(!styled(&[force, ("NO_COLOR", "1")], arguments), "NO_COLOR: {arguments:?}");
    }
}

#[test]
fn every_verb_explains_itself_with_examples() {
    let help = tidewright(["--help"]).stdout;
    assert!(help.contains("Examples:\n") && help.contains("Exit codes:\n"));
    let verbs = help.split("Commands:\n").nth(1).unwrap().split("\n\n").next().unwrap();
    let verbs: Vec<&str> =
        verbs.lines().map(|line| line.split_whitespace().next().unwrap()).collect();
    assert!(verbs.contains(&"run") && verbs.contains(&"check"));
    for verb in verbs.into_iter().filter(|verb| *verb != "help") {
        let page = tidewright([verb, "--help"]);
        assert_eq!((page.code, page.stderr.as_str()), (0, ""));
        assert!(page.stdout.contains(&format!("Examples:\n  tidewright {verb}")), "{verb}");
    }
}

/// The commands that the first page offers do what they say.
#[test]
fn where_to_go_next_can_be_gone() {
    let page = demo_at(80);
    let next = page.split("Where to go next\n").nth(1).unwrap();
    let desk = Desk::new();
    let mut gone = 0;
    for line in next.lines() {
        let command = line.trim().split("  ").next().unwrap();
        let words: Vec<&str> = command.split(' ').skip(1).collect();
        let (arguments, target) = match words.iter().position(|word| *word == ">") {
            Some(at) => (&words[..at], Some(words[at + 1])),
            None => (&words[..], None),
        };
        let outcome = desk.tidewright(arguments);
        assert_eq!((outcome.code, outcome.stderr.as_str()), (0, ""), "{command}");
        if let Some(target) = target {
            desk.put(target, outcome.stdout.as_bytes());
        }
        gone += 1;
    }
    assert!(gone >= 5);
    assert_eq!(desk.names(), ["first.ron", "first.svg"]);
}

/// Every value of the library's table stands on the page, to three digits, and
/// every source that it rests on.
#[test]
fn every_species_is_told_with_values_and_sources() {
    for species in Species::ALL {
        let weight_kg = species.usual_weight_kg().1;
        let animal = Animal::typical(species, Mass::kg(weight_kg));
        let page = tidewright(["species", species.name(), "--weight-kg", &weight_kg.to_string()]);
        assert_eq!((page.code, page.stderr.as_str()), (0, ""));
        let one_line = page.stdout.split_whitespace().collect::<Vec<_>>().join(" ");
        for parameter in Parameter::ALL {
            let row = page.stdout.lines().find(|line| line.starts_with(parameter.name())).unwrap();
            let cells = row[parameter.name().len()..].trim_start();
            let value: f64 = cells.split(' ').next().unwrap().parse().unwrap();
            let Estimate { value: expected, law, factors, .. } = animal.estimate(parameter);
            assert!((value - expected).abs() <= 0.0051 * expected.abs(), "{row}");
            assert!(cells.contains(parameter.unit()), "{row}");
            let used = factors.iter().map(|(factor, _)| factor.source).chain([law.source]);
            for source in used {
                assert!(one_line.contains(source.citation), "{species}: {}", source.citation);
            }
        }
    }
}

#[test]
fn an_unusual_weight_is_warned_of() {
    let of = |weight: &str| tidewright(["species", "guinea-pig", "--weight-kg", weight]).stdout;
    assert!(!of("0.9").contains("outside the usual"));
    assert!(of("9").contains("! 9 kg is outside the usual 0.2 to 1.5 kg"));
}

#[test]
fn the_reference_is_the_format_s_own() {
    let markdown = tidewright(["reference", "--markdown"]).stdout;
    assert_eq!(markdown, tidewright_scenario::reference());
    let page = tidewright(["reference"]).stdout;
    let part = tidewright(["reference", "ventilator"]).stdout;
    let part = part.split_once("\n\n").unwrap().1;
    assert!(part.contains("cycling_pressure_cmh2o") && page.contains(part.trim_end()));
    // Prose keeps its marks out; code and lists keep their brackets.
    assert!(!page.contains('`') && !page.contains("](#") && page.contains("[…, …]"));
    // Every field of the tables is an entry.
    for row in markdown.lines().filter_map(|line| line.strip_prefix("| `")) {
        let name = row.split('`').next().unwrap();
        assert!(page.lines().any(|line| line == name), "{name}");
    }
}
