//! `tidewright cohort`: what one setting, or one rule, does to many patients.

use std::io::Write as _;
use std::path::{Path, PathBuf};

use clap::Args;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use tidewright_study::cohort::{
    self, Cohort as Patients, CohortFile, QUANTILES, Resume, ResumeError, Spread, Summary,
};
use tidewright_study::{CAUTION, Metric, digits};

use crate::exit::Exit;
use crate::files::draft::{self, Draft};
use crate::files::input::{self, STANDARD, shown};
use crate::files::output;
use crate::files::partial::{self, Partial};
use crate::files::problem::Problem;
use crate::files::stop::{self, Keeping};
use crate::page::{Align, Page};

/// Ventilate thousands of patients drawn by chance
///
/// A cohort file names a scenario, says what differs between patients and how the
/// ventilator is set for each, and asks how many are within a target and how many are
/// harmed. The same seed draws the same patients, however many threads work on them.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct Cohort {
    /// Cohort file, RON or JSON
    #[arg(value_name = "COHORT", required_unless_present = "example")]
    file: Option<PathBuf>,

    /// Write a row for each patient as comma-separated values; - is standard output.
    /// Stopped and started again, it goes on where it was
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,

    /// Print the summary as one JSON object in full precision
    #[arg(long)]
    json: bool,

    /// Print a cohort file to begin with, and nothing else
    #[arg(long, exclusive = true)]
    example: bool,
}

const EXAMPLES: &str = "\
Examples:
  tidewright cohort cats.ron
  tidewright cohort cats.ron --csv cats.csv --json > summary.json
  tidewright cohort --example > cats.ron

The example says what a file can hold; its base is a path from its own folder. While
rows are written they stand in FILE.partial, which gets its name when it is whole. Ctrl-C, a
closed terminal or a loss of power costs a second of work at most.";

/// The cohort file to begin with; its base is the built-in scenario's file.
const EXAMPLE: &str = tidewright_shelf::COHORTS[0].text;

/// Length of a row, about.
const ROW_BYTES: u64 = 400;
/// So many patients are told of before they are ventilated.
const MANY: u64 = 500_000;

/// What the page has room for; the JSON object has all.
const SHOWN: [Metric; 6] = [
    Metric::InspiredTidalVolumePerKg,
    Metric::InspiratoryTime,
    Metric::Rate,
    Metric::PeakPressure,
    Metric::EndExpiratoryAlveolarPressure,
    Metric::Leaked,
];

/// What the gas came to, in the order in which a summary has it.
const OF_GAS: [&str; 4] =
    ["lowest SpO2 (%)", "highest EtCO2 (mmHg)", "time apnoeic (s)", "longest without a breath (s)"];

impl Cohort {
    /// Draws, ventilates, writes and prints.
    pub fn perform(self) -> Result<Exit, Problem> {
        let Some(path) = self.file.as_ref().filter(|_| !self.example) else {
            let example = EXAMPLE.replace("../flow-sets-inspiratory-time.ron", "first.ron");
            let example = example.replace("scenarios/cohorts/one-rule-many-cats", "cats");
            output::print(&format!("// {CAUTION}\n{example}"))?;
            return Ok(Exit::Done);
        };
        let to_stdout = self.csv.as_deref() == Some(Path::new(STANDARD));
        if to_stdout && self.json {
            return Err(Problem::usage(
                "rows and the JSON object cannot both go to standard output",
                "give the rows a file, such as `--csv rows.csv`",
            ));
        }
        let file = input::cohort(path)?;
        let base = path.parent().unwrap_or(path).join(&file.base);
        let scenario = input::scenario(&base).map_err(|problem| of_the_base(path, problem))?;
        input::no_own_drive(&scenario, &shown(&base))?;
        draft::check(&self.csv)?;
        let cohort = Patients::new(file, &scenario);

        output::beforehand(cohort.patients(), MANY, || match &self.csv {
            Some(_) => format!(
                "{} patients are ventilated; their rows take some {} MB.",
                cohort.patients(),
                cohort.patients() * ROW_BYTES / 1_000_000
            ),
            None => format!("{} patients are ventilated.", cohort.patients()),
        });
        let bar = progress_bar(cohort.patients());
        let watch = |done| bar.set_position(done);
        let mut note = None;
        let summary = match self.csv.as_deref() {
            None => cohort::summarise(&cohort, watch),
            Some(target) if !partial::can_be(target) => {
                let mut draft = Draft::begin(target)?;
                let summary = cohort::write(&cohort, Resume::from_scratch(), &mut draft, watch)?;
                draft.publish()?;
                summary
            }
            Some(target) => {
                let mut partial = Partial::open(target)?;
                let left = take_up(&cohort, &mut partial)?;
                if left.patients > 0 {
                    bar.set_position(left.patients);
                    bar.reset_eta();
                    note = Some(format!("Taken up again after {} patients.", left.patients));
                }
                partial.check_room((cohort.patients() - left.patients) * ROW_BYTES)?;
                let keeping = Keeping::begin();
                let mut out = partial.writer(left.bytes)?;
                let written = cohort::write(&cohort, left, &mut out, watch);
                let flushed = out.flush();
                drop(out);
                if written.is_err() && stop::asked().is_some() {
                    bar.finish_and_clear();
                    let told = format!(
                        "Stopped. The rows so far are in {}; the same command goes on from there.\n",
                        shown(partial.path())
                    );
                    output::complain_in_words(&output::wrapped(&told));
                    return Ok(Exit::Stopped);
                }
                let summary = written?;
                flushed?;
                drop(keeping);
                partial.publish()?;
                summary
            }
        };
        bar.finish_and_clear();
        if self.json {
            output::print(&format!("{:#}\n", cohort::json(&cohort, &summary)))?;
        } else if !to_stdout {
            self.page(&cohort, &summary, note).print()?;
        }
        Ok(Exit::Done)
    }

    fn page(&self, cohort: &Patients, summary: &Summary, note: Option<String>) -> Page {
        let mut page = Page::new();
        let file = &cohort.file;
        page.strong(file.title.as_deref().unwrap_or(file.id.as_str()));
        page.paragraph(&format!("{} patients, seed {}", summary.patients, file.seed));
        page.gap();
        let share = |count: u64| {
            let percent = 100.0 * count as f64 / summary.patients.max(1) as f64;
            [count.to_string(), format!("{percent:.2} %")]
        };
        let rows = [
            ("within the target", summary.within_target, !file.targets.is_empty()),
            ("harmed", summary.harmed, !file.harms.is_empty()),
            (
                "within the target and not harmed",
                summary.well,
                !file.targets.is_empty() && !file.harms.is_empty(),
            ),
            ("inspiration ended by pressure", summary.ended_by_pressure, true),
            ("without a breath", summary.without_breath, summary.without_breath > 0),
        ];
        let rows: Vec<[String; 3]> = rows
            .into_iter()
            .filter(|row| row.2)
            .map(|(name, count, _)| {
                let [count, percent] = share(count);
                [name.to_owned(), count, percent]
            })
            .collect();
        let columns = [("", Align::Left), ("patients", Align::Right), ("share", Align::Right)];
        page.table(columns, &rows);
        if let Some((patient, problem)) = &summary.first_problem {
            page.warning(&format!("Patient {patient} has no breath: {problem}"));
        }
        page.gap();
        let heads = ["".to_owned(), "mean".to_owned()]
            .into_iter()
            .chain(QUANTILES.map(|q| format!("{} %", 100.0 * q)))
            .enumerate()
            .map(|(i, head)| (head, if i == 0 { Align::Left } else { Align::Right }));
        let cell = |value: Option<f64>| value.map_or_else(|| "-".to_owned(), digits);
        let row = |name: String, spread: &Spread| {
            [name, cell(spread.mean())]
                .into_iter()
                .chain(QUANTILES.map(|q| cell(spread.quantile(q))))
                .collect::<Vec<_>>()
        };
        let mut rows: Vec<_> = SHOWN
            .map(|metric| {
                let name = format!("{} ({})", metric.short(), metric.unit().text);
                row(name, summary.spread(metric))
            })
            .into();
        if file.gas.is_some() {
            let named = OF_GAS.into_iter().zip(summary.of_gas());
            rows.extend(named.map(|(name, spread)| row(name.to_owned(), spread)));
        }
        page.columns(&heads.collect::<Vec<_>>(), &rows);
        page.gap();
        page.paragraph(
            "A column of n %: n of a hundred patients have this value or less. Alveolar: pressure \
             in the lung at the end of expiration.",
        );
        page.gap();
        if let Some(csv) = &self.csv {
            page.paragraph(&format!("Rows: {}", shown(csv)));
        }
        if let Some(note) = note {
            page.paragraph(&note);
        }
        page.paragraph(CAUTION);
        page
    }
}

/// A base that cannot be read, told as a fault of the cohort file that names it.
fn of_the_base(cohort: &Path, problem: Problem) -> Problem {
    let Problem::Read { what, .. } = problem else { return problem };
    // Standard input is read only once, and has no second text to point into.
    let text = (cohort != Path::new(STANDARD)).then(|| input::text(cohort).ok()).flatten();
    let fault = text.and_then(|text| CohortFile::base_unreadable(&shown(cohort), &text, &what));
    fault.map_or_else(
        || Problem::study(format!("the base of this cohort: {what}"), cohort::BASE_MEND),
        Problem::from,
    )
}

/// Where an earlier run left the rows.
fn take_up(cohort: &Patients, partial: &mut Partial) -> Result<Resume, Problem> {
    if partial.len()? == 0 {
        return Ok(Resume::from_scratch());
    }
    let name = shown(partial.path());
    cohort::resume(cohort, partial.reader()?).map_err(|error| match error {
        ResumeError::Read(error) => error.into(),
        error => Problem::Write {
            what: format!("{name} was left by another run and cannot be taken up: {error}"),
            mend: Some(format!("remove {name} to begin anew, or choose another file")),
        },
    })
}

/// On standard error, and only where a person sees it.
fn progress_bar(patients: u64) -> ProgressBar {
    let bar = ProgressBar::with_draw_target(Some(patients), ProgressDrawTarget::stderr_with_hz(5));
    let style = ProgressStyle::with_template("{bar:40} {pos} of {len} patients, {eta} left");
    match style {
        Ok(style) => bar.with_style(style),
        Err(_) => bar,
    }
}
