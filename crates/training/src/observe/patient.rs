//! What hand, eye and thermometer tell of the patient and its fresh gas.

use tidewright::circulation::Feel;
use tidewright_scenario::format::Act;

use crate::bedside::Bedside;
use crate::words::text::said;

/// Saturation below which gums look blue, 0 to 1 (common practice, no source).
const BLUE: f64 = 0.8;

/// What is noticed when the patient, its adapter or the vaporiser is looked after.
pub(super) fn seen(session: &Bedside, act: &Act) -> Option<String> {
    let now = session.gas_numbers()?;
    Some(match act {
        Act::CheckPulse => {
            let vitals = session.vitals_now()?;
            let pulse = match vitals.pulse.feels {
                Feel::None => "There is no pulse".to_owned(),
                feels => format!(
                    "The pulse {}, {:.0} a minute",
                    match feels {
                        Feel::Full => "is full and regular",
                        Feel::Weak => "is weak",
                        Feel::Thready | Feel::None => "can hardly be felt",
                    },
                    vitals.pulse.rate_per_min
                ),
            };
            let gums = match vitals {
                vitals if vitals.saturation < BLUE => "blue",
                vitals if vitals.pulse.feels != Feel::Full => "pale",
                _ => "pink",
            };
            let then = match vitals.pulse.feels {
                Feel::None => " Call, and begin resuscitation at once.",
                _ => "",
            };
            format!("{pulse}; the gums are {gums}.{then}")
        }
        Act::CheckTemperature => {
            format!("The thermometer shows {:.1} °C.", now.temperature_c)
        }
        Act::CheckDepth => {
            let depth = now.depth?;
            let says = match depth {
                d if d < 0.2 => "nearly awake: it blinks and swallows",
                d if d < 0.5 => "light: it blinks when the lid is touched, and the jaw is tight",
                d if d < 0.9 => "surgical: the jaw is loose, and a pinched toe brings no response",
                _ => "deep: the eye does not answer, and there is hardly a breath of its own",
            };
            format!(
                "Anaesthesia is {says}. On a scale from 0, awake, to 1, too deep to breathe: {depth:.2}."
            )
        }
        Act::CheckVaporiser => {
            let dial = session.scenario().gas.as_ref().and_then(|gas| gas.vaporiser.as_ref());
            let level = if session.vaporiser_is_empty() { "is empty" } else { "shows liquid" };
            match dial {
                Some(vaporiser) => format!(
                    "The dial of the vaporiser stands {}; its sight glass {level}.",
                    turned(session, vaporiser.dial_percent)
                ),
                None => format!("The sight glass of the vaporiser {level}."),
            }
        }
        Act::FillVaporiser => {
            "The vaporiser is filled and shut tight, its dial back where it stood.".to_owned()
        }
        Act::Deepen => {
            "As the veterinary surgeon directs, the dial is turned up: while there is vapour, a step \
             deeper within a minute."
                .to_owned()
        }
        Act::Lighten => "As the veterinary surgeon directs, the dial is turned down: a step lighter \
             within a minute."
            .to_owned(),
        Act::Warm => "Warm air flows: here a degree in about five minutes, in an animal an hour or \
             more."
            .to_owned(),
        Act::Cool => {
            "Heat and covers are off: here a degree less in about five minutes.".to_owned()
        }
        _ => return None,
    })
}

/// Where the dial stands after what was turned.
fn turned(session: &Bedside, start_percent: f64) -> String {
    let at = format!("at {} %", said(start_percent));
    let count = |wanted: &Act| session.acts().iter().filter(|timed| timed.act == *wanted).count();
    let (up, down) = (count(&Act::Deepen), count(&Act::Lighten));
    let steps =
        |count: usize| if count == 1 { "a step".to_owned() } else { format!("{count} steps") };
    match (up > down, up.abs_diff(down)) {
        (_, 0) => at,
        (true, more) => format!("{} above where it was, {at}", steps(more)),
        (false, less) => format!("{} below where it was, {at}", steps(less)),
    }
}

/// What a look tells besides.
pub(super) fn look(session: &Bedside) -> String {
    let mut text = String::new();
    let ails = session.ails();
    if ails.iter().any(|change| change.kind == crate::case::care::Kind::Adapter) {
        text += " A large adapter sits between tube and T-piece.";
    }
    if session.sampling_leak_percent() > 0.0 {
        text += " The sampling line of the carbon dioxide monitor is loose at its end.";
    }
    if session.own_breaths_per_min().is_some_and(|rate| rate >= 3.0) {
        text += match session.machine().setup().ventilator.mode {
            tidewright::setup::Mode::Ventilating => " The chest moves against the ventilator.",
            tidewright::setup::Mode::Standby => " The patient breathes by itself.",
        };
    }
    text
}
