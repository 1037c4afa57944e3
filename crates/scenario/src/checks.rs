//! Values that are each in range but do not go together, now or after a change
//! of the timeline.

mod assembly;
mod faults;
mod gas;
pub(crate) mod lesson_gas;
mod lesson_places;
mod morning;
mod patient;
pub(crate) mod training;

use tidewright::machine::Machine;
use tidewright::setup::SetupError;

use crate::fault::{Fault, Faults, Problem};
use crate::format::{Change, Mode, Scenario};
use crate::protocol::{Moment, Settings, moments};
use crate::text::{Node, Span};

/// Most breaths that the settings of a run may ask for: a day of a rat's. The
/// slowest of them, with many compartments and an orifice leak, take a minute.
pub(crate) const MOST_BREATHS: f64 = 200_000.0;

/// Notes everything in a scenario that does not go together.
pub(crate) fn check(scenario: &Scenario, root: &Node, faults: &mut Faults) {
    let places = Places { root };
    order(scenario, &places, faults);
    assembly::check(scenario, &places, faults);
    if faults.count() > 0 && scenario.assembly.is_some() {
        return;
    }
    let moments = moments(scenario);
    let mut before: Option<&Moment> = None;
    for moment in &moments {
        let earlier = before.map(|moment| &moment.settings);
        let count = faults.count();
        pressures(earlier, moment, scenario, &places, faults);
        patient::check(earlier, moment, scenario, &places, faults);
        limb(earlier, moment, scenario, &places, faults);
        slow_tissue(earlier, moment, scenario, &places, faults);
        if faults.count() == count {
            engine(moment, scenario, &places, faults);
        }
        before = Some(moment);
    }
    compartments(scenario, &places, faults);
    gas::check(scenario, &places, faults);
    faults::times(scenario, &places, faults);
    if faults.count() == 0 {
        faults::engine(scenario, &places, faults);
    }
    breaths(scenario, &moments, &places, faults);
}

/// Where the parts of a scenario stand in its text.
struct Places<'a> {
    root: &'a Node,
}

impl Places<'_> {
    fn of(&self, path: &[&str]) -> Span {
        let mut node = self.root;
        for key in path {
            match node.get(key) {
                Some(inside) => node = inside,
                None => break,
            }
        }
        node.mark()
    }

    fn entry(&self, index: usize, key: &str) -> Span {
        let item = self.root.get("timeline").and_then(|list| list.item(index));
        item.and_then(|item| item.get(key)).map_or_else(|| self.of(&["timeline"]), Node::mark)
    }

    /// The last entry of a moment that sets something of this kind, or `start`.
    fn blame(
        &self,
        moment: &Moment,
        scenario: &Scenario,
        kind: impl Fn(&Change) -> bool,
        start: &[&str],
    ) -> Span {
        let set = |&&index: &&usize| kind(&scenario.timeline[index].set);
        match moment.entries.iter().rev().find(set) {
            Some(&index) => self.entry(index, "set"),
            None => self.of(start),
        }
    }
}

fn order(scenario: &Scenario, places: &Places<'_>, faults: &mut Faults) {
    let duration_s = scenario.duration_s;
    let mut before_s = 0.0;
    for (index, entry) in scenario.timeline.iter().enumerate() {
        let at_s = entry.at_s;
        let at = places.entry(index, "at_s");
        if at_s < before_s {
            faults.push(Fault::new(at, Problem::OutOfOrder { at_s, before_s }));
        } else if at_s >= duration_s {
            let end = places.of(&["duration_s"]);
            let fault = Fault::new(at, Problem::AfterEnd { at_s, duration_s });
            faults.push(fault.and(end, "the run ends here"));
        }
        before_s = at_s.max(before_s);
    }
}

fn pressures(
    earlier: Option<&Settings>,
    moment: &Moment,
    scenario: &Scenario,
    places: &Places<'_>,
    faults: &mut Faults,
) {
    let wrong = |settings: &Settings| {
        let ventilator = &settings.ventilator;
        ventilator.cycling_pressure_cmh2o <= ventilator.end_expiratory_pressure_cmh2o
    };
    if !wrong(&moment.settings) || earlier.is_some_and(wrong) {
        return;
    }
    let ventilator = &moment.settings.ventilator;
    let problem = Problem::CyclingNotAbovePeep {
        cycling: ventilator.cycling_pressure_cmh2o,
        end_expiratory: ventilator.end_expiratory_pressure_cmh2o,
    };
    let start = ["ventilator", "cycling_pressure_cmh2o"];
    let kind = |change: &Change| {
        matches!(change, Change::CyclingPressure(_) | Change::EndExpiratoryPressure(_))
    };
    let at = places.blame(moment, scenario, kind, &start);
    let mut fault = Fault::new(at, problem);
    if at == places.of(&start) {
        let end_expiratory = places.of(&["ventilator", "end_expiratory_pressure_cmh2o"]);
        fault = fault.and(end_expiratory, "end-expiratory pressure");
    }
    faults.push(fault);
}

/// A limb that holds gas goes on holding it.
fn limb(
    earlier: Option<&Settings>,
    moment: &Moment,
    scenario: &Scenario,
    places: &Places<'_>,
    faults: &mut Faults,
) {
    let holds_gas = |settings: &Settings| {
        settings.circuit.limb.as_ref().is_some_and(|limb| limb.compliance_ml_cmh2o > 0.0)
    };
    if earlier.is_some_and(holds_gas) && !holds_gas(&moment.settings) {
        let kind = |change: &Change| matches!(change, Change::Limb(_));
        let at = places.blame(moment, scenario, kind, &["circuit", "limb"]);
        faults.push(Fault::new(at, Problem::LimbLosesGas));
    }
}

/// Slow tissue that was never there has no state to go on from.
fn slow_tissue(
    earlier: Option<&Settings>,
    moment: &Moment,
    scenario: &Scenario,
    places: &Places<'_>,
    faults: &mut Faults,
) {
    let there = |settings: &Settings| settings.patient.viscoelastic.is_some();
    if earlier.is_some_and(|earlier| !there(earlier)) && there(&moment.settings) {
        let kind = |change: &Change| matches!(change, Change::Viscoelastic(_));
        let at = places.blame(moment, scenario, kind, &["patient", "viscoelastic"]);
        faults.push(Fault::new(at, Problem::NoSlowTissue));
    }
}

/// Whether the engine can run a moment's settings: whatever else they are, they
/// must be that.
fn engine(moment: &Moment, scenario: &Scenario, places: &Places<'_>, faults: &mut Faults) {
    if let Err(why) = moment.settings.try_setup() {
        let at = places.blame(moment, scenario, |_| true, &["assembly"]);
        faults.push(Fault::new(at, Problem::Refused { why }));
        return;
    }
    match Machine::check(&moment.settings.setup()) {
        Ok(()) => {}
        Err(SetupError::NowhereToGo) => {
            let kind = |change: &Change| {
                matches!(
                    change,
                    Change::PatientPort(_)
                        | Change::Leak(_)
                        | Change::NoLeak
                        | Change::Tube(_)
                        | Change::Lung(_)
                        | Change::CuffSeals
                        | Change::Limb(_)
                        | Change::FreshGasFlow(_)
                )
            };
            let rigid = places.of(&["circuit", "compliance_ml_cmh2o"]);
            let blocked = ["circuit", "patient_port"];
            let at = places.blame(moment, scenario, kind, &blocked);
            let fault = Fault::new(at, Problem::NoPressure);
            faults.push(if at == rigid { fault } else { fault.and(rigid, "0 means rigid") });
        }
        Err(refused) => {
            let at = places.blame(moment, scenario, |_| true, &[]);
            faults.push(Fault::new(at, Problem::Refused { why: refused.to_string() }));
        }
    }
}

/// The engine follows each compartment through the whole run.
fn compartments(scenario: &Scenario, places: &Places<'_>, faults: &mut Faults) {
    let mut settings = Settings::at_start(scenario);
    let expected = settings.patient.lung().compartments.len();
    for (index, entry) in scenario.timeline.iter().enumerate() {
        settings.change(&entry.set);
        if !matches!(entry.set, Change::Lung(_)) {
            continue;
        }
        let found = settings.patient.lung().compartments.len();
        if found != expected {
            let problem = Problem::OtherCompartments { found, expected };
            faults.push(Fault::new(places.entry(index, "set"), problem));
        }
    }
}

/// The most breaths that fit: an inspiration may end as soon as it begins.
fn breaths(scenario: &Scenario, moments: &[Moment], places: &Places<'_>, faults: &mut Faults) {
    let ends = moments.iter().skip(1).map(|moment| moment.from_s).chain([scenario.duration_s]);
    let breaths: f64 = moments
        .iter()
        .zip(ends)
        .filter(|(moment, _)| moment.settings.ventilator.mode == Mode::Ventilating)
        .map(|(moment, end_s)| {
            let length_s = (end_s.min(scenario.duration_s) - moment.from_s).max(0.0);
            length_s / moment.settings.ventilator.expiratory_time_s
        })
        .sum();
    if breaths > MOST_BREATHS {
        let problem = Problem::TooManyBreaths { breaths, most: MOST_BREATHS };
        let expiratory_time = places.of(&["ventilator", "expiratory_time_s"]);
        let fault = Fault::new(places.of(&["duration_s"]), problem);
        faults.push(fault.and(expiratory_time, "shortest breath"));
    }
}
