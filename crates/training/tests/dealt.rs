//! What a class is dealt: patients and severities differ, the lesson stays.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

mod common;

use std::sync::Arc;

use common::{lesson, lessons, tries};
use tidewright::quantity::Mass;
use tidewright::species::{Animal, Parameter};
use tidewright_scenario::Scenario;
use tidewright_scenario::format::{Act, Attempt, Dealt, Lung};
use tidewright_training::class::{Handed, deal, keys, mark_all, roster, to_csv};
use tidewright_training::debrief::debrief;
use tidewright_training::{ReplayError, SessionError, mark, replay, varied, vary};

const CLASS: &str = "pseudonym\nheron-1\nheron-2\nheron-3\nheron-4\nheron-5\nheron-6\n";

/// Seeds of classes.
const CLASSES: std::ops::Range<u32> = 11..15;

/// The expert of the case that a seed draws, as that expert would do with this
/// patient: as long after the onset, and with flow in proportion to the weight.
fn adapted(scenario: &Arc<Scenario>, dealt: &Attempt) -> Option<Attempt> {
    let onset = |attempt: &Attempt| {
        let drawn = tidewright_training::draw(scenario.training.as_ref()?, attempt.seed)?;
        Some((drawn.case.id, drawn.onset_s))
    };
    let mine = onset(dealt);
    let experts = tries(scenario).into_iter().filter(|one| one.name.starts_with("expert"));
    let case = |of: &Option<(tidewright_scenario::format::Id, f64)>| of.clone().map(|(id, _)| id);
    let expert = experts.map(|one| one.attempt).find(|one| case(&onset(one)) == case(&mine))?;
    let own_s = onset(&expert).map_or(0.0, |(_, at_s)| at_s);
    let later_s = mine.map_or(0.0, |(_, at_s)| at_s) - own_s;
    let heavier = dealt.dealt.as_ref().map_or(1.0, |d| d.weight_kg / scenario.patient.weight_kg);
    let mut own = Attempt { ended_at_s: scenario.duration_s, ..dealt.clone() };
    own.acts = expert.acts;
    for timed in &mut own.acts {
        if timed.at_s >= own_s {
            timed.at_s += later_s;
        }
        if let Act::FreshGasFlow(flow) = &mut timed.act {
            flow.l_min *= heavier;
        }
    }
    Some(own)
}

#[test]
fn experts_pass_with_the_patients_of_a_class_and_doing_nothing_fails() {
    let ids = roster(CLASS).unwrap();
    let mut faults = Vec::new();
    let mut passed = 0;
    for path in lessons() {
        let scenario = lesson(&path);
        for (hand, key) in CLASSES.flat_map(|seed| deal(&scenario, &ids, seed)) {
            let dealt = hand.to_attempt(&scenario);
            let nothing = Attempt { ended_at_s: scenario.duration_s, ..dealt.clone() };
            let expert = adapted(&scenario, &dealt);
            let expert = expert.unwrap_or_else(|| panic!("{}: no expert of {key:?}", scenario.id));
            for (attempt, passes) in [(nothing, false), (expert, true)] {
                let marking = mark(&scenario, &attempt).unwrap();
                passed += usize::from(marking.passed);
                if marking.passed != passes {
                    let unmet = marking.criteria.iter().filter(|judged| !judged.met);
                    let unmet = unmet.map(|j| format!("\n    {}: {}", j.measure, j.found));
                    let unmet: String = unmet.collect();
                    faults.push(format!("{} {key:?} passed: {}{unmet}", scenario.id, !passes));
                }
            }
        }
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
    assert_eq!(passed, CLASSES.count() * ids.len() * lessons().len());
}

#[test]
fn every_student_has_a_patient_of_a_usual_weight_that_the_story_tells() {
    let ids = roster(CLASS).unwrap();
    for path in lessons() {
        let scenario = lesson(&path);
        let varies = scenario.training.as_ref().unwrap().varies.clone();
        let (light, heavy) = scenario.patient.species.to_core().usual_weight_kg();
        let mut weights = Vec::new();
        for (hand, key) in deal(&scenario, &ids, 3) {
            let Some(dealt) = &hand.dealt else {
                assert_eq!((varies.weight_percent, varies.severity_percent), (0.0, 0.0));
                continue;
            };
            assert_eq!(
                (key.weight_kg, key.severity_factor),
                (dealt.weight_kg, dealt.severity_factor)
            );
            assert!((light..=heavy).contains(&dealt.weight_kg));
            let share = dealt.weight_kg / scenario.patient.weight_kg - 1.0;
            // A scale's last digit is a hundredth of the weight at most, twice rounded.
            assert!(100.0 * share.abs() <= varies.weight_percent + 3.0, "{share}");
            let own = varied(&scenario, dealt).unwrap();
            let story = own.story_told().unwrap();
            assert!(story.contains(&own.patient.weight_told()), "{story}");
            let was = format!(" {}", scenario.patient.weight_told());
            assert!(
                own.patient.weight_kg == scenario.patient.weight_kg || !story.contains(&was),
                "{story}"
            );
            weights.push(dealt.weight_kg);
        }
        weights.sort_by(f64::total_cmp);
        weights.dedup();
        assert!(weights.len() >= 3 || varies.weight_percent == 0.0, "{weights:?}");
    }
}

/// What is typical of the species at two weights has the ratio that a lesson's own
/// lung has; oracle: the table of species laws, which has tests of its own.
#[test]
fn closed_form_a_dealt_lung_follows_the_laws_of_its_species() {
    for path in lessons() {
        let scenario = lesson(&path);
        let Some(dealt) = vary(&scenario, 5) else { continue };
        let own = varied(&scenario, &dealt).unwrap();
        let typical = |kg: f64, parameter| {
            let species = scenario.patient.species.to_core();
            Animal::typical(species, Mass::kg(kg)).value(parameter)
        };
        let ratio = |parameter| {
            typical(dealt.weight_kg, parameter) / typical(scenario.patient.weight_kg, parameter)
        };
        let parts = |scenario: &Scenario| match scenario.patient.lung.clone().unwrap() {
            Lung::Single(only) => vec![only],
            Lung::Compartments(lung) => lung.compartments,
        };
        for (mine, file) in parts(&own).iter().zip(parts(&scenario)) {
            let compliance = mine.compliance_ml_cmh2o / file.compliance_ml_cmh2o;
            assert!((compliance / ratio(Parameter::Compliance) - 1.0).abs() < 1e-12);
            // Heavier animals have wider airways and tubes.
            let resistance = mine.resistance_cmh2o_s_l / file.resistance_cmh2o_s_l;
            assert_eq!(resistance < 1.0, dealt.weight_kg > scenario.patient.weight_kg);
        }
        assert_eq!(own.ventilator, scenario.ventilator, "settings are the student's to change");
    }
}

#[test]
fn what_was_dealt_is_part_of_the_log_and_of_every_mark() {
    let path = lessons().into_iter().find(|path| path.to_str().unwrap().contains("juno")).unwrap();
    let scenario = lesson(&path);
    let dealt = Dealt { weight_kg: 4.1, severity_factor: 1.1 };
    let attempt = |dealt: Option<Dealt>| {
        let expert = tries(&scenario).into_iter().find(|one| one.name == "expert").unwrap();
        Attempt { dealt, ..expert.attempt }
    };
    let mine = attempt(Some(dealt.clone()));
    let session = replay(&scenario, &mine).unwrap();
    assert_eq!(session.scenario().patient.weight_kg, 4.1);
    assert_eq!(session.attempt(mine.pseudonym.clone()), mine);
    assert_ne!(mark(&scenario, &mine).unwrap(), mark(&scenario, &attempt(None)).unwrap());
    let text = debrief(&scenario, &mine, None).unwrap().to_text();
    assert_ne!(text, debrief(&scenario, &attempt(None), None).unwrap().to_text());
    let again = tidewright_scenario::parse_attempt("a.ron", &mine.to_ron()).unwrap();
    assert_eq!(again, mine);
    let wrong = [
        (
            Dealt { weight_kg: 9.0, ..dealt.clone() },
            "a weight of 9 kg; this lesson deals 3.1 to 4.1 kg",
        ),
        (Dealt { severity_factor: 0.6, ..dealt }, "a severity factor of 0.6"),
    ];
    for (dealt, says) in wrong {
        let error = replay(&scenario, &attempt(Some(dealt))).unwrap_err();
        assert!(matches!(error, ReplayError::Session(SessionError::NotDealt(_))));
        assert!(error.to_string().contains(says), "{error}");
    }
}

#[test]
fn law_a_class_is_marked_to_the_same_bytes_on_any_number_of_cores() {
    let path = lessons().into_iter().find(|path| path.to_str().unwrap().contains("juno")).unwrap();
    let scenario = lesson(&path);
    let ids = roster(CLASS).unwrap();
    let mut files = Vec::new();
    for (hand, _) in CLASSES.flat_map(|seed| deal(&scenario, &ids, seed)) {
        let dealt = hand.to_attempt(&scenario);
        let expert = adapted(&scenario, &dealt).unwrap();
        let nothing = Attempt { ended_at_s: 200.0, ..dealt };
        for (name, text) in [("a.ron", nothing.to_ron()), ("b.json", expert.to_json())] {
            files.push(Handed { file: format!("{}-{name}", hand.seed), text: Ok(text) });
        }
        files.push(Handed { file: format!("{}-bad.ron", hand.seed), text: Ok("Attempt(".into()) });
        files.push(Handed { file: format!("{}-gone.ron", hand.seed), text: Err("gone".into()) });
    }
    let marked = |cores: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(cores).build().unwrap();
        let mut told = Vec::new();
        let rows = pool.install(|| mark_all(&scenario, &files, None, None, |done| told.push(done)));
        assert_eq!(told, (1..=files.len()).collect::<Vec<_>>());
        rows
    };
    let alone = marked(1);
    assert_eq!(alone.iter().map(|row| &row.file).collect::<Vec<_>>(), {
        files.iter().map(|handed| &handed.file).collect::<Vec<_>>()
    });
    for cores in [2, 3, 8] {
        assert_eq!(to_csv(&marked(cores)), to_csv(&alone));
    }
    let count = |result: &str| alone.iter().filter(|row| row.result == result).count();
    let each = files.len() / 4;
    assert_eq!([count("passed"), count("not passed"), count("not marked")], [each, each, 2 * each]);
}

#[test]
fn logs_that_are_the_same_name_each_other_and_many_are_counted() {
    let path = lessons().into_iter().find(|path| path.to_str().unwrap().contains("juno")).unwrap();
    let scenario = lesson(&path);
    let expert = tries(&scenario).into_iter().find(|one| one.name == "expert").unwrap().attempt;
    let class = |count: usize| {
        let handed = |k| Handed { file: format!("{k}.ron"), text: Ok(expert.to_ron()) };
        let files: Vec<Handed> = (0..count).map(handed).collect();
        mark_all(&scenario, &files, None, None, |_| {})
    };
    assert_eq!(class(1)[0].same_log_as, "");
    assert_eq!(class(3)[1].same_log_as, "0.ron; 2.ron");
    let many = class(30);
    let names = "0.ron; 1.ron; 2.ron; 3.ron; 4.ron; 5.ron; 6.ron; 7.ron; and 21 more";
    assert_eq!(many[20].same_log_as, names);
}

#[test]
fn a_mark_that_a_spreadsheet_puts_before_a_table_does_no_harm() {
    let listed = roster("\u{feff}pseudonym\nheron-1\n").unwrap();
    assert_eq!(listed.len(), 1);
    let table = "\u{feff}pseudonym,seed,weight_kg,severity_factor,case,onset_s\nheron-1,4,4,1,,\n";
    assert_eq!(keys(table).unwrap().len(), 1);
    let head = table.lines().next().unwrap();
    assert!(keys(head).unwrap_err().to_string().contains("names nobody"));
}

/// Found by the hunt over tables: such a key was read as it stood, and no log was like it.
#[test]
fn a_key_is_read_as_dealing_would_have_written_it() {
    let head = "pseudonym,seed,weight_kg,severity_factor,case,onset_s\n";
    let read = keys(&format!("{head}Heron,7,4.2,1,-a leak,30.5\n")).unwrap();
    assert_eq!((read[0].pseudonym.as_str(), read[0].case.as_deref()), ("heron", Some("'-a leak")));
    for row in ["he\"ron,7,4,1,,", "heron,7,-4,1,,", "heron,7,4,1,a\u{202e}b,", "heron,7,4,1,,-3"] {
        assert_eq!(keys(&format!("{head}{row}\n")).unwrap_err().0[0].line, 2, "{row}");
    }
}
