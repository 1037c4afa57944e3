//! What a cohort came to.

use super::counts::Counts;
use super::gas::Outcome;
use super::{CHUNK, Row};
use crate::Metric;

/// What a cohort came to: counts, and the spread of every measure.
///
/// Quantiles are within 0.05 % of a value of their rank (or 1e-9); smallest, largest
/// and counts are exact; memory does not grow with the patients.
#[derive(Clone, Debug, PartialEq)]
pub struct Summary {
    /// Patients so far.
    pub patients: u64,
    /// Of these, without a breath.
    pub without_breath: u64,
    /// Of these, with a breath ended by reaching the cycling pressure.
    pub ended_by_pressure: u64,
    /// Of these, with every target met.
    pub within_target: u64,
    /// Of these, harmed.
    pub harmed: u64,
    /// Of these, within the target and not harmed.
    pub well: u64,
    spreads: Vec<Spread>,
    of_gas: Vec<Spread>,
    /// Why the first patient without a breath has none.
    pub first_problem: Option<(u64, String)>,
}

/// The spread of one measure over the patients that have a breath.
#[derive(Clone, Debug, PartialEq)]
pub struct Spread {
    /// How many there are.
    pub count: u64,
    /// The smallest.
    pub least: f64,
    /// The largest.
    pub most: f64,
    sum: f64,
    /// The sum of the chunk that is not yet whole.
    chunk_sum: f64,
    counts: Counts,
}

impl Default for Summary {
    fn default() -> Self {
        Self::new()
    }
}

impl Summary {
    /// Of no patient yet.
    #[must_use]
    pub fn new() -> Self {
        let none = Spread {
            count: 0,
            least: f64::INFINITY,
            most: f64::NEG_INFINITY,
            sum: 0.0,
            chunk_sum: 0.0,
            counts: Counts::default(),
        };
        Self {
            patients: 0,
            without_breath: 0,
            ended_by_pressure: 0,
            within_target: 0,
            harmed: 0,
            well: 0,
            of_gas: vec![none.clone(); Outcome::NAMES.len()],
            spreads: vec![none; Metric::ALL.len()],
            first_problem: None,
        }
    }

    /// Of some rows.
    #[must_use]
    pub fn of(rows: &[Row]) -> Self {
        let mut summary = Self::new();
        rows.iter().for_each(|row| summary.add(row));
        summary
    }

    /// Counts in the next patient.
    pub(super) fn add(&mut self, row: &Row) {
        if self.patients.is_multiple_of(CHUNK) {
            self.end_chunk();
        }
        self.patients += 1;
        self.within_target += u64::from(row.within_target);
        self.harmed += u64::from(row.harmed);
        self.well += u64::from(row.within_target && !row.harmed);
        let breath = match &row.breath {
            Ok(breath) => breath,
            Err(problem) => {
                self.without_breath += 1;
                self.first_problem.get_or_insert_with(|| (row.patient, problem.clone()));
                return;
            }
        };
        self.ended_by_pressure += u64::from(breath.ended_by_pressure[0]);
        for (spread, metric) in self.spreads.iter_mut().zip(Metric::ALL) {
            spread.add(metric.told(&breath.into(), row.weight));
        }
        if let Some(outcome) = &row.gas {
            for (spread, number) in self.of_gas.iter_mut().zip(outcome.numbers()) {
                spread.add(number);
            }
        }
    }

    /// Ends a chunk of patients counted in one by one: behind 4096 of them, or the last.
    pub(super) fn end_chunk(&mut self) {
        self.spreads.iter_mut().chain(&mut self.of_gas).for_each(Spread::end_chunk);
    }

    /// Counts in the patients that come after these, where these are whole chunks. The
    /// sum of a measure is made chunk by chunk, so that it has the same bits whether
    /// chunks are summed side by side or patients one by one.
    pub fn append(&mut self, later: Self) {
        self.patients += later.patients;
        self.without_breath += later.without_breath;
        self.ended_by_pressure += later.ended_by_pressure;
        self.within_target += later.within_target;
        self.harmed += later.harmed;
        self.well += later.well;
        for (spread, later) in self.spreads.iter_mut().zip(&later.spreads) {
            spread.append(later);
        }
        for (spread, later) in self.of_gas.iter_mut().zip(&later.of_gas) {
            spread.append(later);
        }
        self.first_problem = self.first_problem.take().or(later.first_problem);
    }

    /// The spread of each number of [`Outcome`], in the order of its names; empty ones where
    /// no gas is followed.
    #[must_use]
    pub fn of_gas(&self) -> &[Spread] {
        &self.of_gas
    }

    /// The spread of a measure.
    #[must_use]
    pub fn spread(&self, metric: Metric) -> &Spread {
        &self.spreads[metric as usize]
    }
}

impl Spread {
    fn add(&mut self, value: f64) {
        self.count += 1;
        self.least = self.least.min(value);
        self.most = self.most.max(value);
        self.chunk_sum += value;
        self.counts.add(value);
    }

    fn end_chunk(&mut self) {
        self.sum += std::mem::take(&mut self.chunk_sum);
    }

    fn append(&mut self, later: &Self) {
        self.count += later.count;
        self.least = self.least.min(later.least);
        self.most = self.most.max(later.most);
        self.end_chunk();
        self.sum += later.sum + later.chunk_sum;
        self.counts.append(&later.counts);
    }

    /// The mean; `None` of nothing.
    #[must_use]
    pub fn mean(&self) -> Option<f64> {
        (self.count > 0).then(|| (self.sum + self.chunk_sum) / self.count as f64)
    }

    /// The value that the share `q` (0 to 1) does not exceed; `None` of nothing.
    #[must_use]
    pub fn quantile(&self, q: f64) -> Option<f64> {
        if self.count == 0 {
            return None;
        }
        match q {
            _ if q <= 0.0 => Some(self.least),
            _ if q >= 1.0 => Some(self.most),
            _ => Some(self.counts.quantile(q, self.count)?.clamp(self.least, self.most)),
        }
    }
}
