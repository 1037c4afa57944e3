//! Who takes part in a proof.

mod expert;
mod robot;

use std::sync::Arc;

use rand::RngExt;
use tidewright::random::generator;
use tidewright_scenario::Scenario;
use tidewright_scenario::format::{ActName, Attempt, Dealt, Id, TimedAct, Training, Whom};

use crate::case::draw::{Drawn, MOST_SEEDS, draw};
use crate::case::varied::corners;
use crate::words::unbegun::unbegun;
use expert::Expert;
use robot::Robot;

/// Seeds that the thoughtful take of each case.
const SEEDS: usize = 20;
/// Random robots, over all cases.
const RANDOM: usize = 380;

/// One that takes part.
#[derive(Clone, Debug)]
pub struct Member {
    /// What such members do.
    pub kind: &'static str,
    /// Which one it is.
    pub name: String,
    /// Whether it must pass; else it must not.
    pub thoughtful: bool,
    /// What it does; acts that are not open at their time do nothing.
    pub attempt: Attempt,
}

/// All that take part.
pub(super) struct Company {
    pub members: Vec<Member>,
    pub without_expert: Vec<String>,
}

/// A session as it is dealt to a member.
#[derive(Clone, Debug)]
struct Dealing {
    seed: u32,
    drawn: Option<Drawn>,
    dealt: Option<Dealt>,
}

impl Dealing {
    fn onset_s(&self) -> f64 {
        self.drawn.as_ref().map_or(0.0, |drawn| drawn.onset_s)
    }

    fn attempt(&self, scenario: &Scenario, mut acts: Vec<TimedAct>, ended_at_s: f64) -> Attempt {
        acts.retain(|timed| (0.0..=ended_at_s).contains(&timed.at_s));
        acts.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
        let id = scenario.id.clone();
        Attempt { ended_at_s, acts, ..unbegun(id.clone(), self.seed, id, self.dealt.clone()) }
    }
}

pub(super) fn company(scenario: &Arc<Scenario>, experts: &[Attempt], first_seed: u32) -> Company {
    let Some(training) = &scenario.training else {
        return Company { members: Vec::new(), without_expert: Vec::new() };
    };
    let dealings = dealings(scenario, training, first_seed);
    let mut members = Vec::new();
    let mut without_expert = Vec::new();
    let robot = Robot { scenario, training };
    for (number, of_case) in dealings.iter().enumerate() {
        members.extend(robot.simple(of_case));
        let count = RANDOM.div_ceil(dealings.len());
        members.extend(robot.random(of_case, [first_seed as usize, number], count));
        let case = of_case[0].drawn.as_ref().map(|drawn| &drawn.case.id);
        let known = experts.iter().filter(|log| case_of(training, log).as_ref() == case);
        let known: Vec<Expert<'_>> = known.map(|log| Expert { scenario, training, log }).collect();
        if let (true, Some(case)) = (known.is_empty(), case) {
            without_expert.push(case.to_string());
        }
        for expert in known {
            members.extend(expert.spoilt(of_case));
            members.extend(expert.own(of_case));
        }
    }
    // Members of a kind stand together, in the order in which kinds first came.
    let mut order: Vec<&'static str> = Vec::new();
    for member in &members {
        if !order.contains(&member.kind) {
            order.push(member.kind);
        }
    }
    let place = |member: &Member| order.iter().position(|kind| *kind == member.kind);
    members.sort_by_key(|member| (member.thoughtful, place(member)));
    Company { members, without_expert }
}

/// Who does nothing, once in each case.
pub(super) fn idle(scenario: &Scenario, training: &Training) -> Vec<Attempt> {
    let dealings = dealings(scenario, training, 1);
    let robot = Robot { scenario, training };
    dealings.iter().map(|of_case| robot.idle(&of_case[0])).collect()
}

fn case_of(training: &Training, log: &Attempt) -> Option<Id> {
    draw(training, log.seed).map(|drawn| drawn.case.id)
}

/// For each case, or for the lesson without one: as many seeds as are needed, each with a
/// corner of what is dealt.
fn dealings(scenario: &Scenario, training: &Training, first_seed: u32) -> Vec<Vec<Dealing>> {
    let corners = corners(scenario);
    let cases: Vec<Option<&Id>> = match &training.pool[..] {
        [] => vec![None],
        pool => pool.iter().map(|case| Some(&case.id)).collect(),
    };
    let of_case = |case: Option<&Id>| {
        let seeds = (0..MOST_SEEDS).map(|more| first_seed.wrapping_add(more));
        let drawn = seeds.map(|seed| (seed, draw(training, seed)));
        let own = drawn.filter(|(_, drawn)| drawn.as_ref().map(|one| &one.case.id) == case);
        let own = own.take(SEEDS).enumerate();
        own.map(|(index, (seed, drawn))| {
            let dealt = corners[index % corners.len()].clone();
            Dealing { seed, drawn, dealt }
        })
        .collect::<Vec<Dealing>>()
    };
    cases.into_iter().map(of_case).filter(|dealings| !dealings.is_empty()).collect()
}

/// A share between 0 and 1 that depends on a few numbers alone.
fn share(of: [usize; 3]) -> f64 {
    let seed = of.iter().fold(7_u64, |seed, one| seed.wrapping_mul(1_000_003) ^ *one as u64);
    generator(seed).random()
}

/// Whether the lesson has a patient that can be harmed.
fn has_patient(training: &Training) -> bool {
    training.harm.to == Whom::Patient
}

fn offers(training: &Training, name: ActName) -> bool {
    training.offers.contains(&name)
}
