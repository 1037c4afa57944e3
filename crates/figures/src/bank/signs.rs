//! What each fault does to a breath, and which fault shows such a breath.

use tidewright::breath::{Breath, EndedBy};

use super::{Bank, Question};
use crate::draw::DrawFileError;
use crate::plot::ticks::number;
use crate::signs_chart::{CAT, Sign};

/// A measure must change by more than the first to be asked as changed, and by less than
/// the second to be asked as unchanged: what lies between is a matter of taste.
const CHANGED: f64 = 0.05;
const UNCHANGED: f64 = 0.01;

type Measure = (&'static str, &'static str, fn(&Breath) -> f64);
const MEASURES: [Measure; 4] = [
    ("inspiratory time", "s", |b| b.inspiratory_time.as_s()),
    ("expired volume at the patient connection", "mL", |b| b.expired_at_airway.as_ml()),
    ("rate", "per min", Breath::rate_per_min),
    ("true peak pressure", "cmH₂O", |b| b.peak_pressure.as_cmh2o()),
];

pub(super) fn add(bank: &mut Bank) -> Result<usize, DrawFileError> {
    let healthy = Sign::healthy()?;
    let signs = Sign::all(&healthy)?;
    let before = bank.questions.len();
    for sign in &signs {
        let named = named(sign);
        for Turn { measure, right, told } in turns(&healthy.breath, &sign.breath) {
            let asks = vec![
                cat(),
                format!(
                    "This comes at once: {named}. After 80 s, which way has the {measure} gone?"
                ),
            ];
            bank.ask_way("signs", asks, right, format!("{named}: {told}"));
        }
        // Of faults that show the same, one cannot be told from the other by a breath: nor is
        // such a fault a wrong answer at another severity.
        let alike = |name: &str| {
            signs.iter().any(|other| other.pattern == sign.pattern && other.name == name)
        };
        let wrong = signs.iter().filter(|other| !alike(&other.name)).map(self::named).collect();
        bank.questions.push(Question {
            id: bank.next_id("signs"),
            asks: vec![
                cat(),
                format!("Healthy: {}.", told(&healthy.breath)),
                format!("80 s after something came at once: {}.", told(&sign.breath)),
                "Which of these shows so?".to_owned(),
            ],
            picture: None,
            right: named.clone(),
            wrong,
            most_wrong: 4,
            because: format!("{named}."),
        });
    }
    Ok(bank.questions.len() - before)
}

/// Which way a measure went from one breath to another, surely enough to be asked.
pub(super) struct Turn {
    pub measure: &'static str,
    /// Place among [`super::WAYS`].
    pub right: usize,
    /// Both values with their unit.
    pub told: String,
}

pub(super) fn turns(before: &Breath, after: &Breath) -> impl Iterator<Item = Turn> {
    let values = MEASURES.map(|(measure, unit, of)| (measure, unit, of(before), of(after)));
    values.into_iter().filter_map(|(measure, unit, was, is)| {
        let change = is / was - 1.0;
        let right = match change {
            change if change > CHANGED => 0,
            change if change < -CHANGED => 1,
            change if change.abs() < UNCHANGED => 2,
            _ => return None,
        };
        Some(Turn { measure, right, told: format!("{} → {} {unit}.", number(was), number(is)) })
    })
}

fn named(sign: &Sign) -> String {
    let severity = sign.severity.map(|severity| format!(", severity {}", number(severity)));
    format!("{}{}", sign.name, severity.unwrap_or_default())
}

fn cat() -> String {
    // What a row is, is said on the chart alone.
    let end = CAT.find(" Each row").unwrap_or(CAT.len());
    CAT[..end].to_owned()
}

fn told(breath: &Breath) -> String {
    let ended = match breath.ended_by {
        EndedBy::Pressure => "ended by pressure",
        EndedBy::Time => "ended by the time limit",
        EndedBy::Standby => "ended by standby",
    };
    let measures =
        MEASURES.iter().map(|(name, unit, of)| format!("{name} {} {unit}", number(of(breath))));
    let baseline = format!("baseline {} cmH₂O", number(breath.baseline_pressure.as_cmh2o()));
    let all: Vec<String> =
        std::iter::once(ended.to_owned()).chain(measures).chain([baseline]).collect();
    all.join(", ")
}
