//! Numbers, ranges and lists as parts of a sentence.

/// A number as a person writes it.
pub(super) fn plain(number: f64) -> String {
    if number.abs() >= 1e15 { format!("{number:e}") } else { format!("{number}") }
}

/// `0.5 to 100 cmH2O`.
pub(super) fn range(min: f64, max: f64, unit: &str) -> String {
    let span = if min == max { plain(min) } else { format!("{} to {}", plain(min), plain(max)) };
    format!("{span} {unit}").trim_end().to_owned()
}

pub(super) fn list(known: &[&str]) -> String {
    known.iter().map(|word| format!("`{word}`")).collect::<Vec<_>>().join(", ")
}

pub(super) fn one_of(known: &[&str]) -> String {
    if known.len() == 1 { list(known) } else { format!("one of {}", list(known)) }
}

/// The long words if they fit beside a marked text, else the others.
pub(super) fn short(long: String, other: String) -> String {
    if long.len() <= 80 { long } else { other }
}
