//! What the first change of a hand-out does to a breath.

use super::{Bank, DPI, Picture, Question};
use crate::handout::{Arrow, Handout, MEASURES};
use crate::paper::error::FigureError;
use crate::plot::ticks::number;

/// So near the bound of 3 % no eye can tell a change.
const UNSURE: std::ops::Range<f64> = 0.02..0.05;

pub(super) fn add(bank: &mut Bank, handout: &Handout) -> Result<usize, FigureError> {
    let Some((at_s, label, values)) = handout.first_change() else { return Ok(0) };
    let first = bank.questions.len();
    bank.pictures.push(Picture {
        name: format!("traces-{}.png", bank.pictures.len() + 1),
        png: handout.quiz().to_png(DPI)?,
        alt: handout.quiz().description().to_owned(),
    });
    let picture = Some(bank.pictures.len() - 1);
    let mut asks = vec![format!("{}.", handout.patient())];
    asks.extend(Some(handout.story().to_owned()).filter(|story| !story.is_empty()));
    asks.push(handout.settings());
    let ways = ["It rises", "It falls", "It stays as it is, within 3 %"];
    for (of, &(before, after)) in MEASURES.iter().zip(values) {
        if UNSURE.contains(&(after / before - 1.0).abs()) {
            continue;
        }
        let right = match Arrow::of((before, after)) {
            Arrow::Up => ways[0],
            Arrow::Down => ways[1],
            Arrow::Same => ways[2],
        };
        let mut asks = asks.clone();
        asks.push(format!(
            "Something changes at {} s. Which way does this go, from the settled breath before to \
             the one after: {}?",
            number(at_s),
            of.words().to_lowercase()
        ));
        bank.questions.push(Question {
            id: bank.next_id("traces"),
            asks,
            picture,
            right: right.to_owned(),
            wrong: ways.iter().filter(|&&way| way != right).map(|&way| way.to_owned()).collect(),
            most_wrong: 2,
            because: format!("{label}: {} → {} {}.", number(before), number(after), of.unit().axis),
        });
    }
    Ok(bank.questions.len() - first)
}
