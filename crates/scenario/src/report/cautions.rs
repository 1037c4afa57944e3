//! What a reader of a report must keep in mind.

use tidewright::run::Protocol;
use tidewright::setup::{Mode, PatientPort, Sensor, Setup, Ventilator};

use super::Summary;
use super::words::{animal, said};
use crate::format::Scenario;

/// The caution of every start, report and sheet.
pub const BANNER: &str = "For teaching only. Not a medical device. Simulated animals and equipment: \
    real ones differ. Do not use for decisions about a patient. Follow the veterinary surgeon in \
    charge, local law, your workplace rules and the instructions of the equipment in front of you.";

/// The caution of every table of comma-separated values: the head of a last column whose
/// cells are empty. A comment line is data or a fault to most readers of such tables, and
/// a file beside it is lost on the way; a head travels with the numbers.
pub const CSV_CAUTION: &str = "for_teaching_only_not_a_medical_device";

/// What the model leaves out.
pub const MODEL_LIMITS: &str = "This report leaves out gas exchange, the circulation and every \
    reflex: a patient's own efforts follow the pattern that the scenario gives them. Resistance and \
    compliance change with flow and stretch only where the scenario says so. The values of a \
    species are typical published ones, not your patient's.";

/// What the model leaves out when it follows gas exchange.
pub const MODEL_LIMITS_WITH_GAS: &str = "This report leaves out what gases do to the depth of \
    anaesthesia and to the lung. Heart and vessels follow depth, airway pressure, carbon dioxide and \
    want of oxygen by simple laws, some of them assumed; a patient's own efforts follow the pattern \
    or the drive that the scenario gives them. Carbon dioxide and oxygen are those of a \
    typical animal, with few compartments. Resistance and compliance change with flow and stretch \
    only where the scenario says so. The values of a species are typical published ones, not your \
    patient's.";

/// Largest tidal volume that raises no caution, mL/kg (common practice, no source).
const LARGE_TIDAL_VOLUME_ML_KG: f64 = 15.0;
/// Largest volume that the time limit may let through, mL/kg (common practice, no source).
const LARGE_LIMITED_VOLUME_ML_KG: f64 = 20.0;
/// Most times a usual inspiration that the time limit may last (common practice, no
/// source: about 1.5 times is taught).
const IDLE_LIMIT: f64 = 2.0;
/// Fresh gas flow beyond which a small patient is flushed, L/min, and for each kg: four
/// times what ventilates it (common practice, no source).
const FLUSH_L_MIN: f64 = 15.0;
const FLUSH_L_MIN_KG: f64 = 2.0;
/// Smallest mean tidal volume that raises no caution, mL/kg (common practice, no source).
const SMALL_TIDAL_VOLUME_ML_KG: f64 = 4.0;
/// Highest airway pressure that raises no caution, cmH2O (common practice, no source).
const HIGH_PRESSURE_CMH2O: f64 = 25.0;
/// Highest cycling pressure that may be set without one, cmH2O (common practice, no source).
const HIGH_SETTING_CMH2O: f64 = 40.0;

/// The general caution, and those that this run gives reason for.
pub(super) fn cautions(scenario: &Scenario, summary: &Summary) -> Vec<String> {
    let limits = if scenario.gas.is_some() { MODEL_LIMITS_WITH_GAS } else { MODEL_LIMITS };
    let mut cautions = vec![BANNER.to_owned(), limits.to_owned()];
    let (patient, protocol) = (&scenario.patient, scenario.protocol());
    let (light, heavy) = patient.species.to_core().usual_weight_kg();
    if !(light..=heavy).contains(&patient.weight_kg) {
        let so = if patient.lung.is_none() {
            "and the typical lung that was taken for it is a guess outside them"
        } else {
            "and every number for each kg goes by it"
        };
        cautions.push(format!(
            "{} kg is an unusual weight: {} usually has {} to {} kg, {so}.",
            said(patient.weight_kg),
            animal(patient.species),
            said(light),
            said(heavy)
        ));
    }
    if scenario.training.as_ref().is_some_and(|training| !training.pool.is_empty()) {
        cautions.push(
            "This is a lesson run as it stands: what goes wrong in it is drawn in \
             `tidewright practise` alone."
                .to_owned(),
        );
    }
    if let Some(set) = highest_set_cmh2o(&protocol).filter(|&set| set > HIGH_SETTING_CMH2O) {
        cautions.push(format!(
            "The cycling pressure is set to {} cmH2O: the time limit alone protects the lung there.",
            said(set)
        ));
    }
    let limited = limited_volume_ml(&protocol) / patient.weight_kg;
    if limited > LARGE_LIMITED_VOLUME_ML_KG {
        cautions.push(format!(
            "If the pressure did not end the inspiration, the time limit would let {} mL/kg into \
             the lung: fresh gas flow × inspiratory time limit. About {} mL/kg is a common ceiling.",
            said(limited),
            said(LARGE_LIMITED_VOLUME_ML_KG)
        ));
    }
    let breathes = summary.largest_inspired_tidal_volume_ml_kg.is_some_and(|most| most > 0.0);
    let longest_s = summary.longest_inspiratory_time_s.filter(|_| breathes);
    let limit_s = at_work(&protocol).map(|set| set.inspiratory_time_limit.as_s()).reduce(f64::min);
    if limited <= LARGE_LIMITED_VOLUME_ML_KG
        && summary.ended_by_time == 0
        && let (Some(longest_s), Some(limit_s)) = (longest_s, limit_s)
        && limit_s > IDLE_LIMIT * longest_s
    {
        cautions.push(format!(
            "If the pressure were not reached, the lung would go on filling: the time limit of {} s \
             is more than twice as long as an inspiration of {} s. About 1.5 times as long leaves \
             room for a change and still protects.",
            said(limit_s),
            said(longest_s)
        ));
    }
    let out_s = at_work(&protocol).map(|set| set.expiratory_time.as_s()).reduce(f64::min);
    let shortest_s = summary.shortest_inspiratory_time_s.filter(|_| breathes);
    if let (Some(shortest_s), Some(out_s)) = (shortest_s, out_s)
        && shortest_s > out_s
    {
        cautions.push(format!(
            "An inspiration of {} s lasts longer than expiration, {} s (an inverse ratio): breaths \
             may stack and less blood returns to the heart. Twice as long out as in is a common \
             beginning.",
            said(shortest_s),
            said(out_s)
        ));
    }
    let largest = summary.largest_inspired_tidal_volume_ml_kg;
    if let Some(largest) = largest.filter(|&largest| largest > LARGE_TIDAL_VOLUME_ML_KG) {
        cautions.push(format!(
            "The largest breath was {} mL/kg. Breaths above about {} mL/kg stretch the lung too far.",
            said(largest),
            said(LARGE_TIDAL_VOLUME_ML_KG)
        ));
    }
    let usual = summary.mean_expired_tidal_volume_ml_kg;
    if let Some(small) = usual.filter(|&usual| usual > 0.0 && usual < SMALL_TIDAL_VOLUME_ML_KG) {
        cautions.push(format!(
            "A breath was {} mL/kg on the mean. Breaths below about {} mL/kg hardly come past the \
             dead space: they do not ventilate.",
            said(small),
            said(SMALL_TIDAL_VOLUME_ML_KG)
        ));
    }
    // With the port blocked or open no patient feels the pressure.
    let highest = summary.highest_peak_pressure_cmh2o.filter(|_| breathes);
    if let Some(highest) = highest.filter(|&highest| highest > HIGH_PRESSURE_CMH2O) {
        cautions.push(format!(
            "The airway pressure rose to {} cmH2O. Pressure can burst lungs and stops blood from \
             returning to the heart: if it does not fall, disconnect the patient first, then look.",
            said(highest)
        ));
    }
    if let Some(flushed) = flushed(&protocol, patient.weight_kg) {
        let outlet = if flushed.circuit.outlet_k2 > 0.0 {
            ""
        } else {
            " This outlet is taken to be linear (no `outlet_k2_cmh2o_s2_l2`): a real narrow one \
             holds back far more."
        };
        cautions.push(format!(
            "{} L/min of fresh gas went into a connected patient of {} kg. Never flush into a \
             connected small patient: the outlet cannot take such a flow, the pressure stays up and \
             the lung cannot empty. Take the patient off first.{outlet}",
            said(flushed.ventilator.fresh_gas_flow.as_l_per_min()),
            said(patient.weight_kg)
        ));
    }
    if let Some(empty_s) = scenario.cylinder_empty_at_s() {
        cautions.push(format!(
            "The cylinder was empty {} min into the run, and from then on no fresh gas came. Minutes \
             left are contents over flow: look before you start, and have a full one beside it.",
            said(empty_s / 60.0)
        ));
    }
    if misled(&protocol) {
        cautions.push(
            "The ventilator's pressure sensor did not tell the true pressure at the patient. The \
             pressures of this report are the true ones: a gauge would not have shown them."
                .to_owned(),
        );
    }
    cautions
}

/// Whether the sensor shows another pressure than that at the patient at any time.
fn misled(protocol: &Protocol) -> bool {
    setups(protocol).any(|setup| setup.circuit.sensor != Sensor::default())
}

/// The setup with the largest flow that is a flush for a patient of this weight.
fn flushed(protocol: &Protocol, weight_kg: f64) -> Option<&Setup> {
    let flow = |setup: &Setup| setup.ventilator.fresh_gas_flow.as_l_per_min();
    let most = (FLUSH_L_MIN_KG * weight_kg).max(FLUSH_L_MIN);
    let connected = |setup: &&Setup| setup.circuit.patient_port == PatientPort::Connected;
    let setups = setups(protocol).filter(connected).filter(|setup| flow(setup) > most);
    setups.max_by(|a, b| flow(a).total_cmp(&flow(b)))
}

/// The highest cycling pressure that is set while the ventilator works, cmH2O.
fn highest_set_cmh2o(protocol: &Protocol) -> Option<f64> {
    at_work(protocol).map(|ventilator| ventilator.cycling_pressure.as_cmh2o()).reduce(f64::max)
}

/// The most that one inspiration can hold when only the time limit ends it, mL.
fn limited_volume_ml(protocol: &Protocol) -> f64 {
    let volumes = at_work(protocol)
        .map(|ventilator| (ventilator.fresh_gas_flow * ventilator.inspiratory_time_limit).as_ml());
    volumes.fold(0.0, f64::max)
}

/// Every setting of a ventilator that does not stand by.
fn at_work(protocol: &Protocol) -> impl Iterator<Item = &Ventilator> {
    let ventilators = setups(protocol).map(|setup| &setup.ventilator);
    ventilators.filter(|ventilator| ventilator.mode == Mode::Ventilating)
}

fn setups(protocol: &Protocol) -> impl Iterator<Item = &Setup> {
    [&protocol.start].into_iter().chain(protocol.changes.iter().map(|change| &change.setup))
}
