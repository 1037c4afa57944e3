//! A relation with the numbers of one breath in it.

use tidewright::breath::Breath;
use tidewright::math::exp;
use tidewright_scenario::Scenario;

use super::Term;
use crate::words::text::said;

/// The relation behind a term, worked out with the numbers of a scenario's first settings
/// and of a breath of it; `None` where the term has no relation of numbers, or the breath
/// has nothing to put into it.
///
/// Pressures in cmH2O, volumes in mL, times in s, flows in L/min as they are set and in
/// mL/s as they are reckoned with. Relations of a lung with a straight pressure-volume
/// line: what a breath came to stands beside each.
///
/// ```
/// use tidewright::run::Simulation;
/// use tidewright_training::glossary::{find, worked};
/// let scenario = tidewright_scenario::parse("demo.ron", tidewright_scenario::DEMO)?;
/// let (breaths, _) = Simulation::new(&scenario.protocol())?.breaths()?;
/// let rate = find("expiratory time").and_then(|term| worked(term, &scenario, &breaths[0]));
/// assert_eq!(rate.as_deref(), Some("60 / (1.22 s + 2.6 s) = 15.7 breaths a minute"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[must_use]
pub fn worked(term: &Term, scenario: &Scenario, breath: &Breath) -> Option<String> {
    let numbers = Numbers::of(scenario, breath)?;
    let Numbers { c, r, flow_l_s, p, baseline, ti, te, vt, .. } = numbers;
    let flow_ml_s = 1000.0 * flow_l_s;
    let is = |value: f64, unit: &str| format!("{} {unit}", said(value));
    let text = match term.name {
        "fresh gas flow" => format!(
            "{} × 60 / {} = {}, of {} that flow in",
            is(vt, "mL"),
            is(ti, "s"),
            is(0.06 * vt / ti, "L/min"),
            is(60.0 * flow_l_s, "L/min")
        ),
        "tidal volume" | "cycling pressure" => format!(
            "{} × ({} − {} − {} × {}) = {}; it was {}",
            is(c, "mL/cmH2O"),
            is(p, "cmH2O"),
            is(baseline, "cmH2O"),
            is(r, "cmH2O·s/L"),
            is_small(flow_l_s, "L/s"),
            is(c * (p - baseline - r * flow_l_s).max(0.0), "mL"),
            is(vt, "mL")
        ),
        "inspiratory time" => format!(
            "({} + {} × {}) / {} = {}; it was {}",
            is(vt, "mL"),
            is(numbers.circuit, "mL/cmH2O"),
            is(numbers.peak - baseline, "cmH2O"),
            is(flow_ml_s, "mL/s"),
            is((vt + numbers.circuit * (numbers.peak - baseline)) / flow_ml_s, "s"),
            is(ti, "s")
        ),
        "inspiratory time limit" => format!(
            "{} × {} = {} at most",
            is(flow_ml_s, "mL/s"),
            is(numbers.limit, "s"),
            is(flow_ml_s * numbers.limit, "mL")
        ),
        "expiratory time" => {
            let rate = is(60.0 / (ti + te), "breaths a minute");
            format!("60 / ({} + {}) = {rate}", is(ti, "s"), is(te, "s"))
        }
        "baseline pressure" => format!(
            "{} + {} × {} = {}; it was {}",
            is(numbers.device, "cmH2O"),
            is_small(flow_l_s, "L/s"),
            is(numbers.way_out, "cmH2O·s/L"),
            is(numbers.device + flow_l_s * numbers.way_out, "cmH2O"),
            is(baseline, "cmH2O")
        ),
        "intrinsic PEEP" => {
            let constant = 1e-3 * c * (numbers.r_out + numbers.way_out);
            format!(
                "{} × e^(−{} / {}) = {} left in the lung",
                is(vt, "mL"),
                is(te, "s"),
                is_small(constant, "s"),
                is(vt * exp(-te / constant), "mL")
            )
        }
        "compliance" => {
            let rise = breath.peak_alveolar_pressure.as_cmh2o()
                - breath.end_expiratory_alveolar_pressure.as_cmh2o();
            if rise <= 0.0 {
                return None;
            }
            format!("{} / {} = {}", is(vt, "mL"), is(rise, "cmH2O"), is(vt / rise, "mL/cmH2O"))
        }
        "resistance" => format!(
            "{} × {} = {}",
            is(r, "cmH2O·s/L"),
            is_small(flow_l_s, "L/s"),
            is(r * flow_l_s, "cmH2O")
        ),
        "leak" => {
            let leak = scenario.circuit.leak.as_ref().filter(|leak| leak.ml_min > 0.0)?;
            let conductance = leak.ml_min / 60.0 / leak.at_cmh2o;
            format!(
                "{} / {} = {} at most",
                is(flow_ml_s, "mL/s"),
                is(conductance, "mL/s for each cmH2O"),
                is(flow_ml_s / conductance, "cmH2O")
            )
        }
        _ => return None,
    };
    Some(text)
}

/// As a person says it, but with three digits that count where it is far below 1.
fn is_small(value: f64, unit: &str) -> String {
    match value {
        value if value > 0.0 && value < 0.1 => format!("{value:.4} {unit}"),
        value => format!("{} {unit}", said(value)),
    }
}

/// What goes into the relations.
struct Numbers {
    /// Compliance, mL/cmH2O, resistance in and out, cmH2O·s/L.
    c: f64,
    r: f64,
    r_out: f64,
    flow_l_s: f64,
    p: f64,
    limit: f64,
    device: f64,
    circuit: f64,
    /// Resistance of the open outlet path, cmH2O·s/L.
    way_out: f64,
    ti: f64,
    te: f64,
    vt: f64,
    peak: f64,
    baseline: f64,
}

impl Numbers {
    /// Nothing where no gas flows or no breath came of it.
    fn of(scenario: &Scenario, breath: &Breath) -> Option<Self> {
        let start = scenario.protocol().start;
        let (lung, set) = (&start.lung, &start.ventilator);
        let open = || lung.compartments.iter().filter(|part| !part.shut);
        let beside = |conductance: f64| if conductance > 0.0 { 1.0 / conductance } else { 0.0 };
        let r = beside(open().map(|part| 1.0 / part.resistance.as_cmh2o_s_per_l()).sum());
        let out = open().map(|part| part.expiratory_resistance.unwrap_or(part.resistance));
        let r_out = beside(out.map(|out| 1.0 / out.as_cmh2o_s_per_l()).sum());
        let numbers = Self {
            c: open().map(|part| part.compliance.as_ml_per_cmh2o()).sum(),
            r,
            r_out,
            flow_l_s: set.fresh_gas_flow.as_l_per_min() / 60.0,
            p: set.cycling_pressure.as_cmh2o(),
            limit: set.inspiratory_time_limit.as_s(),
            device: set.end_expiratory_pressure.as_cmh2o(),
            circuit: start.circuit.compliance.as_ml_per_cmh2o(),
            way_out: scenario.circuit.valve_resistance_cmh2o_s_l
                + scenario.circuit.limb.as_ref().map_or(0.0, |limb| limb.resistance_cmh2o_s_l),
            ti: breath.inspiratory_time.as_s(),
            te: breath.expiratory_time.as_s(),
            vt: breath.inspired_tidal_volume.as_ml(),
            peak: breath.peak_pressure.as_cmh2o(),
            baseline: breath.baseline_pressure.as_cmh2o(),
        };
        let there = [numbers.c, numbers.flow_l_s, numbers.ti, numbers.te];
        there.iter().all(|&number| number > 0.0 && number.is_finite()).then_some(numbers)
    }
}

#[cfg(test)]
mod tests {
    use tidewright::run::Simulation;

    use super::super::{TERMS, find};
    use super::*;

    fn told(word: &str, more: &str) -> Option<String> {
        let text = format!(
            r#"Scenario(format: 1, id: "grey-cat", patient: (species: Cat, weight_kg: 4,
                lung: (compliance_ml_cmh2o: 4.8, resistance_cmh2o_s_l: 30)),
            ventilator: (fresh_gas_flow_l_min: 2, cycling_pressure_cmh2o: 10,
                inspiratory_time_limit_s: 2.5, expiratory_time_s: 2.5),
            circuit: (compliance_ml_cmh2o: 0.15, valve_resistance_cmh2o_s_l: 5{more}),
            duration_s: 60)"#
        );
        let scenario = tidewright_scenario::parse("grey-cat.ron", &text).expect("a scenario");
        let simulation = Simulation::new(&scenario.protocol()).expect("a run");
        let breath = *simulation.breaths().expect("breaths").0.last().expect("a breath");
        worked(find(word).expect("a term"), &scenario, &breath)
    }

    /// The first number after the last of some words.
    fn after(text: &str, words: &str) -> f64 {
        let rest = text.rsplit_once(words).expect(words).1;
        rest.split_whitespace().next().and_then(|word| word.parse().ok()).expect(text)
    }

    #[test]
    fn closed_form_what_is_reckoned_is_what_the_breath_came_to() {
        for word in ["tidal volume", "inspiratory time", "baseline pressure"] {
            let text = told(word, "").expect(word);
            let (reckoned, was) = (after(&text, " = "), after(&text, "it was "));
            assert!((reckoned / was - 1.0).abs() < 0.04, "{text}");
        }
        assert!((after(&told("compliance", "").expect("a text"), " = ") - 4.8).abs() < 0.05);
        assert!((after(&told("resistance", "").expect("a text"), " = ") - 1.0).abs() < 1e-9);
    }

    #[test]
    fn a_leak_is_reckoned_where_there_is_one_and_words_without_numbers_are_not() {
        assert_eq!(told("leak", ""), None);
        // 2 L/min over 300 mL/min at 30 cmH2O.
        let text = told("leak", ", leak: (ml_min: 300, at_cmh2o: 30)").expect("a text");
        assert!((after(&text, " = ") - 200.0).abs() < 1.0, "{text}");
        let told_of = TERMS.iter().filter(|term| told(term.name, "").is_some()).count();
        assert!((9..TERMS.len()).contains(&told_of), "{told_of}");
    }
}
