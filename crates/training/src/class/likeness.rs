//! What the times of acts tell of how a log came about. None of it proves anything: who
//! sits beside a friend acts alike, and a log is no proof of who acted.

use std::collections::BTreeMap;

use tidewright_scenario::Scenario;
use tidewright_scenario::format::Attempt;

use crate::case::draw::draw;

/// Fewest acts that can be alike or evenly spaced by more than chance.
const FEWEST_ACTS: usize = 4;
/// Near-copies: every act comes as long after the one before, within this, s. Two people
/// who do the same differ by seconds (from memory).
const ALIKE_WITHIN_S: f64 = 0.5;
/// Two acts that are typed are further apart, s (from memory: a word of four letters takes
/// a practised hand about half a second).
const FASTEST_HAND_S: f64 = 0.15;
/// No hand keeps a beat better, s.
const STEADIEST_HAND_S: f64 = 0.002;
/// How many other files are named.
const MOST_NAMED: usize = 4;

/// What is to be told of each log, in the order of the files; empty where nothing is.
pub(super) fn remarks(
    scenario: &Scenario,
    files: &[&str],
    logs: &[Option<Attempt>],
) -> Vec<String> {
    let mut remarks: Vec<Vec<String>> =
        logs.iter().map(|log| log.as_ref().map(spacing).unwrap_or_default()).collect();
    for (near, others) in near_copies(scenario, logs) {
        let named: Vec<&str> =
            others.iter().take(MOST_NAMED).map(|&(index, _)| files[index]).collect();
        let more = others.len().saturating_sub(MOST_NAMED);
        let more = if more > 0 { format!(" and {more} more") } else { String::new() };
        let shift = others.iter().map(|&(_, shift_s)| shift_s).fold(0.0, f64::max);
        remarks[near].push(format!(
            "the same acts as {}{more}, at the same times after the onset but for a shift of at \
             most {shift:.1} s",
            named.join("; ")
        ));
    }
    remarks.into_iter().map(|of_one| of_one.join("; ")).collect()
}

fn spacing(log: &Attempt) -> Vec<String> {
    let gaps: Vec<f64> = log.acts.windows(2).map(|two| two[1].at_s - two[0].at_s).collect();
    let mut told = Vec::new();
    // Acts at one moment are typed between two waits; that is how plain lines work.
    let fast = gaps.iter().filter(|&&gap| gap > 0.0 && gap < FASTEST_HAND_S).count();
    if fast >= 2 {
        told.push(format!(
            "{fast} acts follow the one before within {FASTEST_HAND_S} s: faster than a hand types"
        ));
    }
    let (least, most) = gaps
        .iter()
        .fold((f64::INFINITY, 0.0_f64), |(least, most), &gap| (least.min(gap), most.max(gap)));
    let odd = |gap: f64| (gap - gap.round()).abs() > 0.01;
    if gaps.len() >= FEWEST_ACTS && most - least < STEADIEST_HAND_S && least > 0.0 && odd(least) {
        told.push(format!("every act comes {least:.3} s after the one before"));
    }
    told
}

/// For each log the others that have the same acts as long after the onset, but for one
/// shift, and that shift, s. The very same logs are told elsewhere.
fn near_copies(
    scenario: &Scenario,
    logs: &[Option<Attempt>],
) -> BTreeMap<usize, Vec<(usize, f64)>> {
    let onset_s = |log: &Attempt| {
        let training = scenario.training.as_ref()?;
        draw(training, log.seed).map(|drawn| drawn.onset_s)
    };
    let mut alike: BTreeMap<Vec<String>, Vec<(usize, Vec<f64>)>> = BTreeMap::new();
    for (index, log) in logs.iter().enumerate() {
        let Some(log) = log.as_ref().filter(|log| log.acts.len() >= FEWEST_ACTS) else { continue };
        let from_s = onset_s(log).unwrap_or(0.0);
        let acts = log.acts.iter().map(|timed| format!("{:?}", timed.act)).collect();
        let times = log.acts.iter().map(|timed| timed.at_s - from_s).collect();
        alike.entry(acts).or_default().push((index, times));
    }
    let mut near: BTreeMap<usize, Vec<(usize, f64)>> = BTreeMap::new();
    for group in alike.values() {
        for (place, (a, times)) in group.iter().enumerate() {
            for (b, others) in &group[place + 1..] {
                let apart = times.iter().zip(others).map(|(x, y)| x - y);
                let (least, most) = apart
                    .fold((f64::INFINITY, f64::NEG_INFINITY), |(least, most), apart| {
                        (least.min(apart), most.max(apart))
                    });
                let same_log = logs[*a].as_ref().map(|log| &log.acts)
                    == logs[*b].as_ref().map(|log| &log.acts);
                if most - least <= ALIKE_WITHIN_S && !same_log {
                    let shift_s = least.abs().max(most.abs());
                    near.entry(*a).or_default().push((*b, shift_s));
                    near.entry(*b).or_default().push((*a, shift_s));
                }
            }
        }
    }
    near
}

#[cfg(test)]
mod tests {
    use super::*;

    fn log(times: &[f64]) -> Option<Attempt> {
        let acts = ["Listen", "ReseatJoint", "FreshGasFlow(l_min: 2)", "Listen", "Look"];
        let acts = times.iter().zip(acts);
        let acts: Vec<String> =
            acts.map(|(at_s, act)| format!("(at_s: {at_s}, act: {act})")).collect();
        let text = format!(
            "(format: 1, scenario: \"x\", seed: 1, engine: \"0\", pseudonym: \"x\", ended_at_s: 99, \
             acts: [{}])",
            acts.join(", ")
        );
        Some(tidewright_scenario::parse_attempt("x.ron", &text).unwrap())
    }

    #[test]
    fn a_copy_that_is_shifted_a_little_is_told_and_a_like_session_is_not() {
        let scenario = tidewright_scenario::parse("demo.ron", tidewright_scenario::DEMO).unwrap();
        let first = [10.0, 14.2, 21.7, 30.1];
        let shifted = [12.1, 16.2, 23.9, 32.2];
        let own = [10.4, 17.2, 22.0, 36.1];
        let logs = [log(&first), log(&shifted), log(&own), None];
        let told = remarks(&scenario, &["a.ron", "b.ron", "c.ron", "d.ron"], &logs);
        assert!(
            told[0].contains("the same acts as b.ron") && told[1].contains("a.ron"),
            "{told:?}"
        );
        assert_eq!((told[2].as_str(), told[3].as_str()), ("", ""));
    }

    #[test]
    fn spacing_that_no_hand_makes_is_told_and_that_of_lines_is_not() {
        let told = |times: &[f64]| spacing(&log(times).unwrap()).join("; ");
        assert!(told(&[10.0, 10.05, 10.11, 14.0]).contains("2 acts follow"));
        assert!(told(&[1.0, 4.37, 7.74, 11.11, 14.48]).contains("every act comes 3.370 s"));
        assert_eq!(told(&[10.0, 10.0, 10.0, 20.0, 30.0]), "");
        assert_eq!(told(&[5.0, 10.0, 15.0, 20.0, 25.0]), "");
    }
}
