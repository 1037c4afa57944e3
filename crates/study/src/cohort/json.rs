//! What a cohort came to, as one JSON object in full precision.

use serde_json::{Value, json};

use super::gas::Outcome;
use super::{Cohort, Spread, Summary};
use crate::CAUTION;
use crate::Metric;

/// The shares of ranks whose values are told.
pub const QUANTILES: [f64; 5] = [0.05, 0.25, 0.5, 0.75, 0.95];

/// A summary as a JSON object: counts, and for each measure its mean, ends and
/// quantiles.
#[must_use]
pub fn json(cohort: &Cohort, summary: &Summary) -> Value {
    let spreads = Metric::ALL.map(|metric| (metric.name(), summary.spread(metric)));
    let of_gas = Outcome::NAMES.into_iter().zip(summary.of_gas());
    let of_gas = of_gas.filter(|_| cohort.file.gas.is_some());
    let measures = spreads.into_iter().chain(of_gas);
    let measures = measures.map(|(name, spread)| (name.to_owned(), told(spread)));
    json!({
        "cohort": cohort.file.id.as_str(),
        "seed": cohort.file.seed,
        "patients": summary.patients,
        "without_breath": summary.without_breath,
        "ended_by_pressure": summary.ended_by_pressure,
        "within_target": summary.within_target,
        "harmed": summary.harmed,
        "within_target_and_not_harmed": summary.well,
        "first_problem": summary.first_problem.as_ref().map(
            |(patient, problem)| json!({ "patient": patient, "problem": problem }),
        ),
        "measures": Value::Object(measures.collect()),
        "caution": CAUTION,
    })
}

fn told(spread: &Spread) -> Value {
    if spread.count == 0 {
        return Value::Null;
    }
    json!({
        "mean": spread.mean(),
        "least": spread.least,
        "most": spread.most,
        "quantiles": QUANTILES.map(|q| json!({ "share": q, "value": spread.quantile(q) })),
    })
}
