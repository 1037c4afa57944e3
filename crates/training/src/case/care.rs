//! What by itself or by hand happens to patient and fresh gas beside the ventilator:
//! temperature, circulation, depth, oxygen, adapter, sampling line.

use tidewright_scenario::GasNumbers;
use tidewright_scenario::format::{Act, Hidden, HiddenChange, Onset};

use crate::case::mends::Mends;
use crate::words::text::said;

/// Step of depth of one act, and how long it takes, s (a teaching choice).
const DEPTH_STEP: (f64, f64) = (0.1, 60.0);
/// Step of temperature of one act, °C, and how long it takes, s.
const TEMPERATURE_STEP: (f64, f64) = (1.0, tidewright_scenario::TEMPERATURE_STEP_S);
/// Time in which circulation and depth come back once put right, s (a teaching choice).
const RECOVERS_S: f64 = 60.0;

/// What a hidden change is of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Core temperature, °C.
    Temperature,
    /// Cardiac output, %.
    CardiacOutput,
    /// Oxygen in the fresh gas, %.
    FreshGasOxygen,
    /// Depth of anaesthesia, 0 to 1.
    Depth,
    /// Volume of the adapter, mL.
    Adapter,
    /// Room air that the sampling line draws in, %.
    SamplingLine,
}

/// Every kind.
pub(crate) const KINDS: [Kind; 6] = [
    Kind::Temperature,
    Kind::CardiacOutput,
    Kind::FreshGasOxygen,
    Kind::Depth,
    Kind::Adapter,
    Kind::SamplingLine,
];

/// A hidden change at its time in the session.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Change {
    pub at_s: f64,
    pub over_s: f64,
    pub kind: Kind,
    pub to: f64,
}

/// What hands have done for the patient. Plain data.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Care {
    depth: Drift,
    temperature: Drift,
    /// What was put right, and when, s.
    put_right: Vec<(Kind, f64)>,
}

/// Something that goes on at an even pace toward where it was set.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Drift {
    from: f64,
    from_s: f64,
    to: f64,
}

impl Change {
    pub fn of(change: &HiddenChange, onset_s: f64) -> Self {
        let (kind, to) = match &change.set {
            Hidden::Temperature(new) => (Kind::Temperature, new.c),
            Hidden::CardiacOutput(new) => (Kind::CardiacOutput, new.percent),
            Hidden::FreshGasOxygen(new) => (Kind::FreshGasOxygen, new.percent),
            Hidden::Depth(new) => (Kind::Depth, new.depth),
            Hidden::Adapter(new) => (Kind::Adapter, new.ml),
            Hidden::SamplingLine(new) => (Kind::SamplingLine, new.room_air_percent),
        };
        let over_s = match &change.onset {
            Onset::Step => 0.0,
            Onset::Ramp(ramp) => ramp.s,
        };
        Self { at_s: onset_s + change.after_s, over_s, kind, to }
    }

    /// What it is, for the debrief.
    pub fn in_words(&self) -> String {
        let to = said(self.to);
        match self.kind {
            Kind::Temperature => format!("The temperature goes to {to} °C."),
            Kind::CardiacOutput => format!("The heart comes to pump {to} % of what is usual."),
            Kind::FreshGasOxygen => format!("The fresh gas comes to hold {to} % oxygen."),
            Kind::Depth => format!("The depth of anaesthesia goes to {to}."),
            Kind::Adapter => format!("An adapter of {to} mL is on."),
            Kind::SamplingLine => format!("The sampling line draws in {to} % room air."),
        }
    }

    /// Whether an act puts it right.
    pub fn mends(&self, base: f64, act: &Act) -> Mends {
        let yes = match self.kind {
            Kind::Temperature if self.to < base => matches!(act, Act::Warm),
            Kind::Temperature => matches!(act, Act::Cool),
            Kind::CardiacOutput => {
                return if matches!(act, Act::CallSurgeon) { Mends::Surgeon } else { Mends::No };
            }
            Kind::FreshGasOxygen => matches!(act, Act::SwapCylinder),
            Kind::Depth => matches!(act, Act::FillVaporiser),
            Kind::Adapter => matches!(act, Act::ChangeAdapter),
            Kind::SamplingLine => matches!(act, Act::ReseatJoint),
        };
        if yes { Mends::Yes } else { Mends::No }
    }
}

impl Drift {
    fn at(&self, at_s: f64, per_s: f64) -> f64 {
        let most = per_s * (at_s - self.from_s);
        self.from + (self.to - self.from).clamp(-most, most)
    }

    fn go(&mut self, by: f64, at_s: f64, per_s: f64) {
        *self = Self { from: self.at(at_s, per_s), from_s: at_s, to: self.to + by };
    }
}

impl Care {
    /// Does what an act does for the patient; `vaporiser_is_empty` says whether
    /// deepening does anything.
    pub(crate) fn act(&mut self, act: &Act, at_s: f64, vaporiser_is_empty: bool) {
        let (depth, depth_s) = DEPTH_STEP;
        let (warmth, warmth_s) = TEMPERATURE_STEP;
        match act {
            Act::Deepen if !vaporiser_is_empty => self.depth.go(depth, at_s, depth / depth_s),
            Act::Lighten => self.depth.go(-depth, at_s, depth / depth_s),
            Act::Warm => self.temperature.go(warmth, at_s, warmth / warmth_s),
            Act::Cool => self.temperature.go(-warmth, at_s, warmth / warmth_s),
            _ => {}
        }
    }

    pub(crate) fn put_right(&mut self, kind: Kind, at_s: f64) {
        if self.put_right_s(kind).is_none() {
            self.put_right.push((kind, at_s));
        }
    }

    /// When a hidden change of this kind was put right, s.
    #[must_use]
    pub fn put_right_s(&self, kind: Kind) -> Option<f64> {
        self.put_right.iter().find(|(known, _)| *known == kind).map(|(_, at_s)| *at_s)
    }

    /// What holds at a time under hidden changes and hands.
    pub(crate) fn numbers(&self, base: GasNumbers, changes: &[Change], at_s: f64) -> GasNumbers {
        let value = |kind, base| self.value(kind, base, changes, at_s);
        let (depth, depth_s) = DEPTH_STEP;
        let (warmth, warmth_s) = TEMPERATURE_STEP;
        let warmed = self.temperature.at(at_s, warmth / warmth_s);
        let deepened = self.depth.at(at_s, depth / depth_s);
        GasNumbers {
            oxygen_percent: value(Kind::FreshGasOxygen, base.oxygen_percent),
            cardiac_output_percent: value(Kind::CardiacOutput, base.cardiac_output_percent),
            temperature_c: value(Kind::Temperature, base.temperature_c) + warmed,
            // What runs dry takes with it what the dial was turned up by.
            depth: base.depth.map(|base| value(Kind::Depth, base + deepened).clamp(0.0, 1.0)),
        }
    }

    /// One kind of hidden change at a time, from `base` on.
    pub(crate) fn value(&self, kind: Kind, base: f64, changes: &[Change], at_s: f64) -> f64 {
        // Seen from a time before it, nothing is put right yet.
        let right_s = self.put_right_s(kind).filter(|&right_s| right_s <= at_s);
        let right_s = right_s.filter(|_| kind != Kind::Temperature);
        let until_s = right_s.unwrap_or(at_s);
        let (mut from, mut now) = (base, None);
        let ramp = |from: f64, change: &Change, at_s: f64| {
            let passed = at_s - change.at_s;
            let share = if passed >= change.over_s { 1.0 } else { passed / change.over_s };
            from + (change.to - from) * share
        };
        for change in changes.iter().filter(|one| one.kind == kind && one.at_s <= until_s) {
            from = now.map_or(base, |before| ramp(from, before, change.at_s));
            now = Some(change);
        }
        let reached = now.map_or(base, |change| ramp(from, change, until_s));
        let Some(right_s) = right_s else { return reached };
        let slow = matches!(kind, Kind::CardiacOutput | Kind::Depth);
        let back = if slow { ((at_s - right_s) / RECOVERS_S).min(1.0) } else { 1.0 };
        reached + (base - reached) * back
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn change(at_s: f64, over_s: f64, to: f64) -> Change {
        Change { at_s, over_s, kind: Kind::CardiacOutput, to }
    }

    #[test]
    fn a_change_comes_as_a_ramp_and_goes_when_it_is_put_right() {
        let changes = [change(10.0, 20.0, 50.0), change(20.0, 0.0, 40.0)];
        let mut care = Care::default();
        let value = |care: &Care, at_s| care.value(Kind::CardiacOutput, 100.0, &changes, at_s);
        let course: Vec<f64> =
            [5.0, 15.0, 20.0, 90.0].iter().map(|&at_s| value(&care, at_s)).collect();
        assert_eq!(course, [100.0, 87.5, 40.0, 40.0]);
        care.put_right(Kind::CardiacOutput, 100.0);
        assert_eq!(value(&care, 130.0), 70.0);
        assert_eq!(value(&care, 15.0), 87.5);
        assert_eq!(value(&care, 200.0), 100.0);
        // Another ramp starts where the one before had come to.
        let changes = [change(0.0, 20.0, 50.0), change(10.0, 10.0, 100.0)];
        let care = Care::default();
        assert_eq!(care.value(Kind::CardiacOutput, 100.0, &changes, 15.0), 87.5);
    }

    #[test]
    fn hands_move_depth_and_warmth_little_by_little() {
        let base = GasNumbers {
            oxygen_percent: 100.0,
            cardiac_output_percent: 100.0,
            temperature_c: 36.0,
            depth: Some(0.5),
        };
        let mut care = Care::default();
        care.act(&Act::Deepen, 0.0, true);
        assert_eq!(care.numbers(base, &[], 60.0).depth, Some(0.5));
        care.act(&Act::Deepen, 100.0, false);
        care.act(&Act::Warm, 100.0, false);
        let half = care.numbers(base, &[], 130.0);
        assert!((half.depth.unwrap_or_default() - 0.55).abs() < 1e-12);
        assert!((half.temperature_c - 36.1).abs() < 1e-12);
        // Two acts go on for twice the time, not at twice the pace.
        care.act(&Act::Deepen, 130.0, false);
        let depth = |at_s| care.numbers(base, &[], at_s).depth.unwrap_or_default();
        assert!((depth(160.0) - 0.6).abs() < 1e-12 && (depth(600.0) - 0.7).abs() < 1e-12);
    }
}
