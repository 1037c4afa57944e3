//! `tidewright learn`: the lessons, and what to do next.

use std::path::PathBuf;

use clap::Args;
use tidewright_shelf::LESSONS;
use tidewright_training::review::{Plan, Step, plan};

use crate::exit::Exit;
use crate::files::history::{Kept, NOBODY};
use crate::files::input::shown;
use crate::files::problem::Problem;
use crate::files::{history, input, output};
use crate::page::{Align, Page};

/// Show what to practise next, from your past attempts
///
/// New lessons come one at a time, in their order; a lesson that was missed comes
/// again the next day, one that was passed about 2, 7 and 21 days later. Only the
/// lesson, the day, the result and the pseudonym are kept, in a file of your own on
/// this machine; --forget removes it.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  tidewright learn\n  tidewright learn --pseudonym heron-12\n  tidewright learn my-lessons/*.ron"
)]
pub struct Learn {
    /// Lessons of your own, in their order, in the place of those inside
    #[arg(value_name = "SCENARIO")]
    scenarios: Vec<PathBuf>,

    /// Whose attempts
    #[arg(long, value_name = "WORD", default_value = NOBODY)]
    pseudonym: String,

    /// List every lesson with its number and what it needs before
    #[arg(long)]
    all: bool,

    /// Remove what is kept of past attempts
    #[arg(long)]
    forget: bool,
}

impl Learn {
    /// Shows it.
    pub fn perform(self) -> Result<Exit, Problem> {
        if self.forget {
            let removed = history::forget()?;
            let text =
                if removed { "Your history is removed.\n" } else { "There was no history.\n" };
            output::print(text)?;
            return Ok(Exit::Done);
        }
        let steps = self.steps()?;
        let kept: Vec<Kept> =
            history::read().into_iter().filter(|one| one.pseudonym == self.pseudonym).collect();
        let past: Vec<_> = kept.iter().map(|one| one.past.clone()).collect();
        let today = history::today();
        let plan =
            plan(&steps.iter().map(|one| one.step.clone()).collect::<Vec<_>>(), &past, today);
        if self.all {
            return listed(&steps, &past);
        }
        output::print(&told(&steps, &kept, &plan, today))?;
        Ok(Exit::Done)
    }

    fn steps(&self) -> Result<Vec<Typed>, Problem> {
        if self.scenarios.is_empty() {
            let inside = LESSONS.iter().map(|lesson| Typed {
                step: Step {
                    scenario: lesson.id.to_owned(),
                    needs: lesson.needs.iter().map(|&id| id.to_owned()).collect(),
                },
                typed: lesson.word.to_owned(),
            });
            return Ok(inside.collect());
        }
        let mut steps = Vec::new();
        for path in &self.scenarios {
            let scenario = input::scenario(path)?;
            if scenario.training.is_some() {
                let step = Step { scenario: scenario.id.to_string(), needs: Vec::new() };
                steps.push(Typed { step, typed: shown(path) });
            }
        }
        if steps.is_empty() {
            return Err(Problem::usage(
                "none of these files is a lesson: a lesson has a `training` block",
                "name lessons, or none for those inside",
            ));
        }
        Ok(steps)
    }
}

/// A lesson and how it is typed.
struct Typed {
    step: Step,
    typed: String,
}

fn told(steps: &[Typed], kept: &[Kept], plan: &Plan, today: u32) -> String {
    let mut page = String::new();
    let typed = |id: &str| {
        let step = steps.iter().find(|one| one.step.scenario == id);
        step.map_or("", |step| step.typed.as_str())
    };
    for one in plan.due.iter().chain(&plan.new) {
        let when = match one.day.saturating_sub(today) {
            0 => "today".to_owned(),
            1 => "tomorrow".to_owned(),
            days => format!("in {days} days"),
        };
        let last = kept.iter().rev().find(|kept| kept.past.scenario == one.scenario);
        let missed = last.filter(|last| !last.past.passed && !last.missed.is_empty());
        let missed = missed.map_or_else(String::new, |last| format!(", missed: {}", last.missed));
        let (id, reason) = (&one.scenario, one.reason);
        let (name, typed) = (tidewright_shelf::shown(id), typed(id));
        page += &format!("{when:<11} {name}: {reason}{missed} (tidewright practise {typed})\n");
    }
    if plan.due.is_empty() && plan.new.is_none() {
        page += "Nothing is due: every lesson is passed and reviewed.\n";
    }
    if plan.still_new > 0 {
        page +=
            &format!("{} more are new; they come one by one (--all lists them).\n", plan.still_new);
    }
    if let Some(file) = history::file() {
        page += &format!("\nKept in {}; `tidewright learn --forget` removes it.\n", shown(&file));
    }
    page
}

/// Every lesson in its order.
fn listed(steps: &[Typed], past: &[tidewright_training::review::Past]) -> Result<Exit, Problem> {
    let mut page = Page::new();
    let rows = steps.iter().enumerate().map(|(index, one)| {
        let of: Vec<_> = past.iter().filter(|past| past.scenario == one.step.scenario).collect();
        let state = match of.last() {
            None => "new",
            Some(last) if last.passed => "passed",
            Some(_) => "not passed yet",
        };
        let needs: Vec<&str> =
            one.step.needs.iter().map(|id| tidewright_shelf::shown(id)).collect();
        let needs = if needs.is_empty() { "nothing".to_owned() } else { needs.join(", ") };
        let name = tidewright_shelf::shown(&one.step.scenario).to_owned();
        [(index + 1).to_string(), name, state.to_owned(), needs]
    });
    let rows: Vec<[String; 4]> = rows.collect();
    let columns = [
        ("no.", Align::Right),
        ("lesson", Align::Left),
        ("", Align::Left),
        ("needs before", Align::Left),
    ];
    page.table(columns, &rows);
    page.print()?;
    Ok(Exit::Done)
}
