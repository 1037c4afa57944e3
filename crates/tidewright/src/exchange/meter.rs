//! What a breath did to carbon dioxide: measured from what passed the patient
//! connection.

use super::follow::Sample;
use super::system::{Exchange, GasState};
use crate::base::quantity::{PartialPressure, Seconds, Volume};
use crate::stepping::phase::PhaseKind;

/// The gases of one breath.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct GasBreath {
    /// Its number in the run, from 1.
    pub number: u64,
    /// Whether the patient took it by itself while the ventilator stood by.
    pub own: bool,
    /// Whether it brought gas to the lung: [`NOTICED_SHARE`] of the airway and not
    /// slower than that in [`NOTICED_WITHIN_S`]. A cycle of the ventilator that does
    /// not is no breath; its numbers are what a monitor makes of it.
    pub reaches_lung: bool,
    /// When it began.
    pub start: Seconds,
    /// How long it lasted.
    pub duration: Seconds,
    /// Gas that went to the patient.
    pub inspired: Volume,
    /// Gas that came back.
    pub expired: Volume,
    /// Highest carbon dioxide at the patient connection while gas came back:
    /// what a monitor calls end-tidal.
    pub end_tidal_carbon_dioxide: PartialPressure,
    /// Lowest carbon dioxide at the patient connection while gas went in: what a
    /// monitor calls inspired.
    pub inspired_carbon_dioxide: PartialPressure,
    /// Carbon dioxide of all inspired gas together.
    pub mean_inspired_carbon_dioxide: PartialPressure,
    /// Carbon dioxide of all expired gas together.
    pub mixed_expired_carbon_dioxide: PartialPressure,
    /// Share of oxygen in all inspired gas together, 0 to 1; `None` when nothing
    /// was breathed in.
    pub inspired_oxygen: Option<f64>,
    /// Arterial carbon dioxide at its end.
    pub arterial_carbon_dioxide: PartialPressure,
    /// Arterial oxygen at its end.
    pub arterial_oxygen: PartialPressure,
    /// Oxygen saturation of arterial haemoglobin at its end, 0 to 1.
    pub arterial_saturation: f64,
}

impl GasBreath {
    /// Physiological dead space over expired volume (Bohr and Enghoff, inspired
    /// carbon dioxide taken off): 1 − (net carbon dioxide breathed out)/(expired
    /// volume · arterial fraction). `None` when nothing was breathed out.
    #[must_use]
    pub fn dead_space_fraction(&self) -> Option<f64> {
        let expired = self.expired.as_ml();
        let arterial = self.arterial_carbon_dioxide.as_mmhg();
        let net = self.mixed_expired_carbon_dioxide.as_mmhg() * expired
            - self.mean_inspired_carbon_dioxide.as_mmhg() * self.inspired.as_ml();
        (expired > 0.0 && arterial > 0.0).then(|| 1.0 - net / (expired * arterial))
    }

    /// Volume of the breath that took part in gas exchange: expired volume less
    /// physiological dead space.
    #[must_use]
    pub fn alveolar_volume(&self) -> Volume {
        let part = self.dead_space_fraction().map_or(0.0, |dead| 1.0 - dead);
        Volume::ml(self.expired.as_ml() * part)
    }

    /// Alveolar ventilation, L/min.
    #[must_use]
    pub fn alveolar_ventilation_l_min(&self) -> f64 {
        self.alveolar_volume().as_ml() / self.duration.as_s() * 60.0 / 1000.0
    }
}

/// Inward volume that makes a breath, as a share of the volume of adapter, tube and
/// airway.
pub const NOTICED_SHARE: f64 = 0.2;

/// That volume comes in no more than this time, s. What flows in more slowly is
/// the oxygen that a lung takes up in apnoea, and no breath.
pub const NOTICED_WITHIN_S: f64 = 2.0;

/// Measures the gases of breaths from samples taken in order.
///
/// A breath runs from the start of an inflation to the start of the next, as the
/// engine's do; in standby, from the start of one inward flow to that of the
/// next, each of at least [`NOTICED_SHARE`] of the airway and not slower than
/// that in [`NOTICED_WITHIN_S`]. Gas that goes in and out counts wherever it comes
/// from; end-tidal and inspired carbon dioxide are those at the patient connection.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct GasMeter {
    finished: u64,
    current: Option<Tally>,
    /// Inward flow that may turn out to be a breath of the patient's own.
    pending: Option<Tally>,
    inflating: bool,
    /// Start of the last breath that reached the lung, s.
    since_s: Option<f64>,
}

#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
struct Tally {
    start_s: f64,
    end_s: f64,
    inspired: f64,
    /// Of that, what went in fast enough for a breath.
    fast: f64,
    expired: f64,
    carbon_dioxide_in: f64,
    carbon_dioxide_out: f64,
    oxygen_in: f64,
    /// Whether it began in standby.
    own: bool,
    /// Highest fraction that came back, lowest that went in.
    highest: f64,
    lowest: f64,
}

impl GasMeter {
    /// Takes the next sample; returns the breath that it finished, if any.
    pub fn take(
        &mut self,
        exchange: &Exchange,
        state: &GasState,
        sample: &Sample,
    ) -> Option<GasBreath> {
        let inflating = sample.phase.is_inspiration();
        let inflation_begins = inflating && !self.inflating;
        self.inflating = inflating;
        let noticed = noticed_ml(exchange);
        let slowest_ml = noticed * sample.step_s / NOTICED_WITHIN_S;
        // Blood takes gas up by fits and starts; the breath itself must move it.
        let is_fast = sample.passed.breathed.volume.min(sample.moved_ml) > slowest_ml;
        let mut done = None;
        if inflation_begins {
            self.settle();
            done = self.finish(exchange, state);
            self.current = Some(Tally::at(sample));
        }
        if sample.phase != PhaseKind::Standby {
            self.settle();
            self.current.get_or_insert(Tally::at(sample)).add(sample, is_fast);
        } else if is_fast {
            let pending = self.pending.get_or_insert(Tally::at(sample));
            pending.add(sample, is_fast);
            if pending.inspired >= noticed {
                let breathing_in = self.current.is_some_and(|tally| tally.expired == 0.0);
                if breathing_in {
                    self.settle();
                } else {
                    done = self.finish(exchange, state);
                    self.current = self.pending.take();
                }
            }
        } else {
            self.settle();
            self.current.get_or_insert(Tally::at(sample)).add(sample, is_fast);
        }
        if let Some(tally) = self.current.filter(|tally| tally.fast >= noticed) {
            self.since_s = Some(tally.start_s);
        }
        done
    }

    /// Ends the breath under way here, as the ventilator does at the end of its
    /// expiratory time, and returns it.
    pub fn end_breath(&mut self, exchange: &Exchange, state: &GasState) -> Option<GasBreath> {
        self.settle();
        self.finish(exchange, state)
    }

    /// When the last breath that reached the lung began; `None` before the first.
    #[must_use]
    pub fn since(&self) -> Option<Seconds> {
        self.since_s.map(Seconds::s)
    }

    /// Inward flow that was no breath of its own belongs to the breath before.
    fn settle(&mut self) {
        if let Some(pending) = self.pending.take() {
            match &mut self.current {
                Some(tally) => tally.join(&pending),
                None => self.current = Some(pending),
            }
        }
    }

    fn finish(&mut self, exchange: &Exchange, state: &GasState) -> Option<GasBreath> {
        let tally = self.current.take()?;
        let reaches_lung = tally.fast >= noticed_ml(exchange);
        if tally.own && !reaches_lung {
            return None;
        }
        self.finished += 1;
        let dry = exchange.dry_mmhg();
        let pressure = |fraction: f64| PartialPressure::mmhg(fraction * dry);
        let mean = |gas: f64, all: f64| pressure(if all > 0.0 { gas / all } else { 0.0 });
        let arterial = exchange.body.arterial_tensions(&state.body);
        Some(GasBreath {
            number: self.finished,
            own: tally.own,
            reaches_lung,
            start: Seconds::s(tally.start_s),
            duration: Seconds::s(tally.end_s - tally.start_s),
            inspired: Volume::ml(tally.inspired),
            expired: Volume::ml(tally.expired),
            end_tidal_carbon_dioxide: pressure(tally.highest),
            inspired_carbon_dioxide: pressure(if tally.lowest < 1.0 { tally.lowest } else { 0.0 }),
            mean_inspired_carbon_dioxide: mean(tally.carbon_dioxide_in, tally.inspired),
            mixed_expired_carbon_dioxide: mean(tally.carbon_dioxide_out, tally.expired),
            inspired_oxygen: (tally.inspired > 0.0).then(|| tally.oxygen_in / tally.inspired),
            arterial_carbon_dioxide: arterial.carbon_dioxide,
            arterial_oxygen: arterial.oxygen,
            arterial_saturation: arterial.saturation,
        })
    }
}

/// Inward volume that makes a breath, mL.
fn noticed_ml(exchange: &Exchange) -> f64 {
    NOTICED_SHARE * (exchange.airway_ml + exchange.apparatus.adapter_ml)
}

impl Tally {
    fn at(sample: &Sample) -> Self {
        let start_s = sample.at_s - sample.step_s;
        Self {
            start_s,
            end_s: start_s,
            inspired: 0.0,
            fast: 0.0,
            expired: 0.0,
            carbon_dioxide_in: 0.0,
            carbon_dioxide_out: 0.0,
            oxygen_in: 0.0,
            own: sample.phase == PhaseKind::Standby,
            highest: 0.0,
            lowest: 1.0,
        }
    }

    fn add(&mut self, sample: &Sample, is_fast: bool) {
        self.end_s = sample.at_s;
        let breathed = sample.passed.breathed;
        if breathed.volume > 0.0 {
            self.inspired += breathed.volume;
            self.fast += if is_fast { breathed.volume } else { 0.0 };
            self.carbon_dioxide_in += breathed.carbon_dioxide;
            self.oxygen_in += breathed.oxygen;
        } else {
            self.expired -= breathed.volume;
            self.carbon_dioxide_out -= breathed.carbon_dioxide;
        }
        let fraction = sample.passed.mixture.carbon_dioxide;
        if sample.passed.volume_ml > 0.0 {
            self.lowest = self.lowest.min(fraction);
        } else {
            self.highest = self.highest.max(fraction);
        }
    }

    fn join(&mut self, later: &Self) {
        self.end_s = later.end_s;
        self.inspired += later.inspired;
        self.fast += later.fast;
        self.expired += later.expired;
        self.carbon_dioxide_in += later.carbon_dioxide_in;
        self.carbon_dioxide_out += later.carbon_dioxide_out;
        self.oxygen_in += later.oxygen_in;
        self.highest = self.highest.max(later.highest);
        self.lowest = self.lowest.min(later.lowest);
    }
}
