//! Acts as a person types them: `flow 2`, `listen`, `answer cause 2`.

use thiserror::Error;
use tidewright_scenario::format::{
    Act, ActName, Answer, Arrow, CuffPressure, CyclingPressure, ExpiratoryTime, FreshGasFlow,
    Guess, Id, InspiratoryTimeLimit, Mode, Note,
};
use tidewright_scenario::parse_attempt;

/// How each act is typed: name, word, what follows, what it does.
pub const WORDS: [(ActName, &str, &str, &str); 26] = [
    (ActName::FreshGasFlow, "flow", "L/min", "set the fresh gas flow"),
    (ActName::CyclingPressure, "pressure", "cmH2O", "set the cycling pressure"),
    (ActName::InspiratoryTimeLimit, "limit", "s", "set the inspiratory time limit"),
    (ActName::ExpiratoryTime, "expiration", "s", "set the expiratory time"),
    (ActName::Mode, "mode", "ventilating|standby", "ventilate or stand by"),
    (ActName::Look, "look", "", "look at chest, tube and circuit"),
    (ActName::Listen, "listen", "", "listen to both sides and along the circuit"),
    (ActName::OccludePort, "occlude", "", "hold the patient port shut and test for leaks"),
    (ActName::CheckGauge, "gauge", "", "read a second pressure gauge"),
    (ActName::CheckSupply, "supply", "", "read flowmeter and supply"),
    (ActName::MeasureCuff, "cuff?", "", "measure cuff pressure"),
    (ActName::InflateCuff, "cuff", "cmH2O", "set cuff pressure by gauge"),
    (ActName::Suction, "suction", "", "pass a suction catheter"),
    (ActName::ReseatJoint, "reseat", "", "push home every joint and line"),
    (ActName::WithdrawTube, "withdraw", "", "draw the tube back a little"),
    (ActName::ChangeTube, "tube", "", "put in another tube"),
    (ActName::ChangeLimb, "limb", "", "put in another expiratory limb"),
    (ActName::ChangeVentilator, "ventilator", "", "put in another ventilator"),
    (ActName::Disconnect, "disconnect", "", "take the patient off"),
    (ActName::Reconnect, "reconnect", "", "put the patient back on"),
    (ActName::HandVentilate, "bag", "", "ventilate by hand"),
    (ActName::SwapCylinder, "cylinder", "", "change to the full cylinder"),
    (ActName::CallSurgeon, "call", "", "call the veterinary surgeon"),
    (ActName::Record, "record", "TEXT", "write into the record"),
    (ActName::Answer, "answer", "QUESTION NUMBER", "answer a question"),
    (ActName::Predict, "predict", "NAME up|same|down", "commit to a prediction"),
];

/// What cannot be understood.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum NotUnderstood {
    /// No such word.
    #[error("`{0}` is no act; `help` lists them")]
    Word(String),
    /// The word needs something else after it.
    #[error("write `{word} {after}`")]
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
/// assert_eq!(parse("flow").unwrap_err().to_string(), "write `flow L/min`");
/// assert!(parse("flow 5000").is_err());
/// ```
pub fn parse(line: &str) -> Result<Act, NotUnderstood> {
    let (word, rest) = line.trim().split_once(' ').unwrap_or((line.trim(), ""));
    let rest = rest.trim();
    let known = WORDS.iter().find(|(_, known, ..)| *known == word);
    let &(name, word, after, _) = known.ok_or_else(|| NotUnderstood::Word(word.to_owned()))?;
    let wrong = NotUnderstood::After { word, after };
    let number = || rest.parse::<f64>().ok().filter(|n| n.is_finite()).ok_or(wrong.clone());
    let act = match name {
        ActName::FreshGasFlow => Act::FreshGasFlow(FreshGasFlow { l_min: number()? }),
        ActName::CyclingPressure => Act::CyclingPressure(CyclingPressure { cmh2o: number()? }),
        ActName::InspiratoryTimeLimit => {
            Act::InspiratoryTimeLimit(InspiratoryTimeLimit { s: number()? })
        }
        ActName::ExpiratoryTime => Act::ExpiratoryTime(ExpiratoryTime { s: number()? }),
        ActName::InflateCuff => Act::InflateCuff(CuffPressure { cmh2o: number()? }),
        ActName::Mode => Act::Mode(match rest {
            "ventilating" => Mode::Ventilating,
            "standby" => Mode::Standby,
            _ => return Err(wrong),
        }),
        ActName::Record if rest.is_empty() => return Err(wrong),
        ActName::Record => Act::Record(Note { text: rest.to_owned() }),
        ActName::Answer => {
            let (question, choice) = rest.split_once(' ').ok_or(wrong.clone())?;
            let choice = choice.trim().parse().map_err(|_| wrong.clone())?;
            Act::Answer(Answer { question: id(question).ok_or(wrong)?, choice })
        }
        ActName::Predict => {
            let (prediction, goes) = rest.split_once(' ').ok_or(wrong.clone())?;
            let goes = match goes.trim() {
                "up" => Arrow::Up,
                "same" => Arrow::Same,
                "down" => Arrow::Down,
                _ => return Err(wrong),
            };
            Act::Predict(Guess { prediction: id(prediction).ok_or(wrong)?, goes })
        }
        ActName::Look => Act::Look,
        ActName::Listen => Act::Listen,
        ActName::OccludePort => Act::OccludePort,
        ActName::CheckGauge => Act::CheckGauge,
        ActName::CheckSupply => Act::CheckSupply,
        ActName::MeasureCuff => Act::MeasureCuff,
        ActName::Suction => Act::Suction,
        ActName::ReseatJoint => Act::ReseatJoint,
        ActName::WithdrawTube => Act::WithdrawTube,
        ActName::ChangeTube => Act::ChangeTube,
        ActName::ChangeLimb => Act::ChangeLimb,
        ActName::ChangeVentilator => Act::ChangeVentilator,
        ActName::Disconnect => Act::Disconnect,
        ActName::Reconnect => Act::Reconnect,
        ActName::HandVentilate => Act::HandVentilate,
        ActName::SwapCylinder => Act::SwapCylinder,
        ActName::CallSurgeon => Act::CallSurgeon,
    };
    in_range(act)
}

/// A pseudonym as it was typed.
///
/// # Errors
/// [`NotUnderstood`]: something else than small letters, digits and hyphens.
pub fn pseudonym(text: &str) -> Result<Id, NotUnderstood> {
    let wrong = "a pseudonym is small letters, digits and hyphens, as in `heron-12`";
    id(text).ok_or_else(|| NotUnderstood::Value(wrong.to_owned()))
}

fn id(text: &str) -> Option<Id> {
    // The one reader of names and ranges is the format's own.
    let log = format!(
        "(format: 1, scenario: {text:?}, seed: 0, engine: \"0\", pseudonym: \"x\", ended_at_s: 0)"
    );
    parse_attempt("typed.ron", &log).ok().map(|attempt| attempt.scenario)
}

/// The ranges of the format hold for what is typed, too.
fn in_range(act: Act) -> Result<Act, NotUnderstood> {
    let x = id("x").ok_or_else(|| NotUnderstood::Word(String::new()))?;
    let log = tidewright_scenario::Attempt {
        format: 1,
        scenario: x.clone(),
        seed: 0,
        engine: "0".to_owned(),
        pseudonym: x,
        ended_at_s: 0.0,
        acts: vec![tidewright_scenario::format::TimedAct { at_s: 0.0, act: act.clone() }],
    };
    match parse_attempt("typed.json", &log.to_json()) {
        Ok(_) => Ok(act),
        Err(rejected) => {
            let fault = rejected.faults().first();
            let text = fault.map(|fault| format!("{fault}: {}", fault.mend())).unwrap_or_default();
            Err(NotUnderstood::Value(text))
        }
    }
}
