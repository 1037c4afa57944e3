//! What a cohort came to, as one JSON object in full precision.

use serde_json::{Value, json};

use super::{Cohort, Summary};
use crate::CAUTION;
use crate::metric::Metric;

/// The shares of ranks whose values are told.
pub const QUANTILES: [f64; 5] = [0.05, 0.25, 0.5, 0.75, 0.95];

/// A summary as a JSON object: counts, and for each measure its mean, ends and
/// quantiles.
#[must_use]
pub fn json(cohort: &Cohort, summary: &Summary) -> Value {
    let spreads = Metric::ALL.map(|metric| {
        let spread = summary.spread(metric);
        let known = (spread.count > 0).then(|| {
            json!({
                "mean": spread.mean(),
                "least": spread.least,
                "most": spread.most,
                "quantiles": QUANTILES.map(|q| json!({ "share": q, "value": spread.quantile(q) })),
            })
        });
        (metric.name().to_owned(), known.unwrap_or(Value::Null))
    });
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
        "measures": Value::Object(spreads.into_iter().collect()),
        "caution": CAUTION,
    })
}
