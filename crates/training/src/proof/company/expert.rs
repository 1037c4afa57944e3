//! Who does what an expert did: well, or spoilt.

use tidewright_scenario::Scenario;
use tidewright_scenario::format::{
    Act, ActName, Attempt, CyclingPressure, Mode, TimedAct, Training,
};

use super::{Dealing, Member, has_patient, offers, share};
use crate::case::draw::draw;
use crate::judge::economy::treats;

/// How much later a thoughtful one may be, s.
const LATER_S: [f64; 4] = [0.0, 1.0, 3.0, 5.0];
/// How long after the last act harm is done, s.
const THEN_S: f64 = 20.0;
/// Shortest time that must be left for harm to show, s.
const HARM_SHOWS_S: f64 = 80.0;
/// Words so near each other may change places, s.
const CLOSELY_S: f64 = 40.0;
/// A pressure that overinflates, cmH2O.
const OVERINFLATES_CMH2O: f64 = 40.0;

pub(super) struct Expert<'a> {
    pub scenario: &'a Scenario,
    pub training: &'a Training,
    pub log: &'a Attempt,
}

impl Expert<'_> {
    /// The thoughtful: as the expert did, later, with a needless look, in another order
    /// of what may be in any order.
    pub fn own(&self, dealings: &[Dealing]) -> Vec<Member> {
        let mut members = Vec::new();
        for (number, dealing) in dealings.iter().enumerate() {
            // Every way with every corner; then the other seeds in turn.
            let ways = if number < 5 { 0..6 } else { number % 6..number % 6 + 1 };
            for way in ways {
                let mut acts = self.adapted(dealing);
                let (kind, later_s) = match way {
                    0 => ("an expert", LATER_S[0]),
                    1..=3 => ("an expert, later", LATER_S[way]),
                    4 => ("an expert with a needless look", 0.0),
                    _ => ("an expert, other acts first", 0.0),
                };
                later(&mut acts, dealing.onset_s(), later_s);
                if way == 4 && offers(self.training, ActName::Look) {
                    let at_s = dealing.onset_s() * 0.5 + 3.0;
                    acts.push(TimedAct { at_s, act: Act::Look });
                }
                if way == 5 {
                    words_first(&mut acts);
                }
                let name = format!("{} {number}, {later_s} s later", self.log.pseudonym);
                members.push(self.member(kind, name, true, dealing, acts, None));
            }
        }
        members
    }

    /// The spoilt: mirrored, reversed, too early, without answers, answers alone, cut
    /// short, and an expert who then harms.
    pub fn spoilt(&self, dealings: &[Dealing]) -> Vec<Member> {
        let mut members = Vec::new();
        let healthy = dealings[0].drawn.as_ref().is_some_and(|drawn| !drawn.is_wrong());
        for (number, dealing) in dealings.iter().take(5).enumerate() {
            let acts = self.adapted(dealing);
            let name = || format!("{} {number}", self.log.pseudonym);
            let mut push = |kind, acts: Vec<TimedAct>, end_s: Option<f64>| {
                members.push(self.member(kind, name(), false, dealing, acts, end_s));
            };
            if let Some(mirrored) = self.mirrored(&acts) {
                push("an expert's settings the other way", mirrored, None);
            }
            let answers = |timed: &&TimedAct| matches!(timed.act, Act::Answer(_));
            if acts.iter().any(|timed| answers(&timed)) {
                let without = acts.iter().filter(|timed| !answers(timed)).cloned().collect();
                push("an expert without the answers", without, None);
                let acted = acts.iter().any(|timed| !answers(&timed) && !is_said(&timed.act));
                if acted && !healthy {
                    let alone = acts.iter().filter(answers).cloned().collect();
                    push("an expert's answers without acts", alone, None);
                }
            }
            if dealing.drawn.is_some() && acts.iter().any(|timed| treats(timed.act.name())) {
                push("an expert in reverse order", reversed(&acts), None);
            }
            if dealing.onset_s() > 20.0 && acts.iter().any(|timed| timed.at_s > dealing.onset_s()) {
                for round in 0..2 {
                    let early = early(&acts, dealing.onset_s(), [number, round]);
                    push("an expert's acts before anything was wrong", early, None);
                }
            }
            let half_s = 0.5 * self.training.enough_s.unwrap_or(self.scenario.duration_s);
            push("an expert cut short", acts.clone(), Some(half_s));
            for (kind, harm) in self.harms(&acts, dealing) {
                push(kind, harm, None);
            }
        }
        members
    }

    /// What the expert did, as long after the onset and with flow in proportion to the
    /// weight.
    fn adapted(&self, dealing: &Dealing) -> Vec<TimedAct> {
        let own = draw(self.training, self.log.seed).map_or(0.0, |drawn| drawn.onset_s);
        let later_s = dealing.onset_s() - own;
        let weight_kg = self.scenario.patient.weight_kg;
        let heavier = dealing.dealt.as_ref().map_or(1.0, |dealt| dealt.weight_kg / weight_kg);
        let mut acts = self.log.acts.clone();
        for timed in &mut acts {
            if timed.at_s >= own {
                timed.at_s += later_s;
            }
            if let Act::FreshGasFlow(flow) = &mut timed.act {
                flow.l_min *= heavier;
            }
        }
        acts
    }

    /// Every setting to the other side of where it began.
    fn mirrored(&self, acts: &[TimedAct]) -> Option<Vec<TimedAct>> {
        let start = &self.scenario.ventilator;
        let mut any = false;
        let mut mirrored = acts.to_vec();
        let mut mirror = |new: &mut f64, start: f64| {
            any |= (*new / start - 1.0).abs() > 0.05;
            *new = start * start / new.max(0.05);
        };
        for timed in &mut mirrored {
            match &mut timed.act {
                Act::FreshGasFlow(new) => mirror(&mut new.l_min, start.fresh_gas_flow_l_min),
                Act::CyclingPressure(new) => mirror(&mut new.cmh2o, start.cycling_pressure_cmh2o),
                Act::ExpiratoryTime(new) => mirror(&mut new.s, start.expiratory_time_s),
                Act::InspiratoryTimeLimit(new) => {
                    mirror(&mut new.s, start.inspiratory_time_limit_s)
                }
                _ => {}
            }
        }
        any.then_some(mirrored)
    }

    fn harms(&self, acts: &[TimedAct], dealing: &Dealing) -> Vec<(&'static str, Vec<TimedAct>)> {
        let last_s = acts.iter().map(|timed| timed.at_s).fold(dealing.onset_s(), f64::max);
        let at_s = last_s + THEN_S;
        if !has_patient(self.training) || at_s + HARM_SHOWS_S > self.scenario.duration_s {
            return Vec::new();
        }
        let then = |then: Vec<Act>| {
            let mut acts = acts.to_vec();
            acts.extend(then.into_iter().map(|act| TimedAct { at_s, act }));
            acts
        };
        let pressure = Act::CyclingPressure(CyclingPressure { cmh2o: OVERINFLATES_CMH2O });
        let all = [
            ("an expert who then takes the patient off and leaves", vec![Act::Disconnect]),
            ("an expert who then overinflates", vec![pressure]),
            ("an expert who then deepens", vec![Act::Deepen; 6]),
            ("an expert who then stands by and leaves", vec![Act::Mode(Mode::Standby)]),
        ];
        let offered = all.into_iter().filter(|(_, acts)| offers(self.training, acts[0].name()));
        // Standby is where a weaned patient belongs.
        let weaned = acts.iter().any(|timed| timed.act == Act::Mode(Mode::Standby));
        let all = offered.filter(|(_, acts)| {
            !(weaned && matches!(acts[0], Act::Mode(_) | Act::CyclingPressure(_) | Act::Disconnect))
        });
        all.map(|(kind, acts)| (kind, then(acts))).collect()
    }

    fn member(
        &self,
        kind: &'static str,
        name: String,
        thoughtful: bool,
        dealing: &Dealing,
        acts: Vec<TimedAct>,
        end_s: Option<f64>,
    ) -> Member {
        let end_s = end_s.unwrap_or(self.scenario.duration_s);
        let attempt = dealing.attempt(self.scenario, acts, end_s);
        Member { kind, name, thoughtful, attempt }
    }
}

/// Everything after the onset somewhat later.
fn later(acts: &mut [TimedAct], onset_s: f64, later_s: f64) {
    for timed in acts.iter_mut().filter(|timed| timed.at_s >= onset_s) {
        timed.at_s += later_s;
    }
}

/// Two words that follow each other closely may come in either order.
fn words_first(acts: &mut [TimedAct]) {
    let mut index = 1;
    while index < acts.len() {
        let (before, this) = (acts[index - 1].clone(), acts[index].clone());
        if is_said(&before.act) && is_said(&this.act) && this.at_s - before.at_s <= CLOSELY_S {
            acts[index - 1].act = this.act;
            acts[index].act = before.act;
            // Each changes places once: a call must not be carried minutes away.
            index += 1;
        }
        index += 1;
    }
}

fn is_said(act: &Act) -> bool {
    matches!(act, Act::Answer(_) | Act::Record(_) | Act::Predict(_) | Act::CallSurgeon)
}

/// The same times, the acts in reverse order.
fn reversed(acts: &[TimedAct]) -> Vec<TimedAct> {
    let times = acts.iter().map(|timed| timed.at_s);
    let backwards = acts.iter().rev().map(|timed| timed.act.clone());
    times.zip(backwards).map(|(at_s, act)| TimedAct { at_s, act }).collect()
}

/// What came after the onset at some time before it.
fn early(acts: &[TimedAct], onset_s: f64, number: [usize; 2]) -> Vec<TimedAct> {
    let mut moved = acts.to_vec();
    for (index, timed) in moved.iter_mut().enumerate() {
        if timed.at_s > onset_s {
            timed.at_s = (0.95 * onset_s) * share([number[0], number[1], index]);
        }
    }
    moved
}
