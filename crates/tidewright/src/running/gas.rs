//! The gas of a run: the plan that it begins with, and what it is at any moment, while
//! the breaths come from elsewhere.

mod before;
mod plan;
mod points;
mod strained;
mod totals;

pub use plan::{GasChange, GasPlan, GasSettings};
pub use points::{GasPoint, GasStretch, OwnEffort};
pub use totals::{GasLimits, GasTotals};

use before::{MeanPressure, breath_before, settled};
use strained::Strained;

use crate::animal::blood::{BloodGases, Tensions};
use crate::animal::circulation::Pulse;
use crate::animal::species::Animal;
use crate::base::quantity::{Pressure, Seconds};
use crate::exchange::{
    Apparatus, Capnograph, Exchange, GasBreath, GasError, GasMeter, GasState, Held, Ledger, Parcel,
    Steps, USUAL_STEPS, follow_checked,
};
use crate::stepping::machine::Machine;
use crate::stepping::phase::Cause;
use crate::stepping::piece::Stretch;
use crate::stepping::step::Moment;

/// The gas of a patient, and when it next breathes by itself. Cloning it is
/// saving it.
///
/// A run owns it and lets it go on ([`crate::live::LiveRun::gas`]); here it is read.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct GasRun {
    animal: Animal,
    exchange: Exchange,
    settings: GasSettings,
    circulation: Strained,
    steps: Steps,
    state: GasState,
    meter: GasMeter,
    capnograph: Capnograph,
    next_decision_s: f64,
    blood: Tensions,
    blood_at_s: f64,
    last_breath: Option<GasBreath>,
    last_effort: Option<OwnEffort>,
    at_start: Ledger,
}

/// Time between two readings of the blood, s.
const BLOOD_EVERY_S: f64 = 1.0;
/// Time after which a patient that did not want to breathe is asked again, s.
const ASK_AGAIN_S: f64 = 1.0;

impl GasRun {
    /// The start of a plan on a machine: with the gas that lung and circuit hold at rest,
    /// in the midst of the breaths that the ventilator settles to (or that the patient
    /// draws), and with a circulation under their mean pressure, where that is soon known.
    /// What nothing changes then does not drift.
    pub(crate) fn begin(plan: &GasPlan, machine: &Machine) -> Result<Self, GasError> {
        plan.check(machine)?;
        let GasPlan { animal, mut exchange, capnograph, start, .. } = plan.clone();
        let held = Held::at(&Moment::at_rest(machine));
        let arterial = plan.arterial_carbon_dioxide;
        let settled = settled(machine);
        let pressure = settled.as_ref().and_then(|settled| MeanPressure::of(machine, settled));
        let at_start = pressure.map(|pressure| pressure.at_start);
        // The blood says what strains the circulation, and that what the blood is.
        let first = exchange.steady_holding(arterial, &start.conditions, &held);
        let blood = exchange.body.arterial_tensions(&first.body);
        let circulation = Strained::new(&animal, &exchange, &start, &blood, at_start);
        let meanwhile = match pressure {
            Some(pressure) => circulation.at(pressure.over_breath, &start, &blood),
            None => circulation.clone(),
        };
        let dead_space = meanwhile.alveolar_dead_space();
        if dead_space != exchange.alveolar_dead_space() {
            exchange.set_alveolar_dead_space(dead_space);
        }
        let now = meanwhile.conditions(&start, &blood);
        let mut state = exchange.steady_holding(arterial, &now, &held);
        let breath = breath_before(machine, settled.as_ref(), &exchange, plan, &blood);
        exchange.settle_into(&mut state, &breath, arterial, &now, &held);
        let blood = exchange.body.arterial_tensions(&state.body);
        Ok(Self {
            at_start: exchange.ledger(&state),
            blood,
            blood_at_s: 0.0,
            circulation,
            animal,
            exchange,
            settings: start,
            steps: USUAL_STEPS,
            state,
            meter: GasMeter::default(),
            capnograph,
            next_decision_s: 0.0,
            last_breath: None,
            last_effort: None,
        })
    }

    /// What holds now.
    #[must_use]
    pub fn settings(&self) -> GasSettings {
        self.settings
    }

    /// Lets other settings hold from now on.
    pub(crate) fn set(&mut self, settings: GasSettings) -> Result<(), GasError> {
        settings.check()?;
        self.set_checked(settings);
        Ok(())
    }

    /// As [`GasRun::set`], with settings that were checked.
    pub(crate) fn set_checked(&mut self, settings: GasSettings) {
        self.settings = settings;
    }

    /// Heart rate, arterial pressure and output, as they were along the last stretch.
    #[must_use]
    pub fn pulse(&self) -> Pulse {
        self.circulation.pulse()
    }

    /// Puts another breathing system in the place of this one: see
    /// [`Exchange::change_apparatus`].
    pub(crate) fn change_apparatus(&mut self, to: Apparatus) -> Result<(), GasError> {
        Ok(self.exchange.change_apparatus(&mut self.state, to)?)
    }

    /// Follows the gas in other steps than the usual from now on.
    pub(crate) fn follow_in(&mut self, steps: Steps) {
        self.steps = steps;
    }

    /// Lung, blood, tissues and breathing system.
    #[must_use]
    pub fn exchange(&self) -> &Exchange {
        &self.exchange
    }

    /// The gas itself.
    #[must_use]
    pub fn state(&self) -> &GasState {
        &self.state
    }

    /// Arterial blood gases now.
    #[must_use]
    pub fn arterial(&self) -> BloodGases {
        self.exchange.body.arterial_gases(&self.state.body)
    }

    /// Arterial pressures and saturation now: sooner found than [`GasRun::arterial`].
    #[must_use]
    pub fn tensions(&self) -> Tensions {
        self.exchange.body.arterial_tensions(&self.state.body)
    }

    /// The last finished breath that reached the lung.
    #[must_use]
    pub fn last_breath(&self) -> Option<&GasBreath> {
        self.last_breath.as_ref()
    }

    /// The last breath that the patient drew by itself.
    #[must_use]
    pub fn last_effort(&self) -> Option<OwnEffort> {
        self.last_effort
    }

    /// When the last breath began that brought gas to the lung: how long ago that was
    /// is how long nobody breathed. The start of the run before the first.
    #[must_use]
    pub fn breath_under_way_since(&self) -> Seconds {
        self.meter.since().unwrap_or(Seconds::ZERO)
    }

    /// Fresh gas used so far, and the oxygen in it, mL.
    #[must_use]
    pub fn fresh_gas_used(&self) -> Parcel {
        self.exchange.fresh_gas_used(&self.state)
    }

    /// What became of carbon dioxide and oxygen since the start.
    #[must_use]
    pub fn ledger(&self) -> Ledger {
        self.exchange.ledger(&self.state).since(&self.at_start)
    }

    /// When the patient next decides whether to breathe; never without a drive.
    #[must_use]
    pub fn next_decision(&self) -> Seconds {
        let never = self.settings.drive.is_none();
        Seconds::s(if never { f64::INFINITY } else { self.next_decision_s })
    }

    /// The patient decides, if it is time: the height and the length of the
    /// half-sine of muscle pressure that begins now.
    ///
    /// A patient whose heart stands still does not breathe; gasps are left out.
    pub(crate) fn decide(&mut self, now: Seconds) -> Option<(Pressure, Seconds)> {
        let drive = self.settings.drive?;
        let now_s = now.as_s();
        if now_s < self.next_decision_s {
            return None;
        }
        let pumps = self.settings.conditions.demand.cardiac_output_ml_s > 0.0;
        let perfused = pumps && self.pulse().is_there();
        let blood = self.tensions();
        let drive = drive.at_oxygen(blood.oxygen);
        let breath = drive.next_breath(blood.carbon_dioxide).filter(|_| perfused);
        self.next_decision_s = now_s + breath.map_or(ASK_AGAIN_S, |breath| breath.period.as_s());
        let breath = breath?;
        let (amplitude, lasts) = (breath.amplitude(&self.animal), breath.inspiration());
        self.last_effort = Some(OwnEffort { at_s: now_s, amplitude, lasts });
        Some((amplitude, lasts))
    }

    /// Takes the gas along a stretch.
    pub(crate) fn take(&mut self, stretch: &Stretch<'_>) -> GasStretch {
        let now = self.circulation.along(stretch, &self.settings, &self.blood);
        let (pulse, dead_space) = (self.pulse(), self.circulation.alveolar_dead_space());
        self.exchange.shift_alveolar_dead_space(&mut self.state, dead_space);
        let Self { exchange, meter, capnograph, blood, blood_at_s, .. } = self;
        let mut done = GasStretch::default();
        follow_checked(exchange, &mut self.state, stretch, &now, self.steps, |state, sample| {
            done.breaths.extend(meter.take(exchange, state, sample));
            if sample.at_s >= *blood_at_s + BLOOD_EVERY_S {
                *blood = exchange.body.arterial_tensions(&state.body);
                *blood_at_s = sample.at_s;
            }
            done.points.push(points::at(exchange, state, sample, capnograph, blood, pulse));
        });
        if stretch.piece.ended_by == Some(Cause::ExpiratoryTimeOver) {
            done.breaths.extend(meter.end_breath(exchange, &self.state));
        }
        let reaching = done.breaths.iter().rfind(|breath| breath.reaches_lung);
        self.last_breath = reaching.copied().or(self.last_breath);
        done.breath_since_s = self.breath_under_way_since().as_s();
        done
    }
}
