//! Steps of the work: which were done in an order that holds.

use tidewright_scenario::format::{Act, ActName, StepsDone, TimedAct, WorkStep};

use super::Verdict;
use crate::session::Session;
use crate::words::text::said;

/// For so many missed steps at most the reasons are told.
const REASONS_FOR: usize = 3;

/// The share of the steps that were done, with what was not and why it is to be.
pub(super) fn in_order(session: &Session, done: &StepsDone) -> Verdict {
    let steps = &session.training().steps;
    let times = times(steps, session.acts());
    let asked = |step: &WorkStep| {
        done.steps.is_empty() || done.steps.iter().any(|one| one.as_str() == step.id.as_str())
    };
    let asked: Vec<usize> = (0..steps.len()).filter(|&index| asked(&steps[index])).collect();
    let missed: Vec<&WorkStep> =
        asked.iter().filter(|&&index| times[index].is_none()).map(|&index| &steps[index]).collect();
    let told = |step: &&WorkStep| {
        let acted = session.acts().iter().any(|timed| is_of(step, timed));
        let how = if acted { "too early" } else { "not done" };
        // Of a long list the reasons would not be read.
        match missed.len() <= REASONS_FOR {
            true => format!("{} ({how}; {})", step.says, step.because),
            false => format!("{} ({how})", step.says),
        }
    };
    let (all, count) = (asked.len(), asked.len() - missed.len());
    let share = 100.0 * count as f64 / all.max(1) as f64;
    let found = match missed.is_empty() {
        true => format!("all {all}"),
        false => {
            let told: Vec<String> = missed.iter().map(told).collect();
            format!("{count} of {all}; {}", told.join("; "))
        }
    };
    let wanted =
        format!("at least {} % of the steps, in an order that holds", said(done.at_least_percent));
    Verdict { met: share >= done.at_least_percent, found, wanted }
}

fn is_of(step: &WorkStep, timed: &TimedAct) -> bool {
    let check = match &timed.act {
        Act::Check(one) | Act::PutRight(one) => Some(&one.check),
        _ => None,
    };
    let which = step.check.as_ref().is_none_or(|own| check == Some(own));
    step.by.contains(&timed.act.name()) && (check.is_none() || which)
}

/// When each step was done so that it holds, s.
fn times(steps: &[WorkStep], acts: &[TimedAct]) -> Vec<Option<f64>> {
    let joins = |timed: &&TimedAct| matches!(timed.act.name(), ActName::Join | ActName::Part);
    let put_on = |timed: &&TimedAct| timed.act.name() == ActName::Reconnect;
    let put_on_s = acts.iter().find(put_on).map_or(f64::INFINITY, |timed| timed.at_s);
    let last_joint_s = acts.iter().filter(joins).map(|timed| timed.at_s);
    let last_joint_s = last_joint_s.filter(|&at_s| at_s <= put_on_s).fold(0.0, f64::max);
    let mut times: Vec<Option<f64>> = Vec::with_capacity(steps.len());
    for step in steps {
        let before = step.after.iter().map(|after| {
            let index = steps.iter().position(|one| one.id.as_str() == after.as_str())?;
            *times.get(index)?
        });
        // Nothing holds that needs what was not done.
        let Some(before) = before.collect::<Option<Vec<f64>>>() else {
            times.push(None);
            continue;
        };
        let from_s = before.into_iter().fold(0.0, f64::max);
        let mut own = acts.iter().filter(|timed| is_of(step, timed) && timed.at_s >= from_s);
        let tests_the_circuit = |timed: &TimedAct| {
            matches!(timed.act.name(), ActName::Trace | ActName::OccludePort | ActName::Squeeze)
        };
        let at_s = if step.by.iter().any(|name| matches!(name, ActName::Join | ActName::Part)) {
            own.rfind(|timed| timed.at_s <= put_on_s)
        } else {
            own.find(|timed| !tests_the_circuit(timed) || timed.at_s >= last_joint_s)
        };
        times.push(at_s.map(|timed| timed.at_s));
    }
    times
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::words::command::parse;

    fn steps() -> Vec<WorkStep> {
        let text = include_str!("../../../../../scenarios/training/rowan-treat-the-cause.ron");
        let steps = "steps: [
            (id: \"supply\", says: \"supply\", by: [CheckSupply], because: \"gas\"),
            (id: \"join\", says: \"join\", by: [Join], because: \"a way\"),
            (id: \"test\", says: \"test\", by: [OccludePort], after: [\"join\"], because: \"a leak\"),
            (id: \"write\", says: \"write\", by: [Record], after: [\"supply\", \"test\"], because: \"told\"),
        ], pool: [";
        let text = text.replacen("pool: [", steps, 1);
        let scenario = tidewright_scenario::parse("a.ron", &text).expect("a lesson");
        scenario.training.expect("a lesson").steps
    }

    fn done(acts: &[&str]) -> Vec<bool> {
        let timed = |(index, typed): (usize, &&str)| {
            let act = parse(typed).expect("an act");
            TimedAct { at_s: 10.0 * (index + 1) as f64, act }
        };
        let acts: Vec<TimedAct> = acts.iter().enumerate().map(timed).collect();
        times(&steps(), &acts).iter().map(Option::is_some).collect()
    }

    #[test]
    fn a_test_before_the_last_joint_does_not_hold_and_free_steps_come_in_any_order() {
        let join = "join limb.far ventilator.patient-side";
        assert_eq!(done(&["supply", join, "occlude", "record ok"]), [true; 4]);
        assert_eq!(done(&[join, "occlude", "supply", "record ok"]), [true; 4]);
        // Tested, then joined otherwise: neither the test holds, nor what was written of it.
        let early = done(&["supply", join, "occlude", join, "record ok"]);
        assert_eq!(early, [true, true, false, false]);
        // Written before the supply was read.
        assert_eq!(done(&[join, "occlude", "record ok", "supply"]), [true, true, true, false]);
        // What is joined once the patient is on undoes no test.
        let later = done(&["supply", join, "occlude", "reconnect", "record ok", "part limb.far"]);
        assert_eq!(later, [true; 4]);
    }
}
