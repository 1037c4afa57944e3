//! Who acts without understanding.

use rand::RngExt;
use tidewright::assembly::{At, Part};
use tidewright::math::{exp, ln};
use tidewright::random::generator;
use tidewright_scenario::Scenario;
use tidewright_scenario::format::{
    Act, ActName, AlarmLimit, AlarmRange, Answer, Attempt, Checked, CuffPressure, CyclingPressure,
    ExpiratoryTime, FreshGasFlow, InspiratoryTimeLimit, Measure, Mode, Note, OneCheck, OnePort,
    Thumb, TimedAct, Training, TwoPorts, Ventilator,
};

use super::{Dealing, Member};
use crate::proof::NOTHING;

/// How fast the robots are that do every act in turn, s between two acts.
const PACES_S: [f64; 5] = [1.0, 3.0, 6.0, 10.0, 20.0];
/// How often one act is repeated alone, s between two.
const AGAIN_S: f64 = 25.0;

pub(super) struct Robot<'a> {
    pub scenario: &'a Scenario,
    pub training: &'a Training,
}

impl Robot<'_> {
    /// Nothing, each act alone, every act in turn, every answer at once.
    pub fn simple(&self, dealings: &[Dealing]) -> Vec<Member> {
        let mut members = Vec::new();
        let dealing = |number: usize| &dealings[number % dealings.len()];
        for (number, dealing) in dealings.iter().take(5).enumerate() {
            members.push(self.member(NOTHING, format!("{number}"), dealing, Vec::new()));
        }
        let mut number = 0;
        for name in self.names() {
            for turned in self.acts(name) {
                let dealing = dealing(number);
                number += 1;
                let from_s = 5.0_f64;
                let times = (0..200).map(|k| from_s + AGAIN_S * f64::from(k));
                let acts = times.map(|at_s| TimedAct { at_s, act: turned.clone() }).collect();
                let said = crate::debrief::said_act(&turned);
                members.push(self.member("one act again and again", said, dealing, acts));
            }
        }
        for pace_s in PACES_S {
            for (from, after) in [("the start", false), ("the onset", true)] {
                for choice in 0..=self.most_answers() {
                    let dealing = dealing(number);
                    number += 1;
                    let from_s = if after { dealing.onset_s() + 2.0 } else { 1.0 };
                    let acts = self.every_act(from_s, pace_s, choice);
                    let said = match choice {
                        0 => format!("every {pace_s} s from {from} on"),
                        choice => format!("every {pace_s} s from {from} on, answers {choice}"),
                    };
                    members.push(self.member("every act in turn", said, dealing, acts));
                }
            }
        }
        for choice in 1..=self.most_answers() {
            let dealing = dealing(number);
            number += 1;
            let acts = self.answers(0.0, choice);
            members.push(self.member("answers at once", format!("{choice}"), dealing, acts));
        }
        members
    }

    /// Nothing.
    pub fn idle(&self, dealing: &Dealing) -> Attempt {
        self.member(NOTHING, String::new(), dealing, Vec::new()).attempt
    }

    /// Acts at random times, from a few to many.
    pub fn random(
        &self,
        dealings: &[Dealing],
        [first_seed, case]: [usize; 2],
        count: usize,
    ) -> Vec<Member> {
        let member = |number: usize| {
            let seed =
                1_000_003 * (case as u64 + 1) + number as u64 + ((first_seed as u64 - 1) << 32);
            let mut random = generator(seed);
            let dealing = &dealings[number % dealings.len()];
            let every_s = 4.0 + 60.0 * random.random::<f64>();
            let mut acts = Vec::new();
            let mut at_s = 0.0;
            let mut names = self.names();
            names.extend(self.training.questions.iter().map(|_| ActName::Answer));
            loop {
                at_s += 2.0 * every_s * random.random::<f64>();
                if at_s >= self.scenario.duration_s {
                    break;
                }
                let name = names[(random.random::<f64>() * names.len() as f64) as usize];
                let ways = match name {
                    ActName::Answer => {
                        let all = &self.training.questions;
                        let asked = &all[(random.random::<f64>() * all.len() as f64) as usize];
                        let count = asked.answers.len() as u32;
                        let choices = 1..=count;
                        let answer =
                            |choice| Act::Answer(Answer { question: asked.id.clone(), choice });
                        choices.map(answer).collect()
                    }
                    name => self.acts(name),
                };
                if ways.is_empty() {
                    continue;
                }
                let mut act = ways[(random.random::<f64>() * ways.len() as f64) as usize].clone();
                set_at_random(&mut act, &self.scenario.ventilator, random.random());
                acts.push(TimedAct { at_s: (10.0 * at_s).round() / 10.0, act });
            }
            self.member("acts at random", format!("{number}"), dealing, acts)
        };
        (0..count).map(member).collect()
    }

    fn member(
        &self,
        kind: &'static str,
        name: String,
        dealing: &Dealing,
        mut acts: Vec<TimedAct>,
    ) -> Member {
        // A session does not go on before what it asks to foretell is foretold.
        for asked in &self.training.predictions {
            let goes = tidewright_scenario::format::Arrow::Same;
            let guess = tidewright_scenario::format::Guess { prediction: asked.id.clone(), goes };
            let at_s = (asked.from_s - 1.0).max(0.0);
            acts.push(TimedAct { at_s, act: Act::Predict(guess) });
        }
        let attempt = dealing.attempt(self.scenario, acts, self.scenario.duration_s);
        Member { kind, name, thoughtful: false, attempt }
    }

    /// Every act on offer in turn, over and over, and the answers where it has come half-way.
    fn every_act(&self, from_s: f64, pace_s: f64, choice: u32) -> Vec<TimedAct> {
        // What is joined, checked or put right is tried one by one: whatever fits.
        let ways = self.names().into_iter().flat_map(|name| {
            let each = matches!(name, ActName::Join | ActName::Check | ActName::PutRight);
            self.acts(name).into_iter().take(if each { usize::MAX } else { 1 })
        });
        let ways: Vec<Act> = ways.collect();
        let count = ((self.scenario.duration_s - from_s) / pace_s).max(0.0) as usize;
        // Once through; who went on and on would do no better.
        let mut acts: Vec<TimedAct> = (0..count.min(ways.len()))
            .map(|k| TimedAct { at_s: from_s + pace_s * k as f64, act: ways[k].clone() })
            .collect();
        if choice > 0 {
            let at_s = from_s + pace_s * (ways.len() / 2) as f64 + 0.5;
            acts.extend(self.answers(at_s, choice));
        }
        acts
    }

    fn answers(&self, at_s: f64, choice: u32) -> Vec<TimedAct> {
        let answer = |question: &tidewright_scenario::format::Question| {
            let choice = choice.min(question.answers.len() as u32);
            let act = Act::Answer(Answer { question: question.id.clone(), choice });
            TimedAct { at_s, act }
        };
        self.training.questions.iter().map(answer).collect()
    }

    fn most_answers(&self) -> u32 {
        let counts = self.training.questions.iter().map(|one| one.answers.len() as u32);
        counts.max().unwrap_or(0)
    }

    /// Every port on the table that is not the patient's.
    fn ports(&self) -> Vec<String> {
        let parts = self.training.table.as_ref().and_then(|table| table.put_together().ok());
        let Some(parts) = parts else { return Vec::new() };
        let pieces = parts.pieces().iter().enumerate();
        let ports =
            pieces.filter(|(_, piece)| piece.part != Part::Patient).flat_map(|(part, piece)| {
                let ports = piece.part.ports().iter();
                ports.map(move |&port| At { part, port })
            });
        ports.map(|at| parts.name_of(at)).collect()
    }

    /// Every joint that fits.
    fn joints(&self) -> Vec<Act> {
        let parts = self.training.table.as_ref().and_then(|table| table.put_together().ok());
        let Some(mut free) = parts else { return Vec::new() };
        while let Some(joint) = free.joints().first().copied() {
            if free.separate(&free.name_of(joint.a)).is_err() {
                break;
            }
        }
        let ports = self.ports();
        let mut joints = Vec::new();
        for (index, a) in ports.iter().enumerate() {
            for b in &ports[index + 1..] {
                if free.clone().join(a, b).is_ok() {
                    joints.push(Act::Join(TwoPorts { a: a.clone(), b: b.clone() }));
                }
            }
        }
        joints
    }

    /// What is on offer, and alarms where they are judged.
    fn names(&self) -> Vec<ActName> {
        let mut names = self.training.offers.clone();
        names.extend(self.alarms().next().map(|_| ActName::SetAlarm));
        names
    }

    fn alarms(&self) -> impl Iterator<Item = &AlarmRange> {
        self.training.criteria.iter().filter_map(|criterion| match &criterion.measure {
            Measure::AlarmSet(range) => Some(range),
            _ => None,
        })
    }

    /// The ways to do an act: controls up and down.
    fn acts(&self, name: ActName) -> Vec<Act> {
        let set = &self.scenario.ventilator;
        let turned =
            |start: f64| [1.4 * start, start / 1.4].map(|new| (100.0 * new).round() / 100.0);
        match name {
            ActName::FreshGasFlow => turned(set.fresh_gas_flow_l_min)
                .map(|l_min| Act::FreshGasFlow(FreshGasFlow { l_min }))
                .to_vec(),
            ActName::CyclingPressure => turned(set.cycling_pressure_cmh2o)
                .map(|cmh2o| Act::CyclingPressure(CyclingPressure { cmh2o }))
                .to_vec(),
            ActName::InspiratoryTimeLimit => turned(set.inspiratory_time_limit_s)
                .map(|s| Act::InspiratoryTimeLimit(InspiratoryTimeLimit { s }))
                .to_vec(),
            ActName::ExpiratoryTime => turned(set.expiratory_time_s)
                .map(|s| Act::ExpiratoryTime(ExpiratoryTime { s }))
                .to_vec(),
            ActName::Mode => vec![Act::Mode(Mode::Ventilating), Act::Mode(Mode::Standby)],
            ActName::Join => self.joints(),
            ActName::Part => {
                self.ports().into_iter().map(|port| Act::Part(OnePort { port })).collect()
            }
            ActName::Check | ActName::PutRight => {
                let one = |check: &Checked| OneCheck { check: check.id.clone() };
                let checks = self.training.checks.iter().map(one);
                let act = if name == ActName::Check { Act::Check } else { Act::PutRight };
                checks.map(act).collect()
            }
            ActName::Squeeze => vec![Act::Squeeze(Thumb { ml: 0.2, s: 2.0 })],
            ActName::InflateCuff => {
                [25.0, 60.0].map(|cmh2o| Act::InflateCuff(CuffPressure { cmh2o })).to_vec()
            }
            ActName::SetAlarm => {
                let alarm = |range: &AlarmRange| {
                    let at = Some(0.5 * (range.at_least + range.at_most));
                    Act::SetAlarm(AlarmLimit { of: range.of, at })
                };
                self.alarms().map(alarm).collect()
            }
            ActName::Record => vec![Act::Record(Note { text: "Checked.".to_owned() })],
            name => Act::plain(name).into_iter().collect(),
        }
    }
}

/// Sets a control anywhere from half to twice of where it began.
fn set_at_random(act: &mut Act, start: &Ventilator, share: f64) {
    let to = |start: f64| (100.0 * start * exp(ln(2.0) * (2.0 * share - 1.0))).round() / 100.0;
    match act {
        Act::FreshGasFlow(new) => new.l_min = to(start.fresh_gas_flow_l_min),
        Act::CyclingPressure(new) => new.cmh2o = to(start.cycling_pressure_cmh2o),
        Act::InspiratoryTimeLimit(new) => new.s = to(start.inspiratory_time_limit_s),
        Act::ExpiratoryTime(new) => new.s = to(start.expiratory_time_s),
        Act::SetAlarm(new) => new.at = new.at.map(to),
        _ => {}
    }
}
