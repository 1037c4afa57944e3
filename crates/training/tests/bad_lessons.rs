//! Lessons whose parts do not go together are refused, each fault at its line.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

use tidewright_scenario::parse;

fn faults(name: &str, text: &str) -> Vec<(usize, &'static str, String)> {
    let rejected = parse(name, text).unwrap_err();
    let place = |fault| rejected.place(fault).line;
    rejected.faults().iter().map(|fault| (place(fault), fault.code(), fault.mend())).collect()
}

#[test]
fn parts_that_do_not_go_together_are_told_with_their_lines() {
    let found = faults("a.ron", include_str!("bad-lessons/lesson-with-faults.ron"));
    let mut found: Vec<(usize, &str)> =
        found.iter().map(|(line, code, _)| (*line, *code)).collect();
    found.sort_unstable();
    assert_eq!(
        found,
        [
            (15, "repeated-id"),
            (17, "too-many-controls"),
            (18, "unknown-reference"),
            (19, "range-reversed"),
            (24, "after-end"),
            (30, "unknown-reference"),
            (31, "unknown-reference"),
            (32, "range-reversed"),
            (34, "unknown-reference"),
        ]
    );
}

#[test]
fn a_misspelt_measure_is_a_fault_with_the_name_that_was_meant() {
    let found = faults("a.ron", include_str!("bad-lessons/lesson-with-misspelt-measure.ron"));
    let mended = |line: usize, word: &str| {
        let said = found.iter().any(|(at, _, mend)| *at == line && mend.contains(word));
        assert!(said, "{found:?}");
    };
    mended(14, "`Listen`");
    mended(16, "`HighestAlveolarPressure`");
    mended(17, "`at_most_s`");
}

#[test]
fn a_hidden_fault_that_leaves_the_gas_nowhere_to_go_is_told_with_its_line() {
    let text = tidewright_shelf::lesson("clover").unwrap().text;
    let rigid = text.replace("compliance_ml_cmh2o: 0.15", "compliance_ml_cmh2o: 0");
    assert_ne!(rigid, text);
    let line = 1 + text.lines().position(|line| line.contains("is: KinkedTube")).unwrap();
    let found = faults("a.ron", &rigid);
    let found: Vec<(usize, &str)> = found.iter().map(|(line, code, _)| (*line, *code)).collect();
    assert_eq!(found, [(line, "no-pressure")]);
}

#[test]
fn what_needs_gas_is_told_with_its_line_in_a_lesson_without() {
    let found = faults("a.ron", include_str!("bad-lessons/lesson-of-gas-without-gas.ron"));
    assert!(found.iter().all(|(_, code, mend)| *code == "no-gas" && mend.contains("`gas: (),`")));
    let mut lines: Vec<usize> = found.iter().map(|(line, ..)| *line).collect();
    lines.sort_unstable();
    assert_eq!(lines, [16, 19, 27, 31, 34]);
}

#[test]
fn parts_of_a_lesson_of_gas_that_do_not_go_together_are_told_with_their_lines() {
    let found = faults("a.ron", include_str!("bad-lessons/lesson-of-gas-with-faults.ron"));
    let mut found: Vec<(usize, &str)> =
        found.iter().map(|(line, code, _)| (*line, *code)).collect();
    found.sort_unstable();
    assert_eq!(
        found,
        [
            (11, "unfit"),
            (17, "unfit"),
            (27, "unfit"),
            (28, "unfit"),
            (29, "range-reversed"),
            (32, "unknown-reference"),
            (33, "unknown-reference"),
            (38, "unfit"),
            (39, "range-reversed"),
        ]
    );
}

/// Each is told where it stands: a step that waits for a later one, a check that is not
/// there, a joint that the table has not, parts beside a circuit.
#[test]
fn what_does_not_go_together_in_a_morning_is_told_with_its_line() {
    let text = tidewright_shelf::lesson("the-whole-morning").unwrap().text;
    let wrong = |right: &str, wrong: &str, at: &str, code: &str| {
        let text = text.replacen(right, wrong, 1);
        let line = 1 + text.lines().position(|line| line.contains(at)).unwrap();
        let found = faults("a.ron", &text);
        let told = found.iter().any(|(on, told, _)| (*on, *told) == (line, code));
        assert!(told, "{wrong}: {found:?} instead of {line}, {code}");
    };
    let unknown = "unknown-reference";
    wrong("check: \"suction\"", "check: \"sucktion\"", "sucktion", unknown);
    wrong("after: [\"hours\"]", "after: [\"written\"]", "after: [\"written\"]", unknown);
    wrong("(check: \"spare\", finds", "(check: \"spar\", finds", "\"spar\", finds", unknown);
    wrong("steps: [\"written\"]", "steps: [\"writen\"]", "writen", unknown);
    wrong("\"bag.neck\"", "\"bag.nek\"", "table: (", "refused");
    wrong(
        "patient: (name",
        "circuit: (compliance_ml_cmh2o: 1), patient: (name",
        "circuit: (",
        "assembly-alone",
    );
    let without = text.replacen("table: (", "table_: (", 1);
    assert!(!faults("a.ron", &without).is_empty());
}
