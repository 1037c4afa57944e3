//! The gas of a run: the plan that it begins with, and what it is at any moment, while
//! the breaths come from elsewhere.

mod plan;
mod strained;
mod totals;

pub use plan::{GasChange, GasPlan, GasSettings};
pub use totals::{GasLimits, GasTotals};

use strained::Strained;

use crate::animal::blood::{BloodGases, Tensions};
use crate::animal::circulation::Pulse;
use crate::animal::species::Animal;
use crate::base::quantity::{PartialPressure, Pressure, Seconds};
use crate::exchange::{
    Capnograph, Exchange, GasBreath, GasError, GasMeter, GasState, Held, Ledger, Parcel, Sample,
    Steps, USUAL_STEPS, follow_checked,
};
use crate::running::steady::periodic;
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

/// A breath that the patient drew by itself: a half-sine of muscle pressure.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct OwnEffort {
    /// When it began, s.
    pub at_s: f64,
    /// Its height.
    pub amplitude: Pressure,
    /// Its length.
    pub lasts: Seconds,
}

/// The gas at the end of a small step of time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GasPoint {
    /// When, s since the start of the run.
    pub at_s: f64,
    /// Length of the step that ends there, s.
    pub step_s: f64,
    /// Gas that went to the patient in the step, mL; negative when it came back.
    pub volume_ml: f64,
    /// Carbon dioxide at the patient connection over the step, mmHg.
    pub carbon_dioxide_mmhg: f64,
    /// What the capnograph shows, mmHg: later, and rounded.
    pub shown_carbon_dioxide_mmhg: f64,
    /// Share of oxygen at the patient connection, 0 to 1.
    pub oxygen: f64,
    /// Carbon dioxide of alveolar gas that meets blood, mmHg.
    pub alveolar_carbon_dioxide_mmhg: f64,
    /// Arterial carbon dioxide, mmHg; read once a second.
    pub arterial_carbon_dioxide_mmhg: f64,
    /// Arterial oxygen, mmHg; read once a second.
    pub arterial_oxygen_mmhg: f64,
    /// Oxygen saturation of arterial haemoglobin, 0 to 1; read once a second.
    pub saturation: f64,
    /// Heart rate, arterial pressure and output over what is usual; looked after once
    /// for each stretch of a run.
    pub pulse: Pulse,
}

impl GasPoint {
    /// What a pulse oximeter shows, 0 to 1; `None` without a pulse.
    #[must_use]
    pub fn oximeter(&self) -> Option<f64> {
        self.pulse.is_there().then_some(self.saturation)
    }
}

/// What the gas did along a stretch of a run.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct GasStretch {
    /// Point after point, the last at the end of the stretch.
    pub points: Vec<GasPoint>,
    /// The breaths that ended in it: those of the ventilator, and the patient's
    /// own while it stands by ([`GasBreath::own`]).
    pub breaths: Vec<GasBreath>,
    /// Start of the last breath that had reached the lung by its end, s since the start
    /// of the run; the start of the run before the first.
    pub breath_since_s: f64,
}

/// Time between two readings of the blood, s.
const BLOOD_EVERY_S: f64 = 1.0;
/// Time after which a patient that did not want to breathe is asked again, s.
const ASK_AGAIN_S: f64 = 1.0;

impl GasRun {
    /// The start of a plan on a machine: with the gas that lung and circuit hold at rest,
    /// and a circulation under the mean pressure that the ventilator settles to, where
    /// that is soon known. What nothing changes then does not drift.
    pub(crate) fn begin(plan: &GasPlan, machine: &Machine) -> Result<Self, GasError> {
        plan.check(machine)?;
        let GasPlan { animal, mut exchange, capnograph, start, .. } = plan.clone();
        let held = Held::at(&Moment::at_rest(machine));
        let arterial = plan.arterial_carbon_dioxide;
        let settled = machine.is_exact().then(|| periodic(machine).ok()).flatten();
        let mean_alveolar = settled.map(|settled| settled.breath.mean_pressure);
        // The blood says what strains the circulation, and that what the blood is.
        let first = exchange.steady_holding(arterial, &start.conditions, &held);
        let blood = exchange.body.arterial_tensions(&first.body);
        let circulation = Strained::new(&animal, &exchange, &start, &blood, mean_alveolar);
        let dead_space = circulation.alveolar_dead_space();
        if dead_space != exchange.alveolar_dead_space() {
            exchange.set_alveolar_dead_space(dead_space);
        }
        let now = circulation.conditions(&start, &blood);
        let state = exchange.steady_holding(arterial, &now, &held);
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

    /// Puts another adapter between tube and T-piece: see
    /// [`Exchange::change_adapter`].
    pub(crate) fn change_adapter(&mut self, adapter_ml: f64) -> Result<(), GasError> {
        Ok(self.exchange.change_adapter(&mut self.state, adapter_ml)?)
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
            done.points.push(point(exchange, state, sample, capnograph, blood, pulse));
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

fn point(
    exchange: &Exchange,
    state: &GasState,
    sample: &Sample,
    capnograph: &mut Capnograph,
    blood: &Tensions,
    pulse: Pulse,
) -> GasPoint {
    let mixture = sample.passed.mixture;
    let at_patient = PartialPressure::mmhg(mixture.carbon_dioxide * exchange.dry_mmhg());
    let shown = capnograph.show(Seconds::s(sample.at_s), at_patient);
    GasPoint {
        at_s: sample.at_s,
        step_s: sample.step_s,
        volume_ml: sample.passed.volume_ml,
        carbon_dioxide_mmhg: at_patient.as_mmhg(),
        shown_carbon_dioxide_mmhg: shown.as_mmhg(),
        oxygen: mixture.oxygen,
        alveolar_carbon_dioxide_mmhg: exchange.mean_alveolar(state).carbon_dioxide
            * exchange.dry_mmhg(),
        arterial_carbon_dioxide_mmhg: blood.carbon_dioxide.as_mmhg(),
        arterial_oxygen_mmhg: blood.oxygen.as_mmhg(),
        saturation: blood.saturation,
        pulse,
    }
}
