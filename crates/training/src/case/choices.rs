//! The order in which answers are shown: the seed draws it, so that a number says nothing
//! to a neighbour. A log holds the numbers of the file.

use std::sync::Arc;

use rand::RngExt;
use tidewright::random::generator;
use tidewright_scenario::Scenario;
use tidewright_scenario::format::{Act, Answer, Id};

/// For each question the answers of the file, from 0, in the order in which they are shown.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Orders(Vec<(Id, Vec<usize>)>);

impl Orders {
    /// The scenario with its answers in the order that a seed draws.
    pub fn shuffled(scenario: Arc<Scenario>, seed: u32) -> (Arc<Scenario>, Self) {
        let Some(training) = scenario.training.as_ref().filter(|one| !one.questions.is_empty())
        else {
            return (scenario, Self::default());
        };
        // Case and onset have the plain seed, what varies the bit above it.
        let mut random = generator(u64::from(seed) | 1 << 33);
        let mut order = |count: usize| {
            let mut order: Vec<usize> = (0..count).collect();
            for last in (1..count).rev() {
                let other = (random.random::<f64>() * (last + 1) as f64) as usize;
                order.swap(last, other.min(last));
            }
            order
        };
        let questions = training.questions.iter();
        let orders =
            Self(questions.map(|one| (one.id.clone(), order(one.answers.len()))).collect());
        let mut own = Scenario::clone(&scenario);
        if let Some(training) = &mut own.training {
            for question in &mut training.questions {
                let Some(order) = orders.of(&question.id) else { continue };
                question.answers = order.iter().map(|&k| question.answers[k].clone()).collect();
                question.right = shown(order, question.right);
            }
            for answer in training.pool.iter_mut().flat_map(|case| &mut case.answers) {
                if let Some(order) = orders.of(&answer.question) {
                    answer.choice = shown(order, answer.choice);
                }
            }
        }
        (Arc::new(own), orders)
    }

    fn of(&self, question: &Id) -> Option<&[usize]> {
        self.0.iter().find(|(id, _)| id == question).map(|(_, order)| &order[..])
    }

    /// An act as a log holds it.
    pub fn to_log(&self, act: &Act) -> Act {
        self.translated(act, filed)
    }

    /// An act of a log as it is shown.
    pub fn act_of_log(&self, act: &Act) -> Act {
        self.translated(act, shown)
    }

    fn translated(&self, act: &Act, by: impl Fn(&[usize], u32) -> u32) -> Act {
        match act {
            Act::Answer(answer) => match self.of(&answer.question) {
                Some(order) => {
                    let choice = by(order, answer.choice);
                    Act::Answer(Answer { question: answer.question.clone(), choice })
                }
                None => act.clone(),
            },
            act => act.clone(),
        }
    }
}

/// The number under which an answer of the file is shown; what is none stays none.
fn shown(order: &[usize], number: u32) -> u32 {
    let place = order.iter().position(|&k| k + 1 == number as usize);
    place.map_or(number, |place| place as u32 + 1)
}

/// The number that a shown answer has in the file.
fn filed(order: &[usize], number: u32) -> u32 {
    let index = (number as usize).checked_sub(1).and_then(|place| order.get(place));
    index.map_or(number, |&index| index as u32 + 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn law_an_order_holds_every_answer_once_and_there_and_back_is_the_same() {
        let text = tidewright_shelf::lesson("juno").expect("a lesson").text;
        let scenario = Arc::new(tidewright_scenario::parse("a.ron", text).expect("a lesson"));
        let mut firsts = Vec::new();
        for seed in 0..60 {
            let (own, orders) = Orders::shuffled(Arc::clone(&scenario), seed);
            let (Some(of), Some(own)) = (&scenario.training, &own.training) else { panic!() };
            let (before, after) = (&of.questions[0], &own.questions[0]);
            let order = orders.of(&before.id).expect("an order");
            let mut sorted = order.to_vec();
            sorted.sort_unstable();
            assert!(sorted.iter().copied().eq(0..before.answers.len()));
            let right = |one: &tidewright_scenario::format::Question| {
                one.answers[one.right as usize - 1].clone()
            };
            assert_eq!(right(before), right(after));
            for number in 1..=order.len() as u32 {
                assert_eq!(shown(order, filed(order, number)), number);
            }
            firsts.push(order[0]);
        }
        firsts.sort_unstable();
        firsts.dedup();
        assert!(firsts.len() == 5, "every answer comes first for somebody: {firsts:?}");
    }
}
