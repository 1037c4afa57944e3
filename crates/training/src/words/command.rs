//! Acts as a person types them: `flow 2`, `listen`, `answer cause 2`.

mod words;

use thiserror::Error;
use tidewright_scenario::check_act;
use tidewright_scenario::format::{
    Act, ActName, AlarmLimit, Answer, Arrow, CuffPressure, CyclingPressure, ExpiratoryTime,
    FreshGasFlow, Guess, Id, InspiratoryTimeLimit, Mode, Note, OneCheck, OnePort, Thumb, TwoPorts,
};

use words::RESULTS;
pub use words::{ALARMS, ALSO, WORDS};

/// What cannot be understood.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum NotUnderstood {
    /// No such word.
    #[error("`{0}` is no act; `help` lists them")]
    Word(String),
    /// A result, which no control sets.
    #[error("no control sets the {word}: it follows from {from}")]
    Result {
        /// The result.
        word: &'static str,
        /// What it follows from.
        from: &'static str,
    },
    /// The word needs something else after it.
    #[error("write `{word} {after}`{}", example(word))]
    After {
        /// The word.
        word: &'static str,
        /// What follows it.
        after: &'static str,
    },
    /// The value is out of range.
    #[error("{0}")]
    Value(String),
}

/// An example of what is typed, where a number follows.
fn example(word: &str) -> String {
    match word {
        "squeeze" => return ", as in `squeeze 0.2 2`".to_owned(),
        "join" => return ", as in `join limb.far ventilator.patient-side`".to_owned(),
        "part" => return ", as in `part limb.far`".to_owned(),
        _ => {}
    }
    let number = match word {
        "flow" | "limit" | "expiration" => 2,
        "pressure" => 10,
        "cuff" => 25,
        _ => return String::new(),
    };
    format!(", as in `{word} {number}`")
}

/// What an act is called in a sentence: the word that is typed.
#[must_use]
pub fn words_of(name: ActName) -> &'static str {
    WORDS.iter().find(|(known, ..)| *known == name).map_or("", |(_, word, ..)| word)
}

/// Reads an act as it was typed.
///
/// # Errors
/// [`NotUnderstood`].
///
/// ```
/// use tidewright_training::command::parse;
/// assert!(parse("flow 2.5").is_ok());
/// assert_eq!(parse("flow").unwrap_err().to_string(), "write `flow L/min`, as in `flow 2`");
/// assert!(parse("flow 5000").is_err());
/// assert_eq!(parse("Time limit 2.5 s"), parse("limit 2.5"));
/// ```
pub fn parse(line: &str) -> Result<Act, NotUnderstood> {
    let line = plain_words(line);
    let (word, rest) = line.split_once(' ').unwrap_or((&line, ""));
    let rest = rest.trim();
    let known = WORDS.iter().find(|(_, known, ..)| *known == word);
    let &(name, word, after, _) = known.ok_or_else(|| not_known(&line, word))?;
    let wrong = NotUnderstood::After { word, after };
    let number = || {
        // The unit may be typed with the number.
        let (value, unit) = rest.split_once(' ').unwrap_or((rest, after));
        let pointed = value.replace(',', ".");
        if pointed != value && pointed.parse::<f64>().is_ok() {
            let mend = format!("a decimal point is `.`: write `{word} {pointed}`");
            return Err(NotUnderstood::Value(mend));
        }
        let value = value.parse::<f64>().ok().filter(|n| n.is_finite());
        value.filter(|_| unit.trim().eq_ignore_ascii_case(after)).ok_or(wrong.clone())
    };
    let act = match name {
        ActName::FreshGasFlow => Act::FreshGasFlow(FreshGasFlow { l_min: number()? }),
        ActName::CyclingPressure => Act::CyclingPressure(CyclingPressure { cmh2o: number()? }),
        ActName::InspiratoryTimeLimit => {
            Act::InspiratoryTimeLimit(InspiratoryTimeLimit { s: number()? })
        }
        ActName::ExpiratoryTime => Act::ExpiratoryTime(ExpiratoryTime { s: number()? }),
        ActName::InflateCuff => Act::InflateCuff(CuffPressure { cmh2o: number()? }),
        ActName::Mode => Act::Mode(match &*rest.to_ascii_lowercase() {
            "ventilating" => Mode::Ventilating,
            "standby" => Mode::Standby,
            _ => return Err(wrong),
        }),
        ActName::Record if rest.is_empty() => return Err(wrong),
        ActName::Record => Act::Record(Note { text: rest.to_owned() }),
        ActName::Answer => {
            let (question, choice) = rest.split_once(' ').ok_or(wrong.clone())?;
            let choice = choice.trim().parse().map_err(|_| wrong.clone())?;
            Act::Answer(Answer { question: Id::new(question).ok_or(wrong)?, choice })
        }
        ActName::Predict => {
            let (prediction, goes) = rest.split_once(' ').ok_or(wrong.clone())?;
            let goes = match goes.trim() {
                "up" => Arrow::Up,
                "same" => Arrow::Same,
                "down" => Arrow::Down,
                _ => return Err(wrong),
            };
            Act::Predict(Guess { prediction: Id::new(prediction).ok_or(wrong)?, goes })
        }
        ActName::SetAlarm => {
            let (name, at) = rest.split_once(' ').ok_or(wrong.clone())?;
            Act::SetAlarm(alarm(name, at.trim()).ok_or_else(|| not_an_alarm(rest))?)
        }
        ActName::Squeeze => {
            let (ml, s) = rest.split_once(' ').ok_or(wrong.clone())?;
            let number = |text: &str| text.trim().parse::<f64>().ok().filter(|n| n.is_finite());
            let (Some(ml), Some(s)) = (number(ml), number(s)) else { return Err(wrong) };
            Act::Squeeze(Thumb { ml, s })
        }
        ActName::Join => {
            let (a, b) = rest.split_once(' ').ok_or(wrong)?;
            Act::Join(TwoPorts { a: a.to_owned(), b: b.trim().to_owned() })
        }
        ActName::Part if rest.is_empty() => return Err(wrong),
        // What it is parted from may be typed, too.
        ActName::Part => {
            let port = rest.split_once(' ').map_or(rest, |(port, _)| port);
            Act::Part(OnePort { port: port.to_owned() })
        }
        ActName::Check => Act::Check(OneCheck { check: Id::new(rest).ok_or(wrong)? }),
        ActName::PutRight => Act::PutRight(OneCheck { check: Id::new(rest).ok_or(wrong)? }),
        plain => Act::plain(plain).ok_or(wrong)?,
    };
    in_range(act)
}

fn alarm(name: &str, at: &str) -> Option<AlarmLimit> {
    let name = name.to_ascii_lowercase();
    let &(of, ..) = ALARMS.iter().find(|(_, known, ..)| *known == name)?;
    if at.eq_ignore_ascii_case("off") {
        return Some(AlarmLimit { of, at: None });
    }
    let number = at.split(' ').next()?.parse::<f64>().ok()?;
    number.is_finite().then_some(AlarmLimit { of, at: Some(number) })
}

fn not_an_alarm(typed: &str) -> NotUnderstood {
    let names = ALARMS.map(|(_, name, unit, above)| {
        format!("`alarm {name} LIMIT` ({} so many {unit})", if above { "above" } else { "below" })
    });
    NotUnderstood::Value(format!(
        "`{typed}` is no alarm: write {}, or `off` for the limit",
        names.join(", ")
    ))
}

fn not_known(line: &str, word: &str) -> NotUnderstood {
    let typed = line.to_lowercase();
    let result = RESULTS.iter().find(|(result, _)| {
        typed.strip_prefix(result).is_some_and(|rest| rest.is_empty() || rest.starts_with(' '))
    });
    match result {
        Some(&(word, from)) => NotUnderstood::Result { word, from },
        None => NotUnderstood::Word(word.to_owned()),
    }
}

/// The line with the word of [`WORDS`] in place of what else people type for it.
fn plain_words(line: &str) -> String {
    let line = line.trim();
    let rest_after = |typed: &str| {
        let rest = line.get(typed.len()..)?;
        let same = line.get(..typed.len())?.eq_ignore_ascii_case(typed);
        (same && (rest.is_empty() || rest.starts_with(' '))).then_some(rest)
    };
    let known = WORDS.iter().map(|(_, word, ..)| (*word, *word));
    let all = ALSO.iter().copied().chain(known);
    // `cuff pressure` is another thing than `cuff`.
    let longest = all
        .filter_map(|(typed, word)| Some((typed.len(), word, rest_after(typed)?)))
        .max_by_key(|found| found.0);
    longest.map_or_else(|| line.to_owned(), |(_, word, rest)| format!("{word}{rest}"))
}

/// A pseudonym as it was typed.
///
/// # Errors
/// [`NotUnderstood`]: something else than small letters, digits and hyphens.
pub fn pseudonym(text: &str) -> Result<Id, NotUnderstood> {
    let wrong = "a pseudonym is small letters, digits and hyphens, as in `heron-12`";
    Id::new(text).ok_or_else(|| NotUnderstood::Value(wrong.to_owned()))
}

/// The ranges of the format hold for what is typed, too.
fn in_range(act: Act) -> Result<Act, NotUnderstood> {
    match check_act(&act) {
        Ok(()) => Ok(act),
        Err(rejected) => {
            let fault = rejected.faults().first();
            let text = fault.map(|fault| format!("{fault}: {}", fault.mend())).unwrap_or_default();
            // The field of the log is not what was typed.
            let text = match text.strip_prefix('`').and_then(|text| text.split_once('`')) {
                Some((_, rest)) => format!("`{}`{rest}", words_of(act.name())),
                None => text,
            };
            Err(NotUnderstood::Value(text))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_other_word_means_one_that_is_listed() {
        for (typed, word) in ALSO {
            assert!(WORDS.iter().all(|(_, known, ..)| *known != typed), "{typed} is listed itself");
            let first = word.split(' ').next();
            assert!(WORDS.iter().any(|(_, known, ..)| Some(*known) == first), "{typed}");
            assert_eq!(ALSO.iter().filter(|(other, _)| *other == typed).count(), 1, "{typed}");
            for rest in ["", " 2", " some text"] {
                let meant = parse(&format!("{word}{rest}"));
                assert_eq!(parse(&format!("{typed}{rest}")), meant, "{typed}{rest}");
                assert_eq!(parse(&format!("{}{rest}", typed.to_uppercase())), meant);
            }
        }
    }

    /// Every act of the format has a word, and its word is read as that act.
    #[test]
    fn every_act_can_be_typed() {
        for name in ActName::ALL {
            let (_, word, after, _) = WORDS.iter().find(|(known, ..)| *known == name).unwrap();
            let rest = match *after {
                "" => "",
                "L/min" | "cmH2O" | "s" => "2",
                "ventilating|standby" => "standby",
                "ML S" => "0.2 2",
                "TEXT" => "text",
                "PORT PORT" => "limb.far ventilator.outlet",
                "PORT" => "limb.far",
                "NAME" => "spare",
                "QUESTION NUMBER" => "cause 2",
                "NAME LIMIT|off" => "peak off",
                "NAME up|same|down" => "rate up",
                other => panic!("no example of {other}"),
            };
            assert_eq!(parse(&format!("{word} {rest}")).unwrap().name(), name, "{word}");
        }
    }

    #[test]
    fn a_unit_may_follow_its_number_and_no_other_may() {
        let flow = Act::FreshGasFlow(FreshGasFlow { l_min: 2.0 });
        assert_eq!(parse("flow 2 L/min"), Ok(flow.clone()));
        assert_eq!(parse("FGF 2 l/min"), Ok(flow));
        let wrong = parse("flow 2 mL/min").unwrap_err().to_string();
        assert_eq!(wrong, "write `flow L/min`, as in `flow 2`");
        assert_eq!(parse("cuff pressure"), Ok(Act::MeasureCuff));
        assert!(parse("portal").is_err());
        let told = |line: &str| parse(line).unwrap_err().to_string();
        assert_eq!(told("flow 1,5"), "a decimal point is `.`: write `flow 1.5`");
        assert!(told("flow 1200").starts_with("`flow` cannot be 1200: "));
        assert!(told("Rate 12").contains("`expiration`"));
        assert!(told("rates 12").contains("`help`"));
        let note = Act::Record(Note { text: "Leak, call vet".to_owned() });
        assert_eq!(parse("note Leak, call vet"), Ok(note));
    }
}
