//! Why a question has no answer.

use serde_json::{Value, json};
use tidewright_scenario::Rejected;

/// Why a question has no answer.
#[derive(Debug)]
pub enum Wrong {
    /// In words, with one way to mend it.
    Told { what: String, mend: String },
    /// A text with faults.
    Faults(Box<Rejected>),
}

impl Wrong {
    pub fn told(what: impl ToString, mend: impl ToString) -> Self {
        Self::Told { what: what.to_string(), mend: mend.to_string() }
    }

    pub fn to_json(&self) -> Value {
        match self {
            Self::Told { what, mend } => json!({"wrong": {"what": what, "mend": mend}}),
            Self::Faults(rejected) => faults(rejected),
        }
    }
}

impl From<Rejected> for Wrong {
    fn from(rejected: Rejected) -> Self {
        Self::Faults(Box::new(rejected))
    }
}

/// Every fault at its place: line and column as people count them, and the bytes of the
/// text that it is about.
fn faults(rejected: &Rejected) -> Value {
    let all = rejected.faults().iter().map(|fault| {
        let place = rejected.place(fault);
        json!({
            "line": place.line,
            "column": place.column,
            "start": fault.at.start,
            "end": fault.at.end,
            "says": fault.to_string(),
            "expected": fault.expected(),
            "mend": fault.mend(),
        })
    });
    let all: Vec<Value> = all.collect();
    json!({"faults": all, "more": rejected.more(), "says": rejected.to_string()})
}
