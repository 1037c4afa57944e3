//! The words of the job, each with its relation.

mod worked;

use tidewright::breath::Breath;
use tidewright::fault::{Fault, TimedFault, with_faults};
use tidewright::quantity::Seconds;
use tidewright::run::{Protocol, Simulation};
use tidewright_scenario::Scenario;
use tidewright_scenario::report;

use crate::text::said;

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

const PRACTICE: &str = "Common practice, no source.";
const DEFINITION: &str = "A definition, or a relation of this model; no number of its own.";

/// Every term.
pub const TERMS: [Term; 25] = [
    Term {
        name: "cycling pressure",
        also: &["trigger pressure", "pressure termination"],
        meaning: "The airway pressure at which inspiration ends and the outlet valve opens: inspiratory termination by pressure in the words of ISO 19223. Some machines label it trigger pressure; in that standard, and on other ventilators, a trigger starts a breath.",
        relation: "tidal volume = compliance × (cycling pressure − baseline − resistance × flow)",
        source: "ISO 19223 for its words; the relation is that of the model.",
        shown_by: None,
    },
    Term {
        name: "inspiratory time limit",
        also: &["time limit"],
        meaning: "The longest inspiration when the cycling pressure is not reached: a safety setting, about 1.5 times the inspiration that is expected. It protects beforehand: at a dangerous pressure the patient comes off first.",
        relation: "largest volume = fresh gas flow × time limit",
        source: PRACTICE,
        shown_by: None,
    },
    Term {
        name: "expiratory time",
        also: &[],
        meaning: "How long the outlet valve stays open. Expiration lasts longer than inspiration, twice as long as a beginning, so that the lung empties and blood returns.",
        relation: "rate = 60 / (inspiratory time + expiratory time)",
        source: PRACTICE,
        shown_by: None,
    },
    Term {
        name: "fresh gas flow",
        also: &["flow"],
        meaning: "The constant flow of gas into the T-piece. In inspiration all of it goes to the patient and the circuit.",
        relation: "minute volume is at most the fresh gas flow",
        source: DEFINITION,
        shown_by: None,
    },
    Term {
        name: "inspiratory time",
        also: &["inflation time"],
        meaning: "A result, not a setting: the compliance meter of this ventilator.",
        relation: "inspiratory time = (tidal volume + circuit compliance × pressure) / flow",
        source: DEFINITION,
        shown_by: None,
    },
    Term {
        name: "tidal volume",
        also: &["breath volume"],
        meaning: "The change of lung volume over a breath; a result, not a setting.",
        relation: "tidal volume = compliance × (cycling pressure − baseline − resistance × flow)",
        source: DEFINITION,
        shown_by: None,
    },
    Term {
        name: "compliance",
        also: &["stiffness"],
        meaning: "Volume taken up for each cmH2O. A stiff lung has little.",
        relation: "compliance = change of volume / change of pressure",
        source: DEFINITION,
        shown_by: None,
    },
    Term {
        name: "resistance",
        also: &[],
        meaning: "Pressure lost along tube and airway for each unit of flow.",
        relation: "pressure lost = resistance × flow",
        source: DEFINITION,
        shown_by: None,
    },
    Term {
        name: "peak pressure",
        also: &[],
        meaning: "The highest airway pressure of a breath. Where pressure ends the breath it is always the cycling pressure, and hides the fault.",
        relation: "",
        source: DEFINITION,
        shown_by: None,
    },
    Term {
        name: "baseline pressure",
        also: &["PEEP", "end-expiratory pressure"],
        meaning: "Airway pressure at the end of expiration. The fresh gas flows through the limb all the time.",
        relation: "baseline = device pressure + fresh gas flow × limb resistance",
        source: DEFINITION,
        shown_by: None,
    },
    Term {
        name: "intrinsic PEEP",
        also: &["auto-PEEP", "breath stacking", "trapped gas", "air trapping"],
        meaning: "Alveolar pressure above the baseline at the end of an expiration that was too short.",
        relation: "left in the lung ≈ tidal volume × e^(−expiratory time / (resistance × compliance))",
        source: DEFINITION,
        shown_by: None,
    },
    Term {
        name: "leak",
        also: &[],
        meaning: "Gas that escapes from the circuit. A small one only lengthens inspiration; a large one keeps the cycling pressure from being reached.",
        relation: "highest pressure = fresh gas flow / leak conductance",
        source: DEFINITION,
        shown_by: None,
    },
    Term {
        name: "cuff leak",
        also: &["seal pressure"],
        meaning: "Gas past the cuff once the pressure is above what the cuff holds: a flat top, and a port test that passes. The cuff is measured and filled by its gauge, 20 to 30 cmH2O, not by feel, and let down before a tube is moved.",
        relation: "no leak below the seal pressure",
        source: PRACTICE,
        shown_by: None,
    },
    Term {
        name: "end-tidal carbon dioxide",
        also: &["EtCO2", "end-tidal CO2", "end-tidal"],
        meaning: "The highest carbon dioxide of a breath's expired gas. It falls when less is made, less blood brings it, more is breathed out, or the monitor draws something else. A sudden fall with unchanged breaths: the pulse first, then the call, then the sampling line. In slow deep breaths mean alveolar and arterial carbon dioxide lie some percent above the relation below: gas leaves a lung when it is most diluted, so the mean over time is higher than that of what is breathed out. That is right, and no error of the model.",
        relation: "alveolar carbon dioxide = 0.863 × carbon dioxide made / alveolar ventilation, for what is breathed out",
        source: "Textbook relation, from memory; the order of acts is common practice, no source.",
        shown_by: None,
    },
    Term {
        name: "dead space",
        also: &["apparatus dead space"],
        meaning: "The part of each breath that meets no blood: adapter, tube, airways. It is the same for every breath, so small and fast breaths lose most.",
        relation: "alveolar ventilation = (tidal volume − dead space) × rate",
        source: "Textbook relation, from memory; each animal's own: `tidewright explain airway dead space`.",
        shown_by: None,
    },
    Term {
        name: "rebreathing",
        also: &["inspired carbon dioxide"],
        meaning: "Breathing in what was breathed out: from a large adapter, or from the limb when the fresh gas flow is low.",
        relation: "",
        source: DEFINITION,
        shown_by: None,
    },
    Term {
        name: "depth of anaesthesia",
        also: &["depth"],
        meaning: "Here a number from 0, awake, to 1, too deep to breathe: depth raises the carbon dioxide at which a patient breathes by itself, and makes it answer less. On a living animal depth is changed as the veterinary surgeon directs.",
        relation: "own minute volume = slope × (arterial carbon dioxide − threshold)",
        source: "A scale of this model; the size of its effects is in part a teaching choice.",
        shown_by: None,
    },
    Term {
        name: "weaning",
        also: &["wean"],
        meaning: "Letting a patient take its breathing back, as the veterinary surgeon directs: lighter, fewer ventilator breaths so that carbon dioxide rises a little, then alone, and watched.",
        relation: "",
        source: PRACTICE,
        shown_by: None,
    },
    Term {
        name: "kink",
        also: &["kinked tube", "blocked tube", "biting"],
        meaning: "A tube that is bent, bitten or blocked, so that gas passes a narrow place or none. Pressure jumps to the cycling pressure as soon as gas flows: short inspirations, a higher rate, little volume, and peak and baseline pressure as before. The curve of carbon dioxide becomes small or flat; its number may read low while the blood's rises. Straighten, suction, or have another tube put in as the veterinary surgeon directs: off the circuit and cuff down before a tube is moved, then the cuff by gauge, then both sides listened to.",
        relation: "resistance of a narrow place = resistance × (whole area / area left)²",
        source: PRACTICE,
        shown_by: Some(Shown {
            fault: Fault::KinkedTube,
            severity_percent: 65,
            with: "35 % of the tube's area left",
        }),
    },
    Term {
        name: "bronchospasm",
        also: &["spasm of the airways"],
        meaning: "Airways whose muscles tighten and resist flow, most of all on the way out. Flow then takes more of the cycling pressure: the inspiration ends early with less volume, at a normal peak pressure. Gas flows out slowly, and where expiration is too short some stays behind. Carbon dioxide climbs all through the breath out, without a flat top. Less flow and a longer expiration buy time; the treatment is the veterinary surgeon's, who is called at once.",
        relation: "pressure lost = resistance × flow, so less flow brings more volume",
        source: PRACTICE,
        shown_by: Some(Shown {
            fault: Fault::Bronchospasm,
            severity_percent: 100,
            with: "4 times the resistance on the way in and 8 times on the way out",
        }),
    },
    Term {
        name: "pneumothorax",
        also: &["air around the lung", "tension pneumothorax"],
        meaning: "Gas between lung and chest wall, which takes the lung's room. What is left of the lung fills sooner: short inspirations with less volume, at a normal peak pressure. Under tension gas gets in there and not out again, and every breath is smaller than the one before. End-tidal carbon dioxide rises as less is breathed, and falls when the heart is pressed, too. Under tension stop positive pressure, or give the least that keeps the patient alive: a bag pushes gas into the chest as a ventilator does. Call at once: only a drain lets the gas out.",
        relation: "tidal volume = compliance left × (cycling pressure − baseline − resistance × flow)",
        source: PRACTICE,
        shown_by: Some(Shown {
            fault: Fault::ClosedPneumothorax,
            severity_percent: 100,
            with: "65 % of the lung out of play",
        }),
    },
    Term {
        name: "oxygen flush",
        also: &["flush"],
        meaning: "A button that sends tens of litres of oxygen a minute past flowmeter and vaporiser. Never flush into a connected small patient: the narrow way out cannot take such a flow, the pressure stands far above the cycling pressure, and the lung cannot empty. Take the patient off first.",
        relation: "baseline = resistance × flow + k2 × flow²",
        source: "Common practice, no source; the k2 of an outlet is that of a scenario, or assumed.",
        shown_by: Some(Shown {
            fault: Fault::OxygenFlush,
            severity_percent: 100,
            with: "the oxygen flush pressed",
        }),
    },
    Term {
        name: "hand ventilation",
        also: &["bag", "bagging"],
        meaning: "Breaths from a separate bag with oxygen, small and watched at the chest: the first act in any doubt, as it goes past circuit, ventilator and supply. It does not go past the patient: with gas under tension in the chest every squeeze makes it worse, so stop, or give the least that keeps the patient alive, and call at once. With lungs that are still full, let them empty first.",
        relation: "",
        source: PRACTICE,
        shown_by: None,
    },
    Term {
        name: "inverse ratio",
        also: &["I:E ratio"],
        meaning: "Inspiration that lasts longer than expiration. Breaths may stack, and less blood returns to the heart. It is not a first setting; expiration is longer, twice as long as a beginning.",
        relation: "I:E = inspiratory time / expiratory time",
        source: PRACTICE,
        shown_by: None,
    },
    Term {
        name: "drawing back a tube",
        also: &["withdrawing a tube", "turning a patient", "bronchial intubation"],
        meaning: "A tube that went too far lies in one main bronchus. As the veterinary surgeon directs it is drawn back: patient off the circuit, cuff let down, tube a little back and tied, cuff filled by gauge to 20 to 30 cmH2O, patient on again, both sides listened to once more. A patient is taken off the circuit before it is turned, too, so that the tube does not turn in it; afterwards both sides and the cuff are checked again. Cats' tracheas tear most easily.",
        relation: "",
        source: PRACTICE,
        shown_by: None,
    },
];

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
