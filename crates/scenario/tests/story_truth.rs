//! A story is held to the breaths it tells of: every scenario that is shipped, and a
//! thousand that nobody wrote. A direction that is told is the direction that is there.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

use std::path::{Path, PathBuf};

use tidewright::breath::{Breath, EndedBy};
use tidewright_scenario::report::{self, happenings};
use tidewright_scenario::{Scenario, parse};

/// A number as a story says it: three digits, none beyond hundredths.
fn close(told: f64, value: f64) -> bool {
    (told - value).abs() <= 0.0051_f64.max(0.0051 * value.abs())
}

/// The number that follows some words.
fn number(text: &str, after: &str) -> Option<f64> {
    let rest = text.split_once(after)?.1;
    let end = rest.find(|c: char| !c.is_ascii_digit() && c != '.' && c != '-')?;
    rest[..end].trim_end_matches('.').parse().ok()
}

/// The last breath that lies within a time as a whole.
fn last_within(breaths: &[Breath], from_s: f64, until_s: f64, is_last: bool) -> Option<&Breath> {
    breaths.iter().rfind(|breath| {
        let start_s = breath.start.as_s();
        let end_s = (breath.start + breath.inspiratory_time + breath.expiratory_time).as_s();
        start_s + 1e-9 >= from_s && start_s + 1e-9 < until_s && (is_last || end_s + 1e-9 < until_s)
    })
}

/// What is wrong with the story of a scenario; nothing if all of it is true.
fn untruths(scenario: &Scenario) -> Vec<String> {
    let mut breaths = Vec::new();
    let ending = report::run(scenario, |_, breath| {
        breaths.extend(breath.copied());
        Ok(())
    })
    .unwrap();
    let story = &ending.story;
    let mut wrong = Vec::new();
    let mut times: Vec<f64> = happenings(scenario).iter().map(|one| one.at_s).collect();
    times.retain(|&at_s| at_s > 0.0);
    times.dedup();
    let chapters: Vec<(f64, f64)> = [0.0]
        .into_iter()
        .chain(times.iter().copied())
        .zip(times.iter().copied().chain([f64::INFINITY]))
        .collect();
    let last: Vec<Option<&Breath>> = chapters
        .iter()
        .map(|&(from_s, until_s)| last_within(&breaths, from_s, until_s, until_s.is_infinite()))
        .collect();
    // Own breaths without a ventilator are told by the gas.
    let by_machine = ending.summary.breaths > 0;
    let told_of = |at_s: f64| {
        story.split("At ").skip(1).find(|rest| {
            let end = rest.find(' ').unwrap_or(0);
            rest[end..].starts_with(" s ")
                && rest[..end].parse::<f64>().is_ok_and(|told| close(told, at_s))
        })
    };
    if by_machine && times.len() <= 3 {
        for &at_s in &times {
            if told_of(at_s).is_none() {
                wrong.push(format!("nothing is told of {at_s} s"));
            }
        }
    } else if by_machine && !story.contains(&format!("Of {} times of change", times.len())) {
        wrong.push("changes are neither told nor counted".to_owned());
    }
    for (k, &(at_s, _)) in chapters.iter().enumerate().skip(1) {
        let (Some(sentence), Some(now)) = (told_of(at_s), last[k]) else { continue };
        let sentence = sentence.split("At ").next().unwrap();
        let time_s = now.inspiratory_time.as_s();
        for words in ["inspiration then lasts ", "inspiration still lasts "] {
            if number(sentence, words).is_some_and(|told| !close(told, time_s)) {
                wrong.push(format!("`{words}` is not {time_s} s: {sentence}"));
            }
        }
        let Some(then) = last[k - 1] else { continue };
        if sentence.contains("no longer the pressure") && then.ended_by != EndedBy::Pressure
            || sentence.contains("no longer the time limit") && then.ended_by != EndedBy::Time
        {
            wrong.push(format!("the breath before ended otherwise: {sentence}"));
        }
    }
    // What is to be seen is told of one chapter: some pair of neighbours must have it.
    let pairs: Vec<(&Breath, &Breath)> =
        last.windows(2).filter_map(|pair| Some((pair[0]?, pair[1]?))).collect();
    let some_pair =
        |holds: &dyn Fn(&Breath, &Breath) -> bool| pairs.iter().any(|(then, now)| holds(then, now));
    if let Some(told_s) = number(story, "longer inspiration of ") {
        let before_s = number(story.split_once("longer inspiration of ").unwrap().1, "(before: ");
        let is_so = before_s.is_some_and(|before_s| {
            told_s > before_s
                && some_pair(&|then, now| {
                    close(told_s, now.inspiratory_time.as_s())
                        && close(before_s, then.inspiratory_time.as_s())
                        && now.leaked > then.leaked
                })
        });
        if !is_so {
            wrong.push("no inspiration became longer by a leak".to_owned());
        }
    }
    if story.contains("cmH2O before and after: it cannot show the change")
        && !some_pair(&|then, now| {
            let same = (then.peak_pressure - now.peak_pressure).as_cmh2o().abs() < 0.05;
            let longer = (then.inspiratory_time.as_s() - now.inspiratory_time.as_s()).abs() > 0.0;
            same && (longer || !story.contains("inspiratory time and the volume do"))
        })
    {
        wrong.push("no peak stayed while time and volume changed".to_owned());
    }
    let volumes = breaths.iter().map(|breath| breath.expired_tidal_volume.as_ml());
    let most = volumes.clone().fold(f64::NEG_INFINITY, f64::max);
    let least = volumes.fold(f64::INFINITY, f64::min);
    if story.contains("breaths are alike") && most - least > 0.0101 * most.abs() {
        wrong.push(format!("breaths of {least} and {most} mL are not alike"));
    }
    if number(story, "of fresh gas ").is_some()
        && let (Some(all), Some(breathed)) = (
            number(story, "Of "),
            story.split("of fresh gas ").last().and_then(|rest| {
                rest.split(' ').next().and_then(|number| number.parse::<f64>().ok())
            }),
        )
        && story.contains("L/min are breathed")
        && breathed > 1.02 * all
    {
        wrong.push(format!("{breathed} L/min cannot be breathed of {all}"));
    }
    wrong.into_iter().map(|what| format!("{}: {what}\n  {story}", scenario.id)).collect()
}

fn files(folder: &Path) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    let mut files: Vec<_> =
        entries.filter(|path| path.extension().is_some_and(|kind| kind == "ron")).collect();
    files.sort();
    files
}

#[test]
fn every_story_of_a_shipped_scenario_is_true() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../scenarios");
    let all: Vec<_> =
        [root.clone(), root.join("training")].iter().flat_map(|at| files(at)).collect();
    assert!(all.len() >= 40, "{} scenarios", all.len());
    let mut wrong = Vec::new();
    for path in all {
        let text = std::fs::read_to_string(&path).unwrap();
        let scenario = parse(&path.display().to_string(), &text).unwrap();
        wrong.extend(untruths(&scenario));
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// A plain generator: the same thousand on every machine.
struct Draw(u64);

impl Draw {
    fn between(&mut self, low: f64, high: f64) -> f64 {
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        let share = (self.0 >> 11) as f64 / (1_u64 << 53) as f64;
        ((low + (high - low) * share) * 1000.0).round() / 1000.0
    }

    fn one_of<'a>(&mut self, words: &[&'a str]) -> &'a str {
        words[(self.between(0.0, words.len() as f64 - 0.001)) as usize]
    }

    fn change(&mut self, flow: f64, compliance: f64) -> String {
        match self.between(0.0, 7.999) as usize {
            0 => format!("FreshGasFlow(l_min: {})", self.between(0.3 * flow, 2.0 * flow)),
            1 => format!("CyclingPressure(cmh2o: {})", self.between(5.0, 18.0)),
            2 => format!("InspiratoryTimeLimit(s: {})", self.between(0.5, 4.0)),
            3 => format!("ExpiratoryTime(s: {})", self.between(0.4, 4.0)),
            4 => format!("Leak(ml_min: {}, at_cmh2o: 30)", self.between(100.0, 9000.0)),
            5 => "NoLeak".to_owned(),
            6 => format!(
                "Lung(compliance_ml_cmh2o: {}, resistance_cmh2o_s_l: {})",
                self.between(0.3 * compliance, 1.5 * compliance),
                self.between(10.0, 90.0)
            ),
            _ => format!("ValveResistance(cmh2o_s_l: {})", self.between(2.0, 120.0)),
        }
    }

    fn scenario(&mut self, number: usize) -> Scenario {
        let weight = self.between(1.0, 20.0);
        let compliance = weight * self.between(0.5, 1.6);
        let flow = weight * self.between(0.2, 0.8);
        let limit = self.between(0.8, 3.5);
        let leak = self.one_of(&["", "leak: (ml_min: 400, at_cmh2o: 30),"]);
        let mut at_s = 0.0;
        let changes: String = (0..self.between(0.0, 4.999) as usize)
            .map(|_| {
                at_s += self.between(6.0, 14.0);
                format!("(at_s: {at_s:.3}, set: {}),", self.change(flow, compliance))
            })
            .collect();
        let fault = self.one_of(&[
            "",
            "KinkedTube(severity: 0.7)",
            "CuffLeak(severity: 0.8)",
            "SenseLineOff",
            "OneLungIntubation",
            "LimbBlocked(severity: 0.8)",
            "Coughing",
            "PatientDisconnected",
        ]);
        let faults = match fault {
            "" => String::new(),
            fault => format!("faults: [(at_s: {}, fault: {fault})],", self.between(0.0, 50.0)),
        };
        let text = format!(
            "Scenario(format: 1, id: \"drawn-{number}\", patient: (species: Dog, weight_kg: {weight}, \
             lung: (compliance_ml_cmh2o: {compliance:.4}, resistance_cmh2o_s_l: {})), \
             circuit: (compliance_ml_cmh2o: 0.2, {leak}), \
             ventilator: (fresh_gas_flow_l_min: {flow:.4}, cycling_pressure_cmh2o: {}, \
             inspiratory_time_limit_s: {limit}, expiratory_time_s: {}), \
             duration_s: 60, timeline: [{changes}], {faults})",
            self.between(8.0, 60.0),
            self.between(5.0, 15.0),
            self.between(0.6, 4.0)
        );
        parse("drawn.ron", &text).unwrap_or_else(|error| panic!("{error:?}\n{text}"))
    }
}

#[test]
fn a_thousand_stories_that_nobody_wrote_are_true() {
    let mut draw = Draw(12);
    let wrong: Vec<String> =
        (0..1000).flat_map(|number| untruths(&draw.scenario(number))).collect();
    let shown: Vec<&str> = wrong.iter().take(5).map(String::as_str).collect();
    assert!(wrong.is_empty(), "{} wrong, such as\n{}", wrong.len(), shown.join("\n"));
}
