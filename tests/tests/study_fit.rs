//! Resistance and compliance from waveforms: what was put in comes out, as closely
//! as the standard errors say and no less often.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

use rayon::prelude::*;
use tidewright::machine::Signal;
use tidewright::prelude::*;
use tidewright::random::{generator, standard_normal};
use tidewright::trace::Sampler;
use tidewright_study::fit::{Columns, Estimate, Fit, FitError, Offer, Record, Term, Warning, fit};

const COMPLIANCE: f64 = 5.0;
const RESISTANCE: f64 = 30.0;

#[test]
fn twin_the_settings_of_a_clean_run_come_out() {
    let fit = fit(&recorded(&cat(), 100.0, 12.0)).unwrap();
    for estimates in [&fit.linear, &fit.refined] {
        near(estimates.compliance_ml_cmh2o.value, COMPLIANCE, 1e-9);
        near(estimates.resistance_cmh2o_s_l.value, RESISTANCE, 1e-9);
        assert!(estimates.baseline_cmh2o.value.abs() < 1e-9);
    }
    assert_eq!(fit.warnings, []);
    // Integrated, with jumps of the flow between samples: plain
    // least squares takes the error of the volume for real.
    let mut record = recorded(&cat(), 200.0, 12.0);
    record.volume_ml = None;
    let fit = tidewright_study::fit::fit(&record).unwrap();
    near(fit.refined.compliance_ml_cmh2o.value, COMPLIANCE, 1e-6);
    // On an exponential the trapezoidal rule alone would err by (h/τ)²/12 = 1e-4.
    near(fit.refined.resistance_cmh2o_s_l.value, RESISTANCE, 2e-4);
    assert!((fit.linear.resistance_cmh2o_s_l.value / RESISTANCE - 1.0).abs() > 1e-3);
}

/// In 95 % ± 2 % of 2,000 noisy runs the truth lies within 1.96 standard errors.
#[test]
fn closed_form_intervals_hold_the_truth_as_often_as_they_say() {
    struct Case {
        pressure_noise: f64,
        flow_noise: f64,
        volume_noise: Option<f64>,
    }
    let clean = recorded(&cat(), 50.0, 8.0);
    for (seed, case) in [
        // Pressure alone, the volume known.
        Case { pressure_noise: 0.3, flow_noise: 0.0, volume_noise: Some(0.0) },
        // Every column noisy.
        Case { pressure_noise: 0.2, flow_noise: 3.0, volume_noise: Some(0.5) },
        // The volume integrated from the noisy flow.
        Case { pressure_noise: 0.1, flow_noise: 3.0, volume_noise: None },
    ]
    .into_iter()
    .enumerate()
    {
        // A volume of smooth flows, so that only noise comes between.
        let clean = if case.volume_noise.is_none() { smooth(50.0, 8.0) } else { clean.clone() };
        let held: Vec<[bool; 3]> = (0..2000_u64)
            .into_par_iter()
            .map(|run| {
                let mut random = generator(1_000_000 * (seed as u64 + 1) + run);
                let mut record = clean.clone();
                let mut add = |to: &mut Vec<f64>, sd: f64| {
                    to.iter_mut().for_each(|x| *x += sd * standard_normal(&mut random));
                };
                add(&mut record.pressure_cmh2o, case.pressure_noise);
                add(&mut record.flow_ml_s, case.flow_noise);
                match (case.volume_noise, &mut record.volume_ml) {
                    (Some(sd), Some(volume)) => add(volume, sd),
                    _ => record.volume_ml = None,
                }
                let refined = fit(&record).unwrap().refined;
                let holds = |estimate: Estimate, truth: f64| {
                    (estimate.value - truth).abs() <= 1.96 * estimate.standard_error
                };
                [
                    holds(refined.resistance_cmh2o_s_l, RESISTANCE),
                    holds(refined.compliance_ml_cmh2o, COMPLIANCE),
                    holds(refined.time_constant_s, RESISTANCE * COMPLIANCE / 1e3),
                ]
            })
            .collect();
        for (index, name) in ["resistance", "compliance", "time constant"].iter().enumerate() {
            let share = held.iter().filter(|run| run[index]).count() as f64 / 2000.0;
            println!("case {seed}: {name} within 1.96 standard errors in {share}");
            assert!((0.93..=0.97).contains(&share), "case {seed}: {name} in {share}");
        }
    }
}

/// The same of recorded breaths of many patients' settings, whose flow jumps somewhere
/// between samples, integrated.
#[test]
fn closed_form_intervals_hold_the_truth_of_recorded_breaths() {
    let held: Vec<[bool; 2]> = (0..2000_u64)
        .into_par_iter()
        .map(|run| {
            let mut random = generator(77 + run);
            let mut setup = cat();
            let around = |middle: f64, random: &mut _| middle + 0.02 * standard_normal(random);
            setup.ventilator.expiratory_time = Seconds::s(around(1.5, &mut random));
            setup.ventilator.fresh_gas_flow = Flow::l_per_min(around(1.8, &mut random));
            let mut record = Record { volume_ml: None, ..recorded(&setup, 100.0, 8.0) };
            record.flow_ml_s.iter_mut().for_each(|q| *q += standard_normal(&mut random));
            record.pressure_cmh2o.iter_mut().for_each(|p| *p += 0.1 * standard_normal(&mut random));
            let refined = fit(&record).unwrap().refined;
            let holds = |estimate: Estimate, truth: f64| {
                (estimate.value - truth).abs() <= 1.96 * estimate.standard_error
            };
            [
                holds(refined.resistance_cmh2o_s_l, RESISTANCE),
                holds(refined.compliance_ml_cmh2o, COMPLIANCE),
            ]
        })
        .collect();
    for (index, name) in ["resistance", "compliance"].iter().enumerate() {
        let share = held.iter().filter(|run| run[index]).count() as f64 / 2000.0;
        assert!((0.93..=0.97).contains(&share), "{name} in {share}");
    }
}

/// Noise in the flow makes plain least squares think too little of resistance; the
/// refined estimate is right on the average.
#[test]
fn noise_in_the_flow_is_given_its_place() {
    let clean = recorded(&cat(), 50.0, 8.0);
    let means = (0..200_u64).into_par_iter().map(|run| {
        let mut random = generator(run);
        let mut record = clean.clone();
        for flow in &mut record.flow_ml_s {
            *flow += 8.0 * standard_normal(&mut random);
        }
        for pressure in &mut record.pressure_cmh2o {
            *pressure += 0.05 * standard_normal(&mut random);
        }
        let fit = fit(&record).unwrap();
        let r = |of: &Estimate| of.value / 200.0;
        [r(&fit.linear.resistance_cmh2o_s_l), r(&fit.refined.resistance_cmh2o_s_l)]
    });
    let [plain, refined] = means.reduce(|| [0.0; 2], |a, b| [a[0] + b[0], a[1] + b[1]]);
    assert!(plain < 0.97 * RESISTANCE, "{plain}");
    assert!((refined / RESISTANCE - 1.0).abs() < 0.006, "{refined}");
}

#[test]
fn samples_that_cannot_tell_are_refused_with_what_would_help() {
    let whole = recorded(&cat(), 100.0, 12.0);
    // One inspiration: the flow is all but constant once it has begun.
    let noisy = |mut record: Record| {
        let mut random = generator(5);
        record.flow_ml_s.iter_mut().for_each(|q| *q += 0.5 * standard_normal(&mut random));
        record.pressure_cmh2o.iter_mut().for_each(|p| *p += 0.1 * standard_normal(&mut random));
        record
    };
    let inspiration = noisy(whole.between(0.3, 1.5));
    let refused = fit(&inspiration).unwrap_err();
    assert!(matches!(refused, FitError::ConstantFlow { .. }), "{refused}");
    assert!(refused.to_string().contains("expiration included"), "{refused}");
    assert!(matches!(fit(&whole.between(0.0, 0.05)).unwrap_err(), FitError::TooFew(6)));
    let mut still = whole.clone();
    still.volume_ml = Some(vec![7.0; still.time_s.len()]);
    assert!(matches!(fit(&still).unwrap_err(), FitError::ConstantVolume { .. }));
    let mut one = whole.clone();
    one.volume_ml = Some(one.flow_ml_s.iter().map(|q| 2.0 * q).collect());
    assert!(matches!(fit(&one).unwrap_err(), FitError::CannotTell { .. }));
    let mut back = whole.clone();
    back.time_s[7] = 0.0;
    assert_eq!(fit(&back).unwrap_err(), FitError::Time(8));
    let mut odd = whole.clone();
    odd.pressure_cmh2o[2] = f64::NAN;
    assert_eq!(fit(&odd).unwrap_err(), FitError::NotFinite(3));
    odd.flow_ml_s.pop();
    assert_eq!(fit(&odd).unwrap_err(), FitError::Lengths);
}

#[test]
fn what_the_equation_leaves_out_is_warned_of() {
    let kinds = |setup: &Setup| -> Fit { fit(&noisy(recorded(setup, 100.0, 12.0))).unwrap() };
    let has = |fit: &Fit, of: fn(&Warning) -> bool| fit.warnings.iter().any(of);
    assert_eq!(kinds(&cat()).warnings, []);
    let mut curved = cat();
    curved.lung.tube = Tube::Quadratic { k1: 5.0, k2: 400.0 };
    let fit_of = kinds(&curved);
    assert!(has(&fit_of, |w| matches!(w, Warning::NotNoise { .. })), "{:?}", fit_of.warnings);
    // The end of an inspiration and a little of the expiration.
    let record = noisy(recorded(&cat(), 100.0, 12.0));
    let full = (0..400).max_by(|&a, &b| {
        let volume = record.volume_ml.as_ref().unwrap();
        volume[a].total_cmp(&volume[b])
    });
    let turn_s = record.time_s[full.unwrap()];
    let short = fit(&record.between(turn_s - 0.2, turn_s + 0.2)).unwrap();
    assert!(has(&short, |w| matches!(w, Warning::Short { .. })), "{:?}", short.warnings);
    // A flow whose zero is off by 2 mL/s.
    let mut off = noisy(recorded(&cat(), 100.0, 12.0));
    off.flow_ml_s.iter_mut().for_each(|q| *q += 2.0);
    off.volume_ml = None;
    let drifting = fit(&off).unwrap();
    assert!(has(&drifting, |w| matches!(w, Warning::Drift { .. })), "{:?}", drifting.warnings);
    let mut upside_down = noisy(recorded(&cat(), 100.0, 12.0));
    upside_down.flow_ml_s.iter_mut().for_each(|q| *q = -*q);
    let fit_of = fit(&upside_down).unwrap();
    assert!(has(&fit_of, |w| matches!(w, Warning::NotPositive { .. })), "{:?}", fit_of.warnings);
}

#[test]
fn closed_form_terms_that_the_equation_lacks_are_offered_where_they_are() {
    let offered = |inertance: f64, leak: f64| {
        let mut record = smooth(100.0, 12.0);
        let n = record.time_s.len();
        let lung = record.flow_ml_s.clone();
        for k in 1..n - 1 {
            let pace = 50.0 * (lung[k + 1] - lung[k - 1]);
            record.pressure_cmh2o[k] += inertance * pace;
        }
        for (flow, pressure) in record.flow_ml_s.iter_mut().zip(&record.pressure_cmh2o) {
            *flow += leak * pressure;
        }
        record.volume_ml = None;
        fit(&noisy(record)).unwrap().offers
    };
    let of = |offers: &[Offer], term: Term| {
        offers.iter().find(|offer| offer.term == term).map(|offer| offer.estimate)
    };
    let none = offered(0.0, 0.0);
    assert_eq!((of(&none, Term::Inertance), of(&none, Term::Leak)), (None, None));
    let inertance = of(&offered(5e-4, 0.0), Term::Inertance).unwrap();
    assert!((inertance.value - 0.5).abs() < 4.0 * inertance.standard_error, "{inertance:?}");
    let leak = of(&offered(0.0, 0.3), Term::Leak).unwrap();
    // To first order.
    assert!((leak.value / 0.3 - 1.0).abs() < 0.25, "{leak:?}");
    let above = of(&none, Term::EndExpiratoryPressure).unwrap();
    assert!(above.value > 0.05, "{above:?}");
}

#[test]
fn columns_are_found_by_their_units_and_faults_have_their_place() {
    let read = |text: &str| Record::read(text.as_bytes(), &Columns::default());
    let own = "t_s,airway_pressure_cmh2o,airway_flow_ml_s,lung_volume_ml,alveolar_pressure_cmh2o,\
        leak_flow_ml_s,outlet_flow_ml_s,phase\n0,1,2,3,4,5,6,inspiration\n";
    let record = read(own).unwrap();
    assert_eq!((record.pressure_cmh2o[0], record.flow_ml_s[0]), (1.0, 2.0));
    assert_eq!(record.volume_ml, Some(vec![3.0]));
    let integrate = Columns { integrate: true, ..Columns::default() };
    assert_eq!(Record::read(own.as_bytes(), &integrate).unwrap().volume_ml, None);
    let tabs = "# made by hand\nTime (min)\tP [kPa]\tV' (L/s)\tVol (L)\n1\t1\t1\t0,5\n";
    let record = read(tabs).unwrap();
    assert_eq!((record.time_s[0], record.flow_ml_s[0]), (60.0, 1000.0));
    assert!((record.pressure_cmh2o[0] - 10.197_162).abs() < 1e-6);
    assert_eq!(record.volume_ml, Some(vec![500.0]));
    for (text, words) in [
        ("t_s,pressure,flow_ml_s\n", "no column has a unit of pressure"),
        ("t_s,a_cmh2o,b_cmh2o,flow_ml_s\n", "`a_cmh2o`, `b_cmh2o` all have a unit of pressure"),
        ("t_s,p_cmh2o,flow_ml_s\n0,1,2\n1,x,3\n", "line 3: \"x\" in the column `p_cmh2o`"),
        ("t_s,p_cmh2o,flow_ml_s\n0,1,inf\n", "line 2"),
        ("t_s,p_cmh2o,flow_ml_s\n0,1\n", "3 fields"),
        ("", "time"),
    ] {
        let said = read(text).unwrap_err().to_string();
        assert!(said.contains(words), "{text:?}: {said}");
    }
    let named = Columns { flow: Some("flow".to_owned()), ..Columns::default() };
    let said = Record::read("t_s,p_cmh2o,flow\n".as_bytes(), &named).unwrap_err().to_string();
    assert!(said.contains("has no unit of flow"), "{said}");
    let named = Columns { pressure: Some("paw".to_owned()), ..Columns::default() };
    let said = Record::read("t_s,p_cmh2o\n".as_bytes(), &named).unwrap_err().to_string();
    assert!(said.contains("no column `paw`"), "{said}");
}

/// Plain least squares and errors in variables, each by another program on the same
/// samples; see `reference/fit/source.md`.
#[test]
fn twin_numpy_and_scipy_give_the_same_estimates() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/reference/fit");
    let data = std::fs::File::open(format!("{folder}/data.csv")).unwrap();
    let record = Record::read(data, &Columns::default()).unwrap();
    let fit = fit(&record).unwrap();
    let mut rows = csv::Reader::from_path(format!("{folder}/estimates.csv")).unwrap();
    let mut compared = 0;
    for row in rows.records().map(Result::unwrap) {
        let number = |i: usize| row[i].parse::<f64>().unwrap();
        let estimates = if &row[0] == "lstsq" { &fit.linear } else { &fit.refined };
        let (found, tolerance) = match &row[1] {
            "resistance_cmh2o_s_l" => (estimates.resistance_cmh2o_s_l, 1e-9),
            "compliance_ml_cmh2o" => (estimates.compliance_ml_cmh2o, 1e-9),
            _ => (estimates.baseline_cmh2o, 1e-9),
        };
        // The other program's orthogonal regression stops at 1e-8 or so, and takes its
        // standard errors from another linearisation.
        let (tolerance, of_errors) =
            if &row[0] == "lstsq" { (tolerance, 1e-9) } else { (1e-6, 0.02) };
        near(found.value, number(2), tolerance);
        // The baseline's is enlarged by what the zero of the flow may be off.
        let of_errors =
            if &row[1] == "baseline_cmh2o" { f64::max(of_errors, 0.06) } else { of_errors };
        near(found.standard_error, number(3), of_errors);
        compared += 1;
    }
    assert_eq!(compared, 6);
}

fn cat() -> Setup {
    let mut setup = Setup::default();
    setup.lung =
        Lung::single(Compliance::ml_per_cmh2o(COMPLIANCE), Resistance::cmh2o_s_per_l(RESISTANCE));
    setup.ventilator.fresh_gas_flow = Flow::ml_s(21.0);
    setup.ventilator.cycling_pressure = Pressure::cmh2o(10.0);
    setup.ventilator.inspiratory_time_limit = Seconds::s(3.0);
    setup.ventilator.expiratory_time = Seconds::s(1.25);
    setup
}

/// What a recorder at the airway would have written.
fn recorded(setup: &Setup, rate: f64, duration_s: f64) -> Record {
    let protocol =
        Protocol { start: setup.clone(), changes: Vec::new(), duration: Seconds::s(duration_s) };
    let simulation = Simulation::new(&protocol).unwrap();
    let mut sampler = Sampler::per_second(rate);
    let mut record = Record { volume_ml: Some(Vec::new()), ..Record::default() };
    for stretch in simulation.steps() {
        sampler.take(&stretch.unwrap(), |time_s, stretch, local_s| {
            let at = |signal: Signal| stretch.piece.at(signal, local_s).unwrap();
            record.time_s.push(time_s);
            record.pressure_cmh2o.push(at(Signal::AirwayPressure));
            record.flow_ml_s.push(at(Signal::AirwayFlow));
            record.volume_ml.get_or_insert_default().push(at(Signal::LungVolume));
        });
    }
    record
}

/// A flow without jumps, and the pressure that belongs to it by the equation. The
/// volume is what integration makes of the flow.
fn smooth(rate: f64, duration_s: f64) -> Record {
    let mut record = Record::default();
    for k in 0..(rate * duration_s) as u32 {
        let t = f64::from(k) / rate;
        let (sin, sin3) = (tidewright::math::sin(2.0 * t), tidewright::math::sin(6.5 * t));
        record.time_s.push(t);
        record.flow_ml_s.push(40.0 * sin + 15.0 * sin3);
    }
    let volume = record.integrated();
    let samples = volume.iter().zip(&record.flow_ml_s);
    record.pressure_cmh2o =
        samples.map(|(v, q)| v / COMPLIANCE + RESISTANCE / 1e3 * q + 2.0).collect();
    record
}

fn noisy(mut record: Record) -> Record {
    let mut random = generator(11);
    let mut add = |to: &mut Vec<f64>, sd: f64| {
        to.iter_mut().for_each(|x| *x += sd * standard_normal(&mut random));
    };
    add(&mut record.pressure_cmh2o, 0.1);
    add(&mut record.flow_ml_s, 0.5);
    record
}

fn near(value: f64, expected: f64, relative: f64) {
    assert!((value - expected).abs() <= relative * expected.abs(), "{value} is not {expected}");
}
