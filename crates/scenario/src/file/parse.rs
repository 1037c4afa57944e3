//! From the bytes of a file to a checked scenario.

use crate::checks::{self, lesson_gas, training};
use crate::fault::{Fault, Faults, Problem, Rejected};
use crate::file::journal::{self, is_journal};
pub use crate::file::size::LARGEST_FILE;
use crate::file::size::too_big;
use crate::file::write::in_json;
use crate::format::{Act, Attempt, Scenario, Sealed, TimedAct};
use crate::read::{Read, Reader, any};
use crate::text::{self, Dialect, Kind, Node, Span};

/// Reads a scenario from the text of a file.
///
/// The name only serves the messages and, with the ending `.json`, the choice
/// of [`Dialect`].
///
/// # Errors
/// [`Rejected`] with every fault of the text.
pub fn parse(file_name: &str, text: &str) -> Result<Scenario, Rejected> {
    parse_as(file_name, text, "Scenario", |scenario, root, faults| {
        checks::check(scenario, root, faults);
        training::check(scenario, root, faults);
        lesson_gas::check(scenario, root, faults);
    })
}

/// Reads the log of an attempt, whole or still a journal; otherwise as [`parse`].
///
/// A journal is read up to its last whole line. Where it does not say how the session
/// ended, [`Attempt::cut_off`] says so.
///
/// ```
/// use tidewright_scenario::format::Cut;
/// let text = "Journal(format: 1, scenario: \"juno\", seed: 7, engine: \"0.1.0\", pseudonym: \"a\")
/// Did(at_s: 12.5, act: Listen)
/// Clock(at_s: 13.5)
/// Did(at_s: 14, a";
/// let attempt = tidewright_scenario::parse_attempt("juno.ron", text)?;
/// assert_eq!((attempt.acts.len(), attempt.ended_at_s), (1, 13.5));
/// assert_eq!(attempt.cut_off, Some(Cut::Unknown));
/// # Ok::<(), tidewright_scenario::Rejected>(())
/// ```
///
/// # Errors
/// [`Rejected`] with every fault of the text.
pub fn parse_attempt(file_name: &str, text: &str) -> Result<Attempt, Rejected> {
    if is_journal(text) {
        return journal::read(file_name, text);
    }
    parse_as(file_name, text, "Attempt", training::check_attempt)
}

/// Holds an act that was made in code against the ranges of a log.
///
/// ```
/// use tidewright_scenario::format::{Act, FreshGasFlow};
/// let flow = |l_min| Act::FreshGasFlow(FreshGasFlow { l_min });
/// assert!(tidewright_scenario::check_act(&flow(2.0)).is_ok());
/// assert!(tidewright_scenario::check_act(&Act::Listen).is_ok());
/// assert!(tidewright_scenario::check_act(&flow(5000.0)).is_err());
/// ```
///
/// # Errors
/// [`Rejected`] with every fault of the act.
pub fn check_act(act: &Act) -> Result<(), Rejected> {
    let timed = TimedAct { at_s: 0.0, act: act.clone() };
    parse_as("act.json", &in_json(&timed), "TimedAct", |_: &TimedAct, _, _| {}).map(drop)
}

/// Reads a sealed exam, sealed as it is; otherwise as [`parse`].
///
/// # Errors
/// [`Rejected`] with every fault of the text.
pub fn parse_sealed(file_name: &str, text: &str) -> Result<Sealed, Rejected> {
    parse_as(file_name, text, "Sealed", |_: &Sealed, _, _| {})
}

/// Whether a text is meant as the log of an attempt, and not as a scenario: by its
/// name, or by the fields that only a log has. It may have faults.
#[must_use]
pub fn is_attempt(file_name: &str, text: &str) -> bool {
    if is_journal(text) {
        return true;
    }
    let root = root_of(file_name, text);
    match &root.kind {
        Kind::Named(name, _) => name.text == "Attempt",
        _ => root.get("pseudonym").is_some() && root.get("patient").is_none(),
    }
}

/// Whether a text is meant as a scenario, and not as a file that names one: by its name,
/// or by the fields that only a scenario has. It may have faults.
#[must_use]
pub fn is_scenario(file_name: &str, text: &str) -> bool {
    let root = root_of(file_name, text);
    match &root.kind {
        Kind::Named(name, _) => name.text == "Scenario",
        _ => ["patient", "ventilator", "duration_s"].iter().any(|key| root.get(key).is_some()),
    }
}

fn root_of(file_name: &str, text: &str) -> Node {
    let text = text.strip_prefix('\u{FEFF}').unwrap_or(text);
    text::parse(text, Dialect::of(file_name, text), &mut Faults::default())
}

/// Reads a text of any declared format, and checks what must go together in it.
///
/// # Errors
/// [`Rejected`] with every fault of the text.
#[doc(hidden)]
pub fn parse_as<T: Read>(
    file_name: &str,
    text: &str,
    name: &str,
    check: impl FnOnce(&T, &Node, &mut Faults),
) -> Result<T, Rejected> {
    if text.len() > LARGEST_FILE {
        return Err(too_big(file_name));
    }
    let mut faults = Faults::default();
    // Some editors begin a text with a mark of its byte order.
    let text = text.strip_prefix('\u{FEFF}').unwrap_or(text);
    let dialect = Dialect::of(file_name, text);
    let root = text::parse(text, dialect, &mut faults);
    let mut reader = Reader { dialect, faults: &mut faults, around: Vec::new() };
    let read = T::read(&root, name, &any(), &mut reader);
    if let Some(read) = &read {
        check(read, &root, &mut faults);
    }
    match read {
        Some(read) if faults.count() == 0 => Ok(read),
        _ => Err(Rejected::new(file_name, text, faults)),
    }
}

/// Reads a scenario from the bytes of a file.
///
/// To keep a huge file out of memory, read one byte more than [`LARGEST_FILE`]
/// at most.
///
/// # Errors
/// [`Rejected`] with every fault of the text, or that it is not text at all.
pub fn parse_bytes(file_name: &str, bytes: &[u8]) -> Result<Scenario, Rejected> {
    parse(file_name, text_of(file_name, bytes)?)
}

/// The text that the bytes of a file are.
///
/// # Errors
/// [`Rejected`] where they are too many, or not text.
#[doc(hidden)]
pub fn text_of<'a>(file_name: &str, bytes: &'a [u8]) -> Result<&'a str, Rejected> {
    match std::str::from_utf8(bytes) {
        Ok(text) => Ok(text),
        Err(_) if bytes.len() > LARGEST_FILE => Err(too_big(file_name)),
        Err(error) => {
            let at = error.valid_up_to();
            let fault = Fault::new(Span::new(at, at + 1), Problem::NotUtf8);
            Err(Rejected::one(file_name, &String::from_utf8_lossy(bytes), fault))
        }
    }
}
