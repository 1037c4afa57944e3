//! What a handout asks, and what the answers should hold: both follow from what the
//! scenario holds.

use tidewright::breath::{Breath, EndedBy};
use tidewright::fault::Fault;
use tidewright::quantity::Mass;
use tidewright_scenario::format::{Change, Scenario};
use tidewright_scenario::measure::BreathMeasure;

use super::{Answer, Arrow, Handout, MEASURES, Paper};
use crate::plot::ticks::number;

pub(super) const HOLDS: &str = "What the answers to the questions should hold";

/// The order of acts: common practice, no source.
const FIRST: &str = "Act: first the patient: in any doubt off, and by hand with another bag and \
    oxygen; where the pressure does not fall, off at once. Call the veterinary surgeon.";
const LAST: &str = "Then write down what was seen and done.";
const LOOK: &str = "Look from patient to tube, circuit, ventilator and supply.";

impl Handout {
    /// The three questions: of a change, or of the breath where nothing changes.
    pub(super) fn questions(&self) -> [&'static str; 3] {
        if self.answers.is_empty() {
            return [
                "Describe: what do the traces show of one breath: pressure, flow, volume, times?",
                "Explain: what ends an inspiration here, and what would make it longer?",
                "Act: the next breaths become smaller. What do you do first, what next, and whom do \
                 you tell?",
            ];
        }
        let explain = match self.scenario.gas {
            Some(_) => "Explain: why? Say it by breath, blood, and what the monitor draws.",
            None => "Explain: why? Say it by flow, pressure, compliance, resistance or leak.",
        };
        [
            "Describe: what do the traces show before and after the change?",
            explain,
            "Act: what do you do first, what next, and whom do you tell?",
        ]
    }

    /// Whether there is anything to predict: a change between two breaths that settle.
    pub(super) fn predicts(&self) -> bool {
        self.answers.iter().any(|answer| answer.measures.is_some())
    }

    /// What the answers to [`Handout::questions`] should hold.
    pub(super) fn holds(&self, paper: Paper) -> [String; 3] {
        let (describe, explain) = match self.answers.first() {
            Some(first) => (described(first), self.teaches().to_owned()),
            None => {
                let weight = Mass::kg(self.scenario.patient.weight_kg);
                let told = |breath| told(breath, weight);
                (self.breath.as_ref().map_or_else(unsettled, told), self.ends_breaths())
            }
        };
        let here = acts(&self.scenario);
        let here = if here.is_empty() { LOOK.to_owned() } else { here.join(" ") };
        [
            format!("Describe: {describe}"),
            format!("Explain: {explain}"),
            paper.words(&format!("{FIRST} {here} {LAST}")).into_owned(),
        ]
    }

    /// What ends the breaths that it begins with.
    fn ends_breaths(&self) -> String {
        match self.breath.as_ref().map(|breath| breath.ended_by) {
            Some(EndedBy::Pressure) => {
                "the airway reaches the cycling pressure. Less flow, a leak or a more compliant lung \
                 reach it later; more resistance reaches it sooner, with less volume."
            }
            Some(EndedBy::Time) => {
                "the time limit, as the pressure is not reached before: a leak, too little flow for \
                 the lung, or a limit that is set short. More flow or no leak would end it sooner; \
                 only a longer limit makes it longer."
            }
            Some(EndedBy::Standby) | None => {
                "the patient alone, or nothing: no breath of the ventilator settles here."
            }
        }
        .to_owned()
    }
}

/// What the traces show of the first change, without a cause.
fn described(first: &Answer) -> String {
    let at_s = number(first.at_s);
    let Some(measures) = &first.measures else {
        return format!(
            "from {at_s} s on no breath settles; what the traces show, without a cause yet."
        );
    };
    let went = |(measure, &pair): (&BreathMeasure, &(f64, f64))| {
        let (name, unit) = (measure.words().to_lowercase(), measure.unit().axis);
        let (before, after) = (number(pair.0), number(pair.1));
        match Arrow::of(pair) {
            Arrow::Up => format!("{name} rises from {before} to {after} {unit}"),
            Arrow::Down => format!("{name} falls from {before} to {after} {unit}"),
            Arrow::Same => format!("{name} stays at {before} {unit}"),
        }
    };
    let went: Vec<String> = MEASURES.iter().zip(&measures.values).map(went).collect();
    format!("from {at_s} s on, when it has settled, {}; no cause yet.", went.join(", "))
}

/// A breath by its measures.
fn told(breath: &Breath, weight: Mass) -> String {
    let told = MEASURES.map(|measure| {
        let value = number(measure.of(breath, weight));
        format!("{} {value} {}", measure.words().to_lowercase(), measure.unit().axis)
    });
    format!("{}, in every breath.", told.join(", "))
}

fn unsettled() -> String {
    "no breath of the ventilator settles; what the traces show, in words.".to_owned()
}

/// What is to be done about what a scenario holds, each once, in order of time (common
/// practice, no source).
fn acts(scenario: &Scenario) -> Vec<&'static str> {
    let changes = scenario.timeline.iter().map(|entry| (entry.at_s, of_change(&entry.set)));
    let faults = scenario.faults.iter();
    let faults = faults.map(|timed| (timed.at_s, Some(of_fault(timed.fault.to_core().0))));
    let mut all: Vec<(f64, Option<&str>)> = changes.chain(faults).collect();
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut acts = Vec::new();
    for act in all.into_iter().filter_map(|(_, act)| act) {
        if !acts.contains(&act) {
            acts.push(act);
        }
    }
    acts
}

const LUNG: &str = "What is wrong with lung or chest the surgeon treats; until then controls buy time, \
    one at a time.";
const AIR: &str = "Air in the chest grows with pressure: as few and small breaths as possible until \
    the surgeon lets it out.";
const TUBE: &str = "Straighten or clear the tube, else change it.";
const CUFF: &str = "Fill the cuff by its gauge until it just seals, and listen again.";
const JOINT: &str =
    "Follow the circuit from the patient outward, and push home or replace what leaks.";
const WAY_OUT: &str =
    "Free the way out, or replace what shuts it, before the patient comes back to it.";
const SENSE: &str = "Trust eye and hand before the gauge; reseat the sensing line or take another \
    ventilator.";
const EFFORT: &str = "Check the depth, and ask the surgeon before any setting is changed.";
const SUPPLY: &str = "Check the supply, and change to a full cylinder.";
const BLOOD: &str = "Feel the pulse and take the temperature before a setting is changed.";
const CONTROL: &str = "Undo what was turned, one control at a time, and give each a few breaths.";

fn of_change(change: &Change) -> Option<&'static str> {
    Some(match change {
        Change::Leak(_) => JOINT,
        Change::Cuff(_) => CUFF,
        Change::Lung(_) | Change::ChestWall(_) | Change::Viscoelastic(_) => LUNG,
        Change::Tube(_) => TUBE,
        Change::Effort(_) => EFFORT,
        Change::ValveResistance(_)
        | Change::Valve(_)
        | Change::Limb(_)
        | Change::WaterInLimb(_) => WAY_OUT,
        Change::Sensor(_) => SENSE,
        Change::PatientPort(_) => JOINT,
        Change::CardiacOutput(_) | Change::Temperature(_) => BLOOD,
        Change::FreshGasOxygen(_) => SUPPLY,
        Change::FreshGasFlow(_)
        | Change::CyclingPressure(_)
        | Change::InspiratoryTimeLimit(_)
        | Change::ExpiratoryTime(_)
        | Change::EndExpiratoryPressure(_)
        | Change::Mode(_) => CONTROL,
        _ => return None,
    })
}

fn of_fault(fault: Fault) -> &'static str {
    use Fault as F;
    match fault {
        F::Bronchospasm | F::CompressedChest | F::CompressedAbdomen => LUNG,
        F::ClosedPneumothorax | F::TensionPneumothorax | F::OpenPneumothorax => AIR,
        F::OneLungIntubation => {
            "Listen on both sides; cuff down, the tube drawn back as the surgeon directs, cuff up, and \
             listen again."
        }
        F::OwnBreaths | F::Coughing | F::Bracing => EFFORT,
        F::Mucus | F::KinkedTube | F::FlapAgainstExpiration | F::FlapAgainstInspiration => TUBE,
        F::CuffLeak => CUFF,
        F::CircuitLeak
        | F::CircuitHole
        | F::PatientDisconnected
        | F::FreshGasHoseOff
        | F::LimbDisconnected => JOINT,
        F::LimbBlocked | F::ScavengingBlocked | F::WaterInLimb | F::ValveStuckShut => WAY_OUT,
        F::SenseLineOff | F::SenseLineBlocked | F::GaugeReadsHigh | F::GaugeReadsLow => SENSE,
        F::ValveStuckOpen => "Take another ventilator: this valve no longer closes.",
        F::FreshGasFailing | F::CylinderEmptying => SUPPLY,
        F::OxygenFlush => "Let the flush go before the patient comes back.",
    }
}
