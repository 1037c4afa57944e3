//! The gas of a patient while its breaths come from elsewhere.

use super::strained::Strained;
use super::{GasPlan, GasSettings};
use crate::blood::{BloodGases, Tensions};
use crate::circulation::Pulse;
use crate::exchange::{
    ApparatusError, Capnograph, Exchange, GasBreath, GasMeter, GasState, Parcel, Sample, Steps,
    USUAL_STEPS, follow,
};
use crate::phase::Cause;
use crate::piece::Stretch;
use crate::quantity::{PartialPressure, Pressure, Seconds};
use crate::species::Animal;

/// The gas of a patient, and when it next breathes by itself. Cloning it is
/// saving it.
///
/// Who steps by himself does this again and again: [`GasRun::decide`] at the
/// present moment, and if there is a breath, [`crate::step::Moment::breathing_in`];
/// a step that ends at [`GasRun::next_decision`] at the latest; [`GasRun::take`].
/// [`super::Coupled`] does it for a whole run.
///
/// ```
/// use tidewright::coupled::{GasPlan, GasRun, GasSettings};
/// use tidewright::drive::Drive;
/// use tidewright::exchange::{Apparatus, Capnograph, Conditions, Exchange, Fractions};
/// use tidewright::prelude::*;
/// use tidewright::species::{Animal, Species};
/// # let cat = Animal::typical(Species::Cat, Mass::kg(4.0));
/// # let mut setup = Setup { lung: cat.lung(), ..Setup::default() };
/// # setup.ventilator.mode = Mode::Standby;
/// # let plan = GasPlan {
/// #     exchange: Exchange::new(&cat, &setup.lung, Apparatus::default())?,
/// #     arterial_carbon_dioxide: PartialPressure::mmhg(45.0),
/// #     capnograph: Capnograph::new(Seconds::s(1.5), Seconds::s(0.2)),
/// #     start: GasSettings {
/// #         conditions: Conditions::of(&cat, 38.0, Fractions::OXYGEN),
/// #         drive: Some(Drive::of(&cat, 0.7)),
/// #     },
/// #     changes: vec![],
/// #     animal: cat,
/// # };
/// let machine = Machine::new(setup)?;
/// let (mut moment, mut gas) = (Moment::at_rest(&machine), GasRun::new(&plan));
/// while moment.at_s < 60.0 {
///     if let Some((amplitude, lasts)) = gas.decide(Seconds::s(moment.at_s)) {
///         moment = moment.breathing_in(amplitude, lasts);
///     }
///     let goal_s = gas.next_decision().as_s().min(60.0);
///     let left_s = goal_s - moment.at_s;
///     let done = step(&machine, &moment, left_s)?;
///     let arrived = done.piece.duration_s >= left_s;
///     gas.take(&Stretch { machine: &machine, piece: done.piece });
///     moment = done.next;
///     if arrived {
///         moment.at_s = goal_s;
///     }
/// }
/// let end_tidal = gas.last_breath().unwrap().end_tidal_carbon_dioxide.as_mmhg();
/// assert!((30.0..60.0).contains(&end_tidal));
/// assert!(gas.arterial().saturation > 0.95);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Debug, PartialEq)]
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
}

/// Time between two readings of the blood, s.
const BLOOD_EVERY_S: f64 = 1.0;
/// Time after which a patient that did not want to breathe is asked again, s.
const ASK_AGAIN_S: f64 = 1.0;

impl GasRun {
    /// The start of a plan.
    #[must_use]
    pub fn new(plan: &GasPlan) -> Self {
        let GasPlan { animal, exchange, capnograph, start, .. } = plan.clone();
        let state = exchange.steady(plan.arterial_carbon_dioxide, &start.conditions);
        let blood = exchange.body.arterial_tensions(&state.body);
        Self {
            blood,
            blood_at_s: 0.0,
            circulation: Strained::new(&animal, &exchange, &start, &blood),
            animal,
            exchange,
            settings: start,
            steps: USUAL_STEPS,
            state,
            meter: GasMeter::default(),
            capnograph,
            next_decision_s: 0.0,
            last_breath: None,
        }
    }

    /// What holds now.
    #[must_use]
    pub fn settings(&self) -> GasSettings {
        self.settings
    }

    /// Lets other settings hold from now on.
    pub fn set(&mut self, settings: GasSettings) {
        self.settings = settings;
    }

    /// Heart rate, arterial pressure and output, as they were along the last stretch.
    #[must_use]
    pub fn pulse(&self) -> Pulse {
        self.circulation.pulse()
    }

    /// Puts another adapter between tube and T-piece: see
    /// [`Exchange::change_adapter`].
    ///
    /// # Errors
    /// [`ApparatusError`]: an adapter that cannot be; nothing has changed then.
    pub fn change_adapter(&mut self, adapter_ml: f64) -> Result<(), ApparatusError> {
        self.exchange.change_adapter(&mut self.state, adapter_ml)
    }

    /// Follows the gas in other steps than the usual from now on, such as finer ones
    /// where single breaths are looked at.
    pub fn follow_in(&mut self, steps: Steps) {
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

    /// The last breath that was finished: the numbers on a monitor.
    #[must_use]
    pub fn last_breath(&self) -> Option<&GasBreath> {
        self.last_breath.as_ref()
    }

    /// Since when the breath under way lasts: how long ago it began is how long
    /// nobody breathed. The start of the run before the first.
    #[must_use]
    pub fn breath_under_way_since(&self) -> Seconds {
        self.meter.since().unwrap_or(Seconds::ZERO)
    }

    /// Fresh gas used so far, and the oxygen in it, mL.
    #[must_use]
    pub fn fresh_gas_used(&self) -> Parcel {
        self.exchange.fresh_gas_used(&self.state)
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
    pub fn decide(&mut self, now: Seconds) -> Option<(Pressure, Seconds)> {
        let drive = self.settings.drive?;
        let now_s = now.as_s();
        if now_s < self.next_decision_s {
            return None;
        }
        let pumps = self.settings.conditions.demand.cardiac_output_ml_s > 0.0;
        let perfused = pumps && self.pulse().is_there();
        let breath = drive.next_breath(self.tensions().carbon_dioxide).filter(|_| perfused);
        self.next_decision_s = now_s + breath.map_or(ASK_AGAIN_S, |breath| breath.period.as_s());
        breath.map(|breath| (breath.amplitude(&self.animal), breath.inspiration()))
    }

    /// Takes the gas along a stretch.
    pub fn take(&mut self, stretch: &Stretch<'_>) -> GasStretch {
        let now = self.circulation.along(stretch, &self.settings, &self.blood);
        let (pulse, dead_space) = (self.pulse(), self.circulation.alveolar_dead_space());
        self.exchange.shift_alveolar_dead_space(&mut self.state, dead_space);
        let Self { exchange, meter, capnograph, blood, blood_at_s, .. } = self;
        let mut done = GasStretch::default();
        follow(exchange, &mut self.state, stretch, &now, self.steps, |state, sample| {
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
        self.last_breath = done.breaths.last().copied().or(self.last_breath);
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
