//! A field of a scenario and the values that it is to take.

use std::str::FromStr;

use thiserror::Error;

use crate::field::{Field, FieldError};

/// Most values of one axis.
pub const MOST_VALUES: usize = 100_000;

/// A field and the values that it takes, one after the other.
///
/// As text, a list or a range with its step: `circuit.leak.ml_min=0,100,300` or
/// `ventilator.fresh_gas_flow_l_min=0.5..3:0.1`.
///
/// ```
/// use tidewright_study::sweep::Axis;
/// let axis: Axis = "ventilator.fresh_gas_flow_l_min=0.5..0.9:0.1".parse()?;
/// assert_eq!(axis.values, [0.5, 0.6, 0.7, 0.8, 0.9]);
/// # Ok::<(), tidewright_study::sweep::AxisError>(())
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct Axis {
    /// The field.
    pub field: Field,
    /// Its values; one at least.
    pub values: Vec<f64>,
}

/// A text that is no axis.
#[derive(Debug, Error)]
pub enum AxisError {
    /// There is no `=`.
    #[error("{0:?} is no axis: write PATH=1,2,3 or PATH=FROM..TO:STEP")]
    Form(String),
    /// The field's path is none.
    #[error(transparent)]
    Field(#[from] FieldError),
    /// A value is not a finite number.
    #[error("{0:?} is not a number")]
    Number(String),
    /// A range that has no end, no step or no values.
    #[error("{0:?} is no range: write FROM..TO:STEP with a step above 0 and TO not below FROM")]
    Range(String),
    /// Too many values.
    #[error("{0} values: at most {MOST_VALUES}")]
    TooMany(f64),
}

impl FromStr for Axis {
    type Err = AxisError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let (path, values) =
            text.split_once('=').ok_or_else(|| AxisError::Form(text.to_owned()))?;
        let field = path.trim().parse()?;
        let values = match values.split_once("..") {
            Some((from, rest)) => range(values, from, rest)?,
            None => values.split(',').map(number).collect::<Result<_, _>>()?,
        };
        Ok(Self { field, values })
    }
}

fn range(text: &str, from: &str, rest: &str) -> Result<Vec<f64>, AxisError> {
    let wrong = || AxisError::Range(text.to_owned());
    let (to, step) = rest.split_once(':').ok_or_else(wrong)?;
    let digits = decimals(from).max(decimals(step));
    let (from, to, step) = (number(from)?, number(to)?, number(step)?);
    if step <= 0.0 || to < from {
        return Err(wrong());
    }
    // The last value may miss TO by rounding.
    let count = ((to - from) / step + 1e-9).floor() + 1.0;
    if count > MOST_VALUES as f64 {
        return Err(AxisError::TooMany(count));
    }
    // As a person would write them: 0.7, not 0.7000000000000001.
    let value = |k: usize| {
        let text = format!("{:.digits$}", from + k as f64 * step);
        text.parse().unwrap_or(from + k as f64 * step)
    };
    Ok((0..count as usize).map(value).collect())
}

fn number(text: &str) -> Result<f64, AxisError> {
    let value = text.trim().parse::<f64>().ok().filter(|value| value.is_finite());
    value.ok_or_else(|| AxisError::Number(text.to_owned()))
}

/// Digits behind the point; many where a power of ten is written.
fn decimals(text: &str) -> usize {
    if text.contains(['e', 'E']) {
        return 17;
    }
    text.trim().split_once('.').map_or(0, |(_, digits)| digits.len())
}
