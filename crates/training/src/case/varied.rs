//! What a class is dealt: the scenario with a patient and severities of a
//! student's own.

use rand::RngExt;
use thiserror::Error;
use tidewright::math::{exp, ln};
use tidewright::random::generator;
use tidewright_scenario::Scenario;
use tidewright_scenario::format::{Dealt, Varies};

use crate::words::text::said;

/// What a log says it was dealt, and the lesson does not deal.
#[derive(Clone, Debug, Error, PartialEq)]
#[error(
    "the log was dealt {what} of {}{unit}; this lesson deals {} to {}{unit}",
    said(*found),
    said(*least),
    said(*most)
)]
pub struct NotDealt {
    /// What.
    pub what: &'static str,
    /// Its unit, after a space; empty where it has none.
    pub unit: &'static str,
    /// What the log says.
    pub found: f64,
    /// The least that the lesson deals.
    pub least: f64,
    /// The most that the lesson deals.
    pub most: f64,
}

/// 32-bit FNV-1a over the class seed and the pseudonym.
pub(crate) fn seed_of(class_seed: u32, pseudonym: &str) -> u32 {
    let bytes = class_seed.to_le_bytes().into_iter().chain(pseudonym.bytes());
    bytes.fold(0x811c_9dc5, |hash, byte| (hash ^ u32::from(byte)).wrapping_mul(0x0100_0193))
}

/// Draws a weight and a factor of severities; nothing where the lesson wants all
/// students to have the same.
#[must_use]
pub fn vary(scenario: &Scenario, seed: u32) -> Option<Dealt> {
    let varies = &scenario.training.as_ref()?.varies;
    if varies.weight_percent == 0.0 && varies.severity_percent == 0.0 {
        return None;
    }
    // The case and its onset have the plain seed.
    let mut generator = generator(u64::from(seed) | 1 << 32);
    let mut between =
        |(least, most): (f64, f64)| least + generator.random::<f64>() * (most - least);
    let (least, most) = weights_kg(scenario, varies);
    let weight_kg = weighed(between((least, most))).clamp(least, most);
    let (least, most) = factors(varies);
    let severity_factor = to_thousandths(exp(between((ln(least), ln(most)))));
    Some(Dealt { weight_kg, severity_factor })
}

/// The corners of what is dealt: lightest and heaviest patient with mildest and gravest
/// severities, and first of all the scenario's own.
pub(crate) fn corners(scenario: &Scenario) -> Vec<Option<Dealt>> {
    let mut corners = vec![None];
    let Some(training) = &scenario.training else { return corners };
    let (light, heavy) = weights_kg(scenario, &training.varies);
    let (mild, grave) = factors(&training.varies);
    for (weight_kg, severity_factor) in
        [(light, mild), (heavy, grave), (light, grave), (heavy, mild)]
    {
        let dealt = Some(Dealt { weight_kg, severity_factor });
        if !corners.contains(&dealt) {
            corners.push(dealt);
        }
    }
    corners
}

/// The scenario as it was dealt.
///
/// # Errors
/// [`NotDealt`]: a weight or a severity that the lesson does not deal.
pub fn varied(scenario: &Scenario, dealt: &Dealt) -> Result<Scenario, NotDealt> {
    let Some(training) = &scenario.training else { return Ok(scenario.clone()) };
    let checked = |(what, unit), found, (least, most): (f64, f64)| {
        let dealt = (least..=most).contains(&found);
        if dealt { Ok(found) } else { Err(NotDealt { what, unit, found, least, most }) }
    };
    let weights_kg = weights_kg(scenario, &training.varies);
    let weight_kg = checked(("a weight", " kg"), dealt.weight_kg, weights_kg)?;
    let factors = factors(&training.varies);
    let factor = checked(("a severity factor", ""), dealt.severity_factor, factors)?;
    let mut varied = scenario.at_weight(weight_kg);
    let cases = varied.training.iter_mut().flat_map(|training| &mut training.pool);
    let stages = cases.flat_map(|case| &mut case.course);
    for severity in stages.filter_map(|stage| stage.is.severity_mut()) {
        *severity = graver(*severity, factor);
    }
    Ok(varied)
}

/// A severity whose odds s/(1 − s) are multiplied: none stays none, all stays all,
/// and a small one grows in proportion.
fn graver(severity: f64, factor: f64) -> f64 {
    severity * factor / (1.0 - severity + severity * factor)
}

/// Lightest and heaviest patient that is dealt, kg: both of them weights that
/// scales show.
fn weights_kg(scenario: &Scenario, varies: &Varies) -> (f64, f64) {
    let kg = scenario.patient.weight_kg;
    let share = 0.01 * varies.weight_percent;
    if share == 0.0 {
        return (kg, kg);
    }
    let (light, heavy) = scenario.patient.species.to_core().usual_weight_kg();
    let least = weighed(kg * (1.0 - share)).max(light);
    let most = weighed(kg * (1.0 + share)).min(heavy);
    // A patient whose own weight is unusual keeps it within reach.
    (least.min(kg), most.max(kg))
}

/// Smallest and largest factor on the odds of a severity.
fn factors(varies: &Varies) -> (f64, f64) {
    let most = 1.0 + 0.01 * varies.severity_percent;
    (to_thousandths(1.0 / most), to_thousandths(most))
}

/// A weight as scales show it.
fn weighed(kg: f64) -> f64 {
    let parts = match kg {
        kg if kg >= 100.0 => 1.0,
        kg if kg >= 2.0 => 10.0,
        kg if kg >= 0.2 => 100.0,
        _ => 1000.0,
    };
    (kg * parts).round() / parts
}

fn to_thousandths(factor: f64) -> f64 {
    (1000.0 * factor).round() / 1000.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn law_none_stays_none_all_stays_all_and_little_grows_in_proportion() {
        for factor in [0.5, 0.8, 1.0, 1.2, 2.0] {
            assert_eq!(graver(0.0, factor), 0.0);
            assert_eq!(graver(1.0, factor), 1.0);
            assert!((graver(1e-6, factor) / 1e-6 - factor).abs() < 1e-5);
            let (s, g) = (0.3, graver(0.3, factor));
            assert!((g / (1.0 - g) / (s / (1.0 - s)) - factor).abs() < 1e-12);
        }
    }

    #[test]
    fn scales_show_what_is_read_off_them() {
        let shown = [(412.4, 412.0), (11.27, 11.3), (4.62, 4.6), (1.127, 1.13), (0.1234, 0.123)];
        for (kg, scales) in shown {
            assert_eq!(weighed(kg), scales);
        }
    }
}
