//! The words of the job, each with its relation.

mod terms;
mod worked;

use tidewright::breath::Breath;
use tidewright::fault::{Fault, TimedFault, with_faults};
use tidewright::quantity::Seconds;
use tidewright::run::{Protocol, Simulation};
use tidewright_scenario::Scenario;
use tidewright_scenario::report;

use crate::words::text::said;

pub use worked::worked;

/// A word, its cousins, what it means and the relation behind it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Term {
    /// The word.
    pub name: &'static str,
    /// Other words for it.
    pub also: &'static [&'static str],
    /// What it means.
    pub meaning: &'static str,
    /// The relation, or nothing.
    pub relation: &'static str,
    /// Where its numbers and its advice come from.
    pub source: &'static str,
    /// What it does to a scenario's breath is worked out with this.
    pub shown_by: Option<Shown>,
}

/// A fault that shows what a word does to a breath.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Shown {
    /// The fault.
    pub fault: Fault,
    /// How bad it is, percent.
    pub severity_percent: u8,
    /// What there is then, after `with`.
    pub with: &'static str,
}

/// How long a breath settles before it is told what a fault does to it, s.
const SETTLED_S: f64 = 120.0;

pub use terms::TERMS;

/// Finds a term by its name or a cousin, in any case.
#[must_use]
pub fn find(word: &str) -> Option<&'static Term> {
    let word = word.trim().to_lowercase();
    TERMS.iter().find(|term| {
        term.name.to_lowercase() == word || term.also.iter().any(|also| also.to_lowercase() == word)
    })
}

/// The term in words, with the numbers of a scenario's last breath if one is given.
#[must_use]
pub fn explained(term: &Term, scenario: Option<&Scenario>) -> String {
    let mut text = format!("{}\n{}", term.name, term.meaning);
    if !term.also.is_empty() {
        text += &format!("\nAlso: {}.", term.also.join(", "));
    }
    if !term.relation.is_empty() {
        text += &format!("\n{}", term.relation);
    }
    text += &format!("\nSource: {}", term.source);
    let Some(scenario) = scenario else { return text };
    let start = scenario.protocol_without_faults().start;
    let lung = &start.lung;
    let resistance = lung.compartments.first().map(|part| part.resistance.as_cmh2o_s_per_l());
    let set = &scenario.ventilator;
    text += &format!(
        "\n\nIn `{}`: compliance {} mL/cmH2O, resistance {} cmH2O·s/L, flow {} L/min, cycling \
         pressure {} cmH2O, time limit {} s, expiratory time {} s",
        scenario.id,
        said(lung.total_compliance().as_ml_per_cmh2o()),
        said(resistance.unwrap_or(0.0)),
        said(set.fresh_gas_flow_l_min),
        said(set.cycling_pressure_cmh2o),
        said(set.inspiratory_time_limit_s),
        said(set.expiratory_time_s)
    );
    let last = report::run(scenario, |_, _| Ok(())).ok().and_then(|end| end.summary.last_breath);
    match last {
        Some(row) => {
            text += &format!(
                "; its last breath: inspiratory time {} s, tidal volume {} mL ({} mL/kg), peak {} \
                 cmH2O, baseline {} cmH2O.",
                said(row.inspiratory_time_s),
                said(row.expired_tidal_volume_ml),
                said(row.expired_tidal_volume_ml / scenario.patient.weight_kg),
                said(row.peak_pressure_cmh2o),
                said(row.baseline_pressure_cmh2o)
            );
        }
        None => text.push('.'),
    }
    if let Some(shown) = term.shown_by
        && let Some(told) = told(shown, scenario)
    {
        text += &format!("\n{told}");
    }
    text
}

/// What a fault does to the settled breath of a scenario's first settings; `None`
/// where no breath settles: under the patient's own efforts, or with no breath at all.
fn told(shown: Shown, scenario: &Scenario) -> Option<String> {
    let start = scenario.protocol_without_faults().start;
    if !start.effort.segments.is_empty() || scenario.begins_with_drive() {
        return None;
    }
    let settled = |protocol: &Protocol| -> Option<Breath> {
        Simulation::new(protocol).ok()?.breaths().ok()?.0.last().copied()
    };
    let healthy = Protocol { start, changes: vec![], duration: Seconds::s(SETTLED_S) };
    let severity = f64::from(shown.severity_percent) / 100.0;
    let fault = TimedFault::step(shown.fault, severity, Seconds::s(0.0));
    let (before, after) = (settled(&healthy)?, settled(&with_faults(&healthy, &[fault]))?);
    let weight_kg = scenario.patient.weight_kg;
    let volume = |breath: &Breath| said(breath.expired_tidal_volume.as_ml() / weight_kg);
    let time = |breath: &Breath| said(breath.inspiratory_time.as_s());
    let peak = |breath: &Breath| said(breath.peak_pressure.as_cmh2o());
    Some(format!(
        "With {}, a breath at its first settings has an inspiratory time of {} s instead of {} s, a \
         tidal volume of {} mL/kg instead of {} mL/kg and a peak of {} cmH2O instead of {} cmH2O.",
        shown.with,
        time(&after),
        time(&before),
        volume(&after),
        volume(&before),
        peak(&after),
        peak(&before)
    ))
}

#[cfg(test)]
mod tests {
    use tidewright::math::exp;

    use super::*;

    fn scenario(more: &str) -> Scenario {
        let text = format!(
            r#"Scenario(format: 1, id: "grey-cat", patient: (species: Cat, weight_kg: 4,
                lung: (compliance_ml_cmh2o: 4.8, resistance_cmh2o_s_l: 30){more}),
            ventilator: (fresh_gas_flow_l_min: 2, cycling_pressure_cmh2o: 10,
                inspiratory_time_limit_s: 2.5, expiratory_time_s: 2.5),
            circuit: (compliance_ml_cmh2o: 0.15, valve_resistance_cmh2o_s_l: 5), duration_s: 60)"#
        );
        tidewright_scenario::parse("grey-cat.ron", &text).expect("a valid scenario")
    }

    /// The next two numbers after some words.
    fn numbers(text: &str, after: &str) -> [f64; 2] {
        let rest = text.split_once(after).expect(after).1;
        let number = |text: &str| text.trim_end_matches(['.', ',']).parse::<f64>().ok();
        let found: Vec<f64> = rest.split_whitespace().filter_map(number).take(2).collect();
        found.try_into().expect("two numbers")
    }

    /// Closed form. Of the flow Q the share C / (C + circuit) goes to the lung, until
    /// the airway is at the cycling pressure P: the alveoli are then at P − R × share × Q.
    /// Out of it flows all but e^(−Te / (C × (R out + valve))). The flow fills the
    /// circuit, too.
    #[test]
    fn closed_form_a_fault_takes_from_the_breath_what_the_relation_says() {
        let (c, r, q, p, kg) = (4.8, 30.0, 2.0 / 60.0, 10.0, 4.0);
        let (circuit, valve, out_s) = (0.15, 5.0, 2.5);
        let expected = |c: f64, inward: f64, outward: f64| {
            let above = p - valve * q - inward * q * c / (c + circuit);
            let tau_s = 1e-3 * c * (outward + valve);
            let volume = c * above * (1.0 - exp(-out_s / tau_s));
            (volume / kg, (volume + circuit * (p - valve * q)) / (1000.0 * q))
        };
        let narrow = r / (0.35 * 0.35);
        for (word, c_left, inward, outward) in [
            ("kink", c, narrow, narrow),
            ("bronchospasm", c, 4.0 * r, 8.0 * r),
            ("pneumothorax", 0.35 * c, r / 0.35, r / 0.35),
        ] {
            let text = explained(find(word).expect(word), Some(&scenario("")));
            let [volume, usual] = numbers(&text, "a tidal volume of ");
            let [time, usual_time] = numbers(&text, "an inspiratory time of ");
            let (with, without) = (expected(c_left, inward, outward), expected(c, r, r));
            let pairs =
                [(volume, with.0), (usual, without.0), (time, with.1), (usual_time, without.1)];
            for (told, expected) in pairs {
                assert!((told - expected).abs() < 0.04 * expected, "{told}, {expected}: {text}");
            }
            assert_eq!(numbers(&text, "and a peak of "), [p, p], "the peak hides it");
        }
    }

    #[test]
    fn no_breath_is_compared_where_none_settles() {
        let own = ", effort: Breaths(amplitude_cmh2o: 5, duration_s: 1, rate_per_min: 20)";
        let kink = find("kink").expect("a term");
        assert!(explained(kink, Some(&scenario(""))).contains("instead of"));
        assert!(!explained(kink, Some(&scenario(own))).contains("instead of"));
    }

    #[test]
    fn no_two_terms_share_a_word_and_each_is_found_by_its_cousins() {
        let mut words = Vec::new();
        for term in &TERMS {
            for word in term.also.iter().chain([&term.name]) {
                assert_eq!(find(&word.to_uppercase()), Some(term));
                words.push(word.to_lowercase());
            }
        }
        let count = words.len();
        words.sort();
        words.dedup();
        assert_eq!(words.len(), count);
    }
}
