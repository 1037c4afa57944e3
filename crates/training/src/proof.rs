//! Proof of a lesson: a fixed company of thoughtless and thoughtful runs, of which none
//! of the first may pass and all of the second must.
//!
//! A mark is a claim about a person. The company shows whether the criteria of a lesson
//! carry it: who presses everything, does the opposite, answers without looking, or harms
//! the patient afterwards must not pass; who does what an expert does must, somewhat later,
//! with one look too many, with any patient that a class may be dealt.

mod company;
mod notes;

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::sync::Arc;

use rayon::prelude::*;
use serde::Serialize;
use tidewright_scenario::Scenario;
use tidewright_scenario::format::{Attempt, TimedAct};

pub use company::Member;
use company::company;

use crate::case::draw::draw;
use crate::judge::mark::{Marking, mark_played, marking, sign_of};
use crate::session::replay::{Refused, ReplayError, replay_whole};
use crate::words::text::{said, said_act};

/// The kind that does nothing.
const NOTHING: &str = "does nothing";

/// What a proof found.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Proof {
    /// The scenario's `id`.
    pub scenario: String,
    /// Whether every verdict is just.
    pub proved: bool,
    /// Every kind of member, in the order of the company.
    pub kinds: Vec<Kind>,
    /// The most that anybody thoughtless got who was safe and stayed, % of the points.
    pub best_thoughtless_percent: Option<f64>,
    /// The least that anybody thoughtful got, % of the points.
    pub worst_thoughtful_percent: Option<f64>,
    /// The pass mark, which should lie between them, %.
    pub pass_percent: f64,
    /// Cases of the pool for which no expert was given: nothing thoughtful was shown of
    /// them.
    pub without_expert: Vec<String>,
    /// The verdicts that are not just.
    pub unjust: Vec<Unjust>,
    /// What a teacher should know besides: objectives that nothing measures, cases that
    /// nothing on offer can mend, points for doing nothing.
    pub notes: Vec<String>,
}

/// One kind of member.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Kind {
    /// What they do.
    pub kind: &'static str,
    /// Whether they are thoughtful, and must pass.
    pub thoughtful: bool,
    /// How many there were.
    pub members: usize,
    /// How many of them passed.
    pub passed: usize,
}

/// A verdict that is not just.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Unjust {
    /// What the member did.
    pub kind: &'static str,
    /// Which one it was.
    pub member: String,
    /// The case that was drawn.
    pub case: Option<String>,
    /// The seed.
    pub seed: u32,
    /// The patient's weight that was dealt, kg.
    pub weight_kg: Option<f64>,
    /// The severity factor that was dealt.
    pub severity_factor: Option<f64>,
    /// Whether it passed.
    pub passed: bool,
    /// Points got.
    pub points: f64,
    /// Points there are.
    pub points_of: f64,
    /// Of who passed: the criteria that gave the points, the largest first. Of who did not:
    /// the criteria that were not met, safety first.
    pub criteria: Vec<String>,
    /// What it asked for, in words; what was not open then did nothing.
    pub acts: Vec<String>,
}

/// Proves a lesson by its experts: logs that must pass, at least one for each case.
///
/// ```
/// use std::sync::Arc;
/// use tidewright_training::proof::prove;
/// use tidewright_training::{Session, command};
/// let text = tidewright_shelf::lesson("tansy")?.text;
/// let scenario = Arc::new(tidewright_scenario::parse("tansy.ron", text)?);
/// let mut expert = Session::new(Arc::clone(&scenario), 1)?;
/// for (at_s, words) in [
///     (20.0, "look"),
///     (30.0, "answer why 4"),
///     (40.0, "answer need 3"),
///     (45.0, "answer step 2"),
///     (50.0, "pressure 11"),
///     (80.0, "pressure 13"),
///     (110.0, "look"),
///     (130.0, "record 13 cmH2O, 10 mL/kg."),
/// ] {
///     expert.play(at_s)?;
///     expert.act(command::parse(words)?)?;
/// }
/// expert.play(300.0)?;
/// let expert = expert.attempt(command::pseudonym("expert")?);
/// let proof = prove(&scenario, &[expert])?;
/// assert!(proof.proved, "{}", proof.to_text());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
///
/// # Errors
/// [`ReplayError`]: a lesson that cannot be run, or an expert's log that is not of it.
pub fn prove(scenario: &Arc<Scenario>, experts: &[Attempt]) -> Result<Proof, ReplayError> {
    prove_from(scenario, experts, 1)
}

/// As [`prove`], with other seeds from this one on, 1 or more: a company that no lesson was
/// made for.
///
/// # Errors
/// As [`prove`].
pub fn prove_from(
    scenario: &Arc<Scenario>,
    experts: &[Attempt],
    first_seed: u32,
) -> Result<Proof, ReplayError> {
    let first_seed = first_seed.max(1);
    for expert in experts {
        replay_whole(scenario, expert, Refused::IsAnError)?;
    }
    let company = company(scenario, experts, first_seed);
    let marked = marked(scenario, &company.members)?;
    let mut kinds: Vec<Kind> = Vec::new();
    let mut unjust = Vec::new();
    let (mut best, mut worst): (Option<f64>, Option<f64>) = (None, None);
    for (member, marking) in company.members.iter().zip(&marked) {
        let Member { kind, thoughtful, .. } = *member;
        if kinds.last().is_none_or(|last| last.kind != kind) {
            kinds.push(Kind { kind, thoughtful, members: 0, passed: 0 });
        }
        if let Some(last) = kinds.last_mut() {
            last.members += 1;
            last.passed += usize::from(marking.passed);
        }
        let percent = 100.0 * marking.points / marking.points_of.max(f64::MIN_POSITIVE);
        if thoughtful {
            worst = Some(worst.map_or(percent, |worst| worst.min(percent)));
        } else if marking.safe && marking.complete {
            best = Some(best.map_or(percent, |best| best.max(percent)));
        }
        if marking.passed != thoughtful {
            unjust.push(of(member, marking));
        }
    }
    let nothing = company.members.iter().zip(&marked);
    let nothing = nothing.filter(|(member, _)| member.kind == NOTHING);
    let nothing: Vec<&Marking> = nothing.map(|(_, marking)| marking).collect();
    let training = scenario.training.as_ref();
    let without_expert = company.without_expert;
    let notes = training.map(|training| {
        let mut notes = notes::notes(training, &nothing);
        notes.extend(notes::seeds(training, &without_expert));
        notes
    });
    Ok(Proof {
        scenario: scenario.id.to_string(),
        proved: unjust.is_empty() && without_expert.is_empty(),
        kinds,
        best_thoughtless_percent: best,
        worst_thoughtful_percent: worst,
        pass_percent: training.map_or(0.0, |training| training.suggested_pass_percent),
        without_expert,
        unjust,
        notes: notes.unwrap_or_default(),
    })
}

/// Every member's marks, in their order. Who did the same before a case began met the same
/// first sign, which is looked for once.
fn marked(scenario: &Arc<Scenario>, members: &[Member]) -> Result<Vec<Marking>, ReplayError> {
    let mut alike: BTreeMap<String, Vec<usize>> = BTreeMap::new();
    for (index, Member { attempt, .. }) in members.iter().enumerate() {
        let drawn = scenario.training.as_ref().and_then(|training| draw(training, attempt.seed));
        let onset_s = drawn.map_or(0.0, |drawn| drawn.onset_s);
        let before = attempt.acts.iter().take_while(|timed| timed.at_s <= onset_s);
        let before = before.collect::<Vec<_>>();
        let key = format!("{} {:?} {before:?}", attempt.seed, attempt.dealt);
        alike.entry(key).or_default().push(index);
    }
    let alike: Vec<Vec<usize>> = alike.into_values().collect();
    let marked = alike.par_iter().map(|alike| {
        let mut sign = None;
        let one = |&index: &usize| {
            let attempt = &members[index].attempt;
            let played = replay_whole(scenario, attempt, Refused::IsSkipped)?;
            let sign = match &mut sign {
                Some(sign) => sign,
                none => none.insert(sign_of(&played)?),
            };
            Ok((index, marking(&played, attempt, sign.as_ref(), None)))
        };
        alike.iter().map(one).collect::<Result<Vec<_>, ReplayError>>()
    });
    let mut marked = marked.collect::<Result<Vec<_>, ReplayError>>()?.concat();
    marked.sort_by_key(|(index, _)| *index);
    Ok(marked.into_iter().map(|(_, marking)| marking).collect())
}

fn of(member: &Member, marking: &Marking) -> Unjust {
    let mut criteria: Vec<_> =
        marking.criteria.iter().filter(|judged| judged.met == marking.passed).collect();
    if marking.passed {
        criteria.retain(|judged| judged.points > 0.0);
        criteria.sort_by(|a, b| b.points.total_cmp(&a.points));
    } else {
        criteria.sort_by_key(|judged| judged.strand != "safety");
    }
    let dealt = member.attempt.dealt.as_ref();
    Unjust {
        kind: member.kind,
        member: member.name.clone(),
        case: marking.case.clone(),
        seed: marking.seed,
        weight_kg: dealt.map(|dealt| dealt.weight_kg),
        severity_factor: dealt.map(|dealt| dealt.severity_factor),
        passed: marking.passed,
        points: marking.points,
        points_of: marking.points_of,
        criteria: criteria.iter().map(|one| format!("{}: {}", one.measure, one.found)).collect(),
        acts: member.attempt.acts.iter().map(in_words).collect(),
    }
}

fn in_words(timed: &TimedAct) -> String {
    format!("{} s {}", said(timed.at_s), said_act(&timed.act))
}

/// What a teacher should know of a lesson before anybody takes it: objectives that nothing
/// measures, cases that nothing on offer mends, points for who does nothing.
///
/// # Errors
/// [`ReplayError`]: a lesson that cannot be run.
pub fn cautions(scenario: &Arc<Scenario>) -> Result<Vec<String>, ReplayError> {
    let Some(training) = &scenario.training else { return Ok(Vec::new()) };
    let idle = company::idle(scenario, training);
    let marked = idle.par_iter().map(|attempt| {
        mark_played(&replay_whole(scenario, attempt, Refused::IsSkipped)?, attempt, None)
    });
    let marked = marked.collect::<Result<Vec<Marking>, ReplayError>>()?;
    Ok(notes::notes(training, &marked.iter().collect::<Vec<_>>()))
}

impl Proof {
    /// The proof as plain text: a table, and every unjust verdict.
    #[must_use]
    pub fn to_text(&self) -> String {
        let mut page = String::new();
        let proved = if self.proved { "proved" } else { "NOT PROVED" };
        let count = |thoughtful| {
            let kinds = self.kinds.iter().filter(move |kind| kind.thoughtful == thoughtful);
            kinds.fold((0, 0), |(all, passed), kind| (all + kind.members, passed + kind.passed))
        };
        let ((bad, bad_passed), (good, good_passed)) = (count(false), count(true));
        // Writing to a `String` cannot fail.
        let _ = writeln!(page, "{}: {proved}", self.scenario);
        let _ = writeln!(
            page,
            "  thoughtless {bad}, of whom {bad_passed} passed; thoughtful {good}, of whom \
             {good_passed} passed\n"
        );
        if let (Some(best), Some(worst)) =
            (self.best_thoughtless_percent, self.worst_thoughtful_percent)
        {
            let _ = writeln!(
                page,
                "  the best of the thoughtless who was safe got {best:.0} % of the points, the \
                 worst of the thoughtful {worst:.0} %; the pass mark is {} %\n",
                said(self.pass_percent)
            );
        }
        for kind in &self.kinds {
            let must = if kind.thoughtful { "all must pass" } else { "none may pass" };
            let _ = writeln!(
                page,
                "  {:<52} {:>4} {:>4} passed  {must}",
                kind.kind, kind.members, kind.passed
            );
        }
        for case in &self.without_expert {
            let _ = writeln!(page, "\n  No expert was given for the case `{case}`.");
        }
        for one in &self.unjust {
            let verdict = if one.passed { "passed, let through by" } else { "did not pass for" };
            let _ = writeln!(
                page,
                "\n  {}, {} (seed {}, {}{}) {verdict}, with {} of {} points:",
                one.kind,
                one.member,
                one.seed,
                one.case.as_deref().unwrap_or("no case"),
                one.weight_kg.map_or_else(String::new, |kg| format!(
                    ", {kg} kg, severity × {}",
                    one.severity_factor.unwrap_or(1.0)
                )),
                said(one.points),
                said(one.points_of)
            );
            for criterion in &one.criteria {
                let _ = writeln!(page, "    {criterion}");
            }
            let _ = writeln!(page, "    It did: {}.", one.acts.join("; "));
        }
        for note in &self.notes {
            let _ = writeln!(page, "\n  Note: {note}.");
        }
        page
    }

    /// The proof as one JSON object.
    #[must_use]
    pub fn to_json(&self) -> String {
        let text = serde_json::to_string_pretty(self);
        text.expect("numbers, texts and lists can always be written") + "\n"
    }
}
