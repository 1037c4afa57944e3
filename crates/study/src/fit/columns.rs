//! Waveforms from comma-separated values: which column is which, in which unit.

use std::io::{self, BufRead, BufReader, Read};
use std::ops::RangeInclusive;

use thiserror::Error;
use tidewright_scenario::delimiter;

use super::Record;

/// Most samples of a record: at 100 a second, more than five hours, and some 250 MB while
/// they are fitted.
pub const MOST_SAMPLES: usize = 2_000_000;
/// Longest line of a waveform, bytes.
const LONGEST_LINE: usize = 1 << 18;

/// The names of the columns to take; those not given are found by their units.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Columns {
    /// Time.
    pub time: Option<String>,
    /// Pressure at the airway.
    pub pressure: Option<String>,
    /// Flow into the patient.
    pub flow: Option<String>,
    /// Volume in the lung.
    pub volume: Option<String>,
    /// Whether to integrate the flow even where there is a volume.
    pub integrate: bool,
}

/// A text that holds no waveform.
#[derive(Debug, Error)]
pub enum RecordError {
    /// It cannot be read.
    #[error(transparent)]
    Read(#[from] io::Error),
    /// It is not in the form of a table.
    #[error("{0}")]
    Table(#[from] csv::Error),
    /// There is no column of that name.
    #[error("there is no column `{name}`; there are {there}")]
    NoColumn {
        /// The name.
        name: String,
        /// Those that there are.
        there: String,
    },
    /// A column has no unit in its name, or one of another kind.
    #[error(
        "the column `{name}` has no unit of {what} in its name: write it there, as in {example}"
    )]
    NoUnit {
        /// The column.
        name: String,
        /// What it should hold.
        what: &'static str,
        /// How it could be called.
        example: &'static str,
    },
    /// No column has a unit of that kind.
    #[error("no column has a unit of {what} in its name: write it there, as in {example}")]
    Missing {
        /// What is missing.
        what: &'static str,
        /// How it could be called.
        example: &'static str,
    },
    /// Several columns would do.
    #[error("{names} all have a unit of {what}: say which, with --{what} NAME")]
    Several {
        /// What they hold.
        what: &'static str,
        /// Their names.
        names: String,
    },
    /// No sample lies in the part that was chosen.
    #[error("no sample lies between --from and --to: it lasts from {first_s} to {last_s} s")]
    NoneWithin {
        /// The first time, s.
        first_s: f64,
        /// The last time, s.
        last_s: f64,
    },
    /// There are more samples than a fit can use.
    #[error("it has more than {MOST_SAMPLES} samples: choose a part with --from and --to")]
    TooMany,
    /// A cell is not a number.
    #[error("line {line}: {text:?} in the column `{column}` is not a number")]
    Cell {
        /// Its line, from 1.
        line: u64,
        /// Its column.
        column: String,
        /// What stands there.
        text: String,
    },
}

/// A kind of quantity, its units, and what their numbers are multiplied by to be in
/// the unit of a [`Record`].
struct Kind {
    what: &'static str,
    example: &'static str,
    units: &'static [(&'static str, f64)],
}

const TIME: Kind = Kind {
    what: "time",
    example: "`t_s` or `Time (ms)`",
    units: &[("s", 1.0), ("sec", 1.0), ("ms", 1e-3), ("min", 60.0)],
};
/// 1 cmH2O is 98.0665 Pa and 1 mmHg 133.322387415 Pa (conventional units).
const PRESSURE: Kind = Kind {
    what: "pressure",
    example: "`airway_pressure_cmh2o` or `Paw (mbar)`",
    units: &[
        ("cmh2o", 1.0),
        ("mbar", 100.0 / 98.0665),
        ("hpa", 100.0 / 98.0665),
        ("kpa", 1000.0 / 98.0665),
        ("pa", 1.0 / 98.0665),
        ("mmhg", 133.322_387_415 / 98.0665),
    ],
};
const FLOW: Kind = Kind {
    what: "flow",
    example: "`airway_flow_ml_s` or `Flow (L/min)`",
    units: &[
        ("ml_s", 1.0),
        ("l_s", 1e3),
        ("l_min", 1e3 / 60.0),
        ("lpm", 1e3 / 60.0),
        ("ml_min", 1.0 / 60.0),
    ],
};
const VOLUME: Kind = Kind {
    what: "volume",
    example: "`lung_volume_ml` or `Volume (L)`",
    units: &[("ml", 1.0), ("l", 1e3)],
};

impl Record {
    /// Reads a waveform. The first line names the columns, each with its unit at the
    /// end or in brackets: `t_s`, `Flow (L/min)`. Commas, semicolons or tabs part the
    /// cells; with the latter two, numbers may have decimal commas. Lines that begin
    /// with `#` are left out.
    ///
    /// Of several columns of a kind, the only one whose name has `airway`, `aw` or
    /// `lung` in it is taken.
    ///
    /// # Errors
    /// [`RecordError`], with the place and what would mend it.
    ///
    /// ```
    /// use tidewright_study::fit::{Columns, Record};
    /// let text = "Time [ms];Paw (mbar);Flow (L/min)\n0;5,0;6\n10;5,5;12\n";
    /// let record = Record::read(text.as_bytes(), &Columns::default())?;
    /// assert_eq!(record.time_s, [0.0, 0.01]);
    /// assert_eq!(record.flow_ml_s, [100.0, 200.0]);
    /// assert!((record.pressure_cmh2o[0] - 5.0986).abs() < 1e-4);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn read(from: impl Read, columns: &Columns) -> Result<Self, RecordError> {
        Self::read_part(from, columns, f64::NEG_INFINITY..=f64::INFINITY)
    }

    /// As [`Record::read`], keeping only the samples of some times, in seconds. The text is
    /// read as it comes: memory grows with what is kept, and that has at most
    /// [`MOST_SAMPLES`].
    ///
    /// # Errors
    /// [`RecordError`], with the place and what would mend it.
    pub fn read_part(
        from: impl Read,
        columns: &Columns,
        times_s: RangeInclusive<f64>,
    ) -> Result<Self, RecordError> {
        let mut text = BufReader::with_capacity(LONGEST_LINE, Lines { from, without_end: 0 });
        let head = text.fill_buf()?;
        let mark = if head.starts_with(b"\xef\xbb\xbf") { 3 } else { 0 };
        let delimiter = delimiter(&head[mark..]);
        text.consume(mark);
        let mut reader = csv::ReaderBuilder::new()
            .delimiter(delimiter)
            .comment(Some(b'#'))
            .trim(csv::Trim::All)
            .from_reader(text);
        let names: Vec<String> = reader.headers()?.iter().map(str::to_owned).collect();
        let find = |kind: &Kind, name: &Option<String>| find(kind, &names, name.as_deref());
        let time = find(&TIME, &columns.time)?;
        let pressure = find(&PRESSURE, &columns.pressure)?;
        let flow = find(&FLOW, &columns.flow)?;
        let volume = match (find(&VOLUME, &columns.volume), columns.integrate) {
            (_, true) | (Err(RecordError::Missing { .. }), _) => None,
            (found, _) => Some(found?),
        };

        let mut record = Self::default();
        let mut left_out = None;
        let mut row = csv::StringRecord::new();
        while reader.read_record(&mut row)? {
            let line = row.position().map_or(0, csv::Position::line);
            let number = |(index, factor): (usize, f64)| {
                let cell = row.get(index).unwrap_or_default();
                let plain = cell.parse::<f64>().ok();
                let comma = || cell.replace(',', ".").parse().ok().filter(|_| delimiter != b',');
                let value = plain.or_else(comma).filter(|value| value.is_finite());
                value.map(|value: f64| factor * value).ok_or_else(|| RecordError::Cell {
                    line,
                    column: names.get(index).cloned().unwrap_or_default(),
                    text: cell.to_owned(),
                })
            };
            let time_s = number(time)?;
            if !times_s.contains(&time_s) {
                left_out.get_or_insert((time_s, time_s)).1 = time_s;
                continue;
            }
            if record.time_s.len() == MOST_SAMPLES {
                return Err(RecordError::TooMany);
            }
            record.time_s.push(time_s);
            record.pressure_cmh2o.push(number(pressure)?);
            record.flow_ml_s.push(number(flow)?);
            if let Some(volume) = volume {
                record.volume_ml.get_or_insert_default().push(number(volume)?);
            }
        }
        match left_out {
            Some((first_s, last_s)) if record.time_s.is_empty() => {
                Err(RecordError::NoneWithin { first_s, last_s })
            }
            _ => Ok(record),
        }
    }
}

/// A text whose lines have an end: one that has none would fill the memory.
struct Lines<R> {
    from: R,
    without_end: usize,
}

impl<R: Read> Read for Lines<R> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let count = self.from.read(into)?;
        let read = &into[..count];
        self.without_end = match read.iter().rposition(|&byte| byte == b'\n') {
            Some(end) => count - end - 1,
            None => self.without_end + count,
        };
        if self.without_end > LONGEST_LINE {
            let what = format!("a line of it is longer than {} KiB", LONGEST_LINE / 1024);
            return Err(io::Error::new(io::ErrorKind::InvalidData, what));
        }
        Ok(count)
    }
}

/// The column of a kind, and the factor of its unit.
fn find(kind: &Kind, names: &[String], wanted: Option<&str>) -> Result<(usize, f64), RecordError> {
    let Kind { what, example, .. } = *kind;
    if let Some(wanted) = wanted {
        let index = names.iter().position(|name| name == wanted);
        let index = index.ok_or_else(|| RecordError::NoColumn {
            name: wanted.to_owned(),
            there: names.join(", "),
        })?;
        let factor = kind.factor(wanted);
        let name = wanted.to_owned();
        return factor.map(|factor| (index, factor)).ok_or(RecordError::NoUnit {
            name,
            what,
            example,
        });
    }
    let all = names.iter().enumerate();
    let all = all.filter_map(|(index, name)| Some((index, name, kind.factor(name)?)));
    let all: Vec<_> = all.collect();
    let at_airway = |name: &str| {
        let name = name.to_lowercase();
        name.contains("airway") || name.contains("aw") || name.contains("lung")
    };
    let airway: Vec<_> = all.iter().filter(|(_, name, _)| at_airway(name)).collect();
    match (&all[..], &airway[..]) {
        ([], _) => Err(RecordError::Missing { what, example }),
        ([(index, _, factor)], _) | (_, [(index, _, factor)]) => Ok((*index, *factor)),
        _ => {
            let names = all.iter().map(|(_, name, _)| format!("`{name}`"));
            let names = names.collect::<Vec<_>>().join(", ");
            Err(RecordError::Several { what, names })
        }
    }
}

impl Kind {
    /// The factor of the unit that a name ends in, if it is one of this kind and no
    /// longer unit of another kind ends it.
    fn factor(&self, name: &str) -> Option<f64> {
        let plain: String = name
            .to_lowercase()
            .replace('₂', "2")
            .chars()
            .map(|c| if c.is_alphanumeric() { c } else { '_' })
            .collect();
        let plain = plain.trim_matches('_');
        let ends = |unit: &str| {
            plain.strip_suffix(unit).is_some_and(|rest| rest.is_empty() || rest.ends_with('_'))
        };
        let kinds = [&TIME, &PRESSURE, &FLOW, &VOLUME];
        let units = kinds.iter().flat_map(|kind| kind.units.iter().map(|(unit, _)| *unit));
        let longest = units.filter(|unit| ends(unit)).max_by_key(|unit| unit.len())?;
        self.units.iter().find(|(unit, _)| *unit == longest).map(|(_, factor)| *factor)
    }
}
