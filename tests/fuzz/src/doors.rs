//! What a student, a teacher and a researcher do with the libraries: a desk at which somebody
//! types, a class's attempts, and sweeps.

use std::sync::Arc;

use tidewright_scenario::format::Attempt;
use tidewright_scenario::{Scenario, parse};
use tidewright_study::sweep::{Axis, Measure, SweepError, sweep};
use tidewright_training::Session;
use tidewright_training::class::{Handed, Style, gradebook, items_to_json, mark_all, to_csv};
use tidewright_training::command::WORDS;
use tidewright_training::desk::Desk;

use crate::choices::Choices;
use crate::mutate::mutate;
use crate::seeds::LESSONS;
use crate::targets::{journal, mutated, scenario, seen};

/// Whoever looks changes nothing: a desk that is looked at after every line shows in the end
/// what one shows that never was.
pub fn desk(choices: &mut Choices<'_>) {
    const OWN: [&str; 12] = [
        "",
        "help",
        "status",
        "questions",
        "hint",
        "undo",
        "alarms",
        "parts",
        "steps",
        "breath",
        "faster",
        "go",
    ];
    let lesson = choices.one(&LESSONS);
    let text = match choices.once_in(3) {
        true => mutated::<Scenario>(&lesson.text, choices),
        false => lesson.text.clone(),
    };
    let Ok(scenario) = parse("any.ron", &text).map(Arc::new) else { return };
    let Ok(session) = Session::new(scenario, choices.below(64) as u32) else { return };
    let (mut looked_at, mut left) = (Desk::new(session.clone()), Desk::new(session));
    for desk in [&mut looked_at, &mut left] {
        desk.start();
    }
    for _ in 0..choices.below(12) {
        let value = ["", "1", "0.5", "-3", "1e300", "ventilating", "up", "a 1"][choices.below(8)];
        let mut line = match choices.once_in(3) {
            true => (*choices.one(&OWN)).to_owned(),
            false => format!("{} {value}", choices.one(&WORDS).1),
        };
        if choices.once_in(6) {
            mutate(&mut line, None, choices);
        }
        let line = seen(line);
        let passed_s = [0.0, 0.1, 1.0, 3.7][choices.below(4)];
        let replies = [looked_at.enter(&line), left.enter(&line)];
        assert_eq!(replies[0], replies[1]);
        if looked_at.pass(passed_s).is_err() {
            assert!(left.pass(passed_s).is_err());
            return;
        }
        assert!(!shown(&looked_at).is_empty());
        left.pass(passed_s).expect("the same desk went on");
    }
    assert_eq!(shown(&looked_at), shown(&left));
}

fn shown(desk: &Desk) -> String {
    serde_json::to_string(&desk.view()).expect("a view is plain data")
}

/// A log is marked in a class as it is alone.
pub fn class(choices: &mut Choices<'_>) {
    let lesson = choices.one(&LESSONS);
    let Ok(scenario) = parse("lesson.ron", &lesson.text).map(Arc::new) else { return };
    let handed = |number, choices: &mut Choices<'_>| {
        let log = choices.one::<String>(&lesson.attempts);
        let text = match choices.below(6) {
            0 => Err("it cannot be read".to_owned()),
            1 => Ok(journal(log, choices)),
            2 => Ok(log.clone()),
            _ => Ok(mutated::<Attempt>(log, choices)),
        };
        Handed { file: format!("={number}.ron"), text }
    };
    let files: Vec<Handed> = (0..1 + choices.below(4)).map(|k| handed(k, choices)).collect();
    let rows = mark_all(&scenario, &files, None, None, |_| {});
    assert_eq!(rows.len(), files.len());
    let alone = mark_all(&scenario, &files[..1], None, None, |_| {});
    let told = |row: &tidewright_training::class::ClassRow| {
        (row.file.clone(), row.result, row.points, row.reasons.clone(), row.kind.clone())
    };
    assert_eq!(told(&alone[0]), told(&rows[0]));
    assert!(to_csv(&rows).lines().skip(1).all(|line| !line.starts_with('=')));
    assert!(!gradebook(&rows, &[], Style::Semicolon).is_empty());
    assert!(items_to_json(&rows).starts_with('{'));
}

/// A combination of a sweep is measured as it is alone.
pub fn swept(choices: &mut Choices<'_>) {
    const AXES: [&str; 6] = [
        "ventilator.fresh_gas_flow_l_min=0.5..3:0.5",
        "ventilator.cycling_pressure_cmh2o=6,10,1e9",
        "patient.lung.compliance_ml_cmh2o=0.1,5,200",
        "patient.weight_kg=1..9:2",
        "circuit.compliance_ml_cmh2o=0,0.2,7",
        "timeline.0.at_s=1,2,3",
    ];
    let Some(mut scenario) = scenario(choices) else { return };
    scenario.duration_s = scenario.duration_s.min(20.0);
    scenario.timeline.retain(|entry| entry.at_s < scenario.duration_s);
    let mut axes = Vec::new();
    for _ in 0..1 + choices.below(2) {
        let mut text = (*choices.one(&AXES)).to_owned();
        if choices.once_in(3) {
            mutate(&mut text, None, choices);
        }
        let Ok(mut axis) = seen(text).parse::<Axis>() else { return };
        axis.values.truncate(3);
        axes.push(axis);
    }
    let measure = if choices.once_in(2) { Measure::Settled } else { Measure::First(3) };
    let rows = match sweep(&scenario, &axes, measure) {
        Ok(sweep) => {
            let mut csv = Vec::new();
            sweep.write_csv(&mut csv).expect("a list takes all that is written");
            assert!(csv.ends_with(b"\n") && sweep.left == 0);
            sweep.rows
        }
        Err(error) => {
            assert!(!matches!(error, SweepError::TooMany(_) | SweepError::Fields(_)), "{error}");
            return;
        }
    };
    let first = &rows[0];
    for (axis, &value) in axes.iter_mut().zip(&first.values) {
        axis.values = vec![value];
    }
    match sweep(&scenario, &axes, measure) {
        Ok(alone) => assert_eq!(alone.rows[0].breath, first.breath),
        Err(_) => assert!(first.breath.is_err()),
    }
}
