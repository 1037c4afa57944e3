//! Sweeps: each row is what the edited scenario itself gives.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

use tidewright::prelude::*;
use tidewright::steady::periodic;
use tidewright_scenario::{DEMO, Scenario, parse};
use tidewright_study::sweep::{Axis, Measure, Sweep, SweepError, sweep};
use tidewright_study::{Field, FieldError, Metric};

#[test]
fn a_settled_row_is_the_breath_of_the_edited_scenario() {
    let sweep =
        settled(&["circuit.leak.ml_min=0,300,900", "ventilator.cycling_pressure_cmh2o=8..12:2"]);
    assert_eq!(sweep.rows.len(), 9);
    for row in &sweep.rows {
        let mut scenario = demo();
        let leak = scenario.circuit.leak.as_mut().unwrap();
        leak.ml_min = row.values[0];
        scenario.ventilator.cycling_pressure_cmh2o = row.values[1];
        let machine = Machine::new(scenario.protocol().start).unwrap();
        assert_eq!(row.breath, Ok(periodic(&machine).unwrap().breath));
    }
    let values: Vec<_> = sweep.rows.iter().map(|row| row.values.clone()).collect();
    assert_eq!(values[..4], [[0.0, 8.0], [0.0, 10.0], [0.0, 12.0], [300.0, 8.0]]);
}

#[test]
fn first_breaths_are_those_of_the_run_with_its_timeline() {
    let axis = axis("ventilator.fresh_gas_flow_l_min=1,2");
    let sweep = sweep(&demo(), &[axis], Measure::First(12)).unwrap();
    assert_eq!(sweep.rows.len(), 24);
    let mut scenario = demo();
    scenario.ventilator.fresh_gas_flow_l_min = 2.0;
    let (breaths, _) = Simulation::new(&scenario.protocol()).unwrap().breaths().unwrap();
    for (row, breath) in sweep.rows[12..].iter().zip(breaths) {
        assert_eq!(row.breath, Ok(breath));
    }
    // Of twelve breaths the last one stands for its combination in a figure.
    let points = &sweep.curves(Metric::Rate)[0].points;
    assert_eq!(points.len(), 2);
    assert_eq!(points[1].1, sweep.rows[23].breath.as_ref().unwrap().rate_per_min());
}

/// What is found directly is what a run comes to that goes on long enough.
#[test]
fn twin_waiting_comes_to_every_settled_row() {
    let mut scenario = demo();
    scenario.timeline.clear();
    scenario.duration_s = 2000.0;
    let axes = [
        axis("ventilator.expiratory_time_s=0.12,0.3,1.8"),
        axis("patient.lung.resistance_cmh2o_s_l=10,40"),
    ];
    let settled = sweep(&scenario, &axes, Measure::Settled).unwrap();
    let waited = sweep(&scenario, &axes, Measure::First(200)).unwrap();
    assert_eq!(waited.rows.len(), 200 * settled.rows.len());
    for metric in Metric::ALL {
        let curves = settled.curves(metric).into_iter().zip(waited.curves(metric));
        for (found, last) in
            curves.flat_map(|(found, last)| found.points.into_iter().zip(last.points))
        {
            assert_eq!(found.0, last.0);
            let off = (found.1 - last.1).abs() / last.1.abs().max(1.0);
            assert!(off < 1e-9, "{metric} at {}: {} and {}", found.0, found.1, last.1);
        }
    }
    // The first breath is another one where gas is trapped.
    let first = sweep(&scenario, &axes, Measure::First(1)).unwrap();
    let of = |sweep: &Sweep| sweep.curves(Metric::InspiratoryTime)[0].points[1].1;
    assert!(of(&settled) < 0.8 * of(&first), "{} {}", of(&settled), of(&first));
}

#[test]
fn figures_get_curves_and_maps() {
    let sweep = settled(&["circuit.leak.ml_min=0,300,900", "ventilator.fresh_gas_flow_l_min=1,2"]);
    let curves = sweep.curves(Metric::PeakPressure);
    assert_eq!(
        curves.iter().map(|curve| curve.at).collect::<Vec<_>>(),
        [Some(0.0), Some(300.0), Some(900.0)]
    );
    assert!(curves.iter().all(|curve| curve.points.len() == 2));
    let grid = sweep.grid(Metric::PeakPressure).unwrap();
    assert_eq!((grid.rows.len(), grid.columns, grid.cells.len()), (3, vec![1.0, 2.0], 3));
    assert_eq!(grid.cells[2][1], Some(curves[2].points[1].1));
    let one = settled(&["ventilator.fresh_gas_flow_l_min=1,2"]);
    assert_eq!(one.grid(Metric::Rate), None);
    assert_eq!(one.curves(Metric::Rate)[0].at, None);
}

#[test]
fn combinations_that_cannot_run_keep_their_row_and_say_why() {
    let sweep = settled(&[
        "ventilator.end_expiratory_pressure_cmh2o=0,9",
        "ventilator.cycling_pressure_cmh2o=8,10",
    ]);
    let problem = sweep.rows[2].breath.as_ref().unwrap_err();
    assert!(problem.contains("end_expiratory_pressure_cmh2o = 9"), "{problem}");
    assert!(sweep.rows[3].breath.is_ok());
    assert_eq!(sweep.grid(Metric::Rate).unwrap().cells[1][0], None);

    let none = sweep_of(&demo(), &["ventilator.fresh_gas_flow_l_min=500"]).unwrap_err();
    assert!(matches!(&none, SweepError::NoneRuns(why) if why.contains("500")), "{none}");
}

#[test]
fn a_field_is_found_through_lists_choices_and_absent_blocks() {
    let demo = demo();
    let set = |path: &str, value: f64| path.parse::<Field>().unwrap().set(&demo, value);

    let by_list = set("timeline.0.at_s", 12.5).unwrap();
    assert_eq!(by_list.timeline[0].at_s, 12.5);
    assert!(set("timeline.99.at_s", 1.0).is_err());

    let mut typical = demo.clone();
    typical.patient.lung = None;
    let stiff: Field = "patient.lung.compliance_ml_cmh2o".parse().unwrap();
    let setup = stiff.set(&typical, 3.0).unwrap().protocol().start;
    let before = typical.protocol().start;
    assert_eq!(setup.lung.total_compliance(), Compliance::ml_per_cmh2o(3.0));
    let resistance = |setup: &Setup| {
        let tube = match setup.lung.tube {
            Tube::Linear(tube) => tube.as_cmh2o_s_per_l(),
            _ => 0.0,
        };
        tube + setup.lung.compartments[0].resistance.as_cmh2o_s_per_l()
    };
    assert!((resistance(&setup) / resistance(&before) - 1.0).abs() < 1e-15);

    // A leak has two numbers; one alone is a fault that says what is missing.
    let mut tight = demo.clone();
    tight.circuit.leak = None;
    let leak: Field = "circuit.leak.ml_min".parse().unwrap();
    let error = leak.set(&tight, 300.0).unwrap_err().to_string();
    assert!(error.contains("at_cmh2o"), "{error}");
}

#[test]
fn paths_that_lead_nowhere_say_so() {
    let demo = demo();
    let set =
        |path: &str| path.parse::<Field>().and_then(|field| field.set(&demo, 1.0)).unwrap_err();
    for path in ["", ".", "a..b", "ventilator.", "ventilator fresh"] {
        assert!(matches!(set(path), FieldError::Path(_)), "{path}");
    }
    let error = set("ventilator.fresh_gas_flw_l_min").to_string();
    assert!(error.contains("did you mean `fresh_gas_flow_l_min`"), "{error}");
    assert!(matches!(set("title"), FieldError::NotANumber { .. }));
    assert!(matches!(set("ventilator"), FieldError::NotANumber { .. }));
    assert!(matches!(set("format.version"), FieldError::NotThere { .. }));
    assert!(matches!(set("duration_s.0"), FieldError::NotThere { .. }));
}

#[test]
fn axes_read_lists_and_ranges_and_refuse_the_rest() {
    assert_eq!(axis("a=1, 2,-3e-2").values, [1.0, 2.0, -0.03]);
    assert_eq!(axis("a=0..1:0.25").values, [0.0, 0.25, 0.5, 0.75, 1.0]);
    assert_eq!(axis("a=1..2:0.4").values, [1.0, 1.4, 1.8]);
    assert_eq!(axis("a=5..5:1").values, [5.0]);
    for bad in [
        "a",
        "=1",
        "a=",
        "a=1,,2",
        "a=one",
        "a=nan",
        "a=1..inf:1",
        "a=1..2",
        "a=2..1:1",
        "a=0..1:0",
        "a=0..1e9:1e-9",
    ] {
        assert!(bad.parse::<Axis>().is_err(), "{bad}");
    }
}

#[test]
fn sweeps_of_none_three_or_equal_fields_are_refused() {
    let flow = || axis("ventilator.fresh_gas_flow_l_min=1");
    let refused = |axes: &[Axis]| sweep(&demo(), axes, Measure::Settled).unwrap_err();
    assert_eq!(refused(&[]), SweepError::Fields(0));
    assert_eq!(refused(&[flow(), flow(), flow()]), SweepError::Fields(3));
    assert!(matches!(refused(&[flow(), flow()]), SweepError::Twice(_)));
    let many = |path: &str| Axis { values: vec![1.0; 1001], ..axis(path) };
    let axes = [many("ventilator.fresh_gas_flow_l_min=1"), many("circuit.leak.ml_min=1")];
    assert_eq!(refused(&axes), SweepError::TooMany(1001 * 1001));
}

#[test]
fn the_table_reads_back_to_the_last_bit() {
    let sweep = settled(&[
        "ventilator.end_expiratory_pressure_cmh2o=0,9",
        "ventilator.cycling_pressure_cmh2o=8,10",
    ]);
    let mut text = Vec::new();
    sweep.write_csv(&mut text).unwrap();
    let mut reader = csv::Reader::from_reader(&text[..]);
    let headers = reader.headers().unwrap().clone();
    assert_eq!(&headers[0], "ventilator.end_expiratory_pressure_cmh2o");
    let last: Vec<&str> = headers.iter().rev().take(2).collect();
    assert_eq!(last, ["for_teaching_only_not_a_medical_device", "problem"]);
    for (record, row) in reader.records().zip(&sweep.rows) {
        let record = record.unwrap();
        let cell = |name: &str| {
            let column = headers.iter().position(|header| header == name).unwrap();
            record[column].to_owned()
        };
        match &row.breath {
            Ok(breath) => {
                for metric in Metric::ALL {
                    let value: f64 = cell(metric.name()).parse().unwrap();
                    assert_eq!(value, metric.of(breath, row.weight), "{metric}");
                }
                assert_eq!(cell("problem"), "");
            }
            Err(problem) => {
                assert_eq!(&cell("problem"), problem);
                assert_eq!(cell("rate_per_min"), "");
            }
        }
    }
}

#[test]
fn rows_do_not_depend_on_the_number_of_threads() {
    let axes = ["circuit.leak.ml_min=0..900:100", "ventilator.fresh_gas_flow_l_min=1..2:0.1"];
    let with = |threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| settled(&axes))
    };
    assert_eq!(with(1), with(3));
}

fn demo() -> Scenario {
    let mut demo = parse("demo", DEMO).unwrap();
    let leak = tidewright_scenario::format::Leak {
        ml_min: 10.0,
        at_cmh2o: 30.0,
        law: tidewright_scenario::format::LeakLaw::Linear,
    };
    demo.circuit.leak.get_or_insert(leak);
    demo
}

fn axis(text: &str) -> Axis {
    text.parse().unwrap()
}

fn settled(axes: &[&str]) -> Sweep {
    sweep_of(&demo(), axes).unwrap()
}

fn sweep_of(scenario: &Scenario, axes: &[&str]) -> Result<Sweep, SweepError> {
    let axes: Vec<Axis> = axes.iter().map(|text| axis(text)).collect();
    sweep(scenario, &axes, Measure::Settled)
}
