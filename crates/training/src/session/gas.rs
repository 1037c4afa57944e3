//! The gas of a session and the patient's own breaths.

use tidewright::coupled::{GasLimits, GasPlan, GasPoint, GasRun, GasStretch, GasTotals};
use tidewright::exchange::{ApparatusError, GasBreath, Steps};
use tidewright::quantity::{Pressure, Seconds};
use tidewright::run::{Simulation, Stretch};
use tidewright::step::{Moment, StepError};
use tidewright_scenario::{GasNumbers, Scenario};

use super::{End, Session};
use crate::care::{Care, Change, Kind};
use crate::limits::saturation_limits;
use crate::vitals::{Chart, Vitals};
use crate::world::On;

/// Saturation at which a session is handed to the surgeon, 0 to 1, and for how
/// long, s (common practice, no source).
pub const HAND_OVER_SATURATION: (f64, f64) = (0.6, 30.0);
/// Time without circulation at which a session is handed to the surgeon, s (common
/// practice, no source).
pub const HAND_OVER_ARREST_S: f64 = 60.0;
/// Patient and gas are looked after this often at the least, s: what slowly changes in
/// them, and whether the session must be handed over.
const LONGEST_STEP_S: f64 = 2.0;
/// Steps in which gas is followed: in animals from 2 to 30 kg end-tidal carbon dioxide
/// comes within 0.2 mmHg of what steps of 5 ms give, and monitors round to 1 mmHg.
const STEPS: Steps = Steps { longest_s: 0.15, most_of_airway: 0.75 };
/// Time over which the patient's own breaths are counted, s.
const COUNTED_S: f64 = 60.0;

/// A breath that the patient drew by itself: a half-sine of muscle pressure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OwnEffort {
    /// When it began, s.
    pub at_s: f64,
    /// Its height.
    pub amplitude: Pressure,
    /// Its length.
    pub lasts: Seconds,
}

/// The gas of a session. Cloning it is saving it.
#[derive(Clone, Debug)]
pub(crate) struct GasCourse {
    plan: GasPlan,
    run: GasRun,
    /// What the run was last set to.
    set: Option<GasNumbers>,
    /// What the file sets, and from when on.
    base: Vec<(f64, GasNumbers)>,
    pub changes: Vec<Change>,
    breaths: Vec<GasBreath>,
    /// Breaths that the patient drew by itself.
    own: Vec<OwnEffort>,
    totals: GasTotals,
    /// For each limit asked for, %: time with a saturation below it, s.
    saturation_below: Vec<(f64, f64)>,
    desaturated_s: f64,
    arrested_s: f64,
    points: Vec<GasPoint>,
    chart: Chart,
}

impl GasCourse {
    pub fn new(scenario: &Scenario, changes: Vec<Change>) -> Result<Option<Self>, ApparatusError> {
        let Some(plan) = scenario.gas_plan()? else { return Ok(None) };
        let limits = scenario.training.iter().flat_map(saturation_limits);
        let mut run = GasRun::new(&plan);
        run.follow_in(STEPS);
        Ok(Some(Self {
            run,
            set: None,
            base: scenario.gas_numbers(),
            plan,
            changes,
            breaths: Vec::new(),
            own: Vec::new(),
            totals: GasTotals::new(GasLimits::default()),
            saturation_below: limits.map(|limit| (limit, 0.0)).collect(),
            desaturated_s: 0.0,
            arrested_s: 0.0,
            points: Vec::new(),
            chart: Chart::default(),
        }))
    }

    /// What the file sets at a time.
    pub fn base(&self, at_s: f64) -> GasNumbers {
        let passed = self.base.iter().take_while(|(from_s, _)| *from_s <= at_s);
        passed.last().unwrap_or(&self.base[0]).1
    }

    fn base_of(&self, kind: Kind, at_s: f64) -> f64 {
        let base = self.base(at_s);
        match kind {
            Kind::Temperature => base.temperature_c,
            Kind::CardiacOutput => base.cardiac_output_percent,
            Kind::FreshGasOxygen => base.oxygen_percent,
            Kind::Depth => base.depth.unwrap_or_default(),
            Kind::Adapter => self.plan.exchange.apparatus.adapter_ml,
            Kind::SamplingLine => 0.0,
        }
    }

    /// One kind of hidden change as it is now.
    pub fn hidden(&self, kind: Kind, care: &Care, at_s: f64) -> f64 {
        care.value(kind, self.base_of(kind, at_s), &self.changes, at_s)
    }

    /// The hidden changes that are there and not put right, the last of each kind.
    pub fn active<'a>(&'a self, care: &'a Care, at_s: f64) -> impl Iterator<Item = &'a Change> {
        let later = move |change: &Change| {
            let same = |one: &&Change| one.kind == change.kind && one.at_s <= at_s;
            self.changes.iter().rfind(same) == Some(change)
        };
        let there = move |change: &&Change| {
            change.at_s <= at_s
                && self.is_wrong(change)
                && care.put_right_s(change.kind).is_none()
                && later(change)
        };
        self.changes.iter().filter(there)
    }

    /// The changes that lead away from what the file sets, whenever they come.
    pub fn wrong(&self) -> impl Iterator<Item = &Change> {
        self.changes.iter().filter(|change| self.is_wrong(change))
    }

    /// Whether a change leads away from what the file sets: it may also lead back.
    fn is_wrong(&self, change: &Change) -> bool {
        change.to != self.away_from(change)
    }

    /// What a change goes away from.
    pub fn away_from(&self, change: &Change) -> f64 {
        self.base_of(change.kind, change.at_s)
    }

    /// Gets ready for the next step: settings, adapter, a breath of the patient's own.
    fn prepare(&mut self, care: &Care, on: On, moment: &mut Moment) -> Result<(), ApparatusError> {
        let at_s = moment.at_s;
        let mut numbers = care.numbers(self.base(at_s), &self.changes, at_s);
        if on == On::Bag {
            numbers.oxygen_percent = 100.0;
        }
        if self.set != Some(numbers) {
            self.run.set(numbers.to_settings(&self.plan.animal));
            self.set = Some(numbers);
        }
        let adapter_ml = self.hidden(Kind::Adapter, care, at_s);
        if adapter_ml != self.run.exchange().apparatus.adapter_ml {
            self.run.change_adapter(adapter_ml)?;
        }
        if let Some((amplitude, lasts)) = self.run.decide(Seconds::s(at_s)) {
            *moment = moment.breathing_in(amplitude, lasts);
            self.own.push(OwnEffort { at_s, amplitude, lasts });
        }
        Ok(())
    }

    /// When the next step must end at the latest, s.
    fn next_stop_s(&self, at_s: f64) -> f64 {
        (at_s + LONGEST_STEP_S).min(self.run.next_decision().as_s())
    }

    fn take(&mut self, stretch: &Stretch<'_>, leak_percent: f64) {
        let mut done: GasStretch = self.run.take(stretch);
        self.totals.take(&done);
        let arrested = !self.run.pulse().is_there();
        if let Some(numbers) = &self.set {
            self.chart.enter(&done.points, numbers);
        }
        let (low, _) = HAND_OVER_SATURATION;
        for point in &mut done.points {
            for (limit_percent, sum_s) in &mut self.saturation_below {
                if 100.0 * point.saturation < *limit_percent {
                    *sum_s += point.step_s;
                }
            }
            let longer = |since_s: f64, so: bool| if so { since_s + point.step_s } else { 0.0 };
            self.desaturated_s = longer(self.desaturated_s, point.saturation < low);
            self.arrested_s = longer(self.arrested_s, arrested);
            point.shown_carbon_dioxide_mmhg *= 1.0 - leak_percent / 100.0;
        }
        self.breaths.extend(&done.breaths);
        self.points = done.points;
    }

    /// Why the session must be handed over, if it must.
    pub fn hand_over(&self) -> Option<End> {
        if self.arrested_s > HAND_OVER_ARREST_S {
            Some(End::HandedOverForCirculation)
        } else if self.desaturated_s > HAND_OVER_SATURATION.1 {
            Some(End::HandedOverForSaturation)
        } else {
            None
        }
    }

    /// What it adds up to, for the debrief and the marking.
    pub fn totals(&self) -> &GasTotals {
        &self.totals
    }

    /// Time with a saturation below a limit that a criterion asks for (%), s.
    pub fn saturation_below_s(&self, limit_percent: f64) -> Option<f64> {
        let found = self.saturation_below.iter().find(|(limit, _)| *limit == limit_percent);
        found.map(|(_, sum_s)| *sum_s)
    }
}

impl Session {
    /// Readies the gas for a step from here; when that must end at the latest, s.
    pub(super) fn prepare_gas(&mut self) -> Result<f64, ApparatusError> {
        let Some(gas) = &mut self.gas else { return Ok(f64::INFINITY) };
        gas.prepare(&self.world.care, self.world.on, &mut self.moment)?;
        Ok(gas.next_stop_s(self.moment.at_s))
    }

    pub(super) fn take_gas(gas: &mut Option<GasCourse>, care: &Care, stretch: &Stretch<'_>) {
        if let Some(gas) = gas {
            let leak_percent = gas.hidden(Kind::SamplingLine, care, stretch.piece.start_s);
            gas.take(stretch, leak_percent);
        }
    }

    pub(super) fn gas_points(&self) -> &[GasPoint] {
        self.gas.as_ref().map_or(&[], |gas| &gas.points)
    }

    pub(crate) fn gas(&self) -> Option<&GasCourse> {
        self.gas.as_ref()
    }

    /// Every breath so far as a carbon dioxide monitor knows it: the ventilator's,
    /// and the patient's own in standby. None without gas.
    #[must_use]
    pub fn gas_breaths(&self) -> &[GasBreath] {
        self.gas.as_ref().map_or(&[], |gas| &gas.breaths)
    }

    /// What of patient and fresh gas holds now; `None` without gas.
    #[must_use]
    pub fn gas_numbers(&self) -> Option<GasNumbers> {
        let gas = self.gas.as_ref()?;
        let at_s = self.now_s();
        Some(self.world.care.numbers(gas.base(at_s), &gas.changes, at_s))
    }

    /// Oxygen saturation of arterial haemoglobin now, 0 to 1; `None` without gas.
    #[must_use]
    pub fn saturation(&self) -> Option<f64> {
        self.gas.as_ref().map(|gas| gas.run.tensions().saturation)
    }

    /// The patient's vital signs so far, an entry about every two seconds; none without gas.
    #[must_use]
    pub fn vitals(&self) -> &[Vitals] {
        self.gas.as_ref().map_or(&[], |gas| &gas.chart.entries)
    }

    /// The patient's vital signs now; `None` without gas.
    #[must_use]
    pub fn vitals_now(&self) -> Option<Vitals> {
        let (gas, numbers) = (self.gas.as_ref()?, self.gas_numbers()?);
        let blood = gas.run.tensions();
        Some(Vitals {
            at_s: self.now_s(),
            pulse: gas.run.pulse(),
            saturation: blood.saturation,
            arterial_carbon_dioxide_mmhg: blood.carbon_dioxide.as_mmhg(),
            temperature_c: numbers.temperature_c,
            depth: numbers.depth,
        })
    }

    /// Breaths that the patient drew by itself in the last minute, with the ventilator
    /// or without; `None` without gas.
    #[must_use]
    pub fn own_breaths_per_min(&self) -> Option<f64> {
        let gas = self.gas.as_ref()?;
        let window_s = self.now_s().clamp(1.0, COUNTED_S);
        let from_s = self.now_s() - window_s;
        let counted = gas.own.iter().filter(|own| own.at_s >= from_s).count();
        Some(counted as f64 * 60.0 / window_s)
    }

    /// The session so far once more, stretch by stretch, the patient's own breaths with
    /// it: for figures. The simulation is that of [`Session::protocol`].
    pub fn stretches<'a>(
        &'a self,
        simulation: &'a Simulation,
    ) -> impl Iterator<Item = Result<Stretch<'a>, StepError>> + 'a {
        let own = self.gas.as_ref().map_or(&[][..], |gas| &gas.own);
        let (mut steps, mut own) = (simulation.steps(), own.iter().peekable());
        std::iter::from_fn(move || {
            let now_s = steps.moment()?.at_s;
            if let Some(due) = own.next_if(|due| due.at_s <= now_s) {
                steps.breathe_in(due.amplitude, due.lasts);
            }
            let next_s = own.peek().map_or(f64::INFINITY, |next| next.at_s);
            steps.pause_at(Seconds::s(next_s));
            steps.next()
        })
    }

    /// Room air that the sampling line of the carbon dioxide monitor draws in now, %.
    #[must_use]
    pub fn sampling_leak_percent(&self) -> f64 {
        self.leak_percent(self.now_s())
    }

    fn leak_percent(&self, at_s: f64) -> f64 {
        let value = |gas: &GasCourse| gas.hidden(Kind::SamplingLine, &self.world.care, at_s);
        self.gas.as_ref().map_or(0.0, value)
    }

    /// The part of what the carbon dioxide monitor drew at a time that was the
    /// patient's gas, 0 to 1.
    pub(crate) fn drawn_share(&self, at_s: f64) -> f64 {
        1.0 - self.leak_percent(at_s) / 100.0
    }
}
