//! Carbon dioxide and oxygen in a report.

use serde::Serialize;
use tidewright::coupled::{GasLimits, GasRun, GasStretch, GasTotals};
use tidewright::exchange::{Account, GasBreath, Ledger};
use tidewright::quantity::{Flow, PartialPressure};
use tidewright::run::Stretch;
use tidewright::supply::{minutes_left, vapour_liquid_ml_per_h};

use crate::format::{Cylinder, Gas, Vaporiser};

/// The gases of a breath as they stand in a report, beside what a
/// [`super::BreathRow`] says of it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct GasRow {
    /// Highest carbon dioxide at the patient connection while gas came back, mmHg.
    pub end_tidal_co2_mmhg: f64,
    /// Lowest carbon dioxide at the patient connection while gas went in, mmHg.
    pub inspired_co2_mmhg: f64,
    /// Carbon dioxide of all gas that went in together, mmHg: above 0 there was
    /// rebreathing.
    pub mean_inspired_co2_mmhg: f64,
    /// Carbon dioxide of all gas that came back together, mmHg.
    pub mixed_expired_co2_mmhg: f64,
    /// Oxygen of all gas that went in together, %; null when none went in.
    pub inspired_oxygen_percent: Option<f64>,
    /// Gas breathed that took part in gas exchange, L/min.
    pub alveolar_ventilation_l_min: f64,
    /// Physiological dead space over expired volume; null when nothing came back.
    pub dead_space_fraction: Option<f64>,
    /// Arterial carbon dioxide at its end, mmHg.
    pub arterial_co2_mmhg: f64,
    /// Arterial oxygen at its end, mmHg.
    pub arterial_o2_mmhg: f64,
    /// Oxygen saturation of arterial haemoglobin at its end, %: a pulse oximeter
    /// is taken to show it.
    pub spo2_percent: f64,
    /// Whether it brought gas to the lung. A cycle of the ventilator that does not is
    /// no breath, and its other numbers here are what a monitor makes of it.
    pub reaches_lung: bool,
}

/// Where the carbon dioxide and the oxygen of a run went, mL STPD.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct GasBalance {
    /// Carbon dioxide that the tissues made.
    pub carbon_dioxide_made_ml: f64,
    /// Carbon dioxide that left for the room, less what came from there.
    pub carbon_dioxide_left_ml: f64,
    /// Carbon dioxide that patient and breathing system hold more than at the start.
    pub carbon_dioxide_stored_ml: f64,
    /// Carbon dioxide that is unaccounted for: rounding, or a fault of the model.
    pub carbon_dioxide_unexplained_ml: f64,
    /// Oxygen that the tissues used.
    pub oxygen_used_ml: f64,
    /// Oxygen that came with fresh gas.
    pub oxygen_from_fresh_gas_ml: f64,
    /// Oxygen that left for the room, less what came from there.
    pub oxygen_left_ml: f64,
    /// Oxygen that patient and breathing system hold more than at the start.
    pub oxygen_stored_ml: f64,
    /// Oxygen that is unaccounted for: rounding, or a fault of the model.
    pub oxygen_unexplained_ml: f64,
}

impl GasBalance {
    fn of(ledger: &Ledger) -> Self {
        let Ledger { carbon_dioxide, oxygen } = ledger;
        let left = |gas: &Account| gas.vented_ml - gas.room_air_ml;
        Self {
            carbon_dioxide_made_ml: carbon_dioxide.made_ml,
            carbon_dioxide_left_ml: left(carbon_dioxide) - carbon_dioxide.fresh_gas_ml,
            carbon_dioxide_stored_ml: carbon_dioxide.held_ml,
            carbon_dioxide_unexplained_ml: carbon_dioxide.unexplained_ml(),
            oxygen_used_ml: -oxygen.made_ml,
            oxygen_from_fresh_gas_ml: oxygen.fresh_gas_ml,
            oxygen_left_ml: left(oxygen),
            oxygen_stored_ml: oxygen.held_ml,
            oxygen_unexplained_ml: oxygen.unexplained_ml(),
        }
    }
}

impl GasRow {
    /// The row of a breath.
    #[must_use]
    pub fn of(breath: &GasBreath) -> Self {
        Self {
            end_tidal_co2_mmhg: breath.end_tidal_carbon_dioxide.as_mmhg(),
            inspired_co2_mmhg: breath.inspired_carbon_dioxide.as_mmhg(),
            mean_inspired_co2_mmhg: breath.mean_inspired_carbon_dioxide.as_mmhg(),
            mixed_expired_co2_mmhg: breath.mixed_expired_carbon_dioxide.as_mmhg(),
            inspired_oxygen_percent: breath.inspired_oxygen.map(|share| 100.0 * share),
            alveolar_ventilation_l_min: breath.alveolar_ventilation_l_min(),
            dead_space_fraction: breath.dead_space_fraction(),
            arterial_co2_mmhg: breath.arterial_carbon_dioxide.as_mmhg(),
            arterial_o2_mmhg: breath.arterial_oxygen.as_mmhg(),
            spo2_percent: 100.0 * breath.arterial_saturation,
            reaches_lung: breath.reaches_lung,
        }
    }
}

/// A breath that the patient took by itself while the ventilator stood by.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct OwnBreathRow {
    /// When it began, s since the start of the run.
    pub start_s: f64,
    /// From its start to the start of the next, s.
    pub duration_s: f64,
    /// Breaths per minute if every breath were like this one.
    pub rate_per_min: f64,
    /// Gas that went in at the patient connection, mL.
    pub inspired_ml: f64,
    /// Gas that came back, mL.
    pub expired_ml: f64,
    /// Its gases.
    #[serde(flatten)]
    pub gas: GasRow,
}

impl OwnBreathRow {
    /// The row of a breath.
    #[must_use]
    pub fn of(breath: &GasBreath) -> Self {
        Self {
            start_s: breath.start.as_s(),
            duration_s: breath.duration.as_s(),
            rate_per_min: 60.0 / breath.duration.as_s(),
            inspired_ml: breath.inspired.as_ml(),
            expired_ml: breath.expired.as_ml(),
            gas: GasRow::of(breath),
        }
    }
}

/// Carbon dioxide and oxygen of a whole run: `gas` in `summary` of the JSON report.
///
/// Breaths of both kinds count, each as a whole, where they bring gas to the lung;
/// null where there was none.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct GasSummary {
    /// Breaths that the patient took by itself while the ventilator stood by.
    pub own_breaths: u64,
    /// Highest end-tidal carbon dioxide, mmHg.
    pub highest_end_tidal_co2_mmhg: Option<f64>,
    /// Lowest end-tidal carbon dioxide, mmHg.
    pub lowest_end_tidal_co2_mmhg: Option<f64>,
    /// Highest mean inspired carbon dioxide, mmHg.
    pub highest_mean_inspired_co2_mmhg: Option<f64>,
    /// Highest arterial carbon dioxide, mmHg.
    pub highest_arterial_co2_mmhg: Option<f64>,
    /// Lowest arterial carbon dioxide, mmHg.
    pub lowest_arterial_co2_mmhg: Option<f64>,
    /// Lowest saturation, %.
    pub lowest_spo2_percent: Option<f64>,
    /// Heart rate at the end, 1/min.
    pub heart_rate_per_min: Option<f64>,
    /// Mean arterial pressure at the end, mmHg.
    pub mean_arterial_mmhg: Option<f64>,
    /// Lowest mean arterial pressure, mmHg.
    pub lowest_mean_arterial_mmhg: Option<f64>,
    /// Time of breaths with end-tidal carbon dioxide below the limit, min.
    pub end_tidal_co2_below_limit_min: f64,
    /// Time of breaths with end-tidal carbon dioxide above the limit, min.
    pub end_tidal_co2_above_limit_min: f64,
    /// Time with a saturation below the limit, min.
    pub spo2_below_limit_min: f64,
    /// Longest time from the start of a breath to the start of the next, or to the
    /// end of the run, s. A cycle that brings no gas to the lung is no breath.
    pub longest_without_breath_s: f64,
    /// Oxygen in the fresh gas that was used, L.
    pub oxygen_used_l: f64,
    /// What is left in the cylinder at the end, L; null without a cylinder. All
    /// oxygen of the fresh gas is taken to come from it.
    pub cylinder_left_l: Option<f64>,
    /// How long that lasts at the last flow, min; null without a cylinder or flow.
    pub cylinder_minutes_left: Option<f64>,
    /// Liquid that the vaporiser uses at the last flow, mL/h; null without one.
    pub vapour_liquid_ml_per_h: Option<f64>,
    /// Liquid that it used in the run, mL; null without a vaporiser.
    pub vapour_liquid_used_ml: Option<f64>,
    /// The gases of the last finished breath that brought gas to the lung.
    pub last_breath: Option<GasRow>,
    /// Where carbon dioxide and oxygen went.
    pub balance: GasBalance,
    #[serde(skip)]
    totals: GasTotals,
    #[serde(skip)]
    cylinder: Option<Cylinder>,
    #[serde(skip)]
    vaporiser: Option<Vaporiser>,
}

impl GasSummary {
    pub(super) fn new(gas: &Gas) -> Self {
        let limits = &gas.limits;
        let limits = GasLimits {
            lowest_end_tidal: PartialPressure::mmhg(limits.lowest_end_tidal_co2_mmhg),
            highest_end_tidal: PartialPressure::mmhg(limits.highest_end_tidal_co2_mmhg),
            lowest_saturation: limits.lowest_spo2_percent / 100.0,
        };
        Self {
            own_breaths: 0,
            highest_end_tidal_co2_mmhg: None,
            lowest_end_tidal_co2_mmhg: None,
            highest_mean_inspired_co2_mmhg: None,
            highest_arterial_co2_mmhg: None,
            lowest_arterial_co2_mmhg: None,
            lowest_spo2_percent: None,
            heart_rate_per_min: None,
            mean_arterial_mmhg: None,
            lowest_mean_arterial_mmhg: None,
            end_tidal_co2_below_limit_min: 0.0,
            end_tidal_co2_above_limit_min: 0.0,
            spo2_below_limit_min: 0.0,
            longest_without_breath_s: 0.0,
            oxygen_used_l: 0.0,
            cylinder_left_l: None,
            cylinder_minutes_left: None,
            vapour_liquid_ml_per_h: None,
            vapour_liquid_used_ml: None,
            last_breath: None,
            balance: GasBalance::default(),
            totals: GasTotals::new(limits),
            cylinder: gas.cylinder.clone(),
            vaporiser: gas.vaporiser.clone(),
        }
    }

    /// Times outside limits, and extremes.
    #[must_use]
    pub fn totals(&self) -> &GasTotals {
        &self.totals
    }

    pub(super) fn take(&mut self, stretch: &Stretch<'_>, gas: &GasStretch, run: &GasRun) {
        self.totals.take(gas);
        let totals = self.totals;
        self.own_breaths += gas.breaths.iter().filter(|breath| breath.own).count() as u64;
        let reaching = gas.breaths.iter().rfind(|breath| breath.reaches_lung);
        self.last_breath = reaching.map(GasRow::of).or(self.last_breath);
        self.balance = GasBalance::of(&run.ledger());
        self.highest_end_tidal_co2_mmhg = totals.highest_end_tidal_mmhg;
        self.lowest_end_tidal_co2_mmhg = totals.lowest_end_tidal_mmhg;
        self.highest_mean_inspired_co2_mmhg = totals.highest_inspired_mmhg;
        self.highest_arterial_co2_mmhg = totals.highest_arterial_mmhg;
        self.lowest_arterial_co2_mmhg = totals.lowest_arterial_mmhg;
        // What a breath ends at may lie between two points.
        let ends = gas.breaths.iter().map(|breath| breath.arterial_saturation);
        let lowest = ends.chain(totals.lowest_saturation).map(|share| 100.0 * share);
        self.lowest_spo2_percent =
            self.lowest_spo2_percent.into_iter().chain(lowest).reduce(f64::min);
        let pulse = run.pulse();
        let arterial = pulse.arterial_mmhg;
        self.heart_rate_per_min = Some(pulse.rate_per_min);
        self.mean_arterial_mmhg = Some(arterial);
        self.lowest_mean_arterial_mmhg =
            Some(self.lowest_mean_arterial_mmhg.map_or(arterial, |low| low.min(arterial)));
        self.end_tidal_co2_below_limit_min = totals.end_tidal_below_s / 60.0;
        self.end_tidal_co2_above_limit_min = totals.end_tidal_above_s / 60.0;
        self.spo2_below_limit_min = totals.desaturated_s / 60.0;
        self.longest_without_breath_s = totals.longest_without_breath_s;
        self.oxygen_used_l = run.fresh_gas_used().oxygen / 1000.0;
        let flow = stretch.machine.setup().ventilator.fresh_gas_flow;
        let oxygen = run.settings().conditions.fresh_gas.oxygen;
        self.supplies(flow, oxygen, stretch.piece.duration_s);
    }

    /// What cylinder and vaporiser gave and have left.
    fn supplies(&mut self, flow: Flow, oxygen: f64, passed_s: f64) {
        if let Some(cylinder) = &self.cylinder {
            let left_l = (cylinder.contents_l() - self.oxygen_used_l).max(0.0);
            let minutes = minutes_left(left_l, flow * oxygen);
            self.cylinder_left_l = Some(left_l);
            self.cylinder_minutes_left = minutes.is_finite().then_some(minutes);
        }
        if let Some(Vaporiser { dial_percent, vapour_ml_per_ml }) = self.vaporiser {
            let pace = vapour_liquid_ml_per_h(flow, dial_percent, vapour_ml_per_ml);
            let used = self.vapour_liquid_used_ml.unwrap_or_default();
            self.vapour_liquid_ml_per_h = Some(pace);
            self.vapour_liquid_used_ml = Some(used + pace * passed_s / 3600.0);
        }
    }
}
