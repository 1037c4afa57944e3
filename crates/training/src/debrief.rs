//! The debrief: first what became of the patient, what helped most and what to do
//! otherwise; then what happened, what could be seen and when, why, what next, and last
//! the marks.

mod courses;
mod effects;
mod filled;
mod first;
pub(crate) mod html;
pub(crate) mod scene;

use std::fmt::Write as _;
use std::sync::Arc;

use serde::Serialize;
use tidewright_scenario::Scenario;
use tidewright_scenario::format::{Asked, Attempt, Then, TimedAct};
use tidewright_scenario::report::{BANNER, MODEL_LIMITS, MODEL_LIMITS_WITH_GAS};

use courses::counterfactuals;
pub use courses::{ACT_AFTER_S, Course, right_act};
pub use effects::Effect;
use effects::effects;
use filled::filled;

use crate::case::tube;
use crate::judge::economy::only_tells;
use crate::judge::mark::{Judged, Marking, NO_HARM, marking};
use crate::judge::sign::first_sign;
use crate::session::Session;
use crate::session::replay::{Played, Refused, ReplayError, replay_whole};
pub use crate::words::text::said_act;
use crate::words::text::{answered, said};

/// The relation that a student is told who ended before the case began.
const NOTHING_YET: &str = "Nothing had gone wrong yet; what was to come is not told, so that you \
                           can still find it yourself.";

/// What to practise next for who ended before the case began.
const STAY: &str = "Begin again, and stay until something changes or the time is over.";

/// A marking and its debrief.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Debrief {
    /// The general caution.
    pub caution: &'static str,
    /// The scenario's title.
    pub title: String,
    /// The marking.
    pub marking: Marking,
    /// What became of the patient, in a sentence.
    pub patient: String,
    /// The one act that helped most, and by how much.
    pub helped: Option<String>,
    /// The one thing to do otherwise, and what would have come of it.
    pub otherwise: Option<String>,
    /// What was not done with care when the tube was moved, the patient turned or the cuff
    /// filled, a sentence each.
    pub tube: Vec<String>,
    /// What each act did that did something.
    pub effects: Vec<Effect>,
    /// What happened, an entry for each act and each thing seen.
    pub happened: Vec<Entry>,
    /// What could be seen and when.
    pub visible: String,
    /// The relation behind it, with this patient's numbers.
    pub why: String,
    /// What might have been: every course as long as the attempt, unless it is handed
    /// over before.
    pub counterfactuals: Vec<Course>,
    /// Why the course with the right act in time is not among them, if it is left out.
    pub left_out: Option<String>,
    /// What to practise next.
    pub next: String,
    /// What the model leaves out.
    pub limits: &'static str,
}

/// Something that happened.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Entry {
    /// When, s.
    pub at_s: f64,
    /// `onset`, `sign`, `act` or `seen`; `wait` and `no` of acts that had to wait or were
    /// refused; `cut` where the session was cut off.
    pub kind: &'static str,
    /// What.
    pub text: String,
}

/// Marks an attempt and explains it.
///
/// # Errors
/// [`ReplayError`].
pub fn debrief(
    scenario: &Arc<Scenario>,
    attempt: &Attempt,
    pass_percent: Option<f64>,
) -> Result<Debrief, ReplayError> {
    let played = replay_whole(scenario, attempt, Refused::IsAnError)?;
    let Played { session, at_onset, .. } = &played;
    let scenario = session.own_scenario();
    let found = at_onset.as_ref().map(first_sign).transpose()?.flatten();
    let sign = found.as_ref().map(|(sign, ..)| sign);
    let marking = marking(&played, attempt, sign, pass_percent);
    let pair = found
        .as_ref()
        .and_then(|(_, faulty, healthy)| Some((*faulty.rows().last()?, *healthy.rows().last()?)));
    let fill = |text: &str| filled(text, session, &marking, pair.as_ref());
    let training = session.training();
    // The lesson's own words tell of what was to come.
    let (why, next) = if session.case_has_begun() {
        let pace = scenario.pace_of_warmth().map_or_else(String::new, |pace| format!(" {pace}"));
        let of_case = session.drawn().and_then(|drawn| drawn.case.why.as_ref());
        let why = of_case.unwrap_or(&training.debrief.why);
        (fill(why) + &pace, fill(&training.debrief.next))
    } else {
        (NOTHING_YET.to_owned(), STAY.to_owned())
    };
    let sign_s = sign.map(|sign| sign.at_s);
    let (counterfactuals, left_out) = counterfactuals(session, at_onset.as_ref(), sign_s)?;
    let healthy = at_onset.as_ref().filter(|_| session.case_has_begun());
    let healthy = healthy.map(Session::without_case).transpose()?;
    let healthy = match healthy {
        Some(mut healthy) => {
            healthy.play_to(session.now_s())?;
            Some(healthy)
        }
        None => None,
    };
    let effects = effects(&played, healthy.as_ref())?;
    Ok(Debrief {
        caution: BANNER,
        patient: first::patient(session, &marking),
        helped: first::helped(&effects),
        otherwise: first::otherwise(&marking, &effects, &counterfactuals),
        tube: tube::cautions(&session.world().tube, training, session.acts()),
        title: title(session),
        happened: happened(session, attempt, &marking, &effects),
        effects,
        visible: visible(session, &marking),
        why,
        counterfactuals,
        left_out,
        next,
        limits: if scenario.gas.is_some() { MODEL_LIMITS_WITH_GAS } else { MODEL_LIMITS },
        marking,
    })
}

/// What the lesson is called: by its own name once its case has begun.
fn title(session: &Session) -> String {
    let scenario = session.scenario();
    let own = session.training().debrief.title.as_ref().filter(|_| session.case_has_begun());
    let title = own.or(scenario.title.as_ref());
    title.cloned().unwrap_or_else(|| scenario.id.to_string())
}

fn happened(
    session: &Session,
    attempt: &Attempt,
    marking: &Marking,
    effects: &[Effect],
) -> Vec<Entry> {
    let entry = |at_s, kind, text: String| Entry { at_s, kind, text };
    let mut entries = Vec::new();
    let onset_s = marking.onset_s.filter(|&at_s| at_s <= session.now_s());
    if let (Some(at_s), Some(case)) = (onset_s, &marking.case) {
        entries.push(entry(at_s, "onset", case.clone()));
        // What comes later in the case.
        let changes = session.gas().map(|gas| gas.changes).unwrap_or_default();
        let later = changes.iter().filter(|one| one.at_s > at_s && one.at_s <= session.now_s());
        entries.extend(later.map(|change| entry(change.at_s, "onset", change.in_words())));
    }
    if let (Some(at_s), Some(sign)) = (marking.sign_s, &marking.sign)
        && was_shown(session, onset_s, at_s)
    {
        entries.push(entry(at_s, "sign", sign.clone()));
    }
    let acts = session.acts().iter();
    entries.extend(acts.map(|timed| {
        let said = said_act(&timed.act);
        let effect = effects.iter().find(|one| one.at_s == timed.at_s && one.act == said);
        let text = match effect {
            Some(effect) => format!("{said}: {}", effect.in_words()),
            None => answered(session.training(), &timed.act).unwrap_or(said),
        };
        entry(timed.at_s, "act", text)
    }));
    let seen = session.seen().iter();
    entries.extend(seen.map(|seen| entry(seen.at_s, "seen", seen.text.clone())));
    entries.extend(attempt.asked.iter().map(not_at_once));
    let waits = attempt.waits.iter();
    entries.extend(waits.map(|one| {
        let text = format!("{}: it still waited for hands at the end", said_act(&one.act));
        entry(one.at_s, "wait", text)
    }));
    let cuts = attempt.interrupted.iter().map(|cut| (cut.at_s, cut.by, ", and was taken up again"));
    let last = attempt.cut_off.map(|by| (attempt.ended_at_s, by, ""));
    entries.extend(cuts.chain(last).map(|(at_s, by, then)| {
        entry(at_s, "cut", format!("The session was cut off: {}{then}.", by.in_words()))
    }));
    entries.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
    entries
}

/// An act that had to wait or was refused.
fn not_at_once(asked: &Asked) -> Entry {
    let said = said_act(&asked.act);
    let (kind, text) = match &asked.then {
        Then::Done(at) => {
            ("wait", format!("{said}: hands were busy; it was done at {} s", self::said(at.at_s)))
        }
        Then::TakenBack(at) => {
            ("wait", format!("{said}: hands were busy; taken back at {} s", self::said(at.at_s)))
        }
        Then::Refused(why) => ("no", format!("{said}: not done, {}", why.text)),
    };
    Entry { at_s: asked.at_s, kind, text }
}

/// Whether a sign came on the student's own monitor: it is found in a run in which
/// nobody acts after the onset.
fn was_shown(session: &Session, onset_s: Option<f64>, sign_s: f64) -> bool {
    let between = |timed: &TimedAct| {
        onset_s.is_some_and(|onset_s| timed.at_s >= onset_s) && timed.at_s < sign_s
    };
    let touched = session.acts().iter().any(|timed| between(timed) && !only_tells(&timed.act));
    sign_s <= session.now_s() && !touched
}

fn visible(session: &Session, marking: &Marking) -> String {
    let Some(onset_s) = marking.onset_s else {
        return "Nothing went wrong with patient or equipment: it was all in the settings."
            .to_owned();
    };
    let onset = said(onset_s);
    if !session.case_has_begun() {
        return format!("You ended before anything went wrong: that was to begin at {onset} s.");
    }
    let (Some(sign), Some(sign_s)) = (&marking.sign, marking.sign_s) else {
        return format!(
            "It began at {onset} s and showed no sign on your monitor: only hands, eyes and ears could find it."
        );
    };
    let acted = marking.acted_s.map_or_else(
        || "You did nothing after the onset.".to_owned(),
        |acted_s| format!("Your first act after the onset came at {} s.", said(acted_s)),
    );
    let first = if was_shown(session, Some(onset_s), sign_s) {
        "The first sign on your monitor that told it from health was"
    } else {
        "Left alone, the first sign on your monitor that told it from health would have been"
    };
    format!("It began at {onset} s. {first} at {} s: {sign}. {acted}", said(sign_s))
}

impl Debrief {
    /// The debrief as plain text.
    #[must_use]
    pub fn to_text(&self) -> String {
        let mut page = String::new();
        // Writing to a `String` cannot fail.
        let _ = writeln!(page, "{}\n\n{}\n", self.caution, self.title);
        let _ = writeln!(page, "{}", self.patient);
        if let Some(helped) = &self.helped {
            let _ = writeln!(page, "What helped most: {helped}");
        }
        if let Some(otherwise) = &self.otherwise {
            let _ = writeln!(page, "What to do otherwise: {otherwise}");
        }
        for caution in &self.tube {
            let _ = writeln!(page, "Tube and cuff: {caution}");
        }
        let _ = writeln!(page, "\n1 WHAT HAPPENED");
        for entry in &self.happened {
            let _ = writeln!(page, "  {:>6.1} s  {:<5}  {}", entry.at_s, entry.kind, entry.text);
        }
        let _ = writeln!(page, "\n2 WHAT COULD BE SEEN AND WHEN\n  {}", self.visible);
        let _ = writeln!(page, "\n3 WHY\n  {}", self.why);
        for course in &self.counterfactuals {
            let _ = writeln!(page, "  - {}", course.in_words());
        }
        if let Some(left_out) = &self.left_out {
            let _ = writeln!(page, "  - {left_out}");
        }
        let _ = writeln!(page, "\n4 NEXT\n  {}", self.next);
        page += &self.marks();
        let _ = writeln!(page, "\n{}", self.limits);
        page
    }

    /// The marks as plain text. Limits of harm that were kept are counted, not listed.
    fn marks(&self) -> String {
        let mut page = String::new();
        let marking = &self.marking;
        let kept = |one: &&Judged| one.objective == NO_HARM && one.met;
        let verdict = if marking.passed { "PASSED" } else { "NOT PASSED" };
        let _ = writeln!(
            page,
            "\n{verdict}: {} of {} points (suggested pass mark {} %), safety {}. Seed {}; {}.",
            said(marking.points),
            said(marking.points_of),
            said(marking.pass_percent),
            if marking.safe { "met" } else { "NOT met" },
            marking.seed,
            marking.ended
        );
        let _ = writeln!(page, "\n5 MARKS");
        for judged in marking.criteria.iter().filter(|one| !kept(one)) {
            let _ = writeln!(
                page,
                "  {} {:<11} {}: {} (wanted: {}){}",
                if judged.met { "met    " } else { "NOT MET" },
                judged.strand,
                judged.measure,
                judged.found,
                judged.wanted,
                if judged.points_of > 0.0 || judged.points < 0.0 {
                    format!(", {}/{} points", said(judged.points), said(judged.points_of))
                } else {
                    String::new()
                }
            );
        }
        let kept = marking.criteria.iter().filter(kept).count();
        if kept > 0 {
            let _ = writeln!(page, "  met     safety      {kept} limits of harm to the patient");
        }
        for needless in &marking.needless {
            let _ = writeln!(page, "          not called for: {needless}");
        }
        page
    }

    /// The debrief as one JSON object.
    #[must_use]
    pub fn to_json(&self) -> String {
        let text = serde_json::to_string_pretty(self);
        text.expect("numbers, texts and lists can always be written") + "\n"
    }
}
