//! The gas of a session and the patient's own breaths.

use std::sync::Arc;

use tidewright::coupled::{GasLimits, GasPlan, GasPoint, GasStretch, GasTotals};
use tidewright::exchange::{Apparatus, GasBreath, GasError, Steps, USUAL_STEPS};
use tidewright::live::{LiveError, LiveRun};
use tidewright::machine::Machine;
use tidewright::quantity::Seconds;
use tidewright::run::{Simulation, Stretch};
use tidewright::step::StepError;
use tidewright_scenario::{GasNumbers, Scenario};

use super::{Bedside, DrawnCase, End};
use crate::bedside::limits::saturation_limits;
use crate::bedside::vitals::Vitals;
use crate::case::care::{Care, Change, Kind};
use crate::case::table::Table;
use crate::case::world::{On, World};

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
const STEPS: Steps = match Steps::new(0.15, 0.75) {
    Ok(steps) => steps,
    Err(_) => USUAL_STEPS,
};
/// Time over which the patient's own breaths are counted, s.
const COUNTED_S: f64 = 60.0;

/// What a file says of the gas.
#[derive(Debug)]
pub(crate) struct GasBase {
    plan: GasPlan,
    /// What the file sets, and from when on.
    numbers: Vec<(f64, GasNumbers)>,
}

/// What of the gas changes, beside the run itself.
#[derive(Clone, Debug)]
pub(crate) struct GasState {
    /// What the run was last set to.
    set: Option<GasNumbers>,
    totals: GasTotals,
    /// For each limit asked for, %: time with a saturation below it, s.
    saturation_below: Vec<(f64, f64)>,
    desaturated_s: f64,
    arrested_s: f64,
    /// Along the latest stretch.
    pub points: Vec<GasPoint>,
}

/// The gas of a session, to be read.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Gas<'a> {
    base: &'a GasBase,
    state: &'a GasState,
    /// Its hidden changes.
    pub changes: &'a [Change],
}

impl GasBase {
    pub fn of(scenario: &Scenario, table: Option<&Table>) -> Result<Option<Self>, GasError> {
        let Some(mut plan) = scenario.gas_plan()? else { return Ok(None) };
        if let Some(made) = table.and_then(Table::apparatus) {
            plan.exchange.apparatus = joined(made, &plan.exchange.apparatus);
        }
        // A session is changed while it goes on.
        plan.changes.clear();
        Ok(Some(Self { plan, numbers: scenario.gas_numbers() }))
    }

    /// A run with this gas.
    pub fn begin(&self, machine: Arc<Machine>) -> Result<LiveRun, LiveError> {
        let mut live = LiveRun::with_gas(machine, &self.plan)?;
        live.follow_in(STEPS)?;
        Ok(live)
    }

    /// What the file sets at a time.
    pub fn base(&self, at_s: f64) -> GasNumbers {
        let passed = self.numbers.iter().take_while(|(from_s, _)| *from_s <= at_s);
        passed.last().unwrap_or(&self.numbers[0]).1
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
    fn hidden(&self, kind: Kind, care: &Care, changes: &[Change], at_s: f64) -> f64 {
        care.value(kind, self.base_of(kind, at_s), changes, at_s)
    }

    /// Gets the run ready for its next step: settings and adapter. When that must end at
    /// the latest, s.
    pub fn prepare(
        &self,
        state: &mut GasState,
        live: &mut LiveRun,
        world: &World,
        case: &DrawnCase,
    ) -> Result<f64, LiveError> {
        let at_s = live.now().as_s();
        let mut numbers = world.care.numbers(self.base(at_s), &case.changes, at_s);
        if world.on == On::Bag {
            numbers.oxygen_percent = 100.0;
        }
        if state.set != Some(numbers) {
            live.set_gas(numbers.to_settings(&self.plan.animal))?;
            state.set = Some(numbers);
        }
        let plan = &self.plan.exchange.apparatus;
        let apparatus = match &world.table {
            Some(table) => table.apparatus().map(|made| joined(made, plan)),
            None => {
                let adapter_ml = self.hidden(Kind::Adapter, &world.care, &case.changes, at_s);
                Some(Apparatus { adapter_ml, ..*plan })
            }
        };
        let now = live.gas_so_far().map(|gas| gas.exchange().apparatus);
        if let Some(apparatus) = apparatus.filter(|&apparatus| now != Some(apparatus)) {
            live.change_apparatus(apparatus)?;
        }
        Ok(at_s + LONGEST_STEP_S)
    }
}

/// What hands have joined, with the file's monitor and its way of mixing.
fn joined(made: Apparatus, plan: &Apparatus) -> Apparatus {
    Apparatus {
        adapter_ml: made.adapter_ml,
        limb_ml: made.limb_ml,
        bag_ml: made.bag_ml,
        inlet: made.inlet,
        sampling_ml_min: made.sampling_ml_min.max(plan.sampling_ml_min),
        ..*plan
    }
}

impl GasState {
    pub fn new(scenario: &Scenario) -> Self {
        let limits = scenario.training.iter().flat_map(saturation_limits);
        Self {
            set: None,
            totals: GasTotals::new(GasLimits::default()),
            saturation_below: limits.map(|limit| (limit, 0.0)).collect(),
            desaturated_s: 0.0,
            arrested_s: 0.0,
            points: Vec::new(),
        }
    }

    /// What the run was last set to.
    pub fn numbers(&self) -> Option<&GasNumbers> {
        self.set.as_ref()
    }

    /// Adds up what the gas did along a stretch; the breaths that ended in it.
    pub fn take(&mut self, along: GasStretch, leak_percent: f64) -> Vec<GasBreath> {
        self.totals.take(&along);
        let GasStretch { mut points, breaths, .. } = along;
        let (low, _) = HAND_OVER_SATURATION;
        for point in &mut points {
            let arrested = !point.pulse.is_there();
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
        self.points = points;
        breaths
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
}

impl<'a> Gas<'a> {
    /// One kind of hidden change as it is now.
    pub fn hidden(&self, kind: Kind, care: &Care, at_s: f64) -> f64 {
        self.base.hidden(kind, care, self.changes, at_s)
    }

    /// The hidden changes that are there and not put right, the last of each kind.
    pub fn active(self, care: &'a Care, at_s: f64) -> impl Iterator<Item = &'a Change> {
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
    pub fn wrong(self) -> impl Iterator<Item = &'a Change> {
        self.changes.iter().filter(move |change| self.is_wrong(change))
    }

    /// Whether a change leads away from what the file sets: it may also lead back.
    fn is_wrong(&self, change: &Change) -> bool {
        change.to != self.away_from(change)
    }

    /// What a change goes away from.
    pub fn away_from(&self, change: &Change) -> f64 {
        self.base.base_of(change.kind, change.at_s)
    }

    /// What it adds up to, for the debrief and the marking.
    pub fn totals(&self) -> &'a GasTotals {
        &self.state.totals
    }

    /// Time with a saturation below a limit that a criterion asks for (%), s.
    pub fn saturation_below_s(&self, limit_percent: f64) -> Option<f64> {
        let mut all = self.state.saturation_below.iter();
        all.find(|(limit, _)| *limit == limit_percent).map(|(_, sum_s)| *sum_s)
    }
}

impl Bedside {
    pub(crate) fn gas(&self) -> Option<Gas<'_>> {
        let (base, state) = (self.lesson.gas.as_ref()?, self.state.gas.as_ref()?);
        Some(Gas { base, state, changes: &self.case.changes })
    }

    /// Every breath so far as a carbon dioxide monitor knows it: the ventilator's,
    /// and the patient's own in standby. None without gas.
    #[must_use]
    pub fn gas_breaths(&self) -> &[GasBreath] {
        &self.log.gas_breaths
    }

    /// What of patient and fresh gas holds now; `None` without gas.
    #[must_use]
    pub fn gas_numbers(&self) -> Option<GasNumbers> {
        let gas = self.lesson.gas.as_ref()?;
        let at_s = self.now_s();
        Some(self.state.world.care.numbers(gas.base(at_s), &self.case.changes, at_s))
    }

    /// Oxygen saturation of arterial haemoglobin now, 0 to 1; `None` without gas.
    #[must_use]
    pub fn saturation(&self) -> Option<f64> {
        self.state.live.gas_so_far().map(|gas| gas.tensions().saturation)
    }

    /// The patient's vital signs so far, an entry about every two seconds; none without gas.
    #[must_use]
    pub fn vitals(&self) -> &[Vitals] {
        &self.log.chart.entries
    }

    /// The patient's vital signs now; `None` without gas.
    #[must_use]
    pub fn vitals_now(&self) -> Option<Vitals> {
        let (gas, numbers) = (self.state.live.gas_so_far()?, self.gas_numbers()?);
        let blood = gas.tensions();
        Some(Vitals {
            at_s: self.now_s(),
            pulse: gas.pulse(),
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
        self.lesson.gas.as_ref()?;
        let window_s = self.now_s().clamp(1.0, COUNTED_S);
        let from_s = self.now_s() - window_s;
        let counted = self.log.own.iter().filter(|own| own.at_s >= from_s).count();
        Some(counted as f64 * 60.0 / window_s)
    }

    /// The session so far once more, stretch by stretch, the patient's own breaths with
    /// it: for figures. The simulation is that of [`Bedside::protocol`].
    pub fn stretches<'a>(
        &'a self,
        simulation: &'a Simulation,
    ) -> impl Iterator<Item = Result<Stretch<'a>, StepError>> + 'a {
        let (mut steps, mut own) = (simulation.steps(), self.log.own.iter().peekable());
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

    pub(crate) fn leak_percent(&self, at_s: f64) -> f64 {
        let care = &self.state.world.care;
        self.gas().map_or(0.0, |gas| gas.hidden(Kind::SamplingLine, care, at_s))
    }

    /// The part of what the carbon dioxide monitor drew at a time that was the
    /// patient's gas, 0 to 1.
    pub(crate) fn drawn_share(&self, at_s: f64) -> f64 {
        1.0 - self.leak_percent(at_s) / 100.0
    }
}
