//! Cohorts: the same patients for the same seed whatever the threads, chunks and
//! stops; each row what the general engine gives for that patient.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

use std::sync::LazyLock;

use tidewright::prelude::*;
use tidewright::species::{Animal, Species};
use tidewright::steady::{one_breath, periodic};
use tidewright_scenario::{Scenario, parse};
use tidewright_study::Metric;
use tidewright_study::batch::Breaths;
use tidewright_study::cohort::{
    CHUNK, Cohort, CohortFile, Resume, ResumeError, Row, Summary, resume, run, summarise, write,
};
use tidewright_study::plan::{Goals, Pace, plan};

static BASE: LazyLock<Scenario> = LazyLock::new(|| {
    let text = r#"(
        format: 1, id: "base", patient: (species: Cat, weight_kg: 4,
            lung: (compliance_ml_cmh2o: 6, resistance_cmh2o_s_l: 20)),
        circuit: (compliance_ml_cmh2o: 0.15, valve_resistance_cmh2o_s_l: 5),
        ventilator: (fresh_gas_flow_l_min: 1.8, cycling_pressure_cmh2o: 10,
            inspiratory_time_limit_s: 4, expiratory_time_s: 2),
        duration_s: 10)"#;
    parse("base.ron", text).unwrap()
});

const DRAWN: &str = "vary: (
    compliance_ml_cmh2o: LogNormal(median: 6, log_sd: 0.25),
    resistance_cmh2o_s_l: LogNormal(median: 20, log_sd: 0.3))";

/// A cohort of so many patients; `rest` are further fields of its file.
fn cohort(patients: u64, rest: &str) -> Cohort {
    let questions = "targets: [(measure: InspiredTidalVolumePerKg, from: 8, to: 12)],
        harms: [(measure: InspiredTidalVolumePerKg, above: 15), (measure: PeakPressure, above: 25)]";
    let text = format!(
        r#"Cohort(format: 1, id: "cats", base: "base.ron", patients: {patients}, {questions}, {rest})"#
    );
    match CohortFile::parse("cats.ron", &text) {
        Ok(file) => Cohort::new(file, &BASE),
        Err(rejected) => panic!("{:?}", rejected.faults()),
    }
}

#[test]
fn twin_general_engine_gives_every_row() {
    let cohort = cohort(200, &format!("{DRAWN}, breath: Number(n: 10)"));
    for row in cohort.rows(0..200) {
        let machine = Machine::new(setup(&cohort, &row)).unwrap();
        let mut moment = Moment::at_rest(&machine);
        for _ in 1..10 {
            moment = one_breath(&machine, &moment).unwrap().1;
        }
        let (expected, _) = one_breath(&machine, &moment).unwrap();
        same(&row.breath.unwrap(), &expected, row.weight, 2e-12);
    }
}

#[test]
fn twin_direct_search_gives_settled_rows() {
    for compliance in [0.15, 0.0] {
        let mut cohort = cohort(60, DRAWN);
        cohort.base.circuit.compliance = Compliance::ml_per_cmh2o(compliance);
        for row in cohort.rows(0..60) {
            let expected = periodic(&Machine::new(setup(&cohort, &row)).unwrap()).unwrap().breath;
            same(&row.breath.unwrap(), &expected, row.weight, 1e-9);
        }
    }
}

#[test]
fn machines_that_are_not_plain_breathe_too() {
    let mut cohort = cohort(12, "vary: (leak_ml_min: Uniform(from: 60, to: 200))");
    cohort.base.circuit.leak = Some(Leak::orifice(Flow::ml_s(2.0), Pressure::cmh2o(30.0)));
    let part = |c: f64, r: f64| {
        Compartment::new(Compliance::ml_per_cmh2o(c), Resistance::cmh2o_s_per_l(r))
    };
    cohort.base.lung.compartments = vec![part(4.0, 30.0), part(2.0, 60.0)];
    let rows = cohort.rows(0..12);
    for row in &rows {
        assert!(row.breath.as_ref().unwrap().leaked_ml[0] > 0.0);
        assert!((60.0..200.0).contains(&row.leak_ml_min));
        assert!((row.compliance_ml_cmh2o - 6.0).abs() < 1e-12);
        // Two paths side by side: 1/(1/30 + 1/60).
        assert!((row.resistance_cmh2o_s_l - 20.0).abs() < 1e-12);
    }
    assert_eq!(rows[7], cohort.rows(7..8)[0]);
}

#[test]
fn rows_depend_on_seed_and_number_alone() {
    let cohort_of = |seed: u32| cohort(3 * CHUNK + 17, &format!("{DRAWN}, seed: {seed}"));
    let cohort = cohort_of(1);
    let collect = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| {
            let mut all: Vec<Row> = Vec::new();
            let keep = |rows| {
                all.extend(rows);
                Ok::<_, ()>(())
            };
            run(&cohort, 0, |rows| rows, keep).unwrap();
            (all, summarise(&cohort, |_| ()))
        })
    };
    let (all, summary) = collect(1);
    assert_eq!(all.len() as u64, cohort.patients());
    assert!(all.iter().zip(1..).all(|(row, number)| row.patient == number));
    assert_eq!((all.clone(), summary), collect(3));
    // Eleven from the middle, whose neighbours in a block are others now.
    assert_eq!(all[5003..5014], cohort.rows(5003..5014));
    assert_ne!(all[0], cohort_of(2).rows(0..1)[0]);
}

#[test]
fn one_thing_more_drawn_leaves_the_others_as_they_were() {
    let more = DRAWN.replace("vary: (", "vary: (leak_ml_min: Uniform(from: 0, to: 300), ");
    let (plain, more) = (cohort(50, DRAWN), cohort(50, &more));
    for (a, b) in plain.rows(0..50).iter().zip(more.rows(0..50)) {
        assert_eq!(a.compliance_ml_cmh2o, b.compliance_ml_cmh2o);
        assert_eq!(a.resistance_cmh2o_s_l, b.resistance_cmh2o_s_l);
        assert_ne!(a.leak_ml_min, b.leak_ml_min);
    }
}

#[test]
fn regress_the_first_patients_are_the_same_everywhere() {
    let rows = cohort(3, DRAWN).rows(0..3);
    let bits = |row: &Row| row.breath.as_ref().unwrap().inspired_tidal_volume_ml[0].to_bits();
    assert_eq!(rows.iter().map(bits).collect::<Vec<_>>(), REGRESS);
}

#[test]
fn a_table_stopped_anywhere_and_taken_up_again_is_the_same() {
    let cohort = cohort(2 * CHUNK + 100, &format!("{DRAWN}, breath: Number(n: 2)"));
    let mut whole = Vec::new();
    let mut seen = Vec::new();
    let summary =
        write(&cohort, Resume::from_scratch(), &mut whole, |done| seen.push(done)).unwrap();
    assert!(seen.is_sorted() && seen.windows(2).all(|two| two[1] - two[0] <= 16));
    assert_eq!(seen.last(), Some(&cohort.patients()));
    assert_eq!(summary, summarise(&cohort, |_| ()));

    let ends: Vec<usize> =
        whole.iter().enumerate().filter(|(_, byte)| **byte == b'\n').map(|(i, _)| i + 1).collect();
    let cuts = [
        0,
        1,
        ends[0] - 3,
        ends[0],
        ends[0] + 1,
        ends[4000],
        ends[4096] - 1,
        ends[4096],
        ends[4097] + 40,
        ends[8192],
        ends[8200],
        whole.len() - 1,
        whole.len(),
    ];
    for cut in cuts {
        let left = resume(&cohort, &whole[..cut]).unwrap();
        let mut table = whole[..usize::try_from(left.bytes).unwrap()].to_vec();
        let done = left.patients;
        let whole_rows = ends.iter().filter(|&&end| end <= cut).count().saturating_sub(1);
        assert_eq!(done, whole_rows as u64, "every whole row stands");
        let again = write(&cohort, left, &mut table, |_| ()).unwrap();
        assert!(table == whole, "cut at {cut}");
        assert_eq!(again, summary, "cut at {cut}");
    }
}

#[test]
fn a_table_of_another_cohort_is_not_taken_up() {
    let cohort_of = |patients, rest: &str| cohort(patients, &format!("{DRAWN}, {rest}"));
    let plain = cohort_of(CHUNK + 5, "");
    let mut table = Vec::new();
    write(&plain, Resume::from_scratch(), &mut table, |_| ()).unwrap();
    let refused = |cohort: &Cohort, table: &[u8]| resume(cohort, table).unwrap_err();
    let other = cohort_of(CHUNK + 5, "seed: 7");
    assert!(matches!(refused(&other, &table), ResumeError::Other { patient: 1 }));
    // Another question changes no breath, and some of the answers.
    let mut asked = plain.clone();
    asked.file.targets[0].to = 12.01;
    assert!(matches!(refused(&asked, &table), ResumeError::Other { .. }));
    assert!(matches!(
        refused(&cohort_of(5, ""), &table),
        ResumeError::Longer { .. } | ResumeError::Other { .. }
    ));
    assert!(matches!(refused(&plain, b"t_s,airway_pressure_cmh2o\n"), ResumeError::Header));
    assert!(matches!(refused(&plain, b"\xff\xfe\n"), ResumeError::Header));
    let mut damaged = table.clone();
    let place = table.len() / 2;
    damaged.splice(place..place + 400, *b"nothing");
    assert!(matches!(refused(&plain, &damaged), ResumeError::Damaged { .. }));
    assert_eq!(resume(&cohort_of(CHUNK + 500, ""), &table[..]).unwrap().patients, CHUNK + 5);
}

#[test]
fn patients_without_a_breath_keep_their_row() {
    // A cycling pressure below the end-expiratory pressure cannot be run.
    let vary = "vary: (end_expiratory_pressure_cmh2o: Uniform(from: 5, to: 15))";
    let cohort = cohort(40, vary);
    let mut table = Vec::new();
    let summary = write(&cohort, Resume::from_scratch(), &mut table, |_| ()).unwrap();
    let machine_fails = cohort.rows(0..40).iter().filter(|row| row.breath.is_err()).count() as u64;
    assert_eq!(summary.without_breath, machine_fails);
    assert_eq!(summary.spread(Metric::Rate).count, 40 - machine_fails);
    assert_eq!(std::str::from_utf8(&table).unwrap().lines().count(), 41);
    assert_eq!(resume(&cohort, &table[..]).unwrap().summary, summary);
}

#[test]
fn goals_that_cannot_be_met_are_the_problem_of_the_patient() {
    let settings = "settings: Plan(tidal_volume_ml_kg: 10, rate_per_min: 12,
        largest_fresh_gas_flow_l_min: 1.5), vary: (weight_kg: Uniform(from: 2, to: 6))";
    let cohort = cohort(60, settings);
    let summary = summarise(&cohort, |_| ());
    assert!(summary.without_breath > 5 && summary.without_breath < 55, "{summary:?}");
    let (patient, problem) = summary.first_problem.clone().unwrap();
    assert!(problem.contains("1.50 L/min is the most there is"), "{problem}");
    let mut table = Vec::new();
    write(&cohort, Resume::from_scratch(), &mut table, |_| ()).unwrap();
    let again = resume(&cohort, &table[..]).unwrap();
    assert_eq!((again.summary, again.patients), (summary, 60));
    assert!(cohort.rows(patient - 1..patient)[0].breath.is_err());
}

#[test]
fn closed_form_shares_and_quantiles_of_a_tight_cohort() {
    // VT = C·(Pc − R·Q − what the valve holds), so VT/kg is as lognormal as C.
    let vary = "vary: (compliance_ml_cmh2o: LogNormal(median: 4.2, log_sd: 0.3)),
        breath: Number(n: 10)";
    let mut cohort = cohort(40_000, vary);
    cohort.base.circuit.compliance = Compliance::ml_per_cmh2o(0.01);
    cohort.base.ventilator.inspiratory_time_limit = Seconds::s(20.0);
    cohort.base.ventilator.expiratory_time = Seconds::s(4.0);
    let summary = summarise(&cohort, |_| ());
    // 1.8 L/min is 0.03 L/s: 20 and 5 cmH2O·s/L take 0.6 and 0.15 cmH2O.
    let driving = 10.0 - 0.6 - 0.15;
    let middle = 4.2 / 4.0 * driving;
    let volume = summary.spread(Metric::InspiredTidalVolumePerKg);
    // Quantiles of the normal distribution at 5, 50 and 95 %; the standard error of
    // the outer ones is about 0.3·2.1/√40,000.
    for (q, z) in [(0.05, -1.644_854), (0.5, 0.0), (0.95, 1.644_854)] {
        let expected = middle * tidewright::math::exp(0.3 * z);
        let found = volume.quantile(q).unwrap();
        assert!((found / expected - 1.0).abs() < 0.013, "{q}: {found} {expected}");
    }
    // With the middle at 9.7125: Φ(ln(12/9.7125)/0.3) − Φ(ln(8/9.7125)/0.3)
    // = Φ(0.7050) − Φ(−0.6466) = 0.7596 − 0.2590; 1 − Φ(ln(15/9.7125)/0.3) = 1 − Φ(1.4488).
    let share = |count: u64| count as f64 / 40_000.0;
    assert!((share(summary.within_target) - 0.5006).abs() < 0.01, "{summary:?}");
    assert!((share(summary.harmed) - 0.0737).abs() < 0.006, "{summary:?}");
    assert_eq!(summary.well, summary.within_target);
    assert_eq!(summary.ended_by_pressure, 40_000);
}

#[test]
fn closed_form_moments_of_each_distribution() {
    let mut random = tidewright::random::generator(9);
    let mut moments = |text: &str| {
        let cohort = cohort(1, &format!("vary: (weight_kg: {text})"));
        let from = cohort.file.vary.weight_kg.unwrap();
        let values: Vec<f64> = (0..50_000).map(|_| from.draw(&mut random)).collect();
        let mean = values.iter().sum::<f64>() / 50_000.0;
        let variance = values.iter().map(|x| (x - mean) * (x - mean)).sum::<f64>() / 50_000.0;
        (mean, variance.sqrt())
    };
    let close = |(mean, sd): (f64, f64), expected: (f64, f64)| {
        let off = 5.0 * expected.1 / 50_000.0_f64.sqrt();
        assert!((mean - expected.0).abs() <= off, "mean {mean} instead of {}", expected.0);
        assert!((sd - expected.1).abs() <= 1.2 * off, "sd {sd} instead of {}", expected.1);
    };
    close(moments("Uniform(from: 2, to: 5)"), (3.5, 3.0 / 12.0_f64.sqrt()));
    close(moments("Normal(mean: 10, sd: 1)"), (10.0, 1.0));
    let factor = tidewright::math::exp(0.02);
    let spread = 6.0 * factor * tidewright::math::expm1(0.04).sqrt();
    close(moments("LogNormal(median: 6, log_sd: 0.2)"), (6.0 * factor, spread));
}

#[test]
fn individual_lungs_differ_and_rules_know_only_the_typical_one() {
    let goals = "(tidal_volume_ml_kg: 10, rate_per_min: 12, inspiratory_time_s: 1.5)";
    let by = |settings: &str| {
        let rest = format!(
            "lungs: Individual, vary: (weight_kg: Uniform(from: 2.5, to: 6)), settings: {settings}"
        );
        let cohort = cohort(600, &rest);
        (summarise(&cohort, |_| ()), cohort)
    };
    let (planned, cohort) = by(&format!("Plan{goals}"));
    let (ruled, _) = by(&format!("RuleOfThumb{goals}"));
    let (fixed, _) = by("Fixed");
    assert_eq!(planned.without_breath + ruled.without_breath + fixed.without_breath, 0);
    // The plan is right for the middle of the population, the rule gives it too little.
    let middle =
        |summary: &Summary| summary.spread(Metric::InspiredTidalVolumePerKg).quantile(0.5).unwrap();
    assert!((middle(&planned) - 10.0).abs() < 0.3, "{}", middle(&planned));
    assert!(middle(&ruled) < middle(&planned) - 0.3, "{}", middle(&ruled));
    assert!(planned.within_target > fixed.within_target, "{planned:?}");
    for row in cohort.rows(0..20) {
        let weight = row.weight;
        let lung = |of: &Animal| Setup { lung: of.lung(), ..cohort.base.clone() };
        let typical = lung(&Animal::typical(Species::Cat, weight));
        let wanted = Goals {
            weight,
            pace: Pace::Rate { per_min: 12.0 },
            inspiratory_time: Seconds::s(1.5),
            ..Goals::default()
        };
        assert_eq!(&row.ventilator, plan(&typical, &wanted).unwrap().ventilator());
        assert_ne!(row.compliance_ml_cmh2o, typical.lung.total_compliance().as_ml_per_cmh2o());
    }
}

#[test]
fn flow_by_weight_and_drawn_settings_go_where_they_belong() {
    let cohort = cohort(
        30,
        "settings: FlowByWeight(l_min_for_each_kg: 0.5), vary: (
            weight_kg: Uniform(from: 2, to: 6),
            compliance_ml_cmh2o_kg: Normal(mean: 1.5, sd: 0),
            cycling_pressure_cmh2o: Normal(mean: 9, sd: 0.5),
            end_expiratory_pressure_cmh2o: Uniform(from: 0, to: 2))",
    );
    for row in cohort.rows(0..30) {
        let kg = row.weight.as_kg();
        assert_eq!(row.ventilator.fresh_gas_flow, Flow::l_per_min(0.5 * kg));
        assert!((row.compliance_ml_cmh2o - 1.5 * kg).abs() < 1e-12);
        let pressure = row.ventilator.cycling_pressure.as_cmh2o();
        assert!((7.0..=11.0).contains(&pressure) && pressure != 9.0);
        let device = row.ventilator.end_expiratory_pressure.as_cmh2o();
        assert!(device > 0.0);
        assert!(row.breath.unwrap().baseline_pressure_cmh2o[0] >= device);
    }
}

#[test]
fn files_that_contradict_themselves_are_refused_with_their_place() {
    let wrong = |rest: &str| {
        let text = format!("Cohort(format: 1, id: \"a\", base: \"b.ron\", patients: 9,\n{rest})");
        let rejected = CohortFile::parse("a.ron", &text).unwrap_err();
        let fault = &rejected.faults()[0];
        (rejected.place(fault).line, format!("{fault}; {}", fault.mend()))
    };
    for (rest, words) in [
        ("vary: (weight_kg: Uniform(from: 5, to: 3))", "drawn from 5 to 3; exchange"),
        ("vary: (weight_kg: Normal(mean: 0, sd: 1))", "`mean`"),
        ("vary: (weight_kg: Beta(a: 1))", "Uniform"),
        ("vary: (name: Uniform(from: 1, to: 2))", "has no field `name`"),
        ("targets: [(measure: Rate, from: 9, to: 8)]", "exchange the two"),
        ("harms: [(measure: PeakPresure, above: 25)]", "did you mean `PeakPressure`?"),
        ("breath: Number(n: 0)", "`n`"),
        ("settings: Plan(rate_per_min: 12)", "tidal_volume_ml_kg"),
        (
            "vary: (compliance_ml_cmh2o: Uniform(from: 1, to: 2), compliance_ml_cmh2o_kg: \
             Uniform(from: 1, to: 2))",
            "drawn twice",
        ),
    ] {
        let (line, said) = wrong(rest);
        assert!(said.contains(words), "{rest}: {said}");
        assert_eq!(line, 2, "{rest}");
    }
}

/// The setup of a row's patient, made by hand.
fn setup(cohort: &Cohort, row: &Row) -> Setup {
    let mut setup = cohort.base.clone();
    setup.lung = Lung::single(
        Compliance::ml_per_cmh2o(row.compliance_ml_cmh2o),
        Resistance::cmh2o_s_per_l(row.resistance_cmh2o_s_l),
    );
    setup.ventilator = row.ventilator;
    setup
}

fn same(found: &Breaths<1>, expected: &Breath, weight: Mass, tolerance: f64) {
    assert_eq!(found.ended_by_pressure[0], expected.ended_by == EndedBy::Pressure);
    for metric in Metric::ALL {
        let (found, expected) = (metric.told(&found.into(), weight), metric.of(expected, weight));
        let off = (found - expected).abs() / expected.abs().max(1.0);
        assert!(off <= tolerance, "{metric}: {found} instead of {expected}");
    }
}

/// Tidal volumes of the first three patients, mL, as bits.
const REGRESS: [u64; 3] =
    [4_633_572_153_327_346_857, 4_634_961_648_030_898_869, 4_632_670_423_331_195_457];

const FOLLOWED: &str = "lungs: Individual, vary: (weight_kg: Normal(mean: 4, sd: 0.8)), gas: (
    duration_s: 120, faults: [(at_s: 30, fault: PatientDisconnected)], time_apnoeic_s: 60)";

/// Patients that come off after 30 s breathe no more, and stop at any row and go on.
#[test]
fn twin_gas_of_a_cohort_is_that_of_each_patient_and_goes_on_where_it_stopped() {
    let cohort = cohort(40, FOLLOWED);
    for row in cohort.rows(0..4) {
        let gas = row.gas.unwrap();
        assert!((80.0..=95.0).contains(&gas.time_apnoeic_s), "{gas:?}");
        assert_eq!(gas.time_apnoeic_s, gas.longest_without_breath_s);
        assert!((20.0..60.0).contains(&gas.highest_end_tidal_co2_mmhg), "{gas:?}");
        assert!((30.0..=100.0).contains(&gas.lowest_spo2_percent) && row.harmed, "{gas:?}");
    }
    let mut whole = Vec::new();
    let summary = write(&cohort, Resume::from_scratch(), &mut whole, |_| ()).unwrap();
    assert_eq!((summary.harmed, summary.of_gas()[0].count), (40, 40));
    let stopped = &whole[..whole.len() * 2 / 3];
    let left = resume(&cohort, stopped).unwrap();
    assert!(left.patients > 20 && left.patients < 40, "{}", left.patients);
    let mut text = whole[..left.bytes as usize].to_vec();
    let taken_up = write(&cohort, left, &mut text, |_| ()).unwrap();
    assert!(text == whole && taken_up == summary);
}

#[test]
fn law_a_table_of_an_older_version_is_told_as_such() {
    let cohort = cohort(10, DRAWN);
    let mut whole = Vec::new();
    write(&cohort, Resume::from_scratch(), &mut whole, |_| ()).unwrap();
    let text = String::from_utf8(whole).unwrap();
    let older = |line: &str| line.rsplit_once(',').unwrap().0.to_owned() + "\n";
    let older: String = text.lines().map(older).collect();
    assert!(matches!(resume(&cohort, older.as_bytes()), Err(ResumeError::Older)));
}

#[test]
fn law_the_cohort_of_the_reference_can_be_read() {
    let page = tidewright_scenario::reference();
    let text = page.split("```ron\n").find(|text| text.starts_with("Cohort(")).unwrap();
    let file = CohortFile::parse("reference.ron", text.split("```").next().unwrap()).unwrap();
    assert_eq!(file.gas.unwrap().faults.len(), 1);
}
