//! The table of a cohort: written, and taken up again where it was left.

use std::io::{self, BufRead, Write};

use thiserror::Error;
use tidewright::quantity::Mass;
use tidewright_scenario::report::CSV_CAUTION;

use super::gas::Outcome;
use super::{CHUNK, Cohort, Row, Summary, in_pieces, run};
use crate::Metric;
use crate::batch::Breaths;
use crate::table::Table;

/// Columns before the measures.
const BEFORE: [&str; 11] = [
    "patient",
    "weight_kg",
    "compliance_ml_cmh2o",
    "resistance_cmh2o_s_l",
    "circuit_compliance_ml_cmh2o",
    "leak_ml_min",
    "fresh_gas_flow_l_min",
    "cycling_pressure_cmh2o",
    "inspiratory_time_limit_s",
    "end_expiratory_pressure_cmh2o",
    "ended_by",
];
/// Columns behind them.
const BEHIND: [&str; 4] = ["within_target", "harmed", "problem", CSV_CAUTION];
/// Without what gas came to, and without the last, whose cells are empty.
const COLUMNS: usize = BEFORE.len() + Metric::ALL.len() + BEHIND.len() - 1;
const ENDED_BY: usize = BEFORE.len() - 1;

/// Patients whose rows are written together: few, so that little is lost when patients
/// that take long are stopped.
const PIECE: u64 = 16;

/// Where a table was left.
#[derive(Clone, Debug, PartialEq)]
pub struct Resume {
    /// Patients whose rows stand.
    pub patients: u64,
    /// Length of the table up to there; what follows is to be cut off.
    pub bytes: u64,
    /// The summary of these patients.
    pub summary: Summary,
}

/// A table that cannot be taken up again.
#[derive(Debug, Error)]
pub enum ResumeError {
    /// It cannot be read.
    #[error(transparent)]
    Read(#[from] io::Error),
    /// It begins otherwise.
    #[error("this is no table of a cohort: its first line is another one")]
    Header,
    /// It begins as the tables of older versions did, without the caution.
    #[error(
        "it was begun by an older version of the program, whose tables had no last column with \
         the caution: its rows cannot be gone on with"
    )]
    Older,
    /// A row within it is damaged.
    #[error("the row of patient {patient} is damaged")]
    Damaged {
        /// The patient whose row should stand there.
        patient: u64,
    },
    /// Its rows are those of other patients or settings.
    #[error(
        "the row of patient {patient} is not what this cohort gives: the base, the seed, what is \
         drawn, the settings or the questions were others"
    )]
    Other {
        /// The patient.
        patient: u64,
    },
    /// It has more patients than the cohort.
    #[error("the table has more than the {patients} patients of the cohort")]
    Longer {
        /// Patients of the cohort.
        patients: u64,
    },
}

impl Resume {
    /// A table that is not yet begun.
    #[must_use]
    pub fn from_scratch() -> Self {
        Self { patients: 0, bytes: 0, summary: Summary::new() }
    }
}

/// Writes the rows of a cohort from where the table was left, and returns the summary
/// of all patients. `out` stands behind the first [`Resume::bytes`] bytes.
/// `progress` is told how many patients are done.
///
/// Stopped at any byte and taken up again by [`resume`], the table is the same.
///
/// # Errors
/// When `out` cannot be written.
pub fn write(
    cohort: &Cohort,
    left: Resume,
    mut out: impl Write,
    mut progress: impl FnMut(u64),
) -> io::Result<Summary> {
    if left.bytes == 0 {
        out.write_all(&header(cohort))?;
    }
    let mut summary = left.summary;
    let work = |rows: Vec<Row>| table(&rows).map(|text| (rows, text));
    in_pieces(cohort, left.patients, PIECE, work, |made| {
        let (rows, text) = made?;
        out.write_all(&text)?;
        rows.iter().for_each(|row| summary.add(row));
        progress(summary.patients);
        Ok::<_, io::Error>(())
    })?;
    out.flush()?;
    summary.end_chunk();
    Ok(summary)
}

/// The summary of a cohort without its rows.
///
/// `progress` is told how many patients are done.
#[must_use]
pub fn summarise(cohort: &Cohort, mut progress: impl FnMut(u64)) -> Summary {
    summarise_while(cohort, |done| {
        progress(done);
        true
    })
}

/// The summary of a cohort, or of its first patients: `go_on` is told after every chunk how
/// many are done, and says whether the next one is to be.
///
/// ```
/// use tidewright_study::cohort::{Cohort, CohortFile, summarise_while};
/// let file = CohortFile::parse("cats.ron", r#"Cohort(
///     format: 1, id: "cats", base: "first.ron", patients: 10000,
///     vary: (compliance_ml_cmh2o: LogNormal(median: 5, log_sd: 0.25)),
/// )"#)?;
/// let base = tidewright_scenario::parse("first.ron", tidewright_scenario::DEMO)?;
/// let cohort = Cohort::new(file, &base);
/// assert_eq!(summarise_while(&cohort, |done| done < 4096).patients, 4096);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[must_use]
pub fn summarise_while(cohort: &Cohort, mut go_on: impl FnMut(u64) -> bool) -> Summary {
    let mut summary = Summary::new();
    let work = |rows: Vec<Row>| Summary::of(&rows);
    // An error only stops the run: what was taken stands in the summary.
    let _ = run(cohort, 0, work, |rows| {
        summary.append(rows);
        if go_on(summary.patients) { Ok(()) } else { Err(()) }
    });
    summary
}

/// Finds where a table was left: behind the last whole row. Every row of the first chunk
/// of rows and of the last, and the first and last row of each between them, are computed
/// anew and must be the same.
///
/// # Errors
/// [`ResumeError`] if the table is not one of this cohort.
pub fn resume(cohort: &Cohort, mut existing: impl BufRead) -> Result<Resume, ResumeError> {
    let mut left = Resume::from_scratch();
    let mut line = Vec::new();
    existing.read_until(b'\n', &mut line)?;
    let header = header(cohort);
    if line.ends_with(b"\n") && line == without_caution(&header) {
        return Err(ResumeError::Older);
    }
    if !header.starts_with(&line) {
        return Err(ResumeError::Header);
    }
    if line.len() < header.len() {
        return Ok(left);
    }
    left.bytes = line.len() as u64;
    let (mut chunk, mut text) = (Vec::new(), Vec::new());
    let mut last_chunk = Vec::new();
    let whole;
    loop {
        let begins = text.len();
        existing.read_until(b'\n', &mut text)?;
        if text.last() != Some(&b'\n') || text.len() == begins {
            // The end, or a row that was being written.
            whole = begins;
            break;
        }
        let patient = left.patients + chunk.len() as u64 + 1;
        if patient > cohort.patients() {
            return Err(ResumeError::Longer { patients: cohort.patients() });
        }
        let row = std::str::from_utf8(&text[begins..]).ok().and_then(|line| read(cohort, line));
        let row = row.filter(|row| row.patient == patient);
        let edge = patient.is_multiple_of(CHUNK) || patient == cohort.patients();
        if (edge || chunk.is_empty())
            && row.is_some()
            && table(&cohort.rows(patient - 1..patient))? != text[begins..]
        {
            return Err(ResumeError::Other { patient });
        }
        chunk.push(row.ok_or(ResumeError::Damaged { patient })?);
        if edge {
            if left.patients == 0 {
                check_chunk(cohort, patient, &text)?;
            }
            chunk.drain(..).for_each(|row: Row| left.summary.add(&row));
            left.patients = patient;
            left.bytes += text.len() as u64;
            last_chunk = std::mem::take(&mut text);
        }
    }
    if left.patients > CHUNK {
        check_chunk(cohort, left.patients, &last_chunk)?;
    }
    if !chunk.is_empty() {
        left.patients += chunk.len() as u64;
        text.truncate(whole);
        left.bytes += whole as u64;
        check_chunk(cohort, left.patients, &text)?;
        chunk.iter().for_each(|row| left.summary.add(row));
    }
    if left.patients.is_multiple_of(CHUNK) || left.patients == cohort.patients() {
        left.summary.end_chunk();
    }
    Ok(left)
}

/// Whether a chunk that ends with a patient has the rows of the cohort.
fn check_chunk(cohort: &Cohort, last: u64, text: &[u8]) -> Result<(), ResumeError> {
    let first = (last - 1) / CHUNK * CHUNK;
    // Gas takes too long to be followed anew for all: the ends of the chunk must do.
    let (head, tail) = match cohort.file.gas {
        None => (last, last),
        Some(_) => (last.min(first + PIECE), first.max(last.saturating_sub(PIECE))),
    };
    let lines: Vec<&[u8]> = text.split_inclusive(|&b| b == b'\n').collect();
    for row in [first..head, tail..last].into_iter().flat_map(|patients| cohort.rows(patients)) {
        let line = lines.get((row.patient - 1 - first) as usize).copied();
        if line != Some(&table(std::slice::from_ref(&row))?[..]) {
            return Err(ResumeError::Other { patient: row.patient });
        }
    }
    Ok(())
}

fn header(cohort: &Cohort) -> Vec<u8> {
    let gas: &[&str] = if cohort.file.gas.is_some() { &Outcome::NAMES } else { &[] };
    let measures = Metric::ALL.map(Metric::name);
    let names: Vec<_> = [&BEFORE[..], &measures, gas, &BEHIND].concat();
    (names.join(",") + "\n").into_bytes()
}

/// The header as it was before the caution had a column.
fn without_caution(header: &[u8]) -> Vec<u8> {
    let tail = format!(",{CSV_CAUTION}\n");
    let mut older = header.strip_suffix(tail.as_bytes()).unwrap_or(header).to_vec();
    older.push(b'\n');
    older
}

/// Rows as text, one line each.
fn table(rows: &[Row]) -> io::Result<Vec<u8>> {
    let mut text = Vec::with_capacity(400 * rows.len());
    let mut table = Table::new(&mut text);
    for row in rows {
        let ventilator = &row.ventilator;
        table.whole(row.patient)?;
        let numbers = [
            row.weight.as_kg(),
            row.compliance_ml_cmh2o,
            row.resistance_cmh2o_s_l,
            row.circuit_compliance_ml_cmh2o,
            row.leak_ml_min,
            ventilator.fresh_gas_flow.as_l_per_min(),
            ventilator.cycling_pressure.as_cmh2o(),
            ventilator.inspiratory_time_limit.as_s(),
            ventilator.end_expiratory_pressure.as_cmh2o(),
        ];
        numbers.into_iter().try_for_each(|number| table.number(number))?;
        match &row.breath {
            Ok(breath) => {
                table.text(if breath.ended_by_pressure[0] { "pressure" } else { "time" })?;
                for metric in Metric::ALL {
                    table.number(metric.told(&breath.into(), row.weight))?;
                }
            }
            Err(_) => table.texts(&[""; 1 + Metric::ALL.len()])?,
        }
        match &row.gas {
            Some(outcome) => {
                outcome.numbers().into_iter().try_for_each(|number| table.number(number))?;
            }
            None if row.follows_gas => table.texts(&[""; Outcome::NAMES.len()])?,
            None => {}
        }
        for yes in [row.within_target, row.harmed] {
            table.text(if yes { "yes" } else { "no" })?;
        }
        // A row is one line, whatever an error says.
        let problem = row.breath.as_ref().err().map(|problem| problem.replace(['\n', '\r'], " "));
        table.texts(&[&problem.unwrap_or_default(), ""])?;
        table.end_row()?;
    }
    table.finish()?;
    Ok(text)
}

/// A row read back, every number to the last bit; settings that a summary does not
/// need as in the base.
fn read(cohort: &Cohort, line: &str) -> Option<Row> {
    // Nothing before the column of problems can hold a comma; the last cell is empty.
    let line = line.trim_end_matches(['\n', '\r']).strip_suffix(',')?;
    let of_gas = if cohort.file.gas.is_some() { Outcome::NAMES.len() } else { 0 };
    let columns = COLUMNS + of_gas;
    let cells: Vec<&str> = line.splitn(columns, ',').collect();
    let number = |column: usize| cells.get(column)?.parse::<f64>().ok();
    let metric = |metric: Metric| Some([number(BEFORE.len() + metric as usize)?]);
    let yes = |column: usize| match *cells.get(column)? {
        "yes" => Some(true),
        "no" => Some(false),
        _ => None,
    };
    let problem = *cells.get(columns - 1)?;
    let breath = if problem.is_empty() {
        Ok(Breaths {
            ended_by_pressure: [match *cells.get(ENDED_BY)? {
                "pressure" => true,
                "time" => false,
                _ => return None,
            }],
            inspiratory_time_s: metric(Metric::InspiratoryTime)?,
            expiratory_time_s: metric(Metric::ExpiratoryTime)?,
            inspired_tidal_volume_ml: metric(Metric::InspiredTidalVolume)?,
            expired_tidal_volume_ml: metric(Metric::ExpiredTidalVolume)?,
            peak_pressure_cmh2o: metric(Metric::PeakPressure)?,
            mean_pressure_cmh2o: metric(Metric::MeanPressure)?,
            baseline_pressure_cmh2o: metric(Metric::BaselinePressure)?,
            end_expiratory_alveolar_pressure_cmh2o: metric(Metric::EndExpiratoryAlveolarPressure)?,
            leaked_ml: metric(Metric::Leaked)?,
        })
    } else {
        Err(unquoted(problem))
    };
    let gas = match problem.is_empty() && of_gas > 0 {
        true => {
            let at = BEFORE.len() + Metric::ALL.len();
            Some(Outcome::of([number(at)?, number(at + 1)?, number(at + 2)?, number(at + 3)?]))
        }
        false => None,
    };
    Some(Row {
        patient: cells.first()?.parse().ok()?,
        weight: Mass::kg(number(1)?),
        compliance_ml_cmh2o: number(2)?,
        resistance_cmh2o_s_l: number(3)?,
        circuit_compliance_ml_cmh2o: number(4)?,
        leak_ml_min: number(5)?,
        ventilator: cohort.base.ventilator,
        breath,
        follows_gas: of_gas > 0,
        gas,
        within_target: yes(columns - 3)?,
        harmed: yes(columns - 2)?,
    })
}

/// The text of a cell as it was before it was quoted.
fn unquoted(cell: &str) -> String {
    match cell.strip_prefix('"').and_then(|cell| cell.strip_suffix('"')) {
        Some(inner) => inner.replace("\"\"", "\""),
        None => cell.to_owned(),
    }
}
